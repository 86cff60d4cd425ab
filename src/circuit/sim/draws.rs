//! Where the thresholds of coils and interrupters lie, in machines drawn beside the one that the rules describe.
//!
//! A relay drops out a little higher in one machine than in another of its kind. Where that decides how the machine
//! stands, it is solved as each of [`DRAWS`] machines, each with all its thresholds drawn. Every device goes through
//! the same equal shares of its distribution, in an order of its own (a Latin hypercube: McKay, Beckman & Conover,
//! Technometrics 21, 1979).

use super::Sim;
use super::base::Base;
use super::config::Config;
use super::settle::Found;
use super::spec::{Outcome, StateId};
use crate::circuit::injury::Injury;
use crate::circuit::schematic::{ElementId, Law, Schematic};
use crate::circuit::showing::normal;
use std::cell::RefCell;
use std::sync::{Arc, OnceLock};

/// Machines drawn.
pub const DRAWS: usize = 32;
/// Standard deviation of ln(what a coil or an interrupter has / what it needs): its own threshold a tenth, and what
/// source, loads and copper make of the volts there half as much (common practice, no source).
const SPREAD: f64 = 0.12;
/// The latter alone: a rating may say how far its threshold scatters, as of an electronic switch.
const AROUND: f64 = 0.05;
/// So near to a threshold, in ln, some draw may decide otherwise: a little more than the outermost share lies out.
pub(super) const NEAR: f64 = 0.27;

/// Standard deviation of ln(what it has / what it needs) of an element.
fn spread(schematic: &Schematic, id: ElementId) -> f64 {
    schematic.thresholds.get(&id).map_or(SPREAD, |own| own.hypot(AROUND).min(SPREAD))
}

/// The same as [`NEAR`] for one element.
pub(super) fn near(schematic: &Schematic, id: ElementId) -> f64 {
    NEAR * spread(schematic, id) / SPREAD
}

/// Draws of one schematic, made when first asked for.
#[derive(Debug, Default)]
pub(super) struct Draws(OnceLock<Vec<Arc<[f64]>>>);

impl Draws {
    /// How many times as high as the rules say each element's thresholds lie, in a machine drawn.
    pub fn heights(&self, schematic: &Schematic, draw: u8) -> Arc<[f64]> {
        let all = self.0.get_or_init(|| made(schematic));
        all[usize::from(draw) % DRAWS].clone()
    }
}

fn made(schematic: &Schematic) -> Vec<Arc<[f64]>> {
    let shares: Vec<f64> = (0..DRAWS).map(|at| quantile((at as f64 + 0.5) / DRAWS as f64)).collect();
    let mut all = vec![vec![1.0; schematic.elements.len()]; DRAWS];
    for (id, element) in schematic.elements.iter().enumerate() {
        if acts(&element.law) {
            let mut order = shares.clone();
            fastrand::Rng::with_seed(id as u64).shuffle(&mut order);
            let spread = spread(schematic, id);
            all.iter_mut().zip(order).for_each(|(machine, share)| machine[id] = (spread * share).exp());
        }
    }
    all.into_iter().map(Arc::from).collect()
}

/// Has it a threshold?
fn acts(law: &Law) -> bool {
    matches!(law, Law::Coil { .. } | Law::Solenoid { .. } | Law::Interrupter { .. } | Law::By { .. })
}

/// Where the standard normal distribution has this share below, by halving.
fn quantile(share: f64) -> f64 {
    let (mut low, mut high) = (-6.0, 6.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if normal(middle) < share { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// A threshold that was nearly met, or nearly not, on the way to where a machine stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Near {
    /// Whose.
    pub id: ElementId,
    /// ln(what it had / what it needs).
    pub over: f64,
}

impl Near {
    /// Would it have gone the other way with thresholds so many times as high?
    pub(super) fn turns(&self, heights: &[f64]) -> bool {
        let height = heights.get(self.id).copied().unwrap_or(1.0);
        (self.over >= 0.0) != (self.over >= height.ln())
    }
}

/// Configurations of one injury solved so far. Thresholds decide which of them are met, never what flows in them: the
/// machines drawn of one injury share them.
#[derive(Debug, Default)]
pub struct Solved(RefCell<Vec<(*const Base, Config, Found)>>);

impl Solved {
    fn found(&self, base: &Base, config: &Config, solve: impl FnOnce() -> Found) -> Found {
        let at = std::ptr::from_ref(base);
        let of = |known: &&(*const Base, Config, Found)| std::ptr::eq(known.0, at) && known.1 == *config;
        let known = self.0.borrow().iter().find(of).map(|(.., found)| found.clone());
        known.unwrap_or_else(|| {
            let found = solve();
            self.0.borrow_mut().push((at, config.clone(), found.clone()));
            found
        })
    }
}

impl Sim {
    /// [`Sim::run`] of one of several machines drawn that have the same injury but for the draw; `solved` is theirs.
    pub fn run_drawn(&self, state: StateId, injury: &Injury, solved: &Solved) -> Outcome {
        self.run_by(state, injury, |base, wound, config| solved.found(base, config, || self.quick(base, wound, config)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::injury::Change;
    use crate::circuit::schematic::{Elem, When};
    use crate::circuit::sim::{FuseCurve, StateSpec};

    #[test]
    fn every_device_goes_through_the_same_shares_in_an_order_of_its_own() {
        let coil = || Law::Coil { ohms: 80.0, pull_in: 7.0, drop_out: 3.0 };
        let elem = |law| Elem { name: "x".into(), part: None, a: 0, b: 1, law, spread: 0.0 };
        let elements = vec![elem(coil()), elem(Law::Resistor { ohms: 1.0 }), elem(coil())];
        let schematic = Schematic { elements, ..Schematic::default() };
        let draws = Draws::default();
        let of = |id: usize| -> Vec<f64> {
            (0..DRAWS as u8).map(|draw| draws.heights(&schematic, draw)[id].ln() / SPREAD).collect()
        };
        let (one, none, other) = (of(0), of(1), of(2));
        assert!(none.iter().all(|height| *height == 0.0));
        assert_ne!(one, other);
        let sorted = |mut all: Vec<f64>| {
            all.sort_by(f64::total_cmp);
            all
        };
        assert_eq!(sorted(one.clone()), sorted(other.clone()));
        // Mean 0, deviation 1 less what lies beyond the outermost middles; two devices hardly go together.
        let mean = |values: &[f64]| values.iter().sum::<f64>() / DRAWS as f64;
        let product: Vec<f64> = one.iter().zip(&other).map(|(a, b)| a * b).collect();
        let square: Vec<f64> = one.iter().map(|a| a * a).collect();
        assert!(mean(&one).abs() < 1e-9 && (mean(&square) - 1.0).abs() < 0.05 && mean(&product).abs() < 0.4);
        assert!((NEAR / SPREAD) > one.iter().fold(0.0, |most: f64, z| most.max(z.abs())));
    }

    /// A lamp behind a relay whose coil has lost some of its volts: it pulls in on some machines drawn and not on others.
    #[test]
    fn machines_that_share_what_was_solved_stand_as_each_by_itself() {
        let elem = |name: &str, a, b, law| Elem { name: name.into(), part: None, a, b, law, spread: 0.0 };
        let schematic = Schematic {
            nodes: ["minus", "plus", "coil", "lamp"].map(String::from).to_vec(),
            elements: vec![
                elem("battery", 1, 0, Law::Source { volts: 12.6, ohms: 0.01 }),
                elem("wire", 1, 2, Law::Resistor { ohms: 0.02 }),
                elem("coil", 2, 0, Law::Coil { ohms: 80.0, pull_in: 7.0, drop_out: 3.0 }),
                elem("contact", 1, 3, Law::Contact { ohms: 0.01, when: When::Coil { coil: 2, make: true } }),
                elem("lamp", 3, 0, Law::Filament { volts: 12.0, amps: 1.75, cold: 0.1 }),
            ],
            ..Schematic::default()
        };
        let mut sim = Sim::new(schematic, FuseCurve::blade());
        let state = sim.state(&StateSpec { steps: vec![vec![]], changes: vec![] });
        let injury = |draw| Injury {
            changes: vec![Change::Law(1, Law::Resistor { ohms: 64.0 })],
            draw: Some(draw),
            ..Injury::default()
        };
        let solves = |sim: &Sim| sim.counts().port_solves + sim.counts().full_solves;
        let alone: Vec<Outcome> = (0..DRAWS as u8).map(|draw| sim.run(state, &injury(draw))).collect();
        let each = solves(&sim);
        let solved = Solved::default();
        let mut lit = 0;
        for (draw, alone) in (0..DRAWS as u8).zip(&alone) {
            let shared = sim.run_drawn(state, &injury(draw), &solved);
            assert_eq!((&shared.pulled, &shared.near, shared.levels.len()), (&alone.pulled, &alone.near, 1));
            let lamp = |outcome: &Outcome| sim.volts(outcome, 0, 3, 0).to_bits();
            assert_eq!(lamp(&shared), lamp(alone));
            lit += usize::from(!shared.pulled.is_empty());
        }
        assert!((8..=24).contains(&lit), "{lit}");
        assert!(each >= DRAWS && solves(&sim) - each == 2, "{each} {}", solves(&sim));
    }

    #[test]
    fn a_threshold_whose_rating_says_how_far_it_scatters_does_so_and_no_further() {
        let law = Law::Coil { ohms: 10_000.0, pull_in: 16.0, drop_out: 15.8 };
        let elem = Elem { name: "x".into(), part: None, a: 0, b: 1, law, spread: 0.0 };
        let any = Schematic { elements: vec![elem], ..Schematic::default() };
        let rated = Schematic { thresholds: [(0, 0.03)].into_iter().collect(), ..any.clone() };
        let farthest = |schematic: &Schematic| {
            let draws = Draws::default();
            (0..DRAWS as u8).map(|draw| draws.heights(schematic, draw)[0].ln().abs()).fold(0.0, f64::max)
        };
        // Of the outermost of 32 equal shares of a normal distribution the middle lies 2.154 deviations out.
        assert!((farthest(&any) - 2.154 * 0.12).abs() < 1e-3, "{}", farthest(&any));
        assert!((farthest(&rated) - 2.154 * 0.03_f64.hypot(0.05)).abs() < 1e-3, "{}", farthest(&rated));
        assert!(near(&rated, 0) > farthest(&rated) && near(&any, 0) > farthest(&any));
    }
}
