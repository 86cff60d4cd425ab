//! A learning as JSON, for scripts: events and inputs.

use super::element::What;
use super::table::Row;
use super::{Ask, Heard, Learn, Table, Wait, Why};
use serde_json::{Value, json};

/// What a script says.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// To a question.
    Answer(String),
    /// What came of the touch.
    Heard(Heard),
    /// What came of another touch: names of the wires.
    Met(String, String, Heard),
    /// All that is open is silent.
    AllSilent,
    /// Not this one.
    Skip,
    /// Take the last answer back.
    Back,
    /// Break off.
    Stop,
}

impl Input {
    /// Reads a line of a script.
    ///
    /// # Errors
    ///
    /// What it should be.
    pub fn from_json(value: &Value) -> Result<Input, String> {
        let yes = |key: &str| value.get(key).and_then(Value::as_bool) == Some(true);
        if let Some(text) = value.get("answer").and_then(Value::as_str) {
            return Ok(Input::Answer(text.to_owned()));
        }
        if let Some(met) = value.get("met") {
            let name = |key: &str| met.get(key).and_then(Value::as_str).map(str::to_owned);
            let (Some(red), Some(black), Some(reading)) = (name("red"), name("black"), met.get("reading")) else {
                return Err("met needs red, black and reading".into());
            };
            return Ok(Input::Met(red, black, heard(reading)?));
        }
        if let Some(reading) = value.get("reading") {
            return Ok(Input::Heard(heard(reading)?));
        }
        let words =
            [("all-silent", Input::AllSilent), ("skip", Input::Skip), ("back", Input::Back), ("stop", Input::Stop)];
        words.into_iter().find(|(key, _)| yes(key)).map(|(_, input)| input).ok_or_else(|| {
            "wanted: {\"answer\":\"…\"}, {\"reading\":{\"value\":\"beeps\"}}, {\"met\":…}, or all-silent, skip, back, stop: true".into()
        })
    }
}

/// A reading of the contract.
fn heard(reading: &Value) -> Result<Heard, String> {
    if reading.get("refused").is_some() {
        return Err("live: take it off the machine, or battery minus off, then answer again".into());
    }
    match reading.get("value") {
        Some(Value::String(word)) => match word.to_lowercase().as_str() {
            "beeps" | "beep" => Ok(Heard::Beep),
            "silent" | "ol" => Ok(Heard::Silent),
            _ => Err(format!("\"{word:.40}\": beeps, silent, OL or a number of ohms")),
        },
        Some(Value::Number(number)) => match reading.get("unit").and_then(Value::as_str) {
            None | Some("ohm") => Ok(Heard::Ohms(number.as_f64().unwrap_or(f64::NAN))),
            Some(unit) => Err(format!("ohms are wanted, not \"{unit:.10}\"")),
        },
        _ => Err("a reading is {\"value\":\"beeps\"}, \"silent\", \"OL\" or {\"value\":0.3,\"unit\":\"ohm\"}".into()),
    }
}

/// The word of a reason.
fn why(why: &Why) -> &'static str {
    match why {
        Why::Find => "find",
        Why::Which => "which",
        Why::Swap => "swap",
        Why::Link => "link",
        Why::Number => "number",
        Why::Again(_) => "again",
    }
}

impl Learn {
    /// The event that waits; the table at the end.
    pub fn event(&self, id: usize) -> Value {
        match self.waiting() {
            Wait::Question(question) => json!({
                "event": "question", "id": id, "key": question.key.word(), "text": question.text, "default": question.default,
            }),
            Wait::Touch(ask) => {
                let mut event = json!({"event": "ask", "id": id});
                let more = self.asked(ask);
                if let (Value::Object(event), Value::Object(more)) = (&mut event, more) {
                    event.extend(more);
                }
                event
            }
            Wait::Done => {
                let mut event = json!({"event": "table", "id": id});
                if let (Value::Object(event), Value::Object(more)) = (&mut event, self.table().to_json()) {
                    event.extend(more);
                }
                event
            }
        }
    }

    fn asked(&self, ask: &Ask) -> Value {
        let names = |list: &[usize]| list.iter().map(|&wire| self.setup().wires[wire].clone()).collect::<Vec<_>>();
        let position = &self.setup().positions[ask.position];
        let mut value = json!({
            "position": position.name,
            "held": position.held,
            "red": names(&ask.touch.red),
            "black": names(&ask.touch.black),
            "why": why(&ask.why),
            "ohms": ask.ohms,
            "number": ask.number,
            "made": ask.made,
            "left": ask.left,
        });
        if let (Why::Again(doubt), Value::Object(map)) = (&ask.why, &mut value) {
            map.insert("silent".into(), json!(names(&[doubt.silent.0, doubt.silent.1])));
            map.insert("chain".into(), json!(names(&doubt.chain)));
        }
        value
    }
}

impl Table {
    /// The table for scripts.
    pub fn to_json(&self) -> Value {
        let names = |list: &[usize]| list.iter().map(|&wire| self.wires[wire].clone()).collect::<Vec<_>>();
        let positions: Vec<Value> = self
            .positions
            .iter()
            .map(|Row { name, held, joined: groups }| {
                let joined = groups.as_ref().map(|groups| groups.iter().map(|group| names(group)).collect::<Vec<_>>());
                let letters = groups.as_ref().map(|groups| self.letters(groups));
                json!({"position": name, "held": held, "letters": letters, "joined": joined})
            })
            .collect();
        let elements: Vec<Value> = self
            .elements
            .iter()
            .map(|element| {
                let met: Vec<&str> = element.met.iter().map(|&at| self.positions[at].name.as_str()).collect();
                let (what, ohms) = match element.what {
                    What::Diode => ("diode", None),
                    What::Load(ohms) => ("load", Some(ohms)),
                };
                json!({
                    "what": what, "ends": element.ends.iter().map(|end| names(&[end.0, end.1])).collect::<Vec<_>>(), "ohms": ohms,
                    "met": met, "always": element.always,
                })
            })
            .collect();
        let plug: Vec<Vec<Option<String>>> = self
            .plug
            .iter()
            .map(|row| row.iter().map(|way| way.map(|wire| self.wires[wire].clone())).collect())
            .collect();
        json!({
            "name": self.name,
            "wires": self.wires,
            "positions": positions,
            "elements": elements,
            "plug": plug,
            "guesses": self.guesses,
            "notes": self.notes,
            "touches": self.touches,
            "all-pairs": self.all_pairs,
            "whole": self.is_whole(),
            "rows": self.rows(),
        })
    }
}
