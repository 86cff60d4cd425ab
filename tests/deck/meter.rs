//! Instruments put into the exported deck by hand: a general circuit simulator reads what the program says that the
//! meter reads.

use super::{Stand, solve};
use ohmward::circuit::deck::{DeckLevel, deck};
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::injure_in;
use ohmward::circuit::meter::{How, Observed, observe};
use ohmward::circuit::state::state_of;

/// The small machine with relays that an ohmmeter reads otherwise than their coils.
fn text() -> String {
    let relays = "  diode-relay: relay with diode, nose\n  damped: relay with resistor, nose\nsleeves:";
    let wires = "wires:\n  - S1 to diode-relay.86, green, 1 mm2, 1 m\n  - S1 to damped.86, green, 1 mm2, 1 m\n\
                 \x20 - diode-relay.85 to frame, black, 1 mm2, 1 m\n  - damped.85 to frame, black, 1 mm2, 1 m\n";
    super::SMALL.replacen("sleeves:", relays, 1).replacen("wires:\n", wires, 1)
}

/// Instrument, red, black, the rest of the test, fault; the lines that put the meter into the deck (`R` and `B` stand for
/// its sockets), and its reading out of the volts over them.
type Row = (&'static str, &'static str, &'static str, &'static str, &'static str, &'static str, fn(f64) -> f64);

fn ohms(volts: f64) -> f64 {
    volts * 1.7e3 / (0.6 - volts)
}

#[test]
fn meters_in_a_deck_read_as_the_program_says() {
    let volts: fn(f64) -> f64 = |v| v;
    let dc = "Rmeter R B 10e6";
    let loz = "Rmeter R B 3e3";
    let source = "Vmeter _meter B 0.6\nRmeter R _meter 1.7e3";
    let rows: Vec<Row> = vec![
        ("volts-dc", "tell.feed", "battery.neg", r#","set":{"key":"on"},"open":["horn"]"#, "", dc, volts),
        (
            "volts-dc",
            "fan.feed",
            "frame",
            r#","set":{"key":"on","fan-switch":"on"},"open":["horn","fan","lamp"]"#,
            "W9:resistive(2000000)",
            dc,
            volts,
        ),
        // Behind the blown fuse nothing leads anywhere: the meter finds no way back through it.
        ("volts-dc", "main-fuse.in", "main-fuse.out", r#","open":["horn"]"#, "main-fuse:blown", dc, volts),
        (
            "volts-loz",
            "fan.feed",
            "frame",
            r#","set":{"key":"on","fan-switch":"on"},"open":["horn","fan","lamp"]"#,
            "W9:resistive(2000)",
            loz,
            volts,
        ),
        (
            "volts-loz",
            "tell.feed",
            "battery.neg",
            r#","set":{"key":"on"},"open":["horn","tell"]"#,
            "W7:resistive(1000)",
            loz,
            volts,
        ),
        (
            "amps-dc",
            "main-fuse.in",
            "main-fuse.out",
            r#","set":{"key":"on","fan-switch":"on"},"open":["main-fuse","horn"]"#,
            "",
            "Rmeter R B 0.03",
            |v| v / 0.03,
        ),
        // Cold filaments; a coil with a diode over it, either way round; a coil with a resistor.
        ("ohms", "lamp.feed", "lamp.ground", r#","open":["battery"]"#, "", source, ohms),
        ("ohms", "diode-relay.86", "diode-relay.85", r#","open":["battery"]"#, "", source, ohms),
        ("ohms", "diode-relay.85", "diode-relay.86", r#","open":["battery"]"#, "", source, ohms),
        ("ohms", "damped.86", "damped.85", r#","open":["battery"]"#, "", source, ohms),
        ("ohms", "horn.feed", "horn.ground", r#","open":["battery"]"#, "", source, ohms),
    ];
    let mut stand = Stand::new("stand", &text());
    let mut bad = Vec::new();
    for (instrument, red, black, more, fault_name, lines, reading) in rows {
        let json = format!(r#"{{"instrument":"{instrument}","red":"{red}","black":"{black}"{more}}}"#);
        let test = stand.test(&json);
        let fault = if fault_name.is_empty() { Fault::healthy() } else { Fault::parse(fault_name).expect("a name") };
        let spec = state_of(stand.sim.schematic(), &stand.netlist, &test).unwrap_or_else(|p| panic!("{json}: {p:?}"));
        let injury = injure_in(stand.sim.schematic(), &stand.netlist, &stand.catalogue, &fault, &spec.changes)
            .unwrap_or_else(|p| panic!("{json}: {}", p.text));
        let state = stand.sim.state(&spec);
        let text = deck(&stand.sim, &stand.netlist, &spec, state, &injury, DeckLevel::Closed);
        let zero = stand.sim.schematic().zero;
        let node = |name: &str| match stand.netlist.point(name).expect("a point").index() {
            index if index == zero => "0".to_owned(),
            index => stand.sim.schematic().nodes[index].clone(),
        };
        let (r, b) = (node(red), node(black));
        let meter: String = lines
            .lines()
            .map(|line| {
                let words = line.split(' ').map(|word| match word {
                    "R" => r.as_str(),
                    "B" => b.as_str(),
                    other => other,
                });
                words.collect::<Vec<_>>().join(" ") + "\n"
            })
            .collect();
        let theirs = solve(&text.replacen(".options", &format!("{meter}.options"), 1));
        let at = |name: &str| if name == "0" { 0.0 } else { theirs[name] };
        let theirs = reading(at(&r) - at(&b));
        let answer = observe(&mut stand.sim, &stand.netlist, &stand.catalogue, &test, &fault, How::Afresh)
            .unwrap_or_else(|p| panic!("{json}: {p:?}"))
            .swap_remove(0);
        let Observed::Number { value, .. } = answer.what else { panic!("{json} {fault_name}: {answer:?}") };
        if (value - theirs).abs() > 1e-3 * theirs.abs().max(1.0) {
            bad.push(format!("{json} {fault_name}: {value} here, {theirs} there"));
        }
    }
    assert!(bad.is_empty(), "{}", bad.join("\n"));
}
