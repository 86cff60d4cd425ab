//! Wires that a battery feeds with no fuse between, and how far they run so. What turns a starter is fed so by custom,
//! and counts as part of the post.

use super::reach::{Guard, cranking, elements_at, guards, passes, strong_sources};
use super::scene::Scene;
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::schematic::Node;
use crate::netlist::Wire;
use indexmap::IndexMap;
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};

/// A run without a fuse: its wires from the post on, and how far it goes.
struct Run<'w> {
    wires: Vec<&'w Wire>,
    metres: f64,
}

/// Runs without a fuse, longer than they may be.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let netlist = &scene.machine.netlist;
    let (near, sheathed) = (scene.limit("unfused"), scene.limit("unfused-sheathed"));
    let mut out = Vec::new();
    for run in runs(scene).into_iter().filter(|run| run.metres > near) {
        let severity = if run.metres > sheathed { Severity::Hurts } else { Severity::Marginal };
        let first = run.wires[0];
        let thin = run.wires.iter().map(|wire| wire.area).fold(f64::INFINITY, f64::min);
        let names: Vec<String> = run.wires.iter().map(|wire| tell::wire(wire)).collect();
        out.push(scene.finding(
            severity,
            if severity == Severity::Hurts { "unfused" } else { "unfused-short" },
            At::wire(netlist, &first.name),
            &[
                ("wires", tell::list(&names)),
                ("length", tell::metres(run.metres)),
                ("near", tell::metres(near)),
                ("sheathed", tell::metres(sheathed)),
                ("size", tell::area(thin)),
            ],
        ));
    }
    out
}

/// Runs without a fuse, told apart by the wire that leaves the post; nearest first along each.
fn runs<'s>(scene: &'s Scene) -> Vec<Run<'s>> {
    let schematic = scene.machine.sim.schematic();
    let (guards, cranking, at) = (guards(scene), cranking(scene), elements_at(scene));
    let bare = |node: Node| guards[node] == Guard::Bare;
    let wires: HashMap<usize, &Wire> =
        scene.machine.netlist.wires.values().map(|wire| (wire.links[1].index(), wire)).collect();
    let mut far: Vec<Option<(f64, Option<usize>)>> = vec![None; schematic.nodes.len()];
    // Millimetres, so that the heap can order them.
    let mut open: BinaryHeap<Reverse<(u64, Node, Option<usize>)>> = BinaryHeap::new();
    for node in strong_sources(scene) {
        open.push(Reverse((0, node, None)));
    }
    for (id, element) in schematic.elements.iter().enumerate().filter(|(id, _)| cranking[*id]) {
        if passes(&schematic.elements[id], true).is_some() {
            let ends = [element.a, element.b].into_iter().filter(|&node| bare(node));
            open.extend(ends.map(|node| Reverse((0, node, None))));
        }
    }
    let mut found: IndexMap<usize, Run<'s>> = IndexMap::new();
    while let Some(Reverse((mm, node, branch))) = open.pop() {
        if far[node].is_some() {
            continue;
        }
        far[node] = Some((mm as f64 / 1000.0, branch));
        for &id in at[node].iter().filter(|&&id| !cranking[id]) {
            let element = &schematic.elements[id];
            let next = if element.a == node { element.b } else { element.a };
            let through = passes(element, element.a == node);
            if far[next].is_some() || through != Some(None) || !bare(next) {
                continue;
            }
            let Some(wire) = wires.get(&id) else {
                open.push(Reverse((mm, next, branch)));
                continue;
            };
            let branch = branch.unwrap_or(id);
            let end = mm + (1000.0 * wire.length).round().max(0.0) as u64;
            let run = found.entry(branch).or_insert_with(|| Run { wires: Vec::new(), metres: 0.0 });
            if !run.wires.iter().any(|known| known.name == wire.name) {
                run.wires.push(wire);
            }
            run.metres = run.metres.max(end as f64 / 1000.0);
            open.push(Reverse((end, next, Some(branch))));
        }
    }
    found.into_values().collect()
}
