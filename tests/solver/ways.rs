//! Relays told from the nearest place of a step's way, beside the same solved afresh each time: drawn circuits in which
//! relays feed, cut off, hold and outrun each other.

use super::elem;
use fastrand::Rng;
use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::schematic::{ControlInfo, Elem, Law, Schematic, When};
use ohmward::circuit::sim::{FuseCurve, Sim, StateSpec};

/// Circuits drawn.
const CIRCUITS: u64 = 400;
/// Relays in one.
const RELAYS: usize = 5;

/// Relays whose coils hang behind switches, fuses and each other's contacts, some of which feed their own coil.
fn drawn(rng: &mut Rng) -> Schematic {
    let mut nodes = vec!["minus".to_string(), "plus".into()];
    let mut elements: Vec<Elem> = vec![elem("battery", 1, 0, Law::Source { volts: 12.6, ohms: 0.02 })];
    let fresh = |nodes: &mut Vec<String>| {
        nodes.push(format!("n{}", nodes.len()));
        nodes.len() - 1
    };
    // Feeds: battery plus, and behind fuses.
    let mut feeds = vec![1];
    for _ in 0..2 {
        let behind = fresh(&mut nodes);
        let amps = [2.0, 5.0, 10.0][rng.usize(..3)];
        elements.push(elem("fuse", 1, behind, Law::Contact { ohms: 0.01, when: When::Fuse { amps, curve: 0 } }));
        feeds.push(behind);
    }
    let mut coils: Vec<(usize, usize)> = Vec::new();
    for _ in 0..RELAYS {
        let hot = fresh(&mut nodes);
        let law = Law::Coil { ohms: 80.0 + 20.0 * rng.f64(), pull_in: 7.0, drop_out: 3.0 };
        coils.push((elements.len(), hot));
        elements.push(elem("coil", hot, 0, law));
    }
    for &(_, hot) in &coils {
        let from = feeds[rng.usize(..feeds.len())];
        let ohms = if rng.u8(..8) == 0 { 60.0 } else { 0.02 };
        let when = When::Setting { control: rng.usize(..2), closed: vec![1] };
        elements.push(elem("switch", from, hot, Law::Contact { ohms, when }));
    }
    for _ in 0..2 * RELAYS {
        let ((coil, _), make) = (coils[rng.usize(..RELAYS)], rng.u8(..3) != 0);
        let from = feeds[rng.usize(..feeds.len())];
        let to = if rng.bool() {
            coils[rng.usize(..RELAYS)].1
        } else {
            let lamp = fresh(&mut nodes);
            let amps = [0.4, 4.5, 9.0][rng.usize(..3)];
            elements.push(elem("lamp", lamp, 0, Law::Filament { volts: 12.0, amps, cold: 0.1 }));
            lamp
        };
        elements.push(elem("contact", from, to, Law::Contact { ohms: 0.02, when: When::Coil { coil, make } }));
    }
    let mut schematic = Schematic { nodes, elements, ..Schematic::default() };
    for name in ["one", "other"] {
        let settings = ["off", "on"].map(String::from).to_vec();
        schematic.controls.insert(name.into(), ControlInfo { settings, ..ControlInfo::default() });
    }
    schematic
}

/// Every element open, and with two ohms more.
fn faults(schematic: &Schematic) -> Vec<Injury> {
    let one = |id: usize, law: Law| Injury { changes: vec![Change::Law(id, law)], ..Injury::default() };
    let mut faults = vec![Injury::default()];
    for (id, element) in schematic.elements.iter().enumerate() {
        faults.push(one(id, Law::Open));
        if let Law::Contact { when, .. } = &element.law {
            faults.push(one(id, Law::Contact { ohms: 2.0, when: when.clone() }));
            faults.push(one(id, Law::Contact { ohms: 0.02, when: When::Always }));
        }
    }
    faults
}

#[test]
fn relays_told_from_their_way_end_as_relays_solved_afresh() {
    let (mut settled, mut moved) = (0, 0);
    for seed in 0..CIRCUITS {
        let schematic = drawn(&mut Rng::with_seed(seed));
        let faults = faults(&schematic);
        let mut sim = Sim::new(schematic, FuseCurve::blade());
        // Not the last step alone: that is another shortcut, and takes machines for granted that blow no fuse at rest.
        for steps in [vec![vec![1, 1]], vec![vec![1, 0], vec![1, 1], vec![0, 1]], vec![vec![1, 0]]] {
            let state = sim.state(&StateSpec { steps, changes: Vec::new() });
            for fault in &faults {
                let (quick, afresh) = (sim.run(state, fault), sim.run_afresh(state, fault));
                assert_eq!((&quick.blown, quick.chatters), (&afresh.blown, afresh.chatters), "{seed} {fault:?}");
                // (what chatters ends nowhere)
                if afresh.chatters {
                    continue;
                }
                assert_eq!(quick.pulled, afresh.pulled, "{seed} {fault:?}");
                settled += 1;
                moved += usize::from(afresh.pulled.len() > 1);
                for (one, two) in sim.all_volts(&quick, 0).iter().zip(&sim.all_volts(&afresh, 0)) {
                    assert!((one - two).abs() < 1e-4, "{seed} {fault:?}: {one} {two}");
                }
            }
        }
    }
    assert!(3 * moved > settled, "too few circuits in which relays do anything: {moved} of {settled}");
}
