//! The search for the best test: every spot in every state, then the best of them in more.

use super::allowed::refusal;
use super::candidates::{Probes, neighbours, probes, states, volts, watch};
use super::choose::{Board, Choice, Live, heavy, stalled, watchable};
use super::columns::{Columns, between};
use super::hands;
use super::minutes::{cost, minutes};
use super::rig::{Rig, rigs};
use super::score::{Column, Row, Scorer, Weight, both};
use crate::circuit::showing::Words;
use crate::circuit::sim::{Display, StateId};
use crate::circuit::state::states_of;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::workers::by_workers_with;
use crate::diagnosis::{kill, predict};
use crate::netlist::Netlist;
use indexmap::IndexSet;
use std::collections::HashMap;
use std::rc::Rc;

/// States looked at, at most.
const STATES: usize = 12;
/// One placement is asked in so many settings at most.
const SETTINGS: usize = 3;
/// Of the tests in one state that are best, so many are tried in more.
const FINALISTS: usize = 16;
/// More than this over a healthy joint or contact means that it is open in this state: no place for a drop test, V.
pub(super) const DROP: f64 = 1.0;
/// What a look at a part is worth that has been looked at in another state, beside a fresh one.
const AGAIN: f64 = 0.5;
/// What passing over a test at a place adds to the others there, min (common practice, no source).
const PASSED: f64 = 3.0;
/// What every question costs beside its minutes: reading it, doing it, typing the answer, min.
const ATTENTION: f64 = 5.0;

/// What the digest's points do in one state.
struct Look {
    /// What is put in or taken out.
    rig: Rig,
    set: Settings,
    displays: Vec<Rc<Display>>,
    shown: Vec<Rc<Vec<Words>>>,
    /// Something flashes: a display swings between two numbers, which is no quick extra reading.
    swings: bool,
    /// The engine turns.
    turns: bool,
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
pub(super) struct Search<'a, 'b> {
    board: &'a mut Board<'b>,
    live: &'a [Live],
    placements: Vec<Probes>,
    watchable: Vec<String>,
    looks: Vec<Look>,
    /// Nodes that an ignition drives while the engine turns, on the sound machine or with any suspect, however the
    /// controls stand: `ignition-volts` of `rules/dangers.yaml`, no place for a meter.
    hot: Vec<bool>,
    columns: Columns,
    scorer: Scorer,
    /// Volts that were read already, one digest point each.
    read: Vec<Vec<f64>>,
    /// Gains beside what was read, by column.
    beside: HashMap<Column, f64>,
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
    let near: Vec<Settings> = states(&controls, &complained).into_iter().take(STATES).collect();
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
fn apart(volts: &[f64], earlier: &[f64]) -> Vec<f64> {
    volts.iter().zip(earlier).map(|(v, earlier)| v - earlier).collect()
}

/// Information a minute.
fn worth(choice: &Choice) -> f64 {
    choice.gain / (choice.minutes + ATTENTION)
}

impl<'a, 'b> Search<'a, 'b> {
    /// A search among these hypotheses.
    pub fn new(board: &'a mut Board<'b>, live: &'a [Live], weights: &[Weight], classes: usize) -> Self {
        let mut search = Search {
            placements: probes(board.machine),
            watchable: watchable(board.machine),
            looks: Vec::new(),
            hot: Vec::new(),
            columns: Columns::default(),
            scorer: Scorer::new(weights, classes),
            read: Vec::new(),
            beside: HashMap::new(),
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
        let wanted: Vec<(Rig, Settings, StateId)> =
            near.into_iter().map(|(set, state)| (Rig::default(), set, state)).chain(rigged).collect();
        self.solve(wanted.iter().map(|(.., state)| *state));
        let zero = self.board.machine.sim.schematic().zero;
        self.hot = vec![false; self.board.machine.sim.schematic().nodes.len()];
        let mut wells: Vec<Display> = Vec::with_capacity(wanted.len());
        for (rig, set, state) in wanted {
            let Board { machine, suspects, runs, .. } = &mut *self.board;
            let displays: Vec<Rc<Display>> =
                self.live.iter().map(|l| runs.display(machine, suspects, state, l.point)).collect();
            let shown =
                self.live.iter().map(|l| runs.words(machine, suspects, state, l.point, &self.watchable)).collect();
            let healthy = runs.healthy(machine, state);
            let well = machine.sim.display(&healthy);
            let (swings, turns) = (healthy.levels.iter().any(|level| !level.slow_closed), kill::turns(&set));
            if turns {
                for display in displays.iter().map(Rc::as_ref).chain([&well]) {
                    kill::mark_ignition(&mut self.hot, display, zero);
                }
            }
            wells.push(well);
            self.looks.push(Look { rig, set, displays, shown, swings, turns });
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

    /// What each of these columns tells.
    fn gains(&self, columns: IndexSet<Column>) -> Vec<f64> {
        let Search { scorer, columns: Columns { rows, .. }, .. } = self;
        let jobs: Vec<Column> = columns.into_iter().collect();
        let gain = |scorer: &mut Scorer, column: &Column| scorer.gain(column, rows);
        let done = by_workers_with(&jobs, || scorer.clone(), gain);
        jobs.iter().zip(done).map(|(column, done)| done.unwrap_or_else(|| gain(&mut scorer.clone(), column))).collect()
    }

    /// An ignition may drive one of the two points.
    fn is_hot(&self, spot: Spot, look: usize) -> bool {
        let Spot::Probes(place) = spot else { return false };
        let Probes { red, black, .. } = self.placements[place];
        self.looks[look].turns && (self.hot[red] || self.hot[black])
    }

    /// Every hypothesis in each of these states.
    fn solve(&mut self, states: impl Iterator<Item = StateId>) {
        let Board { machine, suspects, runs, .. } = &mut *self.board;
        let points = |state: StateId| self.live.iter().map(move |live| (state, live.point));
        let wanted: Vec<(StateId, u32)> = states.flat_map(points).collect();
        runs.look_ahead(machine, suspects, &wanted, &self.watchable);
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
            let gain = self
                .columns
                .volts(&apart(&volts, &self.read[at]))
                .map_or(0.0, |column| self.scorer.gain(&column, &self.columns.rows));
            least = least.min(gain);
        }
        self.beside.insert(column, least);
        least
    }

    fn test(&self, spot: Spot, look: usize) -> Test {
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
                && (&other.open, &other.bridge) == (&test.open, &test.bridge)
        };
        let wanted = test.placements();
        let again: Vec<&Test> = board.done.iter().filter(|other| same(other)).collect();
        let asked = again.iter().any(|other| other.placements().iter().any(|set| wanted.contains(set)));
        if asked || board.skipped.iter().any(same) || refusal(&board.machine.netlist, &test).is_some() {
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

    /// What each other state adds to each of these at most, the most promising first: by how much the two readings
    /// differ.
    fn adds(&mut self, finalists: &[(Spot, usize, Choice)]) -> Vec<Vec<(f64, usize)>> {
        /// How much a state adds.
        enum Adds {
            /// There is no telling.
            Any,
            Nothing,
            /// What this column tells.
            Column(usize),
        }
        let mut columns: IndexSet<Column> = IndexSet::new();
        let mut pairs: Vec<Vec<(Adds, usize)>> = Vec::with_capacity(finalists.len());
        for &(spot, look, _) in finalists {
            let mut of_spot = Vec::new();
            for other in self.others(spot, look) {
                let Spot::Probes(place) = spot else {
                    of_spot.push((Adds::Any, other));
                    continue;
                };
                let Probes { red, black, .. } = self.placements[place];
                let volts = |look: usize| between(&self.looks[look].displays, red, black);
                let column = self.columns.volts(&apart(&volts(other), &volts(look)));
                let adds = column.map_or(Adds::Nothing, |column| Adds::Column(columns.insert_full(column).0));
                of_spot.push((adds, other));
            }
            pairs.push(of_spot);
        }
        let gains = self.gains(columns);
        let gain = |adds: Adds| match adds {
            Adds::Any => f64::INFINITY,
            Adds::Nothing => 0.0,
            Adds::Column(column) => gains[column],
        };
        let sorted = |of_spot: Vec<(Adds, usize)>| {
            let mut adds: Vec<(f64, usize)> = of_spot.into_iter().map(|(adds, other)| (gain(adds), other)).collect();
            adds.sort_by(|a, b| b.0.total_cmp(&a.0));
            adds
        };
        pairs.into_iter().map(sorted).collect()
    }

    /// States in which a spot may be asked besides this one: none where a display swings, which is no quick reading.
    fn others(&self, spot: Spot, look: usize) -> Vec<usize> {
        if self.looks[look].swings {
            return Vec::new();
        }
        (0..self.looks.len())
            .filter(|&other| other != look && self.looks[other].rig == self.looks[look].rig)
            .filter(|&other| !self.looks[other].swings && !self.is_hot(spot, other))
            .collect()
    }

    /// With the leads where they are, another setting costs seconds: taken in where it is worth them. `floor`: what
    /// another test is worth already; nothing comes back where this one cannot be worth more, whatever it takes in.
    fn in_more_states(
        &mut self,
        spot: Spot,
        look: usize,
        mut best: Choice,
        adds: &[(f64, usize)],
        floor: f64,
    ) -> Option<Choice> {
        let most = best.gain + adds.iter().take(SETTINGS - 1).map(|(add, _)| add).sum::<f64>();
        if worth(&Choice { gain: most, ..best.clone() }) <= floor {
            return None;
        }
        let Some(column) = self.column(spot, look) else { return Some(best) };
        // Rows of a pair are kept with it; those of one state stand in the columns.
        let mut joint: Option<(Column, Vec<Row>)> = None;
        let mut looks = vec![look];
        while looks.len() < SETTINGS {
            let mut better: Option<(usize, (Column, Vec<Row>), Choice)> = None;
            for &(add, other) in adds.iter().filter(|(_, other)| !looks.contains(other)) {
                let Some(test) = self.test_in(spot, &looks, other) else { continue };
                let Some(second) = self.column(spot, other) else { continue };
                let most = best.gain + add;
                // Pairing is dear; what could not win if all of it were new needs none.
                let so_good = worth(better.as_ref().map_or(&best, |(.., choice)| choice));
                if self.priced(test.clone(), most).is_none_or(|choice| worth(&choice) <= so_good) {
                    continue;
                }
                let so_far =
                    joint.as_ref().map_or((&column[..], &self.columns.rows[..]), |(c, rows)| (&c[..], &rows[..]));
                let pair = both(so_far, (&second, &self.columns.rows));
                let gain = self.scorer.gain(&pair.0, &pair.1).min(most);
                if let Some(choice) = self.priced(test, gain)
                    && worth(&choice) > so_good
                {
                    better = Some((other, pair, choice));
                }
            }
            let Some((other, pair, choice)) = better else { break };
            looks.push(other);
            (joint, best) = (Some(pair), choice);
        }
        Some(best)
    }

    /// A test in these states, the likeliest complaint's first, where each of the others is one control away from it.
    fn test_in(&self, spot: Spot, looks: &[usize], other: usize) -> Option<Test> {
        let mut all: Vec<usize> = looks.iter().copied().chain([other]).collect();
        all.sort_unstable();
        let (first, rest) = all.split_first()?;
        let controls = &self.board.machine.sim.schematic().controls;
        let step = |look: &usize| neighbours(controls, &self.looks[*first].set, &self.looks[*look].set);
        let then = rest.iter().map(|look| step(look).map(|step| vec![step])).collect::<Option<Vec<_>>>()?;
        Some(Test { then, ..self.test(spot, *first) })
    }
}
