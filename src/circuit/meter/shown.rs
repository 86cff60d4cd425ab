//! What a display makes of a value: its digits, its own error, a swing, a beep.

use super::Observed;
use crate::circuit::showing::normal;
use crate::circuit::sim::Level;
use crate::circuit::test::{Instrument, step_of};
use crate::netlist::Bench;

/// 2.5 and 97.5 % of a normal distribution, in standard deviations.
const BAND: f64 = 1.96;

/// What a volts range shows of these level volts.
pub fn volts_shown(instrument: Instrument, levels: &[Level], volts: &[f64]) -> Observed {
    let group = |slow: bool| {
        let of = levels.iter().zip(volts).filter(move |(level, _)| level.slow_closed == slow);
        let share: f64 = of.clone().map(|(level, _)| level.share).sum();
        if share <= 0.0 {
            return None;
        }
        let mean = of.clone().map(|(level, v)| level.share * v).sum::<f64>() / share;
        if instrument != Instrument::VoltsAc {
            return Some(mean);
        }
        let square = of.map(|(level, v)| level.share * (v - mean) * (v - mean)).sum::<f64>() / share;
        Some(square.max(0.0).sqrt())
    };
    match (group(true), group(false)) {
        (Some(on), Some(off)) if (on - off).abs() > step_of(instrument, on.abs().max(off.abs())) => {
            Observed::Range { from: on.min(off), to: on.max(off) }
        }
        (Some(value), _) | (None, Some(value)) => number(instrument, value, 0.0),
        (None, None) => number(instrument, 0.0, 0.0),
    }
}

/// The instrument's own standard deviation at a value: half of its stated limits (6000-count meters, from memory:
/// volts DC 0.5 % + 2 digits, amps 1 % + 3, volts AC 1 % + 3; ohms 1 % + 0.2 ohm with its leads).
pub fn accuracy(instrument: Instrument, value: f64) -> f64 {
    let step = step_of(instrument, value);
    let limit = match instrument {
        Instrument::VoltsDc | Instrument::VoltsLoz => 0.005 * value.abs() + 2.0 * step,
        Instrument::VoltsAc | Instrument::AmpsDc => 0.01 * value.abs() + 3.0 * step,
        Instrument::Ohms | Instrument::Beep => 0.01 * value.abs() + 0.2,
        Instrument::TestLamp | Instrument::Watch | Instrument::Touch => 0.0,
    };
    limit / 2.0
}

/// A number as the display has it, `spread` what the circuit adds to the instrument's own.
pub(super) fn number(instrument: Instrument, value: f64, spread: f64) -> Observed {
    let sigma = spread.hypot(accuracy(instrument, value));
    let step = step_of(instrument, value);
    let low = value - BAND * sigma;
    // An rms and a resistance are never below nothing.
    let least = matches!(instrument, Instrument::VoltsAc | Instrument::Ohms | Instrument::Beep);
    Observed::Number { value, step, low: if least { low.max(0.0) } else { low }, high: value + BAND * sigma }
}

/// The same with what the circuit leaves uncertain.
pub(super) fn widened(what: Observed, instrument: Instrument, spread: f64) -> Observed {
    match what {
        Observed::Number { value, .. } => number(instrument, value, spread),
        other => other,
    }
}

/// Chance that the beeper sounds at so many ohms.
pub(super) fn beeps(bench: &Bench, ohms: f64, spread: f64) -> f64 {
    if !ohms.is_finite() {
        return 0.0;
    }
    let sigma = spread.hypot(accuracy(Instrument::Beep, ohms));
    // At or below: the threshold itself beeps.
    normal((bench.beep_below * (1.0 + 1e-9) - ohms) / sigma.max(1e-6))
}
