//! Links that no allowed probe can tell apart.
//!
//! Between two points that a probe can reach, or where the circuit branches, links in series read the
//! same to every instrument: an open sleeve inside a loom and an open wire beside it are one suspect to
//! a meter. Such a run is a segment; it is simulated once and repaired as one.

use crate::circuit::schematic::Schematic;
use crate::netlist::{LinkKind, Netlist};
use petgraph::graph::{EdgeIndex, NodeIndex};
use petgraph::visit::EdgeRef;

/// A maximal run of links in series with no reachable point and no branch between them.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// Links in order from `ends[0]` to `ends[1]`.
    pub links: Vec<EdgeIndex>,
    /// The points at its ends.
    pub ends: [NodeIndex; 2],
    /// Name for people and for repair classes: the site itself if it is one link, else `horn.feed..P9b.4`.
    pub name: String,
}

/// Splits every link of the netlist into segments; also tells, for each link, its segment.
pub fn segments(netlist: &Netlist, schematic: &Schematic) -> (Vec<Segment>, Vec<usize>) {
    let graph = &netlist.graph;
    let mut tapped = vec![false; graph.node_count()];
    for element in &schematic.elements[graph.edge_count()..] {
        for node in [element.a, element.b] {
            if node < tapped.len() {
                tapped[node] = true;
            }
        }
    }
    let inner = |node: NodeIndex| !graph[node].probeable && !tapped[node.index()] && graph.edges(node).count() == 2;
    let mut segment_of = vec![usize::MAX; graph.edge_count()];
    let mut out: Vec<Segment> = Vec::new();
    for edge in graph.edge_indices() {
        if segment_of[edge.index()] != usize::MAX {
            continue;
        }
        let (a, b) = graph.edge_endpoints(edge).expect("edge of this graph");
        let walk = |mut from: EdgeIndex, mut at: NodeIndex| {
            let mut links = Vec::new();
            while inner(at) {
                let Some(next) = graph.edges(at).map(|e| e.id()).find(|&id| id != from) else { break };
                if next == edge {
                    break;
                }
                links.push(next);
                let (x, y) = graph.edge_endpoints(next).expect("edge of this graph");
                at = if x == at { y } else { x };
                from = next;
            }
            (links, at)
        };
        let (mut links, start) = walk(edge, a);
        links.reverse();
        links.push(edge);
        let (after, end) = walk(edge, b);
        links.extend(after);
        links.dedup();
        for &link in &links {
            segment_of[link.index()] = out.len();
        }
        let name = match links.as_slice() {
            [only] => graph[*only].site.clone(),
            _ => run_name(netlist, &links, [start, end]),
        };
        out.push(Segment { links, ends: [start, end], name });
    }
    (out, segment_of)
}

/// One wire with its own joints keeps the wire's name; a longer run is named by its ends.
fn run_name(netlist: &Netlist, links: &[EdgeIndex], ends: [NodeIndex; 2]) -> String {
    let conductors: Vec<&str> = links
        .iter()
        .filter(|&&link| netlist.graph[link].what == LinkKind::Conductor)
        .map(|&link| netlist.graph[link].site.as_str())
        .collect();
    match conductors.as_slice() {
        [only] => (*only).to_string(),
        _ => format!("{}..{}", netlist.point_name(ends[0]), netlist.point_name(ends[1])),
    }
}
