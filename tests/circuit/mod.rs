//! The circuit: names of faults in a machine, what they do, states, instruments.

mod coupling;
pub mod kinds;
mod meter;
mod names;
mod states;
mod warm;

use crate::deck::Stand;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::meter::{How, Observation, observe};

/// A machine with a plug, a splice of three, a relay that holds itself, and a flasher.
pub const PLUGGED: &str = "\
machine: Plug stand
chassis: {frame: block by strap 10 AWG}
places: {dash: easy, nose: easy}
parts:
  battery: lead-acid battery, 12 V, 14 Ah, nose
  main-fuse: fuse, 10 A, nose
  key: key switch, dash
  horn: horn, 3.5 A, nose
  horn-push: push switch, dash
  left: filament lamp, 21 W, nose
  right: filament lamp, 21 W, nose
  spare: filament lamp, 21 W, nose, not fitted
  latch: relay, nose
  latch-on: push switch, dash
  flasher: flasher, nose
  turn: turn switch, dash
  oil: oil pressure switch, nose
  oil-lamp: tell-tale, dash
  ignition: ignition module, nose
plugs:
  P9:
    a: dash, 1 m, 1.5 mm2, crimp sleeve
    b: nose
    ways:
      - 1, red, red, key.ignition, S3, beep
      - 2, black, black, horn-push.a, horn.ground, beep
      - 3, grey, grey, turn.left, left.feed, ?
      - 4, violet, violet, turn.right, right.feed, ?
sleeves:
  S3: crimp sleeve, nose
wires:
  - battery.pos to main-fuse.in, red, 10 AWG, 0.3 m
  - W2: battery.neg to frame, black, 10 AWG, 0.3 m
  - main-fuse.out to key.feed, red, 2.5 mm2, 1 m
  - W4: S3 to horn.feed, red, 1.5 mm2, 0.4 m
  - W5: S3 to latch-on.a, red, 1.5 mm2, 1 m
  - W6: S3 to latch.30, red, 1.5 mm2, 0.4 m
  - W7: latch-on.b to latch.86, white, 1 mm2, 1 m
  - W8: latch.87 to latch.86, white, 1 mm2, 0.2 m
  - W9: S3 to flasher.in, red, 1.5 mm2, 0.3 m
  - W10: flasher.out to turn.feed, orange, 1.5 mm2, 1 m
  - W11: S3 to oil-lamp.feed, red, 1 mm2, 1 m
  - W12: oil-lamp.ground to oil.a, blue, 1 mm2, 1 m
grounds:
  G1: nose, on frame, [latch.85, left.ground, right.ground, horn-push.b]
  G2: nose, on block, [oil.b, ignition.ground]
";

pub fn ask(stand: &mut Stand, test: &str, fault: &str, how: How) -> Vec<Observation> {
    let test = stand.test(test);
    let fault = if fault.is_empty() { Fault::healthy() } else { Fault::parse(fault).expect("a name") };
    observe(&mut stand.sim, &stand.netlist, &stand.catalogue, &test, &fault, how)
        .unwrap_or_else(|problems| panic!("{test:?} {fault}: {problems:?}"))
}

/// The volts (or ohms, amps) of the first answer.
pub fn value(stand: &mut Stand, test: &str, fault: &str) -> f64 {
    let answer = ask(stand, test, fault, How::Afresh).swap_remove(0);
    let json = answer.to_json(ohmward::circuit::test::Instrument::VoltsDc);
    json["value"].as_f64().unwrap_or_else(|| panic!("{test} {fault}: {json}"))
}

/// The likeliest word of each answer.
pub fn words(stand: &mut Stand, test: &str, fault: &str) -> Vec<String> {
    ask(stand, test, fault, How::Afresh)
        .iter()
        .map(|answer| {
            answer.to_json(ohmward::circuit::test::Instrument::Watch)["showing"].as_str().unwrap_or("?").to_string()
        })
        .collect()
}
