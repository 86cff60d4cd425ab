//! What is drawn: points that hold volts, and what lies between them, before anybody knows where on the page.
//!
//! Copper that runs on without a branch is one [`What::Run`] of [`Bit`]s, from one [`Hub`] to the next.

use super::circuits::Set;
use super::state::Solved;
use crate::circuit::lower::SEAT;
use crate::circuit::schematic::{ElementId, Node};
use crate::diagnosis::machine::Machine;
use crate::netlist::{LinkKind, Netlist, PointKind};
use indexmap::IndexMap;
use petgraph::graph::{EdgeIndex, NodeIndex};
use std::collections::BTreeSet;

/// A point at which something begins, ends or branches.
#[derive(Clone, Debug, PartialEq)]
pub struct Hub {
    /// Its node.
    pub node: Node,
    /// What it is.
    pub what: HubKind,
    /// Volts over battery minus; `None` where nothing holds it.
    pub volts: Option<f64>,
}

/// What a hub is.
#[derive(Clone, Debug, PartialEq)]
pub enum HubKind {
    /// A pin of a part.
    Pin {
        /// The part.
        part: String,
        /// The pin.
        pin: String,
    },
    /// A sleeve, a cavity, an end of a wire.
    Joint,
    /// A ground stud.
    Stud,
    /// A piece of metal.
    Piece,
    /// A point inside a part.
    Inner,
}

/// Something between two hubs.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// What it is.
    pub what: What,
    /// Indices of its hubs, that of more volts first.
    pub ends: [usize; 2],
    /// Both ends have the same volts, to the grain.
    pub level: bool,
}

/// What lies between two hubs.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// Copper: pieces in a row, from the first end to the second.
    Run(Vec<Bit>),
    /// An element of a part.
    Element(ElementId),
    /// A stud's seat on its metal; the link's name is the ground point's.
    Seat(ElementId),
    /// A part that is not there: its place between two of its pins.
    Gap(String),
}

/// A piece of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Bit {
    /// What it is.
    pub what: BitKind,
    /// Where it begins and ends.
    pub nodes: [Node; 2],
    /// The links in it.
    pub links: Vec<ElementId>,
}

/// What a piece of a run is.
#[derive(Clone, Debug, PartialEq)]
pub enum BitKind {
    /// A wire with its joints, by its name; `broken` if no copper passes.
    Wire {
        /// Its name.
        name: String,
        /// No copper passes it.
        broken: bool,
    },
    /// The mated contact of a way.
    Way {
        /// The plug.
        plug: String,
        /// The way.
        way: String,
        /// It is parted.
        broken: bool,
    },
}

/// A group of elements as hubs and edges.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scene {
    /// Points.
    pub hubs: Vec<Hub>,
    /// What lies between them.
    pub edges: Vec<Edge>,
}

/// Volts finer than this are one height: no current that anybody speaks of loses less.
pub const GRAIN: f64 = 1e-5;

/// Volts in grains: what is equal so is drawn at one height.
pub fn grains(volts: f64) -> i64 {
    libm::round(volts / GRAIN) as i64
}

impl Scene {
    /// The scene of these elements.
    pub fn new(machine: &Machine, solved: &Solved, set: &Set) -> Scene {
        let mut build = Build { machine, solved, hubs: IndexMap::new(), edges: Vec::new() };
        build.parts(set);
        build.runs(set);
        let Build { hubs, edges, .. } = build;
        Scene { hubs: hubs.into_values().collect(), edges }
    }

    /// All elements in it, in no order.
    pub fn elements(&self) -> Vec<ElementId> {
        let mut out = Vec::new();
        for edge in &self.edges {
            match &edge.what {
                What::Run(bits) => out.extend(bits.iter().flat_map(|bit| bit.links.iter().copied())),
                What::Element(id) | What::Seat(id) => out.push(*id),
                What::Gap(_) => {}
            }
        }
        out
    }
}

struct Build<'a> {
    machine: &'a Machine,
    solved: &'a Solved,
    hubs: IndexMap<Node, Hub>,
    edges: Vec<Edge>,
}

impl Build<'_> {
    fn netlist(&self) -> &Netlist {
        &self.machine.netlist
    }

    fn hub(&mut self, node: Node) -> usize {
        if let Some(at) = self.hubs.get_index_of(&node) {
            return at;
        }
        let what = match self.point(node) {
            Some(PointKind::Pin { part, pin }) => HubKind::Pin { part: part.clone(), pin: pin.clone() },
            Some(PointKind::Stud) => HubKind::Stud,
            Some(PointKind::Piece) => HubKind::Piece,
            Some(_) => HubKind::Joint,
            None => HubKind::Inner,
        };
        self.hubs.insert(node, Hub { node, what, volts: self.solved.at(node) });
        self.hubs.len() - 1
    }

    fn point(&self, node: Node) -> Option<&PointKind> {
        self.netlist().graph.node_weight(NodeIndex::new(node)).map(|point| &point.what)
    }

    /// An edge with its end of more volts first; what ends where it began has no height and is left out.
    fn edge(&mut self, what: What, a: Node, b: Node) {
        let (va, vb) = (self.solved.at(a), self.solved.at(b));
        let ends = [self.hub(a), self.hub(b)];
        if ends[0] == ends[1] {
            return;
        }
        let seat = matches!(what, What::Seat(_));
        let level = !seat && va.map(grains) == vb.map(grains);
        // A bolt that carries nothing stands on its metal.
        let still = seat && va.map(grains) == vb.map(grains);
        let turned = match (va, vb) {
            _ if still => false,
            (Some(a), Some(b)) => a < b,
            (None, Some(_)) => true,
            _ => false,
        };
        let (what, ends) = if turned { (reversed(what), [ends[1], ends[0]]) } else { (what, ends) };
        self.edges.push(Edge { what, ends, level });
    }

    /// What lies inside parts, in the order of the file.
    fn parts(&mut self, set: &Set) {
        let schematic = self.machine.sim.schematic();
        let own: Vec<ElementId> = set.iter().copied().filter(|&id| schematic.elements[id].part.is_some()).collect();
        for id in own {
            let element = &schematic.elements[id];
            // Where a fault may sit in series with an element the circuit has a node more: to the eye it is one thing.
            let seat =
                schematic.by_name.get(&format!("{}{SEAT}", element.name)).map(|&seat| schematic.elements[seat].b);
            let end = seat.unwrap_or(element.b);
            if element.a != end && !element.name.ends_with(SEAT) {
                self.edge(What::Element(id), element.a, end);
            }
        }
        // Places of parts that are still in their box.
        let touched: BTreeSet<Node> =
            set.iter().flat_map(|&id| [schematic.elements[id].a, schematic.elements[id].b]).collect();
        let machine = self.machine;
        for part in machine.netlist.parts.values().filter(|part| !schematic.by_part.contains_key(&part.name)) {
            let mut pins = part.pins.values().map(|pin| pin.index()).filter(|node| touched.contains(node));
            if let (Some(a), Some(b)) = (pins.next(), pins.next())
                && a != b
            {
                self.edge(What::Gap(part.name.clone()), a, b);
            }
        }
    }

    /// Copper, from hub to hub.
    fn runs(&mut self, set: &Set) {
        let graph = &self.machine.netlist.graph;
        let links: Vec<EdgeIndex> =
            set.iter().filter(|&&id| id < graph.edge_count()).map(|&id| EdgeIndex::new(id)).collect();
        let mut at: IndexMap<NodeIndex, Vec<EdgeIndex>> = IndexMap::new();
        for &link in &links {
            if let Some((a, b)) = graph.edge_endpoints(link) {
                at.entry(a).or_default().push(link);
                at.entry(b).or_default().push(link);
            }
        }
        for (&node, links) in &at {
            let ends =
                !matches!(graph[node].what, PointKind::Conductor { .. } | PointKind::Way { .. } | PointKind::Sleeve);
            let parted = links.iter().any(|&link| !self.solved.present[link.index()]);
            if ends || links.len() != 2 || parted {
                self.hub(node.index());
            }
        }
        let mut done: BTreeSet<EdgeIndex> = BTreeSet::new();
        // Rings of copper without a hub get one.
        for round in 0..2 {
            for &link in &links {
                let Some((a, b)) = graph.edge_endpoints(link) else { continue };
                if done.contains(&link) {
                    continue;
                }
                if matches!(graph[link].what, LinkKind::Seat) {
                    done.insert(link);
                    let (stud, piece) = if matches!(graph[a].what, PointKind::Stud) { (a, b) } else { (b, a) };
                    self.edge(What::Seat(link.index()), stud.index(), piece.index());
                    continue;
                }
                if round == 1 {
                    self.hub(a.index());
                }
                for (start, next) in [(a, b), (b, a)] {
                    if self.hubs.contains_key(&start.index()) && !done.contains(&link) {
                        let (walked, end) = self.walk(link, next, &at);
                        done.extend(&walked);
                        let bits = self.bits(&walked, start);
                        self.edge(What::Run(bits), start.index(), end.index());
                    }
                }
            }
        }
    }

    /// Links from a first one on to the next hub.
    fn walk(
        &self,
        first: EdgeIndex,
        mut node: NodeIndex,
        at: &IndexMap<NodeIndex, Vec<EdgeIndex>>,
    ) -> (Vec<EdgeIndex>, NodeIndex) {
        let graph = &self.machine.netlist.graph;
        let mut out = vec![first];
        while !self.hubs.contains_key(&node.index()) {
            let next = at.get(&node).into_iter().flatten().find(|link| !out.contains(link));
            let Some((&link, (a, b))) = next.and_then(|link| Some((link, graph.edge_endpoints(*link)?))) else { break };
            out.push(link);
            node = if a == node { b } else { a };
        }
        (out, node)
    }

    /// Links put together to wires and contacts.
    fn bits(&self, links: &[EdgeIndex], start: NodeIndex) -> Vec<Bit> {
        let graph = &self.machine.netlist.graph;
        let mut out: Vec<Bit> = Vec::new();
        let mut node = start;
        for &link in links {
            let Some((a, b)) = graph.edge_endpoints(link) else { continue };
            let next = if a == node { b } else { a };
            let broken = !self.solved.present[link.index()];
            let site = &graph[link].site;
            let what = match graph[link].what {
                LinkKind::Mated | LinkKind::Seat => {
                    let (plug, way) = site.split_once('.').unwrap_or((site, ""));
                    BitKind::Way { plug: plug.to_string(), way: way.to_string(), broken }
                }
                LinkKind::Conductor => BitKind::Wire { name: site.clone(), broken },
                LinkKind::Joint(_) => {
                    let name = site.rsplit_once('.').map_or(site.as_str(), |(wire, _)| wire);
                    BitKind::Wire { name: name.to_string(), broken }
                }
            };
            match (out.last_mut(), &what) {
                (
                    Some(Bit { what: BitKind::Wire { name, broken: gone }, nodes, links }),
                    BitKind::Wire { name: same, .. },
                ) if name == same => {
                    *gone |= broken;
                    nodes[1] = next.index();
                    links.push(link.index());
                }
                _ => out.push(Bit { what, nodes: [node.index(), next.index()], links: vec![link.index()] }),
            }
            node = next;
        }
        out
    }
}

/// The same from its other end.
fn reversed(what: What) -> What {
    match what {
        What::Run(bits) => {
            What::Run(bits.into_iter().rev().map(|bit| Bit { nodes: [bit.nodes[1], bit.nodes[0]], ..bit }).collect())
        }
        other => other,
    }
}
