//! What the bench may do with a machine whatever the complaint: the tests that ambiguity groups are told by.

use super::allowed::refusal;
use super::candidates::{Probes, probes, volts, watch};
use super::columns::roughly;
use super::search::DROP;
use crate::circuit::schematic::Node;
use crate::circuit::sim::StateId;
use crate::circuit::state::state_of_settings;
use crate::circuit::test::Settings;
use crate::diagnosis::groups::{Bench, Look};
use crate::diagnosis::machine::Machine;
use crate::diagnosis::runs::Runs;
use crate::diagnosis::visible;
use crate::pace::Work;
use std::collections::HashSet;

/// So many states at most: those that bring the machine's points and parts to most of what they can be.
const STATES: usize = 20;
/// And so many at least.
const FEWEST: usize = 3;

/// Readings by severities of suspects that are worked out at most: the memory that the groups take grows with them.
const WORK: usize = 60_000_000;

/// All that may be done: placements and looks of the choice, in states that between them bring every point and
/// part to what it can be at most two settings from rest.
pub fn bench(machine: &mut Machine, runs: &mut Runs) -> Bench {
    let parts = machine.shown();
    let placements = probes(machine);
    let metal: Vec<Node> = machine.netlist.pieces.values().map(|piece| piece.point.index()).collect();
    let mut looks = Vec::new();
    for (set, state) in telling(machine, runs) {
        let healthy = runs.healthy(machine, state);
        let well = machine.sim.display(&healthy);
        let zero = machine.sim.schematic().zero;
        let allowed = |place: &&Probes| {
            // The drop over a joint or contact is worth reading where it is closed; bare metal in the place of battery
            // minus tells something of its own where there is next to nothing between them and the point.
            let closed = well.joined(place.red, place.black) && well.volts(place.red, place.black).abs() <= DROP;
            (closed || !place.drop && (place.black == zero || !metal.contains(&place.black)))
                && refusal(&machine.netlist, &volts(machine, place, &set)).is_none()
        };
        let probes = placements.iter().filter(allowed).map(|place| [place.red, place.black]).collect();
        let watch = parts.first().is_some_and(|part| refusal(&machine.netlist, &watch(part, &set)).is_none());
        looks.push(Look { state, probes, watch });
    }
    let all = looks.iter().map(|look| look.probes.len()).sum::<usize>();
    fit(&mut looks, machine.sim.schematic().zero, runs.points.len());
    let left_out = all - looks.iter().map(|look| look.probes.len()).sum::<usize>();
    Bench { looks, parts, spread: roughly, left_out }
}

/// On a very large machine placements are left out, those over battery minus last, then states, then every so manieth.
fn fit(looks: &mut Vec<Look>, zero: Node, points: usize) {
    let most = WORK / points.max(1);
    let count = |looks: &[Look]| looks.iter().map(|look| look.probes.len()).sum::<usize>();
    if count(looks) > most {
        looks.iter_mut().for_each(|look| look.probes.retain(|[_, black]| *black == zero));
    }
    while count(looks) > most && looks.len() > FEWEST {
        looks.pop();
    }
    let step = count(looks).div_ceil(most.max(1)).max(1);
    for look in looks.iter_mut().filter(|_| step > 1) {
        let kept: Vec<[Node; 2]> = look.probes.iter().copied().step_by(step).collect();
        look.probes = kept;
    }
}

/// States in the order of how much each adds to what those before it bring about; rest is the first.
fn telling(machine: &mut Machine, runs: &mut Runs) -> Vec<(Settings, StateId)> {
    let mut left = Vec::new();
    let nodes = machine.netlist.graph.node_count();
    let zero = machine.sim.schematic().zero;
    let states = visible::states(machine);
    machine.pace.begin(Work::States, states.len());
    for set in states {
        machine.pace.step();
        let Ok(spec) = state_of_settings(machine.sim.schematic(), &set) else { continue };
        let state = machine.state(&spec);
        let healthy = runs.healthy(machine, state);
        // To the volt: what a point is at, and through what the current goes.
        let well = machine.sim.display(&healthy);
        let volts = |node: Node| if well.joined(node, zero) { well.volts(node, zero).round() as i64 } else { i64::MAX };
        let mut facts: Vec<(usize, i64)> = (0..nodes).map(|node| (node, volts(node))).collect();
        let links = machine.netlist.graph.edge_count();
        for element in 0..links {
            let amps = machine.sim.element_amps(&healthy, 0, element).abs();
            facts.push((nodes + element, (amps.max(1e-3) / 1e-3).ln().round() as i64));
        }
        left.push((set, state, facts));
    }
    let mut known: HashSet<(usize, i64)> = HashSet::new();
    let mut out = Vec::new();
    while out.len() < STATES && !left.is_empty() {
        let new = |facts: &[(usize, i64)]| facts.iter().filter(|fact| !known.contains(fact)).count();
        let counts: Vec<usize> = left.iter().map(|(.., facts)| new(facts)).collect();
        let best = if out.is_empty() { 0 } else { (0..left.len()).rev().max_by_key(|&i| counts[i]).unwrap_or(0) };
        if counts[best] == 0 {
            break;
        }
        let (set, state, facts) = left.remove(best);
        known.extend(facts);
        out.push((set, state));
    }
    out
}
