//! Elimination tree and pattern of the factor.

use super::order::minimum_degree;

/// Order, elimination tree and pattern: made once for a pattern of entries.
#[derive(Clone, Debug)]
pub struct Symbolic {
    pub(super) size: usize,
    /// Unknown to its place in the order of elimination.
    pub(super) place: Vec<usize>,
    /// Parent in the elimination tree, `usize::MAX` at a root.
    pub(super) parent: Vec<usize>,
    /// Columns of L below the diagonal: rows ascending.
    pub(super) starts: Vec<usize>,
    pub(super) rows: Vec<usize>,
    /// For each edge given, where its weight goes: an index into `rows`, `usize::MAX` for a loop.
    pub(super) slots: Vec<usize>,
    pub(super) edges: Vec<(usize, usize)>,
}

impl Symbolic {
    /// Orders the unknowns and finds the factor's pattern. Edges name the pairs that may be nonzero.
    pub fn analyse(size: usize, edges: &[(usize, usize)]) -> Symbolic {
        let order = minimum_degree(size, edges);
        let mut place = vec![0; size];
        for (k, &node) in order.iter().enumerate() {
            place[node] = k;
        }
        let mut columns: Vec<Vec<usize>> = vec![Vec::new(); size];
        for &(a, b) in edges {
            let (low, high) = (place[a].min(place[b]), place[a].max(place[b]));
            if low != high {
                columns[low].push(high);
            }
        }
        let mut parent = vec![usize::MAX; size];
        for k in 0..size {
            columns[k].sort_unstable();
            columns[k].dedup();
            if let Some(&first) = columns[k].first() {
                parent[k] = first;
                // A column's rows are rows of its parent too.
                let rest = columns[k][1..].to_vec();
                columns[first].extend(rest);
            }
        }
        let mut starts = Vec::with_capacity(size + 1);
        let mut rows = Vec::new();
        for column in &columns {
            starts.push(rows.len());
            rows.extend_from_slice(column);
        }
        starts.push(rows.len());
        let slots = edges
            .iter()
            .map(|&(a, b)| {
                let (low, high) = (place[a].min(place[b]), place[a].max(place[b]));
                if low == high {
                    return usize::MAX;
                }
                starts[low] + rows[starts[low]..starts[low + 1]].partition_point(|&row| row < high)
            })
            .collect();
        Symbolic { size, place, parent, starts, rows, slots, edges: edges.to_vec() }
    }

    /// The same order with further pairs, whose edges come after those that it was made for: what an order of its own
    /// would save in entries is less than what it costs to find, as long as the pairs are few.
    pub fn with(&self, pairs: &[(usize, usize)]) -> Symbolic {
        let ends = |&(a, b): &(usize, usize)| {
            let (a, b) = (self.place[a], self.place[b]);
            (a.min(b), a.max(b))
        };
        // Rows that come to each column.
        let mut more: Vec<Vec<usize>> = vec![Vec::new(); self.size];
        for (low, high) in pairs.iter().map(ends).filter(|(low, high)| low != high) {
            more[low].push(high);
        }
        let mut parent = self.parent.clone();
        let mut grown = vec![false; self.size];
        let mut starts = Vec::with_capacity(self.size + 1);
        let mut rows = Vec::with_capacity(self.rows.len() + 64);
        for k in 0..self.size {
            let first = rows.len();
            starts.push(first);
            let own = &self.rows[self.starts[k]..self.starts[k + 1]];
            rows.extend_from_slice(own);
            let mut new = std::mem::take(&mut more[k]);
            new.sort_unstable();
            new.dedup();
            new.retain(|row| own.binary_search(row).is_err());
            if new.is_empty() {
                continue;
            }
            grown[k] = true;
            rows.extend_from_slice(&new);
            rows[first..].sort_unstable();
            let up = rows[first];
            if up == parent[k] {
                // The parent has the old rows already.
                more[up].extend(new);
            } else {
                parent[k] = up;
                more[up].extend_from_slice(&rows[first + 1..]);
            }
        }
        starts.push(rows.len());
        let find = |low: usize, high: usize| {
            starts[low] + rows[starts[low]..starts[low + 1]].partition_point(|&row| row < high)
        };
        let mut slots = Vec::with_capacity(self.slots.len() + pairs.len());
        for (edge, &slot) in self.edges.iter().zip(&self.slots) {
            if slot == usize::MAX {
                slots.push(slot);
                continue;
            }
            let (low, high) = ends(edge);
            slots.push(if grown[low] { find(low, high) } else { slot - self.starts[low] + starts[low] });
        }
        slots.extend(pairs.iter().map(ends).map(|(low, high)| if low == high { usize::MAX } else { find(low, high) }));
        let edges = self.edges.iter().chain(pairs).copied().collect();
        Symbolic { size: self.size, place: self.place.clone(), parent, starts, rows, slots, edges }
    }

    /// Number of unknowns.
    pub fn size(&self) -> usize {
        self.size
    }

    /// The pairs it was made for.
    pub fn edges(&self) -> &[(usize, usize)] {
        &self.edges
    }

    /// Entries of the factor below its diagonal.
    pub fn fill(&self) -> usize {
        self.rows.len()
    }

    /// The elimination tree with its last so many unknowns, the trunk, sawn off: of each place the bough that it is on, by the
    /// bough's own place; `usize::MAX` on the trunk. The ends of an edge are never on two boughs.
    pub fn boughs(&self, trunk: usize) -> Vec<usize> {
        let first = self.size.saturating_sub(trunk);
        let mut boughs = vec![usize::MAX; self.size];
        for k in (0..first).rev() {
            let up = self.parent[k];
            boughs[k] = if up < first { boughs[up] } else { k };
        }
        boughs
    }

    /// Levels of the elimination tree.
    pub fn height(&self) -> usize {
        let mut depth = vec![1; self.size];
        for k in (0..self.size).rev() {
            if self.parent[k] != usize::MAX {
                depth[k] = depth[self.parent[k]] + 1;
            }
        }
        depth.into_iter().max().unwrap_or(0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::linear::Factor;

    /// A random tree with some rings, and pairs thrown in: the order made for the first solves the whole as an order
    /// of its own does.
    #[test]
    fn further_pairs_keep_the_order_and_the_answer() {
        // Numbers that look random: the high bits of a linear congruential generator.
        let mut seed = 3u64;
        let mut below = |limit: usize| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 33) as usize % limit
        };
        for round in 0..200 {
            let size = 2 + round % 40;
            let mut edges: Vec<(usize, usize)> = (1..size).map(|node| (below(node), node)).collect();
            edges.extend((0..size / 3).map(|_| (below(size), below(size))));
            let pairs: Vec<(usize, usize)> = (0..1 + round % 5).map(|_| (below(size), below(size))).collect();
            let all: Vec<(usize, usize)> = edges.iter().chain(&pairs).copied().collect();
            let weights: Vec<f64> = all.iter().map(|_| -0.1 - below(1000) as f64 / 1e3).collect();
            let sums: Vec<f64> = (0..size).map(|_| 0.01 + below(1000) as f64 / 1e3).collect();
            let right: Vec<f64> = (0..size).map(|_| below(1000) as f64 / 1e3 - 0.5).collect();
            let answer = |symbolic: &Symbolic| {
                assert_eq!(symbolic.edges(), &all[..]);
                Factor::new(symbolic, &weights, &sums).unwrap().solve(symbolic, &right)
            };
            let kept = answer(&Symbolic::analyse(size, &edges).with(&pairs));
            let own = answer(&Symbolic::analyse(size, &all));
            for (kept, own) in kept.iter().zip(&own) {
                assert!((kept - own).abs() < 1e-9 * (1.0 + own.abs()), "{kept} {own}");
            }
        }
    }
}
