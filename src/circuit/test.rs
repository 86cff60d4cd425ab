//! A test and a reading as scripts write them ([`json`]), and as the program computes with them.

pub mod json;

use crate::text::problem::Problem;

/// An instrument.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Instrument {
    /// volts, DC, the bench's input resistance
    VoltsDc,
    /// true rms of the AC part
    VoltsAc,
    /// volts through 3 kohm
    VoltsLoz,
    /// 0.6 V behind 1.7 kohm, V/I at the probes
    Ohms,
    /// beeper
    Beep,
    /// 0.03 ohm in the place of what `open` names
    AmpsDc,
    /// the bench's lamp
    TestLamp,
    /// looking at a part
    Watch,
    /// a hand: is it warm?
    Touch,
}

/// Settings put on top of each other, in the order done.
pub type Settings = Vec<(String, String)>;

/// One placement of an instrument (or one look at a part).
#[derive(Clone, Debug, PartialEq)]
pub struct Test {
    /// The instrument.
    pub instrument: Instrument,
    /// Where red goes.
    pub red: Option<String>,
    /// Where black goes.
    pub black: Option<String>,
    /// The part watched.
    pub part: Option<String>,
    /// Watch while this control goes from one setting to another.
    pub change: Option<(String, [String; 2])>,
    /// Controls set, others at rest.
    pub set: Settings,
    /// Earlier steps.
    pub after: Vec<Settings>,
    /// What is unplugged, taken out, lifted.
    pub open: Vec<String>,
    /// Two points and what is put between them.
    pub bridge: Vec<Bridge>,
    /// What is fitted in a part's place.
    pub fit: Vec<(String, Fit)>,
    /// What is done to it while reading.
    pub disturb: Option<(String, String)>,
    /// The same placement again with these settings on top.
    pub then: Vec<Settings>,
}

/// A bridge.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// One end.
    pub a: String,
    /// The other.
    pub b: String,
    /// What is in it.
    pub with: BridgeWith,
}

/// What is in a bridge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum BridgeWith {
    /// A 20 mohm lead.
    Lead,
    /// A lamp of so many watts (12 V).
    Lamp(f64),
    /// A fuse of so many amps.
    Fuse(f64),
    /// ohm
    Resistor(f64),
}

/// What is fitted in a part's place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// A steady load of so many amps at 12 V.
    Load(f64),
    /// A known good one.
    Good,
}

/// What an instrument or an eye answers.
#[derive(Clone, Debug, PartialEq)]
pub enum Reading {
    /// A value in V, A or ohm; `step` is the digits' worth if it is not the instrument's own.
    Value {
        /// the value
        value: f64,
        /// the display's step, if told
        step: Option<f64>,
    },
    /// Swings between two values.
    Range {
        /// one
        from: f64,
        /// the other
        to: f64,
    },
    /// Over range (`OL`).
    Over,
    /// The beeper.
    Beeps(bool),
    /// A showing word: `lit`, `moves-up`.
    Showing(String),
    /// The instrument refuses: the path is live.
    Live,
}

impl Test {
    /// A test with nothing but an instrument and settings.
    pub fn new(instrument: Instrument, set: &Settings) -> Test {
        Test {
            instrument,
            red: None,
            black: None,
            part: None,
            change: None,
            set: set.clone(),
            after: Vec::new(),
            open: Vec::new(),
            bridge: Vec::new(),
            fit: Vec::new(),
            disturb: None,
            then: Vec::new(),
        }
    }

    /// Settings of each placement: the test's own, then with each `then` on top.
    pub fn placements(&self) -> Vec<Settings> {
        let mut out = vec![self.set.clone()];
        for on_top in &self.then {
            let mut set = self.set.clone();
            for (control, setting) in on_top {
                set.retain(|(c, _)| c != control);
                set.push((control.clone(), setting.clone()));
            }
            out.push(set);
        }
        out
    }
}

impl Instrument {
    /// All of them.
    pub const ALL: [Instrument; 9] = [
        Instrument::VoltsDc,
        Instrument::VoltsAc,
        Instrument::VoltsLoz,
        Instrument::Ohms,
        Instrument::Beep,
        Instrument::AmpsDc,
        Instrument::TestLamp,
        Instrument::Watch,
        Instrument::Touch,
    ];

    /// Its name in tests: `volts-dc`.
    pub fn name(self) -> &'static str {
        match self {
            Instrument::VoltsDc => "volts-dc",
            Instrument::VoltsAc => "volts-ac",
            Instrument::VoltsLoz => "volts-loz",
            Instrument::Ohms => "ohms",
            Instrument::Beep => "beep",
            Instrument::AmpsDc => "amps-dc",
            Instrument::TestLamp => "test-lamp",
            Instrument::Watch => "watch",
            Instrument::Touch => "touch",
        }
    }

    /// The instrument of this name, without regard to case.
    pub fn named(name: &str) -> Option<Instrument> {
        Self::ALL.into_iter().find(|i| i.name().eq_ignore_ascii_case(name.trim()))
    }

    /// An eye or a hand, which has no probes and takes a part.
    pub fn is_sense(self) -> bool {
        matches!(self, Instrument::Watch | Instrument::Touch)
    }

    /// `V`, `A`, `ohm`, or nothing for what answers in words.
    pub fn unit(self) -> Option<&'static str> {
        match self {
            Instrument::VoltsDc | Instrument::VoltsAc | Instrument::VoltsLoz => Some("V"),
            Instrument::Ohms => Some("ohm"),
            Instrument::AmpsDc => Some("A"),
            Instrument::Beep | Instrument::TestLamp | Instrument::Watch | Instrument::Touch => None,
        }
    }
}

/// What one digit of the display is worth at this value: 6000 counts, ohms no finer than 0.1.
///
/// Ranges are 6, 60, 600, … in the instrument's unit (ohms from 600). Words have a step of 1.
pub fn step_of(instrument: Instrument, value: f64) -> f64 {
    let finest = match instrument.unit() {
        Some("ohm") => 0.1,
        Some(_) => 0.001,
        None => return 1.0,
    };
    let mut step: f64 = finest;
    // 6000 counts: the highest that a range shows is 5999.
    while value.abs() >= 6000.0 * step - 0.5 * step && step < 1e6 {
        step *= 10.0;
    }
    step
}

impl Reading {
    /// What one digit of this reading is worth.
    pub fn step(&self, instrument: Instrument) -> f64 {
        match self {
            Reading::Value { value, step } => step.unwrap_or_else(|| step_of(instrument, *value)),
            Reading::Range { from, to } => step_of(instrument, from.abs().max(to.abs())),
            _ => 1.0,
        }
    }
}

impl BridgeWith {
    /// Reads `lead`, `lamp 21 W`, `fuse 5 A`, `resistor 1k`.
    pub fn parse(text: &str) -> Result<BridgeWith, Problem> {
        let help = "write \"lamp 21 W\", \"fuse 5 A\", \"resistor 1k\", or leave it out for a lead";
        let lower = text.trim().to_lowercase();
        let (what, rest) = lower.split_once(|c: char| c.is_whitespace()).unwrap_or((lower.as_str(), ""));
        let figure = |units: &[&str]| {
            figure(rest, units).filter(|v| *v > 0.0).ok_or_else(|| {
                Problem::whole(format!("a bridge through \"{text}\": no size that can be read")).help(help)
            })
        };
        match what {
            "lead" | "wire" if rest.is_empty() => Ok(BridgeWith::Lead),
            "lamp" => Ok(BridgeWith::Lamp(figure(&["w"])?)),
            "fuse" => Ok(BridgeWith::Fuse(figure(&["a"])?)),
            "resistor" => Ok(BridgeWith::Resistor(figure(&["ohm", "ohms", "Ω"])?)),
            _ => Err(Problem::whole(format!("nothing to bridge with is called \"{text}\"")).help(help)),
        }
    }

    /// As [`BridgeWith::parse`] reads it.
    pub fn text(self) -> String {
        match self {
            BridgeWith::Lead => "lead".to_string(),
            BridgeWith::Lamp(watts) => format!("lamp {watts} W"),
            BridgeWith::Fuse(amps) => format!("fuse {amps} A"),
            BridgeWith::Resistor(ohms) => format!("resistor {ohms} ohm"),
        }
    }
}

impl Fit {
    /// Reads `good` or `load(4)`.
    pub fn parse(text: &str) -> Result<Fit, Problem> {
        let lower = text.trim().to_lowercase();
        let load = lower.strip_prefix("load(").and_then(|rest| rest.strip_suffix(')'));
        match (lower.as_str(), load.and_then(|amps| figure(amps, &["a"])).filter(|amps| *amps > 0.0)) {
            ("good", _) => Ok(Fit::Good),
            (_, Some(amps)) => Ok(Fit::Load(amps)),
            _ => {
                Err(Problem::whole(format!("\"{text}\" cannot be fitted")).help("write \"load(4)\" (amps) or \"good\""))
            }
        }
    }

    /// As [`Fit::parse`] reads it.
    pub fn text(self) -> String {
        match self {
            Fit::Good => "good".to_string(),
            Fit::Load(amps) => format!("load({amps})"),
        }
    }
}

/// A finite figure with an optional factor (`m`, `k`) and one of these units, or none: `21 W`, `1k`, `4k7`, `0.05`.
pub(crate) fn figure(text: &str, units: &[&str]) -> Option<f64> {
    let mut text = text.trim();
    for unit in units {
        if let Some(rest) = text.strip_suffix(unit) {
            text = rest.trim_end();
            break;
        }
    }
    let value = if let Some((whole, part)) = text.split_once(['k', 'K']) {
        let part = part.trim();
        let digits = |s: &str| !s.is_empty() && s.chars().all(|c| c.is_ascii_digit());
        match (whole.trim(), part) {
            (whole, "") => whole.parse::<f64>().ok()? * 1e3,
            (whole, part) if digits(whole) && digits(part) => format!("{whole}.{part}").parse::<f64>().ok()? * 1e3,
            _ => return None,
        }
    } else if let Some(milli) = text.strip_suffix('m') {
        milli.trim().parse::<f64>().ok()? * 1e-3
    } else {
        text.parse::<f64>().ok()?
    };
    value.is_finite().then_some(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_thousand_counts() {
        assert_eq!(step_of(Instrument::VoltsDc, 0.35), 0.001);
        assert_eq!(step_of(Instrument::VoltsDc, -5.999), 0.001);
        assert_eq!(step_of(Instrument::VoltsDc, 12.6), 0.01);
        assert_eq!(step_of(Instrument::VoltsDc, 60.2), 0.1);
        assert_eq!(step_of(Instrument::Ohms, 3.0), 0.1);
        assert_eq!(step_of(Instrument::Ohms, 4700.0), 1.0);
    }

    #[test]
    fn figures_as_people_write_them() {
        for (text, value) in [("21 w", 21.0), ("1k", 1e3), ("4k7", 4.7e3), ("0.05", 0.05), ("20 mohm", 0.02)] {
            let read = figure(text, &["w", "ohm"]).expect(text);
            assert!((read - value).abs() < 1e-12, "{text}: {read}");
        }
        for text in ["", "x", "nan", "inf", "1k-2"] {
            assert_eq!(figure(text, &["w"]), None, "{text}");
        }
    }
}
