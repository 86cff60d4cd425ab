//! Plugs: a colour twice, plugs that can be exchanged.

use super::scene::{Scene, told};
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::injury::{Change, Injury};
use crate::circuit::schematic::Law;
use crate::netlist::Plug;
use indexmap::IndexMap;

/// Ohms of a mated contact in an exchanged plug, for what comes of it.
const MATED: f64 = 0.002;

/// All that is found of plugs.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let mut out: Vec<Finding> = Vec::new();
    out.extend(colours(scene));
    out.extend(exchanged(scene));
    out
}

/// Ways of one half whose wires have one colour.
fn twice(scene: &Scene, plug: &Plug, half: usize) -> IndexMap<String, Vec<String>> {
    let mut by_colour: IndexMap<String, Vec<String>> = IndexMap::new();
    for (name, way) in &plug.ways {
        let wire = way.crimped[half].as_ref().and_then(|(wire, _)| scene.machine.netlist.wires.get(wire));
        if let Some(colour) = wire.and_then(|wire| wire.colour.clone()) {
            by_colour.entry(colour).or_default().push(name.clone());
        }
    }
    by_colour.retain(|_, ways| ways.len() > 1);
    by_colour
}

fn colours(scene: &Scene) -> Option<Finding> {
    let mut told: Vec<String> = Vec::new();
    let mut first: Option<(&str, &Plug)> = None;
    let mut count = 0;
    for (name, plug) in &scene.machine.netlist.plugs {
        let halves = [twice(scene, plug, 0), twice(scene, plug, 1)];
        let tell = |colours: &IndexMap<String, Vec<String>>| {
            let one = |(colour, ways): (&String, &Vec<String>)| format!("{colour} in {}", ways.join(", "));
            colours.iter().map(one).collect::<Vec<_>>().join("; ")
        };
        if halves.iter().all(IndexMap::is_empty) {
            continue;
        }
        first = first.or(Some((name, plug)));
        count += halves.iter().map(|half| half.values().map(Vec::len).sum::<usize>()).max().unwrap_or(0);
        told.push(if halves[0] == halves[1] {
            format!("{name}: {}", tell(&halves[0]))
        } else {
            let halves = ["a", "b"].iter().zip(&halves).filter(|(_, half)| !half.is_empty());
            halves.map(|(letter, half)| format!("{name}{letter}: {}", tell(half))).collect::<Vec<_>>().join("; ")
        });
    }
    let (name, plug) = first?;
    let at = At { site: name.to_string(), place: plug.places[0].clone(), span: Some(plug.span) };
    let values = [("plugs", told.join("; ")), ("count", count.to_string())];
    Some(scene.finding(Severity::Marginal, "colour-twice", at, &values))
}

/// Plugs of as many ways that meet at one place, and what comes of exchanging them.
fn exchanged(scene: &Scene) -> Vec<Finding> {
    let plugs: Vec<(&String, &Plug)> = scene.machine.netlist.plugs.iter().collect();
    let mut out = Vec::new();
    for (at, (name, one)) in plugs.iter().enumerate() {
        for (other_name, other) in &plugs[at + 1..] {
            let near = (0..2).any(|half| one.places[half].is_some() && one.places[half] == other.places[half]);
            let alike = one.ways.len() == other.ways.len() && one.ways.keys().all(|way| other.ways.contains_key(way));
            if !near || !alike {
                continue;
            }
            let (state, what) = of_exchange(scene, one, other);
            let place =
                (0..2).find(|&half| one.places[half] == other.places[half]).and_then(|half| one.places[half].clone());
            let values = [
                ("one", name.to_string()),
                ("other", other_name.to_string()),
                ("ways", one.ways.len().to_string()),
                ("state", state),
                ("what", if what.is_empty() { "nothing that shows".into() } else { tell::list(&what) }),
            ];
            let at = At { site: name.to_string(), place, span: Some(one.span) };
            // The plugs may differ in ways that the file cannot say: it is for the person to see.
            out.push(scene.finding(Severity::Marginal, "exchanged", at, &values));
        }
    }
    out
}

/// What shows in the first state in which exchanged plugs are seen: fuses that blow, parts that show something else.
fn of_exchange(scene: &Scene, one: &Plug, other: &Plug) -> (String, Vec<String>) {
    let mut changes = Vec::new();
    for (name, way) in &one.ways {
        let Some(there) = other.ways.get(name) else { continue };
        changes.extend([way.link, there.link].map(|link| Change::Law(link.index(), Law::Open)));
        for (a, b) in [(way.halves[0], there.halves[1]), (there.halves[0], way.halves[1])] {
            changes.push(Change::Add { a: a.index(), b: b.index(), law: Law::Resistor { ohms: MATED } });
        }
    }
    let injury = Injury { changes, ..Injury::default() };
    let mut first: Option<(String, Vec<String>)> = None;
    for seen in scene.seen.iter().filter(|seen| !seen.stalled) {
        let (outcome, shows) = scene.hurt(seen, &injury);
        let elements = &scene.machine.sim.schematic().elements;
        let blown = outcome.blown.iter().filter(|id| !seen.outcome.blown.contains(id));
        let blown: Vec<String> =
            blown.filter_map(|&id| elements.get(id)?.part.as_ref().map(|part| format!("{part} blows"))).collect();
        if !blown.is_empty() {
            return (told(&seen.set), blown);
        }
        let changed = scene.shown.iter().zip(seen.shows.iter().zip(&shows)).filter(|(_, (before, now))| before != now);
        let changed: Vec<String> =
            changed.filter_map(|(part, (_, now))| now.as_ref().map(|now| format!("{part} {now}"))).collect();
        if first.is_none() && !changed.is_empty() {
            first = Some((told(&seen.set), changed));
        }
    }
    first.unwrap_or_default()
}
