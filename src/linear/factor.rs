//! The numbers of the factor.

use super::symbolic::Symbolic;

/// Lower factor and pivots of a matrix.
#[derive(Clone, Debug, Default)]
pub struct Factor {
    pub(super) lower: Vec<f64>,
    pub(super) pivots: Vec<f64>,
}

/// The matrix has no factor: this unknown (as numbered by the caller) is tied to nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Singular {
    /// The unknown at which elimination stopped.
    pub unknown: usize,
}

impl std::fmt::Display for Singular {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "unknown {} is tied to nothing", self.unknown)
    }
}

impl std::error::Error for Singular {}

impl Factor {
    /// Factors the matrix whose off-diagonal entries are `weights`, one for each edge of the analysis, and whose
    /// rows sum to `sums`.
    pub fn new(symbolic: &Symbolic, weights: &[f64], sums: &[f64]) -> Result<Factor, Singular> {
        let size = symbolic.size;
        let (starts, rows) = (&symbolic.starts, &symbolic.rows);
        // The columns start out as the matrix itself.
        let mut lower = vec![0.0; rows.len()];
        for (&slot, &weight) in symbolic.slots.iter().zip(weights) {
            if slot != usize::MAX {
                lower[slot] += weight;
            }
        }
        let mut excess = vec![0.0; size];
        for (node, &sum) in sums.iter().enumerate() {
            excess[symbolic.place[node]] = sum;
        }
        let mut pivots = vec![0.0; size];
        let mut work = vec![0.0; size];
        // Of each finished column its next row, in lists by that row.
        let mut next = starts.clone();
        let mut head = vec![usize::MAX; size];
        let mut link = vec![usize::MAX; size];
        for k in 0..size {
            let own = starts[k]..starts[k + 1];
            for at in own.clone() {
                work[rows[at]] = lower[at];
            }
            let mut column = head[k];
            while column != usize::MAX {
                let following = link[column];
                let at = next[column];
                let times = lower[at] * pivots[column];
                for below in at + 1..starts[column + 1] {
                    work[rows[below]] -= lower[below] * times;
                }
                excess[k] -= lower[at] * excess[column];
                next[column] = at + 1;
                if at + 1 < starts[column + 1] {
                    let row = rows[at + 1];
                    link[column] = head[row];
                    head[row] = column;
                }
                column = following;
            }
            // The pivot is what is left of the row sum and the entries: no difference of large numbers.
            let pivot = excess[k] - own.clone().map(|at| work[rows[at]]).sum::<f64>();
            if !(pivot > 0.0 && pivot.is_finite()) {
                let unknown = symbolic.place.iter().position(|&place| place == k).unwrap_or(k);
                return Err(Singular { unknown });
            }
            pivots[k] = pivot;
            for at in own.clone() {
                lower[at] = work[rows[at]] / pivot;
                work[rows[at]] = 0.0;
            }
            if !own.is_empty() {
                let row = rows[own.start];
                link[k] = head[row];
                head[row] = k;
            }
        }
        Ok(Factor { lower, pivots })
    }
}
