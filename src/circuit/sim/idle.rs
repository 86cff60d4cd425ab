//! Injuries that no current meets: the healthy solution is theirs too.

use super::Sim;
use super::base::Base;
use super::config::Config;
use super::spec::Outcome;
use crate::circuit::injury::{Change, Injury};
use crate::circuit::law::Branch;
use crate::circuit::schematic::{Law, Node};

/// Less than this over a passive element drives nothing that shows, V.
const NO_VOLTS: f64 = 1e-6;
/// Less than this is no current, A.
const NO_AMPS: f64 = 1e-7;

/// A level of the healthy machine, or an earlier step, as far as it is needed here.
trait Quiet {
    /// Volts of a over b; nothing where no path joins them.
    fn over(&self, a: Node, b: Node) -> Option<f64>;
    /// Amps through an element at these volts over it.
    fn amps(&self, element: usize, volts: f64) -> f64;
}

struct Level<'a>(&'a Sim, &'a Outcome, usize);

impl Quiet for Level<'_> {
    fn over(&self, a: Node, b: Node) -> Option<f64> {
        let Level(sim, outcome, level) = self;
        (!sim.floating(outcome, *level, a, b)).then(|| sim.volts(outcome, *level, a, b))
    }

    fn amps(&self, element: usize, _: f64) -> f64 {
        self.0.element_amps(self.1, self.2, element)
    }
}

impl Quiet for Base {
    fn over(&self, a: Node, b: Node) -> Option<f64> {
        (self.islands[a] == self.islands[b]).then(|| self.volts[a] - self.volts[b])
    }

    fn amps(&self, element: usize, volts: f64) -> f64 {
        match self.branches[element] {
            Branch::Open => 0.0,
            branch => branch.at(volts).0,
        }
    }
}

impl Sim {
    /// Nothing flows in what the injury changes, neither before nor after: the circuit has one solution, so what every
    /// part gets is as in the healthy machine (a point that is cut off may still read otherwise to a meter).
    ///
    /// `healthy` is the healthy outcome of the state. Whenever it is not plain, the answer is no.
    pub fn idle(&self, healthy: &Outcome, injury: &Injury) -> bool {
        let steps = &self.states[healthy.state.0].steps;
        let Some((last, earlier)) = steps.split_last() else { return false };
        // Coils that pull in on the way pass through circuits that are not looked at here.
        let settled = |base: &Base| Config { apart: Vec::new(), high: false, ..base.config.clone() };
        let plain = steps.iter().all(|base| settled(base) == Config::default());
        let lone = injury.changes.len() == 1;
        plain
            && injury.blown.is_empty()
            && !last.volts.is_empty()
            && injury.changes.iter().all(|change| {
                earlier.iter().all(|base| self.unmet(&**base, change, lone))
                    && (0..healthy.levels.len()).all(|level| self.unmet(&Level(self, healthy, level), change, lone))
            })
    }

    /// As [`Sim::idle`], and no meter sees it either: nothing is parted, nothing joined that was apart.
    pub fn unseen(&self, healthy: &Outcome, injury: &Injury) -> bool {
        let joined = |a: Node, b: Node| (0..healthy.levels.len()).all(|level| !self.floating(healthy, level, a, b));
        injury.changes.iter().all(|change| match change {
            Change::Law(_, law) => *law != Law::Open,
            Change::Reverse(_) => true,
            Change::Add { a, b, .. } => joined(*a, *b),
            Change::Tie { from, to, .. } => {
                from.iter().chain(to).all(|&(node, _)| to.first().is_some_and(|&(other, _)| joined(node, other)))
            }
        }) && self.idle(healthy, injury)
    }

    fn unmet(&self, quiet: &impl Quiet, change: &Change, lone: bool) -> bool {
        let none = |volts: Option<f64>| volts.map_or(lone, |volts| volts.abs() < NO_VOLTS);
        match change {
            Change::Law(id, law) => {
                let Some(element) = self.schematic.elements.get(*id) else { return false };
                let Some(volts) = quiet.over(element.a, element.b) else { return *law == Law::Open };
                quiet.amps(*id, volts).abs() < NO_AMPS && (*law == Law::Open || passive(law) && volts.abs() < NO_VOLTS)
            }
            Change::Reverse(id) => self.schematic.elements.get(*id).is_some_and(|element| {
                passive(&element.law) && quiet.over(element.a, element.b).is_some_and(|volts| volts.abs() < NO_VOLTS)
            }),
            Change::Add { a, b, law } => passive(law) && none(quiet.over(*a, *b)),
            Change::Tie { from, to, .. } => {
                let Some(&(reference, _)) = to.first() else { return false };
                let mean = |taps: &[(Node, f64)]| {
                    taps.iter().try_fold(0.0, |sum, &(node, weight)| {
                        quiet.over(node, reference).map(|volts| sum + weight * volts)
                    })
                };
                none(mean(from).zip(mean(to)).map(|(from, to)| from - to))
            }
        }
    }
}

/// It never drives a current by itself.
fn passive(law: &Law) -> bool {
    !matches!(law, Law::Source { .. } | Law::PulseSource { .. })
}
