//! Limits and lists by name, each with its source: the same in every table that has them.

use super::fields::{Fields, Log, figure, texts};
use crate::text::quantity::Unit;
use indexmap::IndexMap;

/// Reads `limits`: figures above zero by name, in base units.
pub(super) fn limits(f: &Fields, known: &[(&str, Unit)], into: &mut IndexMap<String, f64>, log: &mut Log) {
    let limits = f.get("limits").and_then(|node| Fields::any(node, "limits", log));
    for (key, node) in limits.iter().flat_map(Fields::iter) {
        let what = format!("limit {}", key.text);
        let Some(one) = Fields::of(node, &what, &["value", "source"], log) else { continue };
        one.need_text("source", log);
        let Some((name, unit)) = known.iter().find(|(name, _)| *name == key.text) else {
            log.unknown(key.span, "limit", &key.text, known.iter().map(|(name, _)| *name));
            continue;
        };
        if let Some(value) = one.need("value", log).and_then(|node| figure(node, name, *unit, log)) {
            if value <= 0.0 {
                log.at(node.span, format!("{name} must be above zero"));
            }
            into.insert(key.text.clone(), value);
        }
    }
}

/// Reads `lists`: words by name.
pub(super) fn lists(f: &Fields, known: &[&str], into: &mut IndexMap<String, Vec<String>>, log: &mut Log) {
    let lists = f.get("lists").and_then(|node| Fields::any(node, "lists", log));
    for (key, node) in lists.iter().flat_map(Fields::iter) {
        let what = format!("list {}", key.text);
        let Some(one) = Fields::of(node, &what, &["of", "source"], log) else { continue };
        one.need_text("source", log);
        if !known.contains(&key.text.as_str()) {
            log.unknown(key.span, "list", &key.text, known.iter().copied());
        }
        let words = one.need("of", log).map(|node| texts(node, &what, log)).unwrap_or_default();
        into.insert(key.text.clone(), words);
    }
}
