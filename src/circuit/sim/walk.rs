//! One walk in depth through the network of a step: what parts it, and what is in series with what.

use super::config::Taps;
use crate::circuit::law::Branch;
use crate::circuit::schematic::ElementId;

/// A walk through the network of a step.
#[derive(Debug)]
pub(super) struct Walked {
    /// Of a branch whose absence would part an island: the nodes cut off, as a range of `entered`.
    pub bridges: Vec<Option<(u32, u32)>>,
    /// When each node was entered.
    pub entered: Vec<u32>,
    /// Of each branch the name of its series; 0: of none.
    pub series: Vec<u64>,
    /// Diodes by their series, ascending.
    pub diodes: Vec<(u64, ElementId)>,
}

/// The so-manyth of a sequence of numbers that look random (SplitMix: Steele, Lea & Flood, OOPSLA 2014), none of them 0.
fn scattered(number: u64) -> u64 {
    let mut next = number.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    next = (next ^ (next >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    next = (next ^ (next >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (next ^ (next >> 31)) | 1 << 63
}

/// Branches whose absence parts their island, by one walk in depth (low points). Branches of more than two taps
/// count as joining their nodes twice, so that neither they nor what is parallel to them is called a bridge.
///
/// Two branches are in series if the absence of both parts their island: the same rings then run through them. Each ring
/// (a branch that the walk did not need) has a random number, and a branch the exclusive or of its rings' (Pritchard &
/// Thurimella, ACM Transactions on Algorithms 7, 2011).
pub(super) fn walk(size: usize, taps: &[Taps], branches: &[Branch]) -> Walked {
    const NONE: u32 = u32::MAX;
    let mut next: Vec<Vec<(usize, usize)>> = vec![Vec::new(); size];
    let mut join = |a: usize, b: usize, id: usize| {
        if a != b {
            next[a].push((b, id));
            next[b].push((a, id));
        }
    };
    for (id, taps) in taps.iter().enumerate().filter(|(id, _)| branches[*id] != Branch::Open) {
        match taps {
            Taps::Pair([(a, _), (b, _)]) => join(*a, *b, id),
            Taps::Weighted(taps) => {
                for pair in taps.windows(2) {
                    join(pair[0].0, pair[1].0, usize::MAX);
                    join(pair[0].0, pair[1].0, usize::MAX - 1);
                }
            }
        }
    }
    let mut entered = vec![NONE; size];
    let mut low = vec![NONE; size];
    let mut found = vec![None; branches.len()];
    let mut series = vec![0u64; branches.len()];
    // Exclusive or of the rings that run through the branch by which each node was entered.
    let mut rings = vec![0u64; size];
    let mut met = 0;
    let mut clock = 0u32;
    // Node, the branch it was entered by, its next neighbour.
    let mut stack: Vec<(usize, Option<usize>, usize)> = Vec::new();
    for start in 0..size {
        if entered[start] != NONE {
            continue;
        }
        entered[start] = clock;
        low[start] = clock;
        clock += 1;
        stack.push((start, None, 0));
        while let Some((node, by, at)) = stack.last_mut() {
            let (node, by) = (*node, *by);
            if let Some(&(other, id)) = next[node].get(*at) {
                *at += 1;
                if entered[other] == NONE {
                    entered[other] = clock;
                    low[other] = clock;
                    clock += 1;
                    stack.push((other, Some(id), 0));
                } else if Some(id) != by {
                    low[node] = low[node].min(entered[other]);
                    if entered[other] < entered[node] {
                        met += 1;
                        let ring = scattered(met);
                        rings[node] ^= ring;
                        rings[other] ^= ring;
                        if let Some(series) = series.get_mut(id) {
                            *series = ring;
                        }
                    }
                }
            } else {
                stack.pop();
                if let (Some(&(above, ..)), Some(id)) = (stack.last(), by) {
                    if low[node] > entered[above] && id < found.len() {
                        found[id] = Some((entered[node], clock));
                    }
                    if let Some(series) = series.get_mut(id) {
                        *series = rings[node];
                    }
                    rings[above] ^= rings[node];
                    low[above] = low[above].min(low[node]);
                }
            }
        }
    }
    Walked { bridges: found, entered, series, diodes: Vec::new() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bridges_are_found_and_the_nodes_behind_them() {
        // 0-1-2-0 a ring, 2-3 a bridge, 3-4 twice.
        let taps: Vec<Taps> =
            [(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (3, 4), (5, 6)].iter().map(|&(a, b)| Taps::pair(a, b)).collect();
        let mut branches = vec![Branch::ohms(1.0); 7];
        let Walked { entered, bridges: found, .. } = walk(7, &taps, &branches);
        assert_eq!(
            found.iter().map(Option::is_some).collect::<Vec<_>>(),
            [false, false, false, true, false, false, true]
        );
        let (from, to) = found[3].unwrap();
        let behind = |node: usize| (from..to).contains(&entered[node]);
        assert!(behind(3) && behind(4) && !behind(0) && !behind(2) && !behind(5));
        branches[5] = Branch::Open;
        assert!(walk(7, &taps, &branches).bridges[4].is_some());
    }

    #[test]
    fn branches_of_one_series_have_one_name() {
        // A ring of four (0-1-2-3-0) with a second way from 1 to 2, and a tail 3-4.
        let taps: Vec<Taps> =
            [(0, 1), (1, 2), (2, 3), (3, 0), (1, 2), (3, 4)].iter().map(|&(a, b)| Taps::pair(a, b)).collect();
        let series = walk(5, &taps, &[Branch::ohms(1.0); 6]).series;
        assert!(series[0] != 0 && series[0] == series[2] && series[0] == series[3]);
        assert!(series[1] != series[0] && series[4] != series[0] && series[1] != series[4]);
        assert_eq!(series[5], 0);
    }
}
