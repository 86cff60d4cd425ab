//! Exported decks solved by a general circuit simulator (ngspice) agree with the program's own solution within
//! 1 mV at every point that has a path to battery minus.

mod kinds;
mod meter;

use ohmward::catalogue::Catalogue;
use ohmward::circuit::deck::{DeckLevel, deck};
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::injure_in;
use ohmward::circuit::lower::lower;
use ohmward::circuit::sim::{FuseCurve, Sim};
use ohmward::circuit::state::state_of;
use ohmward::circuit::test::Test;
use ohmward::netlist::Netlist;
use ohmward::text::span::Source;
use ohmward::wiring;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::process::Command;

/// A small invented machine with one of everything that a deck has to say: relay, diode, lamps, motor, horn, gauge.
pub const SMALL: &str = "\
machine: Test stand
chassis: {frame: block by strap 10 AWG}
places: {dash: easy, nose: 3 min}
parts:
  battery: lead-acid battery, 12 V, 14 Ah, nose
  main-fuse: fuse, 20 A, nose
  key: key switch, dash
  horn: horn, 3.5 A, nose
  horn-push: push switch, dash
  rev-gauge: pulse gauge, dash
  ignition: ignition module, nose
  lamp: filament lamp, 21 W, nose
  tell: tell-tale, 2 W, dash
  relay: relay, nose
  fan: motor, 5 A, nose
  fan-switch: toggle switch, dash
  one-way: diode, dash
sleeves:
  S1: crimp sleeve, dash
  S2: crimp sleeve, nose
wires:
  - battery.pos to main-fuse.in, red, 10 AWG, 0.5 m
  - battery.neg to block, black, 10 AWG, 0.5 m
  - main-fuse.out to key.feed, red, 2.5 mm2, 2 m
  - W1: key.ignition to S1, green, 1.5 mm2, 0.5 m
  - W2: S1 to horn.feed, green, 1.5 mm2, 2 m
  - W3: S1 to rev-gauge.feed, green, 1 mm2, 0.4 m
  - W4: S1 to fan-switch.a, green, 1 mm2, 0.4 m
  - W5: fan-switch.b to relay.86, yellow, 1 mm2, 2 m
  - W6: S1 to one-way.anode, green, 1 mm2, 0.3 m
  - W7: one-way.cathode to tell.feed, blue, 1 mm2, 0.3 m
  - W8: main-fuse.out to relay.30, red, 2.5 mm2, 0.4 m
  - W9: relay.87 to S2, brown, 1.5 mm2, 0.4 m
  - W10: S2 to fan.feed, brown, 1.5 mm2, 0.4 m
  - W11: S2 to lamp.feed, brown, 1.5 mm2, 1.4 m
  - W12: ignition.signal to rev-gauge.signal, white, 1 mm2, 2 m
  - W13: horn.ground to G1, black, 1.5 mm2, 0.4 m
grounds:
  G1: nose, on frame, [rev-gauge.ground, tell.ground, horn-push.b]
  G2: nose, on block, [ignition.ground, lamp.ground, fan.ground, relay.85]
";

/// A machine read from a wiring text, ready to be solved.
pub struct Stand {
    pub netlist: Netlist,
    pub catalogue: Catalogue,
    pub sim: Sim,
}

impl Stand {
    pub fn new(name: &str, text: &str) -> Stand {
        Stand::under(Catalogue::builtin(), name, text)
    }

    /// The same under rules of one's own.
    pub fn under(catalogue: Catalogue, name: &str, text: &str) -> Stand {
        let source = Source::new(name, text);
        let netlist = match wiring::read(&source, &catalogue) {
            Ok(reading) => reading.netlist,
            Err(problems) => {
                let all: Vec<String> = problems.iter().map(|p| p.render(&source)).collect();
                panic!("{}", all.join("\n"));
            }
        };
        let sim = Sim::new(lower(&netlist, &catalogue), FuseCurve::from(&catalogue.fuses));
        Stand { netlist, catalogue, sim }
    }

    pub fn test(&self, json: &str) -> Test {
        let value = serde_json::from_str(json).expect("JSON");
        Test::from_json(&value).unwrap_or_else(|p| panic!("{json}: {p:?}"))
    }

    /// The worst disagreement with the general simulator over all points, V, with the point's name; and how many
    /// points were compared.
    pub fn compare(&mut self, set: &str, open: &str, fault: &str, level: DeckLevel) -> (f64, String, usize) {
        let test = self.test(&format!(
            r#"{{"instrument":"volts-dc","red":"battery.pos","black":"battery.neg","set":{set},"open":{open}}}"#
        ));
        let spec = state_of(self.sim.schematic(), &self.netlist, &test).unwrap_or_else(|p| panic!("{set}: {p:?}"));
        let fault = if fault.is_empty() { Fault::healthy() } else { Fault::parse(fault).expect("a fault's name") };
        let injury = injure_in(self.sim.schematic(), &self.netlist, &self.catalogue, &fault, &spec.changes)
            .unwrap_or_else(|p| panic!("{fault}: {}", p.text));
        let state = self.sim.state(&spec);
        if self.sim.run_afresh(state, &injury).chatters {
            // What finds no rest has no operating point: neither side has anything to compare.
            return (0.0, String::new(), usize::MAX);
        }
        let text = deck(&self.sim, &self.netlist, &spec, state, &injury, level);
        let theirs = solve(&text);
        let outcome = self.sim.run_afresh(state, &injury);
        let apart = |l: &ohmward::circuit::sim::Level| usize::from(!l.fast_closed) + usize::from(!l.slow_closed);
        let most = outcome.levels.iter().map(apart).max().unwrap_or(0);
        let want = if level == DeckLevel::Open { most } else { 0 };
        let index = outcome.levels.iter().position(|l| apart(l) == want).expect("a level");
        let zero = self.sim.schematic().zero;
        let (mut worst, mut at, mut count) = (0.0, String::new(), 0);
        for (node, name) in self.sim.schematic().nodes.iter().enumerate() {
            if node == zero || self.sim.floating(&outcome, index, node, zero) {
                continue;
            }
            let Some(volts) = theirs.get(name) else { panic!("{name} is not in the deck's solution:\n{text}") };
            // Pulses are at their mean in a deck: so are they here, what chops held as it is.
            let like = |l: &&ohmward::circuit::sim::Level| {
                let held = &outcome.levels[index];
                l.fast_closed == held.fast_closed && l.slow_closed == held.slow_closed
            };
            let share: f64 = outcome.levels.iter().filter(like).map(|l| l.share).sum();
            let part = |at: usize| outcome.levels[at].share / share * self.sim.volts(&outcome, at, node, zero);
            let ours: f64 = (0..outcome.levels.len()).filter(|&at| like(&&outcome.levels[at])).map(part).sum();
            count += 1;
            if (ours - volts).abs() > worst {
                worst = (ours - volts).abs();
                at = format!("{name}: {ours} here, {volts} there");
            }
        }
        (worst, at, count)
    }
}

/// Node volts as the general simulator has them.
pub fn solve(deck: &str) -> BTreeMap<String, f64> {
    let control = ".control\nset numdgt=12\nop\nprint all\n.endc\n.end\n";
    let text = deck.replace(".op\n.end\n", control);
    assert!(text.contains(".control"), "a deck ends with .op and .end:\n{deck}");
    let mut file = tempfile::NamedTempFile::new().expect("a temporary file");
    file.write_all(text.as_bytes()).expect("written");
    let run = Command::new("ngspice").arg("-b").arg(file.path()).output();
    let output = run.expect("these checks need ngspice: install it (apt-get install ngspice)");
    let printed = String::from_utf8_lossy(&output.stdout);
    let values: BTreeMap<String, f64> = printed
        .lines()
        .filter_map(|line| line.split_once(" = "))
        .filter_map(|(name, value)| Some((name.trim().to_string(), value.trim().parse().ok()?)))
        .collect();
    assert!(
        !values.is_empty(),
        "ngspice gave nothing:\n{printed}\n{}\n{text}",
        String::from_utf8_lossy(&output.stderr)
    );
    values
}

fn agree(stand: &mut Stand, rows: &[(&str, &str, &str, DeckLevel)]) {
    let mut bad = Vec::new();
    for (set, open, fault, level) in rows {
        let (worst, at, count) = stand.compare(set, open, fault, *level);
        assert!(count > 20, "{set} {open} {fault}: only {count} points compared");
        if worst.is_nan() || worst > 1e-3 {
            bad.push(format!("{set} {open} {fault} {level:?}: {worst:.6} V at {at}"));
        }
    }
    assert!(bad.is_empty(), "{}", bad.join("\n"));
}

#[test]
fn healthy_states_agree_within_a_millivolt() {
    use DeckLevel::{Closed, Open};
    agree(
        &mut Stand::new("stand", SMALL),
        &[
            ("{}", "[]", "", Closed),
            (r#"{"key":"on"}"#, "[]", "", Closed),
            (r#"{"key":"on","horn-push":"pressed"}"#, "[]", "", Closed),
            (r#"{"key":"on","horn-push":"pressed"}"#, "[]", "", Open),
            (r#"{"key":"on","fan-switch":"on"}"#, "[]", "", Closed),
            (r#"{"key":"on","fan-switch":"on","horn-push":"pressed","engine":"idling"}"#, "[]", "", Open),
            (r#"{"key":"on"}"#, r#"["battery"]"#, "", Closed),
            (r#"{"key":"on"}"#, r#"["W1.a"]"#, "", Closed),
        ],
    );
}

#[test]
fn faults_agree_within_a_millivolt() {
    use DeckLevel::{Closed, Open};
    let horn = r#"{"key":"on","horn-push":"pressed"}"#;
    let fan = r#"{"key":"on","fan-switch":"on"}"#;
    agree(
        &mut Stand::new("stand", SMALL),
        &[
            (horn, "[]", "G1:resistive(0.5)", Closed),
            (horn, "[]", "G1:resistive(0.5)", Open),
            (horn, "[]", "G1:open", Closed),
            (horn, "[]", "W1:resistive(2)", Closed),
            (fan, "[]", "W9:resistive(0.4)", Closed),
            (fan, "[]", "W5:resistive(100)", Closed),
            (fan, "[]", "W11~frame:touching(0.5)", Closed),
            (fan, "[]", "W11~W3:touching", Closed),
            (r#"{"key":"on"}"#, "[]", "W7~W2:touching(0.2)", Closed),
            (r#"{"key":"on"}"#, "[]", "W2.a~W3.a:crossed", Closed),
            (r#"{"key":"on"}"#, "[]", "W12:elsewhere(frame)", Closed),
            (horn, "[]", "battery:weak(0.2)", Closed),
            (fan, "[]", "lamp:wrong-type(led)", Closed),
            (fan, "[]", "lamp:resistive(2)", Closed),
            (fan, "[]", "relay:stuck-open", Closed),
            (horn, "[]", "horn:stuck-closed", Closed),
            (fan, "[]", "main-fuse:blown", Closed),
            (r#"{"key":"on"}"#, "[]", "one-way:reversed", Closed),
            (fan, "[]", "W10:open + G2:resistive(0.3)", Closed),
        ],
    );
}

#[test]
fn the_orchard_cart_agrees_within_a_millivolt() {
    use DeckLevel::{Closed, Open};
    let text = include_str!("../../rules/machines/orchard-cart/wiring.yaml");
    let lights = r#"{"key":"on","lights":"on","horn-push":"pressed"}"#;
    agree(
        &mut Stand::new("wiring.yaml", text),
        &[
            ("{}", "[]", "", Closed),
            (lights, "[]", "", Closed),
            (lights, "[]", "", Open),
            (r#"{"key":"on","turn":"left","brake":"pressed","engine":"idling"}"#, "[]", "", Closed),
            (r#"{"key":"on","turn":"left","brake":"pressed"}"#, "[]", "", Open),
            (r#"{"key":"on","engine":"revving"}"#, "[]", "P10.2~P10.3:touching", Closed),
            (r#"{"key":"on","engine":"idling","horn-push":"pressed"}"#, "[]", "P5b-4-old~P10a-2-old:touching", Open),
            (r#"{"key":"on","clutch":"pressed","start-push":"pressed"}"#, "[]", "", Closed),
            (r#"{"key":"on"}"#, r#"["P9"]"#, "", Closed),
            (lights, "[]", "G2:resistive(0.5)", Closed),
            (lights, "[]", "G2:open", Open),
            (lights, "[]", "P9:crossed(4,5)", Closed),
            (lights, "[]", "P10:mirrored", Closed),
            (lights, "[]", "P9:shifted(1)", Closed),
            (lights, "[]", "P9.4~P9.5:touching", Closed),
            (lights, r#"["P9"]"#, "P9.4:resistive(3) + P9.4~P9.5:touching", Closed),
            (lights, "[]", "P9a-4-sleeve:resistive(2) + S3:open", Closed),
        ],
    );
}

#[test]
fn the_check_sees_a_fault_that_only_one_side_has() {
    let mut stand = Stand::new("stand", SMALL);
    let test = stand.test(r#"{"instrument":"volts-dc","red":"battery.pos","black":"battery.neg","set":{"key":"on"}}"#);
    let spec = state_of(stand.sim.schematic(), &stand.netlist, &test).expect("a state");
    let state = stand.sim.state(&spec);
    let fault = Fault::parse("W1:resistive(2)").expect("a name");
    let injury = injure_in(stand.sim.schematic(), &stand.netlist, &stand.catalogue, &fault, &[]).expect("an injury");
    let theirs = solve(&deck(&stand.sim, &stand.netlist, &spec, state, &injury, DeckLevel::Closed));
    let healthy = stand.sim.run_afresh(state, &ohmward::circuit::injury::Injury::default());
    let node = stand.netlist.point("S1").expect("S1").index();
    let ours = stand.sim.volts(&healthy, 0, node, stand.sim.schematic().zero);
    assert!((ours - theirs["s1"]).abs() > 0.05, "{ours} {}", theirs["s1"]);
}

#[test]
fn every_line_of_a_deck_names_its_site_and_tolerance() {
    let mut stand = Stand::new("stand", SMALL);
    let test = stand.test(
        r#"{"instrument":"volts-dc","red":"battery.pos","black":"battery.neg","set":{"key":"on","fan-switch":"on"}}"#,
    );
    let spec = state_of(stand.sim.schematic(), &stand.netlist, &test).expect("a state");
    let state = stand.sim.state(&spec);
    let text = deck(&stand.sim, &stand.netlist, &spec, state, &Default::default(), DeckLevel::Closed);
    assert!(text.contains(".options reltol=1e-6"));
    assert!(text.contains(" w7.mid "), "a wire has a middle");
    let mut letters = std::collections::BTreeSet::new();
    for line in text.lines().filter(|line| !line.starts_with(['.', '*'])) {
        letters.insert(line.chars().next().expect("a letter"));
        let tail = line.split(" $ site=").nth(1).unwrap_or_else(|| panic!("{line}"));
        let (site, tol) = tail.split_once(" tol=").unwrap_or_else(|| panic!("{line}"));
        assert!(!site.is_empty() && tol.parse::<f64>().is_ok(), "{line}");
    }
    assert_eq!(letters.into_iter().collect::<String>(), "BDRSV", "only these elements, and all of them here");
}

#[test]
fn a_planted_fault_is_as_many_ohms_as_it_says() {
    let mut stand = Stand::new("stand", SMALL);
    let test = stand.test(r#"{"instrument":"volts-dc","red":"battery.pos","black":"battery.neg","set":{"key":"on"}}"#);
    let spec = state_of(stand.sim.schematic(), &stand.netlist, &test).expect("a state");
    let state = stand.sim.state(&spec);
    let ohms = |fault: &str| {
        let fault = Fault::parse(fault).expect("a name");
        let injury =
            injure_in(stand.sim.schematic(), &stand.netlist, &stand.catalogue, &fault, &[]).expect("an injury");
        let text = deck(&stand.sim, &stand.netlist, &spec, state, &injury, DeckLevel::Closed);
        let line = text.lines().find(|line| line.contains("$ site=G1 ")).expect("the stud's line");
        let figure = |text: &str| text.parse::<f64>().unwrap_or_else(|_| panic!("{line}"));
        let ohms = figure(line.split(' ').nth(3).unwrap_or(""));
        (ohms, ohms * figure(line.rsplit('=').next().unwrap_or("")))
    };
    let ((own, scatter), (bad, with_fault)) = (ohms("nothing-broken"), ohms("G1:resistive(2)"));
    assert!((bad - own - 2.0).abs() < 1e-6, "{own} {bad}");
    assert!((with_fault - scatter).abs() < 1e-6, "the stud scatters by {scatter} ohm, with the fault by {with_fault}");
}
