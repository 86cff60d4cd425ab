//! Parts that never do what they are there for, in any state looked at, and why.

use super::reach::passes;
use super::scene::{Scene, Seen, is_load};
use super::tell::{self, At};
use super::walk::ends;
use super::ways::both;
use super::{Finding, Severity};
use crate::catalogue::kind::Measure;
use crate::circuit::schematic::{Elem, Law, Node, When};
use indexmap::IndexMap;
use petgraph::graph::NodeIndex;
use petgraph::unionfind::UnionFind;
use std::collections::HashSet;

/// Why a part gets nothing.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
enum Why {
    /// A pin of it has no wire.
    NoWire(String),
    /// Nothing joins it to battery minus, whatever is set.
    NoGround(String),
    /// Nothing joins it to battery plus, whatever is set.
    NoFeed(String),
    /// What lets it have feed keeps it from ground: controls that would have to stand in two settings at once.
    Contradiction(String),
    /// There are ways, and it gets no more than this share of the battery's volts.
    Weak(String),
}

/// Parts that never work.
pub fn never(scene: &Scene) -> Vec<Finding> {
    let mut by_why: IndexMap<Why, Vec<&str>> = IndexMap::new();
    for part in &scene.shown {
        let Some(kind) =
            scene.machine.netlist.parts.get(part).and_then(|part| scene.machine.catalogue.kind(&part.kind))
        else {
            continue;
        };
        let Some(showing) = kind.showings.first().filter(|showing| showing.works.is_some()) else { continue };
        // A contact is somebody else's load; a fuse is whole.
        if matches!(showing.by, Measure::Fuse { .. }) || scene.at_work(part).is_some() {
            continue;
        }
        let alive = scene.seen.iter().any(|seen| !seen.stalled && scene.alive(seen, part));
        let by_volts = matches!(showing.by, Measure::VoltsRatio { .. } | Measure::Level { .. });
        let why = structure(scene, part);
        let why = match why {
            Some(why) if !alive => why,
            // What was not looked at may be what it works in.
            _ if scene.left > 0 => continue,
            // A needle that rests may have nothing to show; an engine's spark comes with the engine.
            _ if !by_volts || scene.elements(part).iter().any(|&id| is_pulse(scene, id)) => continue,
            _ => match weak(scene, part) {
                Some(why) => why,
                None => continue,
            },
        };
        by_why.entry(why).or_default().push(part);
    }
    by_why.iter().map(|(why, parts)| line(scene, why, parts)).collect()
}

fn is_pulse(scene: &Scene, id: usize) -> bool {
    matches!(scene.machine.sim.schematic().elements[id].law, Law::PulseSource { .. } | Law::By { .. })
}

fn line(scene: &Scene, why: &Why, parts: &[&str]) -> Finding {
    let names: Vec<String> = parts.iter().map(|part| part.to_string()).collect();
    let (sort, what) = match why {
        Why::NoWire(what) => ("never-wire", what),
        Why::NoGround(what) => ("never-ground", what),
        Why::NoFeed(what) => ("never-feed", what),
        Why::Contradiction(what) => ("never-satisfied", what),
        Why::Weak(what) => ("never-weak", what),
    };
    let do_ = if parts.len() == 1 { "does" } else { "do" };
    let values = [("parts", tell::list(&names)), ("do", do_.to_string()), ("what", what.clone())];
    scene.finding(Severity::Fails, sort, At::part(&scene.machine.netlist, parts[0]), &values)
}

/// The loads of a part: ends of what uses what it is given.
fn loads(scene: &Scene, part: &str) -> Vec<(Node, Node)> {
    let elements = &scene.machine.sim.schematic().elements;
    let own = || scene.elements(part).iter().map(|&id| &elements[id]);
    // (behind a filament sits the holder's contact, of no ohms to speak of)
    let pin = |node: Node| {
        let seat = own().find(|e| e.a == node && e.law != Law::Open && !is_load(&e.law) && passes(e, true).is_some());
        seat.filter(|_| node >= scene.machine.netlist.graph.node_count()).map_or(node, |seat| seat.b)
    };
    let loads: Vec<(Node, Node)> = own().filter(|e| is_load(&e.law)).map(|e| (e.a, pin(e.b))).collect();
    if loads.is_empty() { own().map(|e| (e.a, e.b)).collect() } else { loads }
}

/// What the structure alone says.
fn structure(scene: &Scene, part: &str) -> Option<Why> {
    let netlist = &scene.machine.netlist;
    let schematic = scene.machine.sim.schematic();
    let ends = loads(scene, part);
    let points = netlist.graph.node_count();
    let own = || scene.elements(part).iter().map(|&id| &schematic.elements[id]);
    let used = |node: Node| own().any(|element| element.a == node || element.b == node);
    for (pin, &node) in &netlist.parts.get(part)?.pins {
        if used(node.index()) && netlist.graph.edges(node).next().is_none() {
            return Some(Why::NoWire(format!("{part}.{pin}")));
        }
    }
    if fed_by_copper(scene, own(), &ends) {
        return contradiction(scene, &ends);
    }
    // Whatever may ever pass, the part itself left out.
    let mut union = UnionFind::<usize>::new(schematic.nodes.len());
    for element in schematic.elements.iter().filter(|e| e.part.as_deref() != Some(part) && e.law != Law::Open) {
        union.union(element.a, element.b);
    }
    let joined = |node: Node, ends: &[Node]| ends.iter().any(|&end| union.find(node) == union.find(end));
    let (plus, minus) = (scene.plus_posts(), scene.minus_posts());
    for &(a, b) in ends.iter().filter(|(a, b)| *a < points && *b < points) {
        let name = |node: Node| netlist.point_name(NodeIndex::new(node)).to_string();
        match (joined(a, &plus), joined(b, &minus)) {
            (false, _) if !joined(a, &minus) => return Some(Why::NoFeed(name(a))),
            (_, false) if !joined(b, &plus) => return Some(Why::NoGround(name(b))),
            _ => {}
        }
    }
    contradiction(scene, &ends)
}

/// Do copper and contacts alone join the loads of a part without contacts to plus and to minus? Then what else may
/// pass changes nothing of it, and need not be looked through for each part.
fn fed_by_copper<'e>(scene: &Scene, mut own: impl Iterator<Item = &'e Elem>, ends: &[(Node, Node)]) -> bool {
    let fed = scene.fed.get_or_init(|| Fed::new(scene));
    let points = scene.machine.netlist.graph.node_count();
    own.all(|element| !is_contact(element))
        && ends.iter().filter(|(a, b)| *a < points && *b < points).all(|&(a, b)| {
            let (plus, minus) = (|node: Node| fed.plus[node], |node: Node| fed.minus[node]);
            (plus(a) || minus(a)) && (minus(b) || plus(b))
        })
}

fn is_contact(element: &Elem) -> bool {
    matches!(element.law, Law::Contact { .. })
}

/// Which nodes copper and contacts, however they stand, join to the posts of the batteries.
pub struct Fed {
    plus: Vec<bool>,
    minus: Vec<bool>,
}

impl Fed {
    fn new(scene: &Scene) -> Fed {
        let schematic = scene.machine.sim.schematic();
        let mut union = UnionFind::<usize>::new(schematic.nodes.len());
        let copper = |e: &&Elem| e.part.is_none() && matches!(e.law, Law::Resistor { .. });
        for element in schematic.elements.iter().filter(|e| copper(e) || is_contact(e)) {
            union.union(element.a, element.b);
        }
        let joined = |posts: &[Node]| -> Vec<bool> {
            let posts: HashSet<usize> = posts.iter().map(|&post| union.find(post)).collect();
            (0..schematic.nodes.len()).map(|node| posts.contains(&union.find(node))).collect()
        };
        Fed { plus: joined(&scene.plus_posts()), minus: joined(&scene.minus_posts()) }
    }
}

/// Ways to plus and to minus that never go together.
fn contradiction(scene: &Scene, ends: &[(Node, Node)]) -> Option<Why> {
    let controls = &scene.machine.sim.schematic().controls;
    let say = |control: usize, setting: usize| -> Option<String> {
        let (name, info) = controls.get_index(control)?;
        Some(format!("{name} {}", info.settings.get(setting)?))
    };
    for &(a, b) in ends {
        for (p, m) in [(a, b), (b, a)] {
            let (plus, minus) = (scene.ways.plus[p].first(), scene.ways.minus[m].first());
            let (Some(plus), Some(minus)) = (plus, minus) else { continue };
            if scene.ways.between(a, b).is_empty() && both(plus, minus).is_none() {
                let clash = plus.iter().find(|(control, setting)| minus.get(control).is_some_and(|s| s != *setting));
                let (&control, &setting) = clash?;
                let told = format!(
                    "{} for its feed and {} for its ground",
                    say(control, setting)?,
                    say(control, minus[&control])?
                );
                return Some(Why::Contradiction(told));
            }
        }
    }
    None
}

/// The most volts that it ever gets.
fn weak(scene: &Scene, part: &str) -> Option<Why> {
    let over = |seen: &Seen| ends(scene, seen, part).map_or(0.0, |(high, low)| seen.volts[high] - seen.volts[low]);
    let states = scene.seen.iter().filter(|seen| !seen.stalled);
    let best = states.max_by(|a, b| over(a).total_cmp(&over(b)))?;
    let (battery, ..) = scene.battery(best)?;
    let volts = over(best);
    if volts < 0.05 {
        let shut: Vec<&str> = shut(scene, part);
        let behind = if shut.is_empty() { String::new() } else { format!(", behind {}", shut.join(", ")) };
        return Some(Why::Weak(format!("no volts in any state looked at{behind}")));
    }
    Some(Why::Weak(format!(
        "{} of the battery's {} at most, {}",
        tell::volts(volts),
        tell::volts(battery),
        best.told()
    )))
}

/// Switches beside the part: contacts that stand between its copper and what feeds it.
fn shut<'s>(scene: &'s Scene, part: &str) -> Vec<&'s str> {
    let schematic = scene.machine.sim.schematic();
    let mut union = UnionFind::<usize>::new(schematic.nodes.len());
    for element in schematic.elements.iter().filter(|e| matches!(e.law, Law::Resistor { .. })) {
        if passes(element, true).is_some() {
            union.union(element.a, element.b);
        }
    }
    let own: Vec<usize> = loads(scene, part).into_iter().flat_map(|(a, b)| [union.find(a), union.find(b)]).collect();
    let contacts = schematic.elements.iter().filter(|e| {
        matches!(e.law, Law::Contact { when: When::Setting { .. } | When::Coil { .. }, .. })
            && [e.a, e.b].iter().any(|&node| own.contains(&union.find(node)))
    });
    let mut names: Vec<&str> = contacts.filter_map(|e| e.part.as_deref()).filter(|name| *name != part).collect();
    names.dedup();
    names
}
