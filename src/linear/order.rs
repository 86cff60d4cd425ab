//! Minimum-degree ordering.

use std::collections::BTreeSet;

/// Order of elimination: `order[k]` is the unknown eliminated as the k-th. At each step one with the fewest
/// neighbours in the graph that elimination has left; the lowest number first, so that the order is reproducible.
pub fn minimum_degree(size: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut neighbours: Vec<Vec<usize>> = vec![Vec::new(); size];
    for &(a, b) in edges {
        if a != b {
            neighbours[a].push(b);
            neighbours[b].push(a);
        }
    }
    for list in &mut neighbours {
        list.sort_unstable();
        list.dedup();
    }
    let mut queue: BTreeSet<(usize, usize)> = neighbours.iter().enumerate().map(|(n, list)| (list.len(), n)).collect();
    let mut order = Vec::with_capacity(size);
    while let Some((_, node)) = queue.pop_first() {
        order.push(node);
        let clique = std::mem::take(&mut neighbours[node]);
        for &other in &clique {
            let list = &mut neighbours[other];
            queue.remove(&(list.len(), other));
            *list = united(list, &clique, node, other);
            queue.insert((list.len(), other));
        }
    }
    order
}

/// Both sorted lists in one, without two of their members.
fn united(list: &[usize], clique: &[usize], gone: usize, itself: usize) -> Vec<usize> {
    let mut out = Vec::with_capacity(list.len() + clique.len());
    let (mut i, mut j) = (0, 0);
    while i < list.len() || j < clique.len() {
        let next = match (list.get(i), clique.get(j)) {
            (Some(&a), Some(&b)) => {
                if a <= b {
                    i += 1;
                }
                if b <= a {
                    j += 1;
                }
                a.min(b)
            }
            (Some(&a), None) => {
                i += 1;
                a
            }
            (None, Some(&b)) => {
                j += 1;
                b
            }
            (None, None) => break,
        };
        if next != gone && next != itself {
            out.push(next);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_star_is_eliminated_from_its_leaves() {
        let edges: Vec<_> = (1..6).map(|leaf| (0, leaf)).collect();
        let order = minimum_degree(6, &edges);
        let hub = order.iter().position(|&n| n == 0).unwrap();
        assert!(hub >= 4, "{order:?}");
    }

    #[test]
    fn every_unknown_once_repeats_and_loops_allowed() {
        let mut order = minimum_degree(5, &[(0, 1), (1, 0), (2, 2), (3, 4)]);
        order.sort_unstable();
        assert_eq!(order, vec![0, 1, 2, 3, 4]);
    }
}
