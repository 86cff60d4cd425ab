//! What nobody is asked to do without need, and what is looked at all the same where a second fault is looked for: does
//! it crank, does what should stop the engine stop it?
//!
//! Faults of these circuits show nowhere else, so that else they are left when all the rest has been looked at. No meter
//! is held to anything meanwhile: it is a look at the starter, or at what makes the sparks. Who saw something else than on
//! a sound machine has complained of it, and then meters may.

use super::candidates::tidy;
use super::choose::{Board, HEAVY, heavy, stalled};
use crate::circuit::lower::ENGINE;
use crate::circuit::schematic::Law;
use crate::circuit::sim::StateId;
use crate::circuit::test::Settings;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::visible::states;
use crate::diagnosis::{kill, predict};

/// So many settings in which something should stop the engine, at most.
const STOPS: usize = 6;

/// Settings in which a look tells of a second fault that no others show, with the parts to be looked at; none where one
/// fault is looked for.
pub(super) fn unasked(board: &mut Board, known: &[(Settings, StateId)]) -> Vec<(Settings, StateId, Vec<String>)> {
    if !board.runs.several() {
        return Vec::new();
    }
    let cranks: Vec<Settings> = crank(board).into_iter().collect();
    let starters = starters(board.machine);
    let killed = kill::stopped_by_ground(board.machine);
    let cranks = cranks.into_iter().map(|set| (set, starters.clone()));
    let stops = stops(board, &killed).into_iter().map(|set| (set, killed.clone()));
    let wanted: Vec<(Settings, Vec<String>)> = cranks.chain(stops).collect();
    let controls = board.machine.sim.schematic().controls.clone();
    let mut out = Vec::new();
    for (set, parts) in wanted {
        let set = tidy(&controls, &set);
        let Ok(state) = predict::state(board.machine, &set) else { continue };
        if known.iter().all(|(other, _)| *other != set) && !parts.is_empty() {
            out.push((set, state, parts));
        }
    }
    out
}

/// The fewest settings in which the sound machine cranks.
fn crank(board: &mut Board) -> Option<Settings> {
    let starts = |set: &Settings| kill::turns(set) && set.iter().all(|(control, _)| control != ENGINE);
    let sets: Vec<Settings> = states(board.machine).into_iter().filter(starts).collect();
    sets.into_iter().find(|set| heavy(board, set))
}

/// Parts that crank.
fn starters(machine: &Machine) -> Vec<String> {
    let elements = machine.sim.schematic().elements.iter();
    let heavy = elements.filter(|element| matches!(element.law, Law::Motor { amps, .. } if amps > HEAVY));
    let mut out: Vec<String> = heavy.filter_map(|element| element.part.clone()).collect();
    out.dedup();
    out
}

/// Settings in which the sound engine stops, one control away from some in which it runs, or with all else at rest.
fn stops(board: &mut Board, killed: &[String]) -> Vec<Settings> {
    if killed.is_empty() {
        return Vec::new();
    }
    let runs = |set: &Settings| set.iter().any(|(control, _)| control == ENGINE);
    let sets: Vec<Settings> = states(board.machine).into_iter().filter(runs).collect();
    let stalled = stalled(board, &sets);
    let going: Vec<&Settings> =
        sets.iter().zip(&stalled).filter(|(_, stalled)| !**stalled).map(|(set, _)| set).collect();
    let beside = |set: &Settings| {
        let less = |other: &&Settings| other.len() + 1 == set.len() && other.iter().all(|one| set.contains(one));
        set.len() == 1 || going.iter().any(less)
    };
    let stops = sets.iter().zip(&stalled).filter(|(set, stalled)| **stalled && beside(set));
    stops.map(|(set, _)| set.clone()).take(STOPS).collect()
}
