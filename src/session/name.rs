//! Faults, classes and points in words for people.

use crate::circuit::fault::{Fault, Single, site};
use crate::circuit::schematic::Node;
use crate::diagnosis::enumerate::Suspects;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::suspect::{Member, Suspect, What};
use crate::netlist::{Joint, LinkKind, Netlist, PointKind};
use petgraph::graph::{EdgeIndex, NodeIndex};

/// Modes whose arguments say which, not how much: they belong to the name.
const NAMING: [&str; 6] = ["crossed", "shifted", "elsewhere", "wrong-type", "fed-from", "switches"];

/// The fault's name without its severity.
pub fn short(member: &Member) -> String {
    if member.fault.singles.is_empty() {
        return member.name.clone();
    }
    without_severity(&member.fault).to_string()
}

/// The same fault with severities left out.
pub fn without_severity(fault: &Fault) -> Fault {
    let singles =
        fault
            .singles
            .iter()
            .map(|one| {
                if NAMING.contains(&one.mode.as_str()) {
                    one.clone()
                } else {
                    Single { args: Vec::new(), ..one.clone() }
                }
            })
            .collect();
    Fault { singles }
}

/// A value with its unit, rounded as a person would say it.
pub fn value(value: f64, unit: &str) -> String {
    let size = value.abs();
    let text = if !value.is_finite() {
        return "no end".into();
    } else if size < 0.0005 || size < 0.005 && unit == "V" {
        "0".to_string()
    } else if size >= 99.5 {
        format!("{value:.0}")
    } else if size >= 9.95 {
        format!("{value:.1}")
    } else if size >= 0.0995 || unit == "V" {
        format!("{value:.2}")
    } else {
        format!("{value:.3}")
    };
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}

/// `at nose`, or nothing.
fn place(netlist: &Netlist, node: NodeIndex) -> String {
    netlist.graph[node].place.as_ref().map_or_else(String::new, |p| format!(" ({p})"))
}

/// A point for people: `pin ground of rev-gauge`, `plug P9 half a, way 4, wire side`, `ground point G1`.
pub fn point(netlist: &Netlist, node: NodeIndex) -> String {
    let point = &netlist.graph[node];
    match &point.what {
        PointKind::Pin { part, pin } => {
            let terminal = match (part.as_str(), pin.as_str()) {
                (part, "pos") if is_battery(netlist, part) => format!("{part} plus post"),
                (part, "neg") if is_battery(netlist, part) => format!("{part} minus post"),
                _ => format!("{part}, pin {pin}"),
            };
            format!("{terminal}{}", colour_at(netlist, node))
        }
        PointKind::Way { plug, half, way } => {
            format!("plug {plug}, half {half}, way {way}{}, wire side", colour_at(netlist, node))
        }
        PointKind::Conductor { wire, end } => {
            format!("bare wire {wire} behind its terminal{}", end_at(netlist, wire, *end))
        }
        PointKind::Sleeve => format!("sleeve {}", point.name),
        PointKind::Stud => format!("ground point {}, the bolt", point.name),
        PointKind::Piece => format!("bare metal of {}", point.name),
    }
}

fn is_battery(netlist: &Netlist, part: &str) -> bool {
    netlist.parts.get(part).is_some_and(|p| p.kind.contains("battery"))
}

fn end_at(netlist: &Netlist, wire: &str, end: char) -> String {
    let Some(wire) = netlist.wires.get(wire) else { return String::new() };
    let terminal = if end == 'a' { wire.from } else { wire.to };
    format!(" at {}", netlist.point_name(terminal))
}

/// Colours of the wires that end at a terminal, so that the eye finds it.
fn colour_at(netlist: &Netlist, node: NodeIndex) -> String {
    let mut colours: Vec<&str> = Vec::new();
    for (wire, _) in site::ends_at(netlist, node) {
        if let Some(colour) = netlist.wires.get(wire).and_then(|w| w.colour.as_deref())
            && !colours.contains(&colour)
        {
            colours.push(colour);
        }
    }
    if colours.is_empty() || colours.len() > 2 { String::new() } else { format!(" ({} wire)", colours.join(" and ")) }
}

/// A link for people.
pub fn link(netlist: &Netlist, edge: EdgeIndex) -> String {
    let link = &netlist.graph[edge];
    let (a, b) = netlist.graph.edge_endpoints(edge).expect("edge of this graph");
    match link.what {
        LinkKind::Seat => format!("ground point {}{}", link.site, place(netlist, a)),
        LinkKind::Mated => format!("plug {}, contact of way {}", plug_way(&link.site).0, plug_way(&link.site).1),
        LinkKind::Conductor => format!("wire {}", link.site),
        LinkKind::Joint(joint) => {
            let terminal = [a, b]
                .into_iter()
                .find(|&n| !matches!(netlist.graph[n].what, PointKind::Conductor { .. }))
                .unwrap_or(a);
            let what = match joint {
                Joint::Crimp => "crimp",
                Joint::Solder => "soldered joint",
                Joint::Ring => "ring terminal",
                Joint::Clamp => "clamp",
                Joint::CrimpSleeve => "crimp",
                Joint::Twist => "twisted joint",
            };
            let wire = link.site.rsplit_once('.').map_or(link.site.as_str(), |(wire, _)| wire);
            format!("{what} of {wire} at {}{}", netlist.point_name(terminal), place(netlist, terminal))
        }
    }
}

fn plug_way(site: &str) -> (&str, &str) {
    site.split_once('.').unwrap_or((site, ""))
}

/// What a suspect is, in a few words: `bad contact: ground point G1 (nose)`.
pub fn suspect(machine: &Machine, suspects: &Suspects, suspect: &Suspect) -> String {
    let netlist = &machine.netlist;
    let single = suspect.members.first().and_then(|m| m.fault.singles.first());
    match (&suspect.what, single) {
        (What::NothingBroken, _) => "nothing is broken: it is wired so".into(),
        (What::NotInFile, _) => "something that the wiring file does not have".into(),
        (What::Series(index), Some(one)) => {
            let what = if one.mode == "open" { "break" } else { "bad contact" };
            format!("{what}: {}", segment(machine, suspects, *index))
        }
        (What::Touching, Some(one)) => match one.site.split_once('~') {
            Some((a, b)) => format!("{a} touches {b}"),
            None => one.to_string(),
        },
        (What::Coupled, Some(one)) => match one.site.split_once('~') {
            Some((a, b)) => format!("{a} lies too close to {b} and picks up from it"),
            None => one.to_string(),
        },
        (What::Crossed, Some(one)) => match (one.mode.as_str(), one.args.as_slice()) {
            ("crossed", [a, b]) => format!("plug {}: ways {a} and {b} crossed", one.site),
            ("mirrored", _) => format!("plug {}: filled from its mirror image", one.site),
            ("shifted", _) => format!("plug {}: filled one way off", one.site),
            _ => one.to_string(),
        },
        (What::Part(name), Some(one)) => {
            let text = netlist
                .parts
                .get(name)
                .and_then(|part| machine.catalogue.kind(&part.kind))
                .and_then(|kind| kind.modes.get(&one.mode))
                .map(|mode| mode.text.replace("{part}", name));
            match text {
                Some(text) if !text.contains("{value}") => text,
                // The sentence before the figure says enough here.
                Some(text) => text.split([':', '{']).next().unwrap_or(&text).trim().to_string(),
                None => format!("{name}: {}", one.mode),
            }
        }
        (_, None) => suspect.class.clone(),
    }
}

/// A segment for people: its one joint, or the run between its ends.
pub fn segment(machine: &Machine, suspects: &Suspects, index: usize) -> String {
    let netlist = &machine.netlist;
    let segment = &suspects.segments[index];
    match segment.links.as_slice() {
        [only] => link(netlist, *only),
        _ => {
            let [a, b] = segment.ends.map(|n| netlist.point_name(n).to_string());
            format!("the run from {a} to {b}")
        }
    }
}

/// A node of the netlist for people, or the inner node's name.
pub fn node(machine: &Machine, node: Node) -> String {
    if node < machine.netlist.graph.node_count() {
        point(&machine.netlist, NodeIndex::new(node))
    } else {
        machine.sim.schematic().nodes[node].clone()
    }
}

/// near certain, likely, could be, unlikely: words that match the number.
pub fn sure(p: f64) -> &'static str {
    match p {
        p if p >= 0.95 => "near certain",
        p if p >= 0.6 => "likely",
        p if p >= 0.15 => "could be",
        _ => "unlikely",
    }
}
