//! What a hand feels: copper by the table of amps, joints by their watts, and what a chase makes of it.
//!
//! The machines are inventions of our own.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::heat::{SOMEWHERE, Touched};
use ohmward::circuit::injury::injure;
use ohmward::circuit::meter::{How, Observed, observe};
use ohmward::circuit::test::{Instrument, Reading, Settings, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::diagnosis::predict;
use ohmward::session::{Chase, Event, Input, SymptomInput};
use ohmward::text::span::Source;
use ohmward::wiring;

const CART: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");

/// A heater on wire of 14 AWG and a crimp of its own, nothing held by hand.
fn heater(watts: f64) -> Machine {
    let text = format!(
        "parts:\n  battery: lead-acid battery, 12 V, 100 Ah\n  light: toggle switch\n  load: heater, {watts} W\n\
         wires:\n  - supply: battery.pos to light.a, red, 2.08 mm2, 1 m\n  - W: light.b to load.feed, red, 2.08 mm2, 1 m\n  \
         - back: load.ground to battery.neg, black, 2.08 mm2, 1 m\n"
    );
    let netlist = wiring::read(&Source::new("wiring.yaml", text), &Catalogue::builtin()).unwrap().netlist;
    Machine::new(netlist, Catalogue::builtin())
}

fn set(pairs: &[(&str, &str)]) -> Settings {
    pairs.iter().map(|(control, setting)| ((*control).to_owned(), (*setting).to_owned())).collect()
}

/// Kelvin above the air and amps through the wire that is called `W`, with this fault.
fn kelvin(machine: &mut Machine, fault: &str, thing: &str) -> (f64, f64) {
    let state = predict::state(machine, &set(&[("light", "on")])).unwrap();
    let fault = Fault::parse(fault).unwrap();
    let injury = injure(machine.sim.schematic(), &machine.netlist, &machine.catalogue, &fault).unwrap();
    let outcome = machine.sim.run(state, &injury);
    let on = Touched::find(&machine.netlist, thing).unwrap();
    let link = machine.netlist.wires["W"].links[1].index();
    let amps = machine.sim.element_amps(&outcome, 0, link).abs();
    (machine.view(state, &injury, &outcome).unwrap().kelvin(&on), amps)
}

/// 33 CFR 183.425, table 5: 14 AWG with insulation for 105 C carries 35 A in air of 30 C, so it is then 75 K above the
/// air; heat goes with amps squared. After two minutes of a time constant of one, 86 % of it are there.
#[test]
fn copper_at_the_amps_of_the_table_is_as_warm_as_its_insulation_stands() {
    for watts in [120.0, 240.0, 420.0] {
        let (kelvin, amps) = kelvin(&mut heater(watts), "nothing-broken", "W");
        let wanted = 75.0 * (amps / 35.0).powi(2) * (1.0 - (-2.0_f64).exp());
        assert!(amps > 8.0 && (kelvin / wanted - 1.0).abs() < 0.02, "{watts} W, {amps} A: {kelvin} K for {wanted} K");
    }
}

/// USCAR-2 (from memory) lets a terminal get 55 K warmer than the air at its rated amps; one for 20 A with the 10 mohm of
/// a worn one is there.
#[test]
fn a_worn_terminal_at_its_rated_amps_is_as_warm_as_it_may_get() {
    let (kelvin, amps) = kelvin(&mut heater(250.0), "W.a:resistive(0.0095)", "W");
    let rated = kelvin / (1.0 - (-2.0_f64).exp()) * (20.0 / amps).powi(2);
    assert!((rated / 55.0 - 1.0).abs() < 0.15, "{amps} A: {rated} K at 20 A");
}

/// Where something touches a wire half way, the half before carries what flows there as well.
#[test]
fn what_leaves_a_wire_half_way_heats_the_half_before() {
    let mut machine = heater(60.0);
    let (sound, _) = kelvin(&mut machine, "nothing-broken", "W");
    let (touched, mean) = kelvin(&mut machine, "W~back:touching(0.3)", "W");
    let mean_only = 75.0 * (mean / 35.0).powi(2) * (1.0 - (-2.0_f64).exp());
    assert!(touched > 2.0 * mean_only && mean_only > 2.0 * sound, "{touched} {mean_only} {sound}");
}

fn cart() -> Machine {
    let netlist = wiring::read(&Source::new("wiring.yaml", CART), &Catalogue::builtin()).unwrap().netlist;
    Machine::new(netlist, Catalogue::builtin())
}

/// A sound machine is nowhere too hot to touch, in any state one control away from the key being on.
#[test]
fn nothing_burns_on_a_sound_machine() {
    for name in ["orchard-cart", "lane-motorcycle", "moor-roadster", "field-trailer"] {
        let text = std::fs::read_to_string(format!("rules/machines/{name}/wiring.yaml")).unwrap();
        let netlist = wiring::read(&Source::new("wiring.yaml", text), &Catalogue::builtin()).unwrap().netlist;
        let mut machine = Machine::new(netlist, Catalogue::builtin());
        let controls = machine.sim.schematic().controls.clone();
        let key: Settings = if controls.contains_key("key") { set(&[("key", "on")]) } else { Settings::new() };
        for (control, info) in controls.iter().filter(|(control, _)| *control != "key") {
            for setting in &info.settings {
                let all: Settings = key.iter().cloned().chain([(control.clone(), setting.clone())]).collect();
                let test = Test { part: Some(SOMEWHERE.into()), ..Test::new(Instrument::Touch, &all) };
                let Machine { sim, netlist, catalogue, .. } = &mut machine;
                let seen = observe(sim, netlist, catalogue, &test, &Fault::healthy(), How::Ports).unwrap();
                let Observed::Showing(words) = &seen[0].what else { panic!("{seen:?}") };
                let burns: f64 = words.iter().filter(|(word, _)| word == "smokes").map(|(_, p)| p).sum();
                let hot: f64 = words.iter().filter(|(word, _)| word == "hot").map(|(_, p)| p).sum();
                assert!(burns < 1e-3 && hot < 0.2, "{name}, {control} {setting}: {words:?}");
            }
        }
    }
}

fn complained(part: &str, word: &str, with: &Settings) -> Chase {
    let mut chase = Chase::new(cart());
    chase.take(Input::Symptom(SymptomInput {
        part: part.into(),
        showings: vec![word.into()],
        set: with.clone(),
        ..SymptomInput::default()
    }));
    chase
}

/// "The head light's plug gets hot": a joint that loses volts, no break and no short that blows the fuse.
#[test]
fn a_hot_lamp_is_a_bad_joint_at_the_lamp() {
    let mut chase = complained("head-lamp", "hot", &set(&[("key", "on"), ("lights", "on")]));
    let list = chase.suspect_lines();
    let sum = |wanted: &dyn Fn(&str) -> bool| list.iter().filter(|l| wanted(&l.fault)).map(|l| l.p).sum::<f64>();
    let there = sum(&|fault| fault.contains("head-lamp") && fault.ends_with(":resistive"));
    let listed = sum(&|fault| fault != "not-in-file");
    assert!(there > 0.5 * listed, "{there} of {listed}: {list:?}");
}

/// After smoke nobody is asked to switch the same on again, unless the battery is off.
#[test]
fn what_smoked_is_not_switched_on_again() {
    let with = set(&[("key", "on"), ("lights", "on")]);
    let mut chase = complained("under-seat", "smokes", &with);
    let mut asked: Vec<Instrument> = Vec::new();
    for _ in 0..12 {
        let Some(event) = chase.waiting() else { break };
        match &event {
            Event::Ask { test, screen, .. } => {
                asked.push(test.instrument);
                let off = test.open.iter().any(|open| open == "battery" || open.contains("neg"));
                let lit = |now: &Settings| now.iter().any(|(control, to)| control == "lights" && to != "off");
                let again = test.placements().iter().any(lit);
                let first_power = asked.iter().filter(|tool| **tool != Instrument::Touch).count() == 1;
                if first_power {
                    assert!(screen.prepare.iter().any(|line| line.contains("clamp back on")), "{screen:?}");
                }
                let nothing = screen.set.iter().any(|line| line.contains("stays off"));
                assert!(!again || off || nothing, "{test:?}");
                chase.take(Input::Skip);
            }
            Event::TryRepair { .. } => drop(chase.take(Input::Cured { cured: false, blown: Vec::new() })),
            _ => break,
        }
    }
    assert!(asked.len() > 3 && asked[0] == Instrument::Touch, "{asked:?}");
}

/// A hand's own words, on a planted joint: what is hot there is never spoken against by a true touch.
#[test]
fn a_true_touch_speaks_for_the_truth() {
    let with = set(&[("key", "on"), ("lights", "on")]);
    let mut chase = complained("head-lamp", "dim", &with);
    let joint = chase
        .suspect_lines()
        .into_iter()
        .find(|line| line.fault.ends_with(":resistive") && !line.fault.starts_with("key"))
        .map(|line| line.fault)
        .unwrap();
    let site = joint.split_once(':').unwrap().0.to_string();
    let fault = Fault::parse(&format!("{site}:resistive(0.8)")).unwrap();
    let before = chase.suspect_lines().iter().filter(|line| line.fault == joint).map(|line| line.p).sum::<f64>();
    let thing = site.split('.').next().unwrap().to_string();
    let test = Test { part: Some(thing), ..Test::new(Instrument::Touch, &with) };
    let Machine { mut sim, netlist, catalogue, .. } = cart();
    let seen = observe(&mut sim, &netlist, &catalogue, &test, &fault, How::Afresh).unwrap();
    let Observed::Showing(words) = &seen[0].what else { panic!("{seen:?}") };
    let word = words.iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0.clone();
    chase.take(Input::Measured { test: Box::new(test), readings: vec![Reading::Showing(word.clone())] });
    let after = chase.suspect_lines().iter().filter(|line| line.fault == joint).map(|line| line.p).sum::<f64>();
    assert!(after > 0.9 * before, "{joint} was {before}, and {word} makes it {after}");
}
