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
