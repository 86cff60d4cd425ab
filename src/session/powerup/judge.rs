//! Is what was met what a sound machine answers?

use crate::circuit::meter::{OHMS_LIMIT, Observed};
use crate::circuit::test::{Instrument, Reading};

/// 97.5 % of a normal distribution, in standard deviations: where a prediction's band ends.
const BAND: f64 = 1.96;
/// Ohms above this part of the meter's limit are as good as over range.
const AS_GOOD_AS_OVER: f64 = 0.1;

/// How a reading stands beside a prediction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    /// As it should be.
    Fits,
    /// Less than it should be.
    Less,
    /// More than it should be.
    More,
    /// Something else altogether.
    Other,
}

/// Volts, amps or ohms between which a sound machine's reading lies, `beside` standard deviations to either side.
pub fn band(expected: &Observed, instrument: Instrument, beside: f64) -> Option<(f64, f64)> {
    match expected {
        Observed::Number { value, low, high, .. } => {
            let (down, up) = ((value - low) / BAND * beside, (high - value) / BAND * beside);
            // A band that was cut at nothing is as wide below as above.
            let down = down.max(if *low <= 0.0 { up } else { 0.0 });
            let least = if instrument == Instrument::Ohms { 0.0 } else { f64::NEG_INFINITY };
            Some(((value - down).max(least), value + up))
        }
        Observed::Range { from, to } => Some((*from, *to)),
        _ => None,
    }
}

/// Judges it. The digits typed are its resolution.
pub fn judge(met: &Reading, expected: &Observed, instrument: Instrument, beside: f64) -> Beside {
    let Some((low, high)) = band(expected, instrument, beside) else {
        return match (expected, met) {
            (Observed::Over, Reading::Over) => Beside::Fits,
            (Observed::Over, Reading::Value { value, .. }) if *value >= AS_GOOD_AS_OVER * OHMS_LIMIT => Beside::Fits,
            (Observed::Over, Reading::Value { .. }) => Beside::Less,
            _ => Beside::Other,
        };
    };
    match met {
        Reading::Value { value, .. } => {
            let half = 0.5 * met.step(instrument);
            if value + half < low {
                Beside::Less
            } else if value - half > high {
                Beside::More
            } else {
                Beside::Fits
            }
        }
        // What swings must swing about where it should.
        Reading::Range { from, to } => match (from.max(*to) < low, from.min(*to) > high) {
            (true, _) => Beside::Less,
            (_, true) => Beside::More,
            _ => Beside::Fits,
        },
        Reading::Over if instrument == Instrument::Ohms && high >= AS_GOOD_AS_OVER * OHMS_LIMIT => Beside::Fits,
        Reading::Over => Beside::More,
        _ => Beside::Other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(value: f64, step: f64) -> Reading {
        Reading::Value { value, step: Some(step) }
    }

    #[test]
    fn a_reading_is_beside_what_it_should_be_only_past_its_band_and_its_digits() {
        let twelve = Observed::Number { value: 12.0, step: 0.01, low: 11.8, high: 12.2 };
        let at = |met: &Reading| judge(met, &twelve, Instrument::VoltsDc, 3.0);
        assert_eq!(at(&value(12.3, 0.1)), Beside::Fits);
        assert_eq!(at(&value(12.0, 1.0)), Beside::Fits);
        assert_eq!(at(&value(11.0, 0.1)), Beside::Less);
        assert_eq!(at(&value(12.5, 0.1)), Beside::More);
        // "11" is 10.5 to 11.5, and the band begins at 11.69.
        assert_eq!(at(&value(11.0, 1.0)), Beside::Less);
        assert_eq!(at(&Reading::Over), Beside::More);
        assert_eq!(at(&Reading::Beeps(true)), Beside::Other);
    }

    #[test]
    fn megohms_and_over_range_are_one_to_a_feed_that_nothing_joins() {
        let judged = |met: &Reading| judge(met, &Observed::Over, Instrument::Ohms, 3.0);
        assert_eq!(judged(&Reading::Over), Beside::Fits);
        assert_eq!(judged(&value(12e6, 1e4)), Beside::Fits);
        assert_eq!(judged(&value(800.0, 1.0)), Beside::Less);
    }
}
