//! Sneak paths: current that goes where nobody meant it to, with every part sound.
//!
//! What a circuit is meant to do stands in no file. But two things are never meant, and both can be read from the
//! solved states: a branch that carries current one way in one state and the other way in another, each time for other
//! parts (the H of sneak analysis: two circuits and a bar between them, and the bar is open to both); and a part that
//! works by itself and in some state gets its current through another load. Both are looked for in every branch and
//! every state; generators and engines that turn are left out, since charging turns current round.

use super::scene::{Scene, Seen, is_load};
use super::tell::{self, At};
use super::walk::{Step, Walks, ends};
use super::{Finding, Severity};
use crate::catalogue::kind::Measure;
use crate::circuit::schematic::{ElementId, Law};
use crate::netlist::LinkKind;
use indexmap::IndexMap;
use petgraph::graph::EdgeIndex;
use petgraph::unionfind::UnionFind;
use std::collections::BTreeSet;

/// Less of a part's amps does not go through another in series with it, but past it.
const PART: f64 = 0.2;

/// All sneak paths, and what draws current with everything at rest.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let mut out = both_ways(scene);
    out.extend(in_series(scene));
    out.extend(at_rest(scene));
    out
}

/// States in which batteries alone feed the machine.
fn states<'s>(scene: &'s Scene) -> Vec<&'s Seen> {
    scene.seen.iter().filter(|seen| !seen.stalled && !seen.engine_runs()).collect()
}

/// Copper's own net of each node, and whether it is ground's.
fn nets(scene: &Scene) -> (Vec<usize>, BTreeSet<usize>) {
    let schematic = scene.machine.sim.schematic();
    let links = scene.machine.netlist.graph.edge_count();
    let mut union = UnionFind::<usize>::new(schematic.nodes.len());
    for element in &schematic.elements[..links] {
        union.union(element.a, element.b);
    }
    let of: Vec<usize> = (0..schematic.nodes.len()).map(|node| union.find(node)).collect();
    let mut ground: BTreeSet<usize> = scene.minus_posts().into_iter().map(|post| of[post]).collect();
    ground.extend(scene.machine.netlist.pieces.values().map(|piece| of[piece.point.index()]));
    (of, ground)
}

/// A branch that carries current both ways.
struct Bar<'s> {
    element: ElementId,
    /// What lives by it in one direction or the other, in any state.
    parts: [BTreeSet<String>; 2],
    /// The states of fewest settings in which something does.
    states: [&'s Seen; 2],
}

fn both_ways(scene: &Scene) -> Vec<Finding> {
    let elements = &scene.machine.sim.schematic().elements;
    let states = states(scene);
    let least = scene.limit("sneak");
    let (nets, ground) = nets(scene);
    // Elements that carry the same amps in every state are in series: one bar.
    let mut bars: IndexMap<Vec<i64>, Vec<ElementId>> = IndexMap::new();
    for (id, element) in elements.iter().enumerate() {
        let source = scene.batteries.contains(&id)
            || matches!(element.law, Law::Source { .. } | Law::Cell { .. } | Law::By { .. } | Law::PulseSource { .. });
        if source || ground.contains(&nets[element.a]) && ground.contains(&nets[element.b]) {
            continue;
        }
        let driven = |sign: f64| states.iter().any(|seen| sign * seen.amps[id] > least);
        if driven(1.0) && driven(-1.0) {
            let amps: Vec<i64> = states.iter().map(|seen| (seen.amps[id] * 1000.0).round() as i64).collect();
            let turned = amps.iter().find(|amps| **amps != 0).is_some_and(|first| *first < 0);
            let key = if turned { amps.into_iter().map(|amps| -amps).collect() } else { amps };
            bars.entry(key).or_default().push(id);
        }
    }
    let mut found: Vec<Bar> = bars.values().filter_map(|ids| bar(scene, &states, ids)).collect();
    // Bars of one path join the same parts in the same two states.
    let mut told: Vec<(BTreeSet<String>, BTreeSet<String>)> = Vec::new();
    found.retain(|bar| {
        let parts = &bar.parts[0] | &bar.parts[1];
        let key = (parts, bar.states.iter().map(|seen| seen.told()).collect());
        let new = !told.contains(&key);
        told.push(key);
        new
    });
    found.iter().map(|bar| bar_line(scene, bar)).collect()
}

/// What lives by a bar each way; `None` where the same parts do (a motor that is turned round, a lamp between two
/// feeds), or in one direction nothing that shows.
fn bar<'s>(scene: &Scene, states: &[&'s Seen], ids: &[ElementId]) -> Option<Bar<'s>> {
    let element = *ids.iter().find(|&&id| names_itself(scene, id)).or(ids.first())?;
    let owners: Vec<&String> =
        ids.iter().filter_map(|&id| scene.machine.sim.schematic().elements[id].part.as_ref()).collect();
    let mut parts = [BTreeSet::new(), BTreeSet::new()];
    let mut first: [Vec<(&'s Seen, BTreeSet<String>)>; 2] = [Vec::new(), Vec::new()];
    for &seen in states {
        let amps = seen.amps[element];
        if amps.abs() <= scene.limit("sneak") {
            continue;
        }
        let way = usize::from(amps < 0.0);
        let (_, shows) = scene.hurt(seen, &Scene::without([element]));
        let changed = scene.shown.iter().zip(seen.shows.iter().zip(&shows)).filter(|(_, (now, cut))| now != cut);
        // What hangs in the bar itself is driven by it either way.
        let lives: BTreeSet<String> =
            changed.map(|(part, _)| part.clone()).filter(|part| !owners.contains(&part)).collect();
        parts[way].extend(lives.iter().cloned());
        if !lives.is_empty() {
            first[way].push((seen, lives));
        }
    }
    if parts[0] == parts[1] || parts.iter().any(BTreeSet::is_empty) {
        return None;
    }
    // The state that shows best what only this direction feeds.
    let telling = |way: usize| {
        let own = |lives: &BTreeSet<String>| !lives.is_subset(&parts[1 - way]);
        first[way].iter().find(|(_, lives)| own(lives)).or(first[way].first()).map(|(seen, _)| *seen)
    };
    let states = [telling(0)?, telling(1)?];
    Some(Bar { element, parts, states })
}

/// Is it a part, or a wire as such and no joint of one?
fn names_itself(scene: &Scene, id: ElementId) -> bool {
    let elements = &scene.machine.sim.schematic().elements;
    let conductor =
        scene.machine.netlist.graph.edge_weight(EdgeIndex::new(id)).is_some_and(|l| l.what == LinkKind::Conductor);
    elements[id].part.is_some() || conductor
}

fn bar_line(scene: &Scene, bar: &Bar) -> Finding {
    let netlist = &scene.machine.netlist;
    let element = &scene.machine.sim.schematic().elements[bar.element];
    let (called, at) = match &element.part {
        Some(part) => (part.clone(), At::part(netlist, part)),
        None => match netlist.wires.get(&element.name) {
            Some(wire) => (tell::wire(wire), At::wire(netlist, &wire.name)),
            None => (element.name.clone(), At { site: element.name.clone(), ..At::default() }),
        },
    };
    let names = |set: &BTreeSet<String>| tell::list(&set.iter().cloned().collect::<Vec<_>>());
    let values = [
        ("bar", called),
        ("one", bar.states[0].told()),
        ("other", bar.states[1].told()),
        ("parts", names(&bar.parts[0])),
        ("others", names(&bar.parts[1])),
        ("amps", tell::amps(bar.states[1].amps[bar.element].abs())),
    ];
    // The lamp in a switch that lights when something else feeds what it switches tells the truth.
    let lit = |set: &BTreeSet<String>| set.iter().all(|part| scene.machine.sim.schematic().controls.contains_key(part));
    let severity = if bar.parts.iter().any(lit) { Severity::Marginal } else { Severity::Fails };
    scene.finding(severity, "sneak-both-ways", at, &values)
}

/// Is it judged by volts, amps or watts: a light, a motor, a horn, a heater, a relay?
fn by_current(scene: &Scene, part: &str) -> bool {
    let kind = scene.machine.netlist.parts.get(part).and_then(|part| scene.machine.catalogue.kind(&part.kind));
    let showing = kind.and_then(|kind| kind.showings.first());
    showing.is_some_and(|showing| {
        matches!(
            showing.by,
            Measure::VoltsRatio { .. } | Measure::Level { .. } | Measure::Pulled { .. } | Measure::Contact { .. }
        )
    })
}

/// Parts that work by themselves and in some state get their current through another load.
fn in_series(scene: &Scene) -> Vec<Finding> {
    let walks = Walks::new(scene);
    let elements = &scene.machine.sim.schematic().elements;
    let mut told: BTreeSet<[String; 2]> = BTreeSet::new();
    let mut out = Vec::new();
    let parts = scene.shown.iter().filter(|part| by_current(scene, part));
    let full: IndexMap<&str, &Seen> =
        parts.filter_map(|part| Some((part.as_str(), scene.at_full_work(part)?))).collect();
    for seen in states(scene) {
        for part in full.keys() {
            let loaded = scene
                .elements(part)
                .iter()
                .any(|&id| is_load(&elements[id].law) && seen.amps[id].abs() > scene.limit("sneak"));
            if !loaded || full.get(part).is_some_and(|work| work.set == seen.set) {
                continue;
            }
            let Some(way) = way_of(scene, &walks, seen, part) else { continue };
            let most = scene.elements(part).iter().map(|&id| seen.amps[id].abs()).fold(0.0, f64::max);
            let through = way.iter().find(|(id, _)| {
                let element = &elements[*id];
                let other = element.part.as_ref().filter(|other| other != part && scene.shown.contains(*other));
                other.is_some_and(|other| by_current(scene, other))
                    && is_load(&element.law)
                    && seen.amps[*id].abs() > PART * most
            });
            let Some(other) = through.and_then(|step| elements[step.0].part.clone()) else { continue };
            // Where it works best it goes the same way: it is built so.
            let usual = |one: &str, other: &str| {
                full.get(one).is_some_and(|seen| goes_through(scene, &walks, seen, one, other))
            };
            if usual(part, &other) || usual(&other, part) {
                continue;
            }
            let shows: Vec<String> = [*part, &other]
                .into_iter()
                .filter(|part| scene.alive(seen, part))
                .filter_map(|part| Some(format!("{part} {}", scene.shows(seen, part)?)))
                .collect();
            let mut pair = [part.to_string(), other.clone()];
            pair.sort();
            if shows.is_empty() || !told.insert(pair) {
                continue;
            }
            let values = [
                ("part", part.to_string()),
                ("other", other.clone()),
                ("state", seen.told()),
                ("shows", tell::list(&shows)),
            ];
            out.push(scene.finding(Severity::Fails, "sneak-series", At::part(&scene.machine.netlist, part), &values));
        }
    }
    out
}

/// Does a part get its current through another in a state?
fn goes_through(scene: &Scene, walks: &Walks, seen: &Seen, part: &str, other: &str) -> bool {
    let elements = &scene.machine.sim.schematic().elements;
    let way = way_of(scene, walks, seen, part).unwrap_or_default();
    way.iter().any(|step| elements[step.0].part.as_deref() == Some(other) && is_load(&elements[step.0].law))
}

/// The way of a part's current from battery to battery in a state.
fn way_of(scene: &Scene, walks: &Walks, seen: &Seen, part: &str) -> Option<Vec<Step>> {
    let (high, low) = ends(scene, seen, part)?;
    let mut way = walks.steps(seen, &seen.volts, low, false, part);
    way.extend(walks.steps(seen, &seen.volts, high, true, part));
    Some(way)
}

/// What is at work with everything at rest and empties the battery.
fn at_rest(scene: &Scene) -> Option<Finding> {
    let rest = scene.seen.iter().find(|seen| seen.set.is_empty())?;
    let elements = &scene.machine.sim.schematic().elements;
    let takes = |part: &str| {
        let loads = scene.elements(part).iter().filter(|&&id| is_load(&elements[id].law));
        loads.map(|&id| rest.amps[id].abs()).fold(0.0, f64::max)
    };
    let awake = scene.shown.iter().filter(|part| by_current(scene, part) && takes(part) > scene.limit("sneak"));
    let awake: Vec<String> = awake.cloned().collect();
    let first = awake.first()?;
    let amps: f64 = awake.iter().map(|part| takes(part)).sum();
    let values = [
        ("parts", tell::list(&awake)),
        ("take", if awake.len() == 1 { "takes" } else { "take" }.to_string()),
        ("amps", tell::amps(amps)),
        ("day", format!("{:.0} Ah", 24.0 * amps)),
    ];
    Some(scene.finding(Severity::Marginal, "awake-at-rest", At::part(&scene.machine.netlist, first), &values))
}
