//! Every kind of part in a small harness, healthy and with each of its faults, in each setting of its control, at both
//! levels of what chops: the exported deck solved by a general circuit simulator (ngspice) agrees within 1 mV.

use super::Stand;
use ohmward::catalogue::{Catalogue, Kind};
use ohmward::circuit::deck::DeckLevel;
use std::fmt::Write as _;

/// Kinds that are tried at every test run: whatever a deck can hold is in one of them.
const SAMPLE: [&str; 9] = [
    "lead-acid battery",
    "alternator",
    "permanent-magnet alternator",
    "starter with solenoid",
    "LED lamp with load resistor",
    "relay with diode",
    "electronic flasher",
    "trailer lamp module",
    "voltage stabiliser",
];

/// Pins that go to ground, whatever else is done.
const GROUNDS: [&str; 4] = ["ground", "neg", "coil-ground", "85"];

/// The part on a bench: its first pin fed, its ground grounded, every other pin by turns near plus or behind a load.
fn bench(kind: &Kind, turn: usize) -> String {
    let mut parts = String::new();
    let mut wires = String::new();
    for (at, pin) in kind.pins.keys().enumerate() {
        if GROUNDS.contains(&pin.as_str()) {
            let _ = writeln!(wires, "  - x.{pin} to frame, black, 1.5 mm2, 1 m");
            continue;
        }
        if at == 0 {
            let _ = writeln!(wires, "  - main-fuse.out to x.{pin}, red, 2.5 mm2, 1 m");
            continue;
        }
        let (ohms, end) = if (at + turn) % 2 == 1 { ("0.1 ohm", "main-fuse.out") } else { ("3 ohm", "frame") };
        let _ = writeln!(parts, "  load-{at}: resistor, {ohms}");
        let _ = writeln!(wires, "  - x.{pin} to load-{at}.a, white, 1.5 mm2, 0.5 m");
        let _ = writeln!(wires, "  - load-{at}.b to {end}, white, 1.5 mm2, 0.5 m");
    }
    format!(
        "machine: Bench\nchassis: {{frame: block by strap 6 AWG}}\nparts:\n  battery: lead-acid battery, 12 V, 60 Ah\n  \
         main-fuse: fuse, 80 A\n  x: {}\n{parts}wires:\n  - battery.pos to main-fuse.in, red, 4 mm2, 1 m\n  \
         - battery.neg to frame, black, 4 mm2, 1 m\n{wires}",
        kind.name
    )
}

/// Settings of the kind's control as a test writes them; at rest where it has none.
fn settings(kind: &Kind) -> Vec<String> {
    let Some(control) = &kind.control else { return vec!["{}".to_owned()] };
    let name = control.shared.as_deref().unwrap_or("x");
    control.settings.iter().map(|setting| format!(r#"{{"{name}":"{setting}"}}"#)).collect()
}

/// Compares one kind; what disagrees, and how many decks were solved.
fn check(kind: &Kind, bad: &mut Vec<String>) -> usize {
    let faults: Vec<String> =
        std::iter::once(String::new()).chain(kind.modes.keys().map(|mode| format!("x:{mode}"))).collect();
    let chops = kind.elements.values().any(|e| e.what == ohmward::catalogue::kind::ElementType::Interrupter);
    let levels = if chops { vec![DeckLevel::Closed, DeckLevel::Open] } else { vec![DeckLevel::Closed] };
    let mut solved = 0;
    for turn in 0..2 {
        let mut stand = Stand::new(&kind.name, &bench(kind, turn));
        for set in settings(kind) {
            for fault in &faults {
                for &level in &levels {
                    let (worst, at, count) = stand.compare(&set, "[]", fault, level);
                    solved += 1;
                    assert!(count >= 8, "{} {set} {fault}: only {count} points compared", kind.name);
                    if worst.is_nan() || worst > 1e-3 {
                        bad.push(format!("{} {turn} {set} {fault} {level:?}: {worst:.6} V at {at}", kind.name));
                    }
                }
            }
        }
    }
    solved
}

fn agree(named: impl Fn(&str) -> bool) -> usize {
    let (mut bad, mut solved) = (Vec::new(), 0);
    for kind in Catalogue::builtin().kinds.values().filter(|kind| named(&kind.name)) {
        solved += check(kind, &mut bad);
    }
    assert!(bad.is_empty(), "{} of {solved}\n{}", bad.len(), bad.join("\n"));
    solved
}

#[test]
fn kinds_of_every_sort_agree_within_a_millivolt() {
    let rules = Catalogue::builtin();
    assert!(SAMPLE.iter().all(|name| rules.kinds.contains_key(*name)));
    let solved = agree(|name| SAMPLE.contains(&name));
    assert!(solved > 100, "{solved}");
}

#[test]
#[ignore = "more than a thousand decks, some ten seconds on one core"]
fn every_kind_agrees_within_a_millivolt() {
    let solved = agree(|_| true);
    assert!(solved > 1000, "{solved}");
}
