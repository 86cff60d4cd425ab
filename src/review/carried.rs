//! What every wire carries and what every load loses, for whoever plans work on the wiring.

use super::drop;
use super::heat;
use super::reach::{Guard, cranking, cranks, guards};
use super::scene::{Scene, told};
use crate::diagnosis::machine::Machine;
use crate::netlist::LinkKind;
use indexmap::IndexMap;
use petgraph::graph::EdgeIndex;

/// What a wire carries.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Carried {
    /// Amps for good, root mean square over what chops; 0 for what turns a starter.
    pub amps: f64,
    /// The most that it carries in any state, A.
    pub peak: f64,
    /// The state in which it does.
    pub state: String,
    /// Volts lost in its copper and joints then.
    pub volts: f64,
    /// It turns a starter: for seconds.
    pub cranks: bool,
    /// The weakest fuse before it, A.
    pub fuse: Option<f64>,
    /// The air around it, C.
    pub air: f64,
}

/// What a load loses on the way from the battery and back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Loses {
    /// The part.
    pub part: String,
    /// The state in which it was looked at.
    pub state: String,
    /// Volts at the battery.
    pub battery: f64,
    /// Volts lost in copper, joints, switches and fuses.
    pub lost: f64,
    /// What the rule allows, V.
    pub allowed: f64,
    /// Wires on the way.
    pub wires: Vec<String>,
}

/// What all wires carry, and what all loads lose.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Survey {
    /// By the wire's name.
    pub wires: IndexMap<String, Carried>,
    /// Loads that are driven by volts, in the order of the file.
    pub loads: Vec<Loses>,
}

/// Looks at the sound machine in its states.
pub fn survey(machine: &mut Machine) -> Survey {
    let scene = Scene::new(machine);
    let netlist = &scene.machine.netlist;
    let (cranking, guards) = (cranking(&scene), guards(&scene));
    let mut out = Survey::default();
    for wire in netlist.wires.values() {
        let id = wire.links[1].index();
        let mut carried = Carried { cranks: cranking[id], air: heat::air(&scene, wire), ..Carried::default() };
        for seen in scene.seen.iter().filter(|seen| !seen.stalled) {
            if !cranks(&scene, seen) && !cranking[id] {
                carried.amps = carried.amps.max(seen.heat[id]);
            }
            let amps = seen.amps[id].abs();
            // Of equal ones the state of fewest settings.
            if amps > 1.001 * carried.peak {
                carried.peak = amps;
                carried.state = told(&seen.set);
                let (from, to) = (wire.from.index(), wire.to.index());
                carried.volts = (seen.volts[from] - seen.volts[to]).abs();
            }
        }
        carried.fuse = match guards[wire.ends[0].index()] {
            Guard::Fuse { amps, .. } => Some(amps),
            Guard::None | Guard::Bare => None,
        };
        out.wires.insert(wire.name.clone(), carried);
    }
    let wire = |id: usize| {
        let link = netlist.graph.edge_weight(EdgeIndex::new(id))?;
        (link.what == LinkKind::Conductor).then(|| link.site.clone())
    };
    out.loads = drop::all(&scene)
        .into_iter()
        .map(|drop| Loses {
            part: drop.part.to_string(),
            state: drop.seen.told(),
            battery: drop.battery,
            lost: drop.lost,
            allowed: drop.allowed,
            wires: drop.steps.iter().filter_map(|step| wire(step.0)).collect(),
        })
        .collect();
    out
}
