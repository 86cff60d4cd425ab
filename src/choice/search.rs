//! The search for the best test: every spot in every state, then the best of them in more.

use super::allowed::{burns, refusal};
use super::candidates::{Probes, probes, states, volts, watch};
use super::choose::{ATTENTION, Board, Choice, Live, heavy, stalled, worth};
use super::columns::{Columns, between};
use super::hands;
use super::minutes::{cost, minutes};
use super::rig::{Rig, rigs};
use super::score::{Column, Scorer, Weight};
use super::unasked::unasked;
use crate::circuit::showing::Words;
use crate::circuit::sim::{Display, StateId};
use crate::circuit::state::states_of;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::workers::by_workers_with;
use crate::diagnosis::{kill, predict};
use crate::netlist::Netlist;
use crate::pace::Work;
use indexmap::IndexSet;
use std::rc::Rc;

/// States looked at, at most.
const STATES: usize = 12;
/// The same where a second fault is looked for: it need not show where the first did.
const STATES_WIDE: usize = 40;
/// Of the tests in one state that are best, so many are tried in more.
const FINALISTS: usize = 16;
/// More than this over a healthy joint or contact means that it is open in this state: no place for a drop test, V.
pub(super) const DROP: f64 = 1.0;
/// So many of the tests in one state are looked at together, the most telling first.
const AT_ONCE: usize = 64;
/// What a look at a part is worth that has been looked at in another state, beside a fresh one.
const AGAIN: f64 = 0.5;
/// What passing over a test at a place adds to the others there, min (common practice, no source).
const PASSED: f64 = 3.0;

/// What the digest's points do in one state.
pub(super) struct Look {
    /// What is put in or taken out.
    pub(super) rig: Rig,
    pub(super) set: Settings,
    pub(super) displays: Vec<Rc<Display>>,
    shown: Vec<Rc<Vec<Words>>>,
    /// Something flashes: a display swings between two numbers, which is no quick extra reading.
    pub(super) swings: bool,
    /// The engine turns.
    turns: bool,
    /// Nothing but these parts is looked at.
    only: Option<Vec<usize>>,
}

/// Where one looks: the same in every state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Spot {
    /// Index of a placement of the volt meter.
    Probes(usize),
    /// Index of a part that can be watched.
    Part(usize),
}

/// Everything that stays the same while one question is chosen.
pub(super) struct Search<'a, 'b> {
    pub(super) board: &'a mut Board<'b>,
    live: &'a [Live],
    pub(super) placements: Vec<Probes>,
    pub(super) watchable: Vec<String>,
    pub(super) looks: Vec<Look>,
    /// Nodes that an ignition drives while the engine turns, on the sound machine or with any suspect, however the
    /// controls stand: `ignition-volts` of `rules/dangers.yaml`, no place for a meter.
    hot: Vec<bool>,
    pub(super) columns: Columns,
    pub(super) scorer: Scorer,
    /// Volts that were read already, one digest point each.
    read: Vec<Vec<f64>>,
}

/// The same instrument with the red lead at the same place.
fn beside(netlist: &Netlist, one: &Test, other: &Test) -> bool {
    let place = |test: &Test| {
        let point = test.red.as_deref().and_then(|red| netlist.point(red))?;
        netlist.graph[point].place.clone()
    };
    one.instrument == other.instrument && place(one).is_some() && place(one) == place(other)
}

/// States to look at, the likeliest complaint's first: nothing that cranks unasked, nothing that cannot be.
pub(super) fn near(board: &mut Board) -> Vec<(Settings, StateId)> {
    let controls = board.machine.sim.schematic().controls.clone();
    let complained: Vec<Settings> = board.complaints.to_vec();
    let cranking = complained.iter().any(|set| heavy(board, set));
    let most = if board.runs.several() { STATES_WIDE } else { STATES };
    let near: Vec<Settings> = states(&controls, &complained).into_iter().take(most).collect();
    let stalled = stalled(board, &near);
    let mut wanted: Vec<(Settings, StateId)> = Vec::new();
    for (set, stalled) in near.into_iter().zip(stalled) {
        let Ok(state) = predict::state(board.machine, &set) else { continue };
        if (cranking || !heavy(board, &set)) && (!stalled || complained.contains(&set)) {
            wanted.push((set, state));
        }
    }
    wanted
}

/// One reading less the other, one hypothesis each.
pub(super) fn apart(volts: &[f64], earlier: &[f64]) -> Vec<f64> {
    volts.iter().zip(earlier).map(|(v, earlier)| v - earlier).collect()
}

impl<'a, 'b> Search<'a, 'b> {
    /// A search among these hypotheses.
    pub fn new(board: &'a mut Board<'b>, live: &'a [Live], weights: &[Weight], classes: usize) -> Self {
        let mut search = Search {
            placements: probes(board.machine),
            watchable: board.machine.shown(),
            looks: Vec::new(),
            hot: Vec::new(),
            columns: Columns::default(),
            scorer: Scorer::new(weights, classes),
            read: Vec::new(),
            board,
            live,
        };
        search.look_back();
        search
    }

    /// The most worth their minutes, best first.
    pub fn best(&mut self, most: usize) -> Vec<Choice> {
        let found = self.in_one_state();
        let mut out: Vec<Choice> = Vec::new();
        let finalists = self.finalists(found, most.max(FINALISTS));
        let adds = self.adds(&finalists);
        for ((spot, look, choice), adds) in finalists.into_iter().zip(adds) {
            let floor = if out.len() < most { f64::NEG_INFINITY } else { out.last().map_or(0.0, worth) };
            if let Some(choice) = self.in_more_states(spot, look, choice, &adds, floor) {
                let at = out.partition_point(|other| worth(other) >= worth(&choice));
                out.insert(at, choice);
                out.truncate(most);
            }
        }
        out
    }

    /// Gains of every spot in every state, one state each; those that tell nothing left out.
    fn in_one_state(&mut self) -> Vec<(f64, Spot, usize)> {
        let near = near(self.board);
        let rigged = rigs(self.board, self.live, &near);
        let unasked = unasked(self.board, &near);
        let parts = |parts: Vec<String>| {
            let of = |part: &String| self.watchable.iter().position(|other| other == part);
            parts.iter().filter_map(of).collect::<Vec<usize>>()
        };
        let looks = unasked.into_iter().map(|(set, state, of)| (Rig::default(), set, state, Some(parts(of))));
        let wanted: Vec<(Rig, Settings, StateId, Option<Vec<usize>>)> = near
            .into_iter()
            .map(|(set, state)| (Rig::default(), set, state, None))
            .chain(rigged.into_iter().map(|(rig, set, state)| (rig, set, state, None)))
            .chain(looks)
            .collect();
        self.solve(wanted.iter().map(|(_, _, state, _)| *state));
        let zero = self.board.machine.sim.schematic().zero;
        self.hot = vec![false; self.board.machine.sim.schematic().nodes.len()];
        let mut wells: Vec<Display> = Vec::with_capacity(wanted.len());
        for (rig, set, state, only) in wanted {
            let Board { machine, suspects, runs, .. } = &mut *self.board;
            let displays: Vec<Rc<Display>> =
                self.live.iter().map(|l| runs.display(machine, suspects, state, l.now)).collect();
            let shown =
                self.live.iter().map(|l| runs.words(machine, suspects, state, l.now, &self.watchable)).collect();
            let healthy = runs.healthy(machine, state);
            let well = machine.sim.display(&healthy);
            let (swings, turns) = (healthy.levels.iter().any(|level| !level.slow_closed), kill::turns(&set));
            if turns {
                for display in displays.iter().map(Rc::as_ref).chain([&well]) {
                    kill::mark_ignition(&mut self.hot, display, zero);
                }
            }
            wells.push(well);
            self.looks.push(Look { rig, set, displays, shown, swings, turns, only });
        }
        // Points along a wire mostly read alike, whoever is to blame, and in many states.
        let mut known: IndexSet<Column> = IndexSet::new();
        let mut spots: Vec<(Spot, usize, usize)> = Vec::new();
        for (at, well) in wells.iter().enumerate() {
            for spot in self.spots(at, well) {
                if let Some(column) = self.column(spot, at) {
                    spots.push((spot, at, known.insert_full(column).0));
                }
            }
        }
        let gains = self.gains(known);
        spots.into_iter().map(|(spot, at, column)| (gains[column], spot, at)).filter(|(gain, ..)| *gain > 0.0).collect()
    }

    /// Where one may look in a state.
    fn spots(&self, look: usize, well: &Display) -> Vec<Spot> {
        if let Some(parts) = &self.looks[look].only {
            return parts.iter().copied().map(Spot::Part).collect();
        }
        let closed =
            |&Probes { red, black, .. }: &Probes| well.joined(red, black) && well.volts(red, black).abs() <= DROP;
        let may = |place: &usize| {
            let probes = &self.placements[*place];
            (!probes.drop || closed(probes)) && !self.is_hot(Spot::Probes(*place), look)
        };
        let probes = (0..self.placements.len()).filter(may).map(Spot::Probes);
        // Nobody judges a lamp's light behind another lamp.
        let parts = if self.looks[look].rig == Rig::default() { self.watchable.len() } else { 0 };
        probes.chain((0..parts).map(Spot::Part)).collect()
    }

    /// May a spot be looked at in a state, if only some parts may be?
    pub(super) fn is_open(&self, spot: Spot, look: usize) -> bool {
        let among = |parts: &Vec<usize>| matches!(spot, Spot::Part(part) if parts.contains(&part));
        self.looks[look].only.as_ref().is_none_or(among)
    }

    /// What each of these columns tells.
    pub(super) fn gains(&self, columns: IndexSet<Column>) -> Vec<f64> {
        let Search { scorer, columns: Columns { rows, .. }, .. } = self;
        let jobs: Vec<Column> = columns.into_iter().collect();
        let gain = |scorer: &mut Scorer, column: &Column| scorer.gain(column, rows);
        let done = by_workers_with(&jobs, || scorer.clone(), gain);
        jobs.iter().zip(done).map(|(column, done)| done.unwrap_or_else(|| gain(&mut scorer.clone(), column))).collect()
    }

    /// An ignition may drive one of the two points.
    pub(super) fn is_hot(&self, spot: Spot, look: usize) -> bool {
        let Spot::Probes(place) = spot else { return false };
        let Probes { red, black, .. } = self.placements[place];
        self.looks[look].turns && (self.hot[red] || self.hot[black])
    }

    /// Every hypothesis in each of these states.
    fn solve(&mut self, states: impl Iterator<Item = StateId>) {
        let Board { machine, suspects, runs, .. } = &mut *self.board;
        let points = |state: StateId| self.live.iter().map(move |live| (state, live.now));
        let wanted: Vec<(StateId, u32)> = states.flat_map(points).collect();
        // Each is solved and then looked at.
        machine.pace.begin(Work::Tests, 2 * wanted.len());
        runs.look_ahead(machine, suspects, &wanted, &self.watchable);
    }

    pub(super) fn column(&mut self, spot: Spot, look: usize) -> Option<Column> {
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
    fn look_back(&mut self) {
        let before =
            |test: &&Test| test.instrument == Instrument::VoltsDc && test.fit.is_empty() && test.after.is_empty();
        for test in self.board.done.iter().filter(before) {
            let Board { machine, suspects, runs, .. } = &mut *self.board;
            let point = |name: &Option<String>| name.as_deref().and_then(|n| machine.netlist.point(n));
            let (Some(red), Some(black)) = (point(&test.red), point(&test.black)) else { continue };
            for spec in states_of(machine.sim.schematic(), &machine.netlist, test).unwrap_or_default() {
                let state = machine.state(&spec);
                let displays: Vec<_> =
                    self.live.iter().map(|l| runs.display(machine, suspects, state, l.point)).collect();
                self.read.push(between(&displays, red.index(), black.index()));
            }
        }
    }

    /// What each of these tells beside all that was read. The spread of parts moves two readings alike, so that the
    /// second tells only by how much the two differ: nothing, at another point of the same wire.
    fn beside(&mut self, choices: &[(Spot, usize, Choice)]) -> Vec<f64> {
        let mut columns: IndexSet<Column> = IndexSet::new();
        let mut out: Vec<(f64, Vec<usize>)> = Vec::with_capacity(choices.len());
        for (spot, look, choice) in choices {
            let mut differences = Vec::new();
            let mut most = choice.gain;
            if let (Spot::Probes(place), false) = (*spot, self.read.is_empty()) {
                let Probes { red, black, .. } = self.placements[place];
                let volts = between(&self.looks[*look].displays, red, black);
                for read in &self.read {
                    match self.columns.volts(&apart(&volts, read)) {
                        Some(column) => differences.push(columns.insert_full(column).0),
                        None => most = 0.0,
                    }
                }
            }
            out.push((most, differences));
        }
        let gains = self.gains(columns);
        out.into_iter().map(|(most, of)| of.into_iter().fold(most, |least, column| least.min(gains[column]))).collect()
    }

    pub(super) fn test(&self, spot: Spot, look: usize) -> Test {
        let Look { rig, set, .. } = &self.looks[look];
        rig.on(match spot {
            Spot::Probes(place) => volts(self.board.machine, &self.placements[place], set),
            Spot::Part(part) => watch(&self.watchable[part], set),
        })
    }

    /// The best for their minutes, at most so many: allowed, not yet asked.
    fn finalists(&mut self, mut found: Vec<(f64, Spot, usize)>, most: usize) -> Vec<(Spot, usize, Choice)> {
        found.sort_by(|a, b| b.0.total_cmp(&a.0));
        let table = &self.board.machine.catalogue.minutes;
        let least = ATTENTION + cost(table, "ask") + cost(table, "read");
        let mut out: Vec<(f64, Spot, usize, Choice)> = Vec::new();
        for some in found.chunks(AT_ONCE) {
            // The rest could not do better, were they free.
            if out.len() >= most && some[0].0 / least < out[most - 1].0 {
                break;
            }
            let priced = |&(gain, spot, look): &(f64, Spot, usize)| {
                self.priced(self.test(spot, look), gain).map(|choice| (spot, look, choice))
            };
            let priced: Vec<(Spot, usize, Choice)> = some.iter().filter_map(priced).collect();
            let beside = self.beside(&priced);
            for ((spot, look, mut choice), beside) in priced.into_iter().zip(beside) {
                choice.gain = choice.gain.min(beside);
                if choice.gain <= 0.0 {
                    continue;
                }
                let worth = worth(&choice);
                let at = out.partition_point(|(other, ..)| *other >= worth);
                out.insert(at, (worth, spot, look, choice));
            }
            out.truncate(most);
        }
        out.into_iter().map(|(_, spot, look, choice)| (spot, look, choice)).collect()
    }

    /// With minutes from where one stands; nothing if it is not allowed or was asked before.
    pub(super) fn priced(&self, test: Test, gain: f64) -> Option<Choice> {
        let board = &*self.board;
        let same = |other: &Test| {
            other.instrument == test.instrument
                && (&other.red, &other.black, &other.part) == (&test.red, &test.black, &test.part)
                && (&other.open, &other.bridge, &other.disturb) == (&test.open, &test.bridge, &test.disturb)
        };
        let wanted = test.placements();
        let again: Vec<&Test> = board.done.iter().filter(|other| same(other)).collect();
        let asked = again.iter().any(|other| other.placements().iter().any(|set| wanted.contains(set)));
        if asked
            || board.skipped.iter().any(same)
            || refusal(&board.machine.netlist, &test).is_some()
            || burns(&board.machine.netlist, &board.machine.sim.schematic().controls, board.burns, &test)
        {
            return None;
        }
        if !hands::can(&board.machine.netlist, &board.machine.sim.schematic().controls, &test) {
            return None;
        }
        // The same part again in another state tells mostly what it told before.
        let looks = if test.instrument == Instrument::Watch { again.len() } else { 0 };
        let gain = gain * AGAIN.powi(i32::try_from(looks).unwrap_or(8).min(8));
        let minutes = minutes(&board.machine.netlist, &board.machine.catalogue.minutes, board.stand, &test);
        // Where one has passed already, the next point is likely no easier to get at.
        let passed = board.skipped.iter().filter(|other| beside(&board.machine.netlist, other, &test)).count();
        Some(Choice { test, minutes: minutes + PASSED * passed as f64, gain })
    }
}
