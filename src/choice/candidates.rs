//! Tests that could help, by rule: states near the complaint's, points a probe can reach, parts to watch.

use crate::circuit::schematic::{ControlInfo, Law, Node};
use crate::circuit::state::against_the_engine;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::machine::Machine;
use crate::netlist::PointKind;
use indexmap::IndexMap;

/// Two places for the probes.
#[derive(Clone, Debug, PartialEq)]
pub struct Probes {
    /// Red.
    pub red: Node,
    /// Black.
    pub black: Node,
    /// The drop over a joint, wire or contact: only worth asking where it is closed.
    pub drop: bool,
}

/// The settings worth testing in: the complaint's, those one control away from it, key on, at rest.
///
/// Cranking is proposed only where the complaint itself is about cranking.
pub fn states(controls: &IndexMap<String, ControlInfo>, complaints: &[Settings]) -> Vec<Settings> {
    let mut out: Vec<Settings> = Vec::new();
    let mut add = |set: Settings| {
        let set = tidy(controls, &set);
        if !out.contains(&set) {
            out.push(set);
        }
    };
    let cranking = complaints.iter().flatten().any(|(_, s)| s == "start");
    for set in complaints {
        add(set.clone());
    }
    for set in complaints {
        for (control, info) in controls {
            let now = set
                .iter()
                .rev()
                .find(|(c, _)| c == control)
                .map_or_else(|| info.settings.first().cloned().unwrap_or_default(), |(_, s)| s.clone());
            for setting in info.settings.iter().filter(|s| **s != now && (cranking || *s != "start")) {
                let mut near: Settings = set.iter().filter(|(c, _)| c != control).cloned().collect();
                near.push((control.clone(), setting.clone()));
                if !against_the_engine(controls, &near) {
                    add(near);
                }
            }
        }
    }
    add(Vec::new());
    out
}

/// Key first, settings at rest left out.
pub fn tidy(controls: &IndexMap<String, ControlInfo>, set: &Settings) -> Settings {
    let mut out: Settings = Vec::new();
    for (control, setting) in set {
        out.retain(|(c, _)| c != control);
        let rest = controls.get(control).and_then(|info| info.settings.first());
        if rest != Some(setting) {
            out.push((control.clone(), setting.clone()));
        }
    }
    // Stable: the order done stays, but nobody presses a button before the key is on.
    out.sort_by_key(|(control, _)| match controls.get(control) {
        Some(info) if info.settings.iter().any(|s| s == "start") => 0,
        _ if control == "engine" => 1,
        _ => 2,
    });
    out
}

/// The one control to move, and where to, that leads from one to the other of two tidy settings.
pub fn neighbours(
    controls: &IndexMap<String, ControlInfo>,
    from: &Settings,
    to: &Settings,
) -> Option<(String, String)> {
    let setting = |set: &Settings, control: &String, info: &ControlInfo| {
        let named = set.iter().rev().find(|(c, _)| c == control).map(|(_, s)| s.clone());
        named.or_else(|| info.settings.first().cloned())
    };
    let mut moved = controls
        .iter()
        .filter(|(control, info)| setting(from, control, info) != setting(to, control, info))
        .filter_map(|(control, info)| Some((control.clone(), setting(to, control, info)?)));
    let step = moved.next();
    if moved.next().is_some() { None } else { step }
}

/// Probe placements worth a volt meter: every reachable point over battery minus, pins over their
/// part's own ground pin, and over whatever two reachable points a link or an element joins.
pub fn probes(machine: &Machine) -> Vec<Probes> {
    let graph = &machine.netlist.graph;
    let zero = machine.sim.schematic().zero;
    let reachable = |node: Node| node < graph.node_count() && graph[petgraph::graph::NodeIndex::new(node)].probeable;
    let mut out: Vec<Probes> = Vec::new();
    let mut seen = std::collections::HashSet::new();
    let mut add = |red: Node, black: Node, drop: bool| {
        if red != black && reachable(red) && reachable(black) && seen.insert((red.min(black), red.max(black))) {
            out.push(Probes { red, black, drop });
        }
    };
    // Bare metal is within reach of the leads wherever one stands; battery minus often is not.
    let metal = machine.netlist.pieces.values().next().map(|piece| piece.point.index());
    for node in graph.node_indices() {
        if graph[node].probeable {
            add(node.index(), zero, false);
            if let Some(metal) = metal {
                add(node.index(), metal, false);
            }
        }
    }
    for part in machine.netlist.parts.values() {
        if let Some(&ground) = part.pins.get("ground") {
            for &pin in part.pins.values() {
                add(pin.index(), ground.index(), false);
            }
        }
    }
    for edge in graph.edge_indices() {
        if let Some((a, b)) = graph.edge_endpoints(edge) {
            add(a.index(), b.index(), true);
        }
    }
    for element in &machine.sim.schematic().elements[graph.edge_count()..] {
        if matches!(element.law, Law::Contact { .. }) {
            add(element.a, element.b, true);
        }
    }
    out
}

/// A volts test between two points in a state. Red goes to the point that is not battery minus, not ground.
pub fn volts(machine: &Machine, probes: &Probes, set: &Settings) -> Test {
    let graph = &machine.netlist.graph;
    let name = |node: Node| graph[petgraph::graph::NodeIndex::new(node)].name.clone();
    let groundish = |node: Node| {
        matches!(graph[petgraph::graph::NodeIndex::new(node)].what, PointKind::Piece | PointKind::Stud)
            || node == machine.sim.schematic().zero
    };
    let (red, black) = if groundish(probes.red) && !groundish(probes.black) {
        (probes.black, probes.red)
    } else {
        (probes.red, probes.black)
    };
    Test { red: Some(name(red)), black: Some(name(black)), ..Test::new(Instrument::VoltsDc, set) }
}

/// A look at a part in a state.
pub fn watch(part: &str, set: &Settings) -> Test {
    Test { part: Some(part.to_string()), ..Test::new(Instrument::Watch, set) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::kind::EngineMust;

    #[test]
    fn nobody_is_sent_to_put_a_running_machine_in_gear() {
        let control = |settings: &[&str], engine: &[(&str, EngineMust)]| ControlInfo {
            settings: settings.iter().map(ToString::to_string).collect(),
            engine: engine.iter().map(|(setting, must)| (setting.to_string(), *must)).collect(),
            ..ControlInfo::default()
        };
        let controls: IndexMap<String, ControlInfo> = [
            ("engine".to_string(), control(&["stopped", "idling"], &[])),
            ("gear".to_string(), control(&["out", "in"], &[("in", EngineMust::Stand)])),
            ("oil".to_string(), control(&["none", "ok"], &[("ok", EngineMust::Run)])),
        ]
        .into_iter()
        .collect();
        let set =
            |pairs: &[(&str, &str)]| pairs.iter().map(|(c, s)| (c.to_string(), s.to_string())).collect::<Settings>();
        let idling = set(&[("engine", "idling")]);
        let both = set(&[("engine", "idling"), ("gear", "in")]);
        let tried = states(&controls, std::slice::from_ref(&idling));
        assert!(tried.contains(&idling) && !tried.contains(&both), "{tried:?}");
        let standing = states(&controls, &[Settings::new()]);
        assert!(
            standing.contains(&set(&[("gear", "in")])) && !standing.contains(&set(&[("oil", "ok")])),
            "{standing:?}"
        );
        // What its owner has done and complains of is his own.
        assert!(states(&controls, std::slice::from_ref(&both)).contains(&both));
    }
}
