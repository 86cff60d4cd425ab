//! Tests and readings to and from JSON, as scripts write them.
//!
//! Every problem of a line is reported at once. Whether points, parts and controls exist is not
//! known here: [`crate::circuit::state`] and [`crate::circuit::meter`] ask the machine.

mod reading;

use super::{Bridge, BridgeWith, Fit, Instrument, Settings, Test};
use crate::text::problem::Problem;
use crate::text::words::nearest;
use serde_json::{Map, Value, json};

const KEYS: [&str; 12] =
    ["instrument", "red", "black", "part", "change", "set", "after", "open", "bridge", "fit", "disturb", "then"];

const DISTURBANCES: [&str; 6] = ["wiggle", "heat", "cool", "bump", "steer", "remate"];

impl Test {
    /// Reads a test; all its problems at once.
    pub fn from_json(value: &Value) -> Result<Test, Vec<Problem>> {
        let mut read = Reader::default();
        let Value::Object(map) = value else {
            return Err(vec![Problem::whole(format!("a test is an object, not {}", shape(value)))]);
        };
        read.unknown_keys("a test", map, &KEYS);
        let instrument = read.instrument(map.get("instrument"));
        let test = Test {
            instrument: instrument.unwrap_or(Instrument::Watch),
            red: read.text(map, "red"),
            black: read.text(map, "black"),
            part: read.text(map, "part"),
            change: read.change(map.get("change")),
            set: map.get("set").map_or_else(Vec::new, |v| read.settings("set", v)),
            after: read.steps(map, "after"),
            open: read.open(map.get("open")),
            bridge: read.bridges(map.get("bridge")),
            fit: read.fits(map.get("fit")),
            disturb: read.disturb(map.get("disturb")),
            then: read.steps(map, "then"),
        };
        match instrument {
            Some(sense) if sense.is_sense() => {
                if test.part.is_none() {
                    read.say(format!("{} needs a part", sense.name()), r#"write "part":"horn""#);
                }
                if test.red.is_some() || test.black.is_some() {
                    read.say(format!("{} has no probes", sense.name()), "leave out red and black");
                }
                if sense == Instrument::Touch && test.change.is_some() {
                    read.say("only watch takes a change", "touch it in the one state");
                }
            }
            Some(_) => {
                for (key, given) in [("red", &test.red), ("black", &test.black)] {
                    if given.is_none() {
                        read.say(format!("the test has no {key}"), format!("write \"{key}\":\"POINT\""));
                    }
                }
                if test.part.is_some() {
                    read.say("only watch and touch take a part", "leave it out, or use the instrument watch");
                }
                if test.change.is_some() {
                    read.say("only watch takes a change", r#"use "then" for readings in several settings"#);
                }
                if instrument == Some(Instrument::AmpsDc) && test.open.is_empty() {
                    read.say("amps need an opening to stand in", r#"name it: "open":["F3"]"#);
                }
            }
            None => {}
        }
        if read.problems.is_empty() { Ok(test) } else { Err(read.problems) }
    }

    /// Writes it as scripts read it: only what is not empty, settings as an object unless a control comes twice.
    pub fn to_json(&self) -> Value {
        let mut map = Map::new();
        map.insert("instrument".into(), json!(self.instrument.name()));
        for (key, value) in [("red", &self.red), ("black", &self.black), ("part", &self.part)] {
            if let Some(value) = value {
                map.insert(key.into(), json!(value));
            }
        }
        if let Some((control, [from, to])) = &self.change {
            map.insert("change".into(), json!({ control: [from, to] }));
        }
        if !self.set.is_empty() {
            map.insert("set".into(), settings_json(&self.set));
        }
        if !self.after.is_empty() {
            map.insert("after".into(), self.after.iter().map(settings_json).collect());
        }
        if !self.open.is_empty() {
            map.insert("open".into(), json!(self.open));
        }
        if !self.bridge.is_empty() {
            let list = self.bridge.iter().map(|bridge| match bridge.with {
                BridgeWith::Lead => json!([bridge.a, bridge.b]),
                with => json!([bridge.a, bridge.b, with.text()]),
            });
            map.insert("bridge".into(), list.collect());
        }
        if !self.fit.is_empty() {
            let fits = self.fit.iter().map(|(part, fit)| (part.clone(), json!(fit.text()))).collect::<Map<_, _>>();
            map.insert("fit".into(), Value::Object(fits));
        }
        if let Some((how, at)) = &self.disturb {
            map.insert("disturb".into(), json!({ "how": how, "at": at }));
        }
        if !self.then.is_empty() {
            map.insert("then".into(), self.then.iter().map(settings_json).collect());
        }
        Value::Object(map)
    }
}

/// `{"error":{"code","text"}}` with every problem in the text.
pub fn error_json(code: &str, problems: &[Problem]) -> Value {
    let text: Vec<String> = problems
        .iter()
        .map(|problem| match &problem.help {
            Some(help) => format!("{} ({help})", problem.text),
            None => problem.text.clone(),
        })
        .collect();
    json!({ "error": { "code": code, "text": text.join("; ") } })
}

fn settings_json(settings: &Settings) -> Value {
    let twice = settings.iter().enumerate().any(|(i, (name, _))| settings[..i].iter().any(|(n, _)| n == name));
    if twice {
        settings.iter().map(|(control, setting)| json!([control, setting])).collect()
    } else {
        Value::Object(settings.iter().map(|(control, setting)| (control.clone(), json!(setting))).collect())
    }
}

/// Reads settings from an object in order, a list of pairs, or a list of such objects.
pub fn settings_from_json(value: &Value) -> Result<Settings, Vec<Problem>> {
    let mut read = Reader::default();
    let settings = read.settings("set", value);
    if read.problems.is_empty() { Ok(settings) } else { Err(read.problems) }
}

fn shape(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "a text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}

/// Collects problems while reading.
#[derive(Default)]
struct Reader {
    problems: Vec<Problem>,
}

impl Reader {
    fn say(&mut self, text: impl Into<String>, help: impl Into<String>) {
        self.problems.push(Problem::whole(text).help(help));
    }

    fn unknown_keys(&mut self, what: &str, map: &Map<String, Value>, known: &[&str]) {
        for key in map.keys().filter(|key| !known.contains(&key.as_str())) {
            let help = nearest(key, known.iter().copied())
                .map_or_else(|| format!("known: {}", known.join(", ")), |near| format!("nearest: {near}"));
            self.say(format!("{what} has no \"{key}\""), help);
        }
    }

    fn instrument(&mut self, value: Option<&Value>) -> Option<Instrument> {
        let names = Instrument::ALL.map(Instrument::name);
        match value {
            None | Some(Value::Null) => self.say("the test has no instrument", format!("one of {}", names.join(", "))),
            Some(Value::String(name)) => match Instrument::named(name) {
                Some(instrument) => return Some(instrument),
                None => {
                    let help = nearest(name, names)
                        .map_or_else(|| format!("one of {}", names.join(", ")), |near| format!("nearest: {near}"));
                    self.say(format!("no instrument is called \"{name}\""), help);
                }
            },
            Some(other) => self.say(format!("the instrument is {}", shape(other)), "write its name"),
        }
        None
    }

    fn text(&mut self, map: &Map<String, Value>, key: &str) -> Option<String> {
        match map.get(key) {
            None | Some(Value::Null) => None,
            Some(Value::String(text)) if !text.trim().is_empty() => Some(text.trim().to_string()),
            Some(Value::String(_)) => {
                self.say(format!("\"{key}\" is empty"), "write a name");
                None
            }
            Some(other) => {
                self.say(format!("\"{key}\" is {}", shape(other)), "write a name");
                None
            }
        }
    }

    fn setting(&mut self, what: &str, control: &str, value: &Value) -> Option<(String, String)> {
        match value {
            Value::String(setting) => Some((control.trim().to_string(), setting.trim().to_string())),
            Value::Number(number) => Some((control.trim().to_string(), number.to_string())),
            Value::Bool(on) => Some((control.trim().to_string(), if *on { "on" } else { "off" }.to_string())),
            other => {
                self.say(format!("\"{what}\": the setting of {control} is {}", shape(other)), r#"write {"key":"on"}"#);
                None
            }
        }
    }

    fn settings(&mut self, what: &str, value: &Value) -> Settings {
        match value {
            Value::Null => Vec::new(),
            Value::Object(map) => {
                map.iter().filter_map(|(control, setting)| self.setting(what, control, setting)).collect()
            }
            Value::Array(items) => {
                let mut all = Vec::new();
                for item in items {
                    match item {
                        Value::Array(pair) => match pair.as_slice() {
                            [Value::String(control), setting] => all.extend(self.setting(what, control, setting)),
                            _ => self.say(format!("\"{what}\" holds a list that is no pair"), r#"write ["key","on"]"#),
                        },
                        Value::Object(_) => all.extend(self.settings(what, item)),
                        other => self.say(format!("\"{what}\" holds {}", shape(other)), r#"write ["key","on"]"#),
                    }
                }
                all
            }
            other => {
                self.say(format!("\"{what}\" is {}", shape(other)), r#"write {"key":"on"} or [["key","on"]]"#);
                Vec::new()
            }
        }
    }

    /// A list of steps; a lone object is one step.
    fn steps(&mut self, map: &Map<String, Value>, key: &str) -> Vec<Settings> {
        match map.get(key) {
            None | Some(Value::Null) => Vec::new(),
            Some(Value::Array(items)) => items.iter().map(|item| self.settings(key, item)).collect(),
            Some(Value::Object(one)) => vec![self.settings(key, &Value::Object(one.clone()))],
            Some(other) => {
                self.say(format!("\"{key}\" is {}", shape(other)), format!("write \"{key}\":[{{\"key\":\"on\"}}]"));
                Vec::new()
            }
        }
    }

    fn change(&mut self, value: Option<&Value>) -> Option<(String, [String; 2])> {
        match value {
            None | Some(Value::Null) => return None,
            Some(Value::Object(map)) if map.len() == 1 => {
                if let Some((control, Value::Array(pair))) = map.iter().next()
                    && let [from, to] = pair.as_slice()
                    && let Some((_, from)) = self.setting("change", control, from)
                    && let Some((_, to)) = self.setting("change", control, to)
                {
                    return Some((control.clone(), [from, to]));
                }
            }
            Some(_) => {}
        }
        self.say("\"change\" is one control with two settings", r#"write {"horn-push":["released","pressed"]}"#);
        None
    }

    fn open(&mut self, value: Option<&Value>) -> Vec<String> {
        match value {
            None | Some(Value::Null) => Vec::new(),
            Some(Value::String(one)) => vec![one.trim().to_string()],
            Some(Value::Array(items)) => {
                let mut all = Vec::new();
                for item in items {
                    match item {
                        Value::String(name) => all.push(name.trim().to_string()),
                        other => self.say(format!("\"open\" holds {}", shape(other)), r#"write ["P9","W7.a"]"#),
                    }
                }
                all
            }
            Some(other) => {
                self.say(format!("\"open\" is {}", shape(other)), r#"write ["P9","W7.a"]"#);
                Vec::new()
            }
        }
    }

    fn bridges(&mut self, value: Option<&Value>) -> Vec<Bridge> {
        const SHAPE: &str = r#"write [["POINT","POINT"]] or [["POINT","POINT","lamp 21 W"]]"#;
        let items = match value {
            None | Some(Value::Null) => return Vec::new(),
            Some(Value::Array(items)) => items,
            Some(other) => {
                self.say(format!("\"bridge\" is {}", shape(other)), SHAPE);
                return Vec::new();
            }
        };
        // A single bridge not wrapped in a list is understood.
        let lone = matches!(items.first(), Some(Value::String(_)));
        let wrapped = [Value::Array(items.clone())];
        let mut all = Vec::new();
        for item in if lone { &wrapped[..] } else { &items[..] } {
            let Value::Array(parts) = item else {
                self.say(format!("\"bridge\" holds {}", shape(item)), SHAPE);
                continue;
            };
            let texts: Option<Vec<&str>> = parts.iter().map(Value::as_str).collect();
            match texts.as_deref() {
                Some([a, b]) => all.push(Bridge { a: (*a).into(), b: (*b).into(), with: BridgeWith::Lead }),
                Some([a, b, with]) => match BridgeWith::parse(with) {
                    Ok(with) => all.push(Bridge { a: (*a).into(), b: (*b).into(), with }),
                    Err(problem) => self.problems.push(problem),
                },
                _ => self.say("a bridge is two points and what is in it", SHAPE),
            }
        }
        all
    }

    fn fits(&mut self, value: Option<&Value>) -> Vec<(String, Fit)> {
        match value {
            None | Some(Value::Null) => Vec::new(),
            Some(Value::Object(map)) => {
                let mut all = Vec::new();
                for (part, fit) in map {
                    match fit.as_str().map(Fit::parse) {
                        Some(Ok(fit)) => all.push((part.clone(), fit)),
                        Some(Err(problem)) => self.problems.push(problem),
                        None => {
                            self.say(format!("\"fit\" for {part} is {}", shape(fit)), r#"write "load(4)" or "good""#)
                        }
                    }
                }
                all
            }
            Some(other) => {
                self.say(format!("\"fit\" is {}", shape(other)), r#"write {"horn":"load(4)"}"#);
                Vec::new()
            }
        }
    }

    fn disturb(&mut self, value: Option<&Value>) -> Option<(String, String)> {
        const SHAPE: &str = r#"write {"how":"wiggle","at":"P9"}"#;
        let map = match value {
            None | Some(Value::Null) => return None,
            Some(Value::Object(map)) => map,
            Some(other) => {
                self.say(format!("\"disturb\" is {}", shape(other)), SHAPE);
                return None;
            }
        };
        self.unknown_keys("disturb", map, &["how", "at"]);
        let (how, at) = (self.text(map, "how"), self.text(map, "at"));
        let (Some(how), Some(at)) = (how, at) else {
            self.say("\"disturb\" needs how and at", SHAPE);
            return None;
        };
        if !DISTURBANCES.contains(&how.as_str()) {
            let help = nearest(&how, DISTURBANCES)
                .map_or_else(|| format!("one of {}", DISTURBANCES.join(", ")), |near| format!("nearest: {near}"));
            self.say(format!("nothing is disturbed by \"{how}\""), help);
        }
        Some((how, at))
    }
}

#[cfg(test)]
#[path = "json_tests.rs"]
mod tests;
