//! First power: a lamp or a small fuse in the minus lead, one fuse of the machine after the other, and every circuit
//! behind it switched on once. What would light the lamp by itself is unplugged for so long, so that a short shows.

use super::Stage;
use super::facts::{Facts, Look};
use super::judge::band;
use super::plan::{Plan, all_off, answers, number};
use crate::circuit::test::{Bridge, BridgeWith, Instrument, Settings, Test};
use crate::diagnosis::machine::Machine;
use crate::pace::Work;

/// Settings read at one placement, that at rest among them, at most.
const READ: usize = 4;
/// Where a sound machine may read more than this share of the battery's volts, a short reads no more.
const TELLS: f64 = 0.9;

/// One battery with what stands in its minus lead.
struct Lead<'f> {
    facts: &'f Facts,
    battery: usize,
    lamp: bool,
    /// Volts over the lamp; or behind the fuse, where a blown one shows.
    test: Test,
}

/// The steps of it, for each battery; `lamp` in W, `None` for the small fuse.
pub fn steps(machine: &mut Machine, facts: &Facts, lamp: Option<f64>, plan: &mut Plan) {
    let stage = if lamp.is_some() { Stage::Lamp } else { Stage::Fuse };
    let with = lamp.map_or(BridgeWith::Fuse(machine.catalogue.powerup.limit("small-fuse")), BridgeWith::Lamp);
    for (index, battery) in facts.batteries.iter().enumerate() {
        let Some((first, others)) = battery.loose.split_first() else { continue };
        let mut bridge = vec![Bridge { a: battery.minus.clone(), b: first.clone(), with }];
        let join = |end: &String| Bridge { a: first.clone(), b: end.clone(), with: BridgeWith::Lead };
        bridge.extend(others.iter().map(join));
        let (red, black) = if lamp.is_some() { (first, &battery.minus) } else { (&battery.plus, first) };
        let test = Test {
            red: Some(red.clone()),
            black: Some(black.clone()),
            open: all_off(facts),
            bridge,
            ..Test::new(Instrument::VoltsDc, &Settings::new())
        };
        let mut lead = Lead { facts, battery: index, lamp: lamp.is_some(), test };
        lead.unplug(machine);
        for put in 0..=facts.fuses.len() {
            let mut test = lead.test.clone();
            test.open.extend(facts.fuses[put..].iter().cloned());
            let fuse = put.checked_sub(1).map(|last| facts.fuses[last].as_str());
            let head = match fuse {
                None if facts.fuses.is_empty() => format!("{} on", battery.part),
                None => format!("{} on, no fuse in", battery.part),
                Some(fuse) => format!("{fuse} in"),
            };
            let sets = lead.worth_reading(machine, &test, fuse);
            // At rest first: what shows there needs no switch.
            let mut chunks: Vec<Vec<Settings>> = sets.chunks(READ - 1).map(<[Settings]>::to_vec).collect();
            if chunks.is_empty() {
                chunks.push(Vec::new());
            }
            for (at, then) in chunks.into_iter().enumerate() {
                let head = if at == 0 { head.clone() } else { format!("{head}, more of its circuits") };
                plan.push(machine, stage, head, Test { then, ..test.clone() });
            }
        }
    }
}

impl Lead<'_> {
    /// Amps that the battery gives in a state.
    fn gives(&self, look: &Look) -> f64 {
        look.amps.get(self.battery).copied().unwrap_or(0.0)
    }

    /// Does a short tell itself from this state by the lamp, or by the fuse?
    fn tells(&self, machine: &mut Machine, test: &Test, set: &Settings) -> bool {
        let rules = &machine.catalogue.powerup;
        let (tell_apart, beside) = (rules.limit("tell-apart"), rules.limit("beside"));
        let full = self.facts.batteries[self.battery].volts;
        let answers = answers(machine, &Test { set: set.clone(), ..test.clone() });
        let Some(volts) = number(answers.first()) else { return false };
        let (least, most) =
            answers.first().and_then(|answer| band(answer, Instrument::VoltsDc, beside)).unwrap_or((volts, volts));
        if self.lamp { volts <= tell_apart * full && most <= TELLS * full } else { least > 0.5 * full }
    }

    /// Takes out what alone would light the lamp or blow the fuse, dearest first.
    fn unplug(&mut self, machine: &mut Machine) {
        let small = machine.catalogue.powerup.limit("small-fuse");
        let facts = self.facts;
        machine.pace.begin(Work::Steps, facts.stopped.len());
        for look in &facts.stopped {
            machine.pace.step();
            if self.gives(look) <= facts.nothing {
                continue;
            }
            let mut loads: Vec<_> = look.loads.values().collect();
            loads.sort_by(|a, b| b.amps.total_cmp(&a.amps));
            let mut left = self.gives(look);
            for load in loads {
                let blows = !self.lamp && left >= small;
                if !blows && self.tells(machine, &self.test, &look.set) {
                    break;
                }
                if !self.test.open.contains(&load.part) {
                    self.test.open.push(load.part.clone());
                }
                left -= load.amps;
            }
        }
    }

    /// Settings in which the circuits behind a fuse are on and a short in them would show.
    fn worth_reading(&self, machine: &mut Machine, test: &Test, fuse: Option<&str>) -> Vec<Settings> {
        // Each part behind it once; where none is, what is on most of the time.
        let mut sets: Vec<Settings> = Vec::new();
        let mut known: Vec<&str> = Vec::new();
        for look in self.facts.stopped.iter().filter(|look| self.gives(look) > self.facts.nothing) {
            let behind = look.behind.iter().filter(|(_, last)| fuse == Some(last.as_str()));
            let new: Vec<&str> = behind.map(|(part, _)| part.as_str()).filter(|part| !known.contains(part)).collect();
            if !new.is_empty() {
                sets.push(look.set.clone());
                known.extend(new);
            }
        }
        if sets.is_empty() {
            sets.push(self.facts.on(self.battery));
        }
        // What stands at rest is read anyway.
        sets.retain(|set| !set.is_empty());
        sets.retain(|set| self.tells(machine, test, set));
        sets
    }
}
