use super::*;
use crate::circuit::test::{BridgeWith, Fit, Instrument, Reading, Test};

fn test(text: &str) -> Result<Test, Vec<Problem>> {
    Test::from_json(&serde_json::from_str(text).expect("JSON"))
}

#[test]
fn a_full_test_comes_back_as_it_went_in() {
    let text = r#"{"instrument":"volts-dc","red":"rev-gauge.ground","black":"battery.neg","set":{"key":"on","horn-push":"pressed"},"after":[{"key":"start"}],"open":["P9"],"bridge":[["main-fuse.in","main-fuse.out","lamp 21 W"]],"fit":{"horn":"load(4)"},"disturb":{"how":"wiggle","at":"P9"},"then":[{"horn-push":"released"}]}"#;
    let read = test(text).expect("reads");
    assert_eq!(read.bridge[0].with, BridgeWith::Lamp(21.0));
    assert_eq!(read.fit, [("horn".to_string(), Fit::Load(4.0))]);
    assert_eq!(read.set[1], ("horn-push".to_string(), "pressed".to_string()));
    assert_eq!(read.to_json().to_string(), text);
}

#[test]
fn settings_keep_their_order_and_may_repeat_as_pairs() {
    let read = test(r#"{"instrument":"watch","part":"horn","set":[["key","on"],["key","start"],["key","on"]]}"#);
    let read = read.expect("reads");
    assert_eq!(read.set.len(), 3);
    assert_eq!(Test::from_json(&read.to_json()).expect("again"), read);
}

#[test]
fn every_problem_is_named_at_once() {
    let problems = test(r#"{"instrument":"volt-dc","rad":"a","set":3,"bridge":[["a","b","lamp x"]],"disturb":{"how":"kick","at":"P9"}}"#)
        .expect_err("bad");
    let all: Vec<&str> = problems.iter().map(|p| p.text.as_str()).collect();
    assert_eq!(all.len(), 5, "{all:?}");
    assert_eq!(problems[0].help.as_deref(), Some("nearest: red"));
    assert_eq!(problems[1].help.as_deref(), Some("nearest: volts-dc"));
}

#[test]
fn readings_of_every_form() {
    let forms = [
        (r#"{"value":0.35,"unit":"V"}"#, Instrument::VoltsDc, Reading::Value { value: 0.35, step: None }),
        (r#"{"value":12,"unit":"V","step":1}"#, Instrument::VoltsDc, Reading::Value { value: 12.0, step: Some(1.0) }),
        (r#"{"value":"OL"}"#, Instrument::Ohms, Reading::Over),
        (r#"{"value":"beeps"}"#, Instrument::Beep, Reading::Beeps(true)),
        (r#"{"value":"silent"}"#, Instrument::Beep, Reading::Beeps(false)),
        (r#"{"showing":"dim"}"#, Instrument::TestLamp, Reading::Showing("dim".into())),
        (r#"{"from":2,"to":5,"unit":"V"}"#, Instrument::VoltsDc, Reading::Range { from: 2.0, to: 5.0 }),
        (r#"{"refused":"live"}"#, Instrument::Ohms, Reading::Live),
    ];
    for (text, instrument, reading) in forms {
        let value: Value = serde_json::from_str(text).expect("JSON");
        assert_eq!(Reading::from_json(&value, instrument).as_ref(), Ok(&reading), "{text}");
        assert_eq!(Reading::from_json(&reading.to_json(instrument), instrument), Ok(reading));
    }
    let millis: Value = serde_json::from_str(r#"{"value":250,"unit":"mV"}"#).expect("JSON");
    let read = Reading::from_json(&millis, Instrument::VoltsDc);
    assert_eq!(read, Ok(Reading::Value { value: 0.25, step: None }));
}

#[test]
fn readings_that_no_instrument_gives_are_refused() {
    for (text, instrument) in [
        (r#"{"value":3,"unit":"ohm"}"#, Instrument::VoltsDc),
        (r#"{"value":3}"#, Instrument::Beep),
        (r#"{"showing":"dim"}"#, Instrument::VoltsDc),
        (r#"{"value":3,"showing":"dim"}"#, Instrument::VoltsDc),
        (r#"{"value":-4,"unit":"ohm"}"#, Instrument::Ohms),
        (r#"{"value":3,"step":0}"#, Instrument::VoltsDc),
        (r#"{"from":3}"#, Instrument::VoltsDc),
        (r#"[]"#, Instrument::VoltsDc),
    ] {
        let value: Value = serde_json::from_str(text).expect("JSON");
        assert!(Reading::from_json(&value, instrument).is_err(), "{text}");
    }
}
