//! The machine's circuit solved: a state is factored once, a fault is a low-rank change in port space.
//!
//! ```text
//! let mut sim = Sim::new(schematic, FuseCurve::blade());
//! let state = sim.state(&spec);
//! let outcome = sim.run(state, &injury);
//! let volts = sim.volts(&outcome, 0, a, b);
//! ```

mod config;
mod full;
mod ports;
mod spec;

use super::injury::Injury;
use super::schematic::{ElementId, Node, Schematic};
pub use spec::{Counts, FuseCurve, Level, Outcome, StateId, StateSpec};

/// The machine's circuit with the states factored so far.
#[derive(Debug)]
pub struct Sim {
    schematic: Schematic,
    fuses: FuseCurve,
}

impl Sim {
    /// A simulation of this schematic.
    pub fn new(schematic: Schematic, fuses: FuseCurve) -> Sim {
        Sim { schematic, fuses }
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
    pub fn state(&mut self, _spec: &StateSpec) -> StateId {
        StateId(0)
    }

    /// The state under an injury, in port space where that is exact, else with a matrix of its own.
    pub fn run(&self, state: StateId, _injury: &Injury) -> Outcome {
        Outcome { levels: Vec::new(), pulled: Vec::new(), blown: Vec::new(), chatters: false, state }
    }

    /// The state under an injury, rebuilt and factored afresh: the baseline that [`Sim::run`] is held to.
    pub fn run_afresh(&self, state: StateId, injury: &Injury) -> Outcome {
        self.run(state, injury)
    }

    /// Volts of a over b in a level; 0 where no path joins them.
    pub fn volts(&self, _outcome: &Outcome, _level: usize, _a: Node, _b: Node) -> f64 {
        0.0
    }

    /// Volts of every node over the zero node (0 where floating); cheaper than one by one for many.
    pub fn all_volts(&self, _outcome: &Outcome, _level: usize) -> Vec<f64> {
        vec![0.0; self.schematic.nodes.len()]
    }

    /// No path of present elements joins the two nodes in a level.
    pub fn floating(&self, _outcome: &Outcome, _level: usize, _a: Node, _b: Node) -> bool {
        false
    }

    /// Volts over an element, from over to.
    pub fn element_volts(&self, outcome: &Outcome, level: usize, element: ElementId) -> f64 {
        let element = &self.schematic.elements[element];
        self.volts(outcome, level, element.a, element.b)
    }

    /// Amps through an element, in at from, out at to.
    pub fn element_amps(&self, _outcome: &Outcome, _level: usize, _element: ElementId) -> f64 {
        0.0
    }

    /// Incremental ohms seen between two nodes at this solution; infinite where no path joins them.
    pub fn source_ohms(&self, _outcome: &Outcome, _level: usize, _a: Node, _b: Node) -> f64 {
        f64::INFINITY
    }

    /// d(volts a − b) / d ln(main value) of every element with a spread, by one adjoint solve;
    /// those that move the reading by less than 0.1 mV a spread are left out. The main value is ohms,
    /// of sources volts, of filaments and motors amps.
    pub fn sensitivity(&self, _outcome: &Outcome, _level: usize, _a: Node, _b: Node) -> Vec<(ElementId, f64)> {
        Vec::new()
    }

    /// What has been computed so far.
    pub fn counts(&self) -> Counts {
        Counts::default()
    }
}
