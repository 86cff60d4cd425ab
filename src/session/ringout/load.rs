//! What a way may lose with a lamp's current through it.

use super::job::Way;
use super::words::Words;

/// Standard deviations that a sound way may lie off.
const BESIDE: f64 = 3.0;
/// A filament's current goes with this power of its volts (lamp rerating, from memory).
const POWER: f64 = 0.55;
/// Volts that a charged battery leaves the lamp, of the 12 that it is rated for.
const LEFT: f64 = 12.5;
/// The lamp's own amps may be off by this share.
const LAMP: f64 = 0.1;

/// Volts over a sound way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Should {
    /// Most likely.
    pub volts: f64,
    /// Less than this is no reading of it.
    pub least: f64,
    /// More than this is a bad joint; nothing finer than the meter shows.
    pub most: f64,
}

/// Amps of a lamp of so many watts (12 V).
pub fn amps(watts: f64) -> f64 {
    watts / 12.0 * (LEFT / 12.0).powf(POWER)
}

/// What a way loses with this lamp in it (Ohm's law), W.
pub fn should(way: &Way, watts: f64) -> Should {
    let step = Words::builtin().figure("step");
    let volts = amps(watts) * way.ohms;
    let sd = (amps(watts) * way.spread).hypot(LAMP * volts);
    let most = volts + (BESIDE * sd).max(2.0 * step);
    let least = volts - (BESIDE * sd).max(2.0 * step) - step;
    // To the display's step, outward.
    Should { volts, least: (least / step).floor() * step, most: (most / step).ceil() * step }
}

/// Volts as a 20 V range shows them.
pub fn say(volts: f64) -> String {
    format!("{volts:.2} V")
}

/// Reads volts: `0.05`, `50 mV`.
pub fn volts(text: &str) -> Result<f64, String> {
    let lower = text.trim().to_lowercase().replace(',', ".");
    let (figure, factor) = match lower.strip_suffix("mv") {
        Some(figure) => (figure, 1e-3),
        None => (lower.strip_suffix('v').unwrap_or(&lower), 1.0),
    };
    let volts: f64 = figure.trim().parse().map_err(|_| {
        format!("\"{text:.30}\" is no reading; volts over the way: 0.05, 50 mV; dark if the lamp is dark")
    })?;
    let volts = volts * factor;
    if !volts.is_finite() || volts.abs() > 30.0 {
        return Err(format!("{volts} V is more than a battery gives; is it millivolts (\"{volts} mV\")?"));
    }
    Ok(volts.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 21 W at 12 V are 1.75 A; 1.79 A at 12.5 V. Over 40 mohm that is 0.07 V (Ohm's law by hand).
    #[test]
    fn a_way_loses_amps_times_ohms_and_no_limit_is_finer_than_the_meter() {
        let way = Way { ohms: 0.04, spread: 0.004, ..Way::default() };
        let should = should(&way, 21.0);
        assert!((should.volts - 0.0716).abs() < 1e-3, "{should:?}");
        assert!(should.most > 0.09 && should.most < 0.13 && should.least < 0.06, "{should:?}");
        assert!(((should.most * 100.0).round() - should.most * 100.0).abs() < 1e-9);
        // A centimetre of wire: nothing below what the display shows is called bad.
        let short = super::should(&Way { ohms: 1e-4, spread: 1e-5, ..Way::default() }, 21.0);
        assert!(short.most >= 0.02 && short.least <= 0.0, "{short:?}");
    }

    #[test]
    fn volts_as_people_write_them() {
        assert_eq!(volts("0.05"), Ok(0.05));
        assert_eq!(volts("50 mV"), Ok(0.05));
        assert_eq!(volts("0,31 V"), Ok(0.31));
        assert_eq!(volts("-0.05"), Ok(0.05));
        for bad in ["", "x", "nan", "inf", "400", "1e999"] {
            assert!(volts(bad).is_err(), "{bad}");
        }
    }
}
