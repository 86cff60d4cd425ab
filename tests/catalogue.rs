//! The rules against tables published elsewhere (`tests/reference/`, sources in the files' heads), and a user's own rules.

use ohmward::catalogue::kind::{ElementType, Param};
use ohmward::catalogue::{Catalogue, Kind};
use ohmward::circuit::fault::Fault;
use ohmward::circuit::lower::lower;
use ohmward::circuit::meter::{self, How, Observed};
use ohmward::circuit::sim::{FuseCurve, Sim};
use ohmward::circuit::test::Test;
use ohmward::text::span::Source;
use serde_json::json;

/// Rows of a reference table, without its comments and its head.
fn rows(text: &str) -> Vec<Vec<String>> {
    text.lines()
        .filter(|line| !line.starts_with('#') && !line.trim().is_empty())
        .skip(1)
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text} is no number"))
}

fn close(met: f64, published: f64, share: f64, what: &str) {
    assert!((met / published - 1.0).abs() <= share, "{what}: {met} against {published} published");
}

/// A figure of an element at default ratings.
fn figure(kind: &Kind, element: &str, param: &str) -> f64 {
    kind.elements[element].params[param]
        .value(|rating| kind.ratings.get(rating).map(|r| r.default))
        .unwrap_or_else(|| panic!("{} has no {element} {param}", kind.name))
}

#[test]
fn solid_wire_is_as_published_for_every_gauge() {
    let mut wire = Catalogue::builtin().wire;
    // A solid wire has no lay.
    wire.lay = 1.0;
    let table = rows(include_str!("reference/awg.csv"));
    assert_eq!(table.len(), 32);
    for row in table {
        let n = number(&row[1]);
        let diameter = 0.127 * 92f64.powf((36.0 - n) / 39.0);
        let area = std::f64::consts::PI / 4.0 * diameter * diameter;
        close(wire.ohms(area, 1000.0), number(&row[2]), 0.0005, &row[0]);
    }
}

#[test]
fn gauges_read_from_text_give_the_published_resistance() {
    let mut wire = Catalogue::builtin().wire;
    wire.lay = 1.0;
    for row in rows(include_str!("reference/awg.csv")) {
        let text = match row[0].as_str() {
            "0000" | "000" | "00" | "0" => format!("{}/0 AWG", row[0].len()),
            gauge => format!("{gauge} AWG"),
        };
        let size = ohmward::text::quantity::parse(&text).unwrap_or_else(|e| panic!("{text}: {e}"));
        close(wire.ohms(size.value, 1000.0), number(&row[2]), 0.0005, &text);
    }
}

#[test]
fn stranded_wire_is_within_its_lay_of_the_published() {
    let wire = Catalogue::builtin().wire;
    let table = rows(include_str!("reference/awg_stranded.csv"));
    assert_eq!(table.len(), 22);
    for row in table {
        let met = wire.ohms(number(&row[3]), 1000.0);
        close(met / wire.lay, number(&row[2]), 0.01, &row[1]);
        // As the rules count it, a little more for the lay, never out of its own spread by three.
        let off = (met / number(&row[2])).ln();
        assert!(off.abs() < 3.0 * wire.spread, "{}: {off}", row[1]);
    }
}

#[test]
fn flexible_wire_stays_below_what_iec_60228_allows() {
    let wire = Catalogue::builtin().wire;
    for row in rows(include_str!("reference/iec_60228.csv")) {
        let met = 1000.0 * wire.ohms(number(&row[0]), 1.0);
        let most = number(&row[2]);
        assert!(met <= most, "{} mm2: {met} above {most}", row[0]);
        assert!(met >= 0.88 * most, "{} mm2: {met} is far below {most}", row[0]);
    }
}

/// A design figure of this project: a run of 2.5 m of 1.5 mm² with two sleeves and a plug is about 40 mohm,
/// 0.16 V at 4 A.
#[test]
fn a_healthy_run_is_about_forty_milliohm() {
    let rules = Catalogue::builtin();
    let joint = |name: &str| rules.joints[name].ohms;
    let run = rules.wire.ohms(1.5, 2.5) + 4.0 * joint("crimp-sleeve") + joint("mated") + 2.0 * joint("crimp");
    assert!((0.036..0.044).contains(&run), "{run}");
    assert!((4.0 * run - 0.16).abs() < 0.016);
}

#[test]
fn joints_are_as_read_in_the_trade() {
    let rules = Catalogue::builtin();
    // MIL-DTL-83454A: a stud terminal drops at most 7.5 mV at 25 A.
    assert!(rules.joints["ring"].ohms <= 7.5e-3 / 25.0 + 1e-12);
    // A breaker and a relay in a power testbed, 76 mV at 17.0 A (ADAPT data, 2010 diagnostic competition).
    close(rules.joints["mated"].ohms, 76e-3 / 17.0, 0.02, "mated contact");
    // A bond is at most 2.5 mohm (MIL-B-5087 class R): seat and ring together stay below it.
    assert!(rules.joints["seat"].ohms + rules.joints["ring"].ohms < 2.5e-3);
}

#[test]
fn fuses_have_the_published_ohms_and_times() {
    let rules = Catalogue::builtin();
    let fuse = &rules.kinds["fuse"];
    let ohms = |amps: f64| fuse.elements["link"].params["ohms"].value(|_| Some(amps)).expect("ohms of a fuse");
    for row in rows(include_str!("reference/fuses.csv")) {
        let (at, value) = (number(&row[1]), number(&row[2]));
        match row[0].as_str() {
            "longest_seconds_at_percent" => close(rules.fuses.time_to_open(at / 100.0), value, 1e-9, &row[1]),
            "cold_mohm_at_amps" => close(1000.0 * ohms(at), value, 0.02, &row[1]),
            other => panic!("unknown row {other}"),
        }
    }
    // A fuse carries its rating for ever, and what lies between two points of the table lies between their times.
    assert_eq!(rules.fuses.time_to_open(1.0), f64::INFINITY);
    assert_eq!(rules.fuses.time_to_open(f64::NAN), f64::INFINITY);
    let at = |ratio| rules.fuses.time_to_open(ratio);
    assert!(at(1.6) < 1800.0 && at(1.6) > 5.0 && at(-2.0) == at(2.0));
    // Above the table heat has no time to leave: I²t stays the same.
    close(at(12.0) * 144.0, at(6.0) * 36.0, 1e-9, "I2t");
}

#[test]
fn parts_have_the_published_figures() {
    let rules = Catalogue::builtin();
    let kind = |name: &str| &rules.kinds[name];
    let diode = kind("diode");
    // Shockley at 27 C with its series ohms.
    let drop = |amps: f64| {
        let thermal = figure(diode, "junction", "emission") * 8.617_333e-5 * 300.15;
        thermal * (amps / figure(diode, "junction", "saturation")).ln_1p() + amps * figure(diode, "junction", "series")
    };
    let by_setting = |name: &str, element: &str, setting: &str| match &kind(name).elements[element].params["ohms"] {
        Param::BySetting(by) => by[setting],
        other => panic!("{other:?}"),
    };
    let horn = kind("horn");
    let horn_amps = figure(horn, "coil", "amps");
    let horn_ohms = |amps: f64| figure(horn, "coil", "duty") * figure(horn, "coil", "volts") / amps;
    for row in rows(include_str!("reference/parts.csv")) {
        let met = match row[0].as_str() {
            "battery_full_volts" => figure(kind("lead-acid battery"), "cells", "volts"),
            "battery_empty_volts" => {
                let flat = kind("lead-acid battery").modes["flat"].argument.clone().expect("volts");
                assert!(flat.from < number(&row[1]) && number(&row[1]) < flat.to, "an empty battery is a flat one");
                continue;
            }
            "diode_volts_at_1_amp" => drop(1.0),
            "diode_volts_at_3_amp" => drop(3.0),
            "horn_amps_at_12_volts" => horn_amps,
            // The measured horns took 4.5 to 5.5 A.
            "horn_ohms" => horn_ohms(5.0),
            "relay_coil_ohms" => figure(kind("relay"), "winding", "ohms"),
            "relay_pull_in_most_volts" => figure(kind("relay"), "winding", "pull-in"),
            "relay_drop_out_least_volts" => figure(kind("relay"), "winding", "drop-out"),
            "sender_ohms_at_82_C" => by_setting("coolant sender", "pill", "warm"),
            "flashes_a_minute" => 60.0 * figure(kind("flasher"), "contact", "hertz"),
            "fuel_sender_full_ohms" => by_setting("fuel sender", "track", "full"),
            "marine_sender_empty_ohms" => by_setting("falling fuel sender", "track", "empty"),
            "marine_sender_full_ohms" => by_setting("falling fuel sender", "track", "full"),
            "pickup_ohms" => figure(kind("pickup coil"), "pulses", "ohms"),
            "magneto_charge_coil_ohms" => figure(kind("magneto"), "primary", "ohms"),
            "coil_secondary_ohms" => figure(kind("ignition coil"), "secondary", "ohms"),
            // Both windings at so many volts pull as hard as the hold-in winding at its pull-in.
            "starter_solenoid_operates_volts" => {
                let starter = kind("starter with solenoid");
                let ratio = figure(starter, "hold", "ohms") / figure(starter, "pull", "ohms");
                figure(starter, "hold", "pull-in") / (1.0 + ratio)
            }
            "charge_volts" => figure(kind("alternator"), "emf", "volts"),
            other => panic!("unknown row {other}"),
        };
        let (low, high) = (number(&row[1]), number(&row[2]));
        assert!(met >= low - 1e-9 && met <= high + 1e-9, "{}: {met} is not in {low} to {high}", row[0]);
    }
    // Normally closed (ventrac 4520p manual): no pressure, contact closed.
    assert_eq!(kind("oil pressure switch").elements["contact"].closed, ["none"]);
}

/// An invented kind, as data only.
const HEATER: &str = "\
kind: mirror heater
also: [heated mirror]
about: an invented part
pins:
  feed: [\"+\"]
  ground: [\"-\"]
ratings:
  watts: {default: 15 W, spread: 0.1, source: invented}
elements:
  sheet: {type: resistor, from: feed, to: ground, ohms: 144 / watts, spread: 0.1}
modes:
  open:
    does: {sheet: open}
    weight: 1
    repair: replace
    text: \"{part} is open\"
    source: invented
repairs:
  replace: {text: \"replace {part}\", minutes: 10, harm: none, proof: it warms}
source: invented
";

/// A machine with the part in it.
const MIRROR: &str = "\
machine: mirror
parts:
  battery: lead-acid battery
  mirror: heated mirror, 30 W
wires:
  - battery.pos to mirror.feed, 2.5 mm2, 1 m
  - mirror.ground to battery.neg, 2.5 mm2, 1 m
";

#[test]
fn a_kind_that_is_data_only_works_in_the_circuit() {
    let rules = Catalogue::with(&[Source::new("kinds/mirror-heater.yaml", HEATER)]).expect("a good kind");
    let netlist = ohmward::wiring::read(&Source::new("wiring.yaml", MIRROR), &rules).expect("a good file").netlist;
    let volts = |fault: &str| {
        let test = json!({"instrument": "volts-dc", "red": "mirror.feed", "black": "mirror.ground"});
        let test = Test::from_json(&test).expect("a test");
        let mut sim = Sim::new(lower(&netlist, &rules), FuseCurve::from(&rules.fuses));
        let fault = if fault.is_empty() { Fault::healthy() } else { Fault::parse(fault).expect("a fault") };
        let met = meter::observe(&mut sim, &netlist, &rules, &test, &fault, How::Afresh).expect("an answer");
        match met[0].what {
            Observed::Number { value, .. } => value,
            ref other => panic!("{other:?}"),
        }
    };
    // By hand: 12.648 V behind 0.25/14 ohm, 4.8 ohm, two runs of 1 m of 2.5 mm², two clamps, two crimps.
    let wires = 2.0 * 0.017_241_4 * 1.05 / 2.5 + 2.0 * 0.2e-3 + 2.0 * 0.5e-3;
    let by_hand = 12.648 * 4.8 / (4.8 + 0.25 / 14.0 + wires);
    assert!((volts("") - by_hand).abs() < 1e-3, "{} against {by_hand}", volts(""));
    // Its own mode: nothing flows, nothing is lost on the way.
    assert!((volts("mirror:open") - 12.648).abs() < 1e-3);
}

#[test]
fn the_kind_in_the_readme_loads() {
    let readme = include_str!("../rules/README.md");
    let yaml = readme.split("```yaml\n").nth(1).and_then(|rest| rest.split("```").next()).expect("an example");
    let rules = Catalogue::with(&[Source::new("kinds/readme.yaml", yaml)]).unwrap_or_else(|t| panic!("{t:?}"));
    assert!(rules.kinds["mirror heater"].modes.contains_key("resistive"));
}

#[test]
fn a_user_adds_a_kind_without_rust() {
    let own = Source::new("kinds/mirror-heater.yaml", HEATER);
    let rules = Catalogue::with(&[own]).unwrap_or_else(|t| panic!("{t:?}"));
    let kind = rules.kind("Heated Mirror").expect("found by its nickname");
    assert_eq!(kind.elements["sheet"].what, ElementType::Resistor);
    assert!((figure(kind, "sheet", "ohms") - 9.6).abs() < 1e-12);
    assert_eq!(rules.kinds.len(), Catalogue::builtin().kinds.len() + 1);
    let json = ohmward::catalogue::json::kinds(&rules);
    let last = json.as_array().and_then(|list| list.last()).expect("a kind");
    assert_eq!(last["kind"], "mirror heater");
    assert_eq!(last["elements"][0]["value"], 9.6);
}

#[test]
fn a_user_replaces_a_kind_and_single_entries_of_tables() {
    let quieter = HEATER.replace("kind: mirror heater\nalso: [heated mirror]", "kind: horn\nalso: []");
    let files = [
        Source::new("kinds/horn.yaml", quieter),
        Source::new("weights.yaml", "specials: {not-in-file: 0.1}\nsource: our own count\n"),
        Source::new("minutes.yaml", "minutes: {unplug: 5}\nsource: our own watch\n"),
    ];
    let (own, shipped) = (Catalogue::with(&files).unwrap_or_else(|t| panic!("{t:?}")), Catalogue::builtin());
    assert_eq!(own.kinds.len(), shipped.kinds.len());
    assert!(own.kinds["horn"].elements.contains_key("sheet"));
    assert_eq!(own.weights.specials["not-in-file"], 0.1);
    assert_eq!(own.weights.specials["nothing-broken"], shipped.weights.specials["nothing-broken"]);
    assert_eq!(own.minutes.by["unplug"], 5.0);
    assert_eq!(own.minutes.by["read"], shipped.minutes.by["read"]);
}

#[test]
fn a_danger_is_never_taken_away() {
    let files = [Source::new("dangers.yaml", "hot-exhaust:\n  why: it burns\n  source: our own\n")];
    let (own, shipped) = (Catalogue::with(&files).unwrap_or_else(|t| panic!("{t:?}")), Catalogue::builtin());
    assert_eq!(own.dangers.len(), shipped.dangers.len() + 1);
    assert!(shipped.dangers.iter().all(|danger| own.dangers.contains(danger)));
}

/// What stands in the file, and what must be said of it; all at once.
#[test]
fn a_bad_kind_is_refused_with_every_problem() {
    let text = HEATER
        .replace("about: an invented part", "abuot: an invented part")
        .replace("ohms: 144 / watts", "volts: 12 V")
        .replace("weight: 1\n", "weight: -1\n")
        .replace("harm: none", "harm: nonne")
        .replace("15 W", "15 stone");
    let troubles = Catalogue::with(&[Source::new("kinds/mirror-heater.yaml", text)]).expect_err("it is broken");
    let shown: String = troubles.iter().map(|(source, problem)| problem.render(source)).collect();
    for said in [
        "line 3: unknown field of a kind \"abuot\"",
        "nearest: about",
        "a kind has no about",
        "unknown field of element sheet \"volts\"",
        "element sheet has no ohms",
        "a weight must be above zero",
        "unknown harm \"nonne\"",
        "nearest: none",
        "\"stone\" is no unit known here",
    ] {
        assert!(shown.contains(said), "{said:?} is not in:\n{shown}");
    }
    assert!(troubles.iter().all(|(_, problem)| problem.span.is_some()), "{shown}");
}

#[test]
fn names_that_lead_nowhere_are_named() {
    let cases = [
        ("to: ground,", "to: grond,", "nearest: ground"),
        ("repair: replace", "repair: replaec", "nearest: replace"),
        ("does: {sheet: open}", "does: {shet: open}", "nearest: sheet"),
        ("does: {sheet: open}", "does: {sheet: opne}", "nearest: open"),
        ("does: {sheet: open}", "does: {sheet: series}", "needs an argument"),
        ("does: {sheet: open}", "does: {sheet: close}", "is no contact"),
        ("does: {sheet: open}", "does: {sheet: fix volts 3}", "unknown parameter"),
        ("144 / watts", "144 / wats", "nearest: watts"),
        ("144 / watts", "-4 ohm", "below zero"),
        ("144 / watts", "0 ohm", "must be above zero"),
        ("144 / watts", "1,5 ohm", "unknown field of element sheet \"5 ohm\""),
        ("type: resistor", "type: resitor", "nearest: resistor"),
        ("[heated mirror]", "[hooter]", "are called hooter"),
        ("{part} is open", "{part} is open\"\n    weight: 2\n    text: \"", "twice"),
        ("feed: [\"+\"]", "feed: [\"-\"]", "two pins are called -"),
        ("spread: 0.1}\nmodes", "spread: 50}\nmodes", "spread"),
    ];
    for (from, to, said) in cases {
        assert!(HEATER.contains(from), "{from}");
        let source = Source::new("kinds/mirror-heater.yaml", HEATER.replacen(from, to, 1));
        match Catalogue::with(&[source]) {
            Ok(_) => panic!("{to} was taken"),
            Err(troubles) => {
                let shown: String = troubles.iter().map(|(source, problem)| problem.render(source)).collect();
                assert!(shown.contains(said), "{to}: {said:?} is not in:\n{shown}");
            }
        }
    }
}

#[test]
fn a_file_that_the_rules_do_not_know_is_named() {
    let troubles = Catalogue::with(&[Source::new("joint.yaml", "a: b\n")]).expect_err("unknown file");
    assert_eq!(troubles.len(), 1);
    assert_eq!(troubles[0].1.help.as_deref(), Some("nearest: joints.yaml"));
}
