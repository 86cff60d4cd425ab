//! Sizes, amps, light and fuse times against tables printed elsewhere (sources in the files' heads).

use super::{found_under, none, number, of, one, rows};
use ohmward::catalogue::Catalogue;
use ohmward::text::span::Source;

/// Square millimetres of a gauge: ASTM B258, d = 0.127 · 92^((36 − n)/39) mm.
fn area(awg: &str) -> f64 {
    let n = match awg {
        "00" | "2/0" => -1.0,
        "000" | "3/0" => -2.0,
        "0000" | "4/0" => -3.0,
        awg => number(awg),
    };
    let diameter = 0.127 * 92f64.powf((36.0 - n) / 39.0);
    std::f64::consts::PI / 4.0 * diameter * diameter
}

/// The rules with joints that lose nothing, and a load that the 3 % rule is for: a plain resistor.
fn rules() -> Catalogue {
    let load = Source::new(
        "kinds/table-load.yaml",
        "kind: table load\nalso: []\nabout: takes its amps at 11.64 V\npins:\n  feed: [\"+\"]\n  ground: [\"-\"]\nratings:\n  amps: {default: 5 A, spread: 0, source: invented}\n  volts: {default: 12 V, spread: 0, source: invented}\nelements:\n  sheet: {type: resistor, from: feed, to: ground, ohms: 11.64 / amps, spread: 0.01}\nshowings:\n  - {volts: sheet, rated: 12, words: [\"off\", \"on\"], at: [0.5], spread: [0.1], works: \"on\"}\nmodes:\n  open:\n    does: {sheet: open}\n    weight: 1\n    repair: replace\n    text: \"{part} is open\"\n    source: invented\nrepairs:\n  replace:\n    text: replace {part}\n    minutes: 10\n    harm: none\n    proof: it works\nsource: invented\n",
    );
    let review = Source::new("review.yaml", "lists:\n  critical: {of: [table load], source: invented}\n");
    let mut rules = Catalogue::with(&[load, review]).unwrap_or_else(|list| panic!("{list:#?}"));
    for joint in rules.joints.values_mut() {
        joint.ohms = 1e-7;
    }
    rules
}

/// A battery of 12.0 V that does not sag, a fuse that loses nothing to speak of, one load, and wire out and back.
fn run(amps: f64, area: f64, metres: f64, fuse: f64) -> String {
    format!(
        "machine: Table\nplaces: {{here: easy}}\nparts:\n  battery: battery, 11.385 V, 90000 Ah, here\n  \
         F: fuse, {fuse} A, here\n  load: table load, {amps} A, here\nwires:\n  \
         - battery.pos to F.in, red, 400 mm2, 0.1 m\n  \
         - W1: F.out to load.feed, red, {area} mm2, {half} m\n  \
         - W2: load.ground to battery.neg, black, {area} mm2, {half} m\n",
        half = metres / 2.0
    )
}

#[test]
fn of_the_cells_of_a_published_wire_size_table_the_five_undersized_ones_are_found() {
    let table = rows(include_str!("../reference/wire_size_3percent.csv"));
    assert_eq!((table.len(), table.iter().filter(|row| row[4] == "yes").count()), (104, 5));
    let rules = rules();
    let mut bad = Vec::new();
    for row in table {
        let (feet, amps) = (number(&row[0]), number(&row[1]));
        // The table is of wire alone: a hundredth of the amps over a hundred times the way loses as much in it, and next
        // to nothing in the joints, which have 0.1 mohm at least.
        let text = run(amps / 100.0, area(&row[2]), feet * 0.3048 * 100.0, 1000.0);
        let drops = found_under(&text, rules.clone());
        if of(&drops, "drop").len() != usize::from(row[4] == "yes") {
            bad.push(format!("{row:?}: {drops:#?}"));
        }
    }
    assert!(bad.is_empty(), "{bad:#?}");
}

#[test]
fn amps_for_good_are_the_published_ones_in_cool_air_and_in_an_engine_space() {
    let table = Catalogue::builtin().review.ampacity;
    let published = rows(include_str!("../reference/ampacity.csv"));
    assert_eq!(published.len(), 15);
    for row in published {
        let area = area(&row[0]);
        let cool = table.amps(area, 30.0);
        assert!((cool / number(&row[1]) - 1.0).abs() < 0.005, "{row:?}: {cool}");
        // The rule's factor is 0.85 and its column is rounded down to whole amps.
        let warm = table.amps(area, 50.0);
        assert!((warm / number(&row[2]) - 1.0).abs() < 0.035, "{row:?}: {warm}");
    }
}

#[test]
fn a_wire_is_found_hot_above_its_published_amps_and_not_below() {
    let rules = rules();
    for row in rows(include_str!("../reference/ampacity.csv")) {
        let (area, may) = (area(&row[0]), number(&row[1]));
        let hot = |share: f64| found_under(&run(share * may, area, 0.2, 100_000.0), rules.clone());
        none(&hot(0.97), "wire-hot");
        let found = hot(1.03);
        assert_eq!(one(&found, "wire-hot").severity.word(), "hurts", "{row:?}");
    }
}

#[test]
fn a_fuse_above_one_and_a_half_times_the_published_amps_is_too_big_for_the_wire() {
    // 33 CFR 183.455 (c) (1)
    let rules = rules();
    for row in rows(include_str!("../reference/ampacity.csv")) {
        let (area, may) = (area(&row[0]), number(&row[1]));
        let behind = |share: f64| found_under(&run(1.0, area, 0.2, share * 1.5 * may), rules.clone());
        none(&behind(0.98), "wire-fuse");
        let found = behind(1.02);
        let fault = one(&found, "wire-fuse");
        assert!(fault.severity.word() == "hurts" && fault.text.contains("W1"), "{row:?}: {fault:?}");
    }
}

#[test]
fn light_goes_down_with_the_published_power_of_volts() {
    // Lamp rerating, Wikipedia: volts to the power of 3.4 to 3.5.
    let text = "machine: Dim\nplaces: {here: easy}\nparts:\n  battery: battery, 12 V, 90000 Ah, here\n  F: fuse, 10 A, here\n  \
                lamp: filament lamp, 21 W, here\nwires:\n  - battery.pos to F.in, red, 10 mm2, 0.1 m\n  \
                - F.out to lamp.feed, red, 0.5 mm2, 12 m\n  - lamp.ground to battery.neg, black, 0.5 mm2, 12 m\n";
    let found = found_under(text, Catalogue::builtin());
    let drop = one(&found, "drop");
    let figure = |from: &str, to: &str| -> f64 {
        let rest = &drop.text[drop.text.find(from).unwrap_or_else(|| panic!("{}", drop.text)) + from.len()..];
        number(rest[..rest.find(to).unwrap()].trim())
    };
    let (lost, battery) = (figure("loses", "V"), figure("the battery's", "V"));
    let light = figure(": ", "% of its light") / 100.0;
    let ratio = (battery - lost) / battery;
    // Two figures of the sentence are rounded.
    assert!(light < ratio.powf(3.4) + 0.015 && light > ratio.powf(3.5) - 0.015, "{}", drop.text);
    assert!(lost > 1.2 && drop.text.contains("at 12 V it may be 1.2 V"), "{}", drop.text);
}

#[test]
fn a_fuse_blows_when_the_published_times_say_so() {
    // ISO 8820-3: 135 % within 1800 s, 200 % within 5 s; at its rating it holds.
    let rules = rules();
    let loaded = |share: f64| {
        // The load takes its amps at 11.64 V and gets 12 V all but a little.
        found_under(&run(share * 10.0 * 11.64 / 12.0, 10.0, 0.2, 10.0), rules.clone())
    };
    let text = |found: &[ohmward::review::Finding]| one(found, "fuse-blows").text.clone();
    none(&loaded(1.0), "fuse-blows");
    let blows = text(&loaded(1.38));
    let minutes = number(blows.split("after ").nth(1).and_then(|rest| rest.split(' ').next()).unwrap());
    assert!((20.0..=30.0).contains(&minutes) && blows.contains(" min "), "{blows}");
    assert!(text(&loaded(2.05)).contains("blows at once"), "{}", text(&loaded(2.05)));
    assert!(
        one(&loaded(0.9), "fuse-full").text.contains("90 %") || one(&loaded(0.9), "fuse-full").text.contains("89 %")
    );
    none(&loaded(0.7), "fuse-full");
}
