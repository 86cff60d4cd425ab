//! The best test per minute, computed on a digest of the suspects.

use super::allowed::refusal;
use super::candidates::{Probes, probes, states, volts, watch};
use super::minutes::{Stand, minutes};
use super::score::{Compander, Outcomes, Scorer, Weight, undecided};
use crate::circuit::schematic::Law;
use crate::circuit::showing::Words;
use crate::circuit::test::{Settings, Test};
use crate::diagnosis::enumerate::Suspects;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::predict;
use crate::diagnosis::runs::Runs;
use indexmap::IndexMap;
use std::rc::Rc;

/// Suspects' points that the choice looks at hold this share of the mass…
const DIGEST_MASS: f64 = 0.995;
/// …and are at most so many.
const DIGEST: usize = 100;
/// States looked at, at most.
const STATES: usize = 12;
/// Of the tests whose cheap score is best, so many are scored in full.
const FINALISTS: usize = 48;

/// More than this over a healthy joint or contact means that it is open in this state: no place for a drop test, V.
const DROP: f64 = 1.0;
/// A starter takes more than this, anything else less, A (60 to 120 A on small machines, from memory).
const HEAVY: f64 = 25.0;
/// What a place is worth that has been read in another state, beside a fresh one.
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

/// The tests most worth their minutes, best first; empty when no allowed test would tell anything.
pub fn choose(board: &mut Board, most: usize) -> Vec<Choice> {
    let (live, classes) = digest(board);
    if live.is_empty() || classes < 2 {
        return Vec::new();
    }
    let weights: Vec<Weight> = live.iter().map(|l| l.weight).collect();
    let all = undecided(&weights, classes).max(1e-300);
    let placements = probes(board.machine);
    let controls = board.machine.sim.schematic().controls.clone();
    let complained: Vec<Settings> = board.complaints.to_vec();
    let cranking = complained.iter().any(|set| heavy(board, set));
    let watchable = watchable(board);
    let mut scorer = Scorer::default();
    let mut found: Vec<(f64, Choice)> = Vec::new();
    for set in states(&controls, board.complaints).into_iter().take(STATES) {
        let Ok(state) = predict::state(board.machine, &set) else { continue };
        if !cranking && heavy(board, &set) {
            continue;
        }
        let volts_of: Vec<Rc<Vec<f64>>> =
            live.iter().map(|l| board.runs.volts(board.machine, board.suspects, state, l.point)).collect();
        let healthy = board.runs.healthy(board.machine, state);
        let well = predict::joined_volts(&board.machine.sim, &healthy);
        for place in &placements {
            // (a NaN is no closed contact either)
            let closed = (well[place.red] - well[place.black]).abs() <= DROP;
            if place.drop && !closed {
                continue;
            }
            let Some(rows) = rows(&live, &volts_of, place) else { continue };
            let test = volts(board.machine, place, &set);
            consider(board, test, rows, &weights, classes, &mut scorer, &mut found);
        }
        let shown: Vec<_> =
            live.iter().map(|l| board.runs.words(board.machine, board.suspects, state, l.point, &watchable)).collect();
        for (at, part) in watchable.iter().enumerate() {
            let order = predict::scale(board.machine, part);
            let Some(rows) = words(&live, &shown, at, order) else { continue };
            consider(board, watch(part, &set), rows, &weights, classes, &mut scorer, &mut found);
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.truncate(most.max(FINALISTS));
    let mut out: Vec<Choice> = found
        .into_iter()
        .map(|(_, mut choice)| {
            choice.gain /= all;
            choice
        })
        .collect();
    out.truncate(most);
    out
}

fn consider(
    board: &Board,
    test: Test,
    rows: Outcomes,
    weights: &[Weight],
    classes: usize,
    scorer: &mut Scorer,
    found: &mut Vec<(f64, Choice)>,
) {
    let same = |other: &Test| {
        other.instrument == test.instrument
            && (&other.red, &other.black, &other.part) == (&test.red, &test.black, &test.part)
    };
    if board.done.contains(&test) || board.skipped.iter().any(same) {
        return;
    }
    if refusal(&board.machine.netlist, &test).is_some() {
        return;
    }
    // The same place again in another state tells mostly what it told before.
    let before = board.done.iter().filter(|other| same(other)).count();
    let gain = scorer.gain(weights, &rows, classes) * AGAIN.powi(i32::try_from(before).unwrap_or(8).min(8));
    if gain <= 0.0 {
        return;
    }
    let minutes = minutes(&board.machine.netlist, &board.machine.catalogue.minutes, board.stand, &test);
    found.push((gain / (minutes + ATTENTION), Choice { test, minutes, gain }));
}

/// Outcome rows of a placement of the volt meter, or nothing if all suspects read the same.
fn rows(live: &[Live], volts_of: &[Rc<Vec<f64>>], place: &Probes) -> Option<Outcomes> {
    let value = |i: usize| {
        let volts = volts_of[i][place.red] - volts_of[i][place.black];
        // Nothing but the meter joins them.
        if volts.is_nan() { 0.0 } else { volts }
    };
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for i in 0..live.len() {
        let v = value(i);
        low = low.min(v);
        high = high.max(v);
    }
    let compander = Compander { near_zero: 0.03, relative: 0.04 };
    if high - low < 2.0 * roughly(f64::midpoint(high, low)) {
        return None;
    }
    Some((0..live.len()).map(|i| compander.spread(value(i), roughly(value(i)))).collect())
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

/// How far a reading may lie off for the spread of the parts alone: between the ends of a divider the share
/// moves by x(1 − x) for each unit of ln(ohms) in it, and parts are within a sixth or so.
fn roughly(volts: f64) -> f64 {
    const FULL: f64 = 12.6;
    const PARTS: f64 = 0.17;
    let share = (volts.abs() / FULL).clamp(0.0, 1.0);
    let inside = FULL * share * (1.0 - share) * PARTS;
    (0.03_f64.powi(2) + (0.015 * volts).powi(2) + inside * inside).sqrt()
}

/// Parts that can be watched: fitted, with a showing.
fn watchable(board: &Board) -> Vec<String> {
    let machine = &*board.machine;
    machine
        .netlist
        .parts
        .values()
        .filter(|part| part.fitted && machine.catalogue.kind(&part.kind).is_some_and(|k| !k.showings.is_empty()))
        .map(|part| part.name.clone())
        .collect()
}

/// Outcome rows of a look at a part, people's confusion of words included; nothing if all show the same.
fn words(live: &[Live], shown: &[Rc<Vec<Words>>], part: usize, order: &[String]) -> Option<Outcomes> {
    let mut names: Vec<&str> = Vec::new();
    let mut rows: Outcomes = Vec::with_capacity(live.len());
    for words in shown {
        let mut row: Vec<(u32, f64)> = Vec::new();
        for (word, p) in &words[part] {
            let id = names.iter().position(|n| n == word).unwrap_or_else(|| {
                names.push(word);
                names.len() - 1
            });
            row.push((id as u32, *p));
        }
        rows.push(row);
    }
    if names.len() < 2 {
        return None;
    }
    Some(
        rows.into_iter()
            .map(|row| {
                let heard: Vec<f64> = names
                    .iter()
                    .map(|said| row.iter().map(|(o, p)| p * predict::said_of(order, said, names[*o as usize])).sum())
                    .collect();
                let all: f64 = heard.iter().sum::<f64>().max(1e-12);
                heard.iter().zip(0..).map(|(p, id)| (id, p / all)).collect()
            })
            .collect(),
    )
}
