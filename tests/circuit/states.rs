//! Settings in the order written; memory through `after`, `set` and `then`; what comes along with the engine.

use super::{PLUGGED, value, words};
use crate::deck::Stand;
use ohmward::circuit::meter::{How, Observed};
use ohmward::circuit::state::states_of;

/// The settings of each step, by name, where they differ from rest.
fn steps(stand: &Stand, test: &str) -> Vec<Vec<String>> {
    let test = stand.test(test);
    let states = states_of(stand.sim.schematic(), &stand.netlist, &test).expect("states");
    let controls = &stand.sim.schematic().controls;
    let show = |step: &Vec<usize>| {
        let off = step.iter().enumerate().filter(|(_, setting)| **setting != 0);
        off.filter_map(|(id, setting)| {
            controls.get_index(id).map(|(name, info)| format!("{name}={}", info.settings[*setting]))
        })
        .collect::<Vec<String>>()
        .join(" ")
    };
    states.iter().map(|state| state.steps.iter().map(show).collect()).collect()
}

#[test]
fn each_change_is_a_step_and_then_is_on_top_of_set() {
    let stand = Stand::new("wiring.yaml", PLUGGED);
    let all = steps(
        &stand,
        r#"{"instrument":"watch","part":"horn","after":[{"key":"start"}],"set":{"key":"on","turn":"left"},"then":[{"horn-push":"pressed"},{"turn":"right"}]}"#,
    );
    assert_eq!(all[0], ["", "key=start", "key=on", "key=on turn=left"]);
    assert_eq!(all[1].last().map(String::as_str), Some("key=on horn-push=pressed turn=left"));
    assert_eq!(all[2].last().map(String::as_str), Some("key=on turn=right"));
    assert!(all[2].len() > all[1].len(), "memory goes through all of them");
}

#[test]
fn pairs_may_repeat_a_control() {
    let stand = Stand::new("wiring.yaml", PLUGGED);
    let all =
        steps(&stand, r#"{"instrument":"watch","part":"horn","set":[["key","on"],["key","start"],["key","on"]]}"#);
    assert_eq!(all[0], ["", "key=on", "key=start", "key=on"]);
}

#[test]
fn an_idling_engine_brings_oil_pressure_unless_it_is_named() {
    let stand = Stand::new("wiring.yaml", PLUGGED);
    let last = |test: &str| steps(&stand, test)[0].last().cloned().unwrap_or_default();
    assert_eq!(
        last(r#"{"instrument":"watch","part":"horn","set":{"engine":"idling"}}"#),
        "oil-pressure=ok engine=idling"
    );
    assert_eq!(
        last(r#"{"instrument":"watch","part":"horn","set":{"oil-pressure":"none","engine":"idling"}}"#),
        "engine=idling"
    );
    let mut stand = Stand::new("wiring.yaml", PLUGGED);
    let lamp = |engine: &str| {
        format!(r#"{{"instrument":"watch","part":"oil-lamp","set":{{"key":"on","engine":"{engine}"}}}}"#)
    };
    assert_eq!(words(&mut stand, &lamp("stopped"), ""), ["lit"]);
    assert_eq!(words(&mut stand, &lamp("idling"), ""), ["dark"]);
}

#[test]
fn a_relay_that_holds_itself_remembers_how_it_came_there() {
    let mut stand = Stand::new("wiring.yaml", PLUGGED);
    let watch = |after: &str, then: &str| {
        format!(r#"{{"instrument":"watch","part":"latch","after":[{after}],"set":{{"key":"on"}},"then":[{then}]}}"#)
    };
    assert_eq!(words(&mut stand, &watch("", ""), ""), ["off"]);
    assert_eq!(words(&mut stand, &watch(r#"{"key":"on"},{"latch-on":"pressed"}"#, ""), ""), ["on"]);
    // Through `then` too: pressed, and still in when it is let go again.
    let through = words(&mut stand, &watch("", r#"{"latch-on":"pressed"},{"latch-on":"released"}"#), "");
    assert_eq!(through, ["off", "on", "on"]);
}

#[test]
fn opening_and_bridging() {
    let mut stand = Stand::new("wiring.yaml", PLUGGED);
    let volts = |more: &str, red: &str| {
        format!(r#"{{"instrument":"volts-dc","red":"{red}","black":"frame","set":{{"key":"on"}}{more}}}"#)
    };
    assert!(value(&mut stand, &volts("", "horn.feed"), "") > 12.0);
    for open in ["P9", "main-fuse", "W4.a", "P9b.1", "battery"] {
        let read = value(&mut stand, &volts(&format!(r#","open":["{open}"]"#), "horn.feed"), "");
        assert!(read.abs() < 1e-6, "{open}: {read}");
    }
    let bridged = value(
        &mut stand,
        &volts(r#","open":["main-fuse"],"bridge":[["main-fuse.in","main-fuse.out","lamp 21 W"]]"#, "main-fuse.out"),
        "",
    );
    assert!(bridged > 10.0, "{bridged}");
}

#[test]
fn every_problem_of_the_names_comes_at_once() {
    let stand = Stand::new("wiring.yaml", PLUGGED);
    let test = stand.test(r#"{"instrument":"volts-dc","red":"horn.feed","black":"frame","set":{"kee":"on","turn":"up"},"open":["P7"],"bridge":[["nowhere","horn.feed"]],"fit":{"hron":"good"}}"#);
    let problems = states_of(stand.sim.schematic(), &stand.netlist, &test).expect_err("bad");
    assert_eq!(problems.len(), 5, "{problems:?}");
    assert!(problems.iter().any(|p| p.help.as_deref() == Some("nearest: key")), "{problems:?}");
}

/// Two fuses in one line, a relay with a lamp behind it.
const EDGE: &str = "\
machine: Edge
chassis: {frame: block by strap 6 AWG}
parts:
  battery: lead-acid battery, 12 V, 60 Ah
  first: fuse, 10 A
  second: fuse, 10 A
  lamp: lamp, 5 W
  relay: relay
  behind: lamp, 21 W
wires:
  - battery.neg to frame, black, 4 mm2, 0.5 m
  - battery.pos to first.in, red, 4 mm2, 0.5 m
  - battery.pos to relay.30, red, 4 mm2, 0.5 m
  - W1: battery.pos to relay.86, red, 4 mm2, 0.5 m
  - first.out to second.in, red, 1.5 mm2, 1 m
  - W2: second.out to lamp.feed, red, 1.5 mm2, 1 m
  - relay.87 to behind.feed, red, 1.5 mm2, 1 m
grounds:
  G1: on frame, [lamp.ground, relay.85, behind.ground]
";

fn chance(stand: &mut Stand, part: &str, fault: &str, word: &str) -> f64 {
    let test = format!(r#"{{"instrument":"watch","part":"{part}"}}"#);
    match super::ask(stand, &test, fault, How::Afresh).swap_remove(0).what {
        Observed::Showing(words) => words.iter().find(|(w, _)| w == word).map_or(0.0, |(_, p)| *p),
        other => panic!("{other:?}"),
    }
}

#[test]
fn of_two_fuses_in_one_line_either_may_open() {
    let mut stand = Stand::new("edge", EDGE);
    let short = "W2~frame:touching(0.1)";
    // Two alike: which one opens is a coin's toss; that one opens is as good as certain.
    let (a, b) = (chance(&mut stand, "first", short, "blown"), chance(&mut stand, "second", short, "blown"));
    assert!((a - 0.5).abs() < 0.02 && (a + b - 1.0).abs() < 0.02, "{a} {b}");
    assert!((chance(&mut stand, "lamp", short, "dark") - 1.0).abs() < 0.02);
    // One of twice the amps lasts four times as long and more: it is whole.
    let mut bigger = Stand::new("edge", &EDGE.replace("second: fuse, 10 A", "second: fuse, 20 A"));
    assert!(
        chance(&mut bigger, "first", short, "blown") > 0.99 && chance(&mut bigger, "second", short, "whole") > 0.99
    );
    // Nothing short: nothing opens, and nothing is said of chances.
    assert!(chance(&mut stand, "first", "", "whole") > 0.999);
}

#[test]
fn a_coil_near_its_pull_in_is_a_mixture_of_both_ways() {
    let mut stand = Stand::new("edge", EDGE);
    // 90 ohm that pull in at 6.9 V, 12.65 V in all: 75 ohm in series leave exactly that (a divider).
    let at = |ohms: f64| format!("W1:resistive({ohms})");
    let half = chance(&mut stand, "behind", &at(75.0), "lit");
    assert!((half - 0.5).abs() < 0.05, "{half}");
    assert!((chance(&mut stand, "relay", &at(75.0), "on") - half).abs() < 0.05);
    assert!(chance(&mut stand, "behind", &at(20.0), "lit") > 0.99);
    assert!(chance(&mut stand, "behind", &at(300.0), "dark") > 0.99);
    // A tenth more volts than it needs, a tenth of scatter: one standard deviation, 84 % (the normal distribution).
    let one = chance(&mut stand, "behind", &at(90.0 * (12.65 / (6.9 * 0.1f64.exp()) - 1.0)), "lit");
    assert!((one - 0.841).abs() < 0.03, "{one}");
}
