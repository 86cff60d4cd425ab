//! A test from words of the command line: turned into the JSON form, so that there is one way to read a test.

use super::complete::offer;
use super::error::Failure;
use clap_complete::engine::ArgValueCompleter;
use ohmward::circuit::test::Instrument;
use ohmward::text::problem::Problem;
use serde_json::{Map, Value, json};

/// The state of the machine, as options.
#[derive(clap::Args, Clone, Debug, Default)]
pub struct State {
    /// A control and its setting; several in the order done
    #[arg(long = "set", value_name = "CONTROL=SETTING", add = ArgValueCompleter::new(offer::settings))]
    pub set: Vec<String>,
    /// An earlier step: settings joined by commas
    #[arg(long = "after", value_name = "CONTROL=SETTING,…", add = ArgValueCompleter::new(offer::settings))]
    pub after: Vec<String>,
    /// The same placement again with these settings on top
    #[arg(long = "then", value_name = "CONTROL=SETTING,…", add = ArgValueCompleter::new(offer::settings))]
    pub then: Vec<String>,
    /// A plug unplugged, a wire end off (W7.a), a fuse or part taken out, or battery
    #[arg(long = "open", value_name = "WHAT", add = ArgValueCompleter::new(offer::openable))]
    pub open: Vec<String>,
    /// Two points bridged, and what is in it: main-fuse.in,main-fuse.out,lamp 21 W
    #[arg(long = "bridge", value_name = "POINT,POINT[,WITH]", add = ArgValueCompleter::new(offer::bridges))]
    pub bridge: Vec<String>,
    /// What is fitted in a part's place: horn=load(4) or horn=good
    #[arg(long = "fit", value_name = "PART=WHAT", add = ArgValueCompleter::new(offer::fits))]
    pub fit: Vec<String>,
    /// Watch while a control goes from one setting to another
    #[arg(long = "change", value_name = "CONTROL=FROM,TO", add = ArgValueCompleter::new(offer::changes))]
    pub change: Option<String>,
}

/// The test as JSON.
pub fn test(instrument: Option<&str>, red: Option<&str>, black: Option<&str>, state: &State) -> Result<Value, Failure> {
    let mut map = Map::new();
    let instrument = instrument.unwrap_or_default();
    map.insert("instrument".into(), json!(instrument));
    if let Some(sense) = Instrument::named(instrument).filter(|instrument| instrument.is_sense()) {
        if let Some(extra) = black {
            let name = sense.name();
            return Err(Failure::hinted(
                format!("{name} takes one part; \"{extra}\" is too much"),
                format!("for example: ohmward expect {name} horn --set key=on"),
            ));
        }
        map.insert("part".into(), json!(red));
    } else {
        for (key, point) in [("red", red), ("black", black)] {
            if let Some(point) = point {
                map.insert(key.into(), json!(point));
            }
        }
    }
    state_into(state, &mut map)?;
    Ok(Value::Object(map))
}

/// The state's part of a test.
pub fn state_into(state: &State, map: &mut Map<String, Value>) -> Result<(), Failure> {
    let set = state.set.iter().map(|pair| settings(pair)).collect::<Result<Vec<_>, _>>()?.concat();
    if !set.is_empty() {
        map.insert("set".into(), Value::Array(set));
    }
    for (key, steps) in [("after", &state.after), ("then", &state.then)] {
        if !steps.is_empty() {
            let steps = steps.iter().map(|step| settings(step).map(Value::Array)).collect::<Result<Vec<_>, _>>()?;
            map.insert(key.into(), Value::Array(steps));
        }
    }
    if !state.open.is_empty() {
        map.insert("open".into(), json!(state.open));
    }
    if !state.bridge.is_empty() {
        let bridges: Vec<Value> =
            state.bridge.iter().map(|b| json!(b.splitn(3, ',').map(str::trim).collect::<Vec<_>>())).collect();
        map.insert("bridge".into(), Value::Array(bridges));
    }
    if !state.fit.is_empty() {
        let mut fit = Map::new();
        for pair in &state.fit {
            let (part, what) = split(pair, "--fit")?;
            fit.insert(part.into(), json!(what));
        }
        map.insert("fit".into(), Value::Object(fit));
    }
    if let Some(change) = &state.change {
        let (control, ends) = split(change, "--change")?;
        let ends: Vec<&str> = ends.split(',').map(str::trim).collect();
        map.insert("change".into(), json!({control: ends}));
    }
    Ok(())
}

fn settings(text: &str) -> Result<Vec<Value>, Failure> {
    text.split(',')
        .map(|pair| split(pair.trim(), "--set").map(|(control, setting)| json!([control, setting])))
        .collect()
}

fn split<'a>(pair: &'a str, option: &str) -> Result<(&'a str, &'a str), Failure> {
    pair.split_once('=')
        .map(|(a, b)| (a.trim(), b.trim()))
        .filter(|(a, b)| !a.is_empty() && !b.is_empty())
        .ok_or_else(|| Failure::hinted(format!("{option} {pair}: an = is missing"), "for example: --set key=on"))
}

/// Problems of a test, all at once.
pub fn failure(problems: &[Problem]) -> Failure {
    let texts: Vec<&str> = problems.iter().map(|problem| problem.text.as_str()).collect();
    let help: Vec<&str> = problems.iter().filter_map(|problem| problem.help.as_deref()).collect();
    Failure::Plain { text: texts.join("; "), hint: (!help.is_empty()).then(|| help.join("; ")) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ohmward::circuit::test::Test;

    #[test]
    fn options_become_the_same_test_as_json() {
        let state = State {
            set: vec!["key=on".into(), "horn-push=pressed".into()],
            after: vec!["key=start".into()],
            then: vec!["horn-push=released".into()],
            open: vec!["P9".into()],
            bridge: vec!["main-fuse.in,main-fuse.out,lamp 21 W".into()],
            fit: vec!["horn=load(4)".into()],
            change: None,
        };
        let ours = test(Some("volts-dc"), Some("horn.feed"), Some("battery.neg"), &state);
        let ours = Test::from_json(&ours.ok().unwrap()).unwrap();
        let theirs = Test::from_json(&json!({
            "instrument": "volts-dc", "red": "horn.feed", "black": "battery.neg",
            "set": {"key": "on", "horn-push": "pressed"}, "after": [{"key": "start"}],
            "then": [{"horn-push": "released"}], "open": ["P9"],
            "bridge": [["main-fuse.in", "main-fuse.out", "lamp 21 W"]], "fit": {"horn": "load(4)"}
        }))
        .unwrap();
        assert_eq!(ours, theirs);
    }

    #[test]
    fn a_missing_equals_sign_is_named() {
        let state = State { set: vec!["key".into()], ..State::default() };
        assert!(test(Some("volts-dc"), None, None, &state).is_err());
    }
}
