//! A meter put on a settled solution.

use super::Sim;
use super::config::{Overrides, Taps};
use super::ports;
use super::spec::{Level, Outcome};
use crate::circuit::law::Branch;
use crate::circuit::schematic::Node;

impl Sim {
    /// The same with this resistance between two nodes, contacts and fuses staying as they are: right for a meter,
    /// whose microamps move no coil.
    pub fn loaded(&self, outcome: &Outcome, a: Node, b: Node, ohms: f64) -> Outcome {
        let load = |(at, level): (usize, &Level)| {
            let mut set: Overrides = level.set.clone();
            set.added.push((Taps::pair(a, b), Branch::ohms(ohms)));
            let (field, _) = self.solve(self.base(outcome, at), &set, ports::LOST_READ);
            Level { field, set, ..level.clone() }
        };
        Outcome { levels: outcome.levels.iter().enumerate().map(load).collect(), ..outcome.clone() }
    }
}
