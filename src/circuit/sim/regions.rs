//! What an injury parts and joins: which nodes still have a path between them.

use super::base::Base;
use super::config::Taps;
use super::ports::Injected;

/// A region's name after these joins, each of which gives up its first name for its second.
pub(super) fn follow(joins: &[(u32, u32)], mut region: u32) -> u32 {
    for &(gone, kept) in joins {
        if region == gone {
            region = kept;
        }
    }
    region
}

impl Injected {
    /// The region of a node: its island, or the smallest part of it that is cut off and holds the node.
    pub fn region(&self, base: &Base, node: usize) -> u32 {
        if self.cuts.is_empty() {
            return base.islands[node];
        }
        let entered = base.entered(node);
        let around = self.cuts.iter().enumerate().filter(|(_, (from, to))| (*from..*to).contains(&entered));
        match around.min_by_key(|(_, (from, to))| to - from) {
            Some((cut, _)) => (base.ties.len() + cut) as u32,
            None => base.islands[node],
        }
    }

    /// A branch between regions makes one of them.
    pub fn join(&mut self, base: &Base, taps: &Taps) {
        let mut nodes = taps.as_slice().iter().filter(|(_, weight)| *weight != 0.0);
        if let Some(&(first, _)) = nodes.next() {
            for &(node, _) in nodes {
                let (a, b) = (self.joined(base, first), self.joined(base, node));
                if a != b {
                    // The island of the zero node is number 0 and keeps its name.
                    self.joins.push((a.max(b), a.min(b)));
                }
            }
        }
    }

    /// The region of a node, joins counted.
    pub fn joined(&self, base: &Base, node: usize) -> u32 {
        follow(&self.joins, self.region(base, node))
    }

    /// No path joins the two nodes.
    pub fn parted(&self, base: &Base, a: usize, b: usize) -> bool {
        self.joined(base, a) != self.joined(base, b)
    }
}
