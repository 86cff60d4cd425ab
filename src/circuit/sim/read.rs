//! Volts, amps, ohms and sensitivities of a level.

use super::Sim;
use super::base::Base;
use super::config::Taps;
use super::full::Solved;
use super::ports::Injected;
use super::spec::{Field, Outcome};
use crate::circuit::law::{Branch, LEAST_OHMS};
use crate::circuit::schematic::{ElementId, Law, Node};
use crate::linear::Dense;
use crate::linear::solve::Path;

/// A reading that an element's spread moves by less than this is not said to depend on it, V.
const UNFELT: f64 = 1e-4;

/// The healthy element's share of its ohms as they are now.
fn own_share(law: &Law, siemens: f64) -> f64 {
    match law {
        Law::Resistor { ohms }
        | Law::Contact { ohms, .. }
        | Law::Coil { ohms, .. }
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
        let base = self.base(outcome);
        match outcome.levels.get(level).map(|level| &level.field) {
            Some(Field::Ports(injected)) => {
                if injected.parted(base, a, b) {
                    return 0.0;
                }
                let healthy = base.volts[a] - base.volts[b];
                if injected.ports.is_empty() {
                    return healthy;
                }
                self.with_work(|work| {
                    let path = base.factor.path(&base.symbolic, &[(a, 1.0), (b, -1.0)], work);
                    let mut buffer = [(0, 0.0)];
                    injected.ports.iter().fold(healthy, |volts, port| {
                        let other = base.factor.path(&base.symbolic, port.at.taps(base, &mut buffer), work);
                        volts - port.amps * base.factor.product(&path, &other)
                    })
                })
            }
            Some(Field::Full(solved)) if solved.islands[a] == solved.islands[b] => solved.volts[a] - solved.volts[b],
            _ => 0.0,
        }
    }

    /// Volts of every node over the zero node (0 where floating); cheaper than one by one for many.
    pub fn all_volts(&self, outcome: &Outcome, level: usize) -> Vec<f64> {
        let base = self.base(outcome);
        let zero = self.schematic.zero;
        let count = self.schematic.nodes.len();
        let mut volts = match outcome.levels.get(level).map(|level| &level.field) {
            Some(Field::Ports(injected)) if injected.ports.is_empty() => base.volts.clone(),
            Some(Field::Ports(injected)) => shifted(base, injected, &self.port_paths(base, injected)),
            Some(Field::Full(solved)) => solved.volts.clone(),
            None => vec![0.0; count],
        };
        let reference = volts.get(zero).copied().unwrap_or(0.0);
        for (node, volt) in volts.iter_mut().enumerate() {
            *volt = if self.floating(outcome, level, node, zero) { 0.0 } else { *volt - reference };
        }
        volts
    }

    /// No path of present elements joins the two nodes in a level.
    pub fn floating(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> bool {
        match outcome.levels.get(level).map(|level| &level.field) {
            Some(Field::Ports(injected)) => injected.parted(self.base(outcome), a, b),
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

    /// Is the element there at all in a level (a closed contact, a whole fuse, not open)?
    pub fn element_present(&self, outcome: &Outcome, level: usize, element: ElementId) -> bool {
        self.branch(outcome, level, element) != Branch::Open
    }

    /// What an element is in a level.
    fn branch(&self, outcome: &Outcome, level: usize, element: ElementId) -> Branch {
        let Some(level) = outcome.levels.get(level) else { return Branch::Open };
        match level.set.elements.iter().find(|(id, _)| *id == element) {
            Some((_, branch)) => *branch,
            None => self.base(outcome).branches[element],
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
        let base = self.base(outcome);
        match &outcome.levels[level].field {
            Field::Ports(injected) => self.with_work(|work| {
                let path = base.factor.path(&base.symbolic, &[(a, 1.0), (b, -1.0)], work);
                let seen = base.factor.product(&path, &path);
                let paths = self.port_paths_in(base, injected, work);
                let felt: Vec<f64> = paths.iter().map(|other| base.factor.product(&path, other)).collect();
                let answer = respond(base, injected, &paths, &felt);
                seen - felt.iter().zip(&answer).map(|(felt, answer)| felt * answer).sum::<f64>()
            }),
            Field::Full(solved) => self.with_work(|work| {
                let path = solved.factor.path(&solved.symbolic, &[(a, 1.0), (b, -1.0)], work);
                solved.factor.product(&path, &path)
            }),
        }
    }

    /// d(volts a − b) / d ln(main value) of every element with a spread, by one adjoint solve;
    /// those that move the reading by less than 0.1 mV a spread are left out. The main value is ohms,
    /// of sources volts, of filaments and motors amps. Ohms that a fault puts in series are the fault's, not the
    /// element's: they do not scatter with it.
    pub fn sensitivity(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> Vec<(ElementId, f64)> {
        if a == b || self.floating(outcome, level, a, b) {
            return Vec::new();
        }
        let base = self.base(outcome);
        let unmoved = matches!(&outcome.levels[level].field, Field::Ports(injected) if injected.ports.is_empty());
        if !unmoved {
            return self.rows(outcome, level, a, b);
        }
        // What only parts off what carries nothing leaves the reading to the healthy circuit.
        let key = (std::ptr::from_ref(base) as usize, a, b);
        if let Some(known) = self.felt.lock().ok().and_then(|felt| felt.get(&key).cloned()) {
            return known;
        }
        let rows = self.rows(outcome, level, a, b);
        if let Ok(mut felt) = self.felt.lock() {
            felt.insert(key, rows.clone());
        }
        rows
    }

    fn rows(&self, outcome: &Outcome, level: usize, a: Node, b: Node) -> Vec<(ElementId, f64)> {
        let base = self.base(outcome);
        let (adjoint, volts) = match &outcome.levels[level].field {
            Field::Ports(injected) => {
                let (path, paths) = self.with_work(|work| {
                    let path = base.factor.path(&base.symbolic, &[(a, 1.0), (b, -1.0)], work);
                    (path, self.port_paths_in(base, injected, work))
                });
                let felt: Vec<f64> = paths.iter().map(|other| base.factor.product(&path, other)).collect();
                let answer = respond(base, injected, &paths, &felt);
                let minus = paths.iter().zip(&answer).map(|(path, answer)| (path, -answer));
                let adjoint = base.factor.solve_paths(&base.symbolic, std::iter::once((&path, 1.0)).chain(minus));
                (adjoint, shifted(base, injected, &paths))
            }
            Field::Full(solved) => (adjoint(solved, a, b), solved.volts.clone()),
        };
        let set = &outcome.levels[level].set.elements;
        let mut rows = Vec::new();
        for &(id, from, to, spread) in &self.scatter {
            let answer = adjoint[from] - adjoint[to];
            let over = volts[from] - volts[to];
            let branch = set.iter().find(|(other, _)| *other == id).map_or(base.branches[id], |(_, branch)| *branch);
            if (answer * spread).abs() * most_amps(&branch, over) < UNFELT {
                continue;
            }
            let (amps, siemens) = branch.at(over);
            // How the element's amps at fixed volts follow its main value.
            let push = match (&branch, &base.laws.laws[id]) {
                (Branch::Open, _) | (Branch::Diode { .. }, _) => 0.0,
                (Branch::Line { .. }, Law::Source { .. } | Law::PulseSource { .. }) => amps - siemens * over,
                (Branch::Line { .. }, law) => -amps * own_share(law, siemens),
                (Branch::Filament { .. } | Branch::Motor { .. }, _) => amps,
            };
            let row = -answer * push;
            if (row * spread).abs() >= UNFELT {
                rows.push((id, row));
            }
        }
        rows
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
        Branch::Open | Branch::Diode { .. } => 0.0,
        Branch::Line { siemens, amps } => (siemens * volts).abs() + amps.abs(),
        // A filament is never colder than cold.
        Branch::Filament { volts: rated, amps, cold } if rated > LEAST_OHMS && cold > 0.0 => {
            (amps / (cold.min(1.0) * rated) * volts).abs()
        }
        Branch::Filament { .. } | Branch::Motor { .. } => f64::INFINITY,
    }
}

/// Volts of every node over its island's own reference.
fn shifted(base: &Base, injected: &Injected, paths: &[Path]) -> Vec<f64> {
    let amps = paths.iter().zip(&injected.ports).map(|(path, port)| (path, port.amps));
    let shift = base.factor.solve_paths(&base.symbolic, amps);
    base.volts.iter().zip(shift).map(|(volts, shift)| volts - shift).collect()
}

/// `(I + H Z)⁻¹ H z`: the currents with which the ports answer a test current that they feel as `felt`. Ports
/// without slope do not.
fn respond(base: &Base, injected: &Injected, paths: &[Path], felt: &[f64]) -> Vec<f64> {
    let answering: Vec<usize> = (0..paths.len()).filter(|&port| injected.ports[port].siemens != 0.0).collect();
    let size = answering.len();
    let mut cells = vec![0.0; size * size];
    for (row, &one) in answering.iter().enumerate() {
        let slope = injected.ports[one].siemens;
        for (column, &other) in answering.iter().enumerate() {
            cells[row * size + column] = slope * base.factor.product(&paths[one], &paths[other]);
        }
        cells[row * size + row] += 1.0;
    }
    let mut answer: Vec<f64> = answering.iter().map(|&port| felt[port] * injected.ports[port].siemens).collect();
    if let Some(dense) = Dense::eliminate(size, cells, 0.0) {
        dense.solve(&mut answer);
    }
    let mut all = vec![0.0; paths.len()];
    for (port, answer) in answering.into_iter().zip(answer) {
        all[port] = answer;
    }
    all
}

/// How every node answers one amp from b to a.
fn adjoint(solved: &Solved, a: Node, b: Node) -> Vec<f64> {
    let mut right = vec![0.0; solved.volts.len()];
    for &(node, weight) in Taps::pair(a, b).as_slice() {
        right[node] += weight;
    }
    solved.factor.solve(&solved.symbolic, &right)
}
