//! Laws of physics on random circuits, and port space against the same solved afresh.

use super::{elem, resistor, sim};
use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::schematic::{Elem, Law, Node, Schematic};
use ohmward::circuit::sim::{FuseCurve, Outcome, Sim, StateSpec};
use proptest::prelude::*;

/// A random law of each kind that is two-terminal by itself.
fn law() -> impl Strategy<Value = Law> {
    prop_oneof![
        4 => (-3.0..3.0f64).prop_map(|log| Law::Resistor { ohms: 10f64.powf(log) }),
        2 => (0.1..5.0f64).prop_map(|amps| Law::Filament { volts: 12.0, amps, cold: 0.1 }),
        1 => Just(Law::Diode { saturation: 1e-9, emission: 1.8, series: 0.05 }),
        1 => (0.5..5.0f64, 0.2..1.0f64).prop_map(|(amps, stall)| Law::Motor { volts: 12.0, amps, stall }),
    ]
}

/// A tree of wires over `nodes`, a battery from 1 to 0, and laws between random nodes.
fn circuit() -> impl Strategy<Value = (usize, Vec<Elem>)> {
    (4usize..20).prop_flat_map(|nodes| {
        let tree = proptest::collection::vec((any::<prop::sample::Index>(), -4.0..-1.0f64), nodes);
        let loads = proptest::collection::vec((0..nodes, 0..nodes, law()), 2..12);
        (tree, loads, -3.0..-0.5f64).prop_map(move |(tree, loads, inner)| {
            let mut elements = vec![elem("battery", 1, 0, Law::Source { volts: 12.6, ohms: 10f64.powf(inner) })];
            for (node, (to, log)) in (2..nodes).zip(tree) {
                // Two trees: one at ground, one at plus, so that the loads lie between.
                let side: Vec<Node> = (0..node).filter(|other| other % 2 == node % 2).collect();
                elements.push(resistor(&format!("W{node}"), node, side[to.index(side.len())], 10f64.powf(log)));
            }
            for (at, (a, b, law)) in loads.into_iter().enumerate().filter(|(_, (a, b, _))| a != b) {
                elements.push(elem(&format!("E{at}"), a, b, law));
            }
            (nodes, elements)
        })
    })
}

fn injury() -> impl Strategy<Value = Vec<(prop::sample::Index, prop::sample::Index, prop::sample::Index, u8, f64)>> {
    proptest::collection::vec(
        (
            any::<prop::sample::Index>(),
            any::<prop::sample::Index>(),
            any::<prop::sample::Index>(),
            0u8..7,
            -2.0..4.0f64,
        ),
        1..3,
    )
}

/// Injuries of every sort from raw draws.
fn made(
    nodes: usize,
    elements: &[Elem],
    raw: &[(prop::sample::Index, prop::sample::Index, prop::sample::Index, u8, f64)],
) -> Injury {
    let mut changes = Vec::new();
    // Ties last: half way along two things that are both still there.
    let (ties, others): (Vec<_>, Vec<_>) = raw.iter().partition(|(.., sort, _)| *sort == 5);
    for (element, a, b, sort, log) in others {
        let id = element.index(elements.len());
        let (a, b, ohms) = (a.index(nodes), b.index(nodes), 10f64.powf(log));
        match sort {
            0 => changes.push(Change::Law(id, Law::Open)),
            1 => changes.push(Change::Law(id, Law::Resistor { ohms })),
            2 => changes.push(Change::Reverse(id)),
            3 => changes.push(Change::Add { a, b, law: Law::Resistor { ohms } }),
            4 => changes.push(Change::Add { a, b, law: Law::Filament { volts: 12.0, amps: 2.0, cold: 0.1 } }),
            // A shift to another node: taken off here, put on there.
            _ => {
                changes.push(Change::Law(id, Law::Open));
                changes.push(Change::Add { a: elements[id].a, b, law: elements[id].law.clone() });
            }
        }
    }
    for (element, other, _, _, log) in ties {
        let ids = [element.index(elements.len()), other.index(elements.len())];
        let is_gone = |id: usize| changes.iter().any(|c| matches!(c, Change::Law(other, Law::Open) if *other == id));
        if ids[0] != ids[1] && !ids.into_iter().any(is_gone) {
            let [from, to] = ids.map(|id| vec![(elements[id].a, 0.5), (elements[id].b, 0.5)]);
            changes.push(Change::Tie { from, to, ohms: 10f64.powf(log) });
        }
    }
    Injury { changes, ..Injury::default() }
}

/// Currents out of each node through the elements, and the greatest conductance (what a nanovolt may stand for).
fn sums(sim: &Sim, outcome: &Outcome, nodes: usize) -> (Vec<f64>, f64) {
    let mut sums = vec![0.0; nodes];
    let mut most: f64 = 100.0;
    for (id, element) in sim.schematic().elements.iter().enumerate() {
        let amps = sim.element_amps(outcome, 0, id);
        if let Law::Resistor { ohms } | Law::Source { ohms, .. } = element.law {
            most = most.max(1.0 / ohms);
        }
        sums[element.a] += amps;
        sums[element.b] -= amps;
    }
    (sums, most)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn port_space_is_the_circuit_solved_afresh((nodes, elements) in circuit(), raw in injury()) {
        let injury = made(nodes, &elements, &raw);
        let (sim, state) = sim(nodes, elements);
        let (ports, afresh) = (sim.run(state, &injury), sim.run_afresh(state, &injury));
        prop_assert_eq!(sim.counts().unconverged, 0);
        for node in 1..nodes {
            for other in [0, node / 2] {
                prop_assert_eq!(sim.floating(&ports, 0, node, other), sim.floating(&afresh, 0, node, other), "{} {}", node, other);
                let (one, two) = (sim.volts(&ports, 0, node, other), sim.volts(&afresh, 0, node, other));
                prop_assert!((one - two).abs() < 5e-5, "{} over {}: {} {}", node, other, one, two);
            }
        }
        for id in 0..sim.schematic().elements.len() {
            let (one, two) = (sim.element_amps(&ports, 0, id), sim.element_amps(&afresh, 0, id));
            prop_assert!((one - two).abs() < 1e-5 * (1.0 + two.abs()), "{}: {} {}", id, one, two);
        }
        if !sim.floating(&ports, 0, nodes - 1, 0) {
            let (one, two) = (sim.source_ohms(&ports, 0, nodes - 1, 0), sim.source_ohms(&afresh, 0, nodes - 1, 0));
            prop_assert!((one - two).abs() <= 1e-3 * two, "ohms {} {}", one, two);
        }
    }

    #[test]
    fn kirchhoff_and_the_balance_of_power((nodes, elements) in circuit(), raw in injury()) {
        let (sim, state) = sim(nodes, elements.clone());
        // Injuries that change elements but add none, so that the elements are all there is.
        let mut injury = made(nodes, &elements, &raw);
        injury.changes.retain(|change| matches!(change, Change::Law(..) | Change::Reverse(..)));
        let outcome = sim.run(state, &injury);
        let (sums, most) = sums(&sim, &outcome, nodes);
        for (node, sum) in sums.iter().enumerate() {
            prop_assert!(sum.abs() < 3e-9 * most, "node {}: {} A", node, sum);
        }
        let power: f64 = (0..elements.len()).map(|id| sim.element_volts(&outcome, 0, id) * sim.element_amps(&outcome, 0, id)).sum();
        prop_assert!(power.abs() < 1e-7 * most, "{} W", power);
    }

    #[test]
    fn sensitivities_are_what_a_small_change_does((nodes, elements) in circuit(), raw in injury()) {
        let injury = made(nodes, &elements, &raw);
        let (sim, state) = sim(nodes, elements.clone());
        let outcome = sim.run(state, &injury);
        let (a, b) = (nodes - 1, 0);
        // What a diode's leak alone holds moves by its own rounding: a difference of two such volts says nothing.
        if !sim.floating(&outcome, 0, a, b) && sim.source_ohms(&outcome, 0, a, b) > 1e6 {
            return Ok(());
        }
        let touched = |id: usize| injury.changes.iter().any(|change| matches!(change, Change::Law(other, _) | Change::Reverse(other) if *other == id));
        for (id, row) in sim.sensitivity(&outcome, 0, a, b) {
            if touched(id) { continue; }
            let step = 1e-4;
            let moved = |times: f64| {
                let law = match elements[id].law.clone() {
                    Law::Resistor { ohms } => Law::Resistor { ohms: ohms * times },
                    Law::Source { volts, ohms } => Law::Source { volts: volts * times, ohms },
                    Law::Filament { volts, amps, cold } => Law::Filament { volts, amps: amps * times, cold },
                    // A motor's knee moves with its stalled ohms: scale both.
                    Law::Motor { volts, amps, stall } => Law::Motor { volts, amps: amps * times, stall: stall / times },
                    Law::Diode { saturation, emission, series } => Law::Diode { saturation: saturation * times, emission, series },
                    other => other,
                };
                let mut changed = injury.clone();
                changed.changes.push(Change::Law(id, law));
                sim.volts(&sim.run_afresh(state, &changed), 0, a, b)
            };
            let slope = (moved(1.0 + step) - moved(1.0 - step)) / (2.0 * step);
            prop_assert!((slope - row).abs() < 2e-3 + 2e-2 * row.abs(), "{:?}: {} {}\n{:?}\n{:?}", elements[id], slope, row, injury, outcome);
        }
    }

    #[test]
    fn superposition_and_reciprocity(
        ohms in proptest::collection::vec((0usize..8, 0usize..8, -3.0..3.0f64), 8..20),
        volts in (1.0..24.0f64, -24.0..24.0f64),
    ) {
        let mut elements: Vec<Elem> = (1..8).map(|n| resistor(&format!("T{n}"), n, n - 1, 1.0)).collect();
        elements.extend(ohms.iter().filter(|(a, b, _)| a != b).map(|&(a, b, log)| resistor("R", a, b, 10f64.powf(log))));
        let with = |one: f64, two: f64| {
            let mut elements = elements.clone();
            elements.push(elem("one", 7, 0, Law::Source { volts: one, ohms: 0.5 }));
            elements.push(elem("two", 4, 2, Law::Source { volts: two, ohms: 2.0 }));
            let (sim, state) = sim(8, elements);
            let outcome = sim.run(state, &Injury::default());
            (sim.all_volts(&outcome, 0), sim.element_amps(&outcome, 0, sim.schematic().elements.len() - 2), sim.element_amps(&outcome, 0, sim.schematic().elements.len() - 1))
        };
        let (both, first, second) = (with(volts.0, volts.1), with(volts.0, 0.0), with(0.0, volts.1));
        for node in 0..8 {
            prop_assert!((both.0[node] - first.0[node] - second.0[node]).abs() < 1e-10);
        }
        // The amps that a volt in one place sends through the other are the same both ways.
        let there = with(1.0, 0.0).2;
        let back = with(0.0, 1.0).1;
        prop_assert!((there - back).abs() < 1e-12);
    }
}

/// Half way along an open wire, tied to half way along the same wire turned round: nothing holds the far end.
#[test]
fn a_tie_of_a_place_to_itself_holds_nothing() {
    let elements = vec![
        elem("battery", 1, 0, Law::Source { volts: 12.6, ohms: 0.3 }),
        resistor("W2", 2, 0, 0.1),
        resistor("W3", 3, 1, 0.1),
    ];
    let (sim, state) = sim(4, elements);
    let tie = Change::Tie { from: vec![(2, 0.5), (0, 0.5)], to: vec![(0, 0.5), (2, 0.5)], ohms: 1.0 };
    let injury = Injury { changes: vec![Change::Law(1, Law::Open), tie], ..Injury::default() };
    for outcome in [sim.run(state, &injury), sim.run_afresh(state, &injury)] {
        assert!(sim.floating(&outcome, 0, 2, 0));
        assert_eq!(sim.volts(&outcome, 0, 3, 0), 12.6);
    }
    assert_eq!(sim.counts().unconverged, 0);
}

#[test]
fn a_circuit_of_nothing_is_answered() {
    let mut sim =
        Sim::new(Schematic { nodes: vec!["a".into(), "b".into()], ..Schematic::default() }, FuseCurve::blade());
    let state = sim.state(&StateSpec::default());
    let outcome = sim.run(state, &Injury::default());
    assert!(sim.floating(&outcome, 0, 0, 1));
    assert_eq!(sim.volts(&outcome, 0, 0, 1), 0.0);
}
