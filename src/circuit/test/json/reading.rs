//! Readings to and from JSON.

use super::{Reader, shape};
use crate::circuit::test::{Instrument, Reading, Test};
use crate::text::problem::Problem;
use serde_json::{Map, Value, json};

impl Reading {
    /// Reads one answer of this instrument.
    pub fn from_json(value: &Value, instrument: Instrument) -> Result<Reading, Vec<Problem>> {
        let mut read = Reader::default();
        let reading = read.reading(value, instrument);
        match reading {
            Some(reading) if read.problems.is_empty() => Ok(reading),
            _ => Err(read.problems),
        }
    }

    /// Reads the answer to a test: one reading, or a list of 1 + n of them where the test has `then`.
    pub fn list_from_json(value: &Value, test: &Test) -> Result<Vec<Reading>, Vec<Problem>> {
        let want = 1 + test.then.len();
        let items = match value {
            Value::Array(items) => items.as_slice(),
            one => std::slice::from_ref(one),
        };
        let mut read = Reader::default();
        if items.len() != want {
            read.say(
                format!("{} readings for a placement that asks for {want}", items.len()),
                "give them in the order asked",
            );
        }
        let readings: Vec<Reading> = items.iter().filter_map(|item| read.reading(item, test.instrument)).collect();
        if read.problems.is_empty() { Ok(readings) } else { Err(read.problems) }
    }

    /// Writes it as scripts read it.
    pub fn to_json(&self, instrument: Instrument) -> Value {
        let unit = instrument.unit();
        match self {
            Reading::Value { value, step } => {
                let mut map = Map::new();
                map.insert("value".into(), json!(value));
                if let Some(unit) = unit {
                    map.insert("unit".into(), json!(unit));
                }
                if let Some(step) = step {
                    map.insert("step".into(), json!(step));
                }
                Value::Object(map)
            }
            Reading::Range { from, to } => match unit {
                Some(unit) => json!({ "from": from, "to": to, "unit": unit }),
                None => json!({ "from": from, "to": to }),
            },
            Reading::Over => json!({ "value": "OL" }),
            Reading::Beeps(true) => json!({ "value": "beeps" }),
            Reading::Beeps(false) => json!({ "value": "silent" }),
            Reading::Showing(word) => json!({ "showing": word }),
            Reading::Live => json!({ "refused": "live" }),
        }
    }
}

impl Reader {
    fn reading(&mut self, value: &Value, instrument: Instrument) -> Option<Reading> {
        const SHAPE: &str =
            r#"write {"value":0.35,"unit":"V"}, {"value":"OL"}, {"showing":"dim"} or {"refused":"live"}"#;
        let Value::Object(map) = value else {
            self.say(format!("a reading is an object, not {}", shape(value)), SHAPE);
            return None;
        };
        self.unknown_keys("a reading", map, &["value", "unit", "step", "showing", "from", "to", "refused"]);
        let kinds = ["value", "showing", "refused"].iter().filter(|key| map.contains_key(**key)).count()
            + usize::from(map.contains_key("from") || map.contains_key("to"));
        if kinds != 1 {
            self.say("a reading is one of value, showing, from and to, refused", SHAPE);
            return None;
        }
        let looks = instrument.is_sense() || instrument == Instrument::TestLamp;
        let factor = self.unit_factor(map.get("unit"), instrument)?;
        if let Some(showing) = map.get("showing") {
            return match showing.as_str().map(str::trim) {
                Some(word) if !word.is_empty() && looks => Some(Reading::Showing(word.to_lowercase())),
                Some(_) if !looks => {
                    self.say(format!("{} answers no showing", instrument.name()), SHAPE);
                    None
                }
                _ => {
                    self.say("the showing is no word", SHAPE);
                    None
                }
            };
        }
        if let Some(refused) = map.get("refused") {
            if refused.as_str() == Some("live") {
                return Some(Reading::Live);
            }
            self.say("a refused reading is \"live\"", SHAPE);
            return None;
        }
        if looks {
            self.say(format!("{} answers a showing", instrument.name()), r#"write {"showing":"dim"}"#);
            return None;
        }
        if map.contains_key("value") {
            return self.value(map, instrument, factor, SHAPE);
        }
        let (from, to) = (map.get("from").and_then(Value::as_f64), map.get("to").and_then(Value::as_f64));
        match (from, to) {
            (Some(from), Some(to)) if (from * factor).is_finite() && (to * factor).is_finite() => {
                Some(Reading::Range { from: from * factor, to: to * factor })
            }
            _ => {
                self.say("from and to are numbers", r#"write {"from":2,"to":5,"unit":"V"}"#);
                None
            }
        }
    }

    fn value(&mut self, map: &Map<String, Value>, instrument: Instrument, factor: f64, help: &str) -> Option<Reading> {
        match map.get("value") {
            Some(Value::Number(number)) if instrument != Instrument::Beep => {
                let value = number.as_f64().map(|v| v * factor).filter(|v| v.is_finite());
                let Some(value) = value else {
                    self.say("the value is out of all bounds", help);
                    return None;
                };
                if instrument == Instrument::Ohms && value < -0.5 {
                    self.say(
                        "ohms below zero",
                        "over a live or charged path the ohms range lies: {\"refused\":\"live\"}",
                    );
                    return None;
                }
                let step = match map.get("step") {
                    None | Some(Value::Null) => None,
                    Some(step) => match step.as_f64().map(|s| s * factor).filter(|s| s.is_finite() && *s > 0.0) {
                        Some(step) => Some(step),
                        None => {
                            self.say("the step is no number above zero", r#"write "step":0.01"#);
                            return None;
                        }
                    },
                };
                Some(Reading::Value { value, step })
            }
            Some(Value::String(word)) => match word.trim().to_lowercase().as_str() {
                "ol" if instrument != Instrument::Beep => Some(Reading::Over),
                "beeps" if instrument == Instrument::Beep => Some(Reading::Beeps(true)),
                "silent" | "ol" if instrument == Instrument::Beep => Some(Reading::Beeps(false)),
                other => {
                    self.say(format!("{} does not answer \"{other}\"", instrument.name()), help);
                    None
                }
            },
            _ => {
                let text = if instrument == Instrument::Beep {
                    "beep answers beeps or silent"
                } else {
                    "the value is no number"
                };
                self.say(text, help);
                None
            }
        }
    }

    fn unit_factor(&mut self, unit: Option<&Value>, instrument: Instrument) -> Option<f64> {
        let Some(unit) = unit.filter(|unit| !unit.is_null()) else { return Some(1.0) };
        let own = instrument.unit();
        let Some(text) = unit.as_str().map(str::trim) else {
            self.say(format!("the unit is {}", shape(unit)), "write V, A or ohm");
            return None;
        };
        let Some(own) = own else {
            self.say(format!("{} has no unit", instrument.name()), "leave the unit out");
            return None;
        };
        let plain = text.replace('Ω', "ohm").replace("ohms", "ohm");
        let factor = match plain.strip_suffix(own) {
            Some("") => Some(1.0),
            Some("m") => Some(1e-3),
            Some("k") => Some(1e3),
            Some("M") => Some(1e6),
            _ => None,
        };
        if factor.is_none() {
            self.say(format!("{} reads {own}, not \"{text}\"", instrument.name()), format!("write \"unit\":\"{own}\""));
        }
        factor
    }
}
