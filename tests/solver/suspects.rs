//! Every suspect of the built-in machine, and faults of drawn looms, in port space beside the same solved afresh, at every
//! point and in every level.

#[path = "../bench/loom.rs"]
mod loom;

use crate::orchard_cart::cart;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::injury::injure_in;
use ohmward::circuit::sim::{FuseCurve, Outcome, Sim, StateSpec};
use ohmward::circuit::state::state_of_settings;
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::machine::Machine;

/// No point of any fault further from a solution afresh than this, V.
const WORST: f64 = 1e-3;
/// The worst point of a fault in the median of all faults, V.
const MEDIAN: f64 = 1e-6;

/// The same fuses, relays and levels.
fn alike(one: &Outcome, other: &Outcome) -> bool {
    one.levels.len() == other.levels.len() && one.blown == other.blown && one.pulled == other.pulled
}

/// The point furthest from where it is in the other, V.
fn farthest(sim: &Sim, one: &Outcome, other: &Outcome) -> f64 {
    let mut most: f64 = 0.0;
    for level in 0..one.levels.len() {
        let (one, other) = (sim.all_volts(one, level), sim.all_volts(other, level));
        most = one.iter().zip(&other).map(|(one, other)| (one - other).abs()).fold(most, f64::max);
    }
    most
}

#[test]
fn faults_of_drawn_looms_within_a_millivolt_of_afresh() {
    let mut apart: Vec<f64> = Vec::new();
    for (size, seed, stride) in [(60, 7, 1), (120, 8, 3), (300, 9, 29), (300, 10, 31)] {
        let schematic = loom::of_size(size, seed);
        let faults = loom::faults(&schematic);
        let mut sim = Sim::new(schematic, FuseCurve::blade());
        let specs = loom::states().into_iter().map(|settings| StateSpec { steps: vec![settings], changes: Vec::new() });
        let states: Vec<_> = specs.map(|spec| sim.state(&spec)).collect();
        for at in (0..states.len() * faults.len()).step_by(stride) {
            let (state, fault) = (states[at % states.len()], &faults[at / states.len()]);
            let (ports, afresh) = (sim.run(state, fault), sim.run_afresh(state, fault));
            assert!(alike(&ports, &afresh), "{size} {seed} {at} {fault:?}: other relays or fuses");
            let most = farthest(&sim, &ports, &afresh);
            assert!(most <= WORST, "{size} {seed} {at} {fault:?}: {most} V");
            apart.push(most);
        }
        assert_eq!(sim.counts().unconverged, 0);
        assert_eq!(sim.counts().factorisations, states.len());
    }
    apart.sort_by(f64::total_cmp);
    assert!(apart[apart.len() / 2] < MEDIAN, "median {}", apart[apart.len() / 2]);
}

#[test]
fn every_suspect_of_the_orchard_cart_within_a_millivolt_of_afresh() {
    let mut machine = Machine::new(cart(), Catalogue::builtin());
    let suspects = enumerate(&machine, false);
    let on = |list: &[(&str, &str)]| list.iter().map(|(c, s)| (c.to_string(), s.to_string())).collect::<Vec<_>>();
    let states = [
        on(&[]),
        on(&[("key", "on"), ("lights", "on"), ("horn-push", "pressed")]),
        on(&[("key", "on"), ("turn", "left"), ("brake", "pressed"), ("engine", "idling")]),
    ];
    let mut apart: Vec<f64> = Vec::new();
    let mut bad = Vec::new();
    for settings in &states {
        let spec = state_of_settings(machine.sim.schematic(), settings).unwrap_or_else(|p| panic!("{p:?}"));
        let state = machine.state(&spec);
        let sim = &machine.sim;
        for (at, suspect) in suspects.list.iter().enumerate().filter(|(_, suspect)| !suspect.special()) {
            // The mildest and the worst.
            let points = suspect.points(at);
            let picked = [0, points.len() - 1];
            let mut severities: Vec<_> = picked.iter().filter_map(|&n| points.get(n)).map(|p| p.severity).collect();
            severities.dedup();
            for severity in severities {
                let fault = suspect.fault_at(severity);
                let injury = injure_in(sim.schematic(), &machine.netlist, &machine.catalogue, &fault, &spec.changes)
                    .unwrap_or_else(|p| panic!("{fault}: {}", p.text));
                let (ports, afresh) = (sim.run(state, &injury), sim.run_afresh(state, &injury));
                if !alike(&ports, &afresh) {
                    bad.push(format!("{settings:?} {fault}: other relays or fuses"));
                    continue;
                }
                let most = farthest(sim, &ports, &afresh);
                if most.is_nan() || most > WORST {
                    bad.push(format!("{settings:?} {fault}: {most} V"));
                }
                apart.push(most);
            }
        }
    }
    apart.sort_by(f64::total_cmp);
    assert!(apart.len() > 1000, "only {} faults", apart.len());
    assert_eq!(machine.sim.counts().unconverged, 0);
    assert!(bad.is_empty(), "{} of {}:\n{}", bad.len(), apart.len(), bad.join("\n"));
    assert!(apart[apart.len() / 2] < MEDIAN, "median {}", apart[apart.len() / 2]);
}
