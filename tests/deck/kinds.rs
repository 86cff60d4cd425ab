//! Every kind of part in a small harness, healthy and with each of its faults, in each setting of its control, at both
//! levels of what chops: the exported deck solved by a general circuit simulator (ngspice) agrees within 1 mV.

use super::Stand;
use ohmward::catalogue::{Catalogue, Kind};
use ohmward::circuit::deck::DeckLevel;
use ohmward::circuit::meter::{How, observe};
use ohmward::circuit::test::Instrument;
use ohmward::text::span::Source;
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

/// Compares one kind of these rules; what disagrees, and how many decks were solved.
fn check(rules: &Catalogue, kind: &Kind, bad: &mut Vec<String>) -> usize {
    let faults: Vec<String> =
        std::iter::once(String::new()).chain(kind.modes.keys().map(|mode| format!("x:{mode}"))).collect();
    let chops = kind.elements.values().any(|e| e.what == ohmward::catalogue::kind::ElementType::Interrupter);
    let levels = if chops { vec![DeckLevel::Closed, DeckLevel::Open] } else { vec![DeckLevel::Closed] };
    let mut solved = 0;
    for turn in 0..2 {
        let mut stand = Stand::under(rules.clone(), &kind.name, &bench(kind, turn));
        for set in settings(kind) {
            for fault in &faults {
                for &level in &levels {
                    let (worst, at, count) = stand.compare(&set, "[]", fault, level);
                    solved += usize::from(count < usize::MAX);
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
    let rules = Catalogue::builtin();
    for kind in rules.kinds.values().filter(|kind| named(&kind.name)) {
        solved += check(&rules, kind, &mut bad);
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

/// A kind of a user's own, with most of what a kind can say: figures by a setting, a source that is charged, two
/// windings on one core, a flasher, a level and a needle.
const OWN: &str = "\
kind: wind charger
also: [whirligig]
about: an invented part
pins:
  plus: [\"+\"]
  blink: []
  ground: [\"-\"]
ratings:
  amps: {default: 6 A, spread: 0.1, source: invented}
control:
  shared: wind
  settings: [calm, breeze, gale]
  say: {calm: without wind, breeze: in a breeze, gale: in a gale}
elements:
  wheel: {type: source, from: .wheel, to: ground, volts: {calm: 0.5, breeze: 13, gale: 19}, ohms: 6 / amps, spread: 0.1}
  cell: {type: source, from: .cell, to: ground, volts: 12 V, ohms: 0.2 ohm, charge-ohms: 3 ohm, spread: 0.02}
  hold: {type: coil, from: .wheel, to: ground, ohms: 60 ohm, pull-in: 20 V, drop-out: 6 V, turns: 2, helped-by: pull, spread: 0.05}
  pull: {type: resistor, from: .wheel, to: plus, ohms: 40 ohm, spread: 0.05}
  cut: {type: contact, from: .wheel, to: plus, ohms: 10 mohm, make: hold, spread: 0.3}
  valve: {type: diode, from: plus, to: .cell, saturation: 7e-9, emission: 1.8, series: 30 mohm, spread: 0.1}
  blinker: {type: interrupter, from: plus, to: blink, ohms: 50 mohm, hertz: 1 Hz, duty: 0.4, works-amps: 100 mA, spread: 0.1}
showings:
  - {needle-amps: valve, zero: -1 * amps, full: amps, words: [zero, low, normal, high], at: [0.1, 0.45, 0.6], spread: [0.1, 0.1, 0.1], works: normal}
  - {flashes: blinker, words: [none, steady, slow, normal, fast], at: [50, 100], spread: [0.1, 0.1], works: normal}
  - {watts: wheel, rated: 50 W, words: [\"off\", \"on\"], at: [0.02], spread: [0.3], works: \"on\"}
modes:
  slow:
    does: {wheel: scale volts}
    argument: {name: times, default: 0.5, from: 0.2, to: 0.9}
    weight: 1
    repair: oil
    text: \"{part} turns at {value} of its speed\"
    source: invented
  worn:
    does: {wheel: series, cell: series}
    argument: {name: ohms, default: 1 ohm, from: 0.2 ohm, to: 20 ohm}
    weight: 1
    repair: oil
    text: \"{part} has {value} too much\"
    source: invented
  stuck:
    does: {hold: open}
    weight: 1
    repair: oil
    text: \"{part} never cuts in\"
    source: invented
repairs:
  oil: {text: \"oil {part}\", minutes: 10, harm: none, proof: it turns}
source: invented
";

#[test]
fn a_users_own_kind_is_solved_like_the_shipped_ones() {
    let own = Source::new("kinds/wind-charger.yaml", OWN);
    let rules = Catalogue::with(&[own]).unwrap_or_else(|troubles| {
        panic!("{}", troubles.iter().map(|(source, problem)| problem.render(source)).collect::<String>())
    });
    let mut bad = Vec::new();
    let solved = check(&rules, &rules.kinds["wind charger"], &mut bad);
    assert!(bad.is_empty() && solved >= 48, "{solved}\n{}", bad.join("\n"));
    // Its showing follows its shared control, as a control of the machine's own.
    let text = bench(&rules.kinds["wind charger"], 0).replace("  x: wind charger", "  x: whirligig, 8 A");
    let mut stand = Stand::under(rules, "own", &text);
    let mut amps = |wind: &str, fault: &str| {
        let json = format!(
            r#"{{"instrument":"amps-dc","red":"main-fuse.out","black":"main-fuse.in","open":["main-fuse"],"set":{{"wind":"{wind}"}}}}"#
        );
        let test = stand.test(&json);
        let fault = ohmward::circuit::fault::Fault::parse(fault).expect("a name");
        let seen =
            observe(&mut stand.sim, &stand.netlist, &stand.catalogue, &test, &fault, How::Afresh).expect("an answer");
        let json = seen[0].to_json(Instrument::AmpsDc);
        let at = |key: &str| json[key].as_f64();
        // The blinker swings it: both ends then.
        at("value").or_else(|| Some((at("from")? + at("to")?) / 2.0)).unwrap_or(f64::NAN)
    };
    let (calm, gale) = (amps("calm", "nothing-broken"), amps("gale", "nothing-broken"));
    assert!(gale > calm + 2.0, "{calm} {gale}");
    assert!(amps("gale", "x:stuck") < gale - 1.0);
}
