//! Plug charts for the tool box: each half as one sees it, a leader from each cavity to what is in it.
//!
//! Leaders hang down from the cavities, the rightmost shortest, so that none crosses a word.

use super::measure::wrapped;
use super::page::Sheet;
use super::plugs::{self, Face, Rows};
use super::shape::{Anchor, Page, Shape};
use crate::catalogue::DrawRules;
use crate::circuit::fault::site;
use crate::diagnosis::machine::Machine;
use crate::netlist::{Netlist, Plug, PointKind, Proof};
use petgraph::graph::NodeIndex;

/// The least room for words beside a leader.
const WORDS: f64 = 118.0;
/// Leaders of two rows of cavities stand so far apart.
const ASIDE: f64 = 6.0;

/// What is in a cavity.
#[derive(Clone, Debug, PartialEq)]
pub struct Cavity {
    /// The colour that one sees at the plug.
    pub colour: Option<String>,
    /// The colour behind its sleeve, where that is another.
    pub then: Option<String>,
    /// What it leads to on this side.
    pub to: String,
    /// How sure the row is, in a word; nothing for what was tried.
    pub proof: Option<&'static str>,
}

/// Charts of these plugs, one under the other.
pub fn charts(machine: &Machine, plugs: &[String], rows: &Rows) -> Page {
    let rules = &machine.catalogue.draw;
    let netlist = &machine.netlist;
    let margin = rules.size("margin");
    let wide = rules.size("chart-width") - 2.0 * margin;
    let mut sheet = Sheet { shapes: Vec::new(), y: margin, left: margin, wide };
    let title = format!("{}: plugs", netlist.title);
    sheet.words(&title, rules.size("head"), true, "ink");
    sheet.words(rules.word("wire-side"), rules.size("text"), false, "quiet");
    for plug in plugs.iter().filter_map(|name| netlist.plugs.get(name)) {
        sheet.y += 16.0;
        let line = vec![[margin, sheet.y], [margin + wide, sheet.y]];
        sheet.shapes.push(Shape::Line { points: line, ink: "faint", width: 1.4, dashed: false });
        sheet.y += 8.0;
        let is = plug.is.as_ref().map_or_else(String::new, |is| format!(": {is}"));
        sheet.words(&format!("{}{is}", plug.name), rules.size("text") + 3.0, true, "ink");
        if !rows.contains_key(&plug.name) {
            sheet.words(rules.word("one-row"), rules.size("small"), false, "quiet");
        }
        for (at, half) in ['a', 'b'].into_iter().enumerate() {
            sheet.y += 10.0;
            let place = plug.places[at].as_ref().map_or_else(String::new, |place| format!(", {place}"));
            sheet.words(&format!("{}{half}{place}", plug.name), rules.size("text"), true, "ink");
            half_chart(netlist, rules, plug, half, rows, &mut sheet);
        }
    }
    let about = format!("Plug charts of {}: {}. {}.", netlist.title, plugs.join(", "), rules.word("wire-side"));
    Page { title, about, size: [wide + 2.0 * margin, sheet.y + margin], shapes: sheet.shapes }
}

/// One half: its face, and a leader from each cavity.
fn half_chart(netlist: &Netlist, rules: &DrawRules, plug: &Plug, half: char, rows: &Rows, sheet: &mut Sheet) {
    let face: Face = plugs::face(plug, half, rows.get(&plug.name));
    let most = face.iter().map(Vec::len).max().unwrap_or(0);
    if most == 0 {
        return;
    }
    // Words keep their room: a wide plug gets small cavities, a very wide one a wider page is no help on a phone.
    let cell = ((sheet.wide - WORDS) / most as f64).min(rules.size("chart-cell")).max(9.0);
    let latch = 8.0;
    let (left, top) = (sheet.left + 2.0, sheet.y + latch + 6.0);
    let size = [most as f64 * cell + 6.0, face.len() as f64 * cell + 6.0];
    let mut boxes = plugs::body([left, top], size, latch);
    let mut words = Vec::new();
    let mut leaders: Vec<(f64, f64, String)> = Vec::new();
    for (r, row) in face.iter().enumerate() {
        for (c, way) in row.iter().enumerate().filter(|(_, way)| !way.is_empty()) {
            let middle = [left + 3.0 + (c as f64 + 0.5) * cell, top + 3.0 + (r as f64 + 0.5) * cell];
            let known = plug.ways.keys().find(|known| known.eq_ignore_ascii_case(way));
            let inside = cell - 3.0;
            boxes.push(Shape::Box {
                at: [middle[0] - inside / 2.0, middle[1] - inside / 2.0],
                size: [inside, inside],
                round: 2.0,
                fill: Some(if known.is_some() { "paper" } else { "faint" }),
                ink: "ink",
                width: 1.2,
            });
            let letters = (cell * 0.5).clamp(6.0, 13.0);
            if super::measure::width(way, letters, true) < inside {
                words.push(Shape::bold(
                    [middle[0], middle[1] + letters * 0.36],
                    Anchor::Middle,
                    letters,
                    "ink",
                    way.clone(),
                ));
            }
            if let Some(way) = known {
                let aside = (r as f64 - (face.len() - 1) as f64 / 2.0) * ASIDE;
                leaders.push((middle[0] + aside, middle[1] + inside / 2.0, way.clone()));
            }
        }
    }
    leaders.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut y = top + size[1] + 16.0;
    let mut lines = Vec::new();
    for (x, from, way) in &leaders {
        let cavity = cavity(netlist, plug, half, way);
        let room = sheet.left + sheet.wide - x - 26.0;
        let foot = y + rules.size("row") * 0.4;
        lines.push(Shape::Line {
            points: vec![[*x, *from], [*x, foot], [x + 5.0, foot]],
            ink: "quiet",
            width: 1.2,
            dashed: false,
        });
        if cavity.colour.is_some() {
            words.push(Shape::Swatch { at: [x + 13.0, foot], radius: 6.0, colour: cavity.colour.clone(), ring: false });
        }
        for (text, bold, ink) in said(way, &cavity) {
            for line in wrapped(&text, rules.size("text"), bold, room.max(60.0)) {
                y += rules.size("row");
                words.push(Shape::Text {
                    at: [x + 23.0, y - 4.0],
                    anchor: Anchor::Start,
                    size: rules.size("text"),
                    bold,
                    ink,
                    text: line,
                });
            }
        }
        y += 7.0;
    }
    // Leaders go behind the cavities of the rows under theirs.
    sheet.shapes.push(boxes.remove(0));
    sheet.shapes.push(boxes.remove(0));
    sheet.shapes.extend(lines);
    sheet.shapes.extend(boxes);
    sheet.shapes.extend(words);
    sheet.y = y + 2.0;
}

/// The lines beside a leader.
fn said(way: &str, cavity: &Cavity) -> Vec<(String, bool, &'static str)> {
    let colour = cavity.colour.as_deref().unwrap_or("no colour in the file");
    let mut out = vec![(format!("{way}  {colour}"), true, "ink")];
    if let Some(then) = &cavity.then {
        out.push((format!("then {then}"), false, "ink"));
    }
    let proof = cavity.proof.map_or_else(String::new, |proof| format!(" ({proof})"));
    out.push((format!("to {}{proof}", cavity.to), false, "quiet"));
    out
}

/// What is in a cavity of a half.
pub fn cavity(netlist: &Netlist, plug: &Plug, half: char, way: &str) -> Cavity {
    let known = plug.ways.get(way);
    let side = usize::from(half == 'b');
    let crimped = known.and_then(|way| way.crimped[side].as_ref());
    let Some((first, (name, end))) = crimped.and_then(|crimped| Some((netlist.wires.get(&crimped.0)?, crimped))) else {
        let to = known.map_or_else(|| "nothing".to_string(), |way| netlist.point_name(way.halves[side]).to_string());
        return Cavity { colour: None, then: None, to, proof: None };
    };
    let mut node = if *end == 'a' { first.to } else { first.from };
    let (mut wire, mut last) = (name.clone(), first);
    // Through what joins just two wires, to where it ends or branches.
    for _ in 0..netlist.wires.len() {
        let Some(next) = onward(netlist, node, &wire) else { break };
        wire = next;
        let Some(known) = netlist.wires.get(&wire) else { break };
        node = if known.from == node { known.to } else { known.from };
        last = known;
    }
    let then = last.colour.clone().filter(|colour| Some(colour) != first.colour.as_ref());
    Cavity { colour: first.colour.clone(), then, to: netlist.point_name(node).to_string(), proof: proof(first.proof) }
}

/// The other wire at a sleeve that joins two.
fn onward(netlist: &Netlist, node: NodeIndex, wire: &str) -> Option<String> {
    if netlist.graph[node].what != PointKind::Sleeve {
        return None;
    }
    let ends = site::ends_at(netlist, node);
    if ends.len() != 2 {
        return None;
    }
    ends.into_iter().map(|(name, _)| name).find(|name| *name != wire).map(str::to_string)
}

fn proof(proof: Proof) -> Option<&'static str> {
    match proof {
        Proof::Assumed => Some("assumed"),
        Proof::Paper => Some("on paper"),
        Proof::Beep => Some("beeped"),
        Proof::Loaded => None,
        Proof::NotFitted => Some("not fitted"),
        Proof::Capped => Some("capped"),
    }
}
