//! An instrument's answer as JSON.

use super::{CERTAIN, Observation, Observed};
use crate::circuit::schematic::Schematic;
use crate::circuit::test::Instrument;
use serde_json::{Map, Value, json};

impl Observation {
    /// As `expect` writes it: a reading with `low` and `high`, or chances, and the flags that are set.
    pub fn to_json(&self, instrument: Instrument) -> Value {
        let mut map = Map::new();
        let unit = instrument.unit();
        let mut put = |key: &str, value: Value| map.insert(key.to_string(), value);
        match &self.what {
            Observed::Number { value, step, low, high } => {
                put("value", json!(neat(*value)));
                put("unit", json!(unit));
                put("low", json!(neat(*low)));
                put("high", json!(neat(*high)));
                put("step", json!(step));
            }
            Observed::Range { from, to } => {
                put("from", json!(neat(*from)));
                put("to", json!(neat(*to)));
                put("unit", json!(unit));
            }
            Observed::Over => {
                put("value", json!("OL"));
            }
            Observed::Beeps(p) => {
                put("value", json!(if *p >= 0.5 { "beeps" } else { "silent" }));
                if p.max(1.0 - p) < CERTAIN {
                    put("p", json!({ "beeps": neat(*p), "silent": neat(1.0 - p) }));
                }
            }
            Observed::Showing(words) => {
                if let Some((word, p)) = words.iter().max_by(|a, b| a.1.total_cmp(&b.1)) {
                    put("showing", json!(word));
                    if *p < CERTAIN {
                        let chances = words.iter().map(|(word, p)| (word.clone(), json!(neat(*p)))).collect();
                        put("p", Value::Object(chances));
                    }
                }
            }
            Observed::Live => {
                put("refused", json!("live"));
            }
        }
        if self.floating {
            put("floating", json!(true));
        }
        if !self.blown.is_empty() {
            put("blown", json!(self.blown));
        }
        if self.chatters {
            put("chatters", json!(true));
        }
        Value::Object(map)
    }
}

/// A microvolt is enough on paper.
fn neat(value: f64) -> f64 {
    let scale = if value.abs() < 1e6 { 1e6 } else { 1.0 };
    let rounded = (value * scale).round() / scale;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// The schematic's control list as `check --json` shows it: names with settings in order, the first at rest.
pub fn controls_json(schematic: &Schematic) -> Value {
    Value::Object(schematic.controls.iter().map(|(name, info)| (name.clone(), json!(info.settings))).collect())
}
