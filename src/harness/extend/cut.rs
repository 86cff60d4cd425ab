//! Cutting: which pieces come off which spool, so that little is wasted.
//!
//! One colour and size at a time. Small plans are searched whole; larger ones are packed the longest piece first onto the
//! shortest rest that holds it, and then it is said how far from the best that can be.

/// Steps of a search; then the best so far is taken.
const STEPS: usize = 200_000;
/// Lengths that differ by less are one, m.
const SAME: f64 = 1e-9;

/// Pieces on spools.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pack {
    /// For each piece the spool that it comes off.
    pub from: Vec<usize>,
    /// Metres left on each spool.
    pub left: Vec<f64>,
    /// Metres of rests that are too short for anything, of spools that were cut.
    pub waste: f64,
    /// No other way wastes less.
    pub best: bool,
}

/// Do the pieces come off these spools?
pub fn fit(pieces: &[f64], spools: &[f64]) -> bool {
    let sum: f64 = pieces.iter().sum();
    if sum > spools.iter().sum::<f64>() + SAME {
        return false;
    }
    match spools {
        [] => pieces.is_empty(),
        [_] => true,
        _ => search(pieces, spools, 0.0, true).best.is_some(),
    }
}

/// The pieces on the spools with the least waste, then off the fewest spools; a rest shorter than `offcut` is waste.
/// `None` if they do not come off them (or, of very many pieces, no way was found).
pub fn pack(pieces: &[f64], spools: &[f64], offcut: f64) -> Option<Pack> {
    let done = search(pieces, spools, offcut, false);
    let best = done.steps < STEPS;
    let (score, from) = done.best?;
    let mut left = spools.to_vec();
    from.iter().zip(pieces).for_each(|(&spool, piece)| left[spool] = (left[spool] - piece).max(0.0));
    Some(Pack { from, left, waste: score.0 as f64 / 1e6, best: best || score.0 == 0 })
}

fn search<'a>(pieces: &'a [f64], spools: &'a [f64], offcut: f64, any: bool) -> Search<'a> {
    let mut order: Vec<usize> = (0..pieces.len()).collect();
    order.sort_by(|&a, &b| pieces[b].total_cmp(&pieces[a]).then(a.cmp(&b)));
    let (left, from) = (spools.to_vec(), vec![usize::MAX; pieces.len()]);
    let mut search = Search { pieces, spools, offcut, any, left, from, order, best: None, steps: 0 };
    search.go(0);
    search
}

/// Micrometres wasted, spools cut.
type Score = (u64, usize);

struct Search<'a> {
    pieces: &'a [f64],
    spools: &'a [f64],
    offcut: f64,
    /// One way is as good as another.
    any: bool,
    left: Vec<f64>,
    from: Vec<usize>,
    order: Vec<usize>,
    best: Option<(Score, Vec<usize>)>,
    steps: usize,
}

impl Search<'_> {
    fn go(&mut self, depth: usize) {
        self.steps += 1;
        let done = self.best.as_ref().is_some_and(|(best, _)| self.any || best.0 == 0 && best.1 <= 1);
        if done || self.steps >= STEPS {
            return;
        }
        let Some(&piece) = self.order.get(depth) else {
            let score = self.score();
            if self.best.as_ref().is_none_or(|(best, _)| score < *best) {
                self.best = Some((score, self.from.clone()));
            }
            return;
        };
        let ahead: f64 = self.order[depth..].iter().map(|&at| self.pieces[at]).sum();
        if ahead > self.left.iter().sum::<f64>() + SAME {
            return;
        }
        let length = self.pieces[piece];
        // The shortest rest that holds it first: whole spools stay whole.
        let mut spools: Vec<usize> = (0..self.spools.len()).filter(|&at| self.left[at] >= length - SAME).collect();
        spools.sort_by(|&a, &b| self.left[a].total_cmp(&self.left[b]).then(a.cmp(&b)));
        // Rests that are alike need be tried once.
        spools.dedup_by(|a, b| {
            (self.left[*a] - self.left[*b]).abs() < SAME && (self.spools[*a] - self.spools[*b]).abs() < SAME
        });
        // Of pieces that are alike the later one does not come off an earlier spool.
        let before = depth.checked_sub(1).map(|at| self.order[at]);
        let before = before.filter(|&at| (self.pieces[at] - length).abs() < SAME).map(|at| self.from[at]);
        for spool in spools {
            if before.is_some_and(|before| self.rank(spool) < self.rank(before)) {
                continue;
            }
            self.left[spool] -= length;
            self.from[piece] = spool;
            self.go(depth + 1);
            self.from[piece] = usize::MAX;
            self.left[spool] += length;
        }
    }

    /// Spools in the order of their lengths.
    fn rank(&self, spool: usize) -> (u64, usize) {
        (micrometres(self.spools[spool]), spool)
    }

    fn score(&self) -> Score {
        let cut = (0..self.spools.len()).filter(|&at| self.left[at] < self.spools[at] - SAME);
        cut.fold((0, 0), |(waste, count), at| {
            let rest = if self.left[at] < self.offcut - SAME { micrometres(self.left[at]) } else { 0 };
            (waste + rest, count + 1)
        })
    }
}

fn micrometres(metres: f64) -> u64 {
    (metres.max(0.0) * 1e6).round() as u64
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn rests_are_used_before_whole_spools() {
        let pack = pack(&[1.3, 1.3], &[10.0, 2.7], 0.2).unwrap();
        assert_eq!(pack.from, [0, 0], "two pieces off the short one leave 0.1 m, which is waste");
        assert_eq!(pack.waste, 0.0);
        let pack = super::pack(&[1.3, 1.3], &[10.0, 2.6], 0.2).unwrap();
        assert_eq!((pack.from, pack.waste), (vec![1, 1], 0.0));
    }

    #[test]
    fn what_does_not_come_off_is_told() {
        assert_eq!(pack(&[2.0, 2.0], &[3.0, 1.0], 0.2), None);
        assert!(!fit(&[2.0, 2.0], &[3.0, 1.5]) && fit(&[2.0, 1.0, 1.0], &[3.0, 1.5]));
        assert!(fit(&[], &[]) && !fit(&[0.1], &[]));
    }

    #[test]
    fn the_longest_first_would_fail_here_and_the_search_does_not() {
        // 6 and 4, 5 and 5; the longest first onto the shortest that holds it: 6 and 4 too, but of 7, 5, 4, 4 it is not.
        assert!(fit(&[6.0, 5.0, 5.0, 4.0], &[10.0, 10.0]));
        assert!(fit(&[5.0, 4.0, 4.0, 7.0], &[11.0, 9.0]));
    }

    #[test]
    fn many_pieces_end_in_good_time() {
        let pieces: Vec<f64> = (0..60).map(|at| 0.5 + 0.01 * f64::from(at % 7)).collect();
        let pack = pack(&pieces, &[12.0, 10.0, 9.0, 8.0, 25.0], 0.2).unwrap();
        assert_eq!(pack.from.len(), 60);
    }

    /// All ways one by one.
    fn brute(pieces: &[f64], spools: &[f64], offcut: f64) -> Option<Score> {
        let mut best: Option<Score> = None;
        for code in 0..spools.len().pow(pieces.len() as u32) {
            let from: Vec<usize> =
                (0..pieces.len()).map(|at| code / spools.len().pow(at as u32) % spools.len()).collect();
            let mut left = spools.to_vec();
            from.iter().zip(pieces).for_each(|(&spool, piece)| left[spool] -= piece);
            if left.iter().any(|&left| left < -SAME) {
                continue;
            }
            let score = (0..spools.len()).filter(|at| from.contains(at)).fold((0, 0), |(waste, count), at| {
                (waste + if left[at] < offcut - SAME { micrometres(left[at]) } else { 0 }, count + 1)
            });
            best = Some(best.map_or(score, |best| best.min(score)));
        }
        best
    }

    proptest! {
        #[test]
        fn nothing_wastes_less_than_what_is_packed(
            pieces in proptest::collection::vec(1u32..30, 0..7),
            spools in proptest::collection::vec(1u32..60, 1..4),
        ) {
            let metres = |list: &[u32]| list.iter().map(|&n| f64::from(n) / 10.0).collect::<Vec<f64>>();
            let (pieces, spools) = (metres(&pieces), metres(&spools));
            let found = pack(&pieces, &spools, 0.25);
            let best = brute(&pieces, &spools, 0.25);
            prop_assert_eq!(found.is_some(), best.is_some());
            if let (Some(found), Some(best)) = (found, best) {
                prop_assert!(found.best);
                prop_assert_eq!(micrometres(found.waste), best.0);
                let used = (0..spools.len()).filter(|at| found.from.contains(at)).count();
                prop_assert_eq!(used, best.1);
            }
        }

        #[test]
        fn metal_is_neither_made_nor_lost(
            pieces in proptest::collection::vec(1u32..30, 0..20),
            spools in proptest::collection::vec(1u32..200, 1..5),
        ) {
            let metres = |list: &[u32]| list.iter().map(|&n| f64::from(n) / 10.0).collect::<Vec<f64>>();
            let (pieces, spools) = (metres(&pieces), metres(&spools));
            if let Some(found) = pack(&pieces, &spools, 0.2) {
                let cut: f64 = pieces.iter().sum();
                let gone: f64 = spools.iter().sum::<f64>() - found.left.iter().sum::<f64>();
                prop_assert!((cut - gone).abs() < 1e-6 && found.left.iter().all(|&left| left >= 0.0));
            }
        }
    }
}
