//! One step of a state, settled without a fault and factored: what port space starts from.

use super::config::{Config, Laws};
use super::full::Solved;
use super::ports::reach;
use super::walk::{Walked, walk};
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
    /// Where they stood before it.
    pub from: Config,
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
    /// The same step on its way here, coils and fuses standing otherwise.
    pub way: OnceLock<Vec<Base>>,
    bends: OnceLock<Vec<Device>>,
    watched: OnceLock<Vec<Device>>,
    boughs: OnceLock<Vec<usize>>,
    bunches: OnceLock<Vec<Bunch>>,
    /// How all nodes answer one amp between two, kept for those asked for.
    answers: Mutex<HashMap<(Node, Node), Answer>>,
    /// Sensitivities of this step as it is, by red and black.
    pub felt: Mutex<HashMap<(Node, Node), Rows>>,
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
    /// The bough that its path begins on, and how much of the path is on it.
    bough: usize,
    tail: usize,
}

/// Curves of one bough: where they stand among [`Base::bends`], and the least that may move one of them off its line, as a
/// sum over the trunk.
#[derive(Debug)]
pub(super) struct Bunch {
    pub bough: usize,
    pub curves: std::ops::Range<usize>,
    pub reach: f64,
}

/// Of a step's elimination tree so many places are its trunk: what a fault on one bough does to the others goes through it.
const TRUNK: usize = 48;

impl Base {
    pub fn new(laws: Arc<Laws>, settings: Vec<usize>, from: Config, config: Config, solved: Solved) -> Base {
        let branches = laws.branches(&settings, &config);
        Base::with(laws, settings, from, config, branches, solved)
    }

    /// The same with branches that are not as the laws have them.
    pub fn with(
        laws: Arc<Laws>,
        settings: Vec<usize>,
        from: Config,
        config: Config,
        branches: Vec<Branch>,
        solved: Solved,
    ) -> Base {
        Base {
            settings,
            config,
            from,
            branches,
            lines: solved.lines,
            volts: solved.volts,
            symbolic: solved.symbolic,
            factor: solved.factor,
            islands: solved.islands,
            ties: solved.ties,
            walked: OnceLock::new(),
            way: OnceLock::new(),
            bends: OnceLock::new(),
            watched: OnceLock::new(),
            boughs: OnceLock::new(),
            bunches: OnceLock::new(),
            laws,
            answers: Mutex::default(),
            felt: Mutex::default(),
        }
    }

    /// Curves, bough by bough.
    pub fn bends(&self) -> &[Device] {
        self.bends.get_or_init(|| {
            let mut bends = self.devices((0..self.branches.len()).filter(|&id| self.branches[id].bends()));
            bends.sort_by_key(|device| device.bough);
            bends
        })
    }

    /// The same in bunches.
    pub fn bunches(&self) -> &[Bunch] {
        self.bunches.get_or_init(|| {
            let mut bunches: Vec<Bunch> = Vec::new();
            for (at, device) in self.bends().iter().enumerate() {
                let felt = device.path[device.tail..].iter().map(|(_, value)| value.abs()).fold(1e-300, f64::max);
                let reach = device.reach / felt;
                match bunches.last_mut() {
                    Some(last) if last.bough == device.bough => {
                        last.curves.end = at + 1;
                        last.reach = last.reach.min(reach);
                    }
                    _ => bunches.push(Bunch { bough: device.bough, curves: at..at + 1, reach }),
                }
            }
            bunches
        })
    }

    /// Of each place of the elimination tree its bough, `usize::MAX` on the trunk.
    pub fn boughs(&self) -> &[usize] {
        self.boughs.get_or_init(|| self.symbolic.boughs(TRUNK))
    }

    /// By how many volts the currents spread in `dense` move a device, if they are on these boughs and the trunk.
    pub fn moves(&self, device: &Device, boughs: &[usize], dense: &[f64]) -> f64 {
        let known = if boughs.contains(&device.bough) { 0 } else { device.tail };
        self.factor.product_dense(&device.path[known..], dense)
    }

    /// What the currents spread in `dense` come to on the trunk: see [`Bunch::reach`].
    pub fn most(&self, dense: &[f64]) -> f64 {
        dense[dense.len().saturating_sub(TRUNK)..].iter().map(|amps| amps.abs()).sum()
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
            let boughs = self.boughs();
            let bough = path.first().map_or(usize::MAX, |&(k, _)| boughs[k]);
            let tail = path.partition_point(|&(k, _)| boughs[k] != usize::MAX);
            Device { id, path, volts, ohms, reach, bough, tail }
        })
        .collect()
    }

    fn walked(&self) -> &Walked {
        self.walked.get_or_init(|| {
            let mut walked = walk(self.volts.len(), &self.laws.taps, &self.branches);
            let diodes = self.branches.iter().enumerate().filter(|(_, branch)| matches!(branch, Branch::Diode { .. }));
            walked.diodes = diodes.map(|(id, _)| (walked.series[id], id)).filter(|(series, _)| *series != 0).collect();
            walked.diodes.sort_unstable();
            walked
        })
    }

    /// Of a branch whose absence would part an island: the nodes cut off, as a range of [`Base::entered`].
    pub fn bridge(&self, id: ElementId) -> Option<(u32, u32)> {
        self.walked().bridges[id]
    }

    /// Diodes in series with a branch: without it nothing flows in them.
    pub fn diodes_behind(&self, id: ElementId) -> impl Iterator<Item = ElementId> {
        let walked = self.walked();
        let series = walked.series[id];
        let first = walked.diodes.partition_point(|(other, _)| *other < series);
        walked.diodes[first..].iter().take_while(move |(other, _)| *other == series).map(|(_, id)| *id)
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
        self.way.get().into_iter().flatten().for_each(Base::forget);
    }

    /// This step as it stood at a place of its way: 0 is where it ends.
    pub fn stand(&self, stand: usize) -> &Base {
        stand.checked_sub(1).and_then(|at| self.way.get()?.get(at)).unwrap_or(self)
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
