//! Which elements belong to the circuits of some parts, and which go together on the page.

use super::state::Solved;
use crate::circuit::schematic::{ElementId, Law, Node, Schematic, When};
use crate::diagnosis::machine::Machine;
use petgraph::graph::NodeIndex;
use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

/// Passing a contact that is open, a load, beside a piece of copper: so many pieces.
const OPEN: u64 = 12;
const LOAD: u64 = 60;
/// No more than this is copper inside a part, ohm.
const COPPER: f64 = 0.1;
/// Passing a path that carries current costs so much less.
const QUIET: u64 = 4;
/// Less than this is no current, A.
const NOTHING: f64 = 1e-4;

/// Elements by number.
pub type Set = BTreeSet<ElementId>;

/// What stands together on the page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Band {
    /// What stands before its parts in its heading: the fuse that they hang on.
    pub head: Option<String>,
    /// The parts that it is there for.
    pub parts: Vec<String>,
    /// Its elements.
    pub set: Set,
}

impl Band {
    /// `F2: horn, stop-lamp`.
    pub fn title(&self) -> String {
        let parts = self.parts.join(", ");
        match &self.head {
            Some(head) if parts.is_empty() => head.clone(),
            Some(head) => format!("{head}: {parts}"),
            None => parts,
        }
    }
}

/// Finds the ways of a machine in one state.
pub struct Finder<'a> {
    machine: &'a Machine,
    solved: &'a Solved,
    at: Vec<Vec<ElementId>>,
    posts: BTreeSet<Node>,
    /// Sources with posts that one can touch.
    sources: Vec<ElementId>,
}

impl<'a> Finder<'a> {
    /// Ready to look.
    pub fn new(machine: &'a Machine, solved: &'a Solved) -> Finder<'a> {
        let schematic = machine.sim.schematic();
        let points = machine.netlist.graph.node_count();
        let mut at = vec![Vec::new(); schematic.nodes.len()];
        let mut sources = Vec::new();
        for (id, element) in schematic.elements.iter().enumerate() {
            at[element.a].push(id);
            at[element.b].push(id);
            if matches!(element.law, Law::Source { .. } | Law::Cell { .. }) && element.a < points && element.b < points
            {
                sources.push(id);
            }
        }
        let posts = sources.iter().flat_map(|&id| [schematic.elements[id].a, schematic.elements[id].b]).collect();
        Finder { machine, solved, at, posts, sources }
    }

    fn schematic(&self) -> &'a Schematic {
        self.machine.sim.schematic()
    }

    /// All that these parts work by: from each pin to a post of a battery, the windings that move the contacts on the
    /// way, what these work by, and the battery.
    pub fn circuits(&self, parts: &[String]) -> Set {
        let mut out = Set::new();
        let mut todo: Vec<String> = parts.to_vec();
        let mut done: BTreeSet<String> = BTreeSet::new();
        while let Some(part) = todo.pop() {
            if !done.insert(part.clone()) {
                continue;
            }
            let own: Set = self.schematic().by_part.get(&part).into_iter().flatten().copied().collect();
            let Some(known) = self.machine.netlist.parts.get(&part) else { continue };
            out.extend(&own);
            for pin in known.pins.values() {
                out.extend(self.way(pin.index(), &self.posts, &own));
            }
            // What moves a contact on the way is part of the story.
            for &id in &out {
                if let Law::Contact { when: When::Coil { coil, .. }, .. } = self.schematic().elements[id].law
                    && !out.contains(&coil)
                    && let Some(part) = &self.schematic().elements[coil].part
                {
                    todo.push(part.clone());
                }
            }
        }
        self.closed(out)
    }

    /// With the battery that it all hangs on, and each end that hangs loose led to it.
    fn closed(&self, mut out: Set) -> Set {
        self.whole(&mut out);
        let touched: BTreeSet<Node> = out
            .iter()
            .flat_map(|&id| [self.schematic().elements[id].a, self.schematic().elements[id].b])
            .filter(|node| self.posts.contains(node))
            .collect();
        for &id in &self.sources {
            let element = &self.schematic().elements[id];
            if touched.contains(&element.a) || touched.contains(&element.b) {
                out.insert(id);
            }
        }
        out
    }

    /// No wire is drawn by halves.
    fn whole(&self, out: &mut Set) {
        for wire in self.machine.netlist.wires.values() {
            if wire.links.iter().any(|link| out.contains(&link.index())) {
                out.extend(wire.links.iter().map(|link| link.index()));
            }
        }
    }

    /// With this element too, and the shortest ways from its ends to what is there already.
    pub fn with(&self, out: &mut Set, id: ElementId) {
        if out.contains(&id) {
            return;
        }
        let element = &self.schematic().elements[id];
        let there: BTreeSet<Node> =
            out.iter().flat_map(|&id| [self.schematic().elements[id].a, self.schematic().elements[id].b]).collect();
        let own = Set::from([id]);
        out.insert(id);
        for node in [element.a, element.b] {
            out.extend(self.way(node, if there.is_empty() { &self.posts } else { &there }, &own));
        }
        self.whole(out);
    }

    /// The elements of the easiest way from a node to any of these; nothing if there is none.
    fn way(&self, from: Node, to: &BTreeSet<Node>, without: &Set) -> Vec<ElementId> {
        let elements = &self.schematic().elements;
        let mut cost = vec![u64::MAX; self.at.len()];
        let mut by: Vec<Option<(ElementId, Node)>> = vec![None; self.at.len()];
        let mut open = BinaryHeap::from([Reverse((0u64, from))]);
        cost[from] = 0;
        while let Some(Reverse((so_far, node))) = open.pop() {
            if so_far > cost[node] {
                continue;
            }
            if to.contains(&node) {
                let (mut out, mut node) = (Vec::new(), node);
                while let Some((id, before)) = by[node] {
                    out.push(id);
                    node = before;
                }
                return out;
            }
            for &id in self.at[node].iter().filter(|id| !without.contains(id)) {
                let Some(step) = self.step(id) else { continue };
                let next = if elements[id].a == node { elements[id].b } else { elements[id].a };
                if so_far + step < cost[next] {
                    cost[next] = so_far + step;
                    by[next] = Some((id, node));
                    open.push(Reverse((so_far + step, next)));
                }
            }
        }
        Vec::new()
    }

    /// What passing an element costs; `None`: one does not pass.
    fn step(&self, id: ElementId) -> Option<u64> {
        let element = &self.schematic().elements[id];
        let kind = match &element.law {
            law if law.feeds() => return None,
            Law::Resistor { ohms } if element.part.is_none() || *ohms <= COPPER => 1,
            Law::Diode { .. } => 3,
            Law::PulseSource { .. } => 4,
            Law::Contact { .. } | Law::Interrupter { .. } if self.solved.present[id] => 1,
            Law::Contact { .. } => OPEN,
            _ => LOAD,
        };
        Some(kind + if self.solved.amps[id].abs() > NOTHING { 0 } else { QUIET })
    }

    /// A fuse, and its way to the battery's plus.
    fn feed(&self, fuse: &str) -> Set {
        let own: Set = self.schematic().by_part.get(fuse).into_iter().flatten().copied().collect();
        let plus: BTreeSet<Node> = self.sources.iter().map(|&id| self.schematic().elements[id].a).collect();
        let pins = self.machine.netlist.parts.get(fuse).into_iter().flat_map(|part| part.pins.values());
        let ways = pins.map(|pin| self.way(pin.index(), &plus, &own)).filter(|way| !way.is_empty());
        let nearest = ways.min_by_key(|way| way.iter().filter_map(|&id| self.step(id)).sum::<u64>());
        own.iter().copied().chain(nearest.into_iter().flatten()).collect()
    }

    /// The last fuse before a part on its way to the battery: what people sort circuits by.
    fn fuse(&self, part: &str) -> Option<String> {
        let own: Set = self.schematic().by_part.get(part).into_iter().flatten().copied().collect();
        let pins = self.machine.netlist.parts.get(part)?.pins.values();
        let plus: BTreeSet<Node> = self.sources.iter().map(|&id| self.schematic().elements[id].a).collect();
        let mut best: Option<(usize, String)> = None;
        for pin in pins {
            let way = self.way(pin.index(), &plus, &own);
            // The way is told from the battery on.
            let mut fuses = way.iter().filter_map(|&id| {
                let element = &self.schematic().elements[id];
                matches!(element.law, Law::Contact { when: When::Fuse { .. }, .. }).then(|| element.part.clone())?
            });
            if let Some(fuse) = fuses.next_back()
                && best.as_ref().is_none_or(|(length, _)| way.len() < *length)
            {
                best = Some((way.len(), fuse));
            }
        }
        best.map(|best| best.1)
    }

    /// The whole machine in groups of so many parts at most: power first, then fuse by fuse. Each element is in one.
    pub fn groups(&self, most: usize) -> Vec<Band> {
        let netlist = &self.machine.netlist;
        let words = &self.machine.catalogue.draw;
        let kind = |part: &str| netlist.parts.get(part).and_then(|part| self.machine.catalogue.kind(&part.kind));
        let is_fuse = |part: &str| kind(part).is_some_and(|kind| kind.is_fuse());
        let battery =
            |part: &str| self.sources.iter().any(|&id| self.schematic().elements[id].part.as_deref() == Some(part));
        let starts =
            |part: &str| kind(part).is_some_and(|kind| self.machine.catalogue.review.lists("starting", &kind.name));
        let loads = |part: &&String| {
            kind(part).is_some_and(|kind| !kind.showings.is_empty() && kind.control.is_none())
                && !is_fuse(part)
                && !starts(part)
                && !battery(part)
        };
        let mut by_fuse: Vec<(Option<String>, Vec<String>)> = Vec::new();
        for part in netlist.parts.keys().filter(loads) {
            let fuse = self.fuse(part);
            match by_fuse.iter_mut().find(|(known, _)| *known == fuse) {
                Some((_, parts)) => parts.push(part.clone()),
                None => by_fuse.push((fuse, vec![part.clone()])),
            }
        }
        by_fuse
            .sort_by_key(|(fuse, _)| fuse.as_ref().map_or(usize::MAX, |f| netlist.parts.get_index_of(f).unwrap_or(0)));
        let mut taken = Set::new();
        let mut out: Vec<Band> = Vec::new();
        let mut take = |head: Option<String>, parts: &[String], wanted: Set, out: &mut Vec<Band>| {
            let fresh: Set = wanted.difference(&taken).copied().collect();
            taken.extend(&fresh);
            if !fresh.is_empty() {
                out.push(Band { head, parts: parts.to_vec(), set: fresh });
            }
        };
        let first: Vec<String> = netlist.parts.keys().filter(|part| battery(part)).cloned().collect();
        let mut power = self.circuits(&first);
        for fuse in netlist.parts.keys().filter(|part| is_fuse(part)) {
            power.extend(self.feed(fuse));
        }
        self.whole(&mut power);
        take(Some(words.word("power").to_string()), &[], power, &mut out);
        for starter in netlist.parts.keys().filter(|part| starts(part)) {
            let alone = std::slice::from_ref(starter);
            take(None, alone, self.circuits(alone), &mut out);
        }
        for (fuse, parts) in by_fuse {
            for some in parts.chunks(most.max(1)) {
                take(fuse.clone(), some, self.circuits(some), &mut out);
            }
        }
        // What is left joins the group that it hangs on.
        let all = 0..self.schematic().elements.len();
        let mut left: Vec<ElementId> = all.filter(|id| !taken.contains(id)).collect();
        while !left.is_empty() {
            let before = left.len();
            left.retain(|&id| !self.join(&mut out, id));
            if left.len() == before {
                let head = Some(words.word("rest").to_string());
                out.push(Band { head, parts: Vec::new(), set: left.drain(..1).collect() });
            }
        }
        out
    }

    /// A band in two, each with half of its parts; nothing where there are no two parts.
    pub fn halved(&self, band: &Band) -> Option<[Band; 2]> {
        let (first, second) = band.parts.split_at(band.parts.len() / 2);
        let wanted = self.circuits(first);
        let one: Set = band.set.intersection(&wanted).copied().collect();
        let other: Set = band.set.difference(&one).copied().collect();
        let made = |parts: &[String], set| Band { head: band.head.clone(), parts: parts.to_vec(), set };
        (!one.is_empty() && !other.is_empty()).then(|| [made(first, one), made(second, other)])
    }

    /// Puts an element into the last group that it touches at a point of its own kind; false if it touches none.
    fn join(&self, groups: &mut [Band], id: ElementId) -> bool {
        let element = &self.schematic().elements[id];
        let piece = |node: Node| {
            node < self.machine.netlist.graph.node_count()
                && matches!(self.machine.netlist.graph[NodeIndex::new(node)].what, crate::netlist::PointKind::Piece)
        };
        let ends: Vec<Node> = [element.a, element.b].into_iter().filter(|&node| !piece(node)).collect();
        let ends = if ends.is_empty() { vec![element.a, element.b] } else { ends };
        let touches = |set: &Set| ends.iter().any(|&node| self.at[node].iter().any(|other| set.contains(other)));
        // The rest of its wire came with a piece that was joined before.
        if groups.iter().any(|band| band.set.contains(&id)) {
            return true;
        }
        let Some(at) = groups.iter().rposition(|band| touches(&band.set)) else { return false };
        groups[at].set.insert(id);
        self.whole(&mut groups[at].set);
        true
    }
}

/// A step of a way: an element, and the node that it leads to.
pub type Step = (ElementId, Node);

impl Finder<'_> {
    /// The way from a battery's plus through a part to a battery's minus: its first node, then step by step. Nothing if
    /// there is no such way in any state.
    pub fn through(&self, part: &str) -> Option<(Node, Vec<Step>)> {
        let elements = &self.schematic().elements;
        let own: Set = self.schematic().by_part.get(part).into_iter().flatten().copied().collect();
        let plus: BTreeSet<Node> = self.sources.iter().map(|&id| elements[id].a).collect();
        let minus: BTreeSet<Node> = self.sources.iter().map(|&id| elements[id].b).collect();
        let pins: Vec<Node> = self.machine.netlist.parts.get(part)?.pins.values().map(|pin| pin.index()).collect();
        // What stands on a post is there already.
        let ends = |posts: &BTreeSet<Node>| -> Vec<(u64, Node, Vec<ElementId>)> {
            let one = |&pin: &Node| {
                let way = self.way(pin, posts, &own);
                let cost = way.iter().filter_map(|&id| self.step(id)).sum();
                (posts.contains(&pin) || !way.is_empty()).then_some((cost, pin, way))
            };
            pins.iter().filter_map(one).collect()
        };
        let (feeds, grounds) = (ends(&plus), ends(&minus));
        let mut best: Option<(u64, Vec<ElementId>, Node)> = None;
        for (feed_cost, feed, up) in &feeds {
            for (ground_cost, ground, down) in grounds.iter().filter(|ground| ground.1 != *feed) {
                let inside = self.inside(*feed, *ground, &own);
                let quiet: u64 = inside.iter().filter(|&&id| self.solved.amps[id].abs() <= NOTHING).count() as u64;
                let cost = feed_cost + ground_cost + LOAD * quiet;
                if !inside.is_empty() && best.as_ref().is_none_or(|best| cost < best.0) {
                    // Ways are told from their post to the pin.
                    let way = up.iter().chain(&inside).chain(down.iter().rev()).copied().collect();
                    let start = up.first().map_or(*feed, |&id| {
                        let element = &elements[id];
                        if plus.contains(&element.a) { element.a } else { element.b }
                    });
                    best = Some((cost, way, start));
                }
            }
        }
        let (_, way, start) = best?;
        let mut node = start;
        let mut out = Vec::with_capacity(way.len());
        for id in way {
            node = if elements[id].a == node { elements[id].b } else { elements[id].a };
            out.push((id, node));
        }
        Some((start, out))
    }

    /// The fewest of a part's own elements from one of its pins to another.
    fn inside(&self, from: Node, to: Node, own: &Set) -> Vec<ElementId> {
        let elements = &self.schematic().elements;
        let mut ways: Vec<(Node, Vec<ElementId>)> = vec![(from, Vec::new())];
        let mut seen = BTreeSet::from([from]);
        let mut at = 0;
        while let Some((node, way)) = ways.get(at).cloned() {
            if node == to {
                return way;
            }
            for &id in self.at[node].iter().filter(|id| own.contains(id)) {
                let next = if elements[id].a == node { elements[id].b } else { elements[id].a };
                if seen.insert(next) {
                    ways.push((next, way.iter().copied().chain([id]).collect()));
                }
            }
            at += 1;
        }
        Vec::new()
    }
}
