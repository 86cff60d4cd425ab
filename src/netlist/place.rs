//! Where on the machine things are.

use super::Netlist;
use petgraph::graph::NodeIndex;

impl Netlist {
    /// The places at which a named thing is: a wire's are those of its two ends, a plug's those of its halves; a wire end
    /// `W7.b` and whatever else stands before a dot as its owner. None where the file does not say.
    pub fn places_of<'a>(&'a self, name: &str) -> Vec<&'a String> {
        let at = |node: NodeIndex| self.graph[node].place.as_ref();
        let head = name.split('.').next().unwrap_or(name);
        let wire_end = name.rsplit_once('.').and_then(|(wire, end)| Some((self.wires.get(wire)?, end)));
        if let Some((wire, end)) = wire_end {
            return at(if end == "a" { wire.from } else { wire.to }).into_iter().collect();
        }
        if let Some(plug) = self.plugs.get(head) {
            return plug.places.iter().flatten().collect();
        }
        if let Some(ground) = self.grounds.get(head) {
            return at(ground.point).into_iter().collect();
        }
        if let Some(part) = self.parts.get(head) {
            return part.place.iter().collect();
        }
        match self.wires.get(name) {
            Some(wire) => [wire.from, wire.to].into_iter().filter_map(at).collect(),
            None => self.points.get(&name.to_lowercase()).and_then(|node| at(*node)).into_iter().collect(),
        }
    }

    /// Is this a place, and the name of nothing that is there? (Places have a namespace of their own.)
    pub fn is_place(&self, name: &str) -> bool {
        let thing = self.plugs.contains_key(name)
            || self.grounds.contains_key(name)
            || self.parts.contains_key(name)
            || self.wires.contains_key(name);
        self.places.contains_key(name) && !thing
    }

    /// Is a named thing at a place, whole or with one end?
    pub fn is_at(&self, name: &str, place: &str) -> bool {
        self.places_of(name).into_iter().any(|at| at == place)
    }
}
