//! Grounds: pins that have none, metal that nothing bonds, metal that one strap bonds, and thin things that carry what
//! a strap should.

use super::reach::passes;
use super::scene::Scene;
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::schematic::{Law, Node, When};
use crate::netlist::{PointKind, Wire};
use petgraph::graph::NodeIndex;
use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;

/// What the trade calls a ground pin, besides the kind's own word.
const GROUND_PIN: [&str; 3] = ["ground", "31", "-"];
/// Parts that hang on one strap before it is worth a line.
const MANY: usize = 3;

/// All that is found of grounds.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let mut out = Vec::new();
    out.extend(bare_pins(scene));
    out.extend(loose(scene));
    out.extend(thin(scene));
    out.extend(single(scene));
    out
}

/// Ground pins without a wire on parts that show something all the same, or show nothing at all.
fn bare_pins(scene: &Scene) -> Option<Finding> {
    let netlist = &scene.machine.netlist;
    let mut pins: Vec<(String, &str)> = Vec::new();
    for part in netlist.parts.values().filter(|part| part.fitted) {
        let Some(kind) = scene.machine.catalogue.kind(&part.kind) else { continue };
        let grounds = kind.pins.iter().filter(|(pin, also)| {
            GROUND_PIN.contains(&pin.as_str()) || also.iter().any(|name| GROUND_PIN.contains(&name.as_str()))
        });
        // A part that never works is told with its reason; the others would be left out.
        let dead = scene.words(&part.name).is_some() && scene.at_work(&part.name).is_none();
        for (pin, _) in grounds {
            let Some(&node) = part.pins.get(pin) else { continue };
            let used = kind.elements.values().any(|element| element.from == *pin || element.to == *pin);
            if used && !dead && netlist.graph.edges(node).next().is_none() {
                pins.push((format!("{}.{pin}", part.name), &part.name));
            }
        }
    }
    let (_, first) = pins.first()?;
    let names: Vec<String> = pins.iter().map(|(name, _)| name.clone()).collect();
    let values = [("pins", tell::list(&names)), ("have", if pins.len() == 1 { "has" } else { "have" }.to_string())];
    Some(scene.finding(Severity::Fails, "no-ground", At::part(netlist, first), &values))
}

/// What copper, and what always conducts, joins; one wire left out.
fn bonded(scene: &Scene, without: Option<&Wire>) -> UnionFind<usize> {
    let schematic = scene.machine.sim.schematic();
    let mut union = UnionFind::<usize>::new(schematic.nodes.len());
    for (id, element) in schematic.elements.iter().enumerate() {
        let cut = without.is_some_and(|wire| wire.links[1].index() == id);
        let moved = matches!(element.law, Law::Contact { when: When::Setting { .. } | When::Coil { .. }, .. });
        let one_way = matches!(element.law, Law::Diode { .. });
        if !cut && !moved && !one_way && passes(element, true).is_some() {
            union.union(element.a, element.b);
        }
    }
    union
}

/// Fitted parts grounded on what hangs together with a piece of metal.
fn parts_on<'s>(scene: &'s Scene, union: &UnionFind<usize>, piece: Node) -> Vec<&'s str> {
    let parts = scene.machine.netlist.parts.values().filter(|part| part.fitted);
    let on = parts.filter(|part| part.pins.values().any(|pin| union.find(pin.index()) == union.find(piece)));
    on.map(|part| part.name.as_str()).collect()
}

/// Pieces of metal with parts on them that nothing joins to battery minus.
fn loose(scene: &Scene) -> Vec<Finding> {
    let netlist = &scene.machine.netlist;
    let union = bonded(scene, None);
    let posts = scene.minus_posts();
    let mut out = Vec::new();
    let mut told: Vec<usize> = Vec::new();
    for (name, piece) in &netlist.pieces {
        let home = union.find(piece.point.index());
        if posts.iter().any(|&post| union.find(post) == home) || told.contains(&home) {
            continue;
        }
        told.push(home);
        let parts = parts_on(scene, &union, piece.point.index());
        if parts.is_empty() {
            continue;
        }
        let names: Vec<String> = parts.iter().map(|part| part.to_string()).collect();
        let at = At { site: name.clone(), place: None, span: Some(piece.span) };
        let values = [("piece", name.clone()), ("parts", tell::list(&names))];
        out.push(scene.finding(Severity::Hurts, "loose-metal", at, &values));
    }
    out
}

/// Is a wire a bond: does it join metal to metal, or metal to battery minus?
fn is_bond(scene: &Scene, wire: &Wire) -> bool {
    let netlist = &scene.machine.netlist;
    let metal = |end: NodeIndex| matches!(netlist.graph[end].what, PointKind::Piece | PointKind::Stud);
    let minus = |end: NodeIndex| scene.minus_posts().contains(&end.index());
    metal(wire.from) && (metal(wire.to) || minus(wire.to)) || minus(wire.from) && metal(wire.to)
}

/// Bonds that are no straps, by name or by their ohms, and carry what a strap should.
fn thin(scene: &Scene) -> Vec<Finding> {
    let netlist = &scene.machine.netlist;
    let rules = &scene.machine.catalogue.review;
    let cable = |wire: &Wire| {
        let named = |word: &String| wire.name.to_lowercase().contains(&word.to_lowercase());
        rules.lists.get("cables").is_some_and(|words| words.iter().any(named))
    };
    let poor = |wire: &Wire| netlist.graph[wire.links[1]].ohms >= rules.limit("poor-bond");
    let mut out = Vec::new();
    for wire in netlist.wires.values().filter(|wire| is_bond(scene, wire) && (cable(wire) || poor(wire))) {
        let id = wire.links[1].index();
        let states = scene.seen.iter().filter(|seen| !seen.stalled);
        let Some(seen) = states.max_by(|a, b| a.heat[id].total_cmp(&b.heat[id])) else { continue };
        let amps = seen.heat[id];
        if amps < rules.limit("shares-from") {
            continue;
        }
        let ohms = netlist.graph[wire.links[1]].ohms;
        let values = [
            ("bond", wire.name.clone()),
            ("amps", tell::amps(amps)),
            ("volts", tell::volts(amps * ohms)),
            ("watts", format!("{:.0} W", amps * amps * ohms)),
            ("state", seen.told()),
        ];
        out.push(scene.finding(Severity::Hurts, "cable-return", At::wire(netlist, &wire.name), &values));
    }
    out
}

/// Straps that a piece of metal with many parts on it hangs on alone, and what comes of their coming loose.
fn single(scene: &Scene) -> Vec<Finding> {
    let netlist = &scene.machine.netlist;
    let posts = scene.minus_posts();
    let mut out = Vec::new();
    let metal = |end: NodeIndex| matches!(netlist.graph[end].what, PointKind::Piece | PointKind::Stud);
    for wire in netlist.wires.values().filter(|wire| metal(wire.from) && metal(wire.to)) {
        let union = bonded(scene, Some(wire));
        let off = |end: NodeIndex| posts.iter().all(|&post| union.find(post) != union.find(end.index()));
        let Some(lost) = [wire.from, wire.to].into_iter().find(|&end| off(end)) else { continue };
        let parts = parts_on(scene, &union, lost.index());
        if parts.len() < MANY {
            continue;
        }
        // The state in which most is alive tells most.
        let alive = |seen: &super::scene::Seen| scene.shown.iter().filter(|part| scene.alive(seen, part)).count();
        let busy = scene.seen.iter().filter(|seen| !seen.stalled).max_by_key(|seen| alive(seen));
        let starters = scene.shown.iter().filter(|part| scene.listed("starting", part));
        let mut changed: Vec<String> = Vec::new();
        for seen in starters.filter_map(|part| scene.at_work(part)).chain(busy) {
            let (_, shows) = scene.hurt(seen, &Scene::without([wire.links[1].index()]));
            let differ = scene.shown.iter().zip(seen.shows.iter().zip(&shows)).filter(|(_, (then, now))| then != now);
            let differ: Vec<&String> = differ.map(|(part, _)| part).filter(|part| !changed.contains(part)).collect();
            changed.extend(differ.into_iter().cloned());
        }
        let piece = netlist
            .graph
            .edges(lost)
            .map(|edge| if edge.source() == lost { edge.target() } else { edge.source() })
            .find(|&other| netlist.graph[other].what == PointKind::Piece)
            .unwrap_or(lost);
        let piece = if netlist.graph[lost].what == PointKind::Piece { lost } else { piece };
        let values = [
            ("bond", wire.name.clone()),
            ("piece", netlist.point_name(piece).to_string()),
            ("count", parts.len().to_string()),
            ("names", tell::list(&changed)),
        ];
        out.push(scene.finding(Severity::Marginal, "single-bond", At::wire(netlist, &wire.name), &values));
    }
    out
}
