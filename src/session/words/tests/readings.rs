//! Readings as people say them, and words for points and settings.

use super::*;
use crate::circuit::test::{Instrument, Reading};
use crate::session::words::reading::Asked;

fn lamp_words() -> Vec<String> {
    ["dark", "dim", "lit"].map(String::from).to_vec()
}

fn told(text: &str, instrument: Instrument, count: usize) -> String {
    let needle = ["zero", "low", "normal", "high", "pegged"].map(String::from);
    let lamp = lamp_words();
    let (words, works): (&[String], _) = match (instrument, count) {
        (Instrument::Watch, 9) => (&needle, Some("normal")),
        (Instrument::Watch | Instrument::TestLamp, _) => (&lamp, Some("lit")),
        _ => (&[], None),
    };
    let count = if count == 9 { 1 } else { count };
    let asked = Asked { instrument, count, words, works, scale: 1.0 };
    static TABLE: std::sync::LazyLock<SymptomTable> = std::sync::LazyLock::new(SymptomTable::builtin);
    match reading::read(text, &asked, &TABLE) {
        Ok(said) => said.readings.iter().map(one).collect::<Vec<_>>().join(" | "),
        Err(why) => format!("! {why}"),
    }
}

fn one(reading: &Reading) -> String {
    match reading {
        Reading::Value { value, step } => format!("{value}±{}", step.unwrap_or(0.0) / 2.0),
        Reading::Range { from, to } => format!("{from}..{to}"),
        Reading::Over => "OL".into(),
        Reading::Beeps(beeps) => format!("beeps {beeps}"),
        Reading::Showing(word) => word.clone(),
        Reading::Live => "live".into(),
    }
}

/// What is typed, at which instrument, for how many settings (9: one needle), what is taken.
const READINGS: &[(&str, Instrument, usize, &str)] = &[
    ("12", Instrument::VoltsDc, 1, "12±0.5"),
    ("12.6", Instrument::VoltsDc, 1, "12.6±0.05"),
    ("12.60", Instrument::VoltsDc, 1, "12.6±0.005"),
    ("12,6", Instrument::VoltsDc, 1, "12.6±0.05"),
    ("12.6V", Instrument::VoltsDc, 1, "12.6±0.05"),
    ("12.6 volts", Instrument::VoltsDc, 1, "12.6±0.05"),
    ("about 12.6 V", Instrument::VoltsDc, 1, "12.6±0.05"),
    ("-0.3", Instrument::VoltsDc, 1, "-0.3±0.05"),
    ("−0.3", Instrument::VoltsDc, 1, "-0.3±0.05"),
    ("minus 0.3 V", Instrument::VoltsDc, 1, "-0.3±0.05"),
    (".35", Instrument::VoltsDc, 1, "0.35±0.005"),
    ("0.02 0.35", Instrument::VoltsDc, 2, "0.02±0.005 | 0.35±0.005"),
    ("0.02, 0.35", Instrument::VoltsDc, 2, "0.02±0.005 | 0.35±0.005"),
    ("0.02 V then 0.35 V", Instrument::VoltsDc, 2, "0.02±0.005 | 0.35±0.005"),
    ("0.02/0.35/1.2", Instrument::VoltsDc, 3, "0.02±0.005 | 0.35±0.005 | 1.2±0.05"),
    ("20 mV 350", Instrument::VoltsDc, 2, "0.02±0.0005 | 0.35±0.0005"),
    ("0.35", Instrument::VoltsDc, 2, "! 2 readings are wanted here, in the order shown; 1 found in \"0.35\""),
    ("12,6", Instrument::VoltsDc, 2, "! \"12,6\": is it 12.6, or 12 and 6? Write 12.6 or 12 6"),
    ("350 mV", Instrument::VoltsDc, 1, "0.35±0.0005"),
    ("350mV", Instrument::VoltsDc, 1, "0.35±0.0005"),
    ("350m", Instrument::VoltsDc, 1, "0.35±0.0005"),
    ("OL", Instrument::VoltsDc, 1, "OL"),
    ("0.L", Instrument::Ohms, 1, "OL"),
    ("ol", Instrument::Ohms, 1, "OL"),
    ("1.", Instrument::Ohms, 1, "OL"),
    ("1 .", Instrument::Ohms, 1, "OL"),
    ("over range", Instrument::Ohms, 1, "OL"),
    ("OL Mohm", Instrument::Ohms, 1, "OL"),
    ("0.3 ohm", Instrument::Ohms, 1, "0.3±0.05"),
    ("0.3 Ω", Instrument::Ohms, 1, "0.3±0.05"),
    ("4k7", Instrument::Ohms, 1, "4700±50"),
    ("4.7k", Instrument::Ohms, 1, "4700±50"),
    ("2.2 Mohm", Instrument::Ohms, 1, "2200000±50000"),
    ("live", Instrument::Ohms, 1, "live"),
    ("live", Instrument::VoltsDc, 1, "! how many volts? A number is wanted here"),
    ("between 2 and 5", Instrument::VoltsDc, 1, "2..5"),
    ("jumps 2 to 5", Instrument::VoltsDc, 1, "2..5"),
    ("2 to 5 V", Instrument::VoltsDc, 1, "2..5"),
    ("200 to 500 mV", Instrument::VoltsDc, 1, "0.2..0.5"),
    ("2..5", Instrument::VoltsDc, 1, "2..5"),
    ("2–5", Instrument::VoltsDc, 1, "2..5"),
    ("jumps", Instrument::VoltsDc, 1, "! it swings between what and what? For example: 2 to 5"),
    ("2-5", Instrument::VoltsDc, 1, "! \"2-5\": a swing is written 2 to 5, two readings 2 5"),
    ("3 ohm", Instrument::VoltsDc, 1, "! \"3 ohm\" is in ohms, but what is asked for is in volts"),
    ("12 furlongs", Instrument::VoltsDc, 1, "! \"furlongs\" is no reading; wanted is a number in V, or OL"),
    ("1.2.3", Instrument::VoltsDc, 1, "! \"1.2.3\" has two points in it"),
    ("nothing", Instrument::VoltsDc, 1, "! \"nothing\": does the display show 0 V or OL? Type what it shows"),
    ("<0.1", Instrument::VoltsDc, 1, "! \"<0.1\": type what the display shows, digit for digit"),
    ("nan", Instrument::VoltsDc, 1, "! \"nan\" is no reading; wanted is a number in V, or OL"),
    ("1e400", Instrument::VoltsDc, 1, "! it is no finite number"),
    ("", Instrument::VoltsDc, 1, "! nothing was typed; wanted is a number in V, or OL"),
    ("3.5 A", Instrument::AmpsDc, 1, "3.5±0.05"),
    ("20 mA", Instrument::AmpsDc, 1, "0.02±0.0005"),
    ("beep", Instrument::Beep, 1, "beeps true"),
    ("it beeps", Instrument::Beep, 1, "beeps true"),
    ("no beep", Instrument::Beep, 1, "beeps false"),
    ("silent", Instrument::Beep, 1, "beeps false"),
    ("doesn't beep", Instrument::Beep, 1, "beeps false"),
    ("yes", Instrument::Beep, 1, "beeps true"),
    ("OL", Instrument::Beep, 1, "beeps false"),
    ("beep no beep", Instrument::Beep, 2, "beeps true | beeps false"),
    ("lit", Instrument::Watch, 1, "lit"),
    ("dim", Instrument::Watch, 1, "dim"),
    ("nothing", Instrument::Watch, 1, "dark"),
    ("yes", Instrument::Watch, 1, "lit"),
    ("no", Instrument::TestLamp, 1, "dark"),
    ("dark lit", Instrument::TestLamp, 2, "dark | lit"),
    ("glows", Instrument::TestLamp, 1, "! \"glows\": dim or lit?"),
    ("litt", Instrument::TestLamp, 1, "! \"litt\" is not understood; wanted is one of: dark, dim, lit; nearest: lit"),
    ("pegged", Instrument::Watch, 9, "pegged"),
    ("at the end stop", Instrument::Watch, 9, "pegged"),
    ("nothing", Instrument::Watch, 9, "zero"),
];

#[test]
fn readings_are_taken_as_people_say_them() {
    let mut wrong = String::new();
    for (text, instrument, count, expected) in READINGS {
        let got = told(text, *instrument, *count);
        if got != *expected {
            wrong += &format!("{text} ({}, {count})\n      is {got}\n  wanted {expected}\n", instrument.name());
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}

#[test]
fn unasked_readings_come_apart() {
    let short = |text: &str| match unasked::unasked(text) {
        Ok(u) => {
            let black = u.black.unwrap_or_default();
            format!("{} {} red {} black {black} state {}", u.instrument.name(), one(&u.reading), u.red, u.state)
        }
        Err(why) => format!("! {why}"),
    };
    let example = "for example: read 8.1 V at fuse box, key on";
    for (text, expected) in [
        ("read 8.1 V at fuse box, key on", "volts-dc 8.1±0.05 red fuse box black  state key on"),
        ("8.1V at horn.feed", "volts-dc 8.1±0.05 red horn.feed black  state "),
        (
            "read 4 V between battery.neg and W3.a, key on, horn pressed",
            "volts-dc 4±0.5 red battery.neg black W3.a state key on, horn pressed",
        ),
        (
            "0.8 ohm from horn wire to ground with the button pressed",
            "ohms 0.8±0.05 red horn wire black ground state the button pressed",
        ),
        ("i got 3.2 A at the main fuse", "amps-dc 3.2±0.05 red the main fuse black  state "),
        ("beep between P9a.4 and P9b.4", "beep beeps true red P9a.4 black P9b.4 state "),
        ("OL at horn.ground", "ohms OL red horn.ground black  state "),
        ("12 at horn.feed", "! 12 what? Name the unit: 12 V, 12 ohm or 12 A"),
    ] {
        assert_eq!(short(text), expected, "{text}");
    }
    assert_eq!(short("8.1 V"), format!("! where was it read? {example}"));
}

#[test]
fn words_find_points_and_settings() {
    let source = Source::new("wiring.yaml", include_str!("../../../../rules/machines/orchard-cart/wiring.yaml"));
    let catalogue = Catalogue::builtin();
    let netlist = wiring::read(&source, &catalogue).unwrap().netlist;
    let points = |words: &str| unasked::points(words, &netlist, &catalogue);
    assert_eq!(points("horn.feed"), ["horn.feed"]);
    assert_eq!(points("the horn feed"), ["horn.feed"]);
    assert_eq!(points("battery minus"), ["battery.neg"]);
    assert_eq!(points("rev gauge ground"), ["rev-gauge.ground"]);
    assert_eq!(points("tach earth"), ["rev-gauge.ground"]);
    assert_eq!(points("g2"), ["G2"]);
    assert_eq!(points("frame"), ["frame"]);
    assert_eq!(points("horn"), ["horn.feed", "horn.ground"]);
    assert!(points("moon").is_empty());
    let controls = lower(&netlist, &catalogue).controls;
    let (settings, lost) = unasked::settings(
        "key on, horn pressed and engine off",
        &netlist,
        &catalogue,
        &controls,
        &SymptomTable::builtin(),
    );
    let first: Vec<String> = settings.iter().map(|s| format!("{}={}", s[0].0, s[0].1)).collect();
    assert_eq!(first, ["key=on", "horn-push=pressed", "engine=stopped"]);
    assert!(lost.is_empty(), "{lost:?}");
}

proptest::proptest! {
    #[test]
    fn no_text_is_a_panic(text in "\\PC{0,60}") {
        let _ = told(&text, Instrument::VoltsDc, 2);
        let _ = told(&text, Instrument::Beep, 1);
        let _ = told(&text, Instrument::Watch, 1);
        let _ = unasked::unasked(&text);
        let _ = understand(
            &text,
            &crate::netlist::Netlist::default(),
            &Catalogue::default(),
            &Default::default(),
            &SymptomTable::default(),
        );
    }
}
