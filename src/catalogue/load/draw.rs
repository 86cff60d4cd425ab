//! Reads `draw.yaml`: inks, colours, sizes and words of a drawing.

use super::fields::{Fields, Log, figure, text};
use crate::catalogue::draw::DrawRules;
use crate::text::quantity::Unit;
use crate::text::yaml::Node;

/// Inks that a drawing asks for.
const INKS: [&str; 5] = ["paper", "ink", "quiet", "faint", "mark"];

/// Sizes that a drawing asks for.
const SIZES: [&str; 14] = [
    "text",
    "small",
    "head",
    "row",
    "wire",
    "edge",
    "volt",
    "tallest",
    "margin",
    "lane",
    "band",
    "cell",
    "chart-cell",
    "chart-width",
];

/// Words that a drawing asks for.
const WORDS: [&str; 16] = [
    "not-held",
    "step",
    "not-fitted",
    "open",
    "blown",
    "broken",
    "goes-on",
    "one-row",
    "wire-side",
    "no-size",
    "under",
    "more",
    "met",
    "lost",
    "rest",
    "power",
];

/// Lays the file over the rules.
pub(super) fn read(root: &Node, rules: &mut DrawRules, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "draw", &["inks", "colours", "sizes", "words"], log)?;
    for (section, known) in
        [("inks", Some(&INKS[..])), ("colours", None), ("sizes", Some(&SIZES)), ("words", Some(&WORDS))]
    {
        let Some(of) = f.get(section).and_then(|node| of(node, section, log)) else { continue };
        for (key, node) in Fields::any(of, section, log).iter().flat_map(Fields::iter) {
            let name = key.text.as_str();
            if let Some(known) = known.filter(|known| !known.contains(&name)) {
                log.unknown(key.span, section, name, known.iter().copied());
                continue;
            }
            match section {
                "sizes" => {
                    if let Some(value) = figure(node, name, Unit::One, log) {
                        if value <= 0.0 || value > 4000.0 {
                            log.at(node.span, format!("{name} must be above zero and no more than 4000"));
                        } else {
                            rules.sizes.insert(name.to_string(), value);
                        }
                    }
                }
                "words" => {
                    if let Some(words) = text(node, name, log) {
                        rules.words.insert(name.to_string(), words.to_string());
                    }
                }
                _ => {
                    let Some(hex) = text(node, name, log) else { continue };
                    if hex.len() != 7 || !hex.starts_with('#') || !hex[1..].bytes().all(|b| b.is_ascii_hexdigit()) {
                        log.helped(node.span, format!("{name} is no colour of the page"), "write it \"#d7261e\"");
                        continue;
                    }
                    let map = if section == "inks" { &mut rules.inks } else { &mut rules.colours };
                    map.insert(name.to_string(), hex.to_string());
                }
            }
        }
    }
    Some(())
}

/// What a section says, its source asked for.
fn of<'a>(node: &'a Node, section: &'a str, log: &mut Log) -> Option<&'a Node> {
    let f = Fields::of(node, section, &["of", "source"], log)?;
    f.need_text("source", log);
    f.need("of", log)
}
