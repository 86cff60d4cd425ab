//! Where along two nets they touch: it does not matter while plugs are mated, and tells once one is parted.
//!
//! Unplugging one plug after the other until the fuse holds is how shorts are found (common practice, no source). The
//! machine and its faults are inventions of our own.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::test::{Bridge, BridgeWith, Instrument, Settings, Test};
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::machine::Machine;
use ohmward::diagnosis::predict;
use ohmward::diagnosis::runs::Runs;
use ohmward::diagnosis::suspect::What;
use ohmward::netlist::Netlist;
use ohmward::session::twin::Twin;
use ohmward::session::{Chase, Input};
use ohmward::text::span::Source;
use ohmward::wiring;

const CART: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");

fn cart() -> Netlist {
    wiring::read(&Source::new("wiring.yaml", CART), &Catalogue::builtin()).unwrap().netlist
}

fn set(pairs: &[(&str, &str)]) -> Settings {
    pairs.iter().map(|(control, setting)| ((*control).to_owned(), (*setting).to_owned())).collect()
}

/// Volts into a lamp that stands in a fuse's place, with the plug parted or not.
fn lamp(fuse: &str, with: &Settings, parted: bool) -> Test {
    let [red, black] = ["in", "out"].map(|pin| format!("{fuse}.{pin}"));
    let bridge = Bridge { a: red.clone(), b: black.clone(), with: BridgeWith::Lamp(21.0) };
    Test {
        red: Some(red),
        black: Some(black),
        open: if parted { vec!["P10".into()] } else { Vec::new() },
        bridge: vec![bridge],
        ..Test::new(Instrument::VoltsDc, with)
    }
}

/// One repair wherever it is, and one circuit while all plugs are mated: none of the stretches is solved by itself.
#[test]
fn stretches_of_two_nets_are_one_repair_and_one_circuit_while_mated() {
    let mut machine = Machine::new(cart(), Catalogue::builtin());
    let suspects = enumerate(&machine, true);
    let mut runs = Runs::new(&suspects);
    let on = predict::state(&mut machine, &set(&[("key", "on"), ("turn", "right")])).unwrap();
    let (mut several, mut most) = (0, 0.0_f64);
    for (at, suspect) in suspects.list.iter().enumerate().filter(|(_, suspect)| suspect.what == What::Touching) {
        let first = suspects.as_mated(at);
        assert_eq!(suspect.class, suspects.list[first].class);
        assert!(first <= at && suspects.as_mated(first) == first);
        if first == at {
            continue;
        }
        several += 1;
        let outcome = |runs: &mut Runs, at: usize| runs.outcome(&machine, &suspects, on, runs.range[at].0 as u32);
        let (one, other) = (outcome(&mut runs, first), outcome(&mut runs, at));
        assert!(std::rc::Rc::ptr_eq(&one, &other), "{} is solved by itself", suspect.class);
        // What is left out by that: the drop along the nets.
        let injury = ohmward::circuit::injury::injure(
            machine.sim.schematic(),
            &machine.netlist,
            &machine.catalogue,
            &suspect.fault_at(None),
        );
        let alone = machine.sim.run(on, &injury.unwrap());
        if alone.blown == one.blown {
            let volts = [&alone, &*one].map(|outcome| predict::mean_volts(&machine.sim, outcome));
            let apart = volts[0].iter().zip(&volts[1]).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            most = most.max(apart);
        }
    }
    assert!(several > 100, "only {several} stretches beside the first of their nets");
    assert!(most < 1.5, "{most} V between two places of the same nets");
}

/// Readings with the plug out, of a short on either side of it, speak for the side that it is on and never against it.
#[test]
fn a_short_beyond_a_parted_plug_is_not_ruled_out() {
    let cart = cart();
    let planted = [
        ("P10b-10-old~frame:touching(0.05)", "F3", [("key", "on"), ("turn", "right")]),
        ("P9a-3-old~frame:touching(0.05)", "F3", [("key", "on"), ("turn", "right")]),
        ("P10b-8-old~frame:touching(0.05)", "F3", [("key", "on"), ("horn-push", "pressed")]),
        ("P10b-7-old~frame:touching(0.05)", "F1", [("key", "park"), ("fan-switch", "on")]),
        ("P5a-2-old~P10b-5-old:touching(0.05)", "main-fuse", [("key", "on"), ("neutral", "neutral")]),
    ];
    let mut told = 0;
    for (fault, fuse, with) in planted {
        let fault = Fault::parse(fault).unwrap();
        let mut twin = Twin::new(&cart, &Catalogue::builtin(), &fault, 7).unwrap();
        let mut chase = Chase::new(Machine::new(cart.clone(), Catalogue::builtin()));
        let symptom = twin.symptom().expect("it can be seen");
        chase.take(Input::Symptom(symptom));
        let truth = chase.suspects().by_name(&fault.to_string()).unwrap();
        let own = |chase: &Chase| chase.chances().suspects[truth];
        let mut before = own(&chase);
        for parted in [false, true] {
            let test = lamp(fuse, &set(&with), parted);
            let readings = twin.read(&test).unwrap();
            let said = chase.take(Input::Measured { test: Box::new(test), readings: readings.clone() });
            let now = own(&chase);
            assert!(
                now >= before * 0.8,
                "{fault}, {fuse}, parted: {parted}, {readings:?}: {before} to {now}, {said:?}"
            );
            told += usize::from(now > before * 1.5);
            before = now;
        }
    }
    assert!(told >= 5, "{told} readings told of it");
}
