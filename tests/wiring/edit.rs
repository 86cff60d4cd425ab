//! Changing a wiring file: what goes, what comes, and that all else stays as it was typed.

use crate::machines::{all, table, unmet};
use ohmward::catalogue::Catalogue;
use ohmward::text::span::Source;
use ohmward::wiring::edit::{Addition, Change, Draft, Refusal};
use std::collections::HashSet;

fn draft<'c>(text: &str, rules: &'c Catalogue) -> Draft<'c> {
    Draft::new(Source::new("wiring.yaml", text), rules).unwrap_or_else(|refusal| panic!("{}", told(&refusal)))
}

fn told(refusal: &Refusal) -> String {
    refusal.problems.iter().map(|problem| problem.render(&refusal.source)).collect()
}

fn add<'c>(draft: &Draft<'c>, words: &str) -> Result<Draft<'c>, String> {
    let added = Addition::read(words, draft).map_err(|p| format!("{}; {}", p.text, p.help.unwrap_or_default()))?;
    draft.with(&added.changes).map_err(|refusal| told(&refusal))
}

/// Lines of a text that another has not.
fn new_lines<'t>(now: &'t str, before: &str) -> Vec<&'t str> {
    let before: HashSet<&str> = before.lines().collect();
    now.lines().filter(|line| !before.contains(line)).collect()
}

/// Is a line an old one with some of its list taken out, and nothing put in?
fn is_shorter(line: &str, old: &str) -> bool {
    let words = |text: &str| -> Vec<String> {
        text.split([',', '[', ']']).map(|word| word.trim().to_owned()).filter(|word| !word.is_empty()).collect()
    };
    let mut rest = words(old).into_iter();
    words(line).iter().all(|word| rest.any(|old| old == *word))
}

#[test]
fn any_part_of_any_machine_can_go_and_the_rest_checks_and_keeps_its_lines() {
    for built in all() {
        let whole = draft(&built.wiring.text, &built.catalogue);
        for part in built.net.parts.keys() {
            let rest = whole.without(&[part.clone()].into()).unwrap_or_else(|refusal| {
                panic!("{} without {part}: {}", built.name, told(&refusal));
            });
            let net = rest.netlist();
            assert!(!net.parts.contains_key(part), "{}: {part} is still there", built.name);
            // A list may be shorter, a sleeve stand where wires of the supply met; nothing else is touched.
            for line in new_lines(rest.text(), &built.wiring.text) {
                let shorter = built.wiring.text.lines().any(|old| old.contains('[') && is_shorter(line, old));
                let joint =
                    net.sleeves.keys().any(|sleeve| !built.net.sleeves.contains_key(sleeve) && line.contains(sleeve));
                assert!(shorter || joint, "{} without {part}: {line:?} is new", built.name);
            }
            for sleeve in net.sleeves.values() {
                let wires = net.graph.edges(sleeve.point).count();
                assert!(wires > 1, "{} without {part}: {}", built.name, net.point_name(sleeve.point));
            }
            assert!(!rest.text().contains("\n\n\n"), "{} without {part}", built.name);
        }
    }
}

#[test]
fn without_any_circuit_the_other_functions_are_as_before() {
    let (mut gone, mut kept) = (0, 0);
    for built in all() {
        let whole = draft(&built.wiring.text, &built.catalogue);
        let (_, rows) = table(&built);
        for circuit in built.catalogue.circuits.keys() {
            let Ok((rest, fallen)) = whole.without_named(circuit) else { continue };
            gone += fallen.parts.len();
            kept += rest.netlist().parts.len();
            // What a switch that went used to hold back, the rest cannot be asked about.
            let rows: Vec<_> = rows
                .iter()
                .filter(|(_, set, _)| set.iter().all(|(control, _)| !fallen.parts.contains(control)))
                .cloned()
                .collect();
            let (wrong, _) = unmet(&built.name, rest.netlist(), &built.catalogue, &rows);
            assert!(wrong.is_empty(), "{} without {circuit}:\n{}", built.name, wrong.join("\n"));
        }
    }
    assert!(gone > 150 && kept > 1000, "{gone} gone, {kept} kept");
}

#[test]
fn a_circuit_takes_what_is_its_own_and_nothing_else() {
    let gone = |machine: &str, phrase: &str| -> Vec<String> {
        let built = crate::machines::built(machine);
        let whole = draft(&built.wiring.text, &built.catalogue);
        let (rest, fallen) = whole.without_named(phrase).unwrap_or_else(|refusal| panic!("{}", told(&refusal)));
        let mut parts: Vec<String> = fallen.parts.into_iter().collect();
        assert_eq!(rest.netlist().parts.len() + parts.len(), built.net.parts.len());
        parts.sort();
        parts
    };
    assert_eq!(gone("orchard-cart", "horn"), ["horn", "horn-push"]);
    assert_eq!(
        gone("orchard-cart", "indicators"),
        [
            "flasher",
            "lamp-left-front",
            "lamp-left-rear",
            "lamp-right-front",
            "lamp-right-rear",
            "left-diode",
            "right-diode",
            "turn",
            "turn-lamp"
        ]
    );
    // The relay's stud feeds the main fuse: that wire stays, joined where the stud was.
    assert_eq!(gone("meadow-tractor", "electric start"), ["clutch-pedal", "start-relay", "starter"]);
    assert_eq!(gone("meadow-tractor", "blades"), ["F1", "blade-clutch", "blade-lamp", "blade-relay", "seat-switch"]);
    // Both filaments are in one bulb: the bulb stays.
    assert_eq!(gone("lane-motorcycle", "brake lights"), ["front-brake", "rear-brake"]);
    assert_eq!(
        gone("creek-launch", "bilge pump"),
        ["F1", "bilge-pump", "float", "pump-breaker", "pump-diode", "pump-switch"]
    );
    assert_eq!(gone("moor-roadster", "wiper"), ["F4", "wiper", "wiper-stalk"]);
    // A relay whose coil is dead would still ground the kill wire by its resting contact: it goes.
    assert_eq!(gone("verge-mower", "seat switch"), ["seat-relay", "seat-switch"]);
    assert_eq!(gone("verge-mower", "lights"), ["left-lamp", "light-switch", "right-lamp"]);
    assert_eq!(
        gone("creek-launch", "lights"),
        ["anchor-lamp", "bow-lamp", "lamp-breaker", "lamp-switch", "stern-lamp"]
    );
}

#[test]
fn what_others_live_by_does_not_go_unasked_and_can_be_joined() {
    let built = crate::machines::built("meadow-tractor");
    let whole = draft(&built.wiring.text, &built.catalogue);
    let refusal = whole.without_named("seat-switch").unwrap_err();
    let problem = &refusal.problems[0];
    assert!(problem.text.contains("blade-clutch") && problem.help.as_ref().unwrap().contains("seat-switch, joined"));
    let (rest, _) = whole.without_named("seat-switch, joined").unwrap_or_else(|refusal| panic!("{}", told(&refusal)));
    assert!(!rest.netlist().parts.contains_key("seat-switch"));
    // The loom calls the wire by its new end.
    assert!(rest.text().contains("wires: [blade-relay-85_seat-switch-joined]"), "{}", rest.text());
    let rows: Vec<_> =
        table(&built).1.into_iter().filter(|(_, set, _)| set.iter().all(|(c, _)| c != "seat-switch")).collect();
    let (wrong, _) = unmet("joined", rest.netlist(), &built.catalogue, &rows);
    // Now the blades turn with nobody on the seat.
    assert!(wrong.len() == 2 && wrong.iter().all(|row| row.contains(": blade-")), "{wrong:?}");
    assert!(whole.without_named("key, joined").is_err() && whole.without_named("rudder").is_err());
}

/// Every layout that a file may have, with comments wherever one may stand.
const LAYOUTS: &str = "\
machine: Layouts   # all of them
chassis: {frame: alone}
places: {dash: easy, nose: 3 min}

parts:
    # power
    battery: {kind: battery, place: nose}   # old
    main: fuse, 10 A, nose
    # load
    lamp: lamp, 5 W, dash
    bell: \"horn, 3 A, nose\"
wires:
- battery.pos to main.in, red
- W2: main.out to lamp.feed, red  # thin
- from: main.out
  to: bell.feed
  colour: brown
- battery.neg to G1
grounds: {G1: {place: nose, on: frame, under: [lamp.ground,
    bell.ground]}}
looms:
  front: {wires: [W2,
          main-out_bell-feed], run: 2 m}
recent-work: [lamp, W2]
";

#[test]
fn every_layout_can_be_changed() {
    let rules = Catalogue::builtin();
    let whole = draft(LAYOUTS, &rules);
    let rest = whole.without(&["bell".to_owned()].into()).unwrap_or_else(|r| panic!("{}", told(&r)));
    let expected = LAYOUTS
        .replace("    bell: \"horn, 3 A, nose\"\n", "")
        .replace("- from: main.out\n  to: bell.feed\n  colour: brown\n", "")
        .replace("[lamp.ground,\n    bell.ground]", "[lamp.ground]")
        .replace("[W2,\n          main-out_bell-feed]", "[W2]");
    assert_eq!(rest.text(), expected);
    let rest = whole.without(&["lamp".to_owned()].into()).unwrap_or_else(|r| panic!("{}", told(&r)));
    let expected = LAYOUTS
        .replace("    lamp: lamp, 5 W, dash\n", "")
        .replace("- W2: main.out to lamp.feed, red  # thin\n", "")
        .replace("[lamp.ground,\n    bell.ground]", "[bell.ground]")
        .replace("[W2,\n          main-out_bell-feed]", "[main-out_bell-feed]")
        .replace("recent-work: [lamp, W2]\n", "");
    assert_eq!(rest.text(), expected);

    let more = whole
        .with(&[
            Change::row("parts", "fan: fan, 2 A, nose"),
            Change::row("wires", "W9: main.out to fan.feed, blue, ?"),
            Change::row("places", "tail: {reach: 2 min}"),
            Change::item("grounds", "G1", "fan.ground"),
            Change::row("grounds", "G2: nose, on frame"),
            Change::item("looms", "front", "W9"),
            Change::Item { section: "recent-work".into(), owner: None, item: "fan".into() },
            Change::row("feeds", "F1: fuse 5 A, nose, [W8]"),
        ])
        .unwrap_err();
    assert!(told(&more).contains("W8"), "{}", told(&more));
    let more = whole
        .with(&[
            Change::row("parts", "fan: fan, 2 A, nose"),
            Change::row("wires", "W9: main.out to fan.feed, blue, ?"),
            Change::row("places", "tail: 2 min"),
            Change::item("grounds", "G1", "fan.ground"),
            Change::row("grounds", "G2: nose, on frame"),
            Change::item("looms", "front", "W9"),
            Change::Item { section: "recent-work".into(), owner: None, item: "fan".into() },
            Change::row("feeds", "F1: fuse 5 A, nose"),
            Change::row("wires", "main.out to F1.in"),
        ])
        .unwrap_or_else(|r| panic!("{}", told(&r)));
    let text = more.text();
    for piece in [
        "    fan: fan, 2 A, nose\nwires:",
        "- battery.neg to G1\n- W9: main.out to fan.feed, blue, ?\n- main.out to F1.in\ngrounds",
        "nose: 3 min, tail: 2 min}",
        "bell.ground, fan.ground]}, G2: \"nose, on frame\"}",
        "main-out_bell-feed, W9]",
        "recent-work: [lamp, W2, fan]",
        "\nfeeds:\n  F1: fuse 5 A, nose\n",
        "machine: Layouts   # all of them\n",
    ] {
        assert!(text.contains(piece), "{piece:?} is not in\n{text}");
    }
    // And out again.
    let back = more
        .with(&[
            Change::DropWire("W9".into()),
            Change::DropWire("main-out_F1-in".into()),
            Change::Drop { section: "feeds".into(), name: "F1".into() },
        ])
        .unwrap_or_else(|r| panic!("{}", told(&r)));
    assert!(!back.text().contains("W9") && !back.text().contains("feeds"), "{}", back.text());
}

#[test]
fn lists_in_a_row_grow_and_plugs_take_ways() {
    let rules = Catalogue::builtin();
    let text = "places: {dash: easy}\nparts:\n  horn: horn, dash\n  lamp: lamp, dash\nfeeds:\n  F1: fuse 5 A, dash, [horn.feed]  # one\n  F2: fuse 5 A\ngrounds:\n  G1: dash  # bolt\nplugs:\n  P1:\n    a: dash\n    b: dash\n    ways:\n      - 1, red, same, horn.ground, G1\n";
    let more = draft(text, &rules)
        .with(&[
            Change::item("feeds", "F1", "lamp.feed"),
            Change::item("grounds", "G1", "lamp.ground"),
            Change::Way { plug: "P1".into(), row: "2, blue, same, lamp.feed, F2.out, ?".into() },
        ])
        .unwrap_or_else(|r| panic!("{}", told(&r)));
    for piece in [
        "F1: fuse 5 A, dash, [horn.feed, lamp.feed]  # one\n",
        "G1: dash, [lamp.ground]  # bolt\n",
        "horn.ground, G1\n      - 2, blue, same, lamp.feed, F2.out, ?\n",
    ] {
        assert!(more.text().contains(piece), "{}", more.text());
    }
    let named =
        "parts:\r\n  horn: horn\r\n  lamp: lamp\r\nwires:\r\n  W1: horn.feed to lamp.feed, red\r\ngrounds: {}\r\n";
    let whole = draft(named, &rules);
    let more =
        whole.with(&[Change::row("wires", "horn.ground to lamp.ground"), Change::row("grounds", "G1: on frame")]);
    let more = more.unwrap_or_else(|r| panic!("{}", told(&r)));
    assert!(more.netlist().wires.contains_key("W2") && more.netlist().grounds.contains_key("G1"), "{}", more.text());
    let less = more.with(&[Change::DropWire("W1".into())]).unwrap_or_else(|r| panic!("{}", told(&r)));
    assert_eq!(less.netlist().wires.len(), 1, "{}", less.text());
    let more = draft(text, &rules);
    assert!(more.with(&[Change::Way { plug: "P2".into(), row: "1, red, same, none, none".into() }]).is_err());
}

#[test]
fn a_part_is_added_in_a_few_words() {
    let built = crate::machines::built("lane-motorcycle");
    let whole = draft(&built.wiring.text, &built.catalogue);
    let rows = |words: &str| -> Vec<String> {
        let more = add(&whole, words).unwrap_or_else(|e| panic!("{words}: {e}"));
        new_lines(more.text(), whole.text()).into_iter().map(|line| line.trim().to_owned()).collect()
    };
    // Watts for amps: 4 A at 12 V.
    assert_eq!(
        rows("heated grips, 4 A, left-grip, on F3, ground G1"),
        [
            "heated-grips: heated grips, 48 W, left-grip",
            "- F3.out to heated-grips.feed, ?",
            "- heated-grips.ground to G1, ?"
        ]
    );
    // By runs the dash is nearer to the nose's ground than to its own feed under the seat.
    assert_eq!(
        rows("clock, dash"),
        ["clock: clock, dash", "- main-fuse.out to clock.feed, ?", "- clock.ground to G5, ?"]
            .map(|row| row.replace("main-fuse", "F1"))
    );
    assert_eq!(
        rows("aux: a reading light 5 W, tail, by a toggle switch at dash"),
        [
            "aux: light, 5 W, tail",
            "aux-switch: toggle switch, dash",
            "- F1.out to aux-switch.a, ?",
            "- aux-switch.b to aux.feed, ?",
            "- aux.ground to G2, ?"
        ]
    );
}

#[test]
fn a_part_is_rated_for_the_machine_that_it_comes_into() {
    let rules = Catalogue::builtin();
    let text = "places: {dash: easy}\nparts:\n  battery: battery, 24 V, dash\n  fuse: fuse, 10 A, dash\ngrounds:\n  G1: dash\n";
    let whole = draft(text, &rules);
    let row = |words: &str| {
        let more = add(&whole, words).unwrap_or_else(|e| panic!("{words}: {e}"));
        new_lines(more.text(), text)[0].trim().to_owned()
    };
    assert_eq!(row("heated grips, 4 A, dash"), "heated-grips: heated grips, 96 W, dash, 24 V");
    assert_eq!(row("lamp, 5 W, 12 V, dash"), "lamp: lamp, 5 W, 12 V, dash");
    let six = draft(&text.replace("24 V", "6 V"), &rules);
    assert!(add(&six, "lamp, 2 A, dash").unwrap().text().contains("lamp: lamp, 12 W, dash, 6 V"));
}

#[test]
fn what_cannot_be_added_says_what_is_missing() {
    let built = crate::machines::built("lane-motorcycle");
    let whole = draft(&built.wiring.text, &built.catalogue);
    for (words, says) in [
        ("flux condenser, 4 A", "no kind"),
        ("coolant gauge, dash", "sender"),
        ("lamp, 5 W, on F9", "F1, F2, F3"),
        ("lamp, 5 W, on key", "key.red"),
        ("lamp, 5 parsecs", "parsecs"),
        ("lamp, 5 W, by a relay", "toggle switch"),
        ("", "no kind"),
        (":, lamp", "no kind"),
        ("lamp, ground G99", "G99"),
    ] {
        let error = add(&whole, words).map(|d| d.text().to_owned()).unwrap_err();
        assert!(error.contains(says), "{words}: {error}");
    }
}

#[test]
fn every_kind_is_added_or_says_why_not() {
    let built = crate::machines::built("orchard-cart");
    let whole = draft(&built.wiring.text, &built.catalogue);
    let mut added = 0;
    for kind in built.catalogue.kinds.keys() {
        match add(&whole, &format!("{kind}, dash")) {
            Ok(more) => {
                added += 1;
                assert_eq!(more.netlist().parts.len(), built.net.parts.len() + 1, "{kind}");
            }
            Err(error) => assert!(error.contains("also has") && error.contains("say where"), "{kind}: {error}"),
        }
    }
    assert!(added >= 15, "{added}");
}
