//! Solving with a factor: for all unknowns, or only along paths of the elimination tree.

use super::factor::Factor;
use super::symbolic::Symbolic;

/// A sparse vector `L⁻¹ c`: places in ascending order with their values.
pub type Path = Vec<(usize, f64)>;

impl Factor {
    /// All unknowns for this right-hand side.
    pub fn solve(&self, symbolic: &Symbolic, right: &[f64]) -> Vec<f64> {
        let mut x = vec![0.0; symbolic.size];
        for (node, &value) in right.iter().enumerate() {
            x[symbolic.place[node]] = value;
        }
        for k in 0..symbolic.size {
            let value = x[k];
            if value != 0.0 {
                for at in symbolic.starts[k]..symbolic.starts[k + 1] {
                    x[symbolic.rows[at]] -= self.lower[at] * value;
                }
            }
        }
        self.back(symbolic, x)
    }

    /// The unknowns from `L⁻¹ c`, dense and in places.
    fn back(&self, symbolic: &Symbolic, mut x: Vec<f64>) -> Vec<f64> {
        for k in (0..symbolic.size).rev() {
            let mut value = x[k] / self.pivots[k];
            for at in symbolic.starts[k]..symbolic.starts[k + 1] {
                value -= self.lower[at] * x[symbolic.rows[at]];
            }
            x[k] = value;
        }
        symbolic.place.iter().map(|&k| x[k]).collect()
    }

    /// All unknowns from a sum of paths, each times a factor.
    pub fn solve_paths<'a>(&self, symbolic: &Symbolic, paths: impl IntoIterator<Item = (&'a Path, f64)>) -> Vec<f64> {
        let mut x = vec![0.0; symbolic.size];
        for (path, times) in paths {
            for &(k, value) in path {
                x[k] += value * times;
            }
        }
        self.back(symbolic, x)
    }

    /// `L⁻¹ c` for a right-hand side of a few taps. `work` is zero all over, as long as there are unknowns, and is left so.
    pub fn path(&self, symbolic: &Symbolic, taps: &[(usize, f64)], work: &mut [f64]) -> Path {
        let mut path = Path::with_capacity(16 * taps.len());
        let mut heads = [usize::MAX; 8];
        let many;
        // A head for each tap, moving up towards the root; the lowest moves first.
        let heads: &mut [usize] = if taps.len() <= heads.len() {
            for (head, &(node, weight)) in heads.iter_mut().zip(taps) {
                *head = symbolic.place[node];
                work[*head] += weight;
            }
            &mut heads[..taps.len()]
        } else {
            many = taps.iter().map(|&(node, _)| symbolic.place[node]).collect::<Vec<_>>();
            for (&head, &(_, weight)) in many.iter().zip(taps) {
                work[head] += weight;
            }
            &mut many.clone()
        };
        loop {
            let k = heads.iter().copied().min().unwrap_or(usize::MAX);
            if k == usize::MAX {
                return path;
            }
            let value = work[k];
            work[k] = 0.0;
            path.push((k, value));
            if value != 0.0 {
                for at in symbolic.starts[k]..symbolic.starts[k + 1] {
                    work[symbolic.rows[at]] -= self.lower[at] * value;
                }
            }
            for head in heads.iter_mut().filter(|head| **head == k) {
                *head = symbolic.parent[k];
            }
        }
    }

    /// `c₁ᵀ A⁻¹ c₂` of two paths.
    pub fn product(&self, one: &[(usize, f64)], other: &[(usize, f64)]) -> f64 {
        let (mut i, mut j, mut sum) = (0, 0, 0.0);
        while i < one.len() && j < other.len() {
            let (a, b) = (one[i], other[j]);
            if a.0 == b.0 {
                sum += a.1 * b.1 / self.pivots[a.0];
                i += 1;
                j += 1;
            } else if a.0 < b.0 {
                i += 1;
            } else {
                j += 1;
            }
        }
        sum
    }

    /// The same where the other is dense, in places and already divided by the pivots ([`Factor::spread`]).
    pub fn product_dense(&self, path: &[(usize, f64)], dense: &[f64]) -> f64 {
        path.iter().map(|&(k, value)| value * dense[k]).sum()
    }

    /// Adds `times` a path divided by the pivots to a dense vector in places.
    pub fn spread(&self, path: &[(usize, f64)], times: f64, dense: &mut [f64]) {
        for &(k, value) in path {
            dense[k] += value * times / self.pivots[k];
        }
    }
}
