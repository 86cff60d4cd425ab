//! What is not proved yet before the loom is closed.

use super::scene::Scene;
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::netlist::Proof;
use std::collections::BTreeSet;

/// Rows of plugs, and wires that lie in a loom, that rest on an assumption or on paper; those of which only a beep is
/// known are counted.
pub fn unproved(scene: &Scene) -> Vec<Finding> {
    let netlist = &scene.machine.netlist;
    let mut rows: Vec<(String, Proof, usize)> = Vec::new();
    let mut told: BTreeSet<usize> = BTreeSet::new();
    for (name, plug) in &netlist.plugs {
        for (way_name, way) in &plug.ways {
            told.insert(way.span.start);
            let wires = way.crimped.iter().flatten().filter_map(|(wire, _)| netlist.wires.get(wire));
            if let Some(proof) = wires.map(|wire| wire.proof).next() {
                rows.push((format!("{name}.{way_name}"), proof, way.span.start));
            }
        }
    }
    let in_looms: BTreeSet<&str> =
        netlist.looms.values().flat_map(|loom| loom.wires.iter().map(String::as_str)).collect();
    for wire in netlist.wires.values() {
        if (in_looms.contains(wire.name.as_str()) || wire.proof == Proof::Assumed) && told.insert(wire.span.start) {
            rows.push((wire.name.clone(), wire.proof, wire.span.start));
        }
    }
    let of = |wanted: Proof| -> Vec<String> {
        rows.iter().filter(|(_, proof, _)| *proof == wanted).map(|(name, ..)| name.clone()).collect()
    };
    let (assumed, paper, beep, not_fitted) =
        (of(Proof::Assumed), of(Proof::Paper), of(Proof::Beep), of(Proof::NotFitted));
    let mut parts = Vec::new();
    for (names, what) in [(&assumed, "Assumed"), (&paper, "On paper only"), (&not_fitted, "Load not fitted")] {
        if !names.is_empty() {
            parts.push(format!("{what}: {}", tell::list(names)));
        }
    }
    if !beep.is_empty() {
        let ways = if beep.len() == 1 { "row" } else { "rows" };
        parts.push(format!("By beep only: {} {ways}", beep.len()));
    }
    if parts.is_empty() {
        return Vec::new();
    }
    let first = assumed.first().or(paper.first()).or(not_fitted.first()).or(beep.first());
    let (site, span) = first
        .and_then(|first| rows.iter().find(|(name, ..)| name == first))
        .map_or((String::new(), 0), |(name, _, start)| (name.clone(), *start));
    let span = netlist
        .plugs
        .values()
        .flat_map(|plug| plug.ways.values().map(|way| way.span))
        .chain(netlist.wires.values().map(|wire| wire.span))
        .find(|known| known.start == span);
    let place = site.split_once('.').and_then(|(plug, _)| netlist.plugs.get(plug)?.places[0].clone());
    vec![scene.finding(
        Severity::Marginal,
        "unproved",
        At { site, place, span },
        &[("rows", parts.join(". ")), ("count", (rows.len() - of(Proof::Loaded).len()).to_string())],
    )]
}
