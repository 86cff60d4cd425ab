//! What a hand says of wires, plugs, contacts under a suspect.
//!
//! Where along one segment a joint is bad, or two nets touch, is one circuit and one repair, and is solved once for volts;
//! but it is that place that gets hot. So each member of a suspect is solved by itself here, and its word counts by its
//! share.

use super::enumerate::Suspects;
use super::machine::Machine;
use super::posterior::Predicted;
use super::runs::{Runs, spared};
use super::suspect::Member;
use crate::circuit::heat::{self, Touched};
use crate::circuit::injury::{Injury, injure_canonical};
use crate::circuit::showing::{View, Words};
use crate::circuit::sim::{Outcome, StateId};
use std::rc::Rc;

/// Members that are solved; the rest share what these say.
const MEMBERS: usize = 8;
/// Chance that a hand's word is the next on the scale, and any other: air, skin, and how long it was on differ (common
/// practice, no source).
const NEXT_WORD: f64 = 0.12;
const OTHER_WORD: f64 = 0.004;

/// Probability of the words that fit, people's hands included.
pub(super) fn mass(words: &Words, fit: &[String]) -> Predicted {
    let at = |word: &str| heat::WORDS.iter().position(|known| *known == word);
    let said = |word: &String, shown: &str| match (at(word), at(shown)) {
        (Some(a), Some(b)) if a == b => 1.0 - NEXT_WORD,
        (Some(a), Some(b)) if a.abs_diff(b) == 1 => NEXT_WORD,
        _ => OTHER_WORD,
    };
    let heard = |shown: &str| fit.iter().map(|word| said(word, shown)).sum::<f64>().min(1.0);
    Predicted::Mass(words.iter().map(|(shown, p)| p * heard(shown)).sum::<f64>().clamp(1e-6, 1.0))
}

impl Runs {
    /// What a hand says of a part, plug, wire or place in a state, as a point has it; nothing if there is none of that
    /// name.
    pub fn felt(&mut self, machine: &Machine, suspects: &Suspects, state: StateId, point: u32, thing: &str) -> Words {
        let Ok(on) = Touched::find(&machine.netlist, thing) else { return Words::new() };
        let acting = self.acting(point);
        let suspect = &suspects.list[self.points[acting as usize].suspect];
        let hand = |injury: &Injury, outcome: &Outcome| -> Words {
            machine.view(state, injury, outcome).map(|view: View<'_>| view.touched(&on)).unwrap_or_default()
        };
        let outcome = self.outcome(machine, suspects, state, point);
        let injury = self.injury_of(machine, suspects, point);
        if suspect.special() || suspect.members.len() < 2 {
            return hand(&injury, &outcome);
        }
        let mut members: Vec<&Member> = suspect.members.iter().collect();
        members.sort_by(|a, b| b.share.total_cmp(&a.share));
        members.truncate(MEMBERS);
        let all: f64 = members.iter().map(|member| member.share).sum();
        let fault = self.fault_at(suspects, acting, self.points[acting as usize].severity);
        let count = members[0].fault.singles.len();
        let mut out = Words::new();
        for member in members {
            let mut own = fault.clone();
            let args = fault.singles.first().map(|single| single.args.clone()).unwrap_or_default();
            own.singles.splice(..count.min(fault.singles.len()), member.fault.singles.iter().cloned());
            if let Some(single) = own.singles.first_mut() {
                single.args = args;
            }
            let made = injure_canonical(machine.sim.schematic(), &machine.netlist, &machine.catalogue, &own, &[]);
            let Ok(made) = made else { continue };
            let made = Injury { blown: injury.blown.clone(), patience: injury.patience, draw: injury.draw, ..made };
            let made = spared(machine, state, Rc::new(made));
            let words = hand(&made, &machine.sim.run(state, &made));
            for (word, p) in words {
                match out.iter_mut().find(|(known, _)| *known == word) {
                    Some((_, sum)) => *sum += p * member.share / all.max(1e-12),
                    None => out.push((word, p * member.share / all.max(1e-12))),
                }
            }
        }
        out
    }
}
