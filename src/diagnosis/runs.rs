//! Outcomes of severity points in states, each computed once.

use super::backdrop::Backdrop;
use super::enumerate::Suspects;
use super::machine::Machine;
use super::memory::{Blown, Happened, Memory};
use super::predict::words;
use super::suspect::{GAUSS, Point};
use super::threshold::{Stand, Ways, alike, mixed};
use super::workers::by_workers;
use crate::circuit::injury::{Change, Injury, injure_canonical};
use crate::circuit::schematic::ElementId;
use crate::circuit::showing::Words;
use crate::circuit::sim::{Display, Outcome, StateId};
use std::collections::{HashMap, HashSet};
use std::rc::Rc;

/// A state, a severity point, the fuses that it finds blown there.
pub(super) type Key = (StateId, u32, Blown);

/// A way that a point stands in: its chance, what is wrong, what came of it.
type Way<'a> = (f64, &'a Injury, &'a Outcome);

/// A state with a point to be looked at.
type Look = (Key, Rc<Outcome>, Rc<Injury>, Option<Rc<Ways<Stand>>>);

/// Outcomes of severity points, kept by state.
#[derive(Debug, Default)]
pub struct Runs {
    /// Severity points of all suspects: alone, then once more before each further backdrop, in the same order.
    pub points: Vec<Point>,
    /// First point of each suspect, and one past the last, among those of the suspects alone.
    pub range: Vec<(usize, usize)>,
    /// What may be wrong besides, see [`Backdrop`]; the first is nothing.
    pub(super) backdrops: Vec<Backdrop>,
    /// What has happened to the machine, and the fuses that it left blown.
    pub memory: Memory,
    injuries: HashMap<(u32, Blown), Option<Rc<Injury>>>,
    pub(super) outcomes: HashMap<Key, Rc<Outcome>>,
    healthy: HashMap<StateId, Rc<Outcome>>,
    /// Circuits as instruments make them that drive a current, by the instrument's number.
    pub(super) driven: HashMap<(usize, u32, Blown), Rc<Vec<Outcome>>>,
    pub(super) quiet: HashMap<(Option<Key>, StateId, usize), bool>,
    displays: HashMap<Key, Rc<Display>>,
    words: HashMap<Key, Rc<Vec<Words>>>,
    /// Points near a threshold, with all thresholds drawn; the whole machine under the last number there is.
    pub(super) drawn: HashMap<Key, Option<Rc<Ways<Stand>>>>,
}

impl Runs {
    /// No outcome yet.
    pub fn new(suspects: &Suspects) -> Self {
        Runs::by(suspects, &GAUSS)
    }

    /// The same with so many severity points a cell as the rule has.
    pub fn by(suspects: &Suspects, rule: &[(f64, f64)]) -> Self {
        let mut points = Vec::new();
        let mut range = Vec::new();
        for (index, suspect) in suspects.list.iter().enumerate() {
            let first = points.len();
            points.extend(suspect.points_by(index, rule));
            range.push((first, points.len()));
        }
        Runs { points, range, backdrops: vec![Backdrop::default()], ..Runs::default() }
    }

    /// The healthy machine in a state.
    pub fn healthy(&mut self, machine: &Machine, state: StateId) -> Rc<Outcome> {
        self.healthy.entry(state).or_insert_with(|| Rc::new(machine.sim.run(state, &Injury::default()))).clone()
    }

    /// A point in a state; the special suspects are as the healthy machine, or as what else is wrong with it.
    pub fn outcome(&mut self, machine: &Machine, suspects: &Suspects, state: StateId, point: u32) -> Rc<Outcome> {
        let acting = self.acting(point);
        if self.sound(suspects, acting) {
            return self.healthy(machine, state);
        }
        let blown = self.blown(machine, suspects, point);
        self.outcome_with(machine, suspects, state, acting, blown)
    }

    /// The point that does the same in this state and is solved first: how long fuses hold makes no difference where
    /// none is near to opening.
    pub fn stand_in(&mut self, machine: &Machine, suspects: &Suspects, state: StateId, point: u32) -> u32 {
        let point = self.now(machine, suspects, point);
        let mated = self.as_mated(machine, suspects, state, point);
        let same = mated == point || self.blown(machine, suspects, point) == self.blown(machine, suspects, mated);
        let point = if same { mated } else { point };
        let at = self.points[point as usize];
        let first = self.span(point as usize).0 as u32;
        if at.patience == 0.0 || self.points[first as usize].patience != 0.0 {
            return point;
        }
        let blown = self.blown(machine, suspects, point);
        let acting = self.acting(first);
        let same = blown == self.blown(machine, suspects, first)
            && !self.outcome_with(machine, suspects, state, acting, blown).close;
        if same { first } else { point }
    }

    /// The same as far as it has been solved.
    pub(super) fn known(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        state: StateId,
        point: u32,
    ) -> Option<Rc<Outcome>> {
        let acting = self.acting(point);
        if self.sound(suspects, acting) {
            return Some(self.healthy(machine, state));
        }
        let acting = self.as_mated(machine, suspects, state, acting);
        let blown = self.blown(machine, suspects, point);
        if let Some(like) = self.like(machine, suspects, (state, acting, blown)) {
            return Some(self.outcome_of(machine, suspects, state, like, blown));
        }
        let first = self.span(acting as usize).0 as u32;
        let at = |point| self.outcomes.get(&(state, point, blown)).cloned();
        at(acting).or_else(|| {
            let lasting = self.points[acting as usize].patience != 0.0;
            at(first).filter(|outcome| acting != first && !outcome.close && lasting)
        })
    }

    /// The outcome of a point, the healthy machine's if there is none.
    fn outcome_of(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        state: StateId,
        point: Option<u32>,
        blown: Blown,
    ) -> Rc<Outcome> {
        match point {
            Some(point) => self.outcome_with(machine, suspects, state, point, blown),
            None => self.healthy(machine, state),
        }
    }

    /// A point as it acts, in a state, with these fuses blown before.
    pub(super) fn outcome_with(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        state: StateId,
        point: u32,
        blown: Blown,
    ) -> Rc<Outcome> {
        let point = self.as_mated(machine, suspects, state, point);
        if let Some(outcome) = self.outcomes.get(&(state, point, blown)) {
            return outcome.clone();
        }
        let at = self.points[point as usize];
        let first = self.span(point as usize).0 as u32;
        if at.patience != 0.0 && self.points[first as usize].patience == 0.0 {
            let outcome = self.outcome_with(machine, suspects, state, first, blown);
            if !outcome.close {
                return outcome;
            }
        }
        let outcome = if let Some(like) = self.like(machine, suspects, (state, point, blown)) {
            self.outcome_of(machine, suspects, state, like, blown)
        } else {
            match self.injury(machine, suspects, point, blown).map(|injury| spared(machine, state, injury)) {
                Some(injury) => {
                    let healthy = self.healthy(machine, state);
                    if machine.sim.unseen(&healthy, &injury) {
                        healthy
                    } else {
                        Rc::new(machine.sim.run(state, &injury))
                    }
                }
                None => self.healthy(machine, state),
            }
        };
        self.outcomes.insert((state, point, blown), outcome.clone());
        outcome
    }

    /// Outcomes of these points in their states, as far as they are not known, solved by several workers.
    pub fn ahead(&mut self, machine: &Machine, suspects: &Suspects, wanted: &[(StateId, u32)]) {
        let own = |point: u32| self.points[point as usize].patience == 0.0 && !self.sound(suspects, self.acting(point));
        let wanted: Vec<(StateId, u32)> = wanted.iter().copied().filter(|&(_, point)| own(point)).collect();
        // Which fuses a point finds blown hangs on where it stood before.
        let mut earlier: Vec<Key> = Vec::new();
        let mut last = None;
        for &(_, point) in &wanted {
            if !self.blows(suspects, point) || last == Some(point) {
                continue;
            }
            last = Some(point);
            self.begin(machine, suspects, point);
            if let (before, [Happened::Stood(state), ..]) = self.memory.known(point) {
                earlier.push((*state, self.acting_at(point, self.memory.taken(point)), before));
            }
        }
        self.solve(machine, suspects, &earlier);
        let key = |&(state, point): &(StateId, u32)| {
            let blown = self.blown(machine, suspects, point);
            (state, self.acting(point), blown)
        };
        let keys: Vec<Key> = wanted.iter().map(key).collect();
        self.solve(machine, suspects, &keys);
    }

    /// As far as they are not known, by several workers.
    fn solve(&mut self, machine: &Machine, suspects: &Suspects, keys: &[Key]) {
        let mut jobs: Vec<(Key, Rc<Injury>, Rc<Outcome>)> = Vec::new();
        let mut known: HashSet<Key> = HashSet::new();
        for &(state, point, blown) in keys {
            let point = self.as_mated(machine, suspects, state, point);
            let key = &(state, point, blown);
            if !self.outcomes.contains_key(key)
                && known.insert(*key)
                && self.like(machine, suspects, *key).is_none()
                && let Some(injury) = self.injury(machine, suspects, point, blown)
            {
                jobs.push((*key, spared(machine, state, injury), self.healthy(machine, state)));
            }
        }
        let work: Vec<(StateId, &Injury, &Outcome)> =
            jobs.iter().map(|((state, ..), injury, healthy)| (*state, &**injury, &**healthy)).collect();
        // None where the healthy machine's outcome is the point's too.
        let one = |&(state, injury, healthy): &(StateId, &Injury, &Outcome)| {
            machine.pace.step();
            (!machine.sim.unseen(healthy, injury)).then(|| machine.sim.run(state, injury))
        };
        for ((key, _, healthy), found) in jobs.iter().zip(by_workers(&work, one)) {
            if let Some(outcome) = found {
                self.outcomes.insert(*key, outcome.map_or_else(|| healthy.clone(), Rc::new));
            }
        }
    }

    /// The same, and what a meter and the eye get of them: see [`Runs::display`] and [`Runs::words`].
    pub fn look_ahead(&mut self, machine: &Machine, suspects: &Suspects, wanted: &[(StateId, u32)], parts: &[String]) {
        self.ahead(machine, suspects, wanted);
        let mut jobs: Vec<Look> = Vec::new();
        let mut known: HashSet<Key> = HashSet::new();
        for &(state, point) in wanted {
            let point = self.stand_in(machine, suspects, state, point);
            let key = (state, point, self.blown(machine, suspects, point));
            if !(self.displays.contains_key(&key) && self.words.contains_key(&key)) && known.insert(key) {
                let outcome = self.outcome(machine, suspects, state, point);
                let ways = self.ways(machine, suspects, state, point);
                jobs.push((key, outcome, self.injury_of(machine, suspects, point), ways));
            }
        }
        let work: Vec<(StateId, &Outcome, Vec<Way>)> = jobs
            .iter()
            .map(|((state, ..), outcome, injury, ways)| {
                (*state, &**outcome, all_ways(injury, outcome, ways.as_deref()))
            })
            .collect();
        let look = |(state, outcome, ways): &(StateId, &Outcome, Vec<Way>)| {
            machine.pace.step();
            (machine.sim.display(outcome), shows(machine, *state, ways, parts))
        };
        for ((key, ..), found) in jobs.iter().zip(by_workers(&work, look)) {
            if let Some((display, words)) = found {
                self.displays.insert(*key, Rc::new(display));
                self.words.insert(*key, Rc::new(words));
            }
        }
    }

    /// Forgets the circuits of several faults at once but of those that are wanted: there are very many.
    pub(super) fn forget(&mut self, wanted: impl Fn(u32) -> bool) {
        let alone = self.alone() as u32;
        let stays = |point: u32| point < alone || wanted(point);
        self.outcomes.retain(|(_, point, _), _| stays(*point));
        self.injuries.retain(|(point, _), _| stays(*point));
        self.displays.retain(|(_, point, _), _| stays(*point));
        self.words.retain(|(_, point, _), _| stays(*point));
        self.drawn.retain(|(_, point, _), _| *point == u32::MAX || stays(*point));
        self.quiet.retain(|(key, ..), _| key.is_none_or(|(_, point, _)| stays(point)));
        self.driven.retain(|(_, point, _), _| stays(*point));
    }

    /// Contacts, fuses and interrupters stand the same with both points in a state, and none of them is near its threshold.
    pub fn one_way(&mut self, machine: &Machine, suspects: &Suspects, state: StateId, points: [usize; 2]) -> bool {
        let [one, other] = points.map(|point| self.outcome(machine, suspects, state, point as u32));
        one.near.is_empty() && other.near.is_empty() && alike(&one, &other)
    }

    /// What a DC meter shows between any nodes with a point in a state.
    pub fn display(&mut self, machine: &Machine, suspects: &Suspects, state: StateId, point: u32) -> Rc<Display> {
        let point = self.stand_in(machine, suspects, state, point);
        let blown = self.blown(machine, suspects, point);
        if let Some(known) = self.displays.get(&(state, point, blown)) {
            return known.clone();
        }
        let outcome = self.outcome(machine, suspects, state, point);
        let display = Rc::new(machine.sim.display(&outcome));
        self.displays.insert((state, point, blown), display.clone());
        display
    }

    /// What each of these parts shows with a point in a state. `parts` is the same list at every call.
    pub fn words(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        state: StateId,
        point: u32,
        parts: &[String],
    ) -> Rc<Vec<Words>> {
        let point = self.stand_in(machine, suspects, state, point);
        let blown = self.blown(machine, suspects, point);
        if let Some(known) = self.words.get(&(state, point, blown)) {
            return known.clone();
        }
        let outcome = self.outcome(machine, suspects, state, point);
        let injury = self.injury_of(machine, suspects, point);
        let ways = self.ways(machine, suspects, state, point);
        let words = Rc::new(shows(machine, state, &all_ways(&injury, &outcome, ways.as_deref()), parts));
        self.words.insert((state, point, blown), words.clone());
        words
    }

    /// What a point does to the circuit; nothing for the special suspects.
    pub fn injury_of(&mut self, machine: &Machine, suspects: &Suspects, point: u32) -> Rc<Injury> {
        let acting = self.acting(point);
        if self.sound(suspects, acting) {
            return Rc::default();
        }
        let blown = self.blown(machine, suspects, point);
        self.injury(machine, suspects, acting, blown).unwrap_or_default()
    }

    /// Fuses that a point has blown by now, those that it names itself with them: a new fuse in their place is whole.
    pub fn blown(&mut self, machine: &Machine, suspects: &Suspects, point: u32) -> Blown {
        if !self.blows(suspects, point) {
            return 0;
        }
        self.begin(machine, suspects, point);
        loop {
            let (before, left) = self.memory.known(point);
            let Some(happened) = left.first().cloned() else { return before };
            let after = match happened {
                Happened::Stood(state) => {
                    let acting = self.acting_at(point, self.memory.taken(point));
                    self.outcome_with(machine, suspects, state, acting, before).blown.clone()
                }
                Happened::Renewed(fuses) => {
                    self.memory.fuses(before).iter().copied().filter(|fuse| !fuses.contains(fuse)).collect()
                }
                Happened::Mended => self.memory.fuses(before).to_vec(),
            };
            let after = self.memory.number(after);
            self.memory.learn(point, after);
        }
    }

    /// Sees to it that the memory knows what a point has blown by itself; its injury is kept without that.
    fn begin(&mut self, machine: &Machine, suspects: &Suspects, point: u32) {
        if !self.memory.begun(point) {
            let named = self.named(machine, suspects, point);
            let named = self.memory.number(named);
            self.memory.begin(point, named);
        }
    }

    fn injury(&mut self, machine: &Machine, suspects: &Suspects, point: u32, blown: Blown) -> Option<Rc<Injury>> {
        if let Some(known) = self.injuries.get(&(point, blown)) {
            return known.clone();
        }
        if blown != 0 {
            let injury = self.injury(machine, suspects, point, 0).map(|injury| {
                let mut with = (*injury).clone();
                with.blown.extend(self.memory.fuses(blown).iter());
                Rc::new(with)
            });
            self.injuries.insert((point, blown), injury.clone());
            return injury;
        }
        let injury = self.whole(machine, suspects, point).map(|injury| Rc::new(Injury { blown: Vec::new(), ..injury }));
        self.injuries.insert((point, 0), injury.clone());
        injury
    }

    /// What a point would do to the circuit if it were so many times as bad, its fuses as they are.
    pub(super) fn worse(&mut self, machine: &Machine, suspects: &Suspects, point: u32, times: f64) -> Option<Injury> {
        let severity = self.points[point as usize].severity?;
        let blown = self.injury_of(machine, suspects, point).blown.clone();
        Some(Injury { blown, ..self.whole_at(machine, suspects, self.acting(point), Some(severity * times))? })
    }

    /// All that a point does to a circuit in which nothing has been renewed.
    fn whole(&self, machine: &Machine, suspects: &Suspects, point: u32) -> Option<Injury> {
        self.whole_at(machine, suspects, point, self.points[point as usize].severity)
    }

    /// The same with another severity.
    fn whole_at(&self, machine: &Machine, suspects: &Suspects, point: u32, severity: Option<f64>) -> Option<Injury> {
        let fault = self.fault_at(suspects, point, severity);
        injure_canonical(machine.sim.schematic(), &machine.netlist, &machine.catalogue, &fault, &[])
            .ok()
            .map(|injury| Injury { patience: self.patience(point), ..injury })
    }

    /// Fuses that a point names as blown.
    fn named(&self, machine: &Machine, suspects: &Suspects, point: u32) -> Vec<ElementId> {
        let mut named = self.whole(machine, suspects, point).map_or_else(Vec::new, |injury| injury.blown);
        named.sort_unstable();
        named.dedup();
        named
    }
}

/// An injury in a state: what is out of the machine there, or known to be good, it leaves alone.
pub(super) fn spared(machine: &Machine, state: StateId, injury: Rc<Injury>) -> Rc<Injury> {
    let held: Vec<ElementId> = machine.held(state).collect();
    let hurts = |change: &Change| matches!(change, Change::Law(id, _) | Change::Reverse(id) if held.contains(id));
    let whole = |fuse: &ElementId| held.contains(fuse);
    if held.is_empty() || !(injury.changes.iter().any(hurts) || injury.blown.iter().any(whole)) {
        return injury;
    }
    let mut left = (*injury).clone();
    left.changes.retain(|change| !hurts(change));
    left.blown.retain(|fuse| !whole(fuse));
    Rc::new(left)
}

/// The ways that a point stands in, each with its chance: one, if it is near no threshold.
fn all_ways<'a>(injury: &'a Injury, outcome: &'a Outcome, ways: Option<&'a Ways<Stand>>) -> Vec<Way<'a>> {
    let all = |ways: &'a Ways<Stand>| ways.shares().map(|(share, stand)| (share, &*stand.injury, &*stand.outcome));
    ways.map_or_else(|| vec![(1.0, injury, outcome)], |ways| all(ways).collect())
}

/// What each of these parts shows, by the ways that a point stands in.
fn shows(machine: &Machine, state: StateId, ways: &[Way], parts: &[String]) -> Vec<Words> {
    let of = |injury, outcome| parts.iter().map(|part| words(machine, state, injury, outcome, part)).collect();
    match ways {
        [(_, injury, outcome)] => of(injury, outcome),
        ways => mixed(ways.iter().map(|(mass, injury, outcome)| (*mass, of(injury, outcome)))),
    }
}
