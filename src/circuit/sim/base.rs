//! One step of a state, settled without a fault and factored: what port space starts from.

use super::config::{Config, Laws, Taps};
use super::full::Solved;
use super::ports::reach;
use crate::circuit::law::Branch;
use crate::circuit::schematic::{ElementId, Node};
use crate::linear::solve::Path;
use crate::linear::{Factor, Symbolic};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, OnceLock};

/// A settled and factored step.
#[derive(Debug)]
pub(super) struct Base {
    pub laws: Arc<Laws>,
    pub settings: Vec<usize>,
    /// Where things stand in it.
    pub config: Config,
    pub branches: Vec<Branch>,
    pub lines: Vec<(f64, f64)>,
    pub volts: Vec<f64>,
    pub symbolic: Arc<Symbolic>,
    pub factor: Arc<Factor>,
    pub islands: Vec<u32>,
    pub ties: Vec<usize>,
    /// What only faults ask for is worked out when the first one does: most states of a large machine are looked at
    /// sound, and paths take most of the room.
    walked: OnceLock<Walked>,
    bends: OnceLock<Vec<Device>>,
    watched: OnceLock<Vec<Device>>,
    /// How all nodes answer one amp between two, kept for those asked for.
    answers: Mutex<HashMap<(Node, Node), Answer>>,
    /// Sensitivities of this step as it is, by red and black.
    pub felt: Mutex<HashMap<(Node, Node), Rows>>,
}

/// A walk through the network of a step.
#[derive(Debug)]
struct Walked {
    bridges: Vec<Option<(u32, u32)>>,
    entered: Vec<u32>,
}

/// What a reading depends on: elements, with its change for a unit of ln(main value).
pub(super) type Rows = Vec<(ElementId, f64)>;

/// Volts of all nodes for one amp, in ohms.
pub(super) type Answer = Arc<Vec<f64>>;

/// Of the answers of a step so many numbers are kept; 16 MB.
const KEPT: usize = 2_000_000;

/// An element whose volts are wanted after every solution.
#[derive(Debug)]
pub(super) struct Device {
    pub id: ElementId,
    /// `L⁻¹` of its taps.
    pub path: Path,
    /// Volts over it.
    pub volts: f64,
    /// Ohms seen at it.
    pub ohms: f64,
    /// Of a curve: volts that it may move by and still be on its line.
    pub reach: f64,
}

impl Base {
    pub fn new(laws: Arc<Laws>, settings: Vec<usize>, config: Config, solved: Solved) -> Base {
        let branches = laws.branches(&settings, &config);
        Base {
            settings,
            config,
            branches,
            lines: solved.lines,
            volts: solved.volts,
            symbolic: solved.symbolic,
            factor: solved.factor,
            islands: solved.islands,
            ties: solved.ties,
            walked: OnceLock::new(),
            bends: OnceLock::new(),
            watched: OnceLock::new(),
            laws,
            answers: Mutex::default(),
            felt: Mutex::default(),
        }
    }

    /// Curves.
    pub fn bends(&self) -> &[Device] {
        self.bends.get_or_init(|| self.devices((0..self.branches.len()).filter(|&id| self.branches[id].bends())))
    }

    /// Coils, fuses, interrupters, as in [`Laws::watched`].
    pub fn watched(&self) -> &[Device] {
        self.watched.get_or_init(|| self.devices(self.laws.watched.iter().copied()))
    }

    /// Volts over what is watched, without a fault.
    pub fn watched_volts(&self) -> Vec<f64> {
        self.laws.watched.iter().map(|&id| self.laws.taps[id].volts(&self.volts)).collect()
    }

    fn devices(&self, ids: impl Iterator<Item = ElementId>) -> Vec<Device> {
        let mut work = vec![0.0; self.volts.len()];
        ids.map(|id| {
            let (branch, line) = (self.branches[id], self.lines[id]);
            let path = self.factor.path(&self.symbolic, self.laws.taps[id].as_slice(), &mut work);
            let ohms = self.factor.product(&path, &path);
            let volts = self.laws.taps[id].volts(&self.volts);
            let reach = if branch.bends() { reach(branch, line, volts, ohms) } else { 0.0 };
            Device { id, path, volts, ohms, reach }
        })
        .collect()
    }

    fn walked(&self) -> &Walked {
        self.walked.get_or_init(|| {
            let (entered, bridges) = bridges(self.volts.len(), &self.laws.taps, &self.branches);
            Walked { bridges, entered }
        })
    }

    /// Of a branch whose absence would part an island: the nodes cut off, as a range of [`Base::entered`].
    pub fn bridge(&self, id: ElementId) -> Option<(u32, u32)> {
        self.walked().bridges[id]
    }

    /// When a walk through the network entered the node.
    pub fn entered(&self, node: Node) -> u32 {
        self.walked().entered[node]
    }

    /// Lets go of the answers kept.
    pub fn forget(&self) {
        if let Ok(mut answers) = self.answers.lock() {
            answers.clear();
            answers.shrink_to_fit();
        }
    }

    /// `Y⁻¹ c` for the pair of nodes. `work` is zero and is left so.
    pub fn answer(&self, a: Node, b: Node, work: &mut [f64]) -> Answer {
        if let Some(known) = self.answers.lock().ok().and_then(|answers| answers.get(&(a, b)).cloned()) {
            return known;
        }
        let path = self.factor.path(&self.symbolic, &[(a, 1.0), (b, -1.0)], work);
        let answer = Arc::new(self.factor.solve_paths(&self.symbolic, std::iter::once((&path, 1.0))));
        if let Ok(mut answers) = self.answers.lock() {
            if (answers.len() + 1) * answer.len() > KEPT {
                answers.clear();
            }
            answers.insert((a, b), answer.clone());
        }
        answer
    }
}

/// Branches whose absence parts their island, by one walk in depth (low points). Branches of more than two taps
/// count as joining their nodes twice, so that neither they nor what is parallel to them is called a bridge.
fn bridges(size: usize, taps: &[Taps], branches: &[Branch]) -> (Vec<u32>, Vec<Option<(u32, u32)>>) {
    const NONE: u32 = u32::MAX;
    let mut next: Vec<Vec<(usize, usize)>> = vec![Vec::new(); size];
    let mut join = |a: usize, b: usize, id: usize| {
        if a != b {
            next[a].push((b, id));
            next[b].push((a, id));
        }
    };
    for (id, taps) in taps.iter().enumerate().filter(|(id, _)| branches[*id] != Branch::Open) {
        match taps {
            Taps::Pair([(a, _), (b, _)]) => join(*a, *b, id),
            Taps::Weighted(taps) => {
                for pair in taps.windows(2) {
                    join(pair[0].0, pair[1].0, usize::MAX);
                    join(pair[0].0, pair[1].0, usize::MAX - 1);
                }
            }
        }
    }
    let mut entered = vec![NONE; size];
    let mut low = vec![NONE; size];
    let mut found = vec![None; branches.len()];
    let mut clock = 0u32;
    // Node, the branch it was entered by, its next neighbour.
    let mut stack: Vec<(usize, Option<usize>, usize)> = Vec::new();
    for start in 0..size {
        if entered[start] != NONE {
            continue;
        }
        entered[start] = clock;
        low[start] = clock;
        clock += 1;
        stack.push((start, None, 0));
        while let Some((node, by, at)) = stack.last_mut() {
            let (node, by) = (*node, *by);
            if let Some(&(other, id)) = next[node].get(*at) {
                *at += 1;
                if entered[other] == NONE {
                    entered[other] = clock;
                    low[other] = clock;
                    clock += 1;
                    stack.push((other, Some(id), 0));
                } else if Some(id) != by {
                    low[node] = low[node].min(entered[other]);
                }
            } else {
                stack.pop();
                if let (Some(&(above, ..)), Some(id)) = (stack.last(), by) {
                    if low[node] > entered[above] && id < found.len() {
                        found[id] = Some((entered[node], clock));
                    }
                    low[above] = low[above].min(low[node]);
                }
            }
        }
    }
    (entered, found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bridges_are_found_and_the_nodes_behind_them() {
        // 0-1-2-0 a ring, 2-3 a bridge, 3-4 twice.
        let taps: Vec<Taps> =
            [(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (3, 4), (5, 6)].iter().map(|&(a, b)| Taps::pair(a, b)).collect();
        let mut branches = vec![Branch::ohms(1.0); 7];
        let (entered, found) = bridges(7, &taps, &branches);
        assert_eq!(
            found.iter().map(Option::is_some).collect::<Vec<_>>(),
            [false, false, false, true, false, false, true]
        );
        let (from, to) = found[3].unwrap();
        let behind = |node: usize| (from..to).contains(&entered[node]);
        assert!(behind(3) && behind(4) && !behind(0) && !behind(2) && !behind(5));
        branches[5] = Branch::Open;
        assert!(bridges(7, &taps, &branches).1[4].is_some());
    }
}
