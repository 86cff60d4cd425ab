//! Feeling: where something got hot, the hand tells which plug, wire, contact it was, and no meter has to be got out.

use super::choose::{Board, Choice, digest, worth};
use super::score::{Scorer, Weight, undecided};
use super::stir::{handle, told_by};
use crate::circuit::heat;
use crate::circuit::showing::Words;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::{kill, predict};
use indexmap::IndexMap;
use std::rc::Rc;

/// Things to lay a hand on, at most: those with most of the mass behind them.
const HANDLES: usize = 24;

/// The most telling thing to lay a hand on in the settings in which something is said to get hot; nothing beside an
/// engine that turns.
pub fn feel(board: &mut Board, set: &Settings) -> Option<Choice> {
    // (what has smoked is felt with all off)
    if kill::turns(set) && board.burns.is_empty() {
        return None;
    }
    let (live, classes) = digest(board);
    let weights: Vec<Weight> = live.iter().map(|l| l.weight).collect();
    let state = predict::state(board.machine, set).ok()?;
    let Board { machine, suspects, runs, .. } = &mut *board;
    let mut handles: IndexMap<String, f64> = IndexMap::new();
    for l in &live {
        if let Some(handle) = handle(&machine.netlist, &suspects.list[runs.points[l.point as usize].suspect]) {
            *handles.entry(handle).or_default() += l.weight.p;
        }
    }
    handles.sort_by(|_, a, _, b| b.total_cmp(a));
    let order = heat::WORDS.map(String::from).to_vec();
    let all = undecided(&weights, classes).max(1e-300);
    let mut scorer = Scorer::new(&weights, classes);
    let mut best: Option<Choice> = None;
    for (handle, _) in handles.into_iter().take(HANDLES) {
        let test = Test { part: Some(handle.clone()), ..Test::new(Instrument::Touch, set) };
        let same = |other: &Test| other.instrument == Instrument::Touch && other.part == test.part;
        if board.done.iter().chain(board.skipped).any(same) {
            continue;
        }
        let mut felt = |point| board.runs.felt(board.machine, board.suspects, state, point, &handle);
        let shown: Vec<Rc<Vec<Words>>> = live.iter().map(|l| Rc::new(vec![felt(l.point)])).collect();
        let Some(choice) = told_by(board, test, &shown, &order, (&mut scorer, all)) else { continue };
        if best.as_ref().is_none_or(|best| worth(&choice) > worth(best)) {
            best = Some(choice);
        }
    }
    best
}
