//! The machine's circuit solved: a state is factored once, a fault is a low-rank change in port space.
//!
//! - [`StateSpec`] says which settings, reached in which order; [`Sim::state`] settles and factors it, once
//! - [`Sim::run`] solves an injury in a state; [`Sim::run_afresh`] does the same the long way
//! - [`Sim::volts`], [`Sim::element_amps`], [`Sim::source_ohms`], [`Sim::sensitivity`] read an [`Outcome`],
//!   [`Sim::display`] what a meter shows between any of its nodes
//!
//! ```
//! use ohmward::circuit::injury::{Change, Injury};
//! use ohmward::circuit::schematic::{Elem, Law, Schematic};
//! use ohmward::circuit::sim::{FuseCurve, Sim, StateSpec};
//! let elem = |name: &str, a, b, law| Elem { name: name.into(), part: None, a, b, law, spread: 0.0 };
//! let schematic = Schematic {
//!     nodes: ["minus", "plus", "lamp"].map(String::from).to_vec(),
//!     elements: vec![
//!         elem("battery", 1, 0, Law::Source { volts: 12.6, ohms: 0.01 }),
//!         elem("wire", 1, 2, Law::Resistor { ohms: 0.02 }),
//!         elem("lamp", 2, 0, Law::Filament { volts: 12.0, amps: 1.75, cold: 0.1 }),
//!     ],
//!     ..Schematic::default()
//! };
//! let mut sim = Sim::new(schematic, FuseCurve::blade());
//! let state = sim.state(&StateSpec { steps: vec![vec![]], changes: vec![] });
//! let bad = Injury { changes: vec![Change::Law(1, Law::Resistor { ohms: 2.0 })], ..Injury::default() };
//! let (healthy, injured) = (sim.run(state, &Injury::default()), sim.run(state, &bad));
//! assert!(sim.volts(&healthy, 0, 2, 0) > 12.5 && sim.volts(&injured, 0, 2, 0) < 10.0);
//! ```

mod base;
mod config;
mod display;
mod draws;
mod full;
mod idle;
mod loaded;
mod ports;
mod read;
mod regions;
mod settle;
mod spec;
mod walk;
mod way;

use super::injury::{Change, Injury};
use super::law::Branch;
use super::schematic::{ControlId, ElementId, Law, Node, Schematic};
use crate::linear::Symbolic;
use base::Base;
use config::{Config, Laws, Overrides, Taps, Wound};
pub use display::Display;
pub use draws::{DRAWS, Near, Solved};
pub(in crate::circuit) use settle::LASTS;
use settle::{Found, Question, settle};
use spec::Field;
pub use spec::{Counts, FuseCurve, Level, Outcome, StateId, StateSpec};
use std::collections::HashMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

/// The machine's circuit with the states factored so far.
#[derive(Debug)]
pub struct Sim {
    schematic: Schematic,
    fuses: FuseCurve,
    /// The engine's control and its setting `stopped`, if there are.
    engine: Option<(ControlId, usize)>,
    states: Vec<State>,
    by_spec: HashMap<String, StateId>,
    /// Laws by the state's changes, with the order made for them.
    laws: HashMap<String, (Arc<Laws>, Arc<Symbolic>)>,
    /// Steps by changes, settings and memory.
    bases: HashMap<String, Arc<Base>>,
    factorisations: usize,
    settling: usize,
    port_solves: AtomicUsize,
    full_solves: AtomicUsize,
    unconverged: AtomicUsize,
    /// Vectors of zeros, one for each thread at work.
    work: Mutex<Vec<Vec<f64>>>,
    draws: draws::Draws,
    /// Elements that scatter: from, to, spread.
    scatter: Vec<(ElementId, Node, Node, f64)>,
}

/// A state's steps, each settled from the memory of the one before.
#[derive(Debug)]
struct State {
    steps: Vec<Arc<Base>>,
    /// Controls only ever leave rest on the way.
    onward: bool,
}

/// Does every control that leaves rest stay where it went?
fn onward(steps: &[Vec<usize>]) -> bool {
    steps.windows(2).all(|two| two[0].iter().zip(&two[1]).all(|(before, after)| *before == 0 || before == after))
}

/// The state's branches with what differs.
fn overridden(base: &Base, set: &Overrides) -> Vec<Branch> {
    let mut branches = base.branches.clone();
    for &(id, branch) in &set.elements {
        branches[id] = branch;
    }
    branches
}

/// A configuration under an injury, solved as what differs from the state's branches.
///
/// `stand`: which of the ways to rest of the state it is solved from.
fn found(
    base: &Base,
    wound: &Wound,
    config: &Config,
    stand: usize,
    solve: impl Fn(&Base, &Overrides) -> (Field, Vec<f64>),
) -> Found {
    let base = base.stand(stand);
    let set = wound.overrides(&base.laws, &base.settings, &base.branches, &base.config, config);
    let (field, watched) = solve(base, &set);
    Found { field, set, watched, stand }
}

impl Sim {
    /// A simulation of this schematic.
    pub fn new(schematic: Schematic, fuses: FuseCurve) -> Sim {
        let engine = schematic.controls.get_full("engine").map(|(id, _, control)| {
            (id, control.settings.iter().position(|setting| setting == "stopped").unwrap_or(usize::MAX))
        });
        let scatter = schematic.elements.iter().enumerate().filter(|(_, element)| element.spread > 0.0);
        let scatter = scatter.map(|(id, element)| (id, element.a, element.b, element.spread)).collect();
        Sim {
            schematic,
            fuses,
            engine,
            states: Vec::new(),
            by_spec: HashMap::new(),
            laws: HashMap::new(),
            bases: HashMap::new(),
            factorisations: 0,
            settling: 0,
            port_solves: AtomicUsize::new(0),
            full_solves: AtomicUsize::new(0),
            unconverged: AtomicUsize::new(0),
            work: Mutex::new(Vec::new()),
            draws: draws::Draws::default(),
            scatter,
        }
    }

    /// The schematic.
    pub fn schematic(&self) -> &Schematic {
        &self.schematic
    }

    /// How long fuses hold.
    pub fn fuses(&self) -> &FuseCurve {
        &self.fuses
    }

    /// The state, settled without a fault and factored; the same spec gives the same state again.
    pub fn state(&mut self, spec: &StateSpec) -> StateId {
        let key = format!("{spec:?}");
        if let Some(&id) = self.by_spec.get(&key) {
            return id;
        }
        let changes = format!("{:?}", spec.changes);
        let (laws, symbolic) = match self.laws.get(&changes) {
            Some(found) => found.clone(),
            None => {
                let laws = Arc::new(Laws::new(&self.schematic, &spec.changes));
                let symbolic = Symbolic::analyse(self.schematic.nodes.len(), &full::edges(laws.taps.iter()));
                let made = (laws, Arc::new(symbolic));
                self.laws.insert(changes.clone(), made.clone());
                made
            }
        };
        let rest = vec![0; self.schematic.controls.len()];
        let mut memory = Config::default();
        let mut steps: Vec<Arc<Base>> = Vec::new();
        for settings in if spec.steps.is_empty() { std::slice::from_ref(&rest) } else { &spec.steps[..] } {
            let key = format!("{settings:?} {:?} {:?} {changes}", memory.pulled, memory.blown);
            let base = match self.bases.get(&key) {
                Some(base) => base.clone(),
                None => {
                    let base = Arc::new(self.base_of(&laws, &symbolic, settings, memory.clone()));
                    self.bases.insert(key, base.clone());
                    base
                }
            };
            memory = base.config.clone();
            if steps.last().is_none_or(|last| !Arc::ptr_eq(last, &base)) {
                steps.push(base);
            }
        }
        let id = StateId(self.states.len());
        self.states.push(State { steps, onward: onward(&spec.steps) });
        self.by_spec.insert(key, id);
        id
    }

    /// Lets go of what was kept to be quick in a state; it is worked out again when it is wanted.
    pub fn forget(&self, state: StateId) {
        self.states[state.0].steps.iter().for_each(|base| base.forget());
    }

    /// Settles a healthy step with its own matrix.
    fn base_of(&mut self, laws: &Arc<Laws>, symbolic: &Arc<Symbolic>, settings: &[usize], memory: Config) -> Base {
        let size = self.schematic.nodes.len();
        let zero = self.schematic.zero;
        let mut kept: Vec<(Config, full::Solved)> = Vec::new();
        let mut start: Option<Vec<f64>> = None;
        let wound = Wound::default();
        let question =
            Question { laws, wound: &wound, fuses: &self.fuses, turning: self.turning(settings), levels: false };
        let mut factored = 0;
        let settled = settle(&question, memory.clone(), |config| {
            let branches = laws.branches(settings, config);
            let solved = full::solve(size, zero, &laws.taps, &branches, Some(symbolic.clone()), start.as_deref());
            factored += solved.factored;
            start = Some(solved.volts.clone());
            let watched = laws.watched.iter().map(|&id| laws.taps[id].volts(&solved.volts)).collect();
            if config.apart.is_empty() && !config.high {
                kept = vec![(config.clone(), solved)];
            }
            Found { watched, ..Found::default() }
        });
        let found = kept.pop().filter(|(config, _)| *config == settled.config);
        let (_, solved) = found.unwrap_or_else(|| {
            let branches = laws.branches(settings, &settled.config);
            let solved = full::solve(size, zero, &laws.taps, &branches, Some(symbolic.clone()), None);
            factored += solved.factored;
            (settled.config.clone(), solved)
        });
        if !solved.converged {
            self.unconverged.fetch_add(1, Ordering::Relaxed);
        }
        self.factorisations += 1;
        self.settling += factored - 1;
        Base::new(laws.clone(), settings.to_vec(), memory, settled.config, solved)
    }

    /// The state under an injury, in port space where that is exact, else with a matrix of its own.
    pub fn run(&self, state: StateId, injury: &Injury) -> Outcome {
        self.run_by(state, injury, |base, wound, config| self.quick(base, wound, config))
    }

    /// The same, each configuration solved in this way.
    fn run_by(&self, state: StateId, injury: &Injury, solve: impl Fn(&Base, &Wound, &Config) -> Found) -> Outcome {
        self.run_last(state, injury, &solve).unwrap_or_else(|| self.run_with(state, injury, solve))
    }

    /// A configuration under an injury, in port space where that is exact.
    fn quick(&self, base: &Base, wound: &Wound, config: &Config) -> Found {
        let stand = self.nearest(base, config);
        found(base, wound, config, stand, |base, set| self.solve(base, set, ports::LOST))
    }

    /// One configuration, in port space where that is exact within so many volts, else with a matrix of its own.
    fn solve(&self, base: &Base, set: &Overrides, lost: f64) -> (Field, Vec<f64>) {
        self.with_work(|work| ports::solve(base, set, lost, work)).map_or_else(
            || self.solve_full(base, set),
            |(injected, watched)| {
                self.port_solves.fetch_add(1, Ordering::Relaxed);
                (Field::Ports(injected), watched)
            },
        )
    }

    /// The last step alone, from rest, where the way to it cannot matter: controls only ever left rest on it, no
    /// fuse opens, and no coil hangs between drop-out and pull-in.
    fn run_last(
        &self,
        id: StateId,
        injury: &Injury,
        solve: &impl Fn(&Base, &Wound, &Config) -> Found,
    ) -> Option<Outcome> {
        let state = &self.states[id.0];
        // What only takes current away blows no fuse on the way that it does not blow at the end.
        let takes_away = |change: &Change| matches!(change, Change::Law(_, Law::Open | Law::Resistor { .. }));
        let tame = injury.blown.is_empty() && injury.changes.iter().all(takes_away);
        if state.steps.len() < 2 || !state.onward || !tame {
            return None;
        }
        let base = state.steps.last()?;
        let wound = self.wound(&base.laws, injury);
        let settled = self.step(base, &wound, Config::default(), true, solve);
        let plain = settled.config.blown.is_empty() && !settled.chatters && !settled.hangs;
        plain.then_some(Outcome {
            levels: settled.levels,
            pulled: settled.config.pulled,
            blown: settled.config.blown,
            chatters: false,
            close: settled.close,
            near: settled.near,
            state: id,
        })
    }

    /// How many times as high as the rules say each element's thresholds lie in a machine drawn.
    pub fn heights(&self, draw: u8) -> Arc<[f64]> {
        self.draws.heights(&self.schematic, draw)
    }

    /// Would a machine drawn stand otherwise than this outcome of the machine that was not?
    pub fn turns(&self, outcome: &Outcome, draw: u8) -> bool {
        !outcome.near.is_empty() && {
            let heights = self.heights(draw);
            outcome.near.iter().any(|near| near.turns(&heights))
        }
    }

    /// An injury made ready.
    fn wound(&self, laws: &Laws, injury: &Injury) -> Wound {
        Wound::new(laws, injury, injury.draw.map(|draw| self.heights(draw)))
    }

    /// One step settled.
    fn step(
        &self,
        base: &Base,
        wound: &Wound,
        config: Config,
        levels: bool,
        solve: &impl Fn(&Base, &Wound, &Config) -> Found,
    ) -> settle::Settled {
        let turning = self.turning(&base.settings);
        let question = Question { laws: &base.laws, wound, fuses: &self.fuses, turning, levels };
        let mut settled = settle(&question, config, |config| solve(base, wound, config));
        settled.near.retain(|near| near.over.abs() < draws::near(&self.schematic, near.id));
        settled
    }

    /// The state under an injury, rebuilt and factored afresh: the baseline that [`Sim::run`] is held to.
    pub fn run_afresh(&self, state: StateId, injury: &Injury) -> Outcome {
        self.run_with(state, injury, |base, wound, config| {
            found(base, wound, config, 0, |base, set| self.solve_afresh(base, set))
        })
    }

    fn run_with(&self, id: StateId, injury: &Injury, solve: impl Fn(&Base, &Wound, &Config) -> Found) -> Outcome {
        let state = &self.states[id.0];
        let mut config = Config { blown: injury.blown.clone(), ..Config::default() };
        config.blown.sort_unstable();
        config.blown.dedup();
        let mut levels = Vec::new();
        let mut chatters = false;
        let (mut close, mut near) = (false, Vec::new());
        let wound = self.wound(&state.steps[0].laws, injury);
        for (at, base) in state.steps.iter().enumerate() {
            let settled = self.step(base, &wound, config, at + 1 == state.steps.len(), &solve);
            config = settled.config;
            levels = settled.levels;
            chatters = settled.chatters;
            close |= settled.close;
            near.extend(settled.near);
        }
        Outcome { levels, pulled: config.pulled, blown: config.blown, chatters, close, near, state: id }
    }

    /// Islands, order, factor and Newton anew for this one solution.
    fn solve_afresh(&self, base: &Base, set: &Overrides) -> (Field, Vec<f64>) {
        let (taps, branches): (Vec<Taps>, Vec<Branch>) = base
            .laws
            .taps
            .iter()
            .cloned()
            .zip(overridden(base, set))
            .chain(set.added.iter().cloned())
            .filter(|(_, branch)| *branch != Branch::Open)
            .unzip();
        self.full(base, full::solve(self.schematic.nodes.len(), self.schematic.zero, &taps, &branches, None, None))
    }

    /// A matrix of its own for what port space cannot say.
    fn solve_full(&self, base: &Base, set: &Overrides) -> (Field, Vec<f64>) {
        let solved = self.own(base, set);
        if solved.converged { self.full(base, solved) } else { self.solve_afresh(base, set) }
    }

    /// A matrix of its own, in the state's order, from its volts.
    fn own(&self, base: &Base, set: &Overrides) -> full::Solved {
        let mut branches = overridden(base, set);
        let (size, zero, start) = (self.schematic.nodes.len(), self.schematic.zero, Some(base.volts.as_slice()));
        if set.added.is_empty() {
            full::solve(size, zero, &base.laws.taps, &branches, Some(base.symbolic.clone()), start)
        } else {
            let symbolic = base.symbolic.with(&full::edges(set.added.iter().map(|(taps, _)| taps)));
            let taps: Vec<Taps> =
                base.laws.taps.iter().chain(set.added.iter().map(|(taps, _)| taps)).cloned().collect();
            branches.extend(set.added.iter().map(|(_, branch)| *branch));
            full::solve(size, zero, &taps, &branches, Some(Arc::new(symbolic)), start)
        }
    }

    /// What a matrix of its own came to.
    fn full(&self, base: &Base, solved: full::Solved) -> (Field, Vec<f64>) {
        self.full_solves.fetch_add(1, Ordering::Relaxed);
        if !solved.converged {
            self.unconverged.fetch_add(1, Ordering::Relaxed);
        }
        let watched = base.laws.watched.iter().map(|&id| base.laws.taps[id].volts(&solved.volts)).collect();
        (Field::Full(Box::new(solved)), watched)
    }

    /// Does the engine turn in these settings?
    fn turning(&self, settings: &[usize]) -> bool {
        self.engine.is_some_and(|(id, stopped)| settings.get(id).is_some_and(|&setting| setting != stopped))
    }

    /// The base that a level of an outcome is told from: the last step's, at some place of its way.
    fn base(&self, outcome: &Outcome, level: usize) -> &Base {
        let steps = &self.states[outcome.state.0].steps;
        steps[steps.len() - 1].stand(outcome.levels.get(level).map_or(0, |level| level.stand))
    }

    /// Lends a vector of zeros, to be given back as zeros.
    fn with_work<T>(&self, with: impl FnOnce(&mut [f64]) -> T) -> T {
        let kept = self.work.lock().ok().and_then(|mut kept| kept.pop());
        let mut work = kept.unwrap_or_else(|| vec![0.0; self.schematic.nodes.len()]);
        let answer = with(&mut work);
        if let Ok(mut kept) = self.work.lock() {
            kept.push(work);
        }
        answer
    }

    /// What has been computed so far.
    pub fn counts(&self) -> Counts {
        Counts {
            factorisations: self.factorisations,
            settling: self.settling,
            port_solves: self.port_solves.load(Ordering::Relaxed),
            full_solves: self.full_solves.load(Ordering::Relaxed),
            unconverged: self.unconverged.load(Ordering::Relaxed),
        }
    }
}
