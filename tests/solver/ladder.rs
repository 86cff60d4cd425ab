//! A ladder of six resistors, every one open and shorted.
//!
//! Source: a diagnosis exercise of the analog-fault literature, its values recomputed independently (nominal volts, opens
//! and shorts to 1e-4 V): 12 V behind 0.1 ohm at n1; R1 n1-n2 10; R2 n2-0 20; R3 n2-n3 10; R4 n3-0 20; R5 n3-n4 10; R6 n4-0 20.

use super::{elem, resistor, sim};
use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::schematic::Law;

const OPEN: [[f64; 4]; 6] = [
    [12.0, 0.0, 0.0, 0.0],
    [11.9626, 8.2243, 4.4860, 2.9907],
    [11.9601, 7.9734, 0.0, 0.0],
    [11.9488, 6.8279, 5.1209, 3.4139],
    [11.9457, 6.5158, 4.3439, 0.0],
    [11.9457, 6.5158, 4.3439, 4.3439],
];
const SHORT: [[f64; 4]; 6] = [
    [11.8865, 11.8865, 6.4836, 4.3224],
    [11.8812, 0.0, 0.0, 0.0],
    [11.9318, 5.1136, 5.1136, 3.4091],
    [11.9284, 4.7714, 0.0, 0.0],
    [11.9403, 5.9701, 2.9851, 2.9851],
    [11.9375, 5.6845, 2.2738, 0.0],
];

#[test]
fn healthy_opens_and_shorts() {
    let (sim, state) = sim(
        5,
        vec![
            elem("source", 1, 0, Law::Source { volts: 12.0, ohms: 0.1 }),
            resistor("R1", 1, 2, 10.0),
            resistor("R2", 2, 0, 20.0),
            resistor("R3", 2, 3, 10.0),
            resistor("R4", 3, 0, 20.0),
            resistor("R5", 3, 4, 10.0),
            resistor("R6", 4, 0, 20.0),
        ],
    );
    let check = |what: &str, injury: &Injury, want: [f64; 4]| {
        for outcome in [sim.run(state, injury), sim.run_afresh(state, injury)] {
            let all = sim.all_volts(&outcome, 0);
            for (node, want) in (1..).zip(want) {
                let volts = sim.volts(&outcome, 0, node, 0);
                assert!((volts - want).abs() < 1e-4, "{what}, n{node}: {volts} for {want}");
                assert!((all[node] - volts).abs() < 1e-9, "{what}, n{node}: {} and {volts}", all[node]);
            }
        }
    };
    check("healthy", &Injury::default(), [11.9417, 6.1097, 3.3326, 2.2217]);
    for r in 0..6 {
        let with = |law: Law| Injury { changes: vec![Change::Law(r + 1, law)], ..Injury::default() };
        check(&format!("R{} open", r + 1), &with(Law::Open), OPEN[r]);
        check(&format!("R{} shorted", r + 1), &with(Law::Resistor { ohms: 1e-6 }), SHORT[r]);
    }
    assert_eq!(sim.counts().factorisations, 1);
    // Open R5 leaves n4 hanging on R6 alone: it reads 0 because R6 holds it; open R6 and R5 both: it floats.
    let both = Injury { changes: vec![Change::Law(5, Law::Open), Change::Law(6, Law::Open)], ..Injury::default() };
    let outcome = sim.run(state, &both);
    assert!(sim.floating(&outcome, 0, 4, 0) && sim.volts(&outcome, 0, 4, 0) == 0.0);
    assert!(!sim.floating(&outcome, 0, 3, 0));
}
