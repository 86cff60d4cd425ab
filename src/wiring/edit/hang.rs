//! What goes with a part: wires and joints that then lead nowhere, and the parts that no current reaches any more.
//!
//! A part has its use while one of the things that it does lies on a way round from a source and back. Whoever had
//! that with the part there, and has it no more without it, belonged to it alone.

use crate::catalogue::kind::{ElementType, Measure};
use crate::catalogue::{Catalogue, Kind};
use crate::netlist::{Netlist, Part, PointKind};
use indexmap::{IndexMap, IndexSet};
use petgraph::graph::NodeIndex;
use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;

/// What goes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fallen {
    /// Parts and feeds, those that were named first.
    pub parts: IndexSet<String>,
    /// Wires.
    pub wires: IndexSet<String>,
    /// Sleeves that join nothing any more.
    pub sleeves: IndexSet<String>,
    /// Ground points with nothing under them.
    pub grounds: IndexSet<String>,
    /// Ways of plugs, by plug and way.
    pub ways: IndexSet<(String, String)>,
    /// Pins of fallen parts where wires of the supply meet that stay: these wires are then joined there.
    pub joints: IndexSet<NodeIndex>,
}

/// What goes if these parts go.
pub fn fallen(net: &Netlist, catalogue: &Catalogue, named: &IndexSet<String>) -> Fallen {
    let before = uses(net, catalogue, &Fallen::default());
    let supply = supply(net, catalogue);
    let mut out = Fallen { parts: named.clone(), ..Fallen::default() };
    loop {
        part_ways(net, &supply, &mut out);
        let after = uses(net, catalogue, &out);
        let useless: Vec<String> = net
            .parts
            .values()
            .filter(|part| !out.parts.contains(&part.name))
            .filter(|part| {
                after.get(&part.name) < before.get(&part.name)
                    || bare(net, part, &out)
                    || cut(net, catalogue, part, &out)
            })
            .map(|part| part.name.clone())
            .collect();
        if useless.is_empty() {
            return shared(net, out);
        }
        out.parts.extend(useless);
    }
}

/// What goes with these alone: wires that end there, ways and joints that then lead nowhere. What only lives by it stays.
pub(super) fn alone(net: &Netlist, catalogue: &Catalogue, mut out: Fallen) -> Fallen {
    part_ways(net, &supply(net, catalogue), &mut out);
    shared(net, out)
}

/// Wires and joints that go with the parts that are gone so far.
fn part_ways(net: &Netlist, supply: &IndexSet<NodeIndex>, out: &mut Fallen) {
    let pins = net.parts.values().filter(|part| out.parts.contains(&part.name)).flat_map(|part| part.pins.values());
    // What is written on a fuse's own row goes with the row.
    let listed = |pin: NodeIndex| matches!(&net.graph[pin].what, PointKind::Pin { part, pin } if pin == "out" && net.feeds.contains(part));
    out.joints = pins.copied().filter(|&pin| supply.contains(&pin) && !listed(pin)).collect();
    loose(net, out);
}

/// A stud that wires of the supply share is no more than where they meet.
fn shared(net: &Netlist, mut gone: Fallen) -> Fallen {
    let left = |pin: NodeIndex| wires_at(net, pin).filter(|wire| !gone.wires.contains(*wire)).count();
    gone.joints = gone.joints.iter().copied().filter(|&pin| left(pin) > 1).collect();
    gone
}

/// Points that wires alone join to a source or a fuse.
fn supply(net: &Netlist, catalogue: &Catalogue) -> IndexSet<NodeIndex> {
    let gives = |part: &&Part| {
        catalogue
            .kind(&part.kind)
            .is_some_and(|kind| kind.is_fuse() || kind.elements.values().any(|e| e.what == ElementType::Source))
    };
    let mut todo: Vec<NodeIndex> =
        net.parts.values().filter(gives).flat_map(|part| part.pins.values().copied()).collect();
    let mut out: IndexSet<NodeIndex> = todo.iter().copied().collect();
    while let Some(point) = todo.pop() {
        for next in net.graph.neighbors(point) {
            if out.insert(next) {
                todo.push(next);
            }
        }
    }
    out
}

/// Had wires, has none.
fn bare(net: &Netlist, part: &Part, gone: &Fallen) -> bool {
    lost(net, part.pins.values().copied(), gone)
}

fn lost(net: &Netlist, mut pins: impl Iterator<Item = NodeIndex>, gone: &Fallen) -> bool {
    let mut had = false;
    let has = pins.any(|pin| {
        wires_at(net, pin).any(|wire| {
            had = true;
            !gone.wires.contains(wire)
        })
    });
    had && !has
}

/// Is it there for its own sake, and not cut off because its own load goes?
pub(super) fn is_wanted(net: &Netlist, catalogue: &Catalogue, part: &str, gone: &Fallen) -> bool {
    let Some(part) = net.parts.get(part) else { return false };
    catalogue.kind(&part.kind).is_some_and(is_load) && !cut(net, catalogue, part, gone)
}

/// A switch each of whose contacts leads nowhere any more; a lamp in it is no use of its own.
fn cut(net: &Netlist, catalogue: &Catalogue, part: &Part, gone: &Fallen) -> bool {
    let Some(kind) = catalogue.kind(&part.kind) else { return false };
    let by_hand = kind.control.as_ref().is_some_and(|control| control.shared.is_none());
    let mut contacts = kind.elements.values().filter(|element| by_hand && !element.closed.is_empty()).peekable();
    contacts.peek().is_some()
        && contacts.all(|contact| {
            let pins = [&contact.from, &contact.to].map(|pin| part.pins.get(pin.as_str()).copied());
            pins.into_iter().flatten().any(|pin| lost(net, std::iter::once(pin), gone))
        })
}

/// Is it there for its own sake: does it light, sound, move or show?
pub(super) fn is_load(kind: &Kind) -> bool {
    kind.showings
        .iter()
        .any(|showing| !matches!(showing.by, Measure::Fuse { .. } | Measure::Contact { .. } | Measure::Flashes { .. }))
}

/// Names of the wires that end at a point.
fn wires_at(net: &Netlist, point: NodeIndex) -> impl Iterator<Item = &str> {
    net.graph.edges(point).filter_map(|edge| {
        let (wire, end) = net.graph[edge.id()].site.rsplit_once('.')?;
        (matches!(end, "a" | "b") && net.wires.contains_key(wire)).then_some(wire)
    })
}

/// Wires that end at something gone, and joints that are left with one wire, until nothing more goes.
fn loose(net: &Netlist, gone: &mut Fallen) {
    loop {
        let size = (gone.wires.len(), gone.sleeves.len(), gone.grounds.len(), gone.ways.len());
        let ended = net.wires.values().filter(|wire| [wire.from, wire.to].iter().any(|&end| is_gone(net, gone, end)));
        let ended: Vec<String> = ended.map(|wire| wire.name.clone()).collect();
        gone.wires.extend(ended);
        let left = |point: NodeIndex, gone: &Fallen| {
            let all: Vec<&str> = wires_at(net, point).collect();
            (all.len(), all.iter().filter(|wire| !gone.wires.contains(**wire)).count())
        };
        for (name, sleeve) in &net.sleeves {
            let (had, has) = left(sleeve.point, gone);
            if has < had && has < 2 {
                gone.sleeves.insert(name.clone());
            }
        }
        for (name, ground) in &net.grounds {
            let (had, has) = left(ground.point, gone);
            if had > 0 && has == 0 {
                gone.grounds.insert(name.clone());
            }
        }
        for plug in net.plugs.values() {
            for (name, way) in &plug.ways {
                let empty = way.halves.iter().any(|&half| {
                    let (had, has) = left(half, gone);
                    had > 0 && has == 0
                });
                if empty {
                    gone.ways.insert((plug.name.clone(), name.clone()));
                }
            }
        }
        if size == (gone.wires.len(), gone.sleeves.len(), gone.grounds.len(), gone.ways.len()) {
            return;
        }
    }
}

fn is_gone(net: &Netlist, gone: &Fallen, point: NodeIndex) -> bool {
    match &net.graph[point].what {
        PointKind::Pin { part, .. } => {
            let left = || wires_at(net, point).filter(|wire| !gone.wires.contains(*wire)).count();
            gone.parts.contains(part) && !(gone.joints.contains(&point) && left() > 1)
        }
        PointKind::Way { plug, way, .. } => gone.ways.contains(&(plug.clone(), way.clone())),
        PointKind::Sleeve => gone.sleeves.contains(&net.graph[point].name),
        PointKind::Stud => gone.grounds.contains(&net.graph[point].name),
        PointKind::Piece | PointKind::Conductor { .. } => false,
    }
}

/// How well each part is used: 2 on a way round with a source in it, 1 on a way round, 0 on none.
fn uses(net: &Netlist, catalogue: &Catalogue, gone: &Fallen) -> IndexMap<String, u8> {
    let mut joined = UnionFind::new(net.graph.node_count());
    for edge in net.graph.edge_references() {
        let (a, b) = (edge.source(), edge.target());
        let site = net.graph[edge.id()].site.as_str();
        let wire = site.rsplit_once('.').map_or(site, |(wire, _)| wire);
        let cut = gone.wires.contains(site) || gone.wires.contains(wire);
        if !cut && !is_gone(net, gone, a) && !is_gone(net, gone, b) {
            joined.union(a.index(), b.index());
        }
    }
    let mut edges: Vec<Edge> = Vec::new();
    let mut inner = net.graph.node_count();
    for part in net.parts.values().filter(|part| !gone.parts.contains(&part.name)) {
        let Some(kind) = catalogue.kind(&part.kind) else { continue };
        let mut nodes: IndexMap<&str, usize> = IndexMap::new();
        let node = |name: &'_ str| -> Option<usize> { part.pins.get(name).map(|pin| joined.find(pin.index())) };
        for (a, b) in contacts(part, kind) {
            if let (Some(a), Some(b)) = (node(&a), node(&b)) {
                edges.push(Edge { part: &part.name, element: None, ends: [a, b], source: false });
            }
        }
        for (name, element) in &kind.elements {
            let mut ends = [0; 2];
            for (end, at) in ends.iter_mut().zip([&element.from, &element.to]) {
                *end = match node(at) {
                    Some(pin) => pin,
                    None => *nodes.entry(at.as_str()).or_insert_with(|| {
                        inner += 1;
                        inner - 1
                    }),
                };
            }
            let source = matches!(element.what, ElementType::Source | ElementType::PulseSource);
            edges.push(Edge { part: &part.name, element: Some(name), ends, source });
        }
    }
    let levels = levels(inner, &edges);
    net.parts
        .values()
        .filter_map(|part| {
            let kind = catalogue.kind(&part.kind)?;
            let own: Vec<(Option<&str>, u8)> = edges
                .iter()
                .zip(&levels)
                .filter(|(edge, _)| edge.part == part.name)
                .map(|(edge, &level)| (edge.element, level))
                .collect();
            Some((part.name.clone(), use_of(kind, &own)))
        })
        .collect()
}

/// Something between two nodes.
struct Edge<'n> {
    part: &'n str,
    element: Option<&'n str>,
    ends: [usize; 2],
    source: bool,
}

/// Pins that a switch's table joins in some setting; all pins of a part that has nothing inside (a socket).
fn contacts(part: &Part, kind: &Kind) -> Vec<(String, String)> {
    let table = part.table.as_ref().map_or(&kind.table, |table| &table.settings);
    let mut groups: Vec<Vec<String>> = table.values().flatten().cloned().collect();
    if groups.is_empty() && kind.elements.is_empty() {
        groups.push(part.pins.keys().cloned().collect());
    }
    let pairs = groups.iter().flat_map(|group| group.windows(2).map(|two| (two[0].clone(), two[1].clone())));
    pairs.collect::<IndexSet<_>>().into_iter().collect()
}

/// What a part is there for: what it shows, else any of its elements. What gives current is never without use.
fn use_of(kind: &Kind, own: &[(Option<&str>, u8)]) -> u8 {
    if kind.elements.values().any(|e| matches!(e.what, ElementType::Source | ElementType::PulseSource)) {
        return 2;
    }
    let level = |name: &str| -> u8 {
        let of = |name: &str| own.iter().find(|(element, _)| *element == Some(name)).map_or(0, |(_, level)| *level);
        // A contact that a coil moves is worth no more than the coil.
        let coil = kind.elements.get(name).and_then(|element| element.coil.as_ref());
        coil.map_or(of(name), |(coil, _)| of(name).min(of(coil)))
    };
    // Any contact that a coil moves is what its relay is there for, whichever of them its showing is judged by.
    let moved = kind.elements.iter().filter(|(_, e)| e.coil.is_some()).map(|(name, _)| level(name)).max();
    let relay = |by: &Measure| match by {
        Measure::Contact { of } => moved.filter(|_| kind.elements.get(of).is_some_and(|e| e.coil.is_some())),
        _ => None,
    };
    // A gauge is there for its needle, whatever lights it.
    let needles = kind.showings.iter().any(|showing| showing.needle);
    let showings = kind.showings.iter().filter(|showing| showing.needle || !needles);
    let shown = showings
        .filter_map(|showing| relay(&showing.by).or_else(|| judged(&showing.by).into_iter().map(level).min()))
        .max();
    shown.unwrap_or_else(|| {
        let inside = kind.elements.keys().map(|name| level(name));
        inside.chain(own.iter().filter(|(element, _)| element.is_none()).map(|(_, level)| *level)).max().unwrap_or(0)
    })
}

/// Elements that a showing is judged by.
fn judged(by: &Measure) -> Vec<&str> {
    match by {
        Measure::VoltsRatio { of }
        | Measure::Level { of, .. }
        | Measure::Needle { of, .. }
        | Measure::Pulses { of, .. }
        | Measure::Flashes { of, .. }
        | Measure::Contact { of }
        | Measure::Pulled { of }
        | Measure::Fuse { of } => vec![of],
        Measure::AmpsShare { of, .. } => of.iter().map(String::as_str).collect(),
    }
}

/// The level of each edge: its block (what hangs together by more than one node) holds a source, is a way round, or
/// is the edge alone.
fn levels(nodes: usize, edges: &[Edge]) -> Vec<u8> {
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); nodes];
    for (i, edge) in edges.iter().enumerate() {
        for end in edge.ends {
            at[end].push(i);
        }
    }
    let mut out = vec![0u8; edges.len()];
    let mut depth = vec![0usize; nodes];
    let mut low = vec![0usize; nodes];
    let mut seen = vec![false; edges.len()];
    for root in 0..nodes {
        if depth[root] > 0 {
            continue;
        }
        depth[root] = 1;
        low[root] = 1;
        // Node, the edge it was reached by, how many of its edges have been looked at.
        let mut path: Vec<(usize, Option<usize>, usize)> = vec![(root, None, 0)];
        let mut open: Vec<usize> = Vec::new();
        while let Some(&(node, by, next)) = path.last() {
            if let Some(&edge) = at[node].get(next) {
                path.last_mut().expect("it was just looked at").2 += 1;
                if std::mem::replace(&mut seen[edge], true) {
                    continue;
                }
                let [a, b] = edges[edge].ends;
                let far = if a == node { b } else { a };
                if far == node {
                    // Both ends joined already: it does nothing.
                    continue;
                }
                open.push(edge);
                if depth[far] == 0 {
                    depth[far] = depth[node] + 1;
                    low[far] = depth[far];
                    path.push((far, Some(edge), 0));
                } else {
                    low[node] = low[node].min(depth[far]);
                }
                continue;
            }
            path.pop();
            let (Some(edge), Some(&(above, _, _))) = (by, path.last()) else { continue };
            low[above] = low[above].min(low[node]);
            if low[node] >= depth[above] {
                let from = open.iter().rposition(|&e| e == edge).unwrap_or(0);
                let block = open.split_off(from);
                let source = block.iter().any(|&e| edges[e].source);
                let level = if block.len() == 1 { 0 } else { 1 + u8::from(source) };
                block.iter().for_each(|&e| out[e] = level);
            }
        }
    }
    out
}
