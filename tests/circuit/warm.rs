//! Warm places, fuses that are no blade fuses, and what a row may say of an LED lamp.

use super::{value, words};
use crate::deck::Stand;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::sim::FuseCurve;
use ohmward::text::span::Source;
use ohmward::wiring;

#[test]
fn copper_warms_as_published() {
    let wire = Catalogue::builtin().wire;
    let mut rows = 0;
    for row in include_str!("../reference/copper_temp_factor.csv").lines().filter(|l| !l.starts_with('#')).skip(1) {
        let (celsius, factor) = row.split_once(',').expect("two columns");
        let (celsius, published): (f64, f64) = (celsius.parse().expect("C"), factor.parse().expect("a factor"));
        // The published factors round 254.5/(234.5 + t) to 250/(230 + t), which is up to 0.42 % off above 75 C.
        assert!((1.0 / wire.warmed(celsius) / published - 1.0).abs() < 0.0045, "{celsius} C: {}", wire.warmed(celsius));
        rows += 1;
    }
    assert!(rows >= 15, "{rows}");
    assert_eq!(wire.warmed(20.0), 1.0);
}

/// A lamp on a metre of thin wire in the engine bay, behind a link, a breaker or a fuse.
fn stand(bay: &str, guard: &str, load: &str) -> Stand {
    Stand::new(
        "warm",
        &format!(
            "\
machine: Warm stand
chassis: {{frame: alone}}
places: {{bay: {bay}, dash: easy}}
parts:
  battery: lead-acid battery, 12 V, 100 Ah, dash
  guard: {guard}, dash
  load: {load}, bay
wires:
  - battery.pos to guard.in, red, 10 mm2, 0.3 m
  - battery.neg to frame, black, 16 mm2, 0.3 m
  - W1: guard.out to load.feed, red, 0.5 mm2, 4 m
  - W2: load.ground to G1, black, 0.5 mm2, 1 m
grounds:
  G1: bay, on frame
"
        ),
    )
}

fn ohms(stand: &Stand, wire: &str) -> f64 {
    stand.netlist.graph[stand.netlist.link(wire).expect("a wire")].ohms
}

#[test]
fn wires_of_a_warm_place_have_more_ohms() {
    let cold = stand("easy", "fuse, 10 A", "lamp, 21 W");
    let warm = stand("{reach: 3 min, warm: 80 C}", "fuse, 10 A", "lamp, 21 W");
    // All of W2 lies in the bay, of W1 one end: 60 degrees at 0.00393 are 23.6 %.
    assert!((ohms(&warm, "W2") / ohms(&cold, "W2") - 1.2358).abs() < 1e-9);
    assert!((ohms(&warm, "W1") / ohms(&cold, "W1") - 1.1179).abs() < 1e-9);
    let drop = |mut stand: Stand| value(&mut stand, r#"{"instrument":"volts-dc","red":"W1.a","black":"W1.b"}"#, "");
    let (cold, warm) = (drop(cold), drop(warm));
    assert!(warm > cold * 1.08 && warm < cold * 1.12, "{cold} {warm}");
}

#[test]
fn a_place_is_never_as_warm_as_that() {
    let text = "machine: M\nplaces: {bay: {reach: easy, warm: 900 C}, nose: {warm: 3 min}}\nparts:\n  battery: lead-acid battery, 12 V, 10 Ah, bay\n";
    let rules = Catalogue::builtin();
    let problems = wiring::read(&Source::new("wiring.yaml", text), &rules).expect_err("two problems");
    assert!(problems.iter().any(|p| p.text.contains("900 C")), "{problems:?}");
    assert!(problems.iter().any(|p| p.text.contains("3 min")), "{problems:?}");
}

#[test]
fn links_and_breakers_last_longer_than_blade_fuses() {
    let curve = FuseCurve::from(&Catalogue::builtin().fuses);
    for ratio in [1.5, 2.0, 3.5, 6.0, 12.0] {
        let blade = curve.seconds(ratio);
        assert!((1..=2).all(|other| curve.numbered(other).seconds(ratio) > blade), "{ratio}");
    }
    assert_eq!(curve.numbered(0), &curve);
    assert_eq!(curve.numbered(9), &curve);
    // 42 A through 20 A for the ten seconds that a state lasts: a blade fuse opens, the others hold; at 100 A all open.
    let load = |amps: &str, guard: &str| {
        let mut stand = stand("easy", guard, "motor, 5 A");
        let test = format!(
            r#"{{"instrument":"watch","part":"guard","bridge":[["guard.out","battery.neg","resistor {amps}"]]}}"#
        );
        words(&mut stand, &test, "").swap_remove(0)
    };
    assert_eq!(load("0.32 ohm", "fuse, 20 A"), "blown");
    assert_eq!(load("0.32 ohm", "fusible link, 20 A"), "whole");
    assert_eq!(load("0.32 ohm", "circuit breaker, 20 A"), "whole");
    assert_eq!(load("0.08 ohm", "fusible link, 20 A"), "blown");
    assert_eq!(load("0.08 ohm", "circuit breaker, 20 A"), "tripped");
}

#[test]
fn a_curve_that_nobody_wrote_is_named() {
    let kind = Source::new(
        "kinds/slow.yaml",
        "kind: slow fuse\nabout: a fuse\npins: {in: [a], out: [b]}\nratings:\n  amps: {default: 5 A, spread: 0, source: invented}\nelements:\n  link: {type: contact, from: in, to: out, ohms: 0.1 / amps, blows: amps, lasts: lnik, spread: 0.3}\nmodes: {}\nrepairs: {}\nsource: invented\n",
    );
    let troubles = Catalogue::with(&[kind]).expect_err("an unknown curve");
    let said = |(_, problem): &(Source, ohmward::text::problem::Problem)| {
        problem.text.contains("lnik") && problem.help.as_deref().is_some_and(|help| help.contains("link"))
    };
    assert!(troubles.iter().any(said), "{troubles:?}");
}

#[test]
fn a_row_may_say_that_an_led_lamp_is_for_12_volts() {
    let mut stand = stand("easy", "fuse, 10 A", "LED lamp, 12 V, 3 W");
    assert_eq!(words(&mut stand, r#"{"instrument":"watch","part":"load"}"#, ""), ["lit"]);
}
