//! A simulated machine with a planted fault, to practise on and to drive chases without a bench.
//!
//! Its copper, loads and sources are drawn from their spreads, so that it is never quite the machine that the
//! chase computes with; the fault's severity is off the grid that suspects are weighed on. Pure: the same seed
//! gives the same machine and the same readings.

use crate::circuit::fault::Fault;
use crate::circuit::schematic::{Elem, Law, Schematic};

/// Draws for a simulated machine.
#[derive(Clone, Debug)]
pub struct Draw {
    rng: fastrand::Rng,
}

impl Draw {
    /// Draws of this seed.
    pub fn new(seed: u64) -> Draw {
        Draw { rng: fastrand::Rng::with_seed(seed) }
    }

    /// A standard normal number (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.rng.f64()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.rng.f64()).cos()
    }

    /// A factor whose logarithm has this standard deviation, three of them at most.
    pub fn factor(&mut self, spread: f64) -> f64 {
        (spread * self.normal().clamp(-3.0, 3.0)).exp()
    }

    /// A number between two, evenly in its logarithm.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        if from <= 0.0 || to <= from {
            return from;
        }
        (from.ln() + (to.ln() - from.ln()) * self.rng.f64()).exp()
    }

    /// Every element's main value times a factor of its spread.
    pub fn machine(&mut self, healthy: &Schematic) -> Schematic {
        let mut drawn = healthy.clone();
        for element in &mut drawn.elements {
            let factor = self.factor(element.spread);
            scale(element, factor);
        }
        drawn
    }

    /// The fault with severities off the grid: an argument that is a plain number is moved within a factor 1.6.
    pub fn severity(&mut self, fault: &Fault) -> Fault {
        let mut moved = fault.clone();
        for single in &mut moved.singles {
            if let ([arg], true) = (single.args.as_mut_slice(), moves(&single.mode)) {
                if let Ok(value) = arg.parse::<f64>() {
                    *arg = format!("{:.4}", value * self.between(1.0 / 1.6, 1.6));
                }
            }
        }
        moved
    }
}

/// Modes whose argument is a severity, not a rating or a place.
fn moves(mode: &str) -> bool {
    matches!(mode, "resistive" | "touching" | "weak")
}

fn scale(element: &mut Elem, factor: f64) {
    match &mut element.law {
        Law::Resistor { ohms } | Law::Coil { ohms, .. } | Law::Contact { ohms, .. } | Law::PulseInput { ohms, .. } => {
            *ohms *= factor;
        }
        Law::ResistorBy { ohms, .. } => ohms.iter_mut().for_each(|ohms| *ohms *= factor),
        Law::Interrupter { ohms, .. } => *ohms *= factor,
        Law::Source { volts, .. } => *volts *= factor,
        Law::Filament { amps, .. } | Law::Motor { amps, .. } => *amps *= factor,
        Law::Diode { saturation, .. } => *saturation *= factor,
        Law::PulseSource { high, .. } => *high *= factor,
        Law::Open => {}
    }
}
