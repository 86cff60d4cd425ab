//! The needle that moves with the horn, and the volts behind it.
//!
//! The figures are arithmetic that anybody can redo: Ohm's law, the resistivity of copper (IEC 60028,
//! 0.017241 ohm mm²/m at 20 °C), counts a second into turns a minute.

use crate::deck::Stand;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::{Injury, injure};
use ohmward::circuit::meter::{How, Observed, observe};
use ohmward::circuit::showing::View;
use ohmward::circuit::state::states_of;

const CART: &str = "\
machine: Horn and gauge
chassis: {frame: bare}
places: {dash: easy, nose: easy}
parts:
  battery: lead-acid battery, 12 V, 14 Ah, nose
  main-fuse: fuse, 30 A, nose
  horn: {kind: horn, place: nose, amps: 4 A}
  horn-push: push switch, dash
  rev-gauge: {kind: pulse gauge, place: dash, full: 60000, pulses: PULSES}
  ignition: ignition module, nose
plugs:
  P1:
    a: dash, 1.1 m, 1.5 mm2, crimp sleeve
    b: nose, 1.4 m, 1.5 mm2, crimp sleeve
    ways:
      - 1, black, black, horn-push.a, horn.ground, beep
wires:
  - battery.neg to frame, black, 10 AWG, 0.3 m
  - battery.pos to main-fuse.in, red, 10 AWG, 0.3 m
  - main-fuse.out to horn.feed, red, 2.5 mm2, 0.5 m
  - main-fuse.out to rev-gauge.feed, red, 2.5 mm2, 0.5 m
  - ignition.signal to rev-gauge.signal, white, 1 mm2, 1 m
  - ignition.ground to frame, black, 1.5 mm2, 0.3 m
grounds:
  G1: dash, on frame, [rev-gauge.ground, horn-push.b]
";

fn stand(pulses: usize) -> Stand {
    Stand::new("wiring.yaml", &CART.replace("PULSES", &pulses.to_string()))
}

fn value(stand: &mut Stand, test: &str, fault: &str) -> f64 {
    let test = stand.test(test);
    let fault = if fault.is_empty() { Fault::healthy() } else { Fault::parse(fault).expect("a name") };
    let answers = observe(&mut stand.sim, &stand.netlist, &stand.catalogue, &test, &fault, How::Afresh);
    match answers.expect("an answer")[0].what {
        Observed::Number { value, .. } => value,
        ref other => panic!("{other:?}"),
    }
}

#[test]
fn three_tenths_of_an_ohm_under_four_amps_lift_the_ground_by_one_volt_two() {
    let mut stand = stand(1);
    let set = r#""set":{"horn-push":"pressed"},"fit":{"horn":"load(4)"}"#;
    let probe = format!(r#"{{"instrument":"volts-dc","red":"G1","black":"frame",{set}}}"#);
    // The load's amps, from the volts over it: 12 V at 4 A are 3 ohm.
    let load = format!(r#"{{"instrument":"volts-dc","red":"horn.feed","black":"horn.ground",{set}}}"#);
    let amps = value(&mut stand, &load, "G1:resistive(0.3)") / 3.0;
    let lifted = value(&mut stand, &probe, "G1:resistive(0.3)");
    let per_four = lifted / amps * 4.0;
    assert!((3.4..4.4).contains(&amps), "{amps} A");
    // The gauge itself takes 0.08 A through the same 0.3 ohm.
    assert!((per_four - 1.2).abs() < 0.03, "{per_four} V at 4 A");
}

#[test]
fn a_healthy_ground_path_is_forty_milliohms_and_a_sixth_of_a_volt_at_four_amps() {
    let mut stand = stand(1);
    // 2.5 m of 1.5 mm² are 2.5 x 0.017241 / 1.5 = 29 mohm; two sleeves, a contact and the crimps are the rest.
    let set = r#""set":{"horn-push":"pressed"},"fit":{"horn":"load(4)"}"#;
    let load = format!(r#"{{"instrument":"volts-dc","red":"horn.feed","black":"horn.ground",{set}}}"#);
    let path = format!(r#"{{"instrument":"volts-dc","red":"horn.ground","black":"horn-push.a",{set}}}"#);
    let amps = value(&mut stand, &load, "") / 3.0;
    let volts = value(&mut stand, &path, "");
    // The donor's stubs of 0.3 m at each end are on top of the 2.5 m that were added.
    let stubs: f64 = ["P1a-1-old", "P1b-1-old"]
        .iter()
        .map(|w| stand.netlist.graph[stand.netlist.link(w).expect("a wire")].ohms)
        .sum();
    let ohms = volts / amps - stubs;
    assert!((0.036..0.044).contains(&ohms), "{ohms} ohm");
    assert!((4.0 * ohms - 0.16).abs() < 0.016, "{} V", 4.0 * ohms);
}

/// Turns a minute that the gauge shows, engine idling, horn pressed.
fn shown(stand: &mut Stand, horn: &str, fault: &str) -> f64 {
    let test = stand.test(&format!(
        r#"{{"instrument":"watch","part":"rev-gauge","set":{{"engine":"idling","horn-push":"{horn}"}}}}"#
    ));
    let spec = states_of(stand.sim.schematic(), &stand.netlist, &test).expect("states").swap_remove(0);
    let injury = if fault.is_empty() {
        Injury::default()
    } else {
        let fault = Fault::parse(fault).expect("a name");
        injure(stand.sim.schematic(), &stand.netlist, &stand.catalogue, &fault).expect("an injury")
    };
    let state = stand.sim.state(&spec);
    let outcome = stand.sim.run(state, &injury);
    let view = View {
        sim: &stand.sim,
        netlist: &stand.netlist,
        catalogue: &stand.catalogue,
        spec: &spec,
        injury: &injury,
        outcome: &outcome,
    };
    let deflection = view.deflection("rev-gauge").expect("a gauge").expect("a needle");
    // Undo the supply's influence: the needle is true at 13.5 V.
    let pin = |name: &str| stand.netlist.point(name).expect("a pin").index();
    let supply: f64 = (0..outcome.levels.len())
        .map(|level| {
            outcome.levels[level].share
                * stand.sim.volts(&outcome, level, pin("rev-gauge.feed"), pin("rev-gauge.ground"))
        })
        .sum();
    deflection * 60000.0 / (supply / 13.5)
}

#[test]
fn a_horn_of_400_hz_adds_24000_12000_or_8000_turns() {
    for (pulses, turns) in [(1, 24_000.0), (2, 12_000.0), (3, 8_000.0)] {
        let mut stand = stand(pulses);
        // 0.8 ohm leaves the horn its work (it gives up below half its volts). Idling at 1500 turns gives 25 pulses a second from a single; a gauge set to more shows fewer turns.
        let idle = shown(&mut stand, "released", "G1:resistive(0.8)");
        let horn = shown(&mut stand, "pressed", "G1:resistive(0.8)");
        assert!((idle - 1500.0 / pulses as f64).abs() < 30.0, "{idle}");
        assert!((horn - idle - turns).abs() < 0.02 * turns, "{pulses} pulses: {horn} over {idle}");
    }
}

#[test]
fn a_shared_ground_of_tenths_of_an_ohm_does_it_and_a_healthy_one_does_not() {
    let mut stand = stand(1);
    let healthy = shown(&mut stand, "pressed", "");
    assert!((healthy - shown(&mut stand, "released", "")).abs() < 60.0, "{healthy}");
    assert!(shown(&mut stand, "pressed", "G1:resistive(0.1)") < 3000.0);
    assert!(shown(&mut stand, "pressed", "G1:resistive(1.2)") > 20_000.0);
}

#[test]
fn what_is_seen_is_computed_from_both_states() {
    let mut stand = stand(1);
    let watch = r#"{"instrument":"watch","part":"rev-gauge","change":{"horn-push":["released","pressed"]},"set":{"engine":"idling"}}"#;
    let test = stand.test(watch);
    let mut chance = |fault: &str, word: &str| {
        let fault = if fault.is_empty() { Fault::healthy() } else { Fault::parse(fault).expect("a name") };
        let answers =
            observe(&mut stand.sim, &stand.netlist, &stand.catalogue, &test, &fault, How::Ports).expect("answers");
        match &answers[0].what {
            Observed::Showing(words) => words.iter().find(|(w, _)| w == word).map_or(0.0, |(_, p)| *p),
            other => panic!("{other:?}"),
        }
    };
    assert!(chance("", "steady") > 0.9);
    assert!(chance("G1:resistive(0.8)", "moves-up") > 0.9);
}

/// An engine computer's pin only pulls to ground; 10 kohm to 12 V made the kit car's tach work that did nothing before
/// (gtm.perkinsons.com, Tach pull-up resistor). With 20 kohm in the gauge the line then rises to two thirds of its feed.
#[test]
fn a_pin_that_only_pulls_down_counts_once_something_pulls_it_up() {
    let computer = CART.replace("ignition module", "engine computer").replace("PULSES", "2").replace("60000", "3000");
    let pulled_up = computer
        .replace("parts:\n", "parts:\n  pull-up: resistor, 10 kohm, dash\n")
        .replace("wires:\n", "wires:\n  - main-fuse.out to pull-up.a, red, 0.5 mm2, 0.5 m\n  - pull-up.b to rev-gauge.signal, white, 0.5 mm2, 0.1 m\n");
    for (text, word, rises) in [(computer, "zero", 0.0), (pulled_up, "normal", 2.0 / 3.0)] {
        let mut stand = Stand::new("wiring.yaml", &text);
        let look = stand.test(r#"{"instrument":"watch","part":"rev-gauge","set":{"engine":"idling"}}"#);
        let seen = observe(&mut stand.sim, &stand.netlist, &stand.catalogue, &look, &Fault::healthy(), How::Afresh);
        let Observed::Showing(words) = &seen.expect("an answer")[0].what else { panic!("no words") };
        let shown = words.iter().max_by(|a, b| a.1.total_cmp(&b.1)).expect("a word");
        assert!(shown.0 == word && shown.1 > 0.9, "{words:?} for {word}");
        let set = r#""set":{"engine":"idling"}"#;
        let line = format!(r#"{{"instrument":"volts-dc","red":"rev-gauge.signal","black":"rev-gauge.ground",{set}}}"#);
        let feed = format!(r#"{{"instrument":"volts-dc","red":"rev-gauge.feed","black":"rev-gauge.ground",{set}}}"#);
        let (line, feed) = (value(&mut stand, &line, ""), value(&mut stand, &feed, ""));
        // Half of the time it is pulled down to some tenths of a volt.
        let wanted = (rises * feed + if rises > 0.0 { 0.35 } else { 0.3 }) / 2.0;
        assert!((line - wanted).abs() < 0.2, "{line} V for {wanted} V");
    }
}
