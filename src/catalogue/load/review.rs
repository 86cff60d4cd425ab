//! Reads `review.yaml`: ampacity, limits, lists, and the words of findings.

use super::fields::{Fields, Log, figures};
use super::limits;
use crate::catalogue::review::{FindingWords, ReviewRules};
use crate::text::quantity::Unit;
use crate::text::yaml::Node;

/// Limits that a review asks for, with their units.
const LIMITS: [(&str, Unit); 17] = [
    ("nominal", Unit::Volt),
    ("fuse-over-ampacity", Unit::One),
    ("fuse-full", Unit::One),
    ("fuse-holds", Unit::One),
    ("strong-source", Unit::Amp),
    ("unfused", Unit::Metre),
    ("unfused-sheathed", Unit::Metre),
    ("drop", Unit::One),
    ("drop-critical", Unit::One),
    ("drop-starting", Unit::Volt),
    ("light-exponent", Unit::One),
    ("lift", Unit::Volt),
    ("shares-from", Unit::Amp),
    ("worn-joint", Unit::Ohm),
    ("poor-bond", Unit::Ohm),
    ("sneak", Unit::Amp),
    ("live", Unit::Volt),
];

/// Lists that a review asks for.
const LISTS: [&str; 6] = ["starting", "critical", "interlocks", "cables", "engine-places", "brief"];

/// Lays the file over the rules.
pub(super) fn read(root: &Node, rules: &mut ReviewRules, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "review", &["ampacity", "limits", "lists", "findings"], log)?;
    if let Some(node) = f.get("ampacity") {
        ampacity(node, rules, log);
    }
    limits::limits(&f, &LIMITS, &mut rules.limits, log);
    limits::lists(&f, &LISTS, &mut rules.lists, log);
    let findings = f.get("findings").and_then(|node| Fields::any(node, "findings", log));
    for (key, node) in findings.iter().flat_map(Fields::iter) {
        let what = format!("finding {}", key.text);
        let Some(one) = Fields::of(node, &what, &["text", "cure", "source"], log) else { continue };
        let words = FindingWords {
            text: one.need_text("text", log),
            cure: one.need_text("cure", log),
            source: one.need_text("source", log),
        };
        rules.findings.insert(key.text.clone(), words);
    }
    Some(())
}

fn ampacity(node: &Node, rules: &mut ReviewRules, log: &mut Log) -> Option<()> {
    let f = Fields::of(node, "ampacity", &["area", "amps", "air", "insulation", "source"], log)?;
    let area = figures(f.need("area", log)?, "area", log);
    let amps = figures(f.need("amps", log)?, "amps", log);
    let rise = |list: &[f64]| list.windows(2).all(|pair| pair[0] < pair[1]) && list.first().is_some_and(|&x| x > 0.0);
    let (air, insulation) = (f.need_figure("air", Unit::Celsius, log), f.need_figure("insulation", Unit::Celsius, log));
    let source = f.need_text("source", log);
    if area.len() != amps.len() || area.len() < 2 || !rise(&area) || !rise(&amps) || insulation <= air {
        let help = "area: [1, 1.5], amps: [20, 25], air: 30 C, insulation: 105 C";
        log.helped(node.span, "area and amps must rise together, and insulation stand more than the air", help);
        return None;
    }
    rules.ampacity = crate::catalogue::review::Ampacity { area, amps, air, insulation, source };
    Some(())
}
