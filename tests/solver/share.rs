//! Port space is what answers: only a small share of a harness's faults needs a matrix of its own.

#[path = "../bench/harness.rs"]
mod harness;

use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::schematic::Law;
use ohmward::circuit::sim::{FuseCurve, Sim, StateSpec};

#[test]
fn few_faults_need_a_matrix_of_their_own() {
    let schematic = harness::of_size(300);
    let mut injuries = Vec::new();
    for (id, element) in schematic.elements.iter().enumerate() {
        injuries.push(vec![Change::Law(id, Law::Open)]);
        if let Law::Resistor { ohms } = element.law {
            injuries.push(vec![Change::Law(id, Law::Resistor { ohms: ohms + 2.0 })]);
            let from = vec![(element.a, 0.5), (element.b, 0.5)];
            injuries.push(vec![Change::Tie { from, to: vec![(harness::CHASSIS, 1.0)], ohms: 3.0 }]);
        }
    }
    let specs = harness::states(&schematic).into_iter().map(|s| StateSpec { steps: vec![s], changes: Vec::new() });
    let mut sim = Sim::new(schematic.clone(), FuseCurve::blade());
    let states: Vec<_> = specs.map(|spec| sim.state(&spec)).collect();
    let mut longer = Vec::new();
    for &state in &states {
        for changes in &injuries {
            let before = sim.counts().full_solves;
            let outcome = sim.run(state, &Injury { changes: changes.clone(), ..Injury::default() });
            if sim.counts().full_solves > before {
                longer.push((changes, outcome.blown));
            }
        }
    }
    let share = longer.len() as f64 / (states.len() * injuries.len()) as f64;
    assert!(share < 0.05, "{share}: {:?}", &longer[..20]);
    assert_eq!(sim.counts().factorisations, states.len());
}
