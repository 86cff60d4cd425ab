use super::*;
use crate::circuit::injury::{Change, Injury};
use crate::circuit::schematic::{Elem, Law, Schematic};
use crate::circuit::sim::{FuseCurve, Sim, StateSpec};

/// Ladder of 10 and 20 ohm behind 12 V and 0.1 ohm, from de Kleer-style probing problems (T8: values recomputed, its
/// circuit invented): 12 V, 0.1 ohm to n1; R1 n1-n2 10, R2 n2-0 20, R3 n2-n3 10, R4 n3-0 20, R5 n3-n4 10, R6 n4-0 20.
fn ladder(probed: &[usize]) -> Vec<usize> {
    let rungs = [(1, 2, 10.0), (2, 0, 20.0), (2, 3, 10.0), (3, 0, 20.0), (3, 4, 10.0), (4, 0, 20.0)];
    let elem = |a, b, law| Elem { name: format!("{a}-{b}"), part: None, a, b, law, spread: 0.0 };
    let mut elements = vec![elem(1, 0, Law::Source { volts: 12.0, ohms: 0.1 })];
    elements.extend(rungs.iter().map(|&(a, b, ohms)| elem(a, b, Law::Resistor { ohms })));
    let nodes = (0..5).map(|n| format!("n{n}")).collect();
    let mut sim = Sim::new(Schematic { nodes, elements, ..Schematic::default() }, FuseCurve::blade());
    let state = sim.state(&StateSpec { steps: vec![vec![]], changes: vec![] });
    let mut table = Table::new(7, Squeeze::new(|_| 0.03));
    for item in 0..7 {
        let changes = if item == 0 { Vec::new() } else { vec![Change::Law(item, Law::Open)] };
        let outcome = sim.run(state, &Injury { changes, ..Injury::default() });
        for &node in probed {
            let at = table.squeeze.at(sim.volts(&outcome, 0, node, 0));
            let answer = Answer::Bells(vec![Bell { at, spread: 1.0, share: 1.0 }]);
            if item == 0 {
                table.healthy(node as u32, answer);
            } else {
                table.put(item, node as u32, answer);
            }
        }
    }
    table.groups()
}

/// Small diagnosis problem T8: opens of R5 and R6 differ at n4 alone.
#[test]
fn the_last_rungs_of_the_ladder_are_one_group_until_the_last_node_is_probed() {
    assert_eq!(ladder(&[1, 2, 3, 4]), vec![0, 1, 2, 3, 4, 5, 6]);
    assert_eq!(ladder(&[1, 2, 3]), vec![0, 1, 2, 3, 4, 5, 5]);
    // At n1 alone a volt meter of 30 mV sees that R1 or R2 is gone, and little else (12, 11.963 and 11.960 V).
    assert!(ladder(&[1]).iter().filter(|&&leader| leader != 0).count() < 6);
    assert_eq!(ladder(&[]), vec![0; 7]);
}

#[test]
fn what_moves_different_tests_is_apart_and_what_moves_none_is_with_the_healthy_machine() {
    let bells = |at: f64| Answer::Bells(vec![Bell { at, spread: 1.0, share: 1.0 }]);
    let mut table = Table::new(5, Squeeze::new(|_| 0.03));
    for test in 0..3 {
        table.healthy(test, bells(0.0));
    }
    table.put(1, 0, bells(50.0));
    table.put(2, 1, bells(50.0));
    table.put(3, 1, bells(50.6));
    table.put(4, 2, bells(0.4));
    assert_eq!(table.groups(), vec![0, 1, 2, 2, 0]);
}
