//! A reading that fits nothing is read once more before anybody is sent to look for what the file does not have.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::test::{Instrument, Reading, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::session::{Chase, Event, Input, SymptomInput};
use ohmward::text::span::Source;
use ohmward::wiring;

const CART: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");

fn on(more: (&str, &str)) -> Vec<(String, String)> {
    [("key", "on"), more].map(|(control, setting)| (control.to_owned(), setting.to_owned())).to_vec()
}

/// The machine is an invention; ten times a reading is a slip of the range (common practice, no source).
#[test]
fn ten_times_a_reading_is_read_again_and_only_once() {
    let cart = wiring::read(&Source::new("wiring.yaml", CART), &Catalogue::builtin()).unwrap().netlist;
    let mut chase = Chase::new(Machine::new(cart, Catalogue::builtin()));
    chase.take(Input::Symptom(SymptomInput {
        part: "temp-lamp".into(),
        showings: vec!["dim".into()],
        set: on(("lights", "off")),
        ..SymptomInput::default()
    }));
    let volts =
        |set| Test { red: Some("P10a.6".into()), black: Some("frame".into()), ..Test::new(Instrument::VoltsDc, &set) };
    let mut read = |test: &Test, value: f64| {
        let readings = vec![Reading::Value { value, step: Some(0.01) }];
        let mut said = chase.take(Input::Measured { test: Box::new(test.clone()), readings });
        said.pop()
    };
    let (first, second) = (volts(on(("neutral", "in-gear"))), volts(on(("horn-push", "pressed"))));
    read(&first, 8.15);
    match read(&second, 78.4) {
        Some(Event::Ask { test, screen, .. }) => {
            assert_eq!(*test, second);
            assert!(screen.again.is_some_and(|why| why.contains("read it anew")));
        }
        other => panic!("{other:?}"),
    }
    // Once more the same: then it is so.
    match read(&second, 78.4) {
        Some(Event::Verdict { verdict, .. }) => assert_eq!(verdict.class, "not-in-file"),
        other => panic!("{other:?}"),
    }
}
