//! What can drive a big current into a point: through which fuse a battery reaches it, if through any.

use super::scene::Scene;
use crate::circuit::schematic::{Elem, ElementId, Law, Node, When};
use std::collections::BinaryHeap;

/// No more than this lets a short's current through, ohm.
const PASSES: f64 = 0.1;

/// The weakest fuse on the strongest way from a battery to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Guard {
    /// No battery reaches it but through a load.
    None,
    /// A battery reaches it with no fuse between.
    Bare,
    /// At the least this fuse is between.
    Fuse {
        /// A
        amps: f64,
        /// its contact
        element: ElementId,
    },
}

impl Guard {
    /// Amps that it lets through for good.
    pub fn amps(self) -> f64 {
        match self {
            Guard::None => 0.0,
            Guard::Bare => f64::INFINITY,
            Guard::Fuse { amps, .. } => amps,
        }
    }
}

/// Whether an element lets a short's current through from `a` (or from `b`), whatever is set, and the fuse in it.
pub fn passes(element: &Elem, from_a: bool) -> Option<Option<f64>> {
    match &element.law {
        // However thin a wire is, a short's current goes through it.
        Law::Resistor { ohms } if element.part.is_none() || *ohms <= PASSES => Some(None),
        Law::Interrupter { ohms, hertz, .. } if *ohms <= PASSES && *hertz < 3.0 => Some(None),
        Law::Diode { .. } if from_a => Some(None),
        Law::Contact { ohms, when } if *ohms <= PASSES => Some(match when {
            When::Fuse { amps, .. } => Some(*amps),
            _ => None,
        }),
        _ => None,
    }
}

/// Plus posts of batteries that can give enough to burn a wire.
pub fn strong_sources(scene: &Scene) -> Vec<Node> {
    let least = scene.limit("strong-source");
    let elements = &scene.machine.sim.schematic().elements;
    let strong = scene.batteries.iter().filter(|&&id| match elements[id].law {
        Law::Source { volts, ohms } | Law::Cell { volts, ohms, .. } => volts / ohms.max(1e-9) >= least,
        _ => false,
    });
    strong.map(|&id| elements[id].a).collect()
}

/// Elements at each node.
pub fn elements_at(scene: &Scene) -> Vec<Vec<ElementId>> {
    let schematic = scene.machine.sim.schematic();
    let mut at: Vec<Vec<ElementId>> = vec![Vec::new(); schematic.nodes.len()];
    for (id, element) in schematic.elements.iter().enumerate() {
        at[element.a].push(id);
        if element.b != element.a {
            at[element.b].push(id);
        }
    }
    at
}

/// The guard of each node: the widest way from any battery, by its narrowest fuse.
pub fn guards(scene: &Scene) -> Vec<Guard> {
    let schematic = scene.machine.sim.schematic();
    let at = elements_at(scene);
    let mut guard = vec![Guard::None; schematic.nodes.len()];
    // Bits of a positive float are in its order.
    let mut open: BinaryHeap<(u64, Node)> = BinaryHeap::new();
    for node in strong_sources(scene) {
        guard[node] = Guard::Bare;
        open.push((f64::INFINITY.to_bits(), node));
    }
    while let Some((bits, node)) = open.pop() {
        let now = guard[node];
        if now.amps().to_bits() != bits {
            continue;
        }
        for &id in &at[node] {
            let element = &schematic.elements[id];
            let from_a = element.a == node;
            let next = if from_a { element.b } else { element.a };
            let Some(fuse) = passes(element, from_a) else { continue };
            let then = match fuse {
                Some(amps) if amps < now.amps() => Guard::Fuse { amps, element: id },
                _ => now,
            };
            if then.amps() > guard[next].amps() {
                guard[next] = then;
                open.push((then.amps().to_bits(), next));
            }
        }
    }
    guard
}

/// Elements that carry the current of a starter: half of it or more while it turns.
pub fn cranking(scene: &Scene) -> Vec<bool> {
    let mut out = vec![false; scene.machine.sim.schematic().elements.len()];
    for part in scene.shown.iter().filter(|part| scene.listed("starting", part)) {
        for seen in scene.seen.iter().filter(|seen| scene.works(seen, part)) {
            let most = scene.elements(part).iter().map(|&id| seen.amps[id].abs()).fold(0.0, f64::max);
            for (out, amps) in out.iter_mut().zip(&seen.amps) {
                *out |= amps.abs() >= 0.5 * most;
            }
        }
    }
    out
}

/// Is a starter at work in a state?
pub fn cranks(scene: &Scene, seen: &super::scene::Seen) -> bool {
    scene.shown.iter().any(|part| scene.listed("starting", part) && scene.works(seen, part))
}
