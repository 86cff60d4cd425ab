//! Lines in the file's short form: rows come, change and go; what was not spoken of stays as it was typed.

use crate::machines::{all, built};
use ohmward::catalogue::Catalogue;
use ohmward::netlist::{Netlist, Proof};
use ohmward::text::diff::{Change, lines};
use ohmward::text::span::Source;
use ohmward::wiring::edit::{Draft, Offence, Pen};

fn draft<'c>(text: &str, rules: &'c Catalogue) -> Draft<'c> {
    Draft::open(Source::new("wiring.yaml", text), rules).unwrap_or_else(|refusal| panic!("{:?}", refusal.problems))
}

fn told(offences: &[Offence]) -> String {
    let all = offences.iter().flat_map(|o| o.refusal.problems.iter().map(|p| (&o.line, p)));
    all.map(|(line, p)| format!("{line}: {}; {}\n", p.text, p.help.as_deref().unwrap_or(""))).collect()
}

fn write<'c>(draft: &Draft<'c>, line: &str) -> Draft<'c> {
    Pen::default().write(draft, line).unwrap_or_else(|offences| panic!("{line}\n{}", told(&offences))).draft
}

/// What a line does to a text, as `- gone` and `+ come`.
fn done(before: &Draft, after: &Draft) -> Vec<String> {
    let row = |change: Change| match change {
        Change::Gone(_, line) => format!("- {}", line.trim()),
        Change::Come(_, line) => format!("+ {}", line.trim()),
    };
    lines(before.text(), after.text()).into_iter().map(row).filter(|row| row.len() > 2).collect()
}

fn on<'t>(text: &str, line: &'t str) -> (Vec<String>, &'t str) {
    let rules = Catalogue::builtin();
    let before = draft(text, &rules);
    let after = write(&before, line);
    assert!(after.problems().is_empty(), "{line}: {:?}", after.problems());
    (done(&before, &after), line)
}

#[test]
fn a_row_finds_its_section_by_its_content() {
    let cart = built("orchard-cart").wiring.text;
    for (line, row) in [
        ("aux: lamp, 5 W, dash", "+ aux: lamp, 5 W, dash"),
        ("aux: lamp 5 W, dash  # by the key", "+ aux: lamp 5 W, dash  # by the key"),
        ("part aux: lamp, 5 W, dash", "+ aux: lamp, 5 W, dash"),
        ("F3.out to rev-gauge.feed, red, 1 m, ?", "+ - F3.out to rev-gauge.feed, red, 1 m, ?"),
        ("W1: F3.out to rev-gauge.feed", "+ - W1: F3.out to rev-gauge.feed"),
        ("wire F3.out to rev-gauge.feed", "+ - F3.out to rev-gauge.feed"),
        ("P9: 10, brown, same, S9, horn.feed, ?", "+ - 10, brown, same, S9, horn.feed, ?"),
        ("P9: 10\tbrown\tsame\tS9\thorn.feed", "+ - 10, brown, same, S9, horn.feed"),
        ("F9: fuse 5 A, dash, [horn.feed]", "+ F9: fuse 5 A, dash, [horn.feed]"),
        ("G9: dash, on frame, [horn.ground]", "+ G9: dash, on frame, [horn.ground]"),
        ("S10: twist and tape, dash", "+ S10: twist and tape, dash"),
        ("shelf: 3 min", "+ shelf: 3 min"),
        ("shelf: easy", "+ shelf: easy"),
        ("tiller to nose: 1.2 m", "+ tiller to nose: 1.2 m"),
        ("loom front: [P9]", "+ front: [P9]"),
        ("box: {kind: unknown module, amps: 2 A}", "+ box: {kind: unknown module, amps: 2 A}"),
    ] {
        assert_eq!(on(&cart, line), (vec![row.to_owned()], line));
    }
    let (rows, _) = on(&cart, "machine: Old cart");
    assert_eq!(rows, ["- machine: Orchard cart", "+ machine: Old cart"]);
    assert_eq!(on(&cart, "colour BL: blue").0, ["+ colours:", "+ BL: blue"]);
    let (rows, _) = on(&cart, "G1: [dash-lamp.ground]");
    assert!(rows[1].ends_with("lamp-right-front.ground, dash-lamp.ground]"), "{rows:?}");
}

#[test]
fn a_whole_plug_is_pasted_at_once_or_not_at_all() {
    let built = built("orchard-cart");
    let before = draft(&built.wiring.text, &built.catalogue);
    let paste = "plugs:\n  P7:\n    is: box on the tail\n    a: tail, 0.4 m\n    b: under-seat\n    ways:\n      # feed first\n      - 1, red, same, horn.feed, F3.out, ?\n      - 2, black, same, none, none, capped\n";
    let mut pen = Pen::default();
    let after = pen.write(&before, paste).unwrap_or_else(|o| panic!("{}", told(&o))).draft;
    assert_eq!(after.netlist().plugs["P7"].ways.len(), 2);
    assert!(after.text().contains("  P7:\n    is: box on the tail\n    a: tail, 0.4 m\n    b: under-seat\n    ways:\n      # feed first\n      - 1, red"), "{}", after.text());
    // More rows may follow; a row of something else ends it.
    let more = pen.write(&after, "3, blue, same, none, F3.out").unwrap_or_else(|o| panic!("{}", told(&o))).draft;
    assert_eq!(more.netlist().plugs["P7"].ways.len(), 3);
    let other = pen.write(&more, "F3.out to horn.feed, red").unwrap_or_else(|o| panic!("{}", told(&o))).draft;
    assert_eq!(other.netlist().wires.len(), more.netlist().wires.len() + 1);
    assert!(pen.open().is_none());

    let mut pen = Pen::default();
    let bad = paste.replace("horn.feed", "horn.fed").replace("black", "blak");
    let offences = pen.write(&before, &bad).unwrap_err();
    let said = told(&offences);
    assert!(said.contains("\"fed\"") && said.contains("nearest: feed") && said.contains("nearest: black"), "{said}");
    assert!(pen.open().is_none(), "what was refused leaves nothing behind");
}

#[test]
fn a_change_touches_the_fields_that_are_said_and_nothing_else() {
    let cart = built("orchard-cart").wiring.text;
    for (line, gone, come) in [
        ("change horn: 4 A", "horn: horn, 3.5 A, nose", "horn: horn, 4 A, nose"),
        ("change horn: horn, 5 A, tail", "horn: horn, 3.5 A, nose", "horn: horn, 5 A, tail"),
        (
            "change P9.4: ok",
            "- 4, black/white, black, horn-push.a, horn.ground, ?",
            "- 4, black/white, black, horn-push.a, horn.ground, ok",
        ),
        ("change P9.b: tail, 1 m", "b: under-seat, 0.3 m, 1.5 mm2, crimp sleeve", "b: tail, 1 m"),
        ("change S1-b-is-no-name: x", "", ""),
        ("change S1_G2: beep, 2.5 mm2", "- S1 to G2, black, 1.5 mm2, 0.9 m", "- S1 to G2, black, 2.5 mm2, 0.9 m, beep"),
        ("change S1_G2: S1 to G1, blue", "- S1 to G2, black, 1.5 mm2, 0.9 m", "- S1 to G1, blue"),
        ("change F3: 15 A", "F3: fuse 10 A, under-seat, [flasher.in]", "F3: fuse 15 A, under-seat, [flasher.in]"),
        (
            "change S9: solder sleeve, dash",
            "S9: crimp sleeve, under-seat  # what the key switches on",
            "S9: solder sleeve, dash  # what the key switches on",
        ),
        ("change place nose: 2 min", "nose: {reach: 3 min, first: front grille off}", "nose: 2 min"),
        (
            "change nose.reach: 2 min",
            "nose: {reach: 3 min, first: front grille off}",
            "nose: {reach: 2 min, first: front grille off}",
        ),
        ("change dash to nose: 1 m", "dash to nose: 0.9 m", "dash to nose: 1 m"),
    ] {
        if gone.is_empty() {
            assert!(Pen::default().write(&draft(&cart, &Catalogue::builtin()), line).is_err());
            continue;
        }
        assert_eq!(on(&cart, line), (vec![format!("- {gone}"), format!("+ {come}")], line));
    }
}

/// Wires that have a row, by name, with the fields that matter.
fn facts(net: &Netlist) -> Vec<(String, String, String, Option<String>, f64, f64)> {
    let mut all: Vec<_> = net
        .wires
        .values()
        .map(|w| {
            (
                w.name.clone(),
                net.point_name(w.from).to_owned(),
                net.point_name(w.to).to_owned(),
                w.colour.clone(),
                w.area,
                w.length,
            )
        })
        .collect();
    all.sort_by(|a, b| a.0.cmp(&b.0));
    all
}

#[test]
fn any_wire_of_any_machine_can_be_proved_in_three_words_and_taken_out() {
    let mut seen = [0, 0, 0];
    for built in all() {
        let before = draft(&built.wiring.text, &built.catalogue);
        for name in built.net.wires.keys().step_by(3) {
            let mut pen = Pen::default();
            match pen.write(&before, &format!("change {name}: ok")) {
                Ok(after) => {
                    let net = after.draft.netlist();
                    assert_eq!(facts(net), facts(&built.net), "{}: {name}", built.name);
                    assert_eq!(net.wires[name].proof, Proof::Loaded, "{}: {name}", built.name);
                    assert_eq!(net.looms.len(), built.net.looms.len());
                    seen[0] += 1;
                }
                // Only a strap has no proof mark in its row.
                Err(offences) => {
                    assert!(told(&offences).contains("strap"), "{}: {name}: {}", built.name, told(&offences));
                    seen[1] += 1;
                }
            }
            if let Ok(after) = pen.write(&before, &format!("remove {name}")) {
                assert_eq!(after.draft.netlist().wires.len(), built.net.wires.len() - 1, "{}: {name}", built.name);
                seen[2] += 1;
            }
        }
    }
    assert!(seen[0] > 200 && seen[1] > 0 && seen[2] > 100, "{seen:?}");
}

#[test]
fn any_part_way_ground_and_sleeve_can_go_alone() {
    let (mut gone, mut notes) = (0, 0);
    for built in all() {
        let before = draft(&built.wiring.text, &built.catalogue);
        let ways = built.net.plugs.values().flat_map(|p| p.ways.keys().map(|way| format!("{}.{way}", p.name)));
        let own = |name: &&String| before.text().contains(&format!("\n  {name}:"));
        let names = built.net.parts.keys().chain(built.net.grounds.keys()).chain(built.net.plugs.keys());
        let names = names.chain(built.net.sleeves.keys().filter(own)).cloned();
        for name in names.chain(ways.step_by(2)) {
            let after = Pen::default()
                .write(&before, &format!("remove {name}"))
                .unwrap_or_else(|o| panic!("{} without {name}: {}", built.name, told(&o)));
            let net = after.draft.netlist();
            let parts = built.net.parts.len() - usize::from(built.net.parts.contains_key(&name));
            assert_eq!(net.parts.len(), parts, "{}: {name} took others with it", built.name);
            assert!(net.point(&name).is_none() && !net.plugs.contains_key(&name), "{}: {name}", built.name);
            gone += 1;
            notes += after.notes.len();
        }
    }
    assert!(gone > 350 && notes > 50, "{gone} gone, {notes} told of others");
}

#[test]
fn what_cannot_be_taken_names_a_way_out() {
    let cart = built("orchard-cart");
    let before = draft(&cart.wiring.text, &cart.catalogue);
    for (line, says) in [
        ("horn.grnd to G1", "nearest: ground"),
        ("aux: lmap, dash", "nearest: lamp"),
        ("aux: lamp, attic", "attic: easy"),
        ("horn: horn, 4 A, nose", "change horn"),
        ("P9: 4, grey, white, S1, S2", "twice"),
        ("wibble", "a part: "),
        ("lamp 5 W", "a name first"),
        ("remove", "remove P9.4"),
        ("remove hron", "nearest: horn"),
        ("remove P9.44", "ways: 1, 2"),
        ("remove P9a-4-new", "remove P9.4"),
        ("remove P9a-4-sleeve", "remove P9.4"),
        ("remove place nose", "no place \"nose\""),
        ("change horn", "a colon"),
        ("change hron: 4 A", "nearest: horn"),
        ("change horn:", "remove horn"),
        ("change P9.4: red", "4, old colour"),
        ("change P9.44: ok", "P9.44: 44"),
        ("plug P 7", "is no name"),
        ("aux: \"lamp, 5 W, dash", "a quote"),
        ("aux: [lamp", "is not closed"),
        ("S1 to S2, red #2, 1 m", "lost"),
        ("aux: lamp: 5 W", "colon"),
    ] {
        let offences = Pen::default().write(&before, line).map(|w| w.draft.text().to_owned()).unwrap_err();
        let said = told(&offences);
        assert!(said.contains(says), "{line}: {said}");
    }
}

#[test]
fn a_file_that_does_not_check_yet_can_be_written_but_gets_no_worse() {
    let rules = Catalogue::builtin();
    let before = draft("places: {dash: easy}\nparts:\n  horn: hron, dash\n  lamp: lamp, dash\n", &rules);
    assert_eq!(before.problems().len(), 1);
    let after = write(&before, "places:\n  nose: 3 min\nparts:\n  fan: fan, nose");
    assert_eq!(after.problems().len(), 1);
    assert!(Pen::default().write(&after, "lamp.grnd to fan.ground").is_err());
    let after = write(&after, "change horn: horn, 4 A, nose");
    assert!(after.problems().is_empty(), "{:?}", after.problems());
}

#[test]
fn comments_and_layout_of_every_form_survive() {
    let text = "machine: Forms   # mine\nplaces: {dash: easy, nose: 3 min}\n\nparts:\n    # power\n    battery: {kind: battery, place: nose}   # old\n    main: fuse, 10 A, nose\n    bell: \"horn, 3 A, nose\"  # loud\nwires:\n- battery.pos to main.in, red   # thick\n- W2: main.out to bell.feed, red\n- from: main.out\n  to: bell.feed\n  colour: brown\n- {from: battery.neg, to: G1}\ngrounds: {G1: {place: nose, under: [bell.ground]}}\nlooms:\n  front: {wires: [W2,\n          bell-ground_G1], run: 2 m}\n";
    for (line, expected) in [
        ("change bell: 4 A", text.replace("\"horn, 3 A, nose\"  #", "horn, 4 A, nose  #")),
        ("change battery.place: dash", text.replace("battery, place: nose", "battery, place: dash")),
        ("change battery-pos_main-in: 0.5 m", text.replace("main.in, red   # thick", "main.in, red, 0.5 m   # thick")),
        (
            "change main-out_bell-feed: ok",
            text.replace("from: main.out\n  to: bell.feed\n  colour: brown", "main.out to bell.feed, brown, ok"),
        ),
        ("change battery-neg_G1: black", text.replace("{from: battery.neg, to: G1}", "battery.neg to G1, black")),
        // What looms call it follows.
        (
            "change bell-ground_G1: ok",
            text.replace(
                "- {from: battery.neg, to: G1}\n",
                "- {from: battery.neg, to: G1}\n- bell-ground_G1: bell.ground to G1, ok\n",
            )
            .replace("under: [bell.ground]", "under: []")
            .replace("[W2,\n          bell-ground_G1]", "[W2, bell-ground_G1]"),
        ),
        ("shelf: easy", text.replace("nose: 3 min}", "nose: 3 min, shelf: easy}")),
        ("G2: dash", text.to_owned()),
    ] {
        let rules = Catalogue::builtin();
        let before = draft(text, &rules);
        match Pen::default().write(&before, line) {
            Ok(after) => assert_eq!(after.draft.text(), expected, "{line}"),
            Err(offences) => assert!(expected == text, "{line}: {}", told(&offences)),
        }
    }
}
