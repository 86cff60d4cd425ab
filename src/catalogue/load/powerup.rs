//! Reads `powerup.yaml`: limits, lists, and the words of the stages.

use super::fields::{Fields, Log};
use super::limits;
use crate::catalogue::powerup::{PowerRules, StageWords};
use crate::text::quantity::Unit;
use crate::text::yaml::Node;

/// Limits that bringing power on asks for, with their units.
const LIMITS: [(&str, Unit); 7] = [
    ("lamp", Unit::Watt),
    ("small-fuse", Unit::Amp),
    ("tell-apart", Unit::One),
    ("worth-a-reading", Unit::Amp),
    ("felt", Unit::Amp),
    ("charges", Unit::Volt),
    ("beside", Unit::One),
];

/// Lists that it asks for.
const LISTS: [&str; 2] = ["taken-out", "by-itself"];

/// Its stages.
const STAGES: [&str; 7] = ["safe", "dead", "lamp", "fuse", "full", "crank", "running"];

/// Lays the file over the rules.
pub(super) fn read(root: &Node, rules: &mut PowerRules, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "powerup", &["limits", "lists", "stages"], log)?;
    limits::limits(&f, &LIMITS, &mut rules.limits, log);
    limits::lists(&f, &LISTS, &mut rules.lists, log);
    let stages = f.get("stages").and_then(|node| Fields::any(node, "stages", log));
    for (key, node) in stages.iter().flat_map(Fields::iter) {
        let what = format!("stage {}", key.text);
        if !STAGES.contains(&key.text.as_str()) {
            log.unknown(key.span, "stage", &key.text, STAGES);
        }
        let known = ["title", "first", "stop", "caution", "source"];
        let Some(one) = Fields::of(node, &what, &known, log) else { continue };
        let words = StageWords {
            title: one.need_text("title", log),
            first: one.need_text("first", log),
            stop: one.need_text("stop", log),
            caution: one.need_text("caution", log),
            source: one.need_text("source", log),
        };
        rules.stages.insert(key.text.clone(), words);
    }
    Some(())
}
