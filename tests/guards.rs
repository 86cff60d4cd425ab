//! Guards against a toy: what is shown must come from the circuit, and chances must stay chances.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::test::{BridgeWith, Instrument, Reading, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::netlist::Netlist;
use ohmward::session::twin::Twin;
use ohmward::session::{Chase, Event, Input, Report};
use ohmward::text::span::Source;
use ohmward::wiring;

const CART: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");

fn netlist(text: &str) -> Netlist {
    let source = Source::new("wiring.yaml", text);
    match wiring::read(&source, &Catalogue::builtin()) {
        Ok(reading) => reading.netlist,
        Err(problems) => panic!("{}", problems.iter().map(|p| p.render(&source)).collect::<String>()),
    }
}

fn set(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(control, setting)| ((*control).to_owned(), (*setting).to_owned())).collect()
}

/// Black on battery minus, key on and the horn sounding: what the shared ground is lifted by.
fn lift() -> Test {
    Test {
        red: Some("G2".into()),
        black: Some("battery.neg".into()),
        ..Test::new(Instrument::VoltsDc, &set(&[("key", "on"), ("horn-push", "pressed")]))
    }
}

#[test]
fn two_seeds_of_the_simulated_machine_read_differently_and_one_the_same() {
    let (cart, rules) = (netlist(CART), Catalogue::builtin());
    let fault = Fault::parse("G2:resistive(2)").unwrap();
    let read = |seed| match Twin::new(&cart, &rules, &fault, seed).unwrap().read(&lift()).unwrap().as_slice() {
        [Reading::Value { value, .. }] => *value,
        other => panic!("{other:?}"),
    };
    let values = [read(1), read(2), read(3)];
    assert_eq!(values[0].to_bits(), read(1).to_bits());
    assert!((values[0] - values[1]).abs() > 0.005 && (values[1] - values[2]).abs() > 0.005, "{values:?}");
    assert!(values.iter().all(|v| *v > 1.0), "2 ohm under a horn lift more than a volt: {values:?}");
}

/// The finding when the needle jumps with the horn and the shared ground is lifted by so many volts.
fn finding(text: &str, volts: f64) -> Report {
    let mut chase = Chase::new(Machine::new(netlist(text), Catalogue::builtin()));
    let heard = chase.take(Input::Saw("the rev needle jumps up when I press the horn".into()));
    assert!(matches!(heard.last(), Some(Event::Ask { .. })), "{heard:?}");
    let readings = vec![Reading::Value { value: volts, step: Some(0.01) }];
    let weighed = chase.take(Input::Measured { test: Box::new(lift()), readings });
    assert!(!weighed.iter().any(|event| matches!(event, Event::Error { .. })), "{weighed:?}");
    match chase.take(Input::Stop).pop() {
        Some(Event::Verdict { verdict, .. }) => verdict.report,
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_numbers_of_an_explanation_follow_the_machine_and_the_meter() {
    assert!(CART.contains("horn: horn, 3.5 A"), "the row that this test changes");
    let plain = finding(CART, 2.3);
    let thirsty = finding(&CART.replace("horn: horn, 3.5 A", "horn: horn, 4.55 A"), 2.3);
    assert!(plain.why.iter().any(|line| line.contains(|c: char| c.is_ascii_digit())), "{plain:?}");
    assert_ne!(plain.why, thirsty.why, "a horn of 30 % more amps is explained with the same numbers");
    let lifted = finding(CART, 1.6);
    assert_ne!(plain.why, lifted.why, "30 % fewer volts at the ground are explained with the same numbers");
    // Told nothing of what was met, the sound machine reads what its own wires make it read.
    let healthy = |report: &Report| report.readings.iter().map(|line| line.healthy.clone()).collect::<Vec<_>>();
    assert_eq!(healthy(&plain), healthy(&lifted));
    assert_ne!(healthy(&plain), healthy(&thirsty));
}

/// Faults of several sorts, each planted and chased with true readings.
const PLANTED: [&str; 8] = [
    "G2:resistive(2)",
    "F3:blown",
    "horn-push:stuck-open",
    "P9.4:open",
    "flasher:stuck-closed",
    "S1_G2.a:open",
    "stop-lamp:open",
    "neutral:stuck-closed",
];
/// So many answers are given in each chase, at most.
const ANSWERS: usize = 8;

#[test]
fn chances_sum_to_one_and_true_readings_never_rule_out_the_truth() {
    let (cart, rules) = (netlist(CART), Catalogue::builtin());
    let mut answered = 0;
    for (seed, planted) in PLANTED.iter().enumerate() {
        let fault = Fault::parse(planted).unwrap();
        let mut twin = Twin::new(&cart, &rules, &fault, seed as u64 + 1).unwrap_or_else(|p| panic!("{planted}: {p:?}"));
        let symptom = twin.symptom().unwrap_or_else(|| panic!("nothing of {planted} can be seen"));
        let mut chase = Chase::new(Machine::new(cart.clone(), rules.clone()));
        let truth = chase.suspects().by_name(planted).unwrap_or_else(|| panic!("{planted} is not suspected"));
        let prior = chase.suspects().list[truth].prior;
        let mut said = chase.take(Input::Symptom(symptom));
        for step in 0..ANSWERS {
            let chances = chase.chances();
            for (what, list) in [("suspects", &chances.suspects), ("points", &chances.points)] {
                let sum: f64 = list.iter().sum();
                assert!((sum - 1.0).abs() < 1e-9, "{planted}, answer {step}: {what} sum to {sum}");
                assert!(list.iter().all(|p| (0.0..=1.0).contains(p)), "{planted}, answer {step}: {what}");
            }
            let p = chances.suspects[truth];
            assert!(p >= 1e-3 * prior, "{planted}, answer {step}: {p} of a prior of {prior}");
            let Some(Event::Ask { test, .. }) = said.pop() else { break };
            let readings = twin.read(&test).unwrap_or_else(|p| panic!("{planted}: {test:?}: {p:?}"));
            said = chase.take(Input::Reading(readings));
            answered += 1;
        }
    }
    assert!(answered >= PLANTED.len(), "only {answered} questions were asked");
}

/// What is worked out while an answer is awaited is what would be worked out after it.
#[test]
fn thinking_ahead_changes_no_question_and_no_chance() {
    let (cart, rules) = (netlist(CART), Catalogue::builtin());
    for (planted, seed) in [("G2:resistive(2)", 3), ("P9b-4-new:open", 4)] {
        let fault = Fault::parse(planted).unwrap();
        let symptom = Twin::new(&cart, &rules, &fault, seed).unwrap().symptom().unwrap();
        let walk = |ahead: bool| {
            let mut twin = Twin::new(&cart, &rules, &fault, seed).unwrap();
            let mut chase = Chase::new(Machine::new(cart.clone(), rules.clone()));
            let mut said = chase.take(Input::Symptom(symptom.clone()));
            let mut trail = Vec::new();
            let mut pieces = 0;
            while let Some(Event::Ask { test, .. }) = said.pop().filter(|_| trail.len() < 3) {
                if ahead {
                    pieces += (0..).take_while(|&done| chase.think(done)).count();
                }
                let readings = twin.read(&test).unwrap();
                said = chase.take(Input::Reading(readings));
                trail.push((test, chase.chances().suspects.clone()));
            }
            (trail, pieces)
        };
        let ((plain, none), (ahead, pieces)) = (walk(false), walk(true));
        assert!(none == 0 && pieces > plain.len() && !plain.is_empty(), "{planted}: {pieces} pieces");
        assert_eq!(plain.len(), ahead.len(), "{planted}");
        for ((test, chances), (other, others)) in plain.iter().zip(&ahead) {
            assert_eq!(test, other, "{planted}");
            let apart = chances.iter().zip(others).map(|(p, q)| (p - q).abs()).fold(0.0, f64::max);
            assert!(apart < 2e-3, "{planted}: chances {apart} apart");
        }
    }
}

/// "The fuse had blown by itself" is over once a new one has not cured; a short that blows it again is not.
#[test]
fn a_fuse_that_blows_again_did_not_blow_by_itself() {
    let mut chase = Chase::new(Machine::new(netlist(CART), Catalogue::builtin()));
    chase.take(Input::Saw("the horn is silent with the key on when I press the horn".into()));
    let look = |pairs: &[(&str, &str)]| Test { part: Some("F3".into()), ..Test::new(Instrument::Watch, &set(pairs)) };
    let pressed = look(&[("key", "on"), ("horn-push", "pressed")]);
    let blown = || vec![Reading::Showing("blown".into())];
    chase.take(Input::Measured { test: Box::new(pressed.clone()), readings: blown() });
    let p = |chase: &Chase, class: &str| -> f64 {
        let of = chase.suspects().list.iter().zip(&chase.chances().suspects);
        of.filter(|(suspect, _)| suspect.class.starts_with(class)).map(|(_, p)| p).sum()
    };
    let (fuse, short) = ("replace:F3", "part:");
    let (alone, beside) = (p(&chase, fuse), p(&chase, short));
    assert!(alone > 0.01 && beside > 0.1, "a fuse of its own accord {alone}, beside a short {beside}");
    let first = alone / beside;
    chase.take(Input::Fixed(vec!["F3".into()]));
    chase.take(Input::Measured { test: Box::new(pressed), readings: blown() });
    let (alone, after) = (p(&chase, fuse), p(&chase, short));
    assert!(alone / after < 0.02 * first, "blown again: {alone} beside a short {after}; before {first} to one");
}

/// The horn's feed on bare metal blows F3 with the key on; with everything off again the fuse is still blown, on the
/// simulated machine and in what is expected of it.
#[test]
fn a_fuse_that_has_blown_stays_blown_until_it_is_renewed() {
    let (cart, rules) = (netlist(CART), Catalogue::builtin());
    let fault = Fault::parse("P10a-8-new~frame:touching(0.05)").unwrap();
    let mut twin = Twin::new(&cart, &rules, &fault, 5).unwrap();
    let look = |pairs: &[(&str, &str)]| Test { part: Some("F3".into()), ..Test::new(Instrument::Watch, &set(pairs)) };
    let shows = |twin: &mut Twin, test: &Test| match twin.read(test).unwrap().as_slice() {
        [Reading::Showing(word)] => word.clone(),
        other => panic!("{other:?}"),
    };
    let (rest, key_on) = (look(&[]), look(&[("key", "on")]));
    assert_eq!(shows(&mut twin, &rest), "whole");
    assert_eq!(shows(&mut twin, &key_on), "blown");
    assert_eq!(shows(&mut twin, &rest), "blown");
    twin.replace(&["F3".into()]);
    assert_eq!(shows(&mut twin, &rest), "whole");

    let chance_after = |seen: &[(&Test, &str)]| {
        let mut chase = Chase::new(Machine::new(cart.clone(), rules.clone()));
        chase.take(Input::Saw("the horn is silent with the key on when I press the horn".into()));
        for (test, word) in seen {
            let readings = vec![Reading::Showing((*word).into())];
            chase.take(Input::Measured { test: Box::new((*test).clone()), readings });
        }
        let truth = chase.suspects().by_name(&fault.to_string()).unwrap();
        chase.chances().suspects[truth]
    };
    let (before, still, whole) =
        (chance_after(&[]), chance_after(&[(&rest, "blown")]), chance_after(&[(&rest, "whole")]));
    assert!(still > 3.0 * before, "{before} {still}");
    assert!(whole < 0.1 * before, "{before} {whole}");
}

/// The ignition module's stop terminal is grounded by the stop push: an engine does not run with it pressed, so no
/// question asks for both, however little has been answered.
#[test]
fn nobody_is_asked_to_run_an_engine_with_its_stop_push_pressed() {
    let mut chase = Chase::new(Machine::new(netlist(CART), Catalogue::builtin()));
    let mut said = chase.take(Input::Saw("the rev needle stays at zero with the engine idling".into()));
    let (mut running, mut asked) = (0, 0);
    while let Some(Event::Ask { test, .. }) = said.pop() {
        for set in test.placements() {
            let at = |control: &str| set.iter().rev().find(|(c, _)| c == control).map(|(_, s)| s.as_str());
            let runs = at("engine").is_some_and(|s| s != "stopped");
            running += usize::from(runs);
            assert!(!(runs && at("stop-push") == Some("pressed")), "{test:?}");
        }
        asked += 1;
        said = if asked < 25 { chase.take(Input::Skip) } else { break };
    }
    assert!(running > 10, "{running} of {asked}: the complaint is of a running engine");
}

/// The kill wire of a magneto carries its kicks, and so does whatever the seat's relay or the blades' switch may join to it:
/// with the engine turning nobody is sent there with a meter, whatever is suspected and however the controls stand.
#[test]
fn nobody_is_sent_to_a_kill_wire_while_the_engine_turns() {
    const MOWER: &str = include_str!("../rules/machines/verge-mower/wiring.yaml");
    let kills = |point: &str| {
        ["magneto.", "key.kill", "stop-push.a", "seat-relay.30", "seat-relay.87a", "blade-switch.white", "S2"]
            .iter()
            .chain(&["P1a.3", "P1b.3", "P1a.5", "P1b.5", "P1a-3", "P1b-3", "P1a-5", "P1b-5"])
            .any(|hot| point.starts_with(hot))
    };
    let mower = netlist(MOWER);
    for said in ["the voltmeter reads low with the engine idling", "the blade lamp is dark with the engine idling"] {
        let mut chase = Chase::new(Machine::new(mower.clone(), Catalogue::builtin()));
        let mut events = chase.take(Input::Saw(said.into()));
        let (mut running, mut asked) = (0, 0);
        while let Some(Event::Ask { test, .. }) = events.pop() {
            let turns = test.placements().iter().any(ohmward::diagnosis::kill::turns);
            running += usize::from(turns && test.instrument != Instrument::Watch);
            for point in [&test.red, &test.black].into_iter().flatten().filter(|_| turns) {
                assert!(!kills(point), "{said}: {test:?}");
            }
            asked += 1;
            events = if asked < 25 { chase.take(Input::Skip) } else { break };
        }
        assert!(running > 4, "{said}: {running} of {asked} with the engine running");
    }
}

/// Behind a blown fuse a lamp in its place is asked for, never while the engine turns and never a bare lead; and with true
/// readings it does not rule out the short that blew it.
#[test]
fn a_lamp_in_a_blown_fuses_place_tells_on_with_the_engine_stopped() {
    let (cart, rules) = (netlist(CART), Catalogue::builtin());
    let planted = "P10b-8-new~frame:touching(0.05)";
    let fault = Fault::parse(planted).unwrap();
    let mut lamps = 0;
    for (seed, said) in (1..).zip(["F3 blows when I press the horn", "F3 blows with the engine idling"]) {
        let mut twin = Twin::new(&cart, &rules, &fault, seed).unwrap();
        let mut chase = Chase::new(Machine::new(cart.clone(), rules.clone()));
        let truth = chase.suspects().by_name(planted).unwrap();
        let prior = chase.suspects().list[truth].prior;
        let mut events = chase.take(Input::Saw(said.into()));
        let mut lamp_in = false;
        for _ in 0..8 {
            let (test, screen) = match events.pop() {
                Some(Event::Ask { test, screen, .. }) => (test, screen),
                Some(Event::TryRepair { report, .. }) => {
                    assert_eq!(lamp_in, report.cautions.iter().any(|line| line.contains("still in")), "{report:?}");
                    break;
                }
                _ => break,
            };
            // What the test before has put in is taken off again in so many words.
            let off = screen.prepare.iter().any(|line| line.contains("lamp") && line.contains("off F3"));
            assert_eq!(off, lamp_in && test.bridge.is_empty(), "{screen:?}");
            lamp_in = !test.bridge.is_empty();
            if lamp_in {
                lamps += 1;
                let stopped = test.placements().iter().all(|set| !ohmward::diagnosis::kill::turns(set));
                assert!(stopped && !test.bridge.iter().any(|b| b.with == BridgeWith::Lead), "{test:?}");
                assert!(screen.prepare.iter().any(|line| line.contains("lamp")), "{screen:?}");
                assert!(screen.cautions.iter().any(|line| line.contains("clear of skin")), "{screen:?}");
            }
            events = chase.take(Input::Reading(twin.read(&test).unwrap()));
            let p = chase.chances().suspects[truth];
            assert!(p >= 1e-3 * prior, "{said}: {p} of {prior} after {test:?}");
        }
    }
    assert!(lamps > 0, "no lamp was asked for");
}

/// A flasher that was seen to flash still swings a reading where its load is computed to be just too little for it: the
/// real suspect stays one.
#[test]
fn a_flasher_that_works_after_all_rules_nobody_out() {
    let mut chase = Chase::new(Machine::new(netlist(CART), Catalogue::builtin()));
    let truth = chase.suspects().by_name("P9a-1-sleeve:resistive(2)").expect("a suspect");
    let prior = chase.suspects().list[truth].prior;
    let slow = r#"{"symptom":{"part":"flasher","showing":"slow","set":{"key":"on","turn":"left"}}}"#;
    let slow = Input::from_json(&serde_json::from_str(slow).unwrap(), None).expect("a symptom");
    chase.take(slow);
    let left = [("key", "on"), ("turn", "left"), ("horn-push", "pressed")];
    let at = |point: &str, pressed: usize| Test {
        red: Some(point.into()),
        black: Some("frame".into()),
        ..Test::new(Instrument::VoltsDc, &set(&left[..2 + pressed]))
    };
    // 3 ohm before the lamps leave them 5.7 V and the flasher nine tenths of the amps that it works at.
    for (point, pressed, high) in [("P10a.9", 1, 5.439), ("P10b-9-new.a", 0, 5.68)] {
        let readings = vec![Reading::Range { from: 0.0, to: high }];
        let said = chase.take(Input::Measured { test: Box::new(at(point, pressed)), readings });
        assert!(!said.iter().any(|event| matches!(event, Event::Error { .. })), "{said:?}");
    }
    let p = chase.chances().suspects[truth];
    assert!(p > 0.2 * prior, "{p} of a prior of {prior}");
}

/// A horn with the key off is no fault: it is asked how it stood, and who did have it so is told what makes it work.
#[test]
fn what_a_sound_machine_does_is_asked_about_before_anything_is_measured() {
    let begin = || {
        let mut chase = Chase::new(Machine::new(netlist(CART), Catalogue::builtin()));
        let said = chase.take(Input::Saw("the horn is dead with the key off".into()));
        let Some(Event::Question { text, choices, .. }) = said.last() else { panic!("{said:?}") };
        assert!(text.contains("a sound horn: silent with key off, sounds with key on"), "{text}");
        assert_eq!(choices, &["key on", "key off", "don't know"]);
        chase
    };
    // It did have the key on: a chase as any other.
    let mut chase = begin();
    let said = chase.take(Input::Choice("key on".into()));
    assert!(matches!(said.last(), Some(Event::Ask { .. })), "{said:?}");
    // It had not: nothing is broken, and the way out is told.
    let mut chase = begin();
    let said = chase.take(Input::Choice("key off".into()));
    let Some(Event::Verdict { verdict, .. }) = said.last() else { panic!("{said:?}") };
    assert!(verdict.report.why.iter().any(|line| line.contains("sounds once you turn key on")), "{:?}", verdict.report);
    assert_eq!((verdict.report.sure.as_str(), verdict.report.others.len()), ("near certain", 0));
}

/// Words that mean nothing are asked about with a short choice: which part, then what it does; then tests come.
#[test]
fn what_is_not_understood_is_asked_in_two_short_choices() {
    let mut chase = Chase::new(Machine::new(netlist(CART), Catalogue::builtin()));
    let said = chase.take(Input::Saw("it is so wobbly".into()));
    let Some(Event::Question { choices, .. }) = said.last() else { panic!("{said:?}") };
    assert!(choices.len() <= 13 && choices.iter().any(|c| c == "horn"), "{choices:?}");
    let said = chase.take(Input::Choice("horn".into()));
    let Some(Event::Question { text, choices, .. }) = said.last() else { panic!("{said:?}") };
    assert!(text.contains("horn") && choices.len() >= 3, "{text} {choices:?}");
    let said = chase.take(Input::Choice("horn dead".into()));
    assert!(matches!(said.last(), Some(Event::Ask { .. })), "{said:?}");
    // A part that is named is asked about at once.
    let mut chase = Chase::new(Machine::new(netlist(CART), Catalogue::builtin()));
    let said = chase.take(Input::Saw("there is something with the horn".into()));
    assert!(matches!(said.last(), Some(Event::Question { text, .. }) if text.contains("horn")), "{said:?}");
    // Within a chase what waits goes on waiting.
    chase.take(Input::Choice("horn dead".into()));
    let said = chase.take(Input::Saw("wobbly".into()));
    assert!(matches!(said.first(), Some(Event::Error { .. })), "{said:?}");
    assert!(matches!(said.last(), Some(Event::Ask { .. })), "{said:?}");
}

/// Nobody can say which part it is, and nothing can be measured: it comes to an end all the same.
#[test]
fn not_knowing_anything_still_ends_in_a_verdict() {
    let mut chase = Chase::new(Machine::new(netlist(CART), Catalogue::builtin()));
    let mut said = chase.take(Input::Saw("nothing works any more".into()));
    assert!(matches!(said.last(), Some(Event::Question { .. })), "{said:?}");
    for step in 0..400 {
        said = match said.last() {
            Some(Event::Question { .. }) => chase.take(Input::Choice("don't know".into())),
            Some(Event::Verdict { .. }) => return,
            Some(event) if event.waits() => chase.take(Input::Skip),
            _ => panic!("step {step}: it waits for nothing and is not done: {said:?}"),
        };
    }
    panic!("no end: {said:?}");
}
