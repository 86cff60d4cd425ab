//! One fault, one name: aliases, case, order; every mode does to the volts what the contract says.

use super::{PLUGGED, value};
use crate::deck::Stand;
use ohmward::circuit::fault::resolve::{aliases, read};

#[test]
fn aliases_and_careless_writing_come_to_one_name() {
    let stand = Stand::new("wiring.yaml", PLUGGED);
    for (written, name) in [
        ("w4:Open", "W4:open"),
        ("HORN:open", "horn:open"),
        ("P9a.2:open", "P9a-2-new.b:open"),
        ("P9b.2:resistive(2 ohm)", "P9b-2-old.a:resistive(2)"),
        ("horn.feed:open", "W4.b:open"),
        ("P9a-2-old.b:open", "P9a-2-sleeve:open"),
        ("P9a-2-new.a:resistive(1k)", "P9a-2-sleeve:resistive(1000)"),
        ("s3:open", "W4.a:open"),
        ("W5.a:open", "W5.a:open"),
        ("frame~w4:touching", "W4~frame:touching"),
        ("P9a.3~P9b.2:touching", "P9.2~P9.3:touching"),
        ("P9b.3~P9b.2:crossed", "P9:crossed(2,3)"),
        ("P9.3~P9.2:crossed", "P9:crossed(2,3)"),
        ("W4.b~W5.b:crossed", "W4.b~W5.b:crossed"),
        ("W4.b:elsewhere(g2)", "W4:elsewhere(G2)"),
        ("left:wrong-type", "left:wrong-type(led)"),
        ("battery:flat(11.20 V)", "battery:flat(11.2)"),
        ("main-fuse:blown + W4:open", "W4:open + main-fuse:blown"),
        ("nothing-broken", "nothing-broken"),
        ("wrong-reading(3)", "wrong-reading(3)"),
    ] {
        let read = read(written, &stand.netlist, &stand.catalogue);
        assert_eq!(read.map(|f| f.to_string()).map_err(|p| p[0].text.clone()), Ok(name.to_string()), "{written}");
    }
}

#[test]
fn aliases_lead_back_to_the_name() {
    let stand = Stand::new("wiring.yaml", PLUGGED);
    for name in ["P9a-2-sleeve:open", "P9a-2-new.b:resistive(2)", "W4.a:open", "P9.2~P9.3:touching"] {
        let fault = read(name, &stand.netlist, &stand.catalogue).expect("a fault");
        let others = aliases(&fault.singles[0], &stand.netlist);
        assert!(!others.is_empty(), "{name}");
        for other in others {
            let back = read(&other, &stand.netlist, &stand.catalogue);
            assert_eq!(back.as_ref().map(ToString::to_string), Ok(name.to_string()), "{other}");
        }
    }
}

#[test]
fn what_makes_no_sense_is_refused_with_a_way_out() {
    let stand = Stand::new("wiring.yaml", PLUGGED);
    for (written, help) in [
        ("hron:open", "nearest: horn"),
        ("horn:opne", "nearest: open"),
        ("W4:off", "W4.a or W4.b"),
        ("W4:touching", "W4~frame:touching"),
        ("frame:open", "W7~frame:touching"),
        ("P9:open", "P9.1:open"),
        ("P9:crossed(2,7)", "1, 2, 3, 4"),
        ("P9:shifted(9)", "shifted(1)"),
        ("W4:elsewhere(G7)", "elsewhere(G2)"),
        ("latch.86:open", "name one: "),
        ("horn~W4:touching", "horn.feed"),
        ("W4:coupled", "W4~W12:coupled"),
        ("W4~frame:coupled", "W7~W12:coupled"),
        ("W4:resistive(much)", "resistive(0.3)"),
    ] {
        let problems = read(written, &stand.netlist, &stand.catalogue).expect_err(written);
        let said = problems[0].help.clone().unwrap_or_default();
        assert!(said.contains(help), "{written}: {} / {said}", problems[0].text);
    }
    for written in [
        "spare:open",
        "W4~W4:touching",
        "P9:crossed(2,2)",
        "horn:open(3)",
        "W4:resistive(-1)",
        "W4:open(2)",
        "left:wrong-type(neon)",
    ] {
        assert!(read(written, &stand.netlist, &stand.catalogue).is_err(), "{written}");
    }
    let both = read("hron:open + W99:open", &stand.netlist, &stand.catalogue).expect_err("two problems");
    assert_eq!(both.len(), 2, "all at once");
}

/// Volts at a point with the key on, horn pressed, turn left.
fn at(point: &str, fault: &str) -> f64 {
    let mut stand = Stand::new("wiring.yaml", PLUGGED);
    let test = format!(
        r#"{{"instrument":"volts-dc","red":"{point}","black":"battery.neg","set":{{"key":"on","horn-push":"pressed"}},"fit":{{"horn":"load(4)","flasher":"load(400)"}}}}"#
    );
    value(&mut stand, &test, fault)
}

#[test]
fn every_mode_of_copper_does_what_the_contract_says() {
    let healthy = at("horn.feed", "");
    assert!((11.0..12.7).contains(&healthy), "{healthy}");
    // open: the element is absent; a lead with only the meter on it reads nothing.
    assert!(at("horn.feed", "W4:open").abs() < 0.05);
    assert!(at("horn.feed", "W4.a:off").abs() < 0.05);
    // resistive(R): R in series with the 3 ohm of the load, the ground way takes its share the same way.
    let shared = at("horn.feed", "W4:resistive(3)");
    assert!((shared - healthy / 2.0).abs() < 0.25, "{shared}");
    assert!((at("horn.feed", "W4.b:resistive(3)") - shared).abs() < 0.01);
    let lifted = at("horn.ground", "P9.2:resistive(3)");
    assert!((lifted - healthy / 2.0).abs() < 0.25, "{lifted}");
    // mated contact: between the halves.
    assert!(at("P9b.2", "P9.2:resistive(3)") > 5.5 && at("P9a.2", "P9.2:resistive(3)") < 0.5);
    // ground: stud to its piece.
    assert!(at("G1", "G1:resistive(3)") > 5.0 && at("frame", "G1:resistive(3)") < 0.2);
    // touching: 0.05 ohm from the middle of the wire. A dead short this near the battery blows the fuse.
    assert!(at("horn.feed", "W4~frame:touching(0.001)").abs() < 0.05);
    assert!(at("horn.feed", "W4~frame:touching(8)") > 11.0);
    // elsewhere: the end named last lands on another point.
    assert!(at("W4.b", "W4:elsewhere(left.feed)") > 11.0 && at("horn.feed", "W4:elsewhere(left.feed)").abs() < 0.05);
    assert!(at("left.feed", "W4:elsewhere(left.feed)") > 11.0);
}

#[test]
fn conductors_of_half_b_change_places() {
    // Crossed: the horn's ground wire sits in way 3, so the horn is ground through the turn switch, that is not.
    let crossed = at("horn.ground", "P9:crossed(2,3)");
    assert!(crossed > 11.0, "{crossed}");
    // What goes up way 2 now is the lamp's feed: it is held at ground by the horn button.
    assert!(at("P9b.2", "P9:crossed(2,3)").abs() < 0.1);
    // Mirrored: way 1's conductor sits in 4 and 4's in 1, where the key's feed is.
    assert!(at("right.feed", "P9:mirrored") > 10.0 && at("right.feed", "") < 0.1);
    assert!(at("horn.feed", "P9:mirrored").abs() < 0.1);
    // Shifted by one: way 1's conductor in 2, nothing in 1, way 4's hangs loose.
    assert!(at("P9b.1", "P9:shifted(1)") > 11.0);
    assert!(at("horn.feed", "P9:shifted(1)").abs() < 0.1);
    // The same slip at the wire ends.
    assert!((at("horn.ground", "P9b-2-old.a~P9b-3-old.a:crossed") - crossed).abs() < 1e-6);
}

#[test]
fn a_pair_is_both_at_once() {
    let both = at("horn.feed", "W4:resistive(3) + G1:resistive(3)");
    let one = at("horn.feed", "W4:resistive(3)");
    assert!(both > one + 1.0, "less current, more volts left: {both} {one}");
    // A wire that is parted touches only with its stump: its far side is dead.
    assert!(at("horn.feed", "W4:open + W4~frame:touching(20)").abs() < 0.01);
}

#[test]
fn what_is_out_or_good_the_fault_leaves_alone() {
    let mut stand = Stand::new("wiring.yaml", PLUGGED);
    let test = |more: &str| {
        format!(r#"{{"instrument":"volts-dc","red":"horn.feed","black":"battery.neg","set":{{"key":"on"}}{more}}}"#)
    };
    assert!(value(&mut stand, &test(r#","open":["main-fuse"]"#), "main-fuse:resistive(2)").abs() < 1e-6);
    assert!(value(&mut stand, &test(r#","open":["P9"]"#), "P9.1:resistive(2)").abs() < 1e-6);
    assert!(value(&mut stand, &test(""), "main-fuse:blown").abs() < 1e-6);
    assert!(value(&mut stand, &test(r#","fit":{"main-fuse":"good"}"#), "main-fuse:blown") > 12.0);
}

mod no_panic {
    use super::PLUGGED;
    use crate::deck::Stand;
    use ohmward::circuit::fault::resolve::read;
    use ohmward::circuit::injury::injure_canonical;
    use ohmward::circuit::meter::{How, observe};
    use ohmward::circuit::test::Test;
    use proptest::prelude::*;
    use std::cell::RefCell;

    thread_local! {
        static STAND: RefCell<Stand> = RefCell::new(Stand::new("wiring.yaml", PLUGGED));
    }

    fn one_of(words: &'static [&'static str]) -> impl Strategy<Value = String> {
        proptest::sample::select(words).prop_map(str::to_string)
    }

    const SITES: &[&str] = &[
        "W4",
        "W4.a",
        "P9",
        "P9.2",
        "P9a.3",
        "G1",
        "S3",
        "horn",
        "latch",
        "frame",
        "P9a-2-sleeve",
        "left.feed",
        "é",
        "",
    ];
    const MODES: &[&str] = &[
        "open",
        "resistive",
        "touching",
        "crossed",
        "mirrored",
        "shifted",
        "elsewhere",
        "off",
        "wrong-type",
        "blown",
        "Ω",
    ];
    const ARGS: &[&str] =
        &["", "(2)", "(0)", "(1e300)", "(-1)", "(G2)", "(2,3)", "(2,3,4)", "()", "((", "(nan)", "/intermittent(0.4)"];

    proptest! {
        #[test]
        fn any_text_is_a_fault_or_a_problem(text in "\\PC{0,40}") {
            STAND.with_borrow(|stand| {
                let _ = read(&text, &stand.netlist, &stand.catalogue);
            });
        }

        #[test]
        fn what_is_a_fault_can_be_done(a in one_of(SITES), b in one_of(SITES), mode in one_of(MODES), args in one_of(ARGS), pair in any::<bool>()) {
            let text = if pair { format!("{a}~{b}:{mode}{args}") } else { format!("{a}:{mode}{args} + {b}:open") };
            STAND.with_borrow_mut(|stand| {
                if let Ok(fault) = read(&text, &stand.netlist, &stand.catalogue) {
                    let again = read(&fault.to_string(), &stand.netlist, &stand.catalogue);
                    prop_assert_eq!(again.as_ref(), Ok(&fault), "a canonical name is its own");
                    let injury = injure_canonical(stand.sim.schematic(), &stand.netlist, &stand.catalogue, &fault, &[]);
                    prop_assert!(injury.is_ok(), "{}: {:?}", fault, injury);
                    let test = stand.test(r#"{"instrument":"volts-dc","red":"horn.feed","black":"battery.neg","set":{"key":"on","horn-push":"pressed"}}"#);
                    let answer = observe(&mut stand.sim, &stand.netlist, &stand.catalogue, &test, &fault, How::Ports);
                    let json = answer.expect("an answer")[0].to_json(test.instrument).to_string();
                    prop_assert!(!json.contains("null"), "{}: {}", fault, json);
                }
                Ok(())
            })?;
        }

        #[test]
        fn any_json_is_a_test_or_problems(text in r#"\{("(instrument|red|set|open|bridge|then|fit)":("volts-dc"|"watch"|1|null|\[\]|\[\[1\]\]|\{"key":"on"\}),?){0,4}\}"#) {
            if let Ok(value) = serde_json::from_str(&text)
                && let Ok(test) = Test::from_json(&value)
            {
                prop_assert_eq!(Test::from_json(&test.to_json()), Ok(test));
            }
        }
    }
}
