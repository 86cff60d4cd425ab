//! Reference ambiguity groups: what no test that this bench allows can tell apart, whatever the complaint.
//!
//! Two suspects are ambiguous if no allowed test reaches an expected log-ratio of ln 20, severities and nuisances
//! marginalised ([`tell`]); groups are by complete linkage ([`linkage`]), so that all in a group are ambiguous with
//! each other. A set of tests is taken at its best member: many readings that each tell next to nothing hang on the
//! same spreads and do not add up.
//!
//! Every suspect is predicted once in each state. Pairs are not all compared: each suspect has a telltale, a test that
//! tells it from the healthy machine and that few others move. Whoever does not move it is told apart by it, so that
//! only those are compared who move each other's telltales: the work grows with the suspects, not with their square.

pub mod linkage;
pub mod tell;

use super::enumerate::Suspects;
use super::machine::Machine;
use super::predict::{by_place, said_of, scale, words};
use super::runs::Runs;
use super::suspect::What;
use crate::circuit::injury::Injury;
use crate::circuit::schematic::Node;
use crate::circuit::sim::{Display, StateId};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::panic::resume_unwind;
use std::rc::Rc;
use std::sync::atomic::{AtomicUsize, Ordering};
use tell::{Answer, Bell, Squeeze, tells};

/// A test that reaches this tells two suspects apart, nats: 20 to 1.
pub const ENOUGH: f64 = 2.995_732_273_553_991;
/// Volts that differ by less are the same to any meter.
const SAME_VOLTS: f64 = 1e-3;
/// A reading that moves by less than this part of its spread is not moved.
const UNMOVED: f64 = 0.1;
/// Neighbouring severities further apart than this, in spreads, have an event between them, not a slope.
const EVENT: f64 = 20.0;

/// What may be done with the machine in one state.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// The state.
    pub state: StateId,
    /// Placements of the volt meter, red and black.
    pub probes: Vec<[Node; 2]>,
    /// Parts may be watched.
    pub watch: bool,
}

/// All that may be done, as the choice of tests sees it.
#[derive(Clone, Debug)]
pub struct Bench {
    /// State by state.
    pub looks: Vec<Look>,
    /// Parts that can be watched.
    pub parts: Vec<String>,
    /// How far a volts reading may lie off for the spread of parts and meter, V.
    pub spread: fn(f64) -> f64,
    /// Placements that were left out because the machine is very large.
    pub left_out: usize,
}

/// Of more sorts of suspects than this pairs are not compared.
pub const MOST: usize = 4000;
/// States are looked at by so many workers at once; what comes out does not depend on it.
const WORKERS: usize = 4;

/// For each suspect the first suspect of its group. Counts a piece for each suspect in each look.
pub fn groups(machine: &Machine, suspects: &Suspects, rule: &[(f64, f64)], bench: &Bench) -> Vec<usize> {
    let pins: Vec<Vec<Node>> = bench.parts.iter().map(|part| pins(machine, part)).collect();
    let count = suspects.list.len();
    let squeeze = Squeeze::new(bench.spread);
    let mut firsts = vec![0_u32];
    for look in &bench.looks {
        firsts.push(firsts[firsts.len() - 1] + (look.probes.len() + bench.parts.len()) as u32);
    }
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done: Vec<(usize, Table)> = Vec::new();
        let mut runs = Runs::by(suspects, rule);
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(look) = bench.looks.get(at) else { return done };
            let mut table = Table::new(count, squeeze.clone());
            let (first, runs) = (firsts[at], &mut runs);
            Filling { machine, suspects, runs, bench, pins: &pins, look, first, table: &mut table }.fill();
            done.push((at, table));
        }
    };
    let mut parts: Vec<(usize, Table)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (1..WORKERS).map(|_| scope.spawn(work)).collect();
        let own = work();
        let others = workers.into_iter().flat_map(|worker| worker.join().unwrap_or_else(|panic| resume_unwind(panic)));
        own.into_iter().chain(others).collect()
    });
    parts.sort_by_key(|(at, _)| *at);
    let mut table = Table::new(count, squeeze);
    for (_, part) in parts {
        table.healthy.extend(part.healthy);
        table.rows.iter_mut().zip(part.rows).for_each(|(all, rows)| all.extend(rows));
    }
    let mut out = table.groups();
    for (index, suspect) in suspects.list.iter().enumerate() {
        // It could read anything: no group of its own kind.
        if suspect.what == What::NotInFile {
            out[index] = index;
        }
    }
    out
}

fn pins(machine: &Machine, part: &str) -> Vec<Node> {
    machine.netlist.parts.get(part).map_or_else(Vec::new, |part| part.pins.values().map(|pin| pin.index()).collect())
}

/// Suspects with their answers to each test.
pub struct Table {
    squeeze: Squeeze,
    healthy: HashMap<u32, Row>,
    /// By item, in the order of tests; a test that is not there is answered as if nothing were broken.
    rows: Vec<Vec<Row>>,
}

/// A test and what is answered to it.
#[derive(Clone, Debug)]
struct Row {
    test: u32,
    answer: Answer,
    /// Answers of the same sketch are the same.
    sketch: u64,
}

impl Row {
    fn new(test: u32, answer: Answer) -> Row {
        let mut hasher = DefaultHasher::new();
        let coarse = |value: f64, step: f64| (value / step).round() as i64;
        match &answer {
            Answer::Bells(bells) => {
                for bell in bells {
                    [coarse(bell.at, 0.05), coarse(bell.spread, 0.05), coarse(bell.share, 1e-4)].hash(&mut hasher);
                }
            }
            Answer::Words(words) => words.iter().for_each(|p| coarse(*p, 1e-3).hash(&mut hasher)),
        }
        Row { test, sketch: hasher.finish(), answer }
    }
}

/// A sketch of all answers of an item: items of the same sketch answer the same.
fn sketch(rows: &[Row]) -> u64 {
    let mut hasher = DefaultHasher::new();
    rows.iter().for_each(|row| (row.test, row.sketch).hash(&mut hasher));
    hasher.finish()
}

impl Table {
    /// So many items that answer every test as the healthy machine does.
    pub fn new(items: usize, squeeze: Squeeze) -> Table {
        Table { squeeze, healthy: HashMap::new(), rows: vec![Vec::new(); items] }
    }

    /// What the healthy machine answers.
    pub fn healthy(&mut self, test: u32, answer: Answer) {
        self.healthy.insert(test, Row::new(test, answer));
    }

    /// What an item answers; tests in ascending order.
    pub fn put(&mut self, item: usize, test: u32, answer: Answer) {
        self.rows[item].push(Row::new(test, answer));
    }

    /// For each item the first of its group.
    pub fn groups(&self) -> Vec<usize> {
        let mut kinds: HashMap<u64, usize> = HashMap::new();
        let mut same = Vec::with_capacity(self.rows.len());
        let mut own: Vec<usize> = Vec::new();
        for (item, row) in self.rows.iter().enumerate() {
            let next = own.len();
            let kind = *kinds.entry(sketch(row)).or_insert(next);
            if kind == next {
                own.push(item);
            }
            same.push(kind);
        }
        // (of so many all pairs would take minutes and gigabytes: what answers alike to every test is a group then)
        if own.len() > MOST {
            return same.into_iter().map(|kind| own[kind]).collect();
        }
        let leaders = linkage::complete(own.len(), &self.near(&own));
        same.into_iter().map(|kind| own[leaders[kind]]).collect()
    }

    /// Pairs of these items (by their place in the list) that no test tells apart.
    fn near(&self, own: &[usize]) -> BTreeMap<(usize, usize), f64> {
        let mut moved: HashMap<u32, Vec<usize>> = HashMap::new();
        for (at, &item) in own.iter().enumerate() {
            for row in &self.rows[item] {
                moved.entry(row.test).or_default().push(at);
            }
        }
        let telltale = |item: &usize| {
            let mut rows: Vec<&Row> = self.rows[*item].iter().collect();
            rows.sort_by_key(|row| (moved[&row.test].len(), row.test));
            let mut seen = HashSet::new();
            rows.into_iter().find(|row| self.tells(Some(row), None, &mut seen) >= ENOUGH).map(|row| row.test)
        };
        let telltales: Vec<Option<u32>> = own.iter().map(telltale).collect();
        let dull: Vec<usize> = (0..own.len()).filter(|&at| telltales[at].is_none()).collect();
        let moves = |at: usize, test: u32| self.row(own[at], test).is_some();
        let mut near = BTreeMap::new();
        for (at, telltale) in telltales.iter().enumerate() {
            let movers = telltale.map_or(&dull, |test| &moved[&test]);
            for &other in movers.iter().filter(|&&other| other != at) {
                let pair = (at.min(other), at.max(other));
                if telltales[other].is_none_or(|test| moves(at, test)) && !near.contains_key(&pair) {
                    let first = [*telltale, telltales[other]];
                    near.insert(pair, self.apart(own[pair.0], own[pair.1], first));
                }
            }
        }
        near.retain(|_, apart| *apart < ENOUGH);
        near
    }

    fn row(&self, item: usize, test: u32) -> Option<&Row> {
        let rows = &self.rows[item];
        rows.binary_search_by_key(&test, |row| row.test).ok().map(|at| &rows[at])
    }

    /// What the best test tells of two items; stops at [`ENOUGH`], `first` are tried first.
    fn apart(&self, one: usize, other: usize, first: [Option<u32>; 2]) -> f64 {
        let mut seen = HashSet::new();
        let mut most = 0.0_f64;
        for test in first.into_iter().flatten() {
            most = most.max(self.tells(self.row(one, test), self.row(other, test), &mut seen));
        }
        let (one, other) = (&self.rows[one], &self.rows[other]);
        let (mut i, mut j) = (0, 0);
        while most < ENOUGH && (i < one.len() || j < other.len()) {
            let (a, b) = (one.get(i), other.get(j));
            let test = a.map_or(u32::MAX, |a| a.test).min(b.map_or(u32::MAX, |b| b.test));
            let (a, b) = (a.filter(|a| a.test == test), b.filter(|b| b.test == test));
            i += usize::from(a.is_some());
            j += usize::from(b.is_some());
            most = most.max(self.tells(a, b, &mut seen));
        }
        most
    }

    /// What a test tells of two; nothing new if the same answers have been compared already.
    fn tells(&self, one: Option<&Row>, other: Option<&Row>, seen: &mut HashSet<(u64, u64)>) -> f64 {
        let test = one.or(other).map_or(0, |row| row.test);
        let healthy = self.healthy.get(&test);
        match (one.or(healthy), other.or(healthy)) {
            (Some(one), Some(other)) if one.sketch != other.sketch && seen.insert((one.sketch, other.sketch)) => {
                tells(&self.squeeze, &one.answer, &other.answer)
            }
            _ => 0.0,
        }
    }
}

/// Answers in one state.
struct Filling<'a> {
    machine: &'a Machine,
    suspects: &'a Suspects,
    runs: &'a mut Runs,
    bench: &'a Bench,
    /// Pins of each part that can be watched.
    pins: &'a [Vec<Node>],
    look: &'a Look,
    /// The state's first test.
    first: u32,
    table: &'a mut Table,
}

impl Filling<'_> {
    fn fill(&mut self) {
        let state = self.look.state;
        let healthy = self.runs.healthy(self.machine, state);
        let sound = self.machine.sim.display(&healthy);
        for (at, &[red, black]) in self.look.probes.iter().enumerate() {
            let bell = Bell { at: self.table.squeeze.at(sound.volts(red, black)), spread: 1.0, share: 1.0 };
            self.table.healthy(self.first + at as u32, Answer::Bells(vec![bell]));
        }
        for index in 0..self.suspects.list.len() {
            self.machine.pace.step();
            let (from, to) = self.runs.range[index];
            let mut moved = false;
            let all: Vec<Option<Display>> = (from..to)
                .map(|point| {
                    let outcome = self.runs.outcome(self.machine, self.suspects, state, point as u32);
                    let same = Rc::ptr_eq(&outcome, &healthy);
                    moved |= !same;
                    (!same).then(|| self.machine.sim.display(&outcome))
                })
                .collect();
            if moved && !self.suspects.list[index].special() {
                self.place(index, from, &sound, &all);
                self.watch(index, from, &sound, &all);
            }
        }
    }

    /// The placements that a suspect moves; `all` holds its points' volts (nothing: as the healthy machine).
    fn place(&mut self, index: usize, from: usize, sound: &Display, all: &[Option<Display>]) {
        let touching = self.suspects.list[index].what == What::Touching;
        for (at, &[red, black]) in self.look.probes.iter().enumerate() {
            let well = sound.volts(red, black);
            let volts = |point: &Option<Display>| point.as_ref().map_or(well, |volts| volts.volts(red, black));
            if all.iter().all(|point| (volts(point) - well).abs() < SAME_VOLTS) {
                continue;
            }
            let squeeze = &self.table.squeeze;
            let places: Vec<f64> = all.iter().map(|point| squeeze.at(volts(point))).collect();
            if places.iter().all(|place| (place - squeeze.at(well)).abs() < UNMOVED) {
                continue;
            }
            let bells = places.iter().enumerate().map(|(point, &at)| {
                let mut variance = 1.0 + self.slope(&places, from, point).powi(2);
                if touching {
                    let v = volts(&all[point]);
                    variance += (by_place(v, well) / (self.bench.spread)(v)).powi(2);
                }
                Bell { at, spread: variance.sqrt(), share: self.runs.points[from + point].ln_share.exp() }
            });
            let answer = Answer::Bells(bells.collect());
            self.table.put(index, self.first + at as u32, answer);
        }
    }

    /// Half the way to the nearer severity beside it: what a severity point stands for, in spreads.
    fn slope(&self, places: &[f64], from: usize, point: usize) -> f64 {
        if self.runs.points[from + point].severity.is_none() {
            return 0.0;
        }
        let way = |other: Option<&f64>| {
            other.map(|other| (other - places[point]).abs()).filter(|way| *way < EVENT).unwrap_or(f64::INFINITY)
        };
        let nearer = way(places.get(point + 1)).min(way(point.checked_sub(1).and_then(|before| places.get(before))));
        if nearer.is_finite() { nearer / 2.0 } else { 0.0 }
    }

    /// The parts that show something else with a suspect.
    fn watch(&mut self, index: usize, from: usize, sound: &Display, all: &[Option<Display>]) {
        if !self.look.watch {
            return;
        }
        let state = self.look.state;
        let healthy = self.runs.healthy(self.machine, state);
        let first = self.first + self.look.probes.len() as u32;
        for (at, name) in self.bench.parts.iter().enumerate() {
            let pins = &self.pins[at];
            let stirred = |volts: &Display| pins.iter().any(|&pin| !same(volts, sound, pin, pins[0]));
            let own = matches!(&self.suspects.list[index].what, What::Part(part) if part == name);
            if !own && !all.iter().flatten().any(stirred) {
                continue;
            }
            let well = words(self.machine, state, &Injury::default(), &healthy, name);
            let order = scale(self.machine, name);
            let names: Vec<&str> = order.iter().map(String::as_str).chain(OTHER_WORDS).collect();
            let (mut heard, mut differs) = (vec![0.0; names.len()], false);
            for point in from..from + all.len() {
                let outcome = self.runs.outcome(self.machine, self.suspects, state, point as u32);
                let injury = self.runs.injury_of(self.machine, self.suspects, point as u32);
                let shown = words(self.machine, state, &injury, &outcome, name);
                differs |= shown != well;
                hear(order, &names, &shown, self.runs.points[point].ln_share.exp(), &mut heard);
            }
            if differs {
                let mut sane = vec![0.0; names.len()];
                hear(order, &names, &well, 1.0, &mut sane);
                self.table.healthy(first + at as u32, Answer::Words(sane));
                self.table.put(index, first + at as u32, Answer::Words(heard));
            }
        }
    }
}

/// A pin stands over the part's first pin as it does in the healthy machine.
fn same(volts: &Display, sound: &Display, pin: Node, over: Node) -> bool {
    (volts.volts(pin, over) - sound.volts(pin, over)).abs() < SAME_VOLTS
}

/// Words that any part may come to show.
const OTHER_WORDS: [&str; 4] = ["flashing", "slow-flash", "fast-flash", "chatters"];

/// Adds what is heard of a part that shows these words, so much of it.
fn hear(order: &[String], names: &[&str], shown: &[(String, f64)], share: f64, heard: &mut [f64]) {
    for (word, p) in shown {
        let said: Vec<f64> = names.iter().map(|said| said_of(order, said, word)).collect();
        let all: f64 = said.iter().sum::<f64>().max(1e-12);
        for (sum, said) in heard.iter_mut().zip(said) {
            *sum += share * p * said / all;
        }
    }
}

#[cfg(test)]
mod tests;
