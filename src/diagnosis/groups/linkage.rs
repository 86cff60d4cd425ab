//! Complete linkage: a group holds only what is ambiguous with all else in it.

use std::collections::{BTreeMap, BTreeSet};

/// Joins items whose pairs are all near, the nearest first; of equals the first in the list. `near` holds pairs (the
/// smaller index first) with their distance; a pair that is not in it is too far. Gives each item the first of its group.
pub fn complete(items: usize, near: &BTreeMap<(usize, usize), f64>) -> Vec<usize> {
    let mut leader: Vec<usize> = (0..items).collect();
    let mut around: Vec<BTreeMap<usize, f64>> = vec![BTreeMap::new(); items];
    let mut order: BTreeSet<(u64, usize, usize)> = BTreeSet::new();
    for (&(a, b), &distance) in near.iter().filter(|((a, b), _)| a != b) {
        around[a].insert(b, distance);
        around[b].insert(a, distance);
        order.insert((rank(distance), a.min(b), a.max(b)));
    }
    while let Some((_, a, b)) = order.pop_first() {
        // b joins a: what is near both is as near as the further of the two, all else is out of reach.
        let gone = std::mem::take(&mut around[b]);
        let kept = std::mem::take(&mut around[a]);
        for (&other, &distance) in &gone {
            order.remove(&(rank(distance), b.min(other), b.max(other)));
            around[other].remove(&b);
        }
        for (&other, &distance) in kept.iter().filter(|(other, _)| **other != b) {
            order.remove(&(rank(distance), a.min(other), a.max(other)));
            around[other].remove(&a);
            if let Some(second) = gone.get(&other) {
                let distance = distance.max(*second);
                order.insert((rank(distance), a.min(other), a.max(other)));
                around[other].insert(a, distance);
                around[a].insert(other, distance);
            }
        }
        leader[b] = a;
    }
    for item in 0..items {
        let mut first = item;
        while leader[first] != first {
            first = leader[first];
        }
        leader[item] = first;
    }
    leader
}

/// Distances to a millionth: a machine's rounding never decides.
fn rank(distance: f64) -> u64 {
    (distance.max(0.0) * 1e6) as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_near_b_near_c_do_not_make_a_near_c() {
        let near = BTreeMap::from([((0, 1), 1.0), ((1, 2), 0.5)]);
        assert_eq!(complete(3, &near), vec![0, 1, 1]);
        let all = BTreeMap::from([((0, 1), 1.0), ((1, 2), 0.5), ((0, 2), 1.5)]);
        assert_eq!(complete(3, &all), vec![0, 0, 0]);
    }

    #[test]
    fn a_chain_falls_into_pairs() {
        let chain: BTreeMap<_, _> = (0..9).map(|i| ((i, i + 1), 1.0)).collect();
        let groups = complete(10, &chain);
        assert_eq!(groups, vec![0, 0, 2, 2, 4, 4, 6, 6, 8, 8]);
    }

    #[test]
    fn the_nearest_join_first_and_every_pair_of_a_group_is_near() {
        let near =
            BTreeMap::from([((0, 1), 2.0), ((0, 2), 0.1), ((1, 2), 2.5), ((2, 3), 0.2), ((0, 3), 0.3), ((1, 3), 9.0)]);
        assert_eq!(complete(4, &near), vec![0, 0, 0, 0]);
        let without = BTreeMap::from([((0, 1), 2.0), ((0, 2), 0.1), ((1, 2), 2.5), ((2, 3), 0.2), ((0, 3), 0.3)]);
        assert_eq!(complete(4, &without), vec![0, 1, 0, 0]);
    }
}
