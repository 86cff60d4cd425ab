//! Volts lost on the way to each load and back, against the rule, and what that does to it.

use super::reach::passes;
use super::scene::{Scene, Seen};
use super::tell::{self, At};
use super::walk::{Step, Walks, ends};
use super::{Finding, Severity};
use crate::catalogue::kind::Measure;
use crate::circuit::schematic::{Elem, Law};
use crate::netlist::LinkKind;
use petgraph::graph::EdgeIndex;

/// The drop of one circuit.
pub struct Drop<'s> {
    /// The part.
    pub part: &'s str,
    /// The state of fewest settings in which it works.
    pub seen: &'s Seen,
    /// At the battery's posts, V.
    pub battery: f64,
    /// Over the part, V.
    volts: f64,
    /// In copper, joints, switches and fuses on the way, V.
    pub lost: f64,
    /// What the rule allows, V.
    pub allowed: f64,
    /// The way, element by element.
    pub steps: Vec<Step>,
}

/// What every circuit loses, in the order of the file.
pub fn all<'s>(scene: &'s Scene) -> Vec<Drop<'s>> {
    let walks = Walks::new(scene);
    scene.shown.iter().filter_map(|part| one(scene, &walks, part)).collect()
}

/// Circuits that lose more than they may.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let mut found = all(scene);
    found.retain(|drop| drop.lost > drop.allowed);
    let over = |drop: &Drop| drop.lost / drop.allowed;
    found.sort_by(|a, b| over(b).total_cmp(&over(a)));
    // Alike circuits are one line: what loses most in them is the same.
    let mut out: Vec<Finding> = Vec::new();
    let mut told: Vec<&str> = Vec::new();
    for drop in &found {
        if told.contains(&drop.part) {
            continue;
        }
        let most = worst(drop).map(|step| step.0);
        let alike: Vec<&Drop> = found
            .iter()
            .filter(|other| {
                !told.contains(&other.part)
                    && other.allowed == drop.allowed
                    && (other.part == drop.part || worst(other).map(|step| step.0) == most)
            })
            .collect();
        told.extend(alike.iter().map(|drop| drop.part));
        out.push(line(scene, drop, &alike));
    }
    out
}

fn worst(drop: &Drop) -> Option<Step> {
    drop.steps.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))
}

/// A part that is driven by volts, in the state in which it works; what a gauge gets is not its own affair.
fn one<'s>(scene: &'s Scene, walks: &Walks, part: &'s str) -> Option<Drop<'s>> {
    let kind = scene.machine.catalogue.kind(&scene.machine.netlist.parts.get(part)?.kind)?;
    if !matches!(kind.showings.first()?.by, Measure::VoltsRatio { .. } | Measure::Level { .. }) {
        return None;
    }
    let seen = scene.at_work(part)?;
    let (_, plus, minus) = scene.battery(seen)?;
    let (high, low) = ends(scene, seen, part)?;
    let mean = scene.mean_volts(seen);
    let (battery, volts) = (mean[plus] - mean[minus], mean[high] - mean[low]);
    let nominal = scene.limit("nominal");
    let allowed = if scene.listed("starting", part) {
        scene.limit("drop-starting")
    } else if scene.listed("critical", part) {
        scene.limit("drop-critical") * nominal
    } else {
        scene.limit("drop") * nominal
    };
    let mut steps = walks.steps(seen, &mean, high, true, part);
    steps.extend(walks.steps(seen, &mean, low, false, part));
    // A diode, a flasher, another load on the way are there to lose volts.
    let elements = &scene.machine.sim.schematic().elements;
    steps.retain(|step| is_way(&elements[step.0]));
    let lost = steps.iter().map(|step| step.1).sum();
    Some(Drop { part, seen, battery, volts, lost, allowed, steps })
}

fn line(scene: &Scene, drop: &Drop, alike: &[&Drop]) -> Finding {
    let lost = drop.lost;
    let names: Vec<String> = alike.iter().map(|drop| drop.part.to_string()).collect();
    let mut steps = drop.steps.clone();
    steps.sort_by(|a, b| b.1.total_cmp(&a.1));
    let shares: Vec<String> = steps
        .iter()
        .take(3)
        .filter(|step| step.1 > 0.05 * lost)
        .map(|(id, volts)| format!("{} in {}", tell::volts(*volts), called(scene, *id)))
        .collect();
    let values = [
        ("parts", tell::list(&names)),
        ("lose", if alike.len() == 1 { "loses".into() } else { "lose up to".to_string() }),
        ("lost", tell::volts(lost)),
        ("battery", tell::volts(drop.battery)),
        ("share", tell::percent(lost / drop.battery)),
        ("allowed", tell::volts(drop.allowed)),
        ("nominal", tell::volts(scene.limit("nominal"))),
        ("state", drop.seen.told()),
        ("shares", tell::list(&shares)),
        ("effect", effect(scene, drop)),
        (
            "where",
            worst(drop).map_or_else(
                || "its wires".into(),
                |step| called(scene, step.0).split(" (").next().unwrap_or("").to_string(),
            ),
        ),
    ];
    let sort = if scene.listed("starting", drop.part) { "drop-starting" } else { "drop" };
    scene.finding(Severity::Marginal, sort, At::part(&scene.machine.netlist, drop.part), &values)
}

/// Copper, joints, switches and fuses: what should lose nothing.
fn is_way(element: &Elem) -> bool {
    matches!(element.law, Law::Resistor { .. } | Law::Contact { .. }) && passes(element, true).is_some()
}

/// What an element is called beside its volts.
fn called(scene: &Scene, id: usize) -> String {
    let netlist = &scene.machine.netlist;
    let element = &scene.machine.sim.schematic().elements[id];
    if let Some(part) = &element.part {
        return part.clone();
    }
    let Some(link) = netlist.graph.edge_weight(EdgeIndex::new(id)) else { return element.name.clone() };
    match link.what {
        LinkKind::Conductor => netlist.wires.get(&link.site).map_or_else(
            || link.site.clone(),
            |wire| {
                let guessed = match (wire.length_known, wire.area_known) {
                    (true, true) => "",
                    (false, true) => " (length guessed)",
                    (true, false) => " (size guessed)",
                    (false, false) => " (length and size guessed)",
                };
                format!("{}{guessed}", tell::wire(wire))
            },
        ),
        LinkKind::Joint(_) => format!("the joint {}", link.site),
        LinkKind::Mated => format!("the contact {}", link.site),
        LinkKind::Seat => format!("the ground point {}", link.site),
    }
}

/// What it does to a part that it gets so many volts of the battery's.
fn effect(scene: &Scene, drop: &Drop) -> String {
    let ratio = drop.volts / drop.battery.max(1e-9);
    let elements = &scene.machine.sim.schematic().elements;
    let own = scene.elements(drop.part).iter().map(|&id| &elements[id].law);
    let words = &scene.machine.catalogue.review.findings;
    for law in own {
        let (sort, value) = match law {
            Law::Filament { .. } => ("effect-light", tell::percent(ratio.powf(scene.limit("light-exponent")))),
            Law::Motor { .. } => ("effect-motor", tell::percent(ratio)),
            Law::Interrupter { .. } => ("effect-horn", tell::percent(ratio * ratio)),
            _ => continue,
        };
        return words.get(sort).map_or_else(String::new, |words| words.text.replace("{value}", &value));
    }
    words.get("effect-other").map_or_else(String::new, |words| words.text.clone())
}
