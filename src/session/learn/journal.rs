//! A learning on disk, as data: the lines of its journal and how they are read. Whoever holds the file writes and syncs it.

use super::setup::Key;
use super::{Heard, Seen, Start, Step, Touch};
use crate::session::journal::lines;
use serde_json::{Value, json};

/// The version written; a journal of a later one is left alone.
pub const VERSION: u64 = 1;

/// The first line of a journal.
pub fn header(start: &Start, at: &str) -> String {
    json!({
        "ohmward-learn": VERSION, "name": start.name, "started": at, "clips": start.clips,
        "beep-below": start.beep_below, "contacts-only": start.contacts_only,
    })
    .to_string()
}

/// The line of a step.
pub fn line(step: &Step, at: &str) -> String {
    match step {
        Step::Said(key, text) => json!({"at": at, "said": key.word(), "text": text}),
        Step::Seen(position, seen) => {
            let touch = |seen: &Seen| json!({"red": seen.touch.red, "black": seen.touch.black, "heard": heard_json(seen.heard)});
            json!({"at": at, "position": position, "seen": seen.iter().map(touch).collect::<Vec<_>>()})
        }
        Step::NoNumber => json!({"at": at, "no-number": true}),
    }
    .to_string()
}

/// The line of an answer that is taken back.
pub fn back_line(at: &str) -> String {
    json!({"at": at, "back": true}).to_string()
}

/// The line that ends a journal.
pub fn end_line(at: &str) -> String {
    json!({"at": at, "end": "done"}).to_string()
}

fn heard_json(heard: Heard) -> Value {
    match heard {
        Heard::Beep => json!("beeps"),
        Heard::Silent => json!("silent"),
        Heard::Ohms(ohms) => json!(ohms),
        Heard::Skipped => json!("skipped"),
    }
}

/// A journal as read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Journal {
    /// What was given at the start.
    pub start: Start,
    /// Accepted answers, without those that were taken back.
    pub steps: Vec<Step>,
    /// Was it ended?
    pub ended: bool,
    /// A damaged last line.
    pub damaged: Option<usize>,
    /// Bytes that are whole.
    pub whole: usize,
}

/// Reads a journal. A damaged last line is what a crash leaves: it is named and left out.
///
/// # Errors
///
/// A line that cannot be read, with its number.
pub fn read(bytes: &[u8]) -> Result<Journal, String> {
    let mut journal = Journal::default();
    let whole = lines(bytes, |raw, number| journal.take(raw, number))?;
    (journal.whole, journal.damaged) = (whole.bytes, whole.damaged);
    Ok(journal)
}

impl Journal {
    fn take(&mut self, raw: &[u8], number: usize) -> Result<(), String> {
        let value: Value = serde_json::from_slice(raw).map_err(|_| "not a line of a journal".to_owned())?;
        let flag = |key: &str| value.get(key).and_then(Value::as_bool) == Some(true);
        let text = |key: &str| value.get(key).and_then(Value::as_str).map(str::to_owned);
        if number == 1 {
            let version =
                value.get("ohmward-learn").and_then(Value::as_u64).ok_or("not the first line of a journal")?;
            if version > VERSION {
                return Err(format!("written by a later version ({version}); this one reads up to {VERSION}"));
            }
            let clips = value.get("clips").and_then(Value::as_u64).and_then(|clips| usize::try_from(clips).ok());
            self.start = Start {
                name: text("name").unwrap_or_default(),
                clips: clips.unwrap_or(0).min(MOST_CLIPS),
                beep_below: value.get("beep-below").and_then(Value::as_f64).unwrap_or(0.0),
                contacts_only: flag("contacts-only"),
            };
            return Ok(());
        }
        if flag("back") {
            self.steps.pop();
        } else if value.get("end").is_some() {
            self.ended = true;
        } else if flag("no-number") {
            self.steps.push(Step::NoNumber);
        } else if let Some(key) = text("said") {
            let key = Key::of(&key).ok_or("an unknown question")?;
            self.steps.push(Step::Said(key, text("text").unwrap_or_default()));
        } else if let Some(position) = value.get("position").and_then(Value::as_u64) {
            let seen = value.get("seen").and_then(Value::as_array).ok_or("no touches in it")?;
            let seen: Option<Vec<Seen>> = seen.iter().map(touch).collect();
            let position = usize::try_from(position).map_err(|_| "no such position")?;
            self.steps.push(Step::Seen(position, seen.ok_or("a touch in it is none")?));
        } else {
            return Err("not a line of a journal".into());
        }
        Ok(())
    }
}

/// Clips at most.
pub const MOST_CLIPS: usize = 40;

fn touch(value: &Value) -> Option<Seen> {
    let side = |key: &str| -> Option<Vec<usize>> {
        let list = value.get(key)?.as_array()?.iter();
        let wires: Vec<usize> =
            list.map(|w| w.as_u64().and_then(|w| usize::try_from(w).ok())).collect::<Option<_>>()?;
        (!wires.is_empty()).then_some(wires)
    };
    let heard = match value.get("heard")? {
        Value::String(word) => match word.as_str() {
            "beeps" => Heard::Beep,
            "silent" => Heard::Silent,
            "skipped" => Heard::Skipped,
            _ => return None,
        },
        number => Heard::Ohms(number.as_f64().filter(|ohms| *ohms >= 0.0)?),
    };
    let touch = Touch { red: side("red")?, black: side("black")? };
    let apart = touch.red.iter().all(|wire| !touch.black.contains(wire));
    apart.then_some(Seen { touch, heard })
}
