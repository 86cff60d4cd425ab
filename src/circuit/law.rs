//! Current against volts of each element.
//!
//! A [`Law`] together with where controls, coils, fuses, interrupters and pulses stand is a [`Branch`]:
//! nothing, a straight line, or a curve. All are monotone: amps never fall as volts rise.
//!
//! Filament: `I = V · G · (1 + (V/knee)²)^(−0.225)` with G = amps / (cold · volts). Far below the knee it is the cold
//! resistance, far above it I ~ V^0.55; the knee is such that the rated volts give the rated amps exactly.
//!
//! Motor: stalled, `I = V / stall`, up to a fifth of its rated volts (or to five sixths of the rated amps, if these
//! are reached earlier: it turns and draws no more); from there the current grows in a straight line to the rated point.
//!
//! Diode: `V = n·Vt·ln(1 + I/Is) + I·series` at 27 °C with 1e-12 S across it, as circuit simulators have.

use super::schematic::Law;

/// Exponent of a filament's current near its rated volts.
pub const FILAMENT_EXPONENT: f64 = 0.55;
/// Thermal voltage at 27 °C, V.
pub const THERMAL_VOLTS: f64 = 8.617_333_262e-5 * 300.15;
/// Conductance across a diode's junction, S.
pub const JUNCTION_LEAK: f64 = 1e-12;
/// No resistance is taken smaller than this, ohm.
pub const LEAST_OHMS: f64 = 1e-9;

/// What an element is at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Branch {
    /// Absent.
    Open,
    /// amps = siemens · volts + amps at 0 V.
    Line {
        /// S
        siemens: f64,
        /// A at 0 V
        amps: f64,
    },
    /// A filament.
    Filament {
        /// rated V
        volts: f64,
        /// rated A
        amps: f64,
        /// cold over hot ohms
        cold: f64,
        /// V at which it bends, see [`Branch::filament`]
        knee: f64,
    },
    /// A diode; `turned`: the anode is at `to`.
    Diode {
        /// A
        saturation: f64,
        /// n · Vt, V
        slope: f64,
        /// ohm
        series: f64,
        /// anode at `to`
        turned: bool,
    },
    /// Volts behind ohms, and behind other ohms while it is charged.
    Cell {
        /// V
        volts: f64,
        /// S while it gives
        siemens: f64,
        /// S while it is charged
        charge: f64,
        /// plus at `to`
        turned: bool,
    },
    /// A motor.
    Motor {
        /// rated V
        volts: f64,
        /// A at rated V
        amps: f64,
        /// ohm when stalled
        stall: f64,
    },
}

impl Branch {
    /// A resistance; a negative or undefined one is the least there is.
    pub fn ohms(ohms: f64) -> Branch {
        if ohms.is_infinite() {
            return Branch::Open;
        }
        Branch::Line { siemens: 1.0 / least(ohms), amps: 0.0 }
    }

    /// A filament of these rated volts and amps, so many times as many ohms when hot.
    pub fn filament(volts: f64, amps: f64, cold: f64) -> Branch {
        Branch::Filament { volts, amps, cold, knee: FilamentShape::new(volts, amps, cold).knee }
    }

    /// Volts behind a resistance, plus at from.
    pub fn source(volts: f64, ohms: f64) -> Branch {
        let siemens = 1.0 / least(ohms);
        Branch::Line { siemens, amps: -volts * siemens }
    }

    /// Volts behind a resistance that is another one while it is charged.
    pub fn cell(volts: f64, ohms: f64, charge: f64) -> Branch {
        Branch::Cell { volts, siemens: 1.0 / least(ohms), charge: 1.0 / least(charge), turned: false }
    }

    /// The same with from and to exchanged.
    pub fn turned(self) -> Branch {
        match self {
            Branch::Line { siemens, amps } => Branch::Line { siemens, amps: -amps },
            Branch::Diode { saturation, slope, series, turned } => {
                Branch::Diode { saturation, slope, series, turned: !turned }
            }
            Branch::Cell { volts, siemens, charge, turned } => Branch::Cell { volts, siemens, charge, turned: !turned },
            other => other,
        }
    }

    /// It bends: a curve, not a line.
    pub fn bends(&self) -> bool {
        !matches!(self, Branch::Open | Branch::Line { .. })
    }

    /// Amps and their slope (S) at these volts.
    pub fn at(&self, volts: f64) -> (f64, f64) {
        match *self {
            Branch::Open => (0.0, 0.0),
            Branch::Line { siemens, amps } => (siemens * volts + amps, siemens),
            Branch::Filament { volts: rated, amps, cold, knee } => {
                filament(volts, FilamentShape { knee, ..FilamentShape::cold(rated, amps, cold) })
            }
            Branch::Diode { saturation, slope, series, turned } => {
                let sign = if turned { -1.0 } else { 1.0 };
                let (amps, siemens) = diode(sign * volts, saturation, slope, series);
                (sign * amps, siemens)
            }
            Branch::Cell { volts: emf, siemens, charge, turned } => {
                let sign = if turned { -1.0 } else { 1.0 };
                let (amps, slope) = cell(sign * volts, emf, siemens, charge);
                (sign * amps, slope)
            }
            Branch::Motor { volts: rated, amps, stall } => motor(volts, rated, amps, stall),
        }
    }

    /// A straight line to start the search for a solution from: (siemens, amps at 0 V).
    pub fn guess(&self) -> (f64, f64) {
        match *self {
            Branch::Filament { volts, amps, .. } | Branch::Motor { volts, amps, .. } => (amps / least(volts), 0.0),
            Branch::Diode { saturation, slope, .. } => (saturation / least(slope) + JUNCTION_LEAK, 0.0),
            Branch::Cell { volts, siemens, turned, .. } => (siemens, if turned { volts } else { -volts } * siemens),
            _ => {
                let (amps, siemens) = self.at(0.0);
                (siemens, amps)
            }
        }
    }
}

impl Law {
    /// Amps as an expression of a general circuit simulator's behavioural source, `v` being the expression of
    /// its volts; of filaments and motors, which have no element of their own there. The very formula of [`Branch::at`].
    pub fn spice_current(&self, v: &str) -> Option<String> {
        match *self {
            Law::Filament { volts, amps, cold } => {
                let shape = FilamentShape::new(volts, amps, cold);
                Some(format!(
                    "({v})*{:.12e}*(1+(({v})/{:.12e})**2)**({:.12e})",
                    shape.cold_siemens, shape.knee, -shape.power
                ))
            }
            Law::Motor { volts, amps, stall } => {
                let shape = MotorShape::new(volts, amps, stall);
                Some(format!(
                    "sgn({v})*(min(abs({v}),{:.12e})*{:.12e}+max(abs({v})-{:.12e},0)*{:.12e})",
                    shape.knee, shape.stalled, shape.knee, shape.running
                ))
            }
            Law::Cell { volts, ohms, charge } => Some(format!(
                "(min(({v})-{volts:.12e},{CHARGED:e})*{:.12e}+max(({v})-{volts:.12e}-{CHARGED:e},0)*{:.12e})",
                1.0 / least(ohms),
                1.0 / least(charge)
            )),
            _ => None,
        }
    }
}

/// Volts above its own at which a source is being charged: below, a surge fills it as easily as it gives. A machine at
/// rest, all its currents rounding errors, so never stands on the bend.
const CHARGED: f64 = 1e-3;

/// Amps and slope of a source that is charged through other ohms than it gives through.
fn cell(volts: f64, emf: f64, siemens: f64, charge: f64) -> (f64, f64) {
    let over = volts - emf;
    if over <= CHARGED { (over * siemens, siemens) } else { (CHARGED * siemens + (over - CHARGED) * charge, charge) }
}

fn least(ohms: f64) -> f64 {
    if ohms > LEAST_OHMS { ohms } else { LEAST_OHMS }
}

/// Cold over hot ohms; what cannot be is no difference.
fn part_when_cold(cold: f64) -> f64 {
    if cold > 0.0 && cold < 1.0 { cold } else { 1.0 }
}

/// I = V · cold_siemens · (1 + (V/knee)²)^(−power).
struct FilamentShape {
    cold_siemens: f64,
    knee: f64,
    power: f64,
}

impl FilamentShape {
    fn new(volts: f64, amps: f64, cold: f64) -> FilamentShape {
        let shape = FilamentShape::cold(volts, amps, cold);
        let cold = part_when_cold(cold);
        // The knee for which the cold resistance and the rated point are both exact.
        let knee = if cold < 1.0 { least(volts) / (cold.powf(-1.0 / shape.power) - 1.0).sqrt() } else { shape.knee };
        FilamentShape { knee, ..shape }
    }

    /// One that never gets hot.
    fn cold(volts: f64, amps: f64, cold: f64) -> FilamentShape {
        let cold = part_when_cold(cold);
        let power = (1.0 - FILAMENT_EXPONENT) / 2.0;
        FilamentShape { cold_siemens: amps / (cold * least(volts)), knee: f64::MAX.sqrt(), power }
    }
}

fn filament(volts: f64, shape: FilamentShape) -> (f64, f64) {
    let s = (volts / shape.knee).powi(2);
    let siemens = shape.cold_siemens * (1.0 + s).powf(-shape.power);
    (volts * siemens, siemens * (1.0 - 2.0 * shape.power * s / (1.0 + s)))
}

struct MotorShape {
    knee: f64,
    stalled: f64,
    running: f64,
}

impl MotorShape {
    fn new(volts: f64, amps: f64, stall: f64) -> MotorShape {
        let volts = least(volts);
        let amps = amps.max(0.0);
        let stalled = 1.0 / least(stall);
        let knee = (volts / 5.0).min(amps / 1.2 / stalled);
        MotorShape { knee, stalled, running: ((amps - knee * stalled) / (volts - knee)).max(0.0) }
    }
}

fn motor(volts: f64, rated: f64, amps: f64, stall: f64) -> (f64, f64) {
    let shape = MotorShape::new(rated, amps, stall);
    let size = volts.abs();
    if size <= shape.knee {
        return (volts * shape.stalled, shape.stalled);
    }
    let current = shape.knee * shape.stalled + (size - shape.knee) * shape.running;
    (volts.signum() * current, shape.running)
}

/// Amps and slope at volts over diode and series resistance together.
fn diode(volts: f64, saturation: f64, slope: f64, series: f64) -> (f64, f64) {
    let (saturation, slope, series) = (saturation.max(1e-30), least(slope), series.max(0.0));
    // The junction's volts w: w + series·j(w) = volts, j monotone. Solved in w where it is reverse or weak,
    // and from the logarithm's side where the current is set by the series resistance.
    let junction = |w: f64| {
        let e = (w / slope).min(700.0).exp();
        (saturation * (e - 1.0) + JUNCTION_LEAK * w, saturation * e / slope + JUNCTION_LEAK)
    };
    if series == 0.0 || volts <= 0.0 {
        let (amps, siemens) = junction(volts);
        if series == 0.0 {
            return (amps, siemens);
        }
    }
    let mut w = volts;
    if volts > 0.0 {
        // An upper bound that is close: the junction can never carry more than volts / series.
        w = w.min(slope * (1.0 + volts / (series * saturation)).ln());
    }
    for _ in 0..100 {
        // Convex and increasing, from above: Newton falls monotonically to the root.
        let (amps, siemens) = junction(w);
        let step = (w + series * amps - volts) / (1.0 + series * siemens);
        w -= step;
        if step.abs() <= 1e-15 * (1.0 + w.abs()) {
            break;
        }
    }
    let (amps, siemens) = junction(w);
    (amps, siemens / (1.0 + series * siemens))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all() -> Vec<Branch> {
        vec![
            Branch::filament(12.0, 1.75, 0.1),
            Branch::Motor { volts: 12.0, amps: 4.0, stall: 0.5 },
            Branch::Diode { saturation: 1e-9, slope: 1.8 * THERMAL_VOLTS, series: 0.05, turned: false },
            Branch::Diode { saturation: 1e-14, slope: THERMAL_VOLTS, series: 0.0, turned: true },
            Branch::cell(12.65, 0.02, 0.7),
            Branch::cell(12.65, 0.02, 0.7).turned(),
        ]
    }

    #[test]
    fn slopes_are_those_of_the_curve_and_never_negative() {
        for branch in all() {
            let mut before = f64::NEG_INFINITY;
            for step in -300..=300 {
                let volts = f64::from(step) * 0.05 + 0.0013;
                let (volts, h) = if matches!(branch, Branch::Diode { series: 0.0, .. }) {
                    (volts / 20.0, 1e-7)
                } else {
                    (volts, 1e-6)
                };
                let (amps, siemens) = branch.at(volts);
                assert!(amps >= before && siemens >= 0.0, "{branch:?} at {volts}");
                before = amps;
                let slope = (branch.at(volts + h).0 - branch.at(volts - h).0) / (2.0 * h);
                assert!((slope - siemens).abs() <= 1e-4 * siemens + 1e-9, "{branch:?} at {volts}: {slope} {siemens}");
            }
        }
    }

    #[test]
    fn filament_meets_rated_and_cold_points() {
        let (volts, amps, cold) = (12.0, 1.75, 0.1);
        let lamp = Branch::filament(volts, amps, cold);
        assert!((lamp.at(volts).0 - amps).abs() < 1e-12);
        let ohms = 1e-6 / lamp.at(1e-6).0;
        assert!((ohms - cold * volts / amps).abs() < 1e-6);
        // Exponent 0.55 near rated volts (lamp laws in trade handbooks: amps follow volts to the power 0.55).
        let exponent = (lamp.at(12.6).0 / lamp.at(11.4).0).ln() / (12.6f64 / 11.4).ln();
        assert!((exponent - 0.55).abs() < 0.005, "{exponent}");
    }

    #[test]
    fn diode_obeys_its_own_equation() {
        let (saturation, slope, series) = (1e-9, 1.8 * THERMAL_VOLTS, 0.05);
        for volts in [-20.0, -0.5, 0.1, 0.4, 0.8, 1.5, 14.0] {
            let (amps, _) = Branch::Diode { saturation, slope, series, turned: false }.at(volts);
            let junction = volts - amps * series;
            let want = saturation * ((junction / slope).exp() - 1.0) + JUNCTION_LEAK * junction;
            assert!((amps - want).abs() <= 1e-9 * want.abs().max(1e-9), "{volts}: {amps} {want}");
        }
    }
}
