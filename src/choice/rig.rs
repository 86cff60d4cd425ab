//! What is put in or taken out for a test: a lamp in a blown fuse's place, a plug parted behind it.
//!
//! Behind a blown fuse every point reads the same whoever is to blame. A lamp in its place lets as much current through
//! as one may look at, and nothing heats: bright, all its volts over it, the short is still there; a plug parted halves
//! what is left. A new fuse would tell the same once, and be gone.

use super::choose::{Board, Live};
use crate::circuit::schematic::ElementId;
use crate::circuit::sim::StateId;
use crate::circuit::state::states_of;
use crate::circuit::test::{Bridge, BridgeWith, Instrument, Settings, Test};
use crate::diagnosis::kill;
use crate::netlist::Netlist;
use indexmap::IndexMap;

/// A fuse is taken for blown from this much of the mass on.
const BLOWN: f64 = 0.25;
/// Plugs parted in turn, at most.
const PLUGS: usize = 4;
/// A point within so many volts of the fuse hangs on it, V.
const NEAR: f64 = 0.5;

/// What is put in or taken out.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Rig {
    /// Plugs parted.
    pub open: Vec<String>,
    /// Lamps put in.
    pub bridge: Vec<Bridge>,
}

impl Rig {
    /// A test with this rig.
    pub fn on(&self, test: Test) -> Test {
        Test { open: self.open.clone(), bridge: self.bridge.clone(), ..test }
    }
}

/// Rigs worth a look, each with the state that it stands in: the likeliest complaint's in which the engine does not turn.
/// (Behind a blown fuse it may be the alternator that stands alone.)
pub(super) fn rigs(board: &mut Board, live: &[Live], near: &[(Settings, StateId)]) -> Vec<(Rig, Settings, StateId)> {
    let still = near.iter().find(|(set, _)| !kill::turns(set));
    let (Some(watts), Some((set, whole))) = (board.machine.netlist.bench.test_lamp, still) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for fuse in blown(board, live) {
        let machine = &*board.machine;
        let Some(name) = machine.sim.schematic().elements[fuse].part.clone() else { continue };
        let Some(pins) = machine.netlist.parts.get(&name).map(|part| part.pins.keys().cloned().collect::<Vec<_>>())
        else {
            continue;
        };
        let [from, to] = pins.as_slice() else { continue };
        let lamp = Bridge { a: format!("{name}.{from}"), b: format!("{name}.{to}"), with: BridgeWith::Lamp(watts) };
        let mut wanted = vec![Rig { open: Vec::new(), bridge: vec![lamp.clone()] }];
        wanted.extend(
            behind(board, *whole, fuse).into_iter().map(|plug| Rig { open: vec![plug], bridge: vec![lamp.clone()] }),
        );
        for rig in wanted {
            let test = rig.on(Test::new(Instrument::VoltsDc, set));
            let Ok(specs) = states_of(board.machine.sim.schematic(), &board.machine.netlist, &test) else { continue };
            if let Some(spec) = specs.first() {
                out.push((rig, set.clone(), board.machine.state(spec)));
            }
        }
    }
    out
}

/// Fuses that have blown with a good share of the mass, the likeliest first.
fn blown(board: &mut Board, live: &[Live]) -> Vec<ElementId> {
    let mut mass: IndexMap<ElementId, f64> = IndexMap::new();
    for Live { point, weight, .. } in live {
        let set = board.runs.blown(board.machine, board.suspects, *point);
        for &fuse in board.runs.memory.fuses(set).iter() {
            *mass.entry(fuse).or_default() += weight.p;
        }
    }
    mass.retain(|_, mass| *mass >= BLOWN);
    mass.sort_by(|_, a, _, b| b.total_cmp(a));
    mass.into_keys().take(1).collect()
}

/// Plugs that the current of a fuse goes through when it is whole.
fn behind(board: &mut Board, whole: StateId, fuse: ElementId) -> Vec<String> {
    let healthy = board.runs.healthy(board.machine, whole);
    let machine = &*board.machine;
    let display = machine.sim.display(&healthy);
    let element = &machine.sim.schematic().elements[fuse];
    let Netlist { plugs, .. } = &machine.netlist;
    let hangs = |node: usize| display.joined(node, element.b) && display.volts(node, element.b).abs() < NEAR;
    let live =
        plugs.values().filter(|plug| plug.ways.values().any(|way| way.halves.iter().all(|half| hangs(half.index()))));
    live.map(|plug| plug.name.clone()).take(PLUGS).collect()
}
