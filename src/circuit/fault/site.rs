//! What a site's name means in a machine: a piece of copper, a part, a plug, or a point.

use crate::netlist::{Joint, LinkKind, Netlist, PointKind};
use petgraph::graph::{EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;

/// A site of faults.
#[derive(Clone, Debug, PartialEq)]
pub enum Site {
    /// A conductor, joint, mated way or seat.
    Link(EdgeIndex),
    /// A part, by its key in the netlist.
    Part(String),
    /// A plug, by its key in the netlist.
    Plug(String),
    /// A point that is no link's site: a pin, a chassis piece, a sleeve, a plug half's cavity.
    Point(NodeIndex),
}

/// A wire's end: the wire's key and `'a'` or `'b'`.
pub type WireEnd<'a> = (&'a str, char);

/// The site of this name, without regard to case.
pub fn find(netlist: &Netlist, name: &str) -> Option<Site> {
    // Names are unique, so that what is found by its key at once goes before what has to be looked for.
    let (part, plug) = (netlist.parts.get_index_of(name), netlist.plugs.get_index_of(name));
    if part.is_none() && plug.is_none() {
        if let Some(edge) = netlist.link(name) {
            return Some(Site::Link(edge));
        }
        if let Some(point) = netlist.point(name) {
            return Some(Site::Point(point));
        }
    }
    if let Some(key) = key(netlist.parts.keys(), part, name) {
        return Some(Site::Part(key));
    }
    key(netlist.plugs.keys(), plug, name).map(Site::Plug)
}

fn key<'a>(mut keys: impl Iterator<Item = &'a String>, exact: Option<usize>, name: &str) -> Option<String> {
    match exact {
        Some(index) => keys.nth(index).cloned(),
        None => keys.find(|key| key.eq_ignore_ascii_case(name)).cloned(),
    }
}

/// Ends of wires that land on a terminal, in the order of the file.
pub fn ends_at(netlist: &Netlist, terminal: NodeIndex) -> Vec<WireEnd<'_>> {
    let mut joints: Vec<EdgeIndex> = joints_at(netlist, terminal).collect();
    // Wires are laid in the order of the file.
    joints.sort_unstable();
    joints.into_iter().filter_map(|joint| end_of(netlist, joint)).collect()
}

/// Do exactly so many wires' ends land on a terminal? A chassis has thousands: none is looked at in vain.
fn are_ends(netlist: &Netlist, terminal: NodeIndex, count: usize) -> bool {
    joints_at(netlist, terminal).take(count + 1).count() == count
}

fn joints_at(netlist: &Netlist, terminal: NodeIndex) -> impl Iterator<Item = EdgeIndex> {
    let joint = move |edge: &EdgeIndex| {
        let behind = end_of(netlist, *edge).and_then(|wire_end| end(netlist, wire_end));
        behind.is_some_and(|(_, at, _)| at == terminal)
    };
    netlist.graph.edges(terminal).map(|edge| edge.id()).filter(joint)
}

/// The wire's end whose joint this link is.
pub fn end_of(netlist: &Netlist, edge: EdgeIndex) -> Option<WireEnd<'_>> {
    if !matches!(netlist.graph.edge_weight(edge)?.what, LinkKind::Joint(_)) {
        return None;
    }
    let (a, b) = netlist.graph.edge_endpoints(edge)?;
    [a, b].into_iter().find_map(|node| {
        let PointKind::Conductor { wire, end: which } = &netlist.graph[node].what else { return None };
        let wire_end = (wire.as_str(), *which);
        (end(netlist, wire_end)?.0 == edge).then_some(wire_end)
    })
}

/// The joint, the terminal and the conductor point of a wire's end.
pub fn end(netlist: &Netlist, (wire, which): WireEnd<'_>) -> Option<(EdgeIndex, NodeIndex, NodeIndex)> {
    let wire = netlist.wires.get(wire)?;
    Some(match which {
        'a' => (wire.links[0], wire.from, wire.ends[0]),
        _ => (wire.links[2], wire.to, wire.ends[1]),
    })
}

/// The key of a link's table in [`crate::catalogue::Catalogue::joints`]; `None` for conductors.
pub fn joint_key(what: LinkKind) -> Option<&'static str> {
    Some(match what {
        LinkKind::Conductor => return None,
        LinkKind::Mated => "mated",
        LinkKind::Seat => "seat",
        LinkKind::Joint(joint) => match joint {
            Joint::Crimp => "crimp",
            Joint::Solder => "solder",
            Joint::Ring => "ring",
            Joint::Clamp => "clamp",
            Joint::CrimpSleeve => "crimp-sleeve",
            Joint::Twist => "twist",
        },
    })
}

/// The canonical site name of a link's open and resistive faults: a joint inside a sleeve that holds exactly
/// two ends and cannot be probed goes by the sleeve's name, for the two cannot be told apart.
pub fn canonical_link(netlist: &Netlist, edge: EdgeIndex) -> String {
    if let Some(wire_end) = end_of(netlist, edge)
        && let Some((_, terminal, _)) = end(netlist, wire_end)
        && is_sleeve(netlist, terminal)
        && are_ends(netlist, terminal, 2)
        // A probe on the bare sleeve tells its two joints apart.
        && !netlist.graph[terminal].probeable
    {
        return netlist.point_name(terminal).to_owned();
    }
    netlist.graph.edge_weight(edge).map_or_else(String::new, |link| link.site.clone())
}

/// The joint that a sleeve's own faults act on: that of the first wire's end in it.
pub fn sleeve_link(netlist: &Netlist, sleeve: NodeIndex) -> Option<EdgeIndex> {
    let first = *ends_at(netlist, sleeve).first()?;
    end(netlist, first).map(|(joint, _, _)| joint)
}

/// Other names of a link's faults: the cavity or pin that a lone end is crimped into, the ends in a sleeve.
pub fn link_aliases(netlist: &Netlist, edge: EdgeIndex) -> Vec<String> {
    let canonical = canonical_link(netlist, edge);
    let Some(wire_end) = end_of(netlist, edge) else { return Vec::new() };
    let Some((_, terminal, _)) = end(netlist, wire_end) else { return Vec::new() };
    let mut names: Vec<String> = Vec::new();
    if canonical != netlist.graph[edge].site {
        let ends = ends_at(netlist, terminal);
        names.extend(ends.iter().map(|(wire, which)| format!("{wire}.{which}")));
    } else if are_ends(netlist, terminal, 1)
        || is_sleeve(netlist, terminal) && ends_at(netlist, terminal).first() == Some(&wire_end)
    {
        names.push(netlist.point_name(terminal).to_string());
    }
    // A stud or a piece of metal has faults of its own.
    names
        .retain(|name| *name != canonical && !netlist.grounds.contains_key(name) && !netlist.pieces.contains_key(name));
    names
}

/// Is this point a sleeve?
pub fn is_sleeve(netlist: &Netlist, point: NodeIndex) -> bool {
    netlist.graph.node_weight(point).is_some_and(|point| point.what == PointKind::Sleeve)
}

/// Every site name of the machine, for "nearest".
pub fn names(netlist: &Netlist) -> Vec<String> {
    let links = netlist.graph.edge_weights().map(|link| link.site.clone());
    let parts =
        netlist.parts.keys().chain(netlist.plugs.keys()).chain(netlist.sleeves.keys()).chain(netlist.pieces.keys());
    links.chain(parts.cloned()).collect()
}
