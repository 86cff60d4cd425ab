//! Volts, amps, ohms and sensitivities of a level.

use super::Sim;
use super::base::{Answer, Base};
use super::config::Taps;
use super::full::Solved;
use super::ports::Injected;
use super::spec::{Field, Level, Outcome};
use crate::circuit::injury::{Change, Injury};
use crate::circuit::law::{Branch, LEAST_OHMS};
use crate::circuit::schematic::{ElementId, Law, Node};
use crate::linear::Dense;
use crate::linear::solve::Path;
use std::sync::Arc;

/// A reading that an element's spread moves by less than this is not said to depend on it, V.
const UNFELT: f64 = 1e-4;

/// The healthy element's share of its ohms as they are now.
fn own_share(law: &Law, siemens: f64) -> f64 {
    match law {
        Law::Resistor { ohms }
        | Law::Contact { ohms, .. }
        | Law::Coil { ohms, .. }
        | Law::Solenoid { ohms, .. }
        | Law::Interrupter { ohms, .. }
        | Law::PulseInput { ohms, .. } => (ohms * siemens).min(1.0),
        _ => 1.0,
    }
}

impl Sim {
    /// Volts of a over b in a level; 0 where no path joins them.
    pub fn volts(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> f64 {
        if a == b {
            return 0.0;
        }
        let base = self.base(outcome, level);
        match outcome.levels.get(level).map(|level| &level.field) {
            Some(Field::Ports(injected)) => {
                if injected.parted(base, a, b) {
                    return 0.0;
                }
                let healthy = base.volts[a] - base.volts[b];
                if injected.ports.is_empty() {
                    return healthy;
                }
                if let Some(whole) = injected.whole.get() {
                    return whole[a] - whole[b];
                }
                let answer = self.with_work(|work| base.answer(a, b, work));
                let mut buffer = [(0, 0.0)];
                injected
                    .ports
                    .iter()
                    .fold(healthy, |volts, port| volts - port.amps * over(port.at.taps(base, &mut buffer), &answer))
            }
            Some(Field::Full(solved)) if solved.islands[a] == solved.islands[b] => solved.volts[a] - solved.volts[b],
            _ => 0.0,
        }
    }

    /// Volts of every node, each over its own island's tied node.
    pub(super) fn potentials(&self, outcome: &Outcome, level: usize) -> Vec<f64> {
        let base = self.base(outcome, level);
        match outcome.levels.get(level).map(|level| &level.field) {
            Some(Field::Ports(injected)) if injected.ports.is_empty() => base.volts.clone(),
            Some(Field::Ports(injected)) => {
                let whole = || Arc::new(shifted(base, injected, &self.port_paths(base, injected)));
                injected.whole.get_or_init(whole).to_vec()
            }
            Some(Field::Full(solved)) => solved.volts.clone(),
            None => vec![0.0; self.schematic.nodes.len()],
        }
    }

    /// Volts of every node over the zero node (0 where floating); cheaper than one by one for many.
    pub fn all_volts(&self, outcome: &Outcome, level: usize) -> Vec<f64> {
        let zero = self.schematic.zero;
        let mut volts = self.potentials(outcome, level);
        let reference = volts.get(zero).copied().unwrap_or(0.0);
        for (volt, floats) in volts.iter_mut().zip(self.floats(outcome, level)) {
            *volt = if floats { 0.0 } else { *volt - reference };
        }
        volts
    }

    /// Whether no path joins each node to the zero node in a level; cheaper than one by one for many.
    pub fn floats(&self, outcome: &Outcome, level: usize) -> Vec<bool> {
        let base = self.base(outcome, level);
        let zero = self.schematic.zero;
        let count = self.schematic.nodes.len();
        match outcome.levels.get(level).map(|level| &level.field) {
            Some(Field::Ports(injected)) if injected.cuts.is_empty() && injected.joins.is_empty() => {
                base.islands.iter().map(|island| *island != base.islands[zero]).collect()
            }
            Some(Field::Ports(injected)) => {
                let home = injected.joined(base, zero);
                (0..count).map(|node| injected.joined(base, node) != home).collect()
            }
            Some(Field::Full(solved)) => solved.islands.iter().map(|i| *i != solved.islands[zero]).collect(),
            None => (0..count).map(|node| node != zero).collect(),
        }
    }

    /// No path of present elements joins the two nodes in a level.
    pub fn floating(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> bool {
        match outcome.levels.get(level).map(|level| &level.field) {
            Some(Field::Ports(injected)) => injected.parted(self.base(outcome, level), a, b),
            Some(Field::Full(solved)) => solved.islands[a] != solved.islands[b],
            None => a != b,
        }
    }

    /// Volts over an element, from over to.
    pub fn element_volts(&self, outcome: &Outcome, level: usize, element: ElementId) -> f64 {
        let element = &self.schematic.elements[element];
        self.volts(outcome, level, element.a, element.b)
    }

    /// Amps through an element, in at from, out at to.
    pub fn element_amps(&self, outcome: &Outcome, level: usize, element: ElementId) -> f64 {
        let branch = self.branch(outcome, level, element);
        if branch == Branch::Open {
            return 0.0;
        }
        branch.at(self.element_volts(outcome, level, element)).0
    }

    /// Amps through what an injury ties together, the most in any level.
    pub fn tied_amps(&self, outcome: &Outcome, injury: &Injury) -> f64 {
        let amps = |level: usize, change: &Change| {
            let Change::Tie { from, to, ohms } = change else { return 0.0 };
            let Some(&(one, _)) = to.first() else { return 0.0 };
            let volts = |taps: &[(Node, f64)]| -> f64 {
                taps.iter().map(|&(node, weight)| weight * self.volts(outcome, level, node, one)).sum()
            };
            ((volts(from) - volts(to)) / ohms).abs()
        };
        let levels = 0..outcome.levels.len();
        levels.flat_map(|level| injury.changes.iter().map(move |change| amps(level, change))).fold(0.0, f64::max)
    }

    /// Is the element there at all in a level (a closed contact, a whole fuse, not open)?
    pub fn element_present(&self, outcome: &Outcome, level: usize, element: ElementId) -> bool {
        self.branch(outcome, level, element) != Branch::Open
    }

    /// What an element is in a level.
    fn branch(&self, outcome: &Outcome, level: usize, element: ElementId) -> Branch {
        let Some(set) = outcome.levels.get(level).map(|level| &level.set) else { return Branch::Open };
        match set.elements.iter().find(|(id, _)| *id == element) {
            Some((_, branch)) => *branch,
            None => self.base(outcome, level).branches[element],
        }
    }

    /// Incremental ohms seen between two nodes at this solution; infinite where no path joins them.
    pub fn source_ohms(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> f64 {
        if a == b {
            return 0.0;
        }
        if self.floating(outcome, level, a, b) {
            return f64::INFINITY;
        }
        let base = self.base(outcome, level);
        match self.answering(outcome, level) {
            Answering::Ports(injected) => self.respond(base, injected, a, b).ohms(a, b),
            Answering::Full(solved) => self.with_work(|work| {
                let path = solved.factor.path(&solved.symbolic, &[(a, 1.0), (b, -1.0)], work);
                solved.factor.product(&path, &path)
            }),
        }
    }

    /// Volts of every node for one amp that goes in at a and out at b, over the tied node of their island; nothing
    /// where no path joins the two. (Volts between any other two are also what the pair gets of an amp there.)
    pub fn answer(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> Option<Vec<f64>> {
        if self.floating(outcome, level, a, b) {
            return None;
        }
        let base = self.base(outcome, level);
        Some(match self.answering(outcome, level) {
            Answering::Ports(injected) => self.respond(base, injected, a, b).everywhere(base),
            Answering::Full(solved) => adjoint(solved, a, b),
        })
    }

    /// d(volts a − b) / d ln(main value) of every element with a spread, by one adjoint solve;
    /// those that move the reading by less than 0.1 mV a spread are left out. The main value is ohms,
    /// of sources volts, of filaments and motors amps, of diodes the saturation current. Ohms that a fault puts in series are the fault's, not the
    /// element's: they do not scatter with it.
    pub fn sensitivity(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> Vec<(ElementId, f64)> {
        self.source_and_sensitivity(outcome, level, a, b).1
    }

    /// The same for an instrument to which fewer volts count: `unfelt` V a spread.
    pub fn fine_sensitivity(
        &self,
        outcome: &Outcome,
        level: usize,
        a: Node,
        b: Node,
        unfelt: f64,
    ) -> Vec<(ElementId, f64)> {
        self.felt(outcome, level, a, b, unfelt).1
    }

    /// [`Sim::source_ohms`] and [`Sim::sensitivity`] at once, which costs little more than either.
    pub fn source_and_sensitivity(
        &self,
        outcome: &Outcome,
        level: usize,
        a: Node,
        b: Node,
    ) -> (f64, Vec<(ElementId, f64)>) {
        self.felt(outcome, level, a, b, UNFELT)
    }

    fn felt(&self, outcome: &Outcome, level: usize, a: Node, b: Node, unfelt: f64) -> (f64, Vec<(ElementId, f64)>) {
        if a == b || self.floating(outcome, level, a, b) {
            return (if a == b { 0.0 } else { f64::INFINITY }, Vec::new());
        }
        let base = self.base(outcome, level);
        let injected = match self.answering(outcome, level) {
            Answering::Ports(injected) => injected,
            Answering::Full(solved) => {
                let adjoint = adjoint(solved, a, b);
                return (
                    self.source_ohms(outcome, level, a, b),
                    self.rows(outcome, level, &adjoint, &solved.volts, unfelt),
                );
            }
        };
        let response = self.respond(base, injected, a, b);
        let ohms = response.ohms(a, b);
        if !injected.ports.is_empty() {
            let volts = shifted(base, injected, &response.paths);
            return (ohms, self.rows(outcome, level, &response.everywhere(base), &volts, unfelt));
        }
        // What only parts off what carries nothing leaves the reading to the healthy circuit.
        if unfelt != UNFELT {
            return (ohms, self.rows(outcome, level, &response.answer, &base.volts, unfelt));
        }
        if let Some(known) = base.felt.lock().ok().and_then(|felt| felt.get(&(a, b)).cloned()) {
            return (ohms, known);
        }
        let rows = self.rows(outcome, level, &response.answer, &base.volts, unfelt);
        if let Ok(mut felt) = base.felt.lock() {
            felt.insert((a, b), rows.clone());
        }
        (ohms, rows)
    }

    fn rows(
        &self,
        outcome: &Outcome,
        level: usize,
        adjoint: &[f64],
        volts: &[f64],
        unfelt: f64,
    ) -> Vec<(ElementId, f64)> {
        let base = self.base(outcome, level);
        let set = &outcome.levels[level].set.elements;
        let mut rows = Vec::new();
        for &(id, from, to, spread) in &self.scatter {
            let answer = adjoint[from] - adjoint[to];
            let over = volts[from] - volts[to];
            let branch = set.iter().find(|(other, _)| *other == id).map_or(base.branches[id], |(_, branch)| *branch);
            if (answer * spread).abs() * most_amps(&branch, over) < unfelt {
                continue;
            }
            let (amps, siemens) = branch.at(over);
            // How the element's amps at fixed volts follow its main value.
            let push = match (&branch, base.laws.laws[id].standing(&base.settings)) {
                (Branch::Open, _) => 0.0,
                (&Branch::Diode { saturation, slope, turned, .. }, _) => {
                    by_saturation(amps, siemens, (saturation, slope), turned)
                }
                (Branch::Line { .. }, Law::Source { .. } | Law::PulseSource { .. }) => amps - siemens * over,
                (Branch::Line { .. }, law) => -amps * own_share(law, siemens),
                (Branch::Cell { .. }, _) => amps - siemens * over,
                (Branch::Filament { .. } | Branch::Motor { .. }, _) => amps,
            };
            let row = -answer * push;
            if (row * spread).abs() >= unfelt {
                rows.push((id, row));
            }
        }
        rows
    }

    /// What knows how a level answers an amp.
    fn answering<'a>(&self, outcome: &'a Outcome, level: usize) -> Answering<'a> {
        let Level { field, set, .. } = &outcome.levels[level];
        match field {
            Field::Ports(injected) if injected.loose => {
                Answering::Full(injected.own.get_or_init(|| Arc::new(self.own(self.base(outcome, level), set))))
            }
            Field::Ports(injected) => Answering::Ports(injected),
            Field::Full(solved) => Answering::Full(solved),
        }
    }

    /// `(I + H Z)⁻¹ H z`: the currents with which the ports answer one amp from b to a. Ports without slope do not.
    fn respond(&self, base: &Base, injected: &Injected, a: Node, b: Node) -> Response {
        let (answer, paths) =
            self.with_work(|work| (base.answer(a, b, work), self.port_paths_in(base, injected, work)));
        let mut buffer = [(0, 0.0)];
        let felt: Vec<f64> = injected.ports.iter().map(|port| over(port.at.taps(base, &mut buffer), &answer)).collect();
        let answering: Vec<usize> = (0..paths.len()).filter(|&port| injected.ports[port].siemens != 0.0).collect();
        let size = answering.len();
        let mut cells = vec![0.0; size * size];
        for (row, &one) in answering.iter().enumerate() {
            for (column, &other) in answering.iter().enumerate().take(row + 1) {
                let ohms = base.factor.product(&paths[one], &paths[other]);
                cells[row * size + column] = injected.ports[one].siemens * ohms;
                cells[column * size + row] = injected.ports[other].siemens * ohms;
            }
            cells[row * size + row] += 1.0;
        }
        let mut back: Vec<f64> = answering.iter().map(|&port| felt[port] * injected.ports[port].siemens).collect();
        if let Some(dense) = Dense::eliminate(size, cells, |_| 0.0) {
            dense.solve(&mut back);
        }
        let mut amps = vec![0.0; paths.len()];
        for (port, back) in answering.into_iter().zip(back) {
            amps[port] = back;
        }
        Response { answer, paths, felt, amps }
    }

    fn port_paths(&self, base: &Base, injected: &Injected) -> Vec<Path> {
        self.with_work(|work| self.port_paths_in(base, injected, work))
    }

    fn port_paths_in(&self, base: &Base, injected: &Injected, work: &mut [f64]) -> Vec<Path> {
        let mut buffer = [(0, 0.0)];
        injected
            .ports
            .iter()
            .map(|port| base.factor.path(&base.symbolic, port.at.taps(base, &mut buffer), work))
            .collect()
    }
}

/// No element passes more amps at these volts, whatever its main value is taken for.
fn most_amps(branch: &Branch, volts: f64) -> f64 {
    match *branch {
        Branch::Open => 0.0,
        // In reverse no more than its saturation.
        Branch::Diode { saturation, turned, .. } if (volts > 0.0) == turned => saturation,
        Branch::Line { siemens, amps } => (siemens * volts).abs() + amps.abs(),
        Branch::Cell { volts: emf, siemens, charge, .. } => siemens.max(charge) * (volts.abs() + emf.abs()),
        // A filament is never colder than cold.
        Branch::Filament { volts: rated, amps, cold, .. } if rated > LEAST_OHMS && cold > 0.0 => {
            (amps / (cold.min(1.0) * rated) * volts).abs()
        }
        Branch::Filament { .. } | Branch::Motor { .. } | Branch::Diode { .. } => f64::INFINITY,
    }
}

/// How a diode's amps at fixed volts follow ln of its saturation current: of `I = Is·(e^(w/slope) − 1)` behind a series
/// resistance, `I · (siemens of both) / (siemens of the junction)`, the latter being `(I + Is) / slope`.
fn by_saturation(amps: f64, siemens: f64, (saturation, slope): (f64, f64), turned: bool) -> f64 {
    let forward = if turned { -amps } else { amps };
    if forward <= 0.0 {
        return amps;
    }
    amps * (siemens * slope / (forward + saturation)).min(1.0)
}

/// Volts of every node over its island's own reference.
fn shifted(base: &Base, injected: &Injected, paths: &[Path]) -> Vec<f64> {
    let amps = paths.iter().zip(&injected.ports).map(|(path, port)| (path, port.amps));
    let shift = base.factor.solve_paths(&base.symbolic, amps);
    base.volts.iter().zip(shift).map(|(volts, shift)| volts - shift).collect()
}

/// What answers an amp.
enum Answering<'a> {
    Ports(&'a Injected),
    Full(&'a Solved),
}

/// How an injured circuit answers one amp.
struct Response {
    /// All nodes of the factored state, without the ports.
    answer: Answer,
    paths: Vec<Path>,
    /// What each port feels of it, V.
    felt: Vec<f64>,
    /// With what each port answers, A.
    amps: Vec<f64>,
}

impl Response {
    /// All nodes, the ports' answers with them.
    fn everywhere(&self, base: &Base) -> Vec<f64> {
        let minus = self.paths.iter().zip(&self.amps).map(|(path, amps)| (path, *amps));
        let mut all = base.factor.solve_paths(&base.symbolic, minus);
        for (less, whole) in all.iter_mut().zip(self.answer.iter()) {
            *less = whole - *less;
        }
        all
    }

    /// Ohms that the amp meets.
    fn ohms(&self, a: Node, b: Node) -> f64 {
        let ports: f64 = self.felt.iter().zip(&self.amps).map(|(felt, amps)| felt * amps).sum();
        self.answer[a] - self.answer[b] - ports
    }
}

/// Volts over taps.
fn over(taps: &[(Node, f64)], volts: &[f64]) -> f64 {
    taps.iter().map(|&(node, weight)| weight * volts[node]).sum()
}

/// How every node answers one amp from b to a.
fn adjoint(solved: &Solved, a: Node, b: Node) -> Vec<f64> {
    let mut right = vec![0.0; solved.volts.len()];
    for &(node, weight) in Taps::pair(a, b).as_slice() {
        right[node] += weight;
    }
    solved.factor.solve(&solved.symbolic, &right)
}
