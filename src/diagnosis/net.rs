//! Nets: what copper alone joins, from pin to pin.
//!
//! Where along two nets they touch each other makes millivolts of difference and no other, while no plug on them is
//! parted: one repair, whichever of their wires it is, and a suspect for each stretch between plugs.

use crate::netlist::{LinkKind, Netlist, PointKind};
use petgraph::unionfind::UnionFind;

/// Number of the net of each point, and a name for each net.
#[derive(Clone, Debug, Default)]
pub struct Nets {
    /// By node index.
    pub of: Vec<usize>,
    /// By node index of the representative.
    pub names: Vec<String>,
}

/// Joins points by wires, joints and mated contacts; ground points and chassis pieces hang together as one net.
pub fn nets(netlist: &Netlist) -> Nets {
    joined(netlist, true)
}

/// The same with every plug parted: nets fall into the stretches between them.
pub fn stretches(netlist: &Netlist) -> Nets {
    joined(netlist, false)
}

fn joined(netlist: &Netlist, mated: bool) -> Nets {
    let graph = &netlist.graph;
    let mut union = UnionFind::<usize>::new(graph.node_count());
    for edge in graph.edge_indices() {
        if let Some((a, b)) = graph.edge_endpoints(edge)
            && (mated || graph[edge].what != LinkKind::Mated)
            && matches!(graph[edge].what, LinkKind::Conductor | LinkKind::Joint(_) | LinkKind::Mated | LinkKind::Seat)
        {
            union.union(a.index(), b.index());
        }
    }
    let of: Vec<usize> = (0..graph.node_count()).map(|n| union.find(n)).collect();
    let mut names = vec![String::new(); graph.node_count()];
    // A piece gives the ground net its name; else the first pin.
    for node in graph.node_indices() {
        let name = &mut names[of[node.index()]];
        match graph[node].what {
            PointKind::Piece => graph[node].name.clone_into(name),
            PointKind::Pin { .. } if name.is_empty() => graph[node].name.clone_into(name),
            _ => {}
        }
    }
    for node in graph.node_indices() {
        let name = &mut names[of[node.index()]];
        if name.is_empty() {
            graph[node].name.clone_into(name);
        }
    }
    Nets { of, names }
}

impl Nets {
    /// Two nets joined by `~`, in canonical order.
    pub fn pair(&self, a: usize, b: usize) -> String {
        crate::circuit::fault::pair(&self.names[self.of[a]], &self.names[self.of[b]])
    }
}
