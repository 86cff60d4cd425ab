//! What wires of one loom do to each other: the formulas against worked figures, and what a circuit picks up.
//!
//! The figures of T11 to T13 and of the adjacent wires were recomputed from the formulas of C. R. Paul, *Introduction to
//! Electromagnetic Compatibility*, chapter 9 (formulas and the ribbon cable's inputs from memory); the book's own values
//! for the ribbon, .7485, 1.0154 and .5077 uH/m, are from memory and allow for wires that are not widely spaced.

use super::{ask, value};
use crate::deck::Stand;
use ohmward::circuit::coupling::pickup::Scene;
use ohmward::circuit::coupling::{Back, EPSILON, Lie, MU, PerMetre, ShortLine, induced, radius, ramped};
use ohmward::circuit::fault::resolve;
use ohmward::circuit::injury::injure;
use ohmward::circuit::meter::{How, Observed};
use ohmward::circuit::state::state_of;
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::machine::Machine;

const MIL: f64 = 25.4e-6;

fn near(value: f64, expected: f64, relative: f64) {
    assert!((value / expected - 1.0).abs() < relative, "{value:e} is not {expected:e}");
}

/// C. R. Paul's ribbon cable: 28 gauge, 50 mil apart, an outer wire carries the return.
fn ribbon() -> PerMetre {
    let back = Back::Wire { radius: 7.5 * MIL, away: [50.0 * MIL, 100.0 * MIL] };
    Lie { radius: [7.5 * MIL; 2], apart: 50.0 * MIL, back }.per_metre(1.0)
}

/// Two metres of 1 mm² wire in a loom, 3 mm apart, 20 mm over the frame.
fn loom() -> PerMetre {
    Lie { radius: [radius(1.0); 2], apart: 3e-3, back: Back::Metal { height: [20e-3; 2] } }.per_metre(1.7)
}

#[test]
fn two_wires_over_a_plane() {
    // T11: r = 16 mil, height and distance 2 cm.
    let lie = Lie { radius: [16.0 * MIL; 2], apart: 0.02, back: Back::Metal { height: [0.02; 2] } };
    let per_metre = lie.per_metre(1.0);
    near(per_metre.own[0], 0.9179e-6, 1e-4);
    near(per_metre.mutual, 0.1609e-6, 3e-4);
    near(per_metre.between, 2.193e-12, 3e-4);
    near(per_metre.to_back[0], 10.314e-12, 1e-4);
    // In one stuff all round L C = µ ε, row by row.
    let [l, m, c] = [per_metre.own[0], per_metre.mutual, per_metre.to_back[0] + per_metre.between];
    near(l * c - m * per_metre.between, MU * EPSILON, 1e-9);
    assert!((m * c - l * per_metre.between).abs() < 1e-9 * MU * EPSILON);
}

#[test]
fn a_ribbon_cable() {
    // T12, wide spacing; the book's own values lie within 2.1 % (from memory).
    let per_metre = ribbon();
    near(per_metre.own[0], 0.7588e-6, 1e-4);
    near(per_metre.own[1], 1.0361e-6, 1e-4);
    near(per_metre.mutual, 0.5180e-6, 2e-4);
    for (ours, book) in [(per_metre.own[0], 0.7485e-6), (per_metre.own[1], 1.0154e-6), (per_metre.mutual, 0.5077e-6)] {
        near(ours, book, 0.0211);
    }
}

#[test]
fn a_short_line_against_the_exact_one() {
    // T13: the same ribbon, 2 m, 50 ohm at all loads, no ohms in the source, 10 kHz. By the chain matrix, exactly:
    // 6.96790e-4 at the near end.
    let line = ShortLine {
        mutual: 2.0 * 0.5077e-6,
        between: 2.0 * 18.716e-12,
        source: 0.0,
        load: 50.0,
        near: 50.0,
        far: 50.0,
    };
    let [near_end, far_end] = line.ends(10e3);
    near(near_end, 6.96790e-4, 1e-4);
    near(far_end, 5.792e-4, 1e-4);
    let shared = line.shared_return(2.0 * 0.1944);
    near(shared, 3.888e-3, 1e-4);
    near(10e3 * shared / near_end, 55.8e3, 1e-3);
}

#[test]
fn adjacent_wires() {
    // Two metres of 18 AWG, 0.512 mm thick from the middle, all three 2.5 mm apart: 0.634 uH; 5 A cut in 10 us: 0.317 V.
    let back = Back::Wire { radius: 0.512e-3, away: [2.5e-3; 2] };
    let mutual = 2.0 * Lie { radius: [0.512e-3; 2], apart: 2.5e-3, back }.per_metre(1.0).mutual;
    near(mutual, 0.634e-6, 1e-3);
    near(induced(mutual, 5.0, 10e-6), 0.317, 1e-3);
    near(radius(0.8231), 0.512e-3, 1e-3);
}

#[test]
fn kicks_of_a_loom() {
    // Working figures of this project's own prototype, a toy circuit: the order of magnitude is what counts.
    let mutual = 2.0 * loom().mutual;
    let into_100_ohm = std::f64::consts::TAU * 400.0 * mutual * 4.0;
    near(into_100_ohm, 10e-3, 0.1);
    for (seconds, volts) in [(1e-6, 4.2), (5e-6, 0.83), (50e-6, 0.083)] {
        near(induced(mutual, 4.0, seconds), volts, 0.03);
    }
    // The wires' own capacitance to the metal stands beside the ohms.
    let beside = 2.0 * loom().to_back[0];
    near(ramped(40e-12, beside, 9e3, 150.0, 5e-6), 11.0, 0.05);
    near(ramped(40e-12, beside, 47e3, 150.0, 5e-6), 45.0, 0.1);
    near(2.0 * loom().between, 40e-12, 0.15);
    // Without ohms to drain it the two capacitances divide.
    near(ramped(40e-12, 40e-12, f64::INFINITY, 150.0, 5e-6), 75.0, 1e-9);
    assert_eq!(ramped(0.0, 0.0, 1e3, 150.0, 5e-6), 0.0);
}

#[test]
fn a_ramp_into_ohms_against_small_steps() {
    for (farad, beside, ohms) in [(40e-12, 0.0, 9e3), (40e-12, 30e-12, 47e3), (20e-12, 200e-12, 1e6)] {
        let (steps, time) = (200_000, 5e-6);
        let dt = time / f64::from(steps);
        let mut volts = 0.0;
        for _ in 0..steps {
            volts += dt * (farad * 150.0 / time - volts / ohms) / (farad + beside);
        }
        near(ramped(farad, beside, ohms, 150.0, time), volts, 1e-3);
    }
}

/// A cart whose rev gauge's signal runs beside the horn's feed.
fn stand(gauge: &str, load: &str) -> Stand {
    Stand::new(
        "loom",
        &format!(
            "\
machine: Loom stand
chassis: {{frame: block by strap 6 AWG}}
places: {{dash: easy, nose: easy}}
parts:
  battery: lead-acid battery, 12 V, 40 Ah, nose
  key: toggle switch, dash
  horn-push: push switch, dash
  horn: {load}, nose
  gauge: {gauge}, dash
  ignition: ignition module, nose
wires:
  - battery.pos to key.a, red, 6 mm2, 0.3 m
  - battery.neg to frame, black, 16 mm2, 0.3 m
  - key.b to gauge.feed, green, 2.5 mm2, 0.3 m
  - key.b to horn-push.a, red, 2.5 mm2, 0.3 m
  - W7: horn-push.b to horn.feed, red, 1 mm2, 2 m
  - W12: ignition.signal to gauge.signal, white, 1 mm2, 2 m
  - W13: gauge.ground to frame, black, 6 mm2, 0.3 m
looms:
  dash: {{wires: [W7, W12], run: 2 m, lies-on: frame}}
grounds:
  G1: nose, on frame, [horn.ground, ignition.ground]
"
        ),
    )
}

const PRESSED: &str = r#""set":{"key":"on","horn-push":"pressed"}"#;
const RELEASED: &str = r#""set":{"key":"on"}"#;
const COUPLED: &str = "W7~W12:coupled";

fn volts(stand: &mut Stand, instrument: &str, set: &str, fault: &str) -> f64 {
    let test = format!(r#"{{"instrument":"{instrument}","red":"gauge.signal","black":"gauge.ground",{set}}}"#);
    value(stand, &test, fault)
}

/// Chance that the gauge stands at zero.
fn at_zero(stand: &mut Stand, set: &str, fault: &str) -> f64 {
    let test = format!(r#"{{"instrument":"watch","part":"gauge",{set}}}"#);
    match ask(stand, &test, fault, How::Afresh).swap_remove(0).what {
        Observed::Showing(words) => words.iter().filter(|(word, _)| word == "zero").map(|(_, p)| p).sum(),
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_circuit_hands_on_what_the_formulas_say() {
    let mut stand = stand("pulse gauge", "horn, 4 A");
    let test = stand.test(&format!(r#"{{"instrument":"watch","part":"gauge",{PRESSED}}}"#));
    let spec = state_of(stand.sim.schematic(), &stand.netlist, &test).expect("a state");
    let state = stand.sim.state(&spec);
    let fault = resolve::read(COUPLED, &stand.netlist, &stand.catalogue).expect("a name");
    let injury = injure(stand.sim.schematic(), &stand.netlist, &stand.catalogue, &fault).expect("an injury");
    let outcome = stand.sim.run(state, &injury);
    let loom_data = &stand.catalogue.wire.loom;
    let scene = Scene { sim: &stand.sim, netlist: &stand.netlist, loom: loom_data, injury: &injury, outcome: &outcome };
    let point = |name: &str| stand.netlist.point(name).expect("a point").index();
    let at = scene.breaks()[0];
    let w7 = stand.sim.schematic().by_name["W7"];
    let amps = stand.sim.element_amps(&outcome, at.closed, w7);
    assert!(amps > 6.0 && stand.sim.element_amps(&outcome, at.open, w7).abs() < 1e-6, "{amps}");
    // 1 kohm of the module and 20 kohm of the gauge: a divider for what is induced, in parallel for the rest.
    let by_amps = induced(2.0 * loom().mutual, amps, 5e-6) * 20.0 / 21.0;
    let by_volts = ramped(2.0 * loom().between, 2.0 * loom().to_back[0], 20e3 / 21.0, 150.0, 5e-6);
    near(scene.kick(at, point("gauge.signal"), point("gauge.ground")), by_amps.hypot(by_volts), 1e-3);
    // Healthy, the same line is driven and picks up nothing that counts.
    let healthy = Scene { injury: &ohmward::circuit::injury::Injury::default(), ..scene };
    assert_eq!(healthy.kick(at, point("gauge.signal"), point("gauge.ground")), 0.0);
}

#[test]
fn coupling_is_seen_by_the_gauge_and_the_ac_range_and_by_no_dc_meter() {
    let mut stand = stand("pickup gauge", "horn, 4 A");
    assert_eq!(volts(&mut stand, "volts-dc", PRESSED, COUPLED), volts(&mut stand, "volts-dc", PRESSED, ""));
    let (healthy, coupled) =
        (volts(&mut stand, "volts-ac", PRESSED, ""), volts(&mut stand, "volts-ac", PRESSED, COUPLED));
    assert!(coupled > healthy + 1e-3 && coupled < 0.1, "{healthy} {coupled}");
    assert_eq!(volts(&mut stand, "volts-ac", RELEASED, COUPLED), volts(&mut stand, "volts-ac", RELEASED, ""));
    // Thresholds of 0.2 and 0.3 V are crossed by some volts; the horn released, nothing is.
    assert!(at_zero(&mut stand, PRESSED, "") > 0.9);
    assert!(at_zero(&mut stand, PRESSED, COUPLED) < 0.1);
    assert!(at_zero(&mut stand, RELEASED, COUPLED) > 0.9);
}

#[test]
fn with_a_steady_lamp_in_the_place_of_the_horn_coupling_goes() {
    let mut stand = stand("pickup gauge", "filament lamp, 48 W");
    assert!(at_zero(&mut stand, PRESSED, COUPLED) > 0.9);
    assert_eq!(volts(&mut stand, "volts-ac", PRESSED, COUPLED), volts(&mut stand, "volts-ac", PRESSED, ""));
}

#[test]
fn an_open_signal_wire_picks_up_the_horns_kicks() {
    let mut stand = stand("pulse gauge", "horn, 4 A");
    // Open at the module's end two metres of it float; open at the gauge's own pin nothing does.
    assert!(at_zero(&mut stand, PRESSED, "") > 0.9);
    assert!(at_zero(&mut stand, PRESSED, "W12.a:open") < 0.1);
    assert!(at_zero(&mut stand, RELEASED, "W12.a:open") > 0.9);
    assert!(at_zero(&mut stand, PRESSED, "W12.b:open") > 0.9);
    // With the horn's own current gone there is nothing to pick up.
    assert!(at_zero(&mut stand, PRESSED, "W12.a:open + horn:open") > 0.9);
    // It is dead to the engine: a gauge that was dead before.
    let idling = r#""set":{"key":"on","engine":"idling"}"#;
    assert!(at_zero(&mut stand, idling, "W12.a:open") > 0.9);
    assert!(at_zero(&mut stand, idling, "") < 0.1);
}

#[test]
fn a_coupled_pair_is_two_wires() {
    let stand = stand("pulse gauge", "horn, 4 A");
    let read = |name: &str| resolve::read(name, &stand.netlist, &stand.catalogue);
    assert_eq!(read("w12~W7:coupled").expect("a name").to_string(), COUPLED);
    for name in
        ["W7~W7:coupled", "W7~frame:coupled", "W7.a~W12:coupled", "W7:coupled", "W7~W12:coupled(2)", "W7~W99:coupled"]
    {
        let problems = read(name).expect_err(name);
        assert!(problems[0].text.contains(':'), "{name}: {problems:?}");
    }
}

#[test]
fn signal_wires_beside_what_chops_are_suspects() {
    let suspects = |load: &str| {
        let stand = stand("pulse gauge", load);
        enumerate(&Machine::new(stand.netlist, stand.catalogue), true)
    };
    let with_horn = suspects("horn, 4 A");
    let at = with_horn.by_name(COUPLED).expect("a suspect");
    assert!(with_horn.list[at].class.starts_with("reroute:"), "{}", with_horn.list[at].class);
    assert!(with_horn.list[at].prior > 0.0);
    assert!(suspects("filament lamp, 48 W").by_name(COUPLED).is_none());
    for list in [&with_horn.list, &suspects("filament lamp, 48 W").list] {
        near(list.iter().map(|suspect| suspect.prior).sum(), 1.0, 1e-9);
    }
}
