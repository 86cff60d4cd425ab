//! A step's way to where it ends, solved and factored too: a fault goes the same way, and is near to it everywhere.
//!
//! From rest to the end of a step every relay pulls in and some fuse may open. Told from the end alone, a fault at rest
//! would be all relays' contacts undone, and every lamp behind them.

use super::Sim;
use super::base::Base;
use super::config::{Config, Wound};
use super::full;
use super::settle::{Found, Question, settle};
use crate::circuit::schematic::ElementId;

/// Places of a way that are kept at most, and among how many they are chosen.
const MOST: usize = 8;
const PASSED: usize = 64;

impl Sim {
    /// The place of the step's way that stands nearest to this configuration, see [`Base::stand`].
    pub(super) fn nearest(&self, base: &Base, config: &Config) -> usize {
        let own = apart(&base.config, config);
        if own == 0 {
            return 0;
        }
        let way = base.way.get_or_init(|| self.way(base));
        let nearest = way.iter().map(|base| apart(&base.config, config)).zip(1..).min();
        nearest.filter(|&(other, _)| other < own).map_or(0, |(_, stand)| stand)
    }

    /// Where the step passes through from rest, and from where the step before it ended.
    fn way(&self, base: &Base) -> Vec<Base> {
        let (size, zero) = (self.schematic.nodes.len(), self.schematic.zero);
        let wound = Wound::default();
        let question = Question {
            laws: &base.laws,
            wound: &wound,
            fuses: &self.fuses,
            turning: self.turning(&base.settings),
            levels: false,
        };
        let mut way: Vec<Base> = Vec::new();
        for from in [Config::default(), base.from.clone()] {
            let known = |way: &[Base]| way.iter().chain([base]).any(|known| apart(&known.config, &from) == 0);
            if known(&way) {
                continue;
            }
            settle(&question, from, |config| {
                let branches = base.laws.branches(&base.settings, config);
                let symbolic = Some(base.symbolic.clone());
                let solved = full::solve(size, zero, &base.laws.taps, &branches, symbolic, Some(&base.volts));
                let watched = base.laws.watched.iter().map(|&id| base.laws.taps[id].volts(&solved.volts)).collect();
                let plain = solved.converged && config.apart.is_empty() && !config.high;
                let new = way.iter().chain([base]).all(|known| apart(&known.config, config) > 0);
                if plain && new && way.len() < PASSED {
                    let (laws, settings) = (base.laws.clone(), base.settings.clone());
                    way.push(Base::new(laws, settings, base.from.clone(), config.clone(), solved));
                }
                Found { watched, ..Found::default() }
            });
        }
        // Relays act one after the other: places evenly apart are never far from any that it passes.
        let every = way.len().div_ceil(MOST).max(1);
        let mut at = 0;
        way.retain(|_| {
            at += 1;
            (at - 1) % every == 0
        });
        way
    }
}

/// How many coils and fuses stand otherwise.
fn apart(one: &Config, other: &Config) -> usize {
    differ(&one.pulled, &other.pulled) + differ(&one.blown, &other.blown)
}

/// How many are in one of two ascending lists only.
fn differ(one: &[ElementId], other: &[ElementId]) -> usize {
    let (mut at, mut shared) = (0, 0);
    for id in one {
        while at < other.len() && other[at] < *id {
            at += 1;
        }
        shared += usize::from(other.get(at) == Some(id));
    }
    one.len() + other.len() - 2 * shared
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_otherwise_is_counted_once() {
        assert_eq!(differ(&[], &[]), 0);
        assert_eq!(differ(&[1, 4, 7], &[1, 4, 7]), 0);
        assert_eq!(differ(&[1, 4], &[2, 4, 9]), 3);
        assert_eq!(differ(&[5], &[1, 2, 3]), 4);
    }
}
