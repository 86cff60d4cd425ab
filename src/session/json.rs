//! Events and inputs as scripts read and write them, one JSON line each.
//!
//! Knows the contract's words and nothing of what a chase does with them.

use super::event::{Event, Input, SuspectLine, SymptomInput, Verdict};
use crate::circuit::test::json::settings_from_json;
use crate::circuit::test::{Settings, Test};
use crate::text::hidden::visible;
use serde_json::{Map, Value, json};

impl Event {
    /// The event's running number.
    pub fn id(&self) -> usize {
        match self {
            Event::Ask { id, .. }
            | Event::Question { id, .. }
            | Event::TryRepair { id, .. }
            | Event::Suspects { id, .. }
            | Event::Verdict { id, .. }
            | Event::Error { id, .. } => *id,
        }
    }

    /// Does it wait for one line?
    pub fn waits(&self) -> bool {
        matches!(self, Event::Ask { .. } | Event::Question { .. } | Event::TryRepair { .. })
    }

    /// The event as one JSON value.
    pub fn to_json(&self) -> Value {
        match self {
            Event::Ask { id, test, minutes, expect, .. } => {
                let expect: Vec<Value> = expect
                    .iter()
                    .map(|e| {
                        let value = match e.values.as_slice() {
                            [one] => json!(one),
                            many => json!(many),
                        };
                        json!({"fault": e.fault, "value": value, "title": e.title})
                    })
                    .collect();
                json!({"event": "ask", "id": id, "test": test.to_json(), "minutes": tenths(*minutes), "expect": expect})
            }
            Event::Question { id, text, choices } => {
                json!({"event": "question", "id": id, "text": text, "choices": choices})
            }
            Event::TryRepair { id, class, faults, text, .. } => {
                json!({"event": "try-repair", "id": id, "class": class, "faults": faults, "text": text})
            }
            Event::Suspects { id, list } => {
                let list: Vec<Value> = list.iter().map(suspect).collect();
                json!({"event": "suspects", "id": id, "list": list})
            }
            Event::Verdict { id, verdict } => verdict_json(*id, verdict),
            Event::Error { id, text } => json!({"event": "error", "id": id, "text": text}),
        }
    }
}

fn suspect(line: &SuspectLine) -> Value {
    json!({"fault": line.fault, "class": line.class, "pattern": line.pattern, "p": round(line.p), "title": line.title})
}

fn verdict_json(id: usize, verdict: &Verdict) -> Value {
    let faults: Vec<Value> = verdict.faults.iter().map(|(fault, p)| json!({"fault": fault, "p": round(*p)})).collect();
    let report = &verdict.report;
    json!({
        "event": "verdict",
        "id": id,
        "reason": verdict.reason.word(),
        "class": verdict.class,
        "pattern": verdict.pattern,
        "faults": faults,
        "text": verdict.text,
        "cured": verdict.cured,
        "report": {
            "what": report.what,
            "sure": report.sure,
            "why": report.why,
            "readings": report.readings.iter().map(|r| json!({
                "test": r.test, "predicted": r.predicted, "healthy": r.healthy, "met": r.met,
            })).collect::<Vec<_>>(),
            "harm": report.harm,
            "drive": report.drive,
            "repair": report.repair,
            "parts": report.parts,
            "comes-and-goes": report.comes_and_goes,
            "stopgap": report.stopgap,
            "proof": report.proof,
            "open": report.open_points,
            "cautions": report.cautions,
            "others": report.others,
        },
    })
}

/// Six digits after the point are more than a probability is worth.
fn round(p: f64) -> f64 {
    (p * 1e6).round() / 1e6
}

fn tenths(minutes: f64) -> f64 {
    (minutes * 10.0).round() / 10.0
}

impl Input {
    /// An input from one JSON value; `asked` is the test whose reading is waited for, if one is.
    ///
    /// What cannot be used comes back as a sentence with a way out.
    pub fn from_json(value: &Value, asked: Option<&Test>) -> Result<Input, String> {
        let Value::Object(map) = value else {
            return Err(r#"a line is an object, for example {"reading":{"value":0.35,"unit":"V"}}"#.into());
        };
        const KEYS: [&str; 15] = [
            "reading", "skip", "choice", "cured", "measured", "saw", "was", "cured-by", "fixed", "note", "back",
            "stop", "symptom", "told", "unnamed",
        ];
        let mut known = map.iter().filter(|(key, _)| KEYS.contains(&key.as_str()));
        let Some((key, inner)) = known.next() else {
            let word = map.keys().next().map(String::as_str).unwrap_or("");
            let near = crate::text::words::nearest(word, KEYS);
            return Err(match near {
                Some(near) => format!("\"{word}\" is no input; nearest: \"{near}\""),
                None => format!("no input in this line; one of {} is needed", KEYS.join(", ")),
            });
        };
        if let Some((other, _)) = known.next() {
            return Err(format!("\"{key}\" and \"{other}\" in one line: give one input a line"));
        }
        match key.as_str() {
            "reading" => {
                let Some(test) = asked else {
                    return Err("no reading was asked for; use \"measured\" with its test".into());
                };
                crate::circuit::test::Reading::list_from_json(inner, test).map(Input::Reading).map_err(|p| sentence(&p))
            }
            "measured" => {
                let test = inner.get("test").ok_or("\"measured\" needs a \"test\"")?;
                let reading = inner.get("reading").ok_or("\"measured\" needs a \"reading\"")?;
                let test = Test::from_json(test).map_err(|p| sentence(&p))?;
                let readings =
                    crate::circuit::test::Reading::list_from_json(reading, &test).map_err(|p| sentence(&p))?;
                Ok(Input::Measured { test: Box::new(test), readings })
            }
            "skip" => flag(key, inner).map(|()| Input::Skip),
            "back" => flag(key, inner).map(|()| Input::Back),
            "stop" => flag(key, inner).map(|()| Input::Stop),
            "choice" => words(key, inner).map(Input::Choice),
            "saw" => words(key, inner).map(Input::Saw),
            "was" => words(key, inner).map(Input::Was),
            "cured-by" => words(key, inner).map(Input::CuredBy),
            "note" => words(key, inner).map(Input::Note),
            "told" => {
                let field = |name: &str| {
                    inner.get(name).map_or(Err(format!("\"told\" needs a \"{name}\"")), |v| words(name, v))
                };
                Ok(Input::Told { key: field("key")?, question: field("question")?, answer: field("answer")? })
            }
            "unnamed" => flag(key, inner).map(|()| Input::Unnamed),
            "cured" => {
                let cured = inner.as_bool().ok_or("\"cured\" is true or false")?;
                let blown = map.get("blown").map_or(Ok(Vec::new()), |list| names("blown", list))?;
                Ok(Input::Cured { cured, blown })
            }
            "fixed" => names(key, inner).map(Input::Fixed),
            _ => symptom(inner).map(Input::Symptom),
        }
    }

    /// The input as one JSON value; `asked` is the test that a reading answers.
    pub fn to_json(&self, asked: Option<&Test>) -> Value {
        match self {
            Input::Symptom(symptom) => json!({"symptom": symptom_json(symptom)}),
            Input::Saw(text) => json!({"saw": text}),
            Input::Was(text) => json!({"was": text}),
            Input::CuredBy(text) => json!({"cured-by": text}),
            Input::Reading(list) => json!({"reading": readings_json(list, asked)}),
            Input::Skip => json!({"skip": true}),
            Input::Choice(text) => json!({"choice": text}),
            Input::Cured { cured, blown } => json!({"cured": cured, "blown": blown}),
            Input::Measured { test, readings } => {
                json!({"measured": {"test": test.to_json(), "reading": readings_json(readings, Some(test))}})
            }
            Input::Fixed(names) => json!({"fixed": names}),
            Input::Note(text) => json!({"note": text}),
            Input::Told { key, question, answer } => {
                json!({"told": {"key": key, "question": question, "answer": answer}})
            }
            Input::Unnamed => json!({"unnamed": true}),
            Input::Back => json!({"back": true}),
            Input::Stop => json!({"stop": true}),
        }
    }
}

fn readings_json(list: &[crate::circuit::test::Reading], asked: Option<&Test>) -> Value {
    let instrument = asked.map_or(crate::circuit::test::Instrument::VoltsDc, |test| test.instrument);
    match list {
        [one] => one.to_json(instrument),
        many => Value::Array(many.iter().map(|r| r.to_json(instrument)).collect()),
    }
}

fn sentence(problems: &[crate::text::problem::Problem]) -> String {
    let parts: Vec<String> = problems
        .iter()
        .map(|problem| match &problem.help {
            Some(help) => format!("{} ({help})", problem.text),
            None => problem.text.clone(),
        })
        .collect();
    parts.join("; ")
}

fn flag(key: &str, value: &Value) -> Result<(), String> {
    if value == &Value::Bool(true) { Ok(()) } else { Err(format!("\"{key}\" is true or not there")) }
}

fn words(key: &str, value: &Value) -> Result<String, String> {
    match value.as_str().map(str::trim) {
        Some(text) if !text.is_empty() => Ok(visible(text)),
        _ => Err(format!("\"{key}\" is a text")),
    }
}

fn names(key: &str, value: &Value) -> Result<Vec<String>, String> {
    let list = match value {
        Value::String(one) => vec![visible(one)],
        Value::Array(items) => items
            .iter()
            .map(|item| item.as_str().map(visible))
            .collect::<Option<Vec<String>>>()
            .ok_or_else(|| format!("\"{key}\" is a list of names"))?,
        _ => return Err(format!("\"{key}\" is a list of names")),
    };
    Ok(list)
}

fn symptom(value: &Value) -> Result<SymptomInput, String> {
    let Value::Object(map) = value else { return Err("\"symptom\" is an object with \"part\" and \"showing\"".into()) };
    const KEYS: [&str; 7] = ["part", "showing", "set", "change", "cured-by", "stirred", "comes-and-goes"];
    if let Some(key) = map.keys().find(|key| !KEYS.contains(&key.as_str())) {
        let near =
            crate::text::words::nearest(key, KEYS).map_or(String::new(), |near| format!("; nearest: \"{near}\""));
        return Err(format!("a symptom has no \"{key}\"{near}"));
    }
    let text = |key: &str| map.get(key).map(|value| words(key, value)).transpose();
    let part = text("part")?.ok_or("a symptom needs its \"part\"")?;
    let showings = names("showing", map.get("showing").ok_or("a symptom needs its \"showing\"")?)?;
    let set = map.get("set").map_or(Ok(Vec::new()), settings)?;
    let cured_by = match map.get("cured-by") {
        None => Vec::new(),
        Some(value) => settings(value.get("set").unwrap_or(value))?,
    };
    let change = map.get("change").map(change).transpose()?;
    let comes_and_goes = match map.get("comes-and-goes") {
        None => false,
        Some(Value::Bool(so)) => *so,
        Some(_) => return Err("\"comes-and-goes\" is true or false".into()),
    };
    let stirred = map.get("stirred").map(stirred).transpose()?;
    Ok(SymptomInput { part, showings, set, change, cured_by, stirred, comes_and_goes })
}

fn settings(value: &Value) -> Result<Settings, String> {
    settings_from_json(value).map_err(|problems| sentence(&problems))
}

fn stirred(value: &Value) -> Result<(String, String), String> {
    let text = |key: &str| value.get(key).and_then(Value::as_str).map(String::from);
    text("how").zip(text("at")).ok_or_else(|| r#""stirred" is like {"how":"wiggle","at":"P9"}"#.to_string())
}

fn change(value: &Value) -> Result<(String, [String; 2]), String> {
    let wrong = || r#""change" is like {"horn-push":["released","pressed"]}"#.to_string();
    let (control, ends) =
        value.as_object().filter(|map| map.len() == 1).and_then(|map| map.iter().next()).ok_or_else(wrong)?;
    match ends.as_array().map(Vec::as_slice) {
        Some([Value::String(from), Value::String(to)]) => Ok((control.clone(), [from.clone(), to.clone()])),
        _ => Err(wrong()),
    }
}

fn symptom_json(symptom: &SymptomInput) -> Value {
    let pairs = |settings: &Settings| -> Value {
        Value::Array(settings.iter().map(|(control, setting)| json!([control, setting])).collect())
    };
    let mut map = Map::new();
    map.insert("part".into(), json!(symptom.part));
    let showing = match symptom.showings.as_slice() {
        [one] => json!(one),
        several => json!(several),
    };
    map.insert("showing".into(), showing);
    if !symptom.set.is_empty() {
        map.insert("set".into(), pairs(&symptom.set));
    }
    if let Some((control, ends)) = &symptom.change {
        map.insert("change".into(), json!({control: ends}));
    }
    if !symptom.cured_by.is_empty() {
        map.insert("cured-by".into(), json!({"set": pairs(&symptom.cured_by)}));
    }
    if let Some((how, at)) = &symptom.stirred {
        map.insert("stirred".into(), json!({"how": how, "at": at}));
    }
    if symptom.comes_and_goes {
        map.insert("comes-and-goes".into(), json!(true));
    }
    Value::Object(map)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volts() -> Test {
        Test::from_json(&json!({"instrument": "volts-dc", "red": "horn.feed", "black": "battery.neg"})).unwrap()
    }

    #[test]
    fn every_input_survives_the_journal() {
        let test = volts();
        let lines = [
            r#"{"reading":{"value":0.35,"unit":"V"}}"#,
            r#"{"reading":{"value":"OL"}}"#,
            r#"{"skip":true}"#,
            r#"{"choice":"don't know"}"#,
            r#"{"cured":true,"blown":["main-fuse"]}"#,
            r#"{"saw":"the lamp dims"}"#,
            r#"{"was":"dim"}"#,
            r#"{"cured-by":"lights off"}"#,
            r#"{"fixed":["G1"]}"#,
            r#"{"note":"seat bolt is M8"}"#,
            r#"{"back":true}"#,
            r#"{"stop":true}"#,
            r#"{"measured":{"test":{"instrument":"ohms","red":"G1","black":"battery.neg"},"reading":{"refused":"live"}}}"#,
            r#"{"symptom":{"part":"horn","showing":"silent","stirred":{"how":"wiggle","at":"P9"},"comes-and-goes":true}}"#,
            r#"{"symptom":{"part":"rev-gauge","showing":"moves-up","set":{"key":"on"},"change":{"horn-push":["released","pressed"]},"cured-by":{"set":{"lights":"off"}}}}"#,
        ];
        for line in lines {
            let value: Value = serde_json::from_str(line).unwrap();
            let input = Input::from_json(&value, Some(&test)).unwrap_or_else(|e| panic!("{line}: {e}"));
            let again = Input::from_json(&input.to_json(Some(&test)), Some(&test)).unwrap();
            assert_eq!(input, again, "{line}");
        }
    }

    #[test]
    fn what_cannot_be_used_is_said_in_a_sentence() {
        let cases = [
            ("3", "object"),
            (r#"{"raeding":1}"#, "nearest: \"reading\""),
            (r#"{"skip":true,"stop":true}"#, "one input a line"),
            (r#"{"skip":1}"#, "true"),
            (r#"{"symptom":{"part":"horn"}}"#, "showing"),
            (r#"{"symptom":{"part":"horn","showing":"silent","chnage":{}}}"#, "nearest: \"change\""),
            (r#"{"measured":{}}"#, "test"),
            (r#"{"saw":"  "}"#, "text"),
        ];
        for (line, part) in cases {
            let value: Value = serde_json::from_str(line).unwrap();
            let error = Input::from_json(&value, Some(&volts())).unwrap_err();
            assert!(error.contains(part), "{line}: {error}");
        }
        let value: Value = serde_json::from_str(r#"{"reading":{"value":1}}"#).unwrap();
        assert!(Input::from_json(&value, None).unwrap_err().contains("no reading was asked for"));
    }
}
