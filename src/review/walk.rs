//! The way that a part's current takes: from its pin to the battery, element by element.

use super::reach::elements_at;
use super::scene::{Scene, Seen, is_load};
use crate::circuit::schematic::{ElementId, Node};

/// One element of the way and the volts that are lost in it.
pub type Step = (ElementId, f64);

/// Less than this is no way, A.
const NOTHING: f64 = 1e-4;

/// Walks of one machine.
pub struct Walks<'s> {
    scene: &'s Scene<'s>,
    at: Vec<Vec<ElementId>>,
}

impl<'s> Walks<'s> {
    /// Ready to walk.
    pub fn new(scene: &'s Scene<'s>) -> Walks<'s> {
        Walks { scene, at: elements_at(scene) }
    }

    /// From `start` to a battery along the greatest amps: into `start` from its feed (`upstream`), else out of it to its
    /// return; elements of the part itself are not taken. It ends early where the amps do. Volts lost are told from
    /// `volts`, those of the state or a mean of them.
    pub fn steps(&self, seen: &Seen, volts: &[f64], start: Node, upstream: bool, part: &str) -> Vec<Step> {
        let posts = if upstream { self.scene.plus_posts() } else { self.scene.minus_posts() };
        let elements = &self.scene.machine.sim.schematic().elements;
        let sign = if upstream { -1.0 } else { 1.0 };
        let mut visited = vec![false; self.at.len()];
        let mut node = start;
        let mut out = Vec::new();
        while !posts.contains(&node) {
            visited[node] = true;
            let away = |id: ElementId| sign * if elements[id].a == node { seen.amps[id] } else { -seen.amps[id] };
            let other = |id: ElementId| if elements[id].a == node { elements[id].b } else { elements[id].a };
            let ways = self.at[node].iter().copied();
            let ways = ways.filter(|&id| elements[id].part.as_deref() != Some(part) && !visited[other(id)]);
            let Some(id) = ways.max_by(|&a, &b| away(a).total_cmp(&away(b))).filter(|&id| away(id) > NOTHING) else {
                break;
            };
            let next = other(id);
            out.push((id, sign * (volts[node] - volts[next])));
            node = next;
        }
        out
    }
}

/// The pin by which most current goes into a part in a state, and the one by which most comes out; what a switch lets
/// through to others is not its own.
pub fn ends(scene: &Scene, seen: &Seen, part: &str) -> Option<(Node, Node)> {
    let switch = scene.machine.sim.schematic().controls.contains_key(part);
    let elements = &scene.machine.sim.schematic().elements;
    let own = || scene.elements(part).iter().copied().filter(|&id| !switch || is_load(&elements[id].law));
    // Amps out of the pin into the part.
    let into = |node: Node| -> f64 {
        own()
            .map(|id| match (elements[id].a == node, elements[id].b == node) {
                (true, false) => seen.amps[id],
                (false, true) => -seen.amps[id],
                _ => 0.0,
            })
            .sum()
    };
    let pins: Vec<(Node, f64)> =
        scene.machine.netlist.parts.get(part)?.pins.values().map(|pin| (pin.index(), into(pin.index()))).collect();
    let (high, most) = pins.iter().copied().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let (low, least) = pins.iter().copied().min_by(|a, b| a.1.total_cmp(&b.1))?;
    (high != low && most > NOTHING && least < -NOTHING).then_some((high, low))
}
