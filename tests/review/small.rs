//! Machines with one thing wrong each, and the same put right.

use super::{found, none, of, one, whole};
use ohmward::review::{Finding, Severity, worst};

/// Nothing is wrong here but what every machine has to see to.
const SOUND: &str = "\
machine: Stand
chassis: {frame: block by strap 10 mm2}
places:
  dash: easy
  rear: easy
  bay: {reach: 2 min, warm: 80 C}
parts:
  battery: battery, 12 V, 30 Ah, rear
  main-fuse: fuse, 20 A, rear
  start-fuse: fuse, 5 A, rear
  key: toggle switch, dash
  lamp-switch: toggle switch, dash
  lamp: lamp, 21 W, rear
  horn-push: push switch, dash
  horn: horn, 3.5 A, rear
  gauge: fuel gauge, dash
  sender: fuel sender, rear
  neutral: neutral switch, bay
  start-push: push switch, dash
  start-relay: starter relay, rear
  starter: starter motor, 60 A, bay
wires:
  - Strap: frame to block, bare, 16 mm2, 0.3 m
  - battery.neg to block, black, 25 mm2, 0.4 m
  - battery.pos to start-relay.battery, red, 25 mm2, 0.3 m
  - start-relay.motor to starter.feed, red, 25 mm2, 0.5 m
  - starter.ground to block, bare, 25 mm2, 0.05 m
  - battery.pos to main-fuse.in, red, 4 mm2, 0.2 m
  - W1: main-fuse.out to key.a, red, 2.5 mm2, 1 m
  - W2: key.b to lamp-switch.a, red, 1.5 mm2, 0.2 m
  - W3: lamp-switch.b to lamp.feed, yellow, 1.5 mm2, 1 m
  - W4: key.b to horn-push.a, red, 1.5 mm2, 0.2 m
  - W5: horn-push.b to horn.feed, brown, 1.5 mm2, 1 m
  - W6: key.b to gauge.feed, red, 1.5 mm2, 0.2 m
  - W7: gauge.sender to sender.signal, pink, 1.5 mm2, 1 m
  - W8: key.b to start-fuse.in, red, 1.5 mm2, 0.2 m
  - W9: start-fuse.out to start-push.a, red, 1.5 mm2, 0.2 m
  - W10: start-push.b to start-relay.coil, green, 1.5 mm2, 1 m
  - W11: start-relay.coil-ground to neutral.signal, black, 1.5 mm2, 0.5 m
  - W12: neutral.ground to block, bare, 6 mm2, 0.05 m
grounds:
  G1: rear, on frame, [lamp.ground, horn.ground]
  G2: dash, on frame, [gauge.ground]
  G3: rear, on frame, [sender.ground]
";

/// The sound machine with each of these put in another's place.
#[track_caller]
fn with(changes: &[(&str, &str)]) -> Vec<Finding> {
    let text = changes.iter().fold(SOUND.to_string(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    });
    let found = found(&text);
    found.iter().for_each(whole);
    found
}

#[test]
fn of_a_sound_machine_nothing_is_said() {
    let mut found = with(&[]);
    // Whoever wants the engine out has bolts to undo on any machine.
    assert!(one(&found, "engine-out").text.contains("Strap at block"));
    found.retain(|finding| finding.sort != "engine-out");
    assert!(found.is_empty(), "{found:#?}");
}

#[test]
fn findings_stand_worst_first_and_the_worst_is_known() {
    let found = with(&[
        ("red, 2.5 mm2, 1 m", "red, 0.35 mm2, 1 m"),
        ("W12: neutral.ground to block", "W12: neutral.ground to neutral.signal"),
    ]);
    assert!(found.windows(2).all(|two| two[0].severity <= two[1].severity), "{found:#?}");
    assert_eq!(worst(&found), Some(Severity::Hurts));
    assert_eq!(worst(&[]), None);
    assert_eq!(
        [Severity::Hurts, Severity::Fails, Severity::Marginal].map(Severity::word),
        ["hurts", "fails", "marginal"]
    );
}

#[test]
fn a_thin_wire_behind_a_big_fuse_hurts_and_one_whose_size_is_not_written_is_asked_about() {
    let thin = with(&[("red, 2.5 mm2, 1 m", "red, 0.35 mm2, 1 m")]);
    let found = one(&thin, "wire-fuse");
    assert!(
        found.severity == Severity::Hurts && found.text.contains("main-fuse (20 A)") && found.text.contains("W1"),
        "{found:?}"
    );
    none(&with(&[("red, 2.5 mm2, 1 m", "red, 1 m")]), "wire-fuse-guessed");
    let guessed = with(&[
        ("red, 2.5 mm2, 1 m", "red, 1 m"),
        ("main-fuse: fuse, 20 A", "main-fuse: fuse, 40 A"),
        ("1.5 mm2", "4 mm2"),
    ]);
    let found = one(&guessed, "wire-fuse-guessed");
    assert!(found.severity == Severity::Marginal && found.text.contains("W1"), "{found:?}");
}

#[test]
fn a_hot_place_takes_from_what_a_wire_may_carry() {
    // 1.5 mm2 behind 20 A is well in cool air, and not at 80 C: 27.6 A fall to 15.9, one and a half times that to 23.9.
    let moved = |place: &str, fuse: &str| {
        with(&[
            ("lamp: lamp, 21 W, rear", &format!("lamp: lamp, 21 W, {place}")),
            ("main-fuse: fuse, 20 A", &format!("main-fuse: fuse, {fuse}")),
        ])
    };
    none(&moved("rear", "25 A"), "wire-fuse");
    let hot = moved("bay", "25 A");
    let found = one(&hot, "wire-fuse");
    assert!(found.text.contains("at 80 C") && found.text.contains("W3"), "{found:?}");
}

#[test]
fn a_feed_without_a_fuse_hurts_when_it_is_long_and_is_marginal_when_a_sheath_would_do() {
    // 33 CFR 183.455 (b): 40 inches in a sheath.
    let long = |metres: &str| {
        with(&[(
            "battery.pos to main-fuse.in, red, 4 mm2, 0.2 m",
            &format!("W0: battery.pos to main-fuse.in, red, 4 mm2, {metres}"),
        )])
    };
    none(&long("0.45 m"), "unfused-short");
    assert_eq!(one(&long("39 in"), "unfused-short").severity, Severity::Marginal);
    let far = long("41 in");
    assert!(one(&far, "unfused").severity == Severity::Hurts && one(&far, "unfused").site == "W0");
    // What turns a starter is fed so.
    none(
        &with(&[(
            "start-relay.motor to starter.feed, red, 25 mm2, 0.5 m",
            "start-relay.motor to starter.feed, red, 25 mm2, 2 m",
        )]),
        "unfused",
    );
}

#[test]
fn a_fuse_that_the_machine_itself_blows_is_named_with_its_state() {
    let small = with(&[("main-fuse: fuse, 20 A", "main-fuse: fuse, 1 A")]);
    let found = one(&small, "fuse-blows");
    assert!(found.severity == Severity::Fails && found.text.contains("key on"), "{found:?}");
}

#[test]
fn a_starter_that_loses_its_volts_in_the_cable_is_told_where() {
    let thin = with(&[("starter.feed, red, 25 mm2, 0.5 m", "starter.feed, red, 6 mm2, 3 m")]);
    let found = one(&thin, "drop-starting");
    assert!(
        found.text.contains("start-relay-motor_starter-feed") && found.cure.contains("start-relay-motor_starter-feed"),
        "{found:?}"
    );
}

#[test]
fn a_gauge_on_the_lamps_stud_is_lifted_and_one_of_its_own_is_not() {
    let shared =
        with(&[("horn.ground]", "horn.ground, gauge.ground]"), ("  G2: dash, on frame, [gauge.ground]\n", "")]);
    let found = one(&shared, "shared-return");
    assert!(found.site == "G1" && found.text.contains("lamp") && found.text.contains("horn"), "{found:?}");
    assert_eq!(found.severity, Severity::Marginal);
}

#[test]
fn a_gauge_that_returns_through_the_horns_long_wire_fails() {
    let through = with(&[
        (", horn.ground]", "]"),
        ("  G2: dash, on frame, [gauge.ground]\n", ""),
        (
            "wires:\n",
            "sleeves:\n  S1: crimp sleeve, rear\nwires:\n  - horn.ground to S1, black, 1.5 mm2, 0.1 m\n  - gauge.ground to S1, black, 1.5 mm2, 1 m\n  - S1 to G1, black, 0.35 mm2, 6 m\n",
        ),
    ]);
    let found = of(&through, "shared-return").into_iter().find(|finding| finding.site.contains("S1_G1")).unwrap();
    assert!(found.severity == Severity::Fails && found.text.contains("the needle moves by"), "{found:?}");
}

#[test]
fn a_lamp_without_a_ground_or_a_feed_never_lights() {
    let no_wire = with(&[("[lamp.ground, horn.ground]", "[horn.ground]")]);
    assert!(one(&no_wire, "never-wire").text.contains("lamp.ground"));
    let nowhere = with(&[
        ("lamp.ground, ", ""),
        ("wires:\n", "sleeves: {S9: \"crimp sleeve, rear\"}\nwires:\n  - lamp.ground to S9, black, 1.5 mm2, 0.2 m\n"),
    ]);
    assert_eq!(one(&nowhere, "never-ground").severity, Severity::Fails);
    let unfed = with(&[("W2: key.b to lamp-switch.a", "W2: lamp-switch.b to lamp-switch.a")]);
    assert!(one(&unfed, "never-feed").text.contains("lamp"), "{unfed:#?}");
}

#[test]
fn a_part_that_never_gets_enough_a_bare_ground_pin_and_a_bridged_switch_are_told() {
    let weak = with(&[(
        "W3: lamp-switch.b to lamp.feed, yellow, 1.5 mm2, 1 m",
        "W3: lamp-switch.b to lamp.feed, yellow, 0.05 mm2, 90 m",
    )]);
    let found = one(&weak, "never-weak");
    assert!(found.severity == Severity::Fails && found.site == "lamp" && found.text.contains("at most"), "{found:?}");
    // It is fed back through the sender: alive, and its own ground has no wire.
    let bare = with(&[("  G2: dash, on frame, [gauge.ground]\n", "")]);
    assert!(bare.iter().any(|finding| finding.text.contains("gauge.ground")), "{bare:#?}");
    let bridged = with(&[("wires:\n", "wires:\n  - W0: lamp-switch.a to lamp-switch.b, red, 1.5 mm2, 0.1 m\n")]);
    let found = one(&bridged, "switch-bridged");
    assert!(found.severity == Severity::Fails && found.site == "lamp-switch", "{found:?}");
}

#[test]
fn what_lost_volts_do_is_told_of_a_horn_and_of_a_motor() {
    let horn = with(&[(
        "W5: horn-push.b to horn.feed, brown, 1.5 mm2, 1 m",
        "W5: horn-push.b to horn.feed, brown, 0.5 mm2, 14 m",
    )]);
    let found = one(&horn, "drop");
    assert!(found.site == "horn" && found.text.contains("of its power"), "{found:?}");
    let motor = with(&[("starter.feed, red, 25 mm2, 0.5 m", "starter.feed, red, 6 mm2, 3 m")]);
    assert!(one(&motor, "drop-starting").text.contains("of its speed"), "{motor:?}");
}

#[test]
fn metal_that_nothing_bonds_sends_its_current_through_control_cables() {
    let loose = with(&[
        ("chassis: {frame: block by strap 10 mm2}", "chassis: {frame: alone, block: alone}"),
        ("  - Strap: frame to block, bare, 16 mm2, 0.3 m\n", ""),
    ]);
    let found = one(&loose, "loose-metal");
    assert!(found.severity == Severity::Hurts && found.site == "frame" && found.text.contains("lamp"), "{found:?}");
    // A cable that is drawn carries it, and gets warm.
    let cable = with(&[
        ("chassis: {frame: block by strap 10 mm2}", "chassis: {frame: {to: block, name: choke-cable, ohms: 0.4 ohm}}"),
        ("  - Strap: frame to block, bare, 16 mm2, 0.3 m\n", ""),
    ]);
    let found = one(&cable, "cable-return");
    assert!(found.severity == Severity::Hurts && found.text.contains("choke-cable carries"), "{found:?}");
    none(&with(&[]), "cable-return");
}

#[test]
fn one_strap_is_told_and_two_are_well() {
    let single = with(&[("  - Strap: frame to block, bare, 16 mm2, 0.3 m\n", "")]);
    let found = one(&single, "single-bond");
    assert!(found.text.contains("frame") && found.text.contains("lamp") && found.text.contains("horn"), "{found:?}");
}

#[test]
fn an_interlock_is_missed_found_bridged_and_found_idle() {
    let missing = with(&[
        ("start-relay.coil-ground to neutral.signal", "start-relay.coil-ground to block"),
        ("  - W12: neutral.ground to block, bare, 6 mm2, 0.05 m\n", ""),
        ("  neutral: neutral switch, bay\n", ""),
    ]);
    assert!(one(&missing, "interlock-missing").text.contains("starter"));
    let bridged = with(&[(
        "W12: neutral.ground to block, bare, 6 mm2, 0.05 m",
        "W12: neutral.ground to block, bare, 6 mm2, 0.05 m\n  - neutral.signal to block, black, 1.5 mm2, 0.1 m",
    )]);
    assert_eq!(one(&bridged, "interlock-bridged").severity, Severity::Hurts);
    let idle = with(&[("start-relay.coil-ground to neutral.signal", "start-relay.coil-ground to block")]);
    assert_eq!(one(&idle, "interlock-idle").site, "neutral");
    assert!(one(&idle, "interlock-missing").text.contains("neutral has no part in it"));
}

#[test]
fn an_interlock_that_asks_for_two_settings_at_once_is_never_satisfied() {
    let twice = with(&[
        ("  key: toggle switch, dash\n", "  key: toggle switch, dash\n  mode: multi-way switch, dash\n"),
        (
            "wires:\n",
            "switches:\n  mode:\n    wires: [in, out, back, ret]\n    one: [a, a, ., .]\n    two: [., ., b, b]\nwires:\n",
        ),
        (
            "W3: lamp-switch.b to lamp.feed, yellow, 1.5 mm2, 1 m",
            "W3: lamp-switch.b to mode.in, yellow, 1.5 mm2, 1 m\n  - mode.out to lamp.feed, yellow, 1.5 mm2, 1 m\n  - lamp.ground to mode.back, black, 1.5 mm2, 0.3 m\n  - mode.ret to G1, black, 1.5 mm2, 0.3 m",
        ),
        ("lamp.ground, ", ""),
    ]);
    let found = one(&twice, "never-satisfied");
    assert!(
        found.text.contains("mode one for its feed") && found.text.contains("mode two for its ground"),
        "{found:?}"
    );
}

#[test]
fn a_live_end_is_told_until_it_is_capped() {
    let open = with(&[("lamp: lamp, 21 W, rear", "lamp: lamp, 21 W, rear, not fitted")]);
    let found = one(&open, "live-end");
    assert!(
        found.text.contains("lamp.feed")
            && found.text.contains("key on, lamp-switch on")
            && found.text.contains("main-fuse"),
        "{found:?}"
    );
    none(
        &with(&[
            ("lamp: lamp, 21 W, rear", "lamp: lamp, 21 W, rear, not fitted"),
            ("yellow, 1.5 mm2, 1 m", "yellow, 1.5 mm2, 1 m, capped"),
        ]),
        "live-end",
    );
    let bare = with(&[
        ("lamp: lamp, 21 W, rear", "lamp: lamp, 21 W, rear, not fitted"),
        ("W3: lamp-switch.b to lamp.feed", "W3: battery.pos to lamp.feed"),
    ]);
    assert_eq!(one(&bare, "live-end-unfused").severity, Severity::Hurts);
}

#[test]
fn what_draws_current_at_rest_is_told_in_amp_hours_a_day() {
    let always = with(&[
        ("W2: key.b to lamp-switch.a", "W2: main-fuse.out to lamp.feed"),
        ("W3: lamp-switch.b to lamp.feed", "W3: key.b to lamp-switch.a"),
    ]);
    let found = one(&always, "awake-at-rest");
    assert!(found.text.contains("lamp takes 1.8 A") && found.text.contains("43 Ah"), "{found:?}");
}

const PLUGS: &str = "\
machine: Plugs
places: {dash: easy, rear: easy}
parts:
  battery: battery, 12 V, 30 Ah, rear
  F: fuse, 5 A, rear
  one: toggle switch, dash
  two: toggle switch, dash
  left: lamp, 21 W, rear
  right: lamp, 21 W, rear
wires:
  - battery.pos to F.in, red, 4 mm2, 0.2 m
  - F.out to one.a, red, 1.5 mm2, 1 m
  - F.out to two.a, red, 1.5 mm2, 1 m
  - left.ground to battery.neg, black, 1.5 mm2, 0.3 m
  - right.ground to battery.neg, black, 1.5 mm2, 0.3 m
plugs:
  P1:
    a: dash, 0.5 m, 1.5 mm2, crimp sleeve
    b: rear, 0.2 m, 1.5 mm2, crimp sleeve
    ways:
      - 1, blue, green, one.b, left.feed, ok
  P2:
    a: dash, 0.5 m, 1.5 mm2, crimp sleeve
    b: rear, 0.2 m, 1.5 mm2, crimp sleeve
    ways:
      - 1, blue, green, two.b, right.feed, ok
";

#[test]
fn alike_plugs_at_one_place_are_told_with_what_comes_of_it() {
    let alike = found(PLUGS);
    let found_ = one(&alike, "exchanged");
    assert!(found_.text.contains("P1 and P2") && found_.text.contains("lit"), "{found_:?}");
    none(&alike, "unproved");
    let other = found(
        &PLUGS
            .replace("      - 1, blue, green, two.b, right.feed, ok", "      - 7, blue, green, two.b, right.feed, ok"),
    );
    none(&other, "exchanged");
}

#[test]
fn a_colour_twice_in_a_plug_and_rows_not_proved_are_told() {
    let text = PLUGS.replace("  P2:\n    a: dash, 0.5 m, 1.5 mm2, crimp sleeve\n    b: rear, 0.2 m, 1.5 mm2, crimp sleeve\n    ways:\n      - 1,", "      - 2,").replace("two.b, right.feed, ok", "two.b, right.feed, ?");
    let alike = found(&text);
    assert!(one(&alike, "colour-twice").text.contains("green in 1, 2"), "{alike:#?}");
    assert!(one(&alike, "unproved").text.contains("Assumed: P1.2"), "{alike:#?}");
    let told = found(&text.replace("- 2, blue, green", "- 2, blue, white"));
    none(&told, "colour-twice");
}

#[test]
fn what_holds_the_engine_is_listed_by_plug_bolt_and_bare_end() {
    let text = PLUGS
        .replace("right: lamp, 21 W, rear", "right: lamp, 21 W, engine")
        .replace("rear: easy}", "rear: easy, engine: easy}");
    let found = found(&text);
    let out = one(&found, "engine-no-plug");
    assert!(out.text.contains("unplug P2") && out.text.contains("black wire right-ground_battery-neg"), "{out:?}");
}

/// gtm.perkinsons.com, Tach pull-up resistor: the pin of an engine computer pulls to ground and no more.
#[test]
fn a_line_of_pulses_that_nothing_pulls_up_is_told() {
    let text = "\
parts:
  battery: battery, 12 V, 30 Ah
  computer: engine computer
  tach: pulse gauge
  pull-up: resistor, 10 kohm
wires:
  - battery.pos to tach.feed, red, 1.5 mm2, 1 m
  - tach.signal to computer.signal, white, 1.5 mm2, 1 m
  - battery.pos to pull-up.a, red, 1.5 mm2, 1 m
  - pull-up.b to computer.signal, white, 1.5 mm2, 1 m
  - tach.ground to battery.neg, black, 1.5 mm2, 1 m
  - computer.ground to battery.neg, black, 1.5 mm2, 1 m
";
    none(&found(text), "no-pull-up");
    let without = found(&text.replace("  - pull-up.b to computer.signal, white, 1.5 mm2, 1 m\n", ""));
    assert!(one(&without, "no-pull-up").text.contains("computer.signal"), "{without:#?}");
}
