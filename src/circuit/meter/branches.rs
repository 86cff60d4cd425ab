//! Where a threshold lies within what parts scatter by, the machine stands in one of several ways: each with its
//! chance, at most four.
//!
//! A coil's pull-in and drop-out scatter together; a fuse lasts a factor longer or shorter than the table says, so
//! that of two that carry a short either may open first, or neither while the state lasts.

use super::{Observation, Observed};
use crate::circuit::injury::{Change, Injury, law_after};
use crate::circuit::law::LEAST_OHMS;
use crate::circuit::schematic::{ElementId, Law, When};
use crate::circuit::showing::{COIL_SPREAD, normal};
use crate::circuit::sim::{LASTS, Sim, StateId, StateSpec};

/// As far as thresholds are taken to scatter, standard deviations.
const FAR: f64 = 3.0;
/// An order of fuses less likely than this is no branch of its own.
const LEAST_ORDER: f64 = 0.05;
/// A coil's other way less likely than this is left out.
const LEAST_COIL: f64 = 0.005;
/// Ways at most.
const MOST: usize = 4;
/// Halvings on the way to the place where a coil's contacts would move.
const HALVINGS: usize = 8;
/// A fuse of so many amps holds whatever flows, A.
const HOLDS: f64 = 1e9;

/// One way that the machine may stand.
#[derive(Clone, Debug)]
pub(super) struct Way {
    pub p: f64,
    pub injury: Injury,
    /// Fuses that this way supposes to have opened first.
    pub opened: Vec<ElementId>,
}

/// Where coils and fuses are looked at.
pub(super) struct Scatter<'a> {
    pub sim: &'a Sim,
    pub spec: &'a StateSpec,
    pub state: StateId,
    /// Standard deviation of ln(time) of fuses.
    pub fuse_spread: f64,
}

impl Scatter<'_> {
    /// The ways, the likeliest first; one where nothing is near a threshold.
    pub fn ways(&self, injury: &Injury) -> Vec<Way> {
        let mut ways = self.fuses(injury);
        for coil in self.coils(injury) {
            let split: Vec<Way> = ways.iter().flat_map(|way| self.coil(way, coil)).collect();
            if split.len() > MOST {
                break;
            }
            ways = split;
        }
        ways.sort_by(|a, b| b.p.total_cmp(&a.p));
        let total: f64 = ways.iter().map(|way| way.p).sum();
        ways.iter_mut().for_each(|way| way.p /= total);
        ways
    }

    fn law<'a>(&'a self, injury: &'a Injury, id: ElementId) -> &'a Law {
        law_after(self.spec.changes.iter().chain(&injury.changes), id, &self.sim.schematic().elements[id].law)
    }

    fn coils(&self, injury: &Injury) -> Vec<ElementId> {
        let count = self.sim.schematic().elements.len();
        (0..count).filter(|&id| self.law(injury, id).coil().is_some()).collect()
    }

    /// The way as it is, or that and the one in which the coil's contacts stand otherwise.
    fn coil(&self, way: &Way, coil: ElementId) -> Vec<Way> {
        let with = |z: f64| {
            let law = match self.law(&way.injury, coil).clone() {
                Law::Coil { ohms, pull_in, drop_out } => {
                    let by = libm::exp(COIL_SPREAD * z);
                    Law::Coil { ohms, pull_in: pull_in * by, drop_out: drop_out * by }
                }
                Law::Solenoid { ohms, pull_in, drop_out, with, ratio } => {
                    let by = libm::exp(COIL_SPREAD * z);
                    Law::Solenoid { ohms, pull_in: pull_in * by, drop_out: drop_out * by, with, ratio }
                }
                law => law,
            };
            let mut injury = way.injury.clone();
            injury.changes.push(Change::Law(coil, law));
            injury
        };
        let outcome = self.sim.run(self.state, &way.injury);
        let same = |z: f64| {
            let other = self.sim.run(self.state, &with(z));
            other.pulled == outcome.pulled && other.blown == outcome.blown && !other.chatters
        };
        let sides = [-1.0, 1.0].map(|side| (side, same(side * FAR)));
        let Some(&(side, _)) = sides.iter().find(|(_, same)| !same).filter(|_| !outcome.chatters) else {
            return vec![way.clone()];
        };
        let (mut near, mut far) = (0.0, FAR);
        for _ in 0..HALVINGS {
            let middle = 0.5 * (near + far);
            if same(side * middle) { near = middle } else { far = middle }
        }
        let stays = normal(0.5 * (near + far));
        if 1.0 - stays < LEAST_COIL {
            return vec![way.clone()];
        }
        // Each way with thresholds so far off that nobody asks again.
        let settled = if sides.iter().all(|(_, same)| !same) { 0.0 } else { -side * FAR };
        vec![
            Way { p: way.p * stays, injury: with(settled), opened: way.opened.clone() },
            Way { p: way.p * (1.0 - stays), injury: with(side * FAR), opened: way.opened.clone() },
        ]
    }

    /// Which fuse opens first, if any does while the state lasts.
    fn fuses(&self, injury: &Injury) -> Vec<Way> {
        let alone = || vec![Way { p: 1.0, injury: injury.clone(), opened: Vec::new() }];
        let elements = 0..self.sim.schematic().elements.len();
        let fuses: Vec<(ElementId, f64, f64, usize)> = elements
            .filter_map(|id| match self.law(injury, id) {
                Law::Contact { ohms, when: When::Fuse { amps, curve } } if !injury.blown.contains(&id) => {
                    Some((id, *ohms, *amps, *curve))
                }
                _ => None,
            })
            .collect();
        if fuses.is_empty() || self.fuse_spread <= 0.0 {
            return alone();
        }
        let mut held = injury.clone();
        held.changes.extend(fuses.iter().map(|&(id, ohms, _, curve)| {
            Change::Law(id, Law::Contact { ohms, when: When::Fuse { amps: HOLDS, curve } })
        }));
        let outcome = self.sim.run(self.state, &held);
        let seconds = |&(id, _, rating, curve): &(ElementId, f64, f64, usize)| {
            let square: f64 = outcome
                .levels
                .iter()
                .enumerate()
                .map(|(index, level)| level.share * self.sim.element_amps(&outcome, index, id).powi(2))
                .sum();
            self.sim.fuses().numbered(curve).seconds(square.sqrt() / rating.max(LEAST_OHMS))
        };
        let mut hot: Vec<(ElementId, f64)> = fuses
            .iter()
            .map(|fuse| (fuse.0, seconds(fuse)))
            .filter(|(_, seconds)| *seconds <= LASTS * libm::exp(FAR * self.fuse_spread))
            .collect();
        hot.sort_by(|a, b| a.1.total_cmp(&b.1));
        hot.truncate(2);
        let before = |seconds: f64| normal((LASTS / seconds).ln() / self.fuse_spread);
        let (none, orders) = match hot[..] {
            [] => return alone(),
            [(first, seconds)] => (1.0 - before(seconds), vec![(first, 1.0)]),
            [(first, a), (second, b), ..] => {
                let ahead = normal((b / a).ln() / (self.fuse_spread * std::f64::consts::SQRT_2));
                ((1.0 - before(a)) * (1.0 - before(b)), vec![(first, ahead), (second, 1.0 - ahead)])
            }
        };
        let mut ways: Vec<Way> = orders
            .into_iter()
            .map(|(fuse, share)| {
                let mut injury = injury.clone();
                injury.blown.push(fuse);
                Way { p: share * (1.0 - none), injury, opened: vec![fuse] }
            })
            .collect();
        ways.push(Way { p: none, injury: held, opened: Vec::new() });
        ways.retain(|way| way.p >= LEAST_ORDER);
        match ways.as_slice() {
            // What the table says comes of itself, and with everything that comes after it.
            [] | [_] => alone(),
            _ => ways,
        }
    }
}

/// One answer of several, the likeliest first.
pub(super) fn joined(answers: Vec<(f64, Observation)>) -> Option<Observation> {
    let mut answers = answers.into_iter();
    let (first, mut out) = answers.next()?;
    let mut so_far = first;
    for (p, other) in answers {
        let share = p / (so_far + p);
        so_far += p;
        match (&mut out.what, other.what) {
            (Observed::Showing(words), Observed::Showing(more)) => {
                words.iter_mut().for_each(|(_, q)| *q *= 1.0 - share);
                for (word, q) in more {
                    match words.iter_mut().find(|(known, _)| *known == word) {
                        Some((_, sum)) => *sum += q * share,
                        None => words.push((word, q * share)),
                    }
                }
            }
            (Observed::Beeps(a), Observed::Beeps(b)) => *a += share * (b - *a),
            // The band holds 95 %: what is less likely than its edges does not widen it.
            (Observed::Number { low, high, .. }, Observed::Number { low: a, high: b, .. }) if p > 0.025 => {
                *low = low.min(a);
                *high = high.max(b);
            }
            _ => {}
        }
    }
    Some(out)
}
