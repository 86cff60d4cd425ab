//! Minimum-degree ordering.

use std::collections::BTreeSet;

/// Order of elimination: `order[k]` is the unknown eliminated as the k-th. At each step one with the fewest
/// neighbours in the graph that elimination has left; the lowest number first, so that the order is reproducible.
pub fn minimum_degree(size: usize, edges: &[(usize, usize)]) -> Vec<usize> {
    let mut lists: Vec<Vec<usize>> = vec![Vec::new(); size];
    for &(a, b) in edges {
        if a != b {
            lists[a].push(b);
            lists[b].push(a);
        }
    }
    let mut neighbours: Vec<Neighbours> = lists.into_iter().map(Neighbours::new).collect();
    let mut queue: BTreeSet<(usize, usize)> = neighbours.iter().enumerate().map(|(n, list)| (list.len(), n)).collect();
    let mut order = Vec::with_capacity(size);
    while let Some((_, node)) = queue.pop_first() {
        order.push(node);
        let clique = std::mem::take(&mut neighbours[node]).sorted();
        for &other in &clique {
            queue.remove(&(neighbours[other].len(), other));
            neighbours[other].join(&clique, node, other);
            queue.insert((neighbours[other].len(), other));
        }
    }
    order
}

/// More neighbours than this and a list is too dear to write anew each time that one of them is eliminated: a chassis
/// has thousands.
const MANY: usize = 128;

/// The neighbours of an unknown.
enum Neighbours {
    /// Ascending.
    Few(Vec<usize>),
    Many(BTreeSet<usize>),
}

impl Default for Neighbours {
    fn default() -> Self {
        Neighbours::Few(Vec::new())
    }
}

impl Neighbours {
    fn new(mut list: Vec<usize>) -> Self {
        list.sort_unstable();
        list.dedup();
        if list.len() > MANY { Neighbours::Many(list.into_iter().collect()) } else { Neighbours::Few(list) }
    }

    fn len(&self) -> usize {
        match self {
            Neighbours::Few(list) => list.len(),
            Neighbours::Many(set) => set.len(),
        }
    }

    fn sorted(self) -> Vec<usize> {
        match self {
            Neighbours::Few(list) => list,
            Neighbours::Many(set) => set.into_iter().collect(),
        }
    }

    /// Takes in a sorted clique, without the unknown that is gone and the one whose neighbours these are.
    fn join(&mut self, clique: &[usize], gone: usize, itself: usize) {
        match self {
            Neighbours::Few(list) => {
                let list = united(list, clique, gone, itself);
                *self = if list.len() > MANY {
                    Neighbours::Many(list.into_iter().collect())
                } else {
                    Neighbours::Few(list)
                };
            }
            Neighbours::Many(set) => {
                set.extend(clique.iter().filter(|&&other| other != itself));
                set.remove(&gone);
            }
        }
    }
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

    /// The order is the same whichever way the neighbours of the hubs are kept.
    #[test]
    fn hubs_are_kept_as_sets_and_change_nothing() {
        let leaves = 3 * MANY;
        // Two hubs with chains of three between them, and leaves on one.
        let mut edges = Vec::new();
        for chain in 0..leaves {
            let first = 2 + 3 * chain;
            edges.extend([(0, first), (first, first + 1), (first + 1, first + 2), (first + 2, chain % 2)]);
        }
        let size = 2 + 3 * leaves;
        let mut left: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); size];
        for &(a, b) in &edges {
            left[a].insert(b);
            left[b].insert(a);
        }
        let mut by_hand = Vec::new();
        let mut stay: BTreeSet<usize> = (0..size).collect();
        while let Some(&node) = stay.iter().min_by_key(|&&n| (left[n].len(), n)) {
            stay.remove(&node);
            by_hand.push(node);
            let clique = std::mem::take(&mut left[node]);
            for &other in &clique {
                left[other].extend(&clique);
                left[other].remove(&node);
                left[other].remove(&other);
            }
        }
        assert_eq!(minimum_degree(size, &edges), by_hand);
    }

    #[test]
    fn every_unknown_once_repeats_and_loops_allowed() {
        let mut order = minimum_degree(5, &[(0, 1), (1, 0), (2, 2), (3, 4)]);
        order.sort_unstable();
        assert_eq!(order, vec![0, 1, 2, 3, 4]);
    }
}
