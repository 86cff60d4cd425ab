//! Ends of wires that lead to nothing yet, and are live in some state.

use super::reach::{Guard, guards};
use super::scene::{Scene, Seen};
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::fault::site;
use crate::circuit::schematic::Node;
use crate::netlist::{PointKind, Proof};
use petgraph::graph::NodeIndex;

/// What drives a spark has no more ohms behind it.
const DRIVEN: f64 = 10.0;

/// A live end.
struct End<'s> {
    name: String,
    at: At,
    guard: Guard,
    seen: &'s Seen,
}

/// One line for all that are behind a fuse, one for those that are not.
pub fn live(scene: &Scene) -> Vec<Finding> {
    let netlist = &scene.machine.netlist;
    let guards = guards(scene);
    let mut ends: Vec<End> = Vec::new();
    for point in netlist.graph.node_indices().filter(|&point| leads_nowhere(scene, point)) {
        let limit = scene.limit("live");
        let node = point.index();
        let states = scene.seen.iter().filter(|seen| !seen.engine_runs() && !seen.floats[node]);
        let Some(seen) = states.into_iter().find(|seen| seen.volts[node].abs() > limit && is_driven(scene, seen, node))
        else {
            continue;
        };
        ends.push(End {
            name: netlist.point_name(point).to_string(),
            at: At::point(netlist, point),
            guard: guards[node],
            seen,
        });
    }
    let (bare, fused): (Vec<End>, Vec<End>) = ends.into_iter().partition(|end| end.guard == Guard::Bare);
    let mut out = Vec::new();
    for (severity, sort, ends) in [(Severity::Hurts, "live-end-unfused", bare), (Severity::Marginal, "live-end", fused)]
    {
        let Some(first) = ends.first() else { continue };
        let names: Vec<String> = ends.iter().map(|end| end.name.clone()).collect();
        let fuse = match first.guard {
            Guard::Fuse { element, .. } => scene.machine.sim.schematic().elements[element].part.clone(),
            _ => None,
        };
        let values = [
            ("ends", tell::list(&names)),
            ("are", tell::are(ends.len()).to_string()),
            ("state", first.seen.told()),
            ("fuse", fuse.unwrap_or_else(|| "a fuse".into())),
        ];
        out.push(scene.finding(severity, sort, first.at.clone(), &values));
    }
    out
}

/// Does a source stand behind it, and not what leaks through a diode or a coil?
fn is_driven(scene: &Scene, seen: &Seen, node: Node) -> bool {
    let zero = scene.machine.sim.schematic().zero;
    let closed = seen.outcome.levels.iter().position(|level| level.closed).unwrap_or(0);
    scene.machine.sim.source_ohms(&seen.outcome, closed, node, zero) < DRIVEN
}

/// Does a wire end here, uncapped, with nothing to feed: a part that is not fitted, an empty half, a lone sleeve?
fn leads_nowhere(scene: &Scene, point: NodeIndex) -> bool {
    let netlist = &scene.machine.netlist;
    let wires = site::ends_at(netlist, point);
    let capped = wires.iter().any(|(wire, _)| netlist.wires.get(*wire).is_some_and(|w| w.proof == Proof::Capped));
    if wires.is_empty() || capped {
        return false;
    }
    match &netlist.graph[point].what {
        // One wire that ends where the part will be; several there are a joint.
        PointKind::Pin { part, .. } => netlist.parts.get(part).is_some_and(|part| !part.fitted),
        PointKind::Way { plug, half, way } => {
            let way = netlist.plugs.get(plug).and_then(|plug| plug.ways.get(way));
            let far = usize::from(*half == 'a');
            way.is_some_and(|way| way.crimped[far].is_none())
        }
        PointKind::Sleeve => wires.len() == 1,
        _ => false,
    }
}
