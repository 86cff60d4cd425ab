//! Engines that are stopped by grounding a terminal, and points that an ignition drives.

use super::machine::Machine;
use crate::circuit::injury::Injury;
use crate::circuit::lower::ENGINE;
use crate::circuit::sim::{Display, Outcome};
use crate::circuit::state::state_of_settings;
use crate::circuit::test::Settings;

/// What every kind calls the terminal that stops it when it is grounded, among its pin's names.
const KILL: &str = "kill";
/// More than this against battery minus comes from an ignition, V: no battery or alternator of these machines gives it.
pub const IGNITION: f64 = 50.0;
/// An engine at one of these settings turns nothing.
const STANDS: &str = "stopped";
/// The key setting that cranks.
const CRANKS: &str = "start";

/// Kill terminal and ground of each fitted part that has one, nodes.
fn terminals(machine: &Machine) -> impl Iterator<Item = (&str, [usize; 2])> {
    machine.netlist.parts.values().filter_map(|part| {
        let kind = machine.catalogue.kind(&part.kind)?;
        let kills = |(name, others): &(&String, &Vec<String>)| *name == KILL || others.iter().any(|o| o == KILL);
        let (kill, _) = kind.pins.iter().find(kills)?;
        Some((part.name.as_str(), [part.pins.get(kill)?.index(), part.pins.get("ground")?.index()]))
    })
}

/// Parts that a kill terminal stops.
pub fn stopped_by_ground(machine: &Machine) -> Vec<String> {
    terminals(machine).map(|(part, _)| part.to_string()).collect()
}

/// Ohms from the kill terminals of whatever makes the sparks to their grounds, in one state of the healthy machine.
pub fn ohms(machine: &Machine, healthy: &Outcome) -> Vec<f64> {
    terminals(machine).map(|(_, [kill, ground])| machine.sim.source_ohms(healthy, 0, kill, ground)).collect()
}

/// Which of these settings (with their [`ohms`]) ask for an engine that runs with its kill terminal grounded: nobody
/// can do that on a sound machine. Grounded is what lies far below the most that any of them has there.
pub fn stalled<'a>(sets: impl Iterator<Item = (&'a Settings, &'a [f64])> + Clone) -> Vec<bool> {
    let free = |at: usize| sets.clone().filter_map(|(_, row)| row.get(at)).copied().fold(0.0, f64::max);
    let grounded = |row: &[f64]| row.iter().enumerate().any(|(at, ohms)| *ohms < free(at) / 2.0);
    let runs = |set: &Settings| set.iter().any(|(control, setting)| control == ENGINE && setting != STANDS);
    sets.clone().map(|(set, row)| runs(set) && grounded(row)).collect()
}

/// Settings in which a sound engine would have stopped, put right with one control more; as they are if none does it.
pub fn running(machine: &mut Machine, base: Settings) -> Settings {
    // Where nothing runs or nothing can be killed there is nothing to be put right.
    if terminals(machine).next().is_none() || !turns(&base) {
        return base;
    }
    let mut sets = vec![base.clone()];
    for (control, info) in machine.sim.schematic().controls.iter().filter(|(name, _)| *name != ENGINE) {
        if base.iter().all(|(name, _)| name != control) {
            let moved = |setting: &String| base.iter().cloned().chain([(control.clone(), setting.clone())]).collect();
            sets.extend(info.settings.iter().skip(1).map(moved));
        }
    }
    let mut row = |set: &Settings| match state_of_settings(machine.sim.schematic(), set) {
        Ok(spec) => {
            let state = machine.state(&spec);
            ohms(machine, &machine.sim.run(state, &Injury::default()))
        }
        Err(_) => Vec::new(),
    };
    let rows: Vec<Vec<f64>> = sets.iter().map(&mut row).collect();
    let stalled = stalled(sets.iter().zip(rows.iter().map(Vec::as_slice)));
    sets.into_iter().zip(stalled).find(|(_, stalled)| !stalled).map_or(base, |(set, _)| set)
}

/// Does the engine turn: runs, or is cranked?
pub fn turns(set: &Settings) -> bool {
    set.iter().any(|(control, setting)| (control == ENGINE && setting != STANDS) || setting == CRANKS)
}

/// Marks the nodes that an ignition drives on one machine in one state.
pub fn mark_ignition(hot: &mut [bool], display: &Display, zero: usize) {
    for (node, hot) in hot.iter_mut().enumerate() {
        *hot |= display.greatest(node, zero) > IGNITION;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_engine_does_not_run_with_its_kill_terminal_grounded() {
        let set = |pairs: &[(&str, &str)]| -> Settings {
            pairs.iter().map(|(c, s)| ((*c).to_string(), (*s).to_string())).collect()
        };
        let sets = [set(&[]), set(&[(ENGINE, "idling")]), set(&[(ENGINE, "idling"), ("stop", "pressed")])];
        let ohms = [vec![1e4], vec![1e4], vec![0.1]];
        assert_eq!(stalled(sets.iter().zip(ohms.iter().map(Vec::as_slice))), [false, false, true]);
        assert!(turns(&sets[1]) && turns(&set(&[("key", "start")])) && !turns(&sets[0]));
    }
}
