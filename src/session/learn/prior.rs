//! How likely two groups of wires are joined before they are touched: what tables of switches are like.
//!
//! Mostly single wires and pairs; little at rest; what was joined in the position before; one wire is common to many
//! contacts; a wire that no position uses would not have been led out. Common practice, no source: the figures were set
//! by the drill in `tests/learn`, whose switches are invented.

/// What is known of the positions before.
#[derive(Clone, Debug, Default)]
pub struct Past {
    /// Groups of each earlier position, and whether that is a position of rest.
    pub before: Vec<(Vec<Vec<usize>>, bool)>,
    /// Is this one of rest?
    pub rest: bool,
    /// Positions after this one.
    pub left: usize,
}

/// Partners that a wire has on average where the switch is not at rest.
const PARTNERS: f64 = 0.9;
/// The same at rest.
const AT_REST: f64 = 0.25;
/// Odds of what was joined in the position before, in any other, and of what was apart there.
const JUST_JOINED: f64 = 9.0;
const ONCE_JOINED: f64 = 3.0;
const PARTED: f64 = 0.75;
/// Odds for each further partner that a wire has had, up to three.
const COMMON: f64 = 1.7;
/// Odds for each partner in this position: who has one is rather the common wire.
const CROWDED: f64 = 1.3;
/// Odds of a wire that nothing has used, where no or one position is left.
const UNUSED: f64 = 4.0;

impl Past {
    /// The chance that these two groups of the present position are joined.
    pub fn chance(&self, wires: usize, a: &[usize], b: &[usize]) -> f64 {
        let most = a.iter().flat_map(|&u| b.iter().map(move |&v| (u, v))).map(|(u, v)| self.odds(wires, u, v));
        let crowd = (a.len() + b.len()).saturating_sub(2).min(2) as i32;
        let odds = most.fold(0.0, f64::max) * CROWDED.powi(crowd);
        (odds / (1.0 + odds)).min(0.97)
    }

    fn odds(&self, wires: usize, u: usize, v: usize) -> f64 {
        let partners = if self.rest { AT_REST } else { PARTNERS };
        let base = (partners / (wires.max(2) - 1) as f64).min(0.6);
        let mut odds = base / (1.0 - base);
        let together = |groups: &[Vec<usize>]| groups.iter().any(|group| group.contains(&u) && group.contains(&v));
        let active = || self.before.iter().filter(|(_, rest)| *rest == self.rest);
        match active().next_back() {
            Some((groups, _)) if together(groups) => odds *= JUST_JOINED,
            Some(_) if active().any(|(groups, _)| together(groups)) => odds *= ONCE_JOINED,
            Some(_) => odds *= PARTED,
            None => {}
        }
        let partners = |wire: usize| {
            let mut met: Vec<usize> = Vec::new();
            for group in self.before.iter().flat_map(|(groups, _)| groups).filter(|group| group.contains(&wire)) {
                met.extend(group.iter().copied().filter(|&other| other != wire));
            }
            met.sort_unstable();
            met.dedup();
            met.len()
        };
        let (pu, pv) = (partners(u), partners(v));
        odds *= COMMON.powi(pu.max(pv).min(3) as i32);
        if !self.rest && self.left <= 1 && !self.before.is_empty() && pu.min(pv) == 0 {
            odds *= UNUSED.powf(if self.left == 0 { 1.0 } else { 0.5 });
        }
        odds
    }
}
