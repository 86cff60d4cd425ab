//! Wires against what they carry, and against what their fuse lets through. What turns a starter is left out, as
//! 33 CFR 183.425 does: it runs for seconds.

use super::reach::{Guard, cranking, cranks, guards};
use super::scene::{Scene, told};
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::netlist::Wire;
use indexmap::IndexMap;

/// Findings of both sorts.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let cranking = cranking(scene);
    let wires: Vec<&Wire> =
        scene.machine.netlist.wires.values().filter(|wire| !cranking[wire.links[1].index()]).collect();
    let mut out: Vec<Finding> = hot(scene, &wires).into_iter().collect();
    out.extend(behind_fuses(scene, &wires));
    out
}

/// How warm the air is where a wire lies: at its warmer end, never below the table's.
pub fn air(scene: &Scene, wire: &Wire) -> f64 {
    let netlist = &scene.machine.netlist;
    let warm = |end: petgraph::graph::NodeIndex| {
        netlist.graph[end].place.as_ref().and_then(|name| netlist.places.get(name)?.warm)
    };
    let table = scene.machine.catalogue.review.ampacity.air;
    [wire.from, wire.to].into_iter().filter_map(warm).fold(table, f64::max)
}

/// ` at 80 C`, where it is warmer than in the table.
fn warm(scene: &Scene, air: f64) -> String {
    if air > scene.machine.catalogue.review.ampacity.air { format!(" at {air:.0} C") } else { String::new() }
}

/// The wire that carries the most beyond what it may, and how many others do.
fn hot(scene: &Scene, wires: &[&Wire]) -> Vec<Finding> {
    let table = &scene.machine.catalogue.review.ampacity;
    let states: Vec<_> = scene.seen.iter().filter(|seen| !seen.stalled && !cranks(scene, seen)).collect();
    // By the state in which it is worst: what is in one circuit stands in one line.
    let mut by_state: IndexMap<usize, Vec<(&Wire, f64)>> = IndexMap::new();
    for wire in wires {
        let id = wire.links[1].index();
        let worst = states.iter().enumerate().map(|(at, seen)| (at, seen.heat[id])).fold((0, 0.0), |best, now| {
            // Of equal ones the state of fewest settings.
            if now.1 > best.1 * 1.001 { now } else { best }
        });
        if worst.1 > table.amps(wire.area, air(scene, wire)) {
            by_state.entry(worst.0).or_default().push((wire, worst.1));
        }
    }
    let mut out = Vec::new();
    for (state, mut found) in by_state {
        let over = |(wire, amps): &(&Wire, f64)| amps / table.amps(wire.area, air(scene, wire));
        found.sort_by(|a, b| over(b).total_cmp(&over(a)));
        let (wire, amps) = found[0];
        let air = air(scene, wire);
        let severity = if found.iter().any(|(wire, _)| wire.area_known) { Severity::Hurts } else { Severity::Marginal };
        let more = found.len() - 1;
        out.push(scene.finding(
            severity,
            "wire-hot",
            At::wire(&scene.machine.netlist, &wire.name),
            &[
                ("wire", tell::wire(wire)),
                ("more", if more == 0 { String::new() } else { format!(" (and {more} more of its circuit)") }),
                ("amps", tell::amps(amps)),
                ("state", told(&states[state].set)),
                ("size", size(wire)),
                ("may", tell::amps(table.amps(wire.area, air))),
                ("warm", warm(scene, air)),
                ("celsius", tell::celsius(table.celsius(wire.area, air, amps))),
                ("need", thicker(table.size_for(amps, air))),
            ],
        ));
    }
    out
}

/// `2.1 mm2 or more`; beyond the table no size is named.
fn thicker(least: Option<f64>) -> String {
    least.map_or_else(|| "thicker wire".into(), |least| format!("{} or more", tell::area(least)))
}

fn size(wire: &Wire) -> String {
    let size = tell::area(wire.area);
    if wire.area_known { size } else { format!("{size} (no size in the file)") }
}

/// Wires too thin for the fuse before them, by fuse.
fn behind_fuses(scene: &Scene, wires: &[&Wire]) -> Vec<Finding> {
    let table = &scene.machine.catalogue.review.ampacity;
    let most = scene.limit("fuse-over-ampacity");
    let guards = guards(scene);
    let mut by_fuse: IndexMap<(usize, bool), Vec<(&Wire, f64)>> = IndexMap::new();
    for wire in wires {
        let Guard::Fuse { amps, element } = guards[wire.ends[0].index()] else { continue };
        let may = table.amps(wire.area, air(scene, wire));
        if amps > most * may {
            by_fuse.entry((element, wire.area_known)).or_default().push((wire, may));
        }
    }
    let mut out = Vec::new();
    let mut guessed: Vec<(&Wire, f64)> = Vec::new();
    let mut fuses: Vec<String> = Vec::new();
    for ((element, known), mut found) in by_fuse {
        let element = &scene.machine.sim.schematic().elements[element];
        let fuse = element.part.clone().unwrap_or_else(|| element.name.clone());
        if !known {
            guessed.extend(found);
            fuses.push(fuse);
            continue;
        }
        found.sort_by(|a, b| a.1.total_cmp(&b.1));
        let (wire, may) = found[0];
        let air = air(scene, wire);
        let amps = guards[wire.ends[0].index()].amps();
        let names: Vec<String> = found.iter().map(|(wire, _)| tell::wire(wire)).collect();
        let fits = scene.machine.catalogue.aftermath.fuses.iter().rev().find(|rating| **rating <= most * may);
        out.push(scene.finding(
            Severity::Hurts,
            "wire-fuse",
            At::wire(&scene.machine.netlist, &wire.name),
            &[
                ("fuse", fuse),
                ("amps", tell::amps(amps)),
                ("wires", tell::list(&names)),
                ("size", tell::area(wire.area)),
                ("may", tell::amps(may)),
                ("warm", warm(scene, air)),
                ("celsius", tell::celsius(table.celsius(wire.area, air, scene.limit("fuse-holds") * amps))),
                (
                    "fits",
                    fits.map_or_else(|| "a smaller fuse".into(), |rating| format!("a fuse of {rating} A or less")),
                ),
                ("need", thicker(table.size_for(amps / most, air))),
            ],
        ));
    }
    if let Some((wire, _)) = guessed.iter().min_by(|a, b| a.1.total_cmp(&b.1)).copied() {
        fuses.dedup();
        let need = guessed
            .iter()
            .filter_map(|(wire, _)| table.size_for(guards[wire.ends[0].index()].amps() / most, air(scene, wire)));
        out.push(scene.finding(
            Severity::Marginal,
            "wire-fuse-guessed",
            At::wire(&scene.machine.netlist, &wire.name),
            &[
                ("count", if guessed.len() == 1 { "a wire".into() } else { format!("{} wires", guessed.len()) }),
                ("have", if guessed.len() == 1 { "has" } else { "have" }.to_string()),
                ("are", tell::are(guessed.len()).to_string()),
                ("wires", tell::list(&guessed.iter().map(|(wire, _)| tell::wire(wire)).collect::<Vec<_>>())),
                ("fuses", tell::list(&fuses)),
                ("size", tell::area(wire.area)),
                ("need", tell::area(need.fold(0.0, f64::max))),
            ],
        ));
    }
    out
}
