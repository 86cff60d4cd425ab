//! The elements of a state as branches between nodes, and which of them an injury or an event changes.

use crate::circuit::injury::{Change, Injury};
use crate::circuit::law::Branch;
use crate::circuit::schematic::{ElementId, Law, Node, Schematic, When};
use std::sync::Arc;

/// A node that bears less than this part of a branch has no part in it (what is left of weights that cancel).
const LEAST_WEIGHT: f64 = 1e-12;

/// Where a branch is connected: the volts over it are the weighted sum of the nodes' volts.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Taps {
    /// From, to.
    Pair([(Node, f64); 2]),
    /// Any number of nodes; the weights sum to 0.
    Weighted(Box<[(Node, f64)]>),
}

impl Taps {
    pub fn pair(a: Node, b: Node) -> Taps {
        Taps::Pair([(a, 1.0), (b, -1.0)])
    }

    pub fn as_slice(&self) -> &[(Node, f64)] {
        match self {
            Taps::Pair(pair) => pair,
            Taps::Weighted(taps) => taps,
        }
    }

    pub fn volts(&self, volts: &[f64]) -> f64 {
        match self {
            Taps::Pair([(a, _), (b, _)]) => volts[*a] - volts[*b],
            Taps::Weighted(taps) => taps.iter().map(|&(node, weight)| weight * volts[node]).sum(),
        }
    }
}

/// Where the things that move by themselves stand.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Config {
    /// Coils pulled in, ascending.
    pub pulled: Vec<ElementId>,
    /// Fuses blown, ascending.
    pub blown: Vec<ElementId>,
    /// Interrupters that are open at the moment.
    pub apart: Vec<ElementId>,
    /// Pulse sources stand high.
    pub high: bool,
}

/// The laws of a state: the schematic's with the state's changes, and what the state adds.
#[derive(Clone, Debug)]
pub(super) struct Laws {
    /// Of the schematic's elements, then of those added.
    pub laws: Vec<Law>,
    pub turned: Vec<bool>,
    pub taps: Vec<Taps>,
    /// Coils, what helps them, fuses and interrupters: what events are judged by. Ascending.
    pub watched: Vec<ElementId>,
    /// Coil, contact moved by it.
    pub moved: Vec<(ElementId, ElementId)>,
    /// Pulse sources.
    pub pulses: Vec<ElementId>,
}

impl Laws {
    pub fn new(schematic: &Schematic, changes: &[Change]) -> Laws {
        let mut laws: Vec<Law> = schematic.elements.iter().map(|element| element.law.clone()).collect();
        let mut turned = vec![false; laws.len()];
        let mut taps: Vec<Taps> = schematic.elements.iter().map(|element| Taps::pair(element.a, element.b)).collect();
        let own = laws.len();
        for change in changes {
            match change {
                Change::Law(id, law) if *id < own => laws[*id] = law.clone(),
                Change::Reverse(id) if *id < own => turned[*id] = !turned[*id],
                Change::Law(..) | Change::Reverse(..) => {}
                Change::Tie { .. } | Change::Add { .. } => {
                    if let Some((place, law)) = added(change) {
                        laws.push(law);
                        turned.push(false);
                        taps.push(place);
                    }
                }
            }
        }
        let mut watched = Vec::new();
        let mut moved = Vec::new();
        let mut pulses = Vec::new();
        for (id, law) in laws.iter().enumerate() {
            match law {
                Law::Coil { .. } | Law::Interrupter { .. } | Law::Contact { when: When::Fuse { .. }, .. } => {
                    watched.push(id);
                }
                Law::Solenoid { with, .. } => watched.extend([id, *with]),
                Law::Contact { when: When::Coil { coil, .. }, .. } => moved.push((*coil, id)),
                Law::PulseSource { .. } => pulses.push(id),
                _ => {}
            }
        }
        watched.sort_unstable();
        watched.dedup();
        Laws { laws, turned, taps, watched, moved, pulses }
    }

    /// All branches in this configuration.
    pub fn branches(&self, settings: &[usize], config: &Config) -> Vec<Branch> {
        self.laws
            .iter()
            .zip(&self.turned)
            .enumerate()
            .map(|(id, (law, &turned))| branch(law, turned, id, settings, config))
            .collect()
    }
}

/// Connection and law of an addition; none for a tie whose two ends are one place, which holds nothing to anything.
fn added(change: &Change) -> Option<(Taps, Law)> {
    match change {
        Change::Tie { from, to, ohms } => {
            let mut taps: Vec<(Node, f64)> = Vec::with_capacity(from.len() + to.len());
            let ends = from.iter().copied().chain(to.iter().map(|&(node, weight)| (node, -weight)));
            for (node, weight) in ends {
                match taps.iter_mut().find(|(other, _)| *other == node) {
                    Some((_, sum)) => *sum += weight,
                    None => taps.push((node, weight)),
                }
            }
            taps.retain(|(_, weight)| weight.abs() > LEAST_WEIGHT);
            (!taps.is_empty()).then(|| (Taps::Weighted(taps.into()), Law::Resistor { ohms: *ohms }))
        }
        Change::Add { a, b, law } => Some((Taps::pair(*a, *b), law.clone())),
        Change::Law(..) | Change::Reverse(..) => None,
    }
}

/// What an element is in this configuration.
fn branch(law: &Law, turned: bool, id: ElementId, settings: &[usize], config: &Config) -> Branch {
    let branch = match law {
        Law::Open => Branch::Open,
        Law::Resistor { ohms } | Law::Coil { ohms, .. } | Law::Solenoid { ohms, .. } | Law::PulseInput { ohms, .. } => {
            Branch::ohms(*ohms)
        }
        // Whatever stands has no setting left to ask for.
        Law::By { .. } => branch(law.standing(settings), false, id, settings, config),
        Law::Cell { volts, ohms, charge } => Branch::cell(*volts, *ohms, *charge),
        Law::Filament { volts, amps, cold } => Branch::filament(*volts, *amps, *cold),
        Law::Diode { saturation, emission, series } => Branch::Diode {
            saturation: *saturation,
            slope: emission * crate::circuit::law::THERMAL_VOLTS,
            series: *series,
            turned: false,
        },
        Law::Source { volts, ohms } => Branch::source(*volts, *ohms),
        Law::Motor { volts, amps, stall } => Branch::Motor { volts: *volts, amps: *amps, stall: *stall },
        Law::Interrupter { ohms, .. } => {
            if config.apart.contains(&id) {
                Branch::Open
            } else {
                Branch::ohms(*ohms)
            }
        }
        Law::PulseSource { low, high, ohms, .. } => match (config.high, high) {
            (true, Some(high)) => Branch::source(*high, *ohms),
            (true, None) => Branch::Open,
            (false, _) => Branch::source(*low, *ohms),
        },
        Law::Contact { ohms, when } => {
            let closed = match when {
                When::Always => true,
                When::Setting { control, closed } => closed.contains(&settings.get(*control).copied().unwrap_or(0)),
                When::Coil { coil, make } => config.pulled.binary_search(coil).is_ok() == *make,
                When::Fuse { .. } => config.blown.binary_search(&id).is_err(),
            };
            if closed { Branch::ohms(*ohms) } else { Branch::Open }
        }
    };
    if turned { branch.turned() } else { branch }
}

/// What differs from the factored state.
#[derive(Clone, Debug, Default)]
pub(super) struct Overrides {
    /// Elements (the state's additions among them) that are something else.
    pub elements: Vec<(ElementId, Branch)>,
    /// What the injury adds.
    pub added: Vec<(Taps, Branch)>,
}

/// An injury made ready: the last law of each element.
#[derive(Clone, Debug)]
pub(super) struct Wound {
    /// Element, law, turned.
    pub changed: Vec<(ElementId, Law, bool)>,
    /// Connection, law.
    pub added: Vec<(Taps, Law)>,
    /// How many times as long as the table says fuses hold.
    pub patience: f64,
    /// How many times as high as the rules say the thresholds of each element lie, if not just as high.
    pub heights: Option<Arc<[f64]>>,
}

impl Default for Wound {
    fn default() -> Wound {
        Wound { changed: Vec::new(), added: Vec::new(), patience: 1.0, heights: None }
    }
}

impl Wound {
    pub fn new(laws: &Laws, injury: &Injury, heights: Option<Arc<[f64]>>) -> Wound {
        let mut wound = Wound { patience: injury.patience.exp(), heights, ..Wound::default() };
        for change in &injury.changes {
            match change {
                Change::Law(id, _) | Change::Reverse(id) => {
                    if *id >= laws.laws.len() {
                        continue;
                    }
                    let at = wound.changed.iter().position(|(other, ..)| other == id).unwrap_or_else(|| {
                        wound.changed.push((*id, laws.laws[*id].clone(), laws.turned[*id]));
                        wound.changed.len() - 1
                    });
                    match change {
                        Change::Law(_, law) => wound.changed[at].1 = law.clone(),
                        _ => wound.changed[at].2 = !wound.changed[at].2,
                    }
                }
                Change::Tie { .. } | Change::Add { .. } => wound.added.extend(added(change)),
            }
        }
        wound
    }

    /// How many times as high as the rules say an element's thresholds lie.
    pub fn height(&self, id: ElementId) -> f64 {
        self.heights.as_ref().and_then(|heights| heights.get(id)).copied().unwrap_or(1.0)
    }

    /// The law of an element under the injury.
    pub fn law<'a>(&'a self, laws: &'a Laws, id: ElementId) -> (&'a Law, bool) {
        match self.changed.iter().find(|(other, ..)| *other == id) {
            Some((_, law, turned)) => (law, *turned),
            None => (&laws.laws[id], laws.turned[id]),
        }
    }

    /// What differs from `base` (branches of `healthy`) in `config`.
    pub fn overrides(
        &self,
        laws: &Laws,
        settings: &[usize],
        base: &[Branch],
        healthy: &Config,
        config: &Config,
    ) -> Overrides {
        let mut elements: Vec<(ElementId, Branch)> = Vec::new();
        let mut take = |id: ElementId| {
            let (law, turned) = self.law(laws, id);
            let now = branch(law, turned, id, settings, config);
            if now != base[id] && elements.iter().all(|(other, _)| *other != id) {
                elements.push((id, now));
            }
        };
        for (id, ..) in &self.changed {
            take(*id);
        }
        for &(coil, contact) in &laws.moved {
            if config.pulled.binary_search(&coil).is_ok() != healthy.pulled.binary_search(&coil).is_ok() {
                take(contact);
            }
        }
        for &id in config.blown.iter().filter(|id| healthy.blown.binary_search(id).is_err()) {
            take(id);
        }
        for &id in healthy.blown.iter().filter(|id| config.blown.binary_search(id).is_err()) {
            take(id);
        }
        for &id in &config.apart {
            take(id);
        }
        if config.high != healthy.high {
            for &id in &laws.pulses {
                take(id);
            }
        }
        let own = laws.laws.len();
        let added = self
            .added
            .iter()
            .enumerate()
            .map(|(at, (taps, law))| (taps.clone(), branch(law, false, own + at, settings, config)))
            .collect();
        Overrides { elements, added }
    }
}
