//! What the kinds of the catalogue do in a machine: what published tables and the trade say of them, met by the
//! computed circuit. Figures named "common practice" have no source.

use super::{ask, value, words};
use crate::deck::Stand;
use ohmward::circuit::meter::{How, Observed};

/// An invented machine with charging, starting, three flashers, gauges of every sort.
pub const FIELD: &str = "\
machine: Kinds
chassis: {frame: block by strap 6 AWG}
parts:
  battery: lead-acid battery, 12 V, 40 Ah
  main-fuse: fuse, 60 A
  key: key switch
  starter: starter, 100 A
  alternator: alternator, 45 A
  charge-lamp: tell-tale
  volts: voltmeter
  amps: ammeter, 30 A
  lights: light switch
  head: lamp, 55 W
  thermal: flasher
  outage: outage-sensing flasher
  fixed: electronic flasher
  turn: turn switch
  turn-b: turn switch
  turn-c: turn switch
  left: lamp, 21 W
  left2: lamp, 21 W
  left-b: lamp, 21 W
  left2-b: lamp, 21 W
  left-c: lamp, 21 W
  left2-c: lamp, 21 W
  led: LED lamp, 3 W
  leak: resistor, 1 kohm
  stab: voltage stabiliser
  temp: thermal gauge
  temp-sender: oil pressure gauge sender
  fuel: fuel gauge
  fuel-sender: fuel sender
  tank: falling-sender gauge
  tank-sender: falling fuel sender
  rear: stop and tail lamp
  brake: brake switch
wires:
  - battery.neg to block, black, 4 AWG, 0.5 m
  - battery.pos to starter.battery, red, 4 AWG, 1 m
  - battery.pos to amps.battery, red, 4 mm2, 1 m
  - amps.load to main-fuse.in, red, 4 mm2, 1 m
  - amps.load to alternator.output, red, 4 mm2, 1 m
  - main-fuse.out to key.feed, red, 4 mm2, 1 m
  - key.start to starter.solenoid, 2.5 mm2, 1 m
  - key.ignition to F1.in, 2.5 mm2, 1 m
  - key.lights to lights.feed, 2.5 mm2, 1 m
  - lights.head to head.feed, 2.5 mm2, 1 m
  - lights.tail to rear.tail, 1 mm2, 3 m
  - charge-lamp.ground to alternator.lamp, 1 mm2, 1 m
  - thermal.out to turn.feed, 1 mm2, 1 m
  - turn.left to left.feed, 1 mm2, 1 m
  - left.feed to left2.feed, 1 mm2, 1 m
  - outage.out to turn-b.feed, 1 mm2, 1 m
  - turn-b.left to left-b.feed, 1 mm2, 1 m
  - left-b.feed to left2-b.feed, 1 mm2, 1 m
  - fixed.out to turn-c.feed, 1 mm2, 1 m
  - turn-c.left to left-c.feed, 1 mm2, 1 m
  - left-c.feed to left2-c.feed, 1 mm2, 1 m
  - battery.pos to leak.a, 1 mm2, 1 m
  - leak.b to led.feed, 1 mm2, 1 m
  - stab.out to temp.feed, 1 mm2, 1 m
  - temp.sender to temp-sender.signal, 1 mm2, 1 m
  - fuel.sender to fuel-sender.signal, 1 mm2, 1 m
  - tank.sender to tank-sender.signal, 1 mm2, 1 m
  - brake.b to rear.stop, 1 mm2, 1 m
feeds:
  F1: fuse 30 A, [charge-lamp.feed, volts.feed, thermal.in, outage.in, fixed.in, stab.in, fuel.feed, tank.feed, brake.a]
grounds:
  G1: on block, [starter.ground, alternator.ground, temp-sender.ground]
  G2: on frame, [volts.ground, head.ground, outage.ground, fixed.ground, stab.ground, fuel.ground, fuel-sender.ground, tank.ground, tank-sender.ground]
  G3: on frame, [left.ground, left2.ground, left-b.ground, left2-b.ground, left-c.ground, left2-c.ground, led.ground, rear.ground]
";

fn watch(stand: &mut Stand, part: &str, set: &str, fault: &str) -> String {
    words(stand, &format!(r#"{{"instrument":"watch","part":"{part}","set":{{{set}}}}}"#), fault).swap_remove(0)
}

fn battery(stand: &mut Stand, instrument: &str, set: &str, fault: &str) -> f64 {
    let test = format!(r#"{{"instrument":"{instrument}","red":"battery.pos","black":"battery.neg","set":{{{set}}}}}"#);
    value(stand, &test, fault)
}

const ON: &str = r#""key":"on""#;
const IDLE: &str = r#""key":"on","engine":"idling""#;
const REV: &str = r#""key":"on","engine":"revving""#;
const START: &str = r#""key":"start""#;

#[test]
fn a_battery_stands_at_its_charge_sags_under_load_and_rises_while_it_is_charged() {
    let mut stand = Stand::new("kinds", FIELD);
    // 12.65 V full at rest (BCI table for flooded batteries, studylib.net/doc/18054160).
    assert!((battery(&mut stand, "volts-dc", "", "") - 12.65).abs() < 0.02);
    // 9.6 V and more while cranking (load-test table, Kia Amanti 2004), and below it with an old battery.
    let cranking = battery(&mut stand, "volts-dc", START, "");
    assert!((9.6..12.3).contains(&cranking), "{cranking}");
    assert!(battery(&mut stand, "volts-dc", START, "battery:weak(0.06)") < 9.6);
    // 13.8 to 14.7 V while it is charged (from memory, as the kind says), lights on or off.
    for set in [IDLE, REV, r#""key":"on","engine":"idling","lights":"on""#] {
        let charging = battery(&mut stand, "volts-dc", set, "");
        assert!((13.8..14.7).contains(&charging), "{set}: {charging}");
    }
    // A full battery takes an hour's current over eleven at 14.4 V, a flat one more.
    let amps = |stand: &mut Stand, fault: &str| {
        let test = format!(
            r#"{{"instrument":"amps-dc","red":"amps.load","black":"amps.battery","open":["amps"],"set":{{{IDLE}}}}}"#
        );
        value(stand, &test, fault)
    };
    let (full, flat) = (amps(&mut stand, ""), amps(&mut stand, "battery:flat(11)"));
    assert!((1.5..5.0).contains(&full) && flat > 1.5 * full, "{full} {flat}");
}

#[test]
fn an_alternator_over_charges_dies_and_ripples_as_the_contract_names_it() {
    let mut stand = Stand::new("kinds", FIELD);
    let over = battery(&mut stand, "volts-dc", REV, "alternator:over(16)");
    assert!((15.3..16.1).contains(&over), "{over}");
    assert!(
        battery(&mut stand, "volts-dc", REV, "alternator:over") == over,
        "16 V is what it means where none is said"
    );
    let dead = battery(&mut stand, "volts-dc", REV, "alternator:dead");
    assert!(dead < 12.7, "{dead}");
    // More than half a volt of AC is a diode gone (common practice, no source); none with all of them there.
    assert!(battery(&mut stand, "volts-ac", REV, "") < 0.05);
    assert!(battery(&mut stand, "volts-ac", REV, "alternator:ripple") > 0.5);
    let rippled = battery(&mut stand, "volts-dc", REV, "alternator:ripple");
    assert!(dead < rippled && rippled < battery(&mut stand, "volts-dc", REV, ""), "{rippled}");
    // With the engine stopped none of this shows.
    for fault in ["alternator:over(16)", "alternator:dead", "alternator:ripple"] {
        assert!(
            (battery(&mut stand, "volts-dc", ON, fault) - battery(&mut stand, "volts-dc", ON, "")).abs() < 1e-6,
            "{fault}"
        );
    }
    // Its lamp: lit with the key, dark when it charges, lit when it is dead, never lit with its field open.
    let lamp = |stand: &mut Stand, set: &str, fault: &str| watch(stand, "charge-lamp", set, fault);
    assert_eq!((lamp(&mut stand, ON, ""), lamp(&mut stand, IDLE, "")), ("lit".into(), "dark".into()));
    assert_eq!(lamp(&mut stand, IDLE, "alternator:dead"), "lit");
    assert_eq!(lamp(&mut stand, ON, "alternator:field"), "dark");
    // A diode that lets the battery back in: the lamp burns with the key out, and the field drains the battery
    // (as an owner met it: v8register.net, note 290).
    let drain = |stand: &mut Stand, fault: &str| {
        let test = r#"{"instrument":"amps-dc","red":"amps.battery","black":"amps.load","open":["amps"]}"#;
        value(stand, test, fault)
    };
    assert_eq!(lamp(&mut stand, "", ""), "dark");
    assert_ne!(lamp(&mut stand, "", "alternator:back-fed"), "dark");
    assert!(drain(&mut stand, "") < 0.01 && drain(&mut stand, "alternator:back-fed") > 0.3);
    // The needles in the dash tell of it.
    assert_eq!(watch(&mut stand, "volts", REV, "alternator:over(16)"), "high");
    assert_eq!(watch(&mut stand, "amps", r#""key":"on","lights":"on""#, ""), "low");
    assert_ne!(watch(&mut stand, "amps", r#""key":"on","lights":"on""#, "amps:reversed"), "low");
}

#[test]
fn a_starters_windings_pull_in_together_hold_alone_and_let_go() {
    let mut stand = Stand::new("kinds", FIELD);
    assert_eq!(watch(&mut stand, "starter", START, ""), "runs");
    // A solenoid operates at 8 V and more at its terminal (Prizm 2001 manual): some tenths of an ohm on the way are too
    // many for what both windings take.
    let on = |stand: &mut Stand, ohms: f64| {
        watch(stand, "starter", START, &format!("key-start_starter-solenoid:resistive({ohms})"))
    };
    assert_eq!(on(&mut stand, 0.1), "runs");
    assert_eq!(on(&mut stand, 0.5), "still", "too little is left for both windings");
    // The hold-in winding alone holds what both pulled in, and does not pull in by itself.
    assert_eq!(watch(&mut stand, "starter", START, "starter:pull-open"), "still");
    // Released, current comes back through the pull-in winding, and the contact lets go all the same.
    let test = format!(r#"{{"instrument":"watch","part":"starter","set":{{{START}}},"then":[{{"key":"on"}}]}}"#);
    assert_eq!(words(&mut stand, &test, ""), ["runs", "still"]);
    assert_eq!(words(&mut stand, &test, "starter:stuck-closed"), ["runs", "runs"]);
    // The hold-in winding open: it pulls in by the other alone, which its own contact then shorts.
    let crank = format!(r#"{{"instrument":"watch","part":"starter","set":{{{START}}}}}"#);
    assert!(ask(&mut stand, &crank, "starter:hold-open", How::Afresh)[0].chatters);
    assert!(!ask(&mut stand, &crank, "", How::Afresh)[0].chatters);
    // A battery with nothing left drops out under the motor and pulls in again.
    let weak = format!(r#"{{"instrument":"volts-dc","red":"battery.pos","black":"battery.neg","set":{{{START}}}}}"#);
    assert!(ask(&mut stand, &weak, "battery:weak(0.1)", How::Afresh)[0].chatters);
}

#[test]
fn three_flashers_tell_of_a_missing_lamp_each_in_its_way() {
    let mut stand = Stand::new("kinds", FIELD);
    let rate = |stand: &mut Stand, flasher: &str, switch: &str, fault: &str| {
        watch(stand, flasher, &format!(r#"{ON},"{switch}":"left""#), fault)
    };
    for (flasher, switch, both, one) in [
        ("thermal", "turn", "normal", "steady"),
        ("outage", "turn-b", "normal", "fast"),
        ("fixed", "turn-c", "normal", "normal"),
    ] {
        let lamp = format!("left{}", switch.trim_start_matches("turn"));
        assert_eq!(rate(&mut stand, flasher, switch, ""), both, "{flasher}");
        assert_eq!(rate(&mut stand, flasher, switch, &format!("{lamp}:open")), one, "{flasher}");
        let none = format!("{lamp}:open + left2{}:open", switch.trim_start_matches("turn"));
        assert_eq!(rate(&mut stand, flasher, switch, &none), "none", "{flasher}");
        assert_eq!(rate(&mut stand, flasher, switch, &format!("{flasher}:stuck-closed")), "steady", "{flasher}");
    }
    // Flashers are tried at 11.0, 12.0, 12.8, 14.0 and 15.0 V, and flash 60 to 120 times a minute (SAE J590,
    // tnlab.org; FMVSS 108, partsadvisory 2672).
    for volts in [11.0, 12.0, 12.8, 14.0, 15.0] {
        for (flasher, switch) in [("thermal", "turn"), ("outage", "turn-b"), ("fixed", "turn-c")] {
            assert_eq!(
                rate(&mut stand, flasher, switch, &format!("battery:flat({volts})")),
                "normal",
                "{flasher} {volts}"
            );
        }
    }
    // What the lamps show goes with it; a thermal one nears standing still before it does.
    let lamp = |stand: &mut Stand, part: &str, switch: &str, fault: &str| {
        watch(stand, part, &format!(r#"{ON},"{switch}":"left""#), fault)
    };
    assert_eq!(lamp(&mut stand, "left2-b", "turn-b", "left-b:open"), "fast-flash");
    assert_eq!(lamp(&mut stand, "left2", "turn", "left:open"), "lit");
    assert_eq!(lamp(&mut stand, "left2", "turn", "left:resistive(6)"), "slow-flash");
}

#[test]
fn leds_glow_on_leaks_and_do_not_mind_which_way_a_filament_would() {
    let mut stand = Stand::new("kinds", FIELD);
    // 1 kohm from plus: ten milliamps at most, nothing to a filament.
    assert_eq!(watch(&mut stand, "led", "", ""), "dim");
    assert_eq!(watch(&mut stand, "led", "", "led:reversed"), "dark");
    assert_eq!(watch(&mut stand, "led", "", "leak:shorted"), "lit");
}

#[test]
fn gauges_read_what_their_senders_say() {
    let mut stand = Stand::new("kinds", FIELD);
    let tank = |stand: &mut Stand, gauge: &str, level: &str, fault: &str| {
        watch(stand, gauge, &format!(r#"{ON},"fuel":"{level}""#), fault)
    };
    // Senders 0 to 90 ohm, 90 full (Pontiac Firebird 1999), and 240 to 33 ohm (Polaris PWC page).
    for (gauge, sender, open, shorted) in
        [("fuel", "fuel-sender", "pegged", "zero"), ("tank", "tank-sender", "zero", "pegged")]
    {
        assert_eq!(tank(&mut stand, gauge, "half", ""), "normal", "{gauge}");
        assert_eq!(tank(&mut stand, gauge, "full", ""), "high", "{gauge}");
        assert!(["zero", "low"].contains(&tank(&mut stand, gauge, "empty", "").as_str()), "{gauge}");
        assert_eq!(tank(&mut stand, gauge, "half", &format!("{sender}:open")), open, "{gauge}");
        assert_eq!(tank(&mut stand, gauge, "half", &format!("{sender}:shorted")), shorted, "{gauge}");
    }
    // A thermal gauge rests without pressure; its stabiliser holds ten volts whatever the battery has, and lets all
    // of it through once its own ground is gone.
    assert_eq!(
        (watch(&mut stand, "temp", ON, ""), watch(&mut stand, "temp", IDLE, "")),
        ("zero".into(), "normal".into())
    );
    let out = |stand: &mut Stand, set: &str, fault: &str| {
        value(stand, &format!(r#"{{"instrument":"volts-dc","red":"stab.out","black":"frame","set":{{{set}}}}}"#), fault)
    };
    for set in [ON, IDLE] {
        assert!((out(&mut stand, set, "") - 10.0).abs() < 0.3, "{set}");
    }
    assert!(out(&mut stand, IDLE, "stab.ground:open") > 13.0);
}

#[test]
fn a_stop_and_tail_lamp_tells_which_way_round_it_sits() {
    let mut stand = Stand::new("kinds", FIELD);
    let tail = r#""key":"on","lights":"park""#;
    let amps = |stand: &mut Stand, fault: &str| {
        let test = format!(
            r#"{{"instrument":"amps-dc","red":"rear.tail","black":"lights-tail_rear-tail.b","open":["lights-tail_rear-tail.b"],"set":{{{tail}}}}}"#
        );
        value(stand, &test, fault).abs()
    };
    let (right, turned) = (amps(&mut stand, ""), amps(&mut stand, "rear:turned"));
    // 5 W and 21 W: their amps are as one to four.
    assert!((3.5..4.5).contains(&(turned / right)), "{right} {turned}");
    // Its ground gone, the tail lamp's current goes back through the stop filament and what hangs on it.
    assert_eq!(watch(&mut stand, "rear", r#""key":"on","brake":"pressed""#, ""), "lit");
    assert_eq!(watch(&mut stand, "rear", r#""key":"on","brake":"pressed""#, "rear-ground_G3:open"), "dark");
}

/// A relay's input behind a flasher goes with it: a trailer module hands the flashing on.
#[test]
fn a_relay_behind_a_flasher_clicks_with_it() {
    let text = "\
machine: Tow
chassis: {frame: block by strap 6 AWG}
parts:
  battery: lead-acid battery, 12 V, 40 Ah
  flasher: flasher
  turn: turn switch
  left: lamp, 21 W
  left2: lamp, 21 W
  module: trailer lamp module
  socket: trailer socket
  trailer-left: LED lamp, 3 W
  trailer-tail: lamp, 5 W
  follower: relay
wires:
  - battery.neg to frame, black, 4 AWG, 0.5 m
  - battery.pos to flasher.in, red, 4 mm2, 1 m
  - battery.pos to module.feed, red, 4 mm2, 1 m
  - flasher.out to turn.feed, 1 mm2, 1 m
  - turn.left to left.feed, 1 mm2, 1 m
  - left.feed to left2.feed, 1 mm2, 1 m
  - left2.feed to module.left, 1 mm2, 1 m
  - left2.feed to follower.86, 1 mm2, 1 m
  - module.left-out to socket.left, 1 mm2, 1 m
  - module.tail-out to socket.tail-left, 1 mm2, 1 m
  - socket.t-left to trailer-left.feed, 1 mm2, 1 m
  - socket.t-tail-left to trailer-tail.feed, 1 mm2, 1 m
  - trailer-left.ground to socket.t-ground, 1 mm2, 1 m
  - trailer-tail.ground to socket.t-ground, 1 mm2, 1 m
grounds:
  G1: on frame, [left.ground, left2.ground, module.ground, socket.ground, follower.85]
";
    let mut stand = Stand::new("tow", text);
    let left = r#""turn":"left""#;
    assert_eq!(watch(&mut stand, "trailer-left", left, ""), "flashing");
    assert_eq!(watch(&mut stand, "follower", left, ""), "chatters");
    assert_eq!(watch(&mut stand, "trailer-left", left, "module:stuck-closed-left"), "lit");
    // The module's check current is enough for an LED and nothing to a filament.
    assert_eq!(watch(&mut stand, "trailer-left", "", ""), "dim");
    assert_eq!(watch(&mut stand, "trailer-tail", "", ""), "dark");
    assert_eq!(watch(&mut stand, "trailer-left", "", "module:no-check"), "dark");
    let test = r#"{"instrument":"volts-dc","red":"socket.t-left","black":"socket.t-ground","set":{"turn":"left"}}"#;
    let Observed::Range { from, to } = ask(&mut stand, test, "", How::Afresh).swap_remove(0).what else {
        panic!("swings")
    };
    assert!(from < 8.0 && to > 12.0, "{from} {to}");
}
