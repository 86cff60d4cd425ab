//! Where the thresholds of coils and interrupters lie, in machines drawn beside the one that the rules describe.
//!
//! A relay drops out a little higher in one machine than in another of its kind. Where that decides how the machine
//! stands, it is solved as each of [`DRAWS`] machines, each with all its thresholds drawn. Every device goes through
//! the same equal shares of its distribution, in an order of its own (a Latin hypercube: McKay, Beckman & Conover,
//! Technometrics 21, 1979).

use crate::circuit::schematic::{ElementId, Law, Schematic};
use crate::circuit::showing::normal;
use std::sync::{Arc, OnceLock};

/// Machines drawn.
pub const DRAWS: usize = 32;
/// Standard deviation of ln(what a coil or an interrupter has / what it needs): its own threshold a tenth, and what
/// source, loads and copper make of the volts there half as much (common practice, no source).
const SPREAD: f64 = 0.12;
/// So near to a threshold, in ln, some draw may decide otherwise: a little more than the outermost share lies out.
pub(super) const NEAR: f64 = 0.27;

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
    let shares: Vec<f64> = (0..DRAWS).map(|at| (SPREAD * quantile((at as f64 + 0.5) / DRAWS as f64)).exp()).collect();
    let mut all = vec![vec![1.0; schematic.elements.len()]; DRAWS];
    for (id, element) in schematic.elements.iter().enumerate() {
        if acts(&element.law) {
            let mut order = shares.clone();
            fastrand::Rng::with_seed(id as u64).shuffle(&mut order);
            all.iter_mut().zip(order).for_each(|(machine, height)| machine[id] = height);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::schematic::Elem;

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
}
