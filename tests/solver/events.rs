//! Relays, fuses, interrupters and pulses: what happens by itself, in which order, and what is remembered.

use super::{elem, resistor};
use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::schematic::{ControlInfo, Elem, Law, Schematic, When};
use ohmward::circuit::sim::{FuseCurve, Outcome, Sim, StateId, StateSpec};

fn control(made: &mut Schematic, name: &str, settings: &[&str]) {
    let settings = settings.iter().map(|s| s.to_string()).collect();
    let info = ControlInfo { settings, ..ControlInfo::default() };
    made.controls.insert(name.into(), info);
}

fn made(nodes: usize, elements: Vec<Elem>) -> Schematic {
    Schematic { nodes: (0..nodes).map(|n| format!("n{n}")).collect(), elements, ..Schematic::default() }
}

fn state(sim: &mut Sim, steps: &[&[usize]]) -> StateId {
    sim.state(&StateSpec { steps: steps.iter().map(|s| s.to_vec()).collect(), changes: Vec::new() })
}

/// Both ways of solving, which must agree in everything that happens.
fn both(sim: &Sim, state: StateId, injury: &Injury) -> Outcome {
    let (ports, afresh) = (sim.run(state, injury), sim.run_afresh(state, injury));
    assert_eq!((&ports.pulled, &ports.blown, ports.chatters), (&afresh.pulled, &afresh.blown, afresh.chatters));
    assert_eq!(ports.levels.len(), afresh.levels.len());
    for level in 0..ports.levels.len() {
        let (one, two) = (sim.all_volts(&ports, level), sim.all_volts(&afresh, level));
        for (one, two) in one.iter().zip(&two) {
            assert!((one - two).abs() < 1e-6, "{one} {two}");
        }
    }
    ports
}

fn changed(id: usize, law: Law) -> Injury {
    Injury { changes: vec![Change::Law(id, law)], ..Injury::default() }
}

/// Battery, a control that puts a resistor before the coil, a relay that feeds a lamp.
/// Elements: 0 battery, 1 strong feed, 2 weak feed, 3 coil, 4 contact, 5 lamp.
fn relay(make: bool) -> Sim {
    let mut schematic = made(
        4,
        vec![
            elem("battery", 1, 0, Law::Source { volts: 12.0, ohms: 0.01 }),
            elem("strong", 1, 2, Law::Contact { ohms: 0.001, when: When::Setting { control: 0, closed: vec![2] } }),
            elem("weak", 1, 2, Law::Contact { ohms: 140.0, when: When::Setting { control: 0, closed: vec![1] } }),
            elem("coil", 2, 0, Law::Coil { ohms: 100.0, pull_in: 7.0, drop_out: 3.0 }),
            elem("contact", 1, 3, Law::Contact { ohms: 0.001, when: When::Coil { coil: 3, make } }),
            elem("lamp", 3, 0, Law::Filament { volts: 12.0, amps: 1.75, cold: 0.1 }),
        ],
    );
    control(&mut schematic, "feed", &["off", "weak", "strong"]);
    Sim::new(schematic, FuseCurve::blade())
}

#[test]
fn five_volts_hold_a_relay_that_they_would_not_pull() {
    let mut sim = relay(true);
    let weak = state(&mut sim, &[&[0], &[1]]);
    let held = state(&mut sim, &[&[0], &[2], &[1]]);
    let off = state(&mut sim, &[&[0], &[2], &[0]]);
    let (weak, held, off) = (
        both(&sim, weak, &Injury::default()),
        both(&sim, held, &Injury::default()),
        both(&sim, off, &Injury::default()),
    );
    for outcome in [&weak, &held] {
        let volts = sim.element_volts(outcome, 0, 3);
        assert!((volts - 5.0).abs() < 0.01, "{volts}");
    }
    assert!(weak.pulled.is_empty() && sim.element_amps(&weak, 0, 5).abs() < 1e-9);
    assert_eq!(held.pulled, [3]);
    assert!((sim.element_amps(&held, 0, 5) - 1.75).abs() < 0.01);
    assert!(off.pulled.is_empty());
}

#[test]
fn a_fault_that_drops_a_relay_needs_no_factorisation() {
    let mut sim = relay(true);
    let on = state(&mut sim, &[&[2]]);
    let before = sim.counts();
    let outcome = sim.run(on, &changed(1, Law::Resistor { ohms: 400.0 }));
    assert!(outcome.pulled.is_empty());
    assert_eq!(sim.counts().factorisations, before.factorisations);
    both(&sim, on, &changed(1, Law::Resistor { ohms: 400.0 }));
    both(&sim, on, &changed(4, Law::Open));
}

#[test]
fn a_coil_fed_through_its_own_break_contact_chatters() {
    let mut schematic = made(
        3,
        vec![
            elem("battery", 1, 0, Law::Source { volts: 12.0, ohms: 0.01 }),
            elem("contact", 1, 2, Law::Contact { ohms: 0.001, when: When::Coil { coil: 2, make: false } }),
            elem("coil", 2, 0, Law::Coil { ohms: 100.0, pull_in: 7.0, drop_out: 3.0 }),
        ],
    );
    control(&mut schematic, "none", &["rest"]);
    let mut sim = Sim::new(schematic, FuseCurve::blade());
    let rest = state(&mut sim, &[&[0]]);
    assert!(both(&sim, rest, &Injury::default()).chatters);
    assert!(!both(&sim, rest, &changed(2, Law::Open)).chatters);
}

/// Two fuses in line, 20 A then 5 A, and a lamp.
fn fused() -> (Sim, StateId) {
    let mut sim = Sim::new(
        made(
            4,
            vec![
                elem("battery", 1, 0, Law::Source { volts: 12.6, ohms: 0.05 }),
                elem("main", 1, 2, Law::Contact { ohms: 0.003, when: When::Fuse { amps: 20.0, curve: 0 } }),
                elem("sub", 2, 3, Law::Contact { ohms: 0.01, when: When::Fuse { amps: 5.0, curve: 0 } }),
                elem("lamp", 3, 0, Law::Filament { volts: 12.0, amps: 1.75, cold: 0.1 }),
                elem("other", 2, 0, Law::Filament { volts: 12.0, amps: 1.75, cold: 0.1 }),
            ],
        ),
        FuseCurve::blade(),
    );
    let rest = state(&mut sim, &[&[]]);
    (sim, rest)
}

#[test]
fn of_two_fuses_in_line_the_one_that_opens_first_opens_alone() {
    let (sim, rest) = fused();
    let short = |node: usize, ohms: f64| Injury {
        changes: vec![Change::Add { a: node, b: 0, law: Law::Resistor { ohms } }],
        ..Injury::default()
    };
    let outcome = both(&sim, rest, &short(3, 0.05));
    assert_eq!(outcome.blown, [2]);
    assert!(sim.volts(&outcome, 0, 3, 0).abs() < 1e-6 && sim.volts(&outcome, 0, 2, 0) > 12.0);
    let outcome = both(&sim, rest, &short(2, 0.05));
    assert_eq!(outcome.blown, [1]);
    // Twice a fuse's rating takes it five seconds (ISO 8820-3, longest time): within the ten of a state. At 1.3 times it holds.
    assert_eq!(both(&sim, rest, &short(3, 12.0 / 9.0)).blown, [2]);
    assert!(both(&sim, rest, &short(3, 12.0 / 4.6)).blown.is_empty());
    let outcome = both(&sim, rest, &Injury { blown: vec![1], ..Injury::default() });
    assert!(sim.floating(&outcome, 0, 2, 0) || sim.volts(&outcome, 0, 2, 0).abs() < 1e-6);
}

#[test]
fn the_fuse_table_is_met_and_bounded() {
    let curve = FuseCurve::blade();
    for (percent, seconds) in curve.percent.iter().zip(&curve.seconds) {
        assert!((curve.seconds(percent / 100.0) / seconds - 1.0).abs() < 1e-9);
    }
    assert!(curve.seconds(1.1).is_infinite());
    assert!((curve.seconds(12.0) - 0.025).abs() < 1e-9, "constant I²t above 600 %");
    assert!(curve.seconds(3.0) < 5.0 && curve.seconds(3.0) > 0.5);
}

/// A horn that shares 0.3 ohm of ground with a gauge whose signal comes from a pulse source.
/// Nodes: 1 plus, 2 shared ground, 3 signal. Elements: 0 battery, 1 ground, 2 horn, 3 pulse source, 4 gauge input.
fn horn(ground: f64) -> Sim {
    let mut schematic = made(
        4,
        vec![
            elem("battery", 1, 0, Law::Source { volts: 12.0, ohms: 0.001 }),
            resistor("ground", 2, 0, ground),
            elem(
                "horn",
                1,
                2,
                Law::Interrupter {
                    ohms: 0.75,
                    hertz: 400.0,
                    duty: 0.5,
                    works_volts: 6.0,
                    works_amps: 0.0,
                    volts: 12.0,
                },
            ),
            elem("pulse", 3, 0, Law::PulseSource { low: 0.3, high: Some(12.0), ohms: 1000.0, per_turn: 1.0 }),
            elem("input", 3, 2, Law::PulseInput { ohms: 100_000.0, lower: 2.0, upper: 3.0 }),
        ],
    );
    control(&mut schematic, "engine", &["stopped", "idling"]);
    Sim::new(schematic, FuseCurve::blade())
}

#[test]
fn a_horn_makes_two_levels_and_its_ground_moves_with_it() {
    let mut sim = horn(0.3);
    let stopped = state(&mut sim, &[&[0]]);
    let outcome = both(&sim, stopped, &Injury::default());
    assert_eq!(outcome.levels.len(), 2);
    let shares: f64 = outcome.levels.iter().map(|level| level.share).sum();
    assert!((shares - 1.0).abs() < 1e-12);
    for (at, level) in outcome.levels.iter().enumerate() {
        let volts = sim.volts(&outcome, at, 2, 0);
        let want = if level.closed { 12.0 * 0.3 / 1.051 } else { 0.0 };
        assert!((volts - want).abs() < 0.01, "{volts} {want}");
        assert!(!level.pulse_high);
    }
    // Mean amps 5.7 over 0.3 ohm; with 4 A in the mean the ground would stand at 1.2 V (0.3 ohm × 4 A).
    let mean: f64 = outcome.levels.iter().enumerate().map(|(at, l)| l.share * sim.element_amps(&outcome, at, 1)).sum();
    assert!((mean - 0.5 * 12.0 / 1.051).abs() < 0.01, "{mean}");
    // Too few volts to work: it stays closed.
    assert_eq!(both(&sim, stopped, &changed(1, Law::Resistor { ohms: 2.0 })).levels.len(), 1);
    let running = state(&mut sim, &[&[1]]);
    let outcome = both(&sim, running, &Injury::default());
    assert_eq!(outcome.levels.len(), 4);
    assert_eq!(outcome.levels.iter().filter(|level| level.pulse_high).count(), 2);
    let high = outcome.levels.iter().position(|level| level.pulse_high && !level.closed).unwrap();
    assert!((sim.volts(&outcome, high, 3, 0) - 12.0 * 100.0 / 101.0).abs() < 0.02);
}
