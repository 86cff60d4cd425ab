//! Suspects with which a coil or an interrupter stands so near to its threshold that it may act or not.
//!
//! A severity point that is near one stands for machines on both sides of it: it is solved as each of the machines
//! drawn ([`DRAWS`]) whose thresholds turn it, and they make a few ways to stand. All readings are of one machine, so
//! that they are weighed together in each way that it may stand through all of them ([`together`]): a relay that
//! dropped out once does so again.

use super::enumerate::Suspects;
use super::evidence::{Evidence, elsewhere};
use super::machine::Machine;
use super::posterior::Predicted;
use super::predict::{Sight, change_met, mean_met, sound_volts, volts_met, words_met};
use super::runs::{Runs, spared};
use super::suspect::What;
use crate::circuit::injury::Injury;
use crate::circuit::showing::Words;
use crate::circuit::sim::{DRAWS, Outcome, Solved, StateId};
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::rc::Rc;

/// So many times as bad a fault is to see what its severity does.
const MORE: f64 = 1.01;

/// What the machines drawn come to.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Ways<T> {
    /// Of each machine, which of `list`.
    of: [u8; DRAWS],
    list: Vec<T>,
}

/// How a point stands in a state.
#[derive(Clone, Debug)]
pub(super) struct Stand {
    /// What is wrong, with the draw of one machine that stands so.
    pub injury: Rc<Injury>,
    pub outcome: Rc<Outcome>,
}

/// Predictions of a reading, by point.
#[derive(Debug, Default)]
pub(super) struct Drawn {
    /// Points that have been looked at.
    asked: Vec<bool>,
    /// Those with which not all machines drawn stand as the one that was not.
    ways: HashMap<usize, Ways<Predicted>>,
}

impl Drawn {
    /// What a point predicts, if it stands in several ways.
    pub fn of(&self, point: usize) -> Option<&Ways<Predicted>> {
        if self.ways.is_empty() { None } else { self.ways.get(&point) }
    }
}

impl<T> Ways<T> {
    /// What each comes to, with the share of the machines.
    pub fn shares(&self) -> impl Iterator<Item = (f64, &T)> {
        let share = |at: usize| self.of.iter().filter(|of| usize::from(**of) == at).count() as f64 / DRAWS as f64;
        self.list.iter().enumerate().map(move |(at, what)| (share(at), what))
    }

    /// The same ways with something made of each.
    fn map<U>(&self, make: impl FnMut(&T) -> U) -> Ways<U> {
        Ways { of: self.of, list: self.list.iter().map(make).collect() }
    }

    pub(super) fn at(&self, draw: usize) -> &T {
        &self.list[usize::from(self.of[draw])]
    }
}

/// Draws that are in the same way in each of several, with how many there are.
fn classes(of: &[&[u8; DRAWS]]) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    for draw in 0..DRAWS {
        match out.iter_mut().find(|(first, _)| of.iter().all(|of| of[*first] == of[draw])) {
            Some((_, count)) => *count += 1,
            None => out.push((draw, 1)),
        }
    }
    out
}

/// A way through several readings: ln of its chance, one machine that stands so, and what each reading is predicted as
/// in it (`None`: as it is in the machine that was not drawn).
type Through<'a> = (f64, u8, Vec<Option<&'a Predicted>>);

/// The ways that a machine stands through several readings.
pub(super) fn together<'a>(readings: &[Option<&'a Ways<Predicted>>]) -> Vec<Through<'a>> {
    let of: Vec<&[u8; DRAWS]> = readings.iter().flatten().map(|ways| &ways.of).collect();
    let each = |draw: usize| readings.iter().map(|ways| ways.map(|ways| ways.at(draw))).collect();
    let through = |(draw, count)| ((count as f64 / DRAWS as f64).ln(), draw as u8, each(draw));
    classes(&of).into_iter().map(through).collect()
}

/// What parts show, by the ways that they may stand in, each with its chance.
pub(super) fn mixed(ways: impl Iterator<Item = (f64, Vec<Words>)>) -> Vec<Words> {
    let mut all: Vec<Words> = Vec::new();
    for (share, shown) in ways {
        all.resize(shown.len(), Words::new());
        for (sums, words) in all.iter_mut().zip(shown) {
            for (word, p) in words {
                match sums.iter_mut().find(|(known, _)| *known == word) {
                    Some((_, sum)) => *sum += share * p,
                    None => sums.push((word, share * p)),
                }
            }
        }
    }
    all
}

/// Contacts, fuses and interrupters stand the same in both.
pub(super) fn alike(one: &Outcome, other: &Outcome) -> bool {
    (&one.pulled, &one.blown, one.chatters, one.levels.len())
        == (&other.pulled, &other.blown, other.chatters, other.levels.len())
        && one.levels.iter().zip(&other.levels).all(|(a, b)| {
            (a.fast_closed, a.slow_closed, a.pulse_high, &a.pulled)
                == (b.fast_closed, b.slow_closed, b.pulse_high, &b.pulled)
        })
}

/// A number that two outcomes share if they are [`alike`], and seldom else.
fn mark(outcome: &Outcome) -> u64 {
    let mut hasher = DefaultHasher::new();
    (&outcome.pulled, &outcome.blown, outcome.chatters).hash(&mut hasher);
    for level in &outcome.levels {
        (level.fast_closed, level.slow_closed, level.pulse_high, &level.pulled).hash(&mut hasher);
    }
    hasher.finish()
}

impl Runs {
    /// The ways that a point may stand in a state; nothing if it stands in one way only, or has not been solved there.
    pub(super) fn ways(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        state: StateId,
        point: u32,
    ) -> Option<Rc<Ways<Stand>>> {
        let known = self.known(machine, suspects, state, point)?;
        if known.near.is_empty() {
            return None;
        }
        let acting = self.acting(point);
        let blown = self.blown(machine, suspects, point);
        let whole = self.sound(suspects, acting) || self.like(machine, suspects, (state, acting, blown)) == Some(None);
        let key = (state, if whole { u32::MAX } else { acting }, blown);
        if let Some(done) = self.drawn.get(&key) {
            return done.clone();
        }
        let injury = if whole { Rc::default() } else { self.injury_of(machine, suspects, point) };
        let drawn = |draw: u8| Rc::new(Injury { draw: Some(draw), ..(*injury).clone() });
        let solved = Solved::default();
        let run = |draw: u8| machine.sim.run_drawn(state, &spared(machine, state, drawn(draw)), &solved);
        // Where no current meets the suspect's own fault, contacts stand as they do without it.
        if let Some(base) = self.unmoved(machine, suspects, (state, acting, blown)) {
            let alone = self.outcome(machine, suspects, state, base);
            let ways = self.ways(machine, suspects, state, base).map(|without| {
                let stand = |at: usize| {
                    let draw = without.of.iter().position(|of| usize::from(*of) == at).unwrap_or(0) as u8;
                    let outcome =
                        if Rc::ptr_eq(&without.list[at].outcome, &alone) { known.clone() } else { Rc::new(run(draw)) };
                    Stand { injury: drawn(draw), outcome }
                };
                Rc::new(Ways { of: without.of, list: (0..without.list.len()).map(stand).collect() })
            });
            self.drawn.insert(key, ways.clone());
            return ways;
        }
        let mut ways = Ways { of: [u8::MAX; DRAWS], list: Vec::<Stand>::new() };
        let mut marks: Vec<u64> = Vec::new();
        let mut still: Option<u8> = None;
        for draw in 0..DRAWS as u8 {
            let outcome = if machine.sim.turns(&known, draw) {
                let outcome = run(draw);
                if alike(&outcome, &known) { known.clone() } else { Rc::new(outcome) }
            } else {
                known.clone()
            };
            let stays = Rc::ptr_eq(&outcome, &known);
            if let (Some(at), true) = (still, stays) {
                ways.of[usize::from(draw)] = at;
                continue;
            }
            let mark = mark(&outcome);
            let same = |(known, stand): (&u64, &Stand)| *known == mark && alike(&stand.outcome, &outcome);
            let at = marks.iter().zip(&ways.list).position(same).unwrap_or_else(|| {
                marks.push(mark);
                ways.list.push(Stand { injury: drawn(draw), outcome });
                ways.list.len() - 1
            });
            ways.of[usize::from(draw)] = at as u8;
            still = still.or(stays.then_some(at as u8));
        }
        let one = ways.list.len() == 1 && Rc::ptr_eq(&ways.list[0].outcome, &known);
        let found = (!one).then(|| Rc::new(ways));
        self.drawn.insert(key, found.clone());
        found
    }

    /// A point in a state as it stands in one machine drawn; in the one that was not drawn, if none is named.
    pub fn stand(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        state: StateId,
        point: u32,
        draw: Option<u8>,
    ) -> (Rc<Injury>, Rc<Outcome>) {
        let outcome = self.outcome(machine, suspects, state, point);
        let drawn = draw.and_then(|draw| Some((self.ways(machine, suspects, state, point)?, draw)));
        match drawn {
            Some((ways, draw)) => {
                let stand = ways.at(usize::from(draw));
                (stand.injury.clone(), stand.outcome.clone())
            }
            None => (self.injury_of(machine, suspects, point), outcome),
        }
    }
}

impl Evidence {
    /// Sees to it that it is known what a point predicts of an entry in each way that it may stand.
    pub(super) fn draw(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        point: usize,
    ) {
        if self.drawn.len() <= index {
            self.drawn.resize_with(index + 1, Drawn::default);
        }
        if self.drawn[index].asked.get(point) == Some(&true) {
            return;
        }
        runs.memory.go_to(self.entries[index].epoch);
        let states: Vec<StateId> = self.entries[index].sight.states().collect();
        // What changes nothing here stands as the sound machine does.
        let other = self.same_as(machine, suspects, runs, index, point);
        if other != point {
            self.draw(machine, suspects, runs, index, other);
        }
        let entry = &self.entries[index];
        let mut ways = match states[..] {
            _ if other != point => self.drawn[index].of(other).cloned(),
            [state] => self.in_one_state(machine, suspects, runs, (index, point), state),
            [before, after] => self.in_two_states(machine, suspects, runs, (index, point), [before, after]),
            _ => None,
        };
        if suspects.list[runs.points[point].suspect].what == What::NotInFile {
            ways = ways.map(|ways| ways.map(|predicted| elsewhere(entry, predicted.clone())));
        }
        let drawn = &mut self.drawn[index];
        drawn.asked.resize(runs.points.len().max(point + 1), false);
        drawn.asked[point] = true;
        if let Some(ways) = ways {
            drawn.ways.insert(point, ways);
        }
    }

    fn in_one_state(
        &self,
        machine: &Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        (index, point): (usize, usize),
        state: StateId,
    ) -> Option<Ways<Predicted>> {
        let ways = runs.ways(machine, suspects, state, point as u32)?;
        let entry = &self.entries[index];
        let sound = runs.touches(suspects, runs.acting(point as u32)).then(|| runs.healthy(machine, state));
        let sound = sound.and_then(|sound| sound_volts(machine, &sound, &entry.sight));
        let predict = |injury: &Injury, outcome: &Outcome| {
            let volts = volts_met(machine, outcome, &entry.sight, &entry.reading, sound.map(|sound| (sound, injury)));
            let predicted = volts.or_else(|| words_met(machine, outcome, injury, &entry.sight));
            predicted.unwrap_or(Predicted::Mass(1.0))
        };
        let number = matches!(entry.sight, Sight::Volts { .. });
        // (what stands for one severity alone does not scatter with it)
        let number = number && runs.points[point].smear > 0.0;
        let worse = if number { runs.worse(machine, suspects, point as u32, MORE) } else { None };
        let solved = Solved::default();
        Some(ways.map(|Stand { injury, outcome }| {
            let mut predicted = predict(injury, outcome);
            if let Predicted::Number { mean, severity, .. } = &mut predicted {
                // What its severity does while all contacts stand as they do.
                let there = worse.as_ref().and_then(|worse| {
                    let worse = Rc::new(Injury { draw: injury.draw, ..worse.clone() });
                    let there = machine.sim.run_drawn(state, &spared(machine, state, worse), &solved);
                    let alike = alike(&there, outcome);
                    if alike { mean_met(machine, &there, &entry.sight, &entry.reading) } else { None }
                });
                *severity = Some(there.map_or(0.0, |there| (there - *mean) / MORE.ln()));
            }
            predicted
        }))
    }

    fn in_two_states(
        &self,
        machine: &Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        (index, point): (usize, usize),
        states: [StateId; 2],
    ) -> Option<Ways<Predicted>> {
        let entry = &self.entries[index];
        let found = states.map(|state| runs.ways(machine, suspects, state, point as u32));
        let of: Vec<&[u8; DRAWS]> = found.iter().flatten().map(|ways| &ways.of).collect();
        if of.is_empty() {
            return None;
        }
        let own = runs.injury_of(machine, suspects, point as u32);
        let still = states.map(|state| runs.outcome(machine, suspects, state, point as u32));
        let mut out = Ways { of: [0; DRAWS], list: Vec::new() };
        for (first, _) in classes(&of) {
            let at = out.list.len() as u8;
            let same = |draw: &usize| of.iter().all(|of| of[*draw] == of[first]);
            (0..DRAWS).filter(same).for_each(|draw| out.of[draw] = at);
            let stand = found.each_ref().map(|ways| ways.as_ref().map(|ways| ways.at(first)));
            let injury = Injury { draw: Some(first as u8), ..(*own).clone() };
            let outcomes = [0, 1].map(|i: usize| stand[i].map_or(&*still[i], |stand| &*stand.outcome));
            let predicted = change_met(machine, outcomes, &injury, &entry.sight);
            out.list.push(predicted.unwrap_or(Predicted::Mass(1.0)));
        }
        Some(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A quarter of the machines in one way, and another half in another: four ways through both readings.
    #[test]
    fn machines_that_stand_alike_through_all_readings_are_one_way() {
        let mass = Predicted::Mass;
        let ways = |splits: fn(usize) -> bool, list: [f64; 2]| Ways {
            of: std::array::from_fn(|draw| u8::from(splits(draw))),
            list: list.map(mass).to_vec(),
        };
        let (one, other) = (ways(|draw| draw % 4 == 0, [0.1, 0.9]), ways(|draw| draw >= DRAWS / 2, [0.2, 0.8]));
        let all = together(&[Some(&one), None, Some(&other)]);
        assert_eq!(all.len(), 4);
        assert!((all.iter().map(|(ln, ..)| ln.exp()).sum::<f64>() - 1.0).abs() < 1e-12);
        let both = all.iter().find(|(.., each)| each[0] == Some(&mass(0.9)) && each[2] == Some(&mass(0.8))).unwrap();
        assert!((both.0.exp() - 0.125).abs() < 1e-12 && both.2[1].is_none());
        let shares: Vec<(f64, &Predicted)> = one.shares().collect();
        assert_eq!(shares, [(0.75, &mass(0.1)), (0.25, &mass(0.9))]);
    }
}
