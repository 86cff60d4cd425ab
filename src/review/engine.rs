//! What must come apart before the engine can be lifted out, and what of it has no plug.

use super::scene::Scene;
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::fault::site;
use crate::netlist::{Joint, LinkKind, Netlist, PointKind, Wire};
use petgraph::graph::NodeIndex;

/// Cable of this size ends in a ring under a nut, whatever the file says of it, mm² (common practice, no source).
const BOLTED: f64 = 6.0;

/// One line, where the file has an engine with wires to what stays.
pub fn lift(scene: &Scene) -> Option<Finding> {
    let netlist = &scene.machine.netlist;
    let mut plugs: Vec<String> = Vec::new();
    let mut bolts: Vec<String> = Vec::new();
    let mut bare: Vec<(String, &Wire)> = Vec::new();
    let mut place: Option<String> = None;
    for wire in netlist.wires.values() {
        let (a, b) = (in_engine(scene, wire.from), in_engine(scene, wire.to));
        let (Some(a), Some(b)) = (a, b) else { continue };
        if a == b {
            continue;
        }
        let (own, end) = if a { (wire.from, 0) } else { (wire.to, 2) };
        place = place.or_else(|| netlist.graph[own].place.clone());
        if let Some(plug) = [wire.from, wire.to].into_iter().find_map(|end| plug_beyond(netlist, wire, end)) {
            if !plugs.contains(&plug) {
                plugs.push(plug);
            }
        } else if wire.area >= BOLTED
            || matches!(netlist.graph[wire.links[end]].what, LinkKind::Joint(Joint::Ring | Joint::Clamp))
        {
            bolts.push(format!("{} at {}", wire.name, netlist.point_name(own)));
        } else {
            bare.push((format!("{} at {}", tell::wire(wire), netlist.point_name(own)), wire));
        }
    }
    if plugs.is_empty() && bolts.is_empty() && bare.is_empty() {
        return None;
    }
    let mut steps = Vec::new();
    if !plugs.is_empty() {
        steps.push(format!("unplug {}", tell::list(&plugs)));
    }
    if !bolts.is_empty() {
        steps.push(format!("unbolt {}", tell::list(&bolts)));
    }
    let names: Vec<String> = bare.iter().map(|(name, _)| name.clone()).collect();
    let without = match names.len() {
        0 => "Everything has a plug or a bolt".to_string(),
        _ => format!("No plug: {}", tell::list(&names)),
    };
    let steps = if steps.is_empty() { "nothing to unplug".to_string() } else { steps.join("; ") };
    let at = match bare.first() {
        Some((_, wire)) => At { place, ..At::wire(netlist, &wire.name) },
        None => At { site: plugs.first().or(bolts.first()).cloned().unwrap_or_default(), place, span: None },
    };
    let sort = if names.is_empty() { "engine-out" } else { "engine-no-plug" };
    let values = [("steps", steps), ("without", without), ("count", names.len().to_string())];
    Some(scene.finding(Severity::Marginal, sort, at, &values))
}

/// Does a point go with the engine? Nothing where its place is not known; metal by its name.
fn in_engine(scene: &Scene, point: NodeIndex) -> Option<bool> {
    let here = &scene.machine.netlist.graph[point];
    let rules = &scene.machine.catalogue.review;
    if here.what == PointKind::Piece {
        return Some(rules.lists("engine-places", &here.name));
    }
    here.place.as_ref().map(|place| rules.lists("engine-places", place))
}

/// The plug that a wire's end comes to, through sleeves that join two ends and no more.
fn plug_beyond(netlist: &Netlist, wire: &Wire, end: NodeIndex) -> Option<String> {
    let (mut name, mut end) = (wire.name.as_str(), end);
    for _ in 0..netlist.wires.len() {
        match &netlist.graph[end].what {
            PointKind::Way { plug, .. } => return Some(plug.clone()),
            PointKind::Sleeve => {
                let mut others = site::ends_at(netlist, end).into_iter().filter(|(other, _)| *other != name);
                let (Some((next, letter)), None) = (others.next(), others.next()) else { return None };
                name = next;
                let next = netlist.wires.get(next)?;
                end = if letter == 'a' { next.to } else { next.from };
            }
            _ => return None,
        }
    }
    None
}
