//! Machines that a seed draws, as wiring files: sensible ones, and wild ones that join anything to anything. Every machine
//! is an invention of chance.

mod numbers;
mod truth;

use fastrand::Rng;
use ohmward::catalogue::Catalogue;
use std::fmt::Write;

/// What circuits of a sensible machine feed.
const LOADS: [(&str, &str); 8] = [
    ("lamp", "lamp, 21 W"),
    ("marker", "lamp, 5 W"),
    ("horn", "horn, 3.5 A"),
    ("fan", "fan, 4 A"),
    ("telltale", "tell-tale, 2 W"),
    ("heater", "heater, 60 W"),
    ("led", "LED lamp"),
    ("valve", "solenoid valve"),
];

/// Rows of a wiring file being made.
#[derive(Default)]
struct Rows {
    parts: String,
    wires: String,
    grounds: String,
    plug: String,
}

impl Rows {
    fn part(&mut self, name: &str, what: &str, rng: &mut Rng) {
        writeln!(self.parts, "  {name}: {what}, {}", ["dash", "nose", "tail"][rng.usize(..3)]).unwrap();
    }

    fn wire(&mut self, from: &str, to: &str, rng: &mut Rng) {
        let colour = ["red", "brown", "blue/white", "green", "violet", "black"][rng.usize(..6)];
        let size = ["0.75", "1", "1.5", "2.5"][rng.usize(..4)];
        writeln!(self.wires, "  - {from} to {to}, {colour}, {size} mm2, {:.1} m", 0.2 + 3.0 * rng.f64()).unwrap();
    }

    fn text(&self) -> String {
        let head = "machine: Drawn\nplaces: {dash: easy, nose: 3 min, tail: 4 min}\nchassis: frame\n";
        let Rows { parts, wires, grounds, plug } = self;
        let plugs = if plug.is_empty() {
            String::new()
        } else {
            format!(
                "plugs:\n  P1:\n    is: through\n    a: dash, 1 m, 1.5 mm2, crimp sleeve\n    b: nose\n    ways:\n{plug}"
            )
        };
        format!("{head}parts:\n{parts}wires:\n{wires}grounds:\n{grounds}{plugs}")
    }
}

/// A machine as somebody might build it: fuses, switches, relays, a plug, loads at grounds that some share.
pub fn sensible(seed: u64) -> String {
    let mut rng = Rng::with_seed(seed);
    let rng = &mut rng;
    let mut rows = Rows::default();
    rows.part("battery", "lead-acid battery, 12 V, 14 Ah", rng);
    rows.part("main-fuse", "fuse, 30 A", rng);
    rows.wire("battery.pos", "main-fuse.in", rng);
    rows.wire("battery.neg", "G0", rng);
    writeln!(rows.grounds, "  G0: {{place: nose, on: frame}}").unwrap();
    let mut feed = String::from("main-fuse.out");
    if rng.bool() {
        rows.part("key", "key switch", rng);
        rows.wire("main-fuse.out", "key.feed", rng);
        feed = "key.ignition".into();
    }
    for circuit in 1..=1 + rng.usize(..4) {
        let (name, what) = LOADS[rng.usize(..LOADS.len())];
        let load = format!("{name}{circuit}");
        rows.part(&load, what, rng);
        let mut from = feed.clone();
        if rng.u8(..3) > 0 {
            rows.part(&format!("F{circuit}"), "fuse, 10 A", rng);
            rows.wire(&from, &format!("F{circuit}.in"), rng);
            from = format!("F{circuit}.out");
        }
        if rng.u8(..4) == 0 {
            let relay = format!("R{circuit}");
            rows.part(&relay, ["relay", "relay with diode", "relay with resistor"][rng.usize(..3)], rng);
            rows.part(&format!("S{circuit}"), "toggle switch", rng);
            rows.wire(&from, &format!("{relay}.30"), rng);
            rows.wire(&from, &format!("S{circuit}.a"), rng);
            rows.wire(&format!("S{circuit}.b"), &format!("{relay}.86"), rng);
            rows.wire(&format!("{relay}.85"), "G0", rng);
            from = format!("{relay}.87");
        } else if rng.u8(..5) > 0 {
            rows.part(&format!("S{circuit}"), ["toggle switch", "push switch"][rng.usize(..2)], rng);
            rows.wire(&from, &format!("S{circuit}.a"), rng);
            from = format!("S{circuit}.b");
        }
        if rng.bool() {
            writeln!(rows.plug, "      - {circuit}, red, same, {from}, {load}.feed").unwrap();
        } else {
            rows.wire(&from, &format!("{load}.feed"), rng);
        }
        let ground = match rng.u8(..4) {
            0 => {
                writeln!(rows.grounds, "  G{circuit}: {{place: tail, on: frame}}").unwrap();
                format!("G{circuit}")
            }
            1 => "frame".into(),
            _ => "G0".into(),
        };
        rows.wire(&format!("{load}.ground"), &ground, rng);
    }
    rows.text()
}

/// Any parts, any pins joined, any sizes and lengths.
pub fn wild(seed: u64) -> String {
    let mut rng = Rng::with_seed(seed);
    let rng = &mut rng;
    let catalogue = Catalogue::builtin();
    let kinds: Vec<_> = catalogue.kinds.values().collect();
    let mut rows = Rows::default();
    let mut pins = vec![String::from("frame"), "G0".into(), "battery.pos".into(), "battery.neg".into()];
    writeln!(rows.grounds, "  G0: {{place: nose, on: frame}}").unwrap();
    rows.part("battery", "lead-acid battery, 12 V, 14 Ah", rng);
    for at in 0..1 + rng.usize(..7) {
        let kind = kinds[rng.usize(..kinds.len())];
        let unfitted = if rng.u8(..12) == 0 { ", not fitted" } else { "" };
        writeln!(rows.parts, "  p{at}: {}{}, dash{unfitted}", kind.name, rating(&kind.name, rng)).unwrap();
        pins.extend(kind.pins.keys().map(|pin| format!("p{at}.{pin}")));
    }
    for _ in 0..pins.len() + rng.usize(..4) {
        let (a, b) = (rng.usize(..pins.len()), rng.usize(..pins.len()));
        let length = 10_f64.powf(rng.f64() * 5.0 - 2.0);
        let size = ["0.35 mm2", "1 mm2", "22 AWG", "35 mm2"][rng.usize(..4)];
        if a != b {
            writeln!(rows.wires, "  - {} to {}, red, {size}, {length:.2} m", pins[a], pins[b]).unwrap();
        }
    }
    rows.text()
}

/// A rating now and then, often an odd one.
fn rating(kind: &str, rng: &mut Rng) -> String {
    let decade = 10_f64.powf(rng.f64() * 4.0 - 2.0);
    match kind {
        "fuse" | "fusible link" | "circuit breaker" => format!(", {decade:.2} A"),
        "filament lamp" | "tell-tale" | "heater" => format!(", {decade:.2} W"),
        "motor" | "horn" => format!(", {decade:.2} A"),
        "resistor" => format!(", {decade:.3} ohm"),
        _ => String::new(),
    }
}
