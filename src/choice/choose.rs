//! The best test per minute, computed on a digest of the suspects.

use super::allowed::refusal;
use super::candidates::{Probes, neighbours, probes, states, volts, watch};
use super::columns::{Columns, between};
use super::minutes::{Stand, cost, minutes};
use super::score::{Column, Scorer, Weight, both, undecided};
use crate::circuit::schematic::Law;
use crate::circuit::showing::Words;
use crate::circuit::sim::Display;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::enumerate::Suspects;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::predict;
use crate::diagnosis::runs::Runs;
use indexmap::IndexMap;
use std::collections::HashMap;
use std::rc::Rc;

/// Suspects' points that the choice looks at hold this share of the mass…
const DIGEST_MASS: f64 = 0.995;
/// …and are at most so many.
const DIGEST: usize = 100;
/// States looked at, at most.
const STATES: usize = 12;
/// Of the tests in one state that are best, so many are tried in two.
const FINALISTS: usize = 16;

/// More than this over a healthy joint or contact means that it is open in this state: no place for a drop test, V.
pub(super) const DROP: f64 = 1.0;
/// A starter takes more than this, anything else less, A (60 to 120 A on small machines, from memory).
const HEAVY: f64 = 25.0;
/// What a look at a part is worth that has been looked at in another state, beside a fresh one.
const AGAIN: f64 = 0.5;
/// What every question costs beside its minutes: reading it, doing it, typing the answer, min.
const ATTENTION: f64 = 1.5;

/// Everything the choice looks at.
pub struct Board<'a> {
    /// The machine (states are factored on the way).
    pub machine: &'a mut Machine,
    /// Its suspects.
    pub suspects: &'a Suspects,
    /// Outcomes so far.
    pub runs: &'a mut Runs,
    /// Probability of each severity point.
    pub p: &'a [f64],
    /// Settings of the complaints, active ones first.
    pub complaints: &'a [Settings],
    /// Parts complained of.
    pub parts: &'a [String],
    /// Where the person stands.
    pub stand: &'a Stand,
    /// Tests not to be asked (again).
    pub done: &'a [Test],
    /// Placements and looks that the person could not do: not asked again in any state.
    pub skipped: &'a [Test],
}

/// A test with what it is worth.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The test.
    pub test: Test,
    /// Minutes from where the person stands.
    pub minutes: f64,
    /// Expected information about repair classes, as a share of what is undecided.
    pub gain: f64,
}

/// A digest point. "Not in this file" reads here as the healthy machine: that it could read anything else as well
/// makes every reading look telling, and none is.
struct Live {
    point: u32,
    weight: Weight,
}

fn digest(board: &Board) -> (Vec<Live>, usize) {
    let mut order: Vec<u32> = (0..board.p.len() as u32).filter(|&i| board.p[i as usize] > 1e-7).collect();
    order.sort_by(|&a, &b| board.p[b as usize].total_cmp(&board.p[a as usize]));
    let mut classes: IndexMap<&str, u32> = IndexMap::new();
    let mut live = Vec::new();
    let mut mass = 0.0;
    for point in order {
        if mass >= DIGEST_MASS || live.len() >= DIGEST {
            break;
        }
        let suspect = &board.suspects.list[board.runs.points[point as usize].suspect];
        let next = classes.len() as u32;
        let class = *classes.entry(suspect.class.as_str()).or_insert(next);
        let p = board.p[point as usize];
        mass += p;
        live.push(Live { point, weight: Weight { p, class } });
    }
    for l in &mut live {
        l.weight.p /= mass.max(1e-300);
    }
    (live, classes.len())
}

/// What the digest's points do in one state.
struct Look {
    set: Settings,
    displays: Vec<Rc<Display>>,
    shown: Vec<Rc<Vec<Words>>>,
}

/// Where one looks: the same in every state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Spot {
    /// Index of a placement of the volt meter.
    Probes(usize),
    /// Index of a part that can be watched.
    Part(usize),
}

/// Everything that stays the same while one question is chosen.
struct Search<'a, 'b> {
    board: &'a mut Board<'b>,
    placements: Vec<Probes>,
    watchable: Vec<String>,
    looks: Vec<Look>,
    columns: Columns,
    scorer: Scorer,
    /// Volts that were read already, one digest point each.
    read: Vec<Vec<f64>>,
    /// Gains beside what was read, by column.
    beside: HashMap<Column, f64>,
}

/// The tests most worth their minutes, best first; empty when no allowed test would tell anything.
pub fn choose(board: &mut Board, most: usize) -> Vec<Choice> {
    let (live, classes) = digest(board);
    if live.is_empty() || classes < 2 {
        return Vec::new();
    }
    let weights: Vec<Weight> = live.iter().map(|l| l.weight).collect();
    let all = undecided(&weights, classes).max(1e-300);
    let mut search = Search {
        placements: probes(board.machine),
        watchable: watchable(board.machine),
        looks: Vec::new(),
        columns: Columns::default(),
        scorer: Scorer::new(&weights, classes),
        read: Vec::new(),
        beside: HashMap::new(),
        board,
    };
    search.look_back(&live);
    let found = search.in_one_state(&live);
    let mut out: Vec<(f64, Choice)> = Vec::new();
    for (spot, look, choice) in search.finalists(found, most.max(FINALISTS)) {
        let choice = search.in_two_states(spot, look, choice);
        out.push((worth(&choice), choice));
    }
    out.sort_by(|a, b| b.0.total_cmp(&a.0));
    let share = |(_, choice): (f64, Choice)| Choice { gain: choice.gain / all, ..choice };
    out.into_iter().map(share).take(most).collect()
}

/// Nothing unplugged, lifted, bridged or put in another's place, no earlier step.
fn as_it_stands(test: &Test) -> bool {
    test.open.is_empty() && test.bridge.is_empty() && test.fit.is_empty() && test.after.is_empty()
}

/// Information a minute.
fn worth(choice: &Choice) -> f64 {
    choice.gain / (choice.minutes + ATTENTION)
}

impl Search<'_, '_> {
    /// Gains of every spot in every state, one state each; those that tell nothing left out.
    fn in_one_state(&mut self, live: &[Live]) -> Vec<(f64, Spot, usize)> {
        let controls = self.board.machine.sim.schematic().controls.clone();
        let complained: Vec<Settings> = self.board.complaints.to_vec();
        let cranking = complained.iter().any(|set| heavy(self.board, set));
        let mut found = Vec::new();
        for set in states(&controls, &complained).into_iter().take(STATES) {
            let Ok(state) = predict::state(self.board.machine, &set) else { continue };
            if !cranking && heavy(self.board, &set) {
                continue;
            }
            let Board { machine, suspects, runs, .. } = &mut *self.board;
            let displays = live.iter().map(|l| runs.display(machine, suspects, state, l.point)).collect();
            let shown = live.iter().map(|l| runs.words(machine, suspects, state, l.point, &self.watchable)).collect();
            let well = machine.sim.display(&runs.healthy(machine, state));
            let at = self.looks.len();
            self.looks.push(Look { set, displays, shown });
            // Points along a wire mostly read alike, whoever is to blame.
            let mut known: HashMap<Column, f64> = HashMap::new();
            let closed =
                |&Probes { red, black, .. }: &Probes| well.joined(red, black) && well.volts(red, black).abs() <= DROP;
            let open: Vec<bool> = self.placements.iter().map(|place| place.drop && !closed(place)).collect();
            let spots = (0..self.placements.len()).filter(|place| !open[*place]).map(Spot::Probes);
            for spot in spots.chain((0..self.watchable.len()).map(Spot::Part)) {
                let Some(column) = self.column(spot, at) else { continue };
                let gain = match known.get(&column) {
                    Some(&gain) => gain,
                    None => {
                        let gain = self.scorer.gain(&column, &self.columns.rows);
                        known.insert(column, gain);
                        gain
                    }
                };
                if gain > 0.0 {
                    found.push((gain, spot, at));
                }
            }
        }
        found
    }

    fn column(&mut self, spot: Spot, look: usize) -> Option<Column> {
        let look = &self.looks[look];
        match spot {
            Spot::Probes(place) => {
                let Probes { red, black, .. } = self.placements[place];
                self.columns.volts(&between(&look.displays, red, black))
            }
            Spot::Part(part) => {
                let order = predict::scale(self.board.machine, &self.watchable[part]);
                self.columns.words(&look.shown, part, order)
            }
        }
    }

    /// What the digest's points predict of the volts that were read.
    fn look_back(&mut self, live: &[Live]) {
        for test in self.board.done.iter().filter(|test| test.instrument == Instrument::VoltsDc && as_it_stands(test)) {
            let point = |name: &Option<String>| name.as_deref().and_then(|n| self.board.machine.netlist.point(n));
            let (Some(red), Some(black)) = (point(&test.red), point(&test.black)) else { continue };
            for set in test.placements() {
                let Board { machine, suspects, runs, .. } = &mut *self.board;
                let Ok(state) = predict::state(machine, &set) else { continue };
                let displays: Vec<_> = live.iter().map(|l| runs.display(machine, suspects, state, l.point)).collect();
                self.read.push(between(&displays, red.index(), black.index()));
            }
        }
    }

    /// What a spot tells beside all that was read. The spread of parts moves two readings alike, so that the second
    /// tells only by how much the two differ: nothing, at another point of the same wire.
    fn gain_beside(&mut self, spot: Spot, look: usize, gain: f64) -> f64 {
        let Spot::Probes(place) = spot else { return gain };
        let Probes { red, black, .. } = self.placements[place];
        let volts = between(&self.looks[look].displays, red, black);
        let Some(column) = self.columns.volts(&volts) else { return 0.0 };
        if let Some(known) = self.beside.get(&column) {
            return *known;
        }
        let mut least = gain;
        for at in 0..self.read.len() {
            least = least.min(self.gain_of_difference(&volts, at));
        }
        self.beside.insert(column, least);
        least
    }

    fn gain_of_difference(&mut self, volts: &[f64], read: usize) -> f64 {
        let apart: Vec<f64> = volts.iter().zip(&self.read[read]).map(|(v, earlier)| v - earlier).collect();
        self.columns.volts(&apart).map_or(0.0, |column| self.scorer.gain(&column, &self.columns.rows))
    }

    fn test(&self, spot: Spot, look: usize) -> Test {
        let set = &self.looks[look].set;
        match spot {
            Spot::Probes(place) => volts(self.board.machine, &self.placements[place], set),
            Spot::Part(part) => watch(&self.watchable[part], set),
        }
    }

    /// The best for their minutes, at most so many: allowed, not yet asked.
    fn finalists(&mut self, mut found: Vec<(f64, Spot, usize)>, most: usize) -> Vec<(Spot, usize, Choice)> {
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let table = &self.board.machine.catalogue.minutes;
        let least = ATTENTION + cost(table, "ask") + cost(table, "read");
        let mut out: Vec<(f64, Spot, usize, Choice)> = Vec::new();
        for (gain, spot, look) in found {
            // The rest could not do better, were they free.
            if out.len() >= most && gain / least < out[most - 1].0 {
                break;
            }
            let Some(mut choice) = self.priced(self.test(spot, look), gain) else { continue };
            choice.gain = choice.gain.min(self.gain_beside(spot, look, gain));
            if choice.gain <= 0.0 {
                continue;
            }
            let worth = worth(&choice);
            let at = out.partition_point(|(other, ..)| *other >= worth);
            out.insert(at, (worth, spot, look, choice));
        }
        out.truncate(most);
        out.into_iter().map(|(_, spot, look, choice)| (spot, look, choice)).collect()
    }

    /// With minutes from where one stands; nothing if it is not allowed or was asked before.
    fn priced(&self, test: Test, gain: f64) -> Option<Choice> {
        let board = &*self.board;
        let same = |other: &Test| {
            other.instrument == test.instrument
                && (&other.red, &other.black, &other.part) == (&test.red, &test.black, &test.part)
        };
        let wanted = test.placements();
        let again: Vec<&Test> = board.done.iter().filter(|other| same(other)).collect();
        let asked = again.iter().any(|other| other.placements().iter().any(|set| wanted.contains(set)));
        if asked || board.skipped.iter().any(same) || refusal(&board.machine.netlist, &test).is_some() {
            return None;
        }
        // The same part again in another state tells mostly what it told before.
        let looks = if test.instrument == Instrument::Watch { again.len() } else { 0 };
        let gain = gain * AGAIN.powi(i32::try_from(looks).unwrap_or(8).min(8));
        let minutes = minutes(&board.machine.netlist, &board.machine.catalogue.minutes, board.stand, &test);
        Some(Choice { test, minutes, gain })
    }

    /// What a second setting adds to the first at most.
    fn second(&mut self, spot: Spot, first: usize, second: usize) -> f64 {
        let Spot::Probes(place) = spot else { return f64::INFINITY };
        let Probes { red, black, .. } = self.placements[place];
        let volts = |look: usize| between(&self.looks[look].displays, red, black);
        let (one, other) = (volts(first), volts(second));
        self.read.push(one);
        let gain = self.gain_of_difference(&other, self.read.len() - 1);
        self.read.pop();
        gain
    }

    /// With the leads where they are, a second setting costs seconds: taken in where it is worth them.
    fn in_two_states(&mut self, spot: Spot, look: usize, mut best: Choice) -> Choice {
        let Some(first) = self.column(spot, look) else { return best };
        let best_alone = best.gain;
        for other in 0..self.looks.len() {
            let (earlier, later) = (look.min(other), look.max(other));
            let Some(step) = neighbours(
                &self.board.machine.sim.schematic().controls,
                &self.looks[earlier].set,
                &self.looks[later].set,
            ) else {
                continue;
            };
            let Some(second) = self.column(spot, other) else { continue };
            let known = self.columns.rows.len();
            let pair = both(&first, &second, &mut self.columns.rows);
            let gain = self.scorer.gain(&pair, &self.columns.rows);
            self.columns.rows.truncate(known);
            let gain = gain.min(best_alone + self.second(spot, look, other));
            let test = Test { then: vec![vec![step]], ..self.test(spot, earlier) };
            if let Some(choice) = self.priced(test, gain)
                && worth(&choice) > worth(&best)
            {
                best = choice;
            }
        }
        best
    }
}

/// Does a motor of more than [`HEAVY`] amps turn in this state of the healthy machine? Cranking is not proposed
/// unless the complaint itself is about it.
fn heavy(board: &mut Board, set: &Settings) -> bool {
    let Ok(state) = predict::state(board.machine, set) else { return false };
    let healthy = board.runs.healthy(board.machine, state);
    let sim = &board.machine.sim;
    sim.schematic().elements.iter().enumerate().any(|(id, element)| {
        matches!(element.law, Law::Motor { amps, .. } if amps > HEAVY)
            && (0..healthy.levels.len()).any(|level| sim.element_amps(&healthy, level, id).abs() > HEAVY)
    })
}

/// Parts that can be watched: fitted, with a showing.
pub(super) fn watchable(machine: &Machine) -> Vec<String> {
    machine
        .netlist
        .parts
        .values()
        .filter(|part| part.fitted && machine.catalogue.kind(&part.kind).is_some_and(|k| !k.showings.is_empty()))
        .map(|part| part.name.clone())
        .collect()
}
