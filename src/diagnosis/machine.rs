//! Everything that a chase works on: the wiring, the rules, and the circuit made of them.

use crate::catalogue::Catalogue;
use crate::circuit::injury::{Change, Injury};
use crate::circuit::lower::lower;
use crate::circuit::schematic::ElementId;
use crate::circuit::showing::View;
use crate::circuit::sim::{FuseCurve, Outcome, Sim, StateId, StateSpec};
use crate::netlist::Netlist;
use crate::pace::Pace;
use std::collections::HashMap;

/// A machine ready to be asked about.
pub struct Machine {
    /// The wiring.
    pub netlist: Netlist,
    /// The rules in force.
    pub catalogue: Catalogue,
    /// The circuit, with its factored states.
    pub sim: Sim,
    /// How far long work on it has come.
    pub pace: Pace,
    specs: HashMap<StateId, StateSpec>,
}

impl Machine {
    /// Lowers the netlist into a circuit.
    pub fn new(netlist: Netlist, catalogue: Catalogue) -> Self {
        let sim = Sim::new(lower(&netlist, &catalogue), FuseCurve::from(&catalogue.fuses));
        Machine { netlist, catalogue, sim, pace: Pace::default(), specs: HashMap::new() }
    }

    /// The state, factored; the same spec gives the same state.
    pub fn state(&mut self, spec: &StateSpec) -> StateId {
        let id = self.sim.state(spec);
        self.specs.entry(id).or_insert_with(|| spec.clone());
        id
    }

    /// Elements that a state has taken out, or put something else in the place of: a fault leaves them alone there.
    pub fn held(&self, state: StateId) -> impl Iterator<Item = ElementId> {
        let changes = self.specs.get(&state).map_or(&[][..], |spec| &spec.changes);
        changes.iter().filter_map(|change| match change {
            Change::Law(id, _) => Some(*id),
            _ => None,
        })
    }

    /// Is a wire, a joint or a plug's contact open in a state?
    pub fn parted(&self, state: StateId) -> bool {
        let links = self.netlist.graph.edge_count();
        self.held(state).any(|element| element < links)
    }

    /// Fitted parts that show something, in the order of the file.
    pub fn shown(&self) -> Vec<String> {
        let shows = |kind: &String| self.catalogue.kind(kind).is_some_and(|kind| !kind.showings.is_empty());
        let parts = self.netlist.parts.values().filter(|part| part.fitted && shows(&part.kind));
        parts.map(|part| part.name.clone()).collect()
    }

    /// A part's likeliest showing.
    pub fn likeliest(&self, state: StateId, injury: &Injury, outcome: &Outcome, part: &str) -> Option<String> {
        let words = self.view(state, injury, outcome)?.showing(part).ok()?;
        words.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(word, _)| word)
    }

    /// The circuit in a state under an injury, to be looked at.
    pub fn view<'a>(&'a self, state: StateId, injury: &'a Injury, outcome: &'a Outcome) -> Option<View<'a>> {
        let spec = self.specs.get(&state)?;
        Some(View { sim: &self.sim, netlist: &self.netlist, catalogue: &self.catalogue, spec, injury, outcome })
    }
}
