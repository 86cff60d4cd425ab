//! What it comes to on two hundred invented switches of usual makes.

use super::switches::{Dice, Switch, usual};
use super::{all_pairs, assert_true, begin, drive, honest};
use std::collections::HashMap;

fn bits(count: &HashMap<String, usize>) -> f64 {
    let total: usize = count.values().sum();
    count.values().map(|&c| c as f64 / total as f64).map(|p| -p * p.log2()).sum()
}

/// cargo test --test all -- learn::drill --ignored --nocapture
#[test]
#[ignore = "prints figures"]
#[expect(clippy::print_stdout, reason = "its figures are what it is for")]
fn two_hundred_switches() {
    let mut dice = Dice::new(2026);
    let switches: Vec<Switch> = (0..200).map(|_| usual(&mut dice)).collect();
    // What a table tells, were one to know how often each comes up: of so many wires and positions, wires in any order.
    let mut by_shape: HashMap<(usize, Vec<String>), HashMap<String, usize>> = HashMap::new();
    let mut many = Dice::new(7);
    for _ in 0..100_000 {
        let switch = usual(&mut many);
        let names: Vec<String> = switch.positions.iter().map(|(name, _)| name.clone()).collect();
        let table: Vec<Vec<usize>> = (0..names.len()).map(|at| switch.group(at)).collect();
        *by_shape.entry((switch.wires, names)).or_default().entry(format!("{table:?}")).or_default() += 1;
    }
    let shape =
        |switch: &Switch| (switch.wires, switch.positions.iter().map(|(name, _)| name.clone()).collect::<Vec<_>>());
    let mean = |of: &dyn Fn(&Switch) -> f64| switches.iter().map(of).sum::<f64>() / switches.len() as f64;
    println!("all pairs     {:.1}", mean(&|switch| all_pairs(switch) as f64));
    println!("entropy bound {:.1}", mean(&|switch| by_shape.get(&shape(switch)).map_or(0.0, bits)));
    for (what, clips, contacts_only) in [
        ("contacts only", 0, true),
        ("both ways", 0, false),
        ("2 clips", 2, false),
        ("8 clips", 8, false),
        ("8 clips, contacts only", 8, true),
    ] {
        let touches = mean(&|switch| {
            let mut learn = begin(switch, clips, contacts_only);
            drive(&mut learn, |ask| honest(switch, ask));
            assert_true(&learn, switch);
            learn.touches() as f64
        });
        println!("{what:22} {touches:.1}");
    }
}
