//! Port space against the same solved afresh, on the built-in machine with all that it has: relays, fuses, horn, gauges.

use crate::orchard_cart::cart;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::lower::lower;
use ohmward::circuit::schematic::{Law, Schematic};
use ohmward::circuit::sim::{FuseCurve, Sim};
use ohmward::circuit::state::state_of_settings;

/// Each element open, in series with 2 ohm, touching battery minus, reversed; each next to its neighbour's crossed.
fn injuries(schematic: &Schematic) -> Vec<Injury> {
    let mut injuries = Vec::new();
    for (id, element) in schematic.elements.iter().enumerate() {
        let mut one = |changes: Vec<Change>| injuries.push(Injury { changes, ..Injury::default() });
        one(vec![Change::Law(id, Law::Open)]);
        match &element.law {
            Law::Resistor { ohms } => {
                let tie = vec![(element.a, 0.5), (element.b, 0.5)];
                one(vec![Change::Law(id, Law::Resistor { ohms: ohms + 2.0 })]);
                one(vec![Change::Tie { from: tie, to: vec![(schematic.zero, 1.0)], ohms: 0.05 + ohms / 4.0 }]);
                if let Some(next) = schematic.elements.get(id + 1) {
                    one(vec![
                        Change::Law(id, Law::Open),
                        Change::Law(id + 1, Law::Open),
                        Change::Add { a: element.a, b: next.b, law: element.law.clone() },
                        Change::Add { a: next.a, b: element.b, law: element.law.clone() },
                    ]);
                }
            }
            Law::Diode { .. } | Law::Source { .. } => one(vec![Change::Reverse(id)]),
            _ => one(vec![Change::Law(id, Law::Resistor { ohms: 1.0 })]),
        }
    }
    injuries
}

/// What a meter has, ohm.
const METER: f64 = 10e6;

type Settings = Vec<(String, String)>;

fn on(list: &[(&str, &str)]) -> Settings {
    list.iter().map(|(c, s)| (c.to_string(), s.to_string())).collect()
}

/// Solves every seventh injury in each of these states, another seventh in the next, both ways.
fn compare(schematic: Schematic, settings: &[Settings]) {
    let injuries = injuries(&schematic);
    let (nodes, zero) = (schematic.nodes.len(), schematic.zero);
    let mut sim = Sim::new(schematic, FuseCurve::blade());
    let mut apart = Vec::new();
    for (number, settings) in settings.iter().enumerate() {
        let spec = state_of_settings(sim.schematic(), settings)
            .unwrap_or_else(|problems| panic!("{}", problems.iter().map(|p| p.text.clone()).collect::<String>()));
        let state = sim.state(&spec);
        for injury in injuries.iter().skip(number).step_by(7) {
            let (ports, afresh) = (sim.run(state, injury), sim.run_afresh(state, injury));
            let facts =
                |o: &ohmward::circuit::sim::Outcome| (o.pulled.clone(), o.blown.clone(), o.chatters, o.levels.len());
            assert_eq!(facts(&ports), facts(&afresh), "{settings:?} {injury:?}");
            for level in 0..ports.levels.len() {
                for node in 0..nodes {
                    let floats = sim.floating(&ports, level, node, zero);
                    assert_eq!(floats, sim.floating(&afresh, level, node, zero), "{settings:?} {injury:?} {node}");
                }
                let (one, two) = (sim.all_volts(&ports, level), sim.all_volts(&afresh, level));
                // Behind a diode that carries nothing a node hangs on picoamps: no meter of 10 Mohm reads what is there.
                let read = |node: usize| sim.source_ohms(&afresh, level, node, zero) < METER;
                let off = |node: usize| (one[node] - two[node]).abs();
                let most = (0..nodes).filter(|&node| off(node) <= 1e-3 || read(node)).map(off).fold(0.0, f64::max);
                assert!(most < 1e-3, "{most} V, {settings:?} {injury:?}");
                apart.push(most);
            }
        }
    }
    apart.sort_by(f64::total_cmp);
    assert!(apart[apart.len() / 2] < 1e-6, "median {}", apart[apart.len() / 2]);
    let counts = sim.counts();
    // A step that two orders of settings share is factored once; far fewer factorisations than faults.
    assert!(counts.factorisations <= settings.iter().map(|s| s.len() + 1).sum());
    assert_eq!(counts.unconverged, 0);
    assert!(counts.port_solves > apart.len() / 2, "{counts:?}");
}

#[test]
fn every_fault_of_the_orchard_cart_as_if_solved_afresh() {
    let settings = [
        on(&[]),
        on(&[("key", "on")]),
        on(&[("key", "on"), ("lights", "on"), ("horn-push", "pressed"), ("engine", "idling")]),
        on(&[("key", "on"), ("turn", "left"), ("brake", "pressed")]),
        on(&[("key", "on"), ("clutch", "pressed"), ("start-push", "pressed")]),
    ];
    compare(lower(&cart(), &Catalogue::builtin()), &settings);
}

/// The same on a machine that charges: a battery whose ohms bend, an alternator, two windings on one core, three
/// flashers of which one senses volts.
#[test]
fn every_fault_of_a_machine_that_charges_as_if_solved_afresh() {
    let stand = crate::deck::Stand::new("kinds", crate::circuit::kinds::FIELD);
    let settings = [
        on(&[]),
        on(&[("key", "on"), ("engine", "idling")]),
        on(&[("key", "on"), ("lights", "on"), ("brake", "pressed"), ("engine", "revving")]),
        on(&[("key", "on"), ("turn-c", "left"), ("engine", "revving")]),
        on(&[("key", "start")]),
    ];
    compare(stand.sim.schematic().clone(), &settings);
}
