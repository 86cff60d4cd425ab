//! What every drawing holds to, on all built-in machines: busy, at rest, with faults in them.

use super::{built_in, drawn, drawn_in, machine, parts};
use ohmward::circuit::lower::SEAT;
use ohmward::circuit::schematic::ElementId;
use ohmward::diagnosis::machine::Machine;
use ohmward::drawing::charts;
use ohmward::drawing::page::{Drawn, Wish};
use ohmward::drawing::plugs::Rows;
use ohmward::drawing::scene::{What, grains};
use ohmward::drawing::shape::{Page, Shape};
use ohmward::drawing::svg::svg;
use proptest::prelude::*;
use std::collections::BTreeMap;

/// Every built-in machine with drawings of it: whole and busy, whole at rest, with a bad ground.
fn all() -> Vec<(String, Machine, Vec<Drawn>)> {
    let mut out = Vec::new();
    for name in crate::machines::names() {
        let mut machine = built_in(&name);
        let whole = Wish::default();
        let ground = machine.netlist.grounds.keys().nth(1).unwrap().clone();
        let drawings = vec![
            drawn(&mut machine, &whole, "").0,
            drawn_in(&mut machine, &whole, Vec::new(), "").0,
            drawn(&mut machine, &whole, &format!("{ground}:resistive(2)")).0,
            drawn(&mut machine, &whole, &format!("{ground}:open")).0,
        ];
        out.push((name, machine, drawings));
    }
    out
}

#[test]
fn every_element_of_a_machine_is_drawn_once() {
    for (name, machine, drawings) in all() {
        for drawn in &drawings {
            let mut count: BTreeMap<ElementId, usize> = BTreeMap::new();
            for id in drawn.groups.iter().flat_map(|group| group.scene.elements()) {
                *count.entry(id).or_default() += 1;
            }
            for (id, element) in machine.sim.schematic().elements.iter().enumerate() {
                let once = usize::from(!element.name.ends_with(SEAT));
                assert_eq!(count.get(&id).copied().unwrap_or(0), once, "{name}: {}", element.name);
            }
        }
    }
}

#[test]
fn every_part_of_the_circuits_asked_for_is_there_and_what_others_work_by_is_not() {
    let mut cart = built_in("orchard-cart");
    let (drawn, _) = drawn(&mut cart, &parts(&["horn", "rev-gauge"]), "");
    let elements = &cart.sim.schematic().elements;
    let there: Vec<&str> =
        drawn.groups[0].scene.elements().into_iter().filter_map(|id| elements[id].part.as_deref()).collect();
    for part in ["horn", "rev-gauge", "horn-push", "key", "main-fuse", "F2", "F3", "battery", "ignition"] {
        assert!(there.contains(&part), "{part} is not in {there:?}");
    }
    for part in ["starter", "head-lamp", "flasher", "fan"] {
        assert!(!there.contains(&part), "{part} has nothing to do with it");
    }
    let text = words(&drawn.page);
    assert!(text.iter().any(|word| word == "G2, dash") && text.iter().any(|word| word == "P9 way 4"), "{text:?}");
}

fn words(page: &Page) -> Vec<String> {
    page.shapes
        .iter()
        .filter_map(|shape| match shape {
            Shape::Text { text, .. } => Some(text.clone()),
            _ => None,
        })
        .collect()
}

#[test]
fn height_is_volts() {
    for (name, _, drawings) in all() {
        for group in drawings.iter().flat_map(|drawn| &drawn.groups) {
            let y = |hub: usize| group.layout.scale.y(group.layout.keys[hub]);
            let hubs = &group.scene.hubs;
            for (one, a) in hubs.iter().enumerate() {
                for (other, b) in hubs.iter().enumerate() {
                    match (a.volts.map(grains), b.volts.map(grains)) {
                        (Some(high), Some(low)) if high > low => {
                            assert!(y(one) <= y(other), "{name}, {}: {a:?} is under {b:?}", group.title);
                        }
                        (Some(_), None) => {
                            assert!(y(one) < y(other), "{name}: what nothing holds is over {a:?}");
                        }
                        _ => {}
                    }
                }
            }
            // Two ends of one thing: higher where there are more volts, else level to the pixel or a step apart.
            for (at, edge) in group.scene.edges.iter().enumerate() {
                let [high, low] = edge.ends;
                if !edge.level && !matches!(edge.what, What::Seat(_)) {
                    assert!(y(low) - y(high) >= 14.0, "{name}: no room for {edge:?}");
                }
                let points = &group.layout.points[at];
                assert!(edge.level || points.windows(2).all(|two| two[0] >= two[1]), "{name}: {edge:?} rises");
            }
        }
    }
}

#[test]
fn most_of_what_has_the_same_volts_is_at_the_same_height() {
    let (mut level, mut apart) = (0, 0);
    for (_, _, drawings) in all() {
        for group in drawings.iter().flat_map(|drawn| &drawn.groups) {
            for edge in group.scene.edges.iter().filter(|edge| edge.level) {
                let [a, b] = edge.ends.map(|hub| group.layout.scale.y(group.layout.keys[hub]));
                if (a - b).abs() < 1.0 { level += 1 } else { apart += 1 }
            }
        }
    }
    assert!(level > 2 * apart, "{level} level, {apart} a step apart");
}

#[test]
fn every_wire_reaches_both_its_points() {
    for (name, _, drawings) in all() {
        for group in drawings.iter().flat_map(|drawn| &drawn.groups) {
            let layout = &group.layout;
            for (at, edge) in group.scene.edges.iter().enumerate() {
                let [from, line, to] = layout.lanes[layout.columns.edge[at]];
                let ends = [layout.points[at][0], layout.points[at][layout.points[at].len() - 1]];
                for (end, hub) in ends.into_iter().zip(edge.ends) {
                    let [left, right] = layout.bars[hub];
                    let reached = |x: f64| left <= x + 0.01 && x <= right + 0.01;
                    assert!(end == layout.keys[hub], "{name}: {edge:?} ends beside its point");
                    assert!(
                        if edge.level { reached(from) || reached(to) } else { reached(line) },
                        "{name}: {edge:?} hangs in the air"
                    );
                }
                if let What::Run(bits) = &edge.what {
                    assert!(bits.windows(2).all(|two| two[0].nodes[1] == two[1].nodes[0]), "{name}: {edge:?} has gaps");
                    let nodes = edge.ends.map(|hub| group.scene.hubs[hub].node);
                    assert_eq!([bits[0].nodes[0], bits[bits.len() - 1].nodes[1]], nodes, "{name}");
                }
            }
        }
    }
}

/// Texts that lie on each other, or beyond the page.
fn heaped(page: &Page) -> Vec<String> {
    let boxes: Vec<_> = page.shapes.iter().filter_map(|shape| Some((shape.bounds()?, shape))).collect();
    let mut out = Vec::new();
    for (at, (a, one)) in boxes.iter().enumerate() {
        if a[0] < 0.0 || a[1] < 0.0 || a[2] > page.size[0] || a[3] > page.size[1] {
            out.push(format!("{one:?} is not on the page"));
        }
        for (b, other) in &boxes[at + 1..] {
            let wide = a[2].min(b[2]) - a[0].max(b[0]);
            let high = a[3].min(b[3]) - a[1].max(b[1]);
            if wide > 1.5 && high > 2.5 {
                out.push(format!("{one:?} and {other:?}"));
            }
        }
    }
    out
}

#[test]
fn no_words_lie_on_words() {
    for (name, machine, drawings) in all() {
        for drawn in &drawings {
            let heaped = heaped(&drawn.page);
            assert!(heaped.is_empty(), "{name}: {} heaps: {:#?}", heaped.len(), &heaped[..heaped.len().min(4)]);
        }
        let plugs: Vec<String> = machine.netlist.plugs.keys().cloned().collect();
        let heaped = heaped(&charts::charts(&machine, &plugs, &Rows::new()));
        assert!(heaped.is_empty(), "{name}: {heaped:#?}");
    }
}

#[test]
fn the_same_machine_gives_the_same_bytes() {
    let text = |_: usize| {
        let mut cart = built_in("orchard-cart");
        let (drawn, _) = drawn(&mut cart, &Wish::default(), "");
        svg(&drawn.page, &cart.catalogue.draw)
    };
    assert_eq!(text(0), text(1));
}

/// A small machine, to be looked at as text. Written anew with `OHMWARD_WRITE=1`.
#[test]
fn the_drawing_of_a_small_machine_is_as_it_was_looked_at() {
    let mut small = machine(
        "machine: Shed lamp\nplaces: {shelf: easy}\nparts:\n  battery: lead-acid battery, 12 V, 7 Ah, shelf\n  \
         F: fuse, 5 A, shelf\n  switch: toggle switch, shelf\n  lamp: lamp, 21 W, shelf\nwires:\n  \
         - battery.pos to F.in, red, 1 mm2, 0.2 m\n  - F.out to switch.a, red/white, 1 mm2, 0.5 m\n  \
         - W1: switch.b to lamp.feed, yellow, 1 mm2, 2 m\n  - battery.neg to G1, black, 4 mm2, 0.3 m\n\
         chassis: {box: alone}\ngrounds:\n  G1: shelf, on box, [lamp.ground]\n",
    );
    let (drawn, _) = drawn(&mut small, &parts(&["lamp"]), "");
    let now = svg(&drawn.page, &small.catalogue.draw);
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/drawing/shed-lamp.svg");
    if std::env::var_os("OHMWARD_WRITE").is_some() {
        std::fs::write(&path, &now).unwrap();
    }
    let then = std::fs::read_to_string(&path).unwrap_or_default();
    assert!(now == then, "the drawing has changed: look at it, then write it anew (OHMWARD_WRITE=1)");
}

/// Contrast of two inks by WCAG 2.1: (lighter + 0.05) / (darker + 0.05) of their relative luminances.
fn contrast(one: &str, other: &str) -> f64 {
    let luminance = |hex: &str| {
        let channel = |at: usize| {
            let value = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    };
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

#[test]
fn words_and_edges_stand_out_from_the_paper() {
    let rules = ohmward::catalogue::Catalogue::builtin().draw;
    let paper = rules.ink("paper");
    // The formula's own ends: black on white is 21 to 1 (WCAG 2.1, definition of contrast ratio).
    assert!((contrast("#000000", "#ffffff") - 21.0).abs() < 1e-9);
    for ink in ["ink", "quiet", "mark"] {
        assert!(contrast(rules.ink(ink), paper) >= 4.5, "{ink}: WCAG 2.1, 1.4.3 asks 4.5 of text");
    }
    // A wire's edge shows where its own colour does not: 3 to 1 for what is no text (WCAG 2.1, 1.4.11).
    assert!(contrast(rules.ink("ink"), paper) >= 3.0);
    let light: Vec<&str> =
        rules.colours.values().map(String::as_str).filter(|hex| contrast(hex, paper) < 3.0).collect();
    assert!(light.iter().all(|hex| contrast(hex, rules.ink("ink")) >= 3.0), "no edge shows about {light:?}");
}

#[test]
fn every_colour_that_a_wiring_file_knows_has_an_ink() {
    let rules = ohmward::catalogue::Catalogue::builtin();
    for colour in &rules.colours {
        assert!(rules.draw.colours.contains_key(&colour.name), "rules/draw.yaml: no ink for {}", colour.name);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn no_name_gets_through_as_anything_but_words(title in "[\\PC\u{1b}\u{202e}\u{7}<>&'\"]{0,40}") {
        let mut lamp = built_in("verge-mower");
        lamp.netlist.title = title.clone();
        let names: Vec<String> = lamp.netlist.plugs.keys().cloned().collect();
        for plug in lamp.netlist.plugs.values_mut() {
            plug.is = Some(title.clone());
        }
        let wish = Wish { lines: vec![title.clone()], ..parts(&["horn"]) };
        let wish = if lamp.netlist.parts.contains_key("horn") { wish } else {
            Wish { parts: vec![lamp.netlist.parts.keys().next().unwrap().clone()], ..wish }
        };
        let (drawn, _) = drawn_in(&mut lamp, &wish, Vec::new(), "");
        for page in [drawn.page, charts::charts(&lamp, &names, &Rows::new())] {
            let text = svg(&page, &lamp.catalogue.draw);
            prop_assert!(!text.chars().any(|c| c.is_control() && c != '\n'));
            let unseen = text.contains(['\u{202e}', '\u{2066}', '\u{200b}']);
            prop_assert!(!unseen);
            // Tags are this program's own.
            for (at, _) in text.match_indices('<') {
                let tag: String = text[at + 1..].chars().take_while(|c| c.is_ascii_alphabetic() || *c == '/' || *c == '!').collect();
                let tag = tag.trim_matches('/');
                prop_assert!(
                    ["svg", "title", "desc", "rect", "polyline", "circle", "text", "!"].contains(&tag),
                    "<{tag}"
                );
            }
        }
    }
}
