//! Made-up wiring files of any size: circuits of a fuse, a switch, a plug's way and a load, eight a plug and a ground.

use std::fmt::Write as _;

/// What circuits feed.
const LOADS: [&str; 6] = ["lamp, 21 W", "lamp, 5 W", "LED lamp", "heater, 60 W", "fan, 4 A", "horn, 3.5 A"];
/// Circuits that share a trunk, a plug and a ground.
const SHARED: usize = 8;

/// A machine of so many circuits.
pub fn of(circuits: usize) -> String {
    let mut parts = String::from("  battery: lead-acid battery, 12 V, 60 Ah, dash\n");
    let mut wires = String::from("  - battery.neg to G0, black, 16 mm2, 0.5 m\n");
    let mut grounds = String::from("  G0: {place: dash, on: frame}\n");
    let mut plugs = String::new();
    let add = |text: &mut String, line: String| writeln!(text, "{line}").unwrap_or_default();
    for at in 0..circuits {
        let group = at / SHARED;
        if at % SHARED == 0 {
            add(&mut parts, format!("  M{group}: fuse, 30 A, dash"));
            add(&mut wires, format!("  - battery.pos to M{group}.in, red, 10 mm2, 0.6 m"));
            add(&mut grounds, format!("  G{}: {{place: tail, on: frame}}", group + 1));
            let plug = format!(
                "  P{group}:\n    is: through\n    a: dash, 1 m, 1.5 mm2, crimp sleeve\n    b: tail\n    ways:"
            );
            add(&mut plugs, plug);
        }
        let load = LOADS[at % LOADS.len()];
        add(&mut parts, format!("  F{at}: fuse, 10 A, dash\n  S{at}: toggle switch, dash\n  load{at}: {load}, tail"));
        add(&mut wires, format!("  - M{group}.out to F{at}.in, red, 2.5 mm2, 0.3 m"));
        add(&mut wires, format!("  - F{at}.out to S{at}.a, red, 1.5 mm2, 0.5 m"));
        add(&mut wires, format!("  - load{at}.ground to G{}, black, 1.5 mm2, 0.8 m", group + 1));
        add(&mut plugs, format!("      - {}, brown, same, S{at}.b, load{at}.feed", at % SHARED + 1));
    }
    let head = "machine: Made up\nplaces: {dash: easy, tail: 4 min}\nchassis: frame\n";
    format!("{head}parts:\n{parts}wires:\n{wires}grounds:\n{grounds}plugs:\n{plugs}")
}
