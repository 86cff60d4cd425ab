//! Reads `extend.yaml`: lengths, limits, sizes, what takes which size, colours, deferred circuits, the order of work.

use super::fields::{Fields, Log, figure, figures, text};
use crate::catalogue::extend::{ColourCosts, Deferred, ExtendRules, StepWords, Takes};
use crate::text::quantity::Unit;
use crate::text::yaml::{Node, Value};
use indexmap::IndexMap;

/// Lengths that a plan asks for, with their units.
const LENGTHS: [(&str, Unit); 10] = [
    ("slack", Unit::One),
    ("again", Unit::Metre),
    ("strip-sleeve", Unit::Metre),
    ("strip-terminal", Unit::Metre),
    ("round", Unit::Metre),
    ("least", Unit::Metre),
    ("longest", Unit::Metre),
    ("offcut", Unit::Metre),
    ("stagger", Unit::Metre),
    ("old", Unit::Metre),
];

/// Limits that a plan asks for, with their units.
const LIMITS: [(&str, Unit); 4] =
    [("added", Unit::One), ("thinnest", Unit::SquareMillimetre), ("amps", Unit::Amp), ("spare", Unit::One)];

/// What a step can be bound to.
const WITH: [&str; 6] = ["plug", "wire", "crimp", "solder", "labels", "buy"];

/// Lays the file over the rules.
pub(super) fn read(root: &Node, rules: &mut ExtendRules, log: &mut Log) -> Option<()> {
    let known = ["lengths", "limits", "sizes", "sleeves", "terminals", "colours", "defer", "order", "headings"];
    let f = Fields::of(root, "extend", &known, log)?;
    values(f.get("lengths"), "length", &LENGTHS, &mut rules.lengths, log);
    values(f.get("limits"), "limit", &LIMITS, &mut rules.limits, log);
    if let Some(one) = f.get("sizes").and_then(|node| Fields::of(node, "sizes", &["of", "source"], log)) {
        one.need_text("source", log);
        let sizes = one.need("of", log).map(|node| figures(node, "sizes", log)).unwrap_or_default();
        if sizes.is_empty() || sizes[0] <= 0.0 || sizes.windows(2).any(|pair| pair[0] >= pair[1]) {
            log.helped(f.get("sizes")?.span, "sizes must rise and be above zero", "of: [0.5, 0.75, 1]");
        } else {
            rules.sizes = sizes;
        }
    }
    takes(f.get("sleeves"), "sleeves", &mut rules.sleeves, log);
    takes(f.get("terminals"), "terminals", &mut rules.terminals, log);
    if let Some(node) = f.get("colours") {
        colours(node, &mut rules.colours, log);
    }
    for (key, node) in f.get("defer").and_then(|node| Fields::any(node, "defer", log)).iter().flat_map(Fields::iter) {
        let what = format!("defer {}", key.text);
        let known = ["words", "kinds", "stop", "text", "source"];
        let Some(one) = Fields::of(node, &what, &known, log) else { continue };
        let deferred = Deferred {
            words: one.texts("words", log),
            kinds: one.texts("kinds", log),
            stop: one.text("stop", log).is_some_and(|word| ["true", "yes"].contains(&word.as_str())),
            text: one.need_text("text", log),
            source: one.need_text("source", log),
        };
        rules.defer.insert(key.text.clone(), deferred);
    }
    if let Some(node) = f.get("order") {
        order(node, rules, log);
    }
    let headings = f.get("headings").and_then(|node| Fields::any(node, "headings", log));
    for (key, node) in headings.iter().flat_map(Fields::iter) {
        rules.headings.entry(key.text.clone()).or_default().extend(super::fields::texts(node, &key.text, log));
    }
    Some(())
}

/// Rows of a name, a value and its source.
fn values(node: Option<&Node>, what: &str, known: &[(&str, Unit)], to: &mut IndexMap<String, f64>, log: &mut Log) {
    for (key, node) in node.and_then(|node| Fields::any(node, what, log)).iter().flat_map(Fields::iter) {
        let what_of = format!("{what} {}", key.text);
        let Some(one) = Fields::of(node, &what_of, &["value", "source"], log) else { continue };
        one.need_text("source", log);
        let Some((name, unit)) = known.iter().find(|(name, _)| *name == key.text) else {
            log.unknown(key.span, what, &key.text, known.iter().map(|(name, _)| *name));
            continue;
        };
        if let Some(value) = one.need("value", log).and_then(|node| figure(node, name, *unit, log)) {
            if value <= 0.0 {
                log.at(node.span, format!("{name} must be above zero"));
            }
            to.insert(key.text.clone(), value);
        }
    }
}

/// What takes which sizes: each entry is put in the place of the one of its name.
fn takes(node: Option<&Node>, what: &str, to: &mut Vec<Takes>, log: &mut Log) {
    let Some(one) = node.and_then(|node| Fields::of(node, what, &["of", "source"], log)) else { return };
    one.need_text("source", log);
    let rows = one.need("of", log).and_then(|node| Fields::any(node, what, log));
    for (key, node) in rows.iter().flat_map(Fields::iter) {
        let sizes = figures(node, what, log);
        let [from, thickest] = sizes[..] else {
            log.helped(node.span, format!("{} takes two sizes", key.text), "red: [0.25, 1.5]");
            continue;
        };
        if from >= thickest {
            log.at(node.span, format!("{} must take from thin to thick", key.text));
        }
        let takes = Takes { name: key.text.clone(), from, to: thickest };
        match to.iter_mut().find(|known| known.name == takes.name) {
            Some(known) => *known = takes,
            None => to.push(takes),
        }
    }
}

fn colours(node: &Node, costs: &mut ColourCosts, log: &mut Log) -> Option<()> {
    let f = Fields::of(
        node,
        "colours",
        &["main", "other", "taken", "thicker", "pair", "misleads", "alike", "source"],
        log,
    )?;
    f.need_text("source", log);
    let set = |to: &mut u32, key: &str, log: &mut Log| {
        if let Some(value) = f.figure(key, Unit::One, log) {
            *to = whole(value);
        }
    };
    set(&mut costs.main, "main", log);
    set(&mut costs.other, "other", log);
    set(&mut costs.taken, "taken", log);
    set(&mut costs.thicker, "thicker", log);
    set(&mut costs.pair, "pair", log);
    pairs(f.get("misleads"), "misleads", &mut costs.misleads, log);
    pairs(f.get("alike"), "alike", &mut costs.alike, log);
    Some(())
}

/// Costs by two colours; one that is there already is put in its place.
fn pairs(node: Option<&Node>, what: &str, to: &mut Vec<(String, String, u32)>, log: &mut Log) {
    for (one, node) in node.and_then(|node| Fields::any(node, what, log)).iter().flat_map(Fields::iter) {
        for (other, node) in Fields::any(node, &one.text, log).iter().flat_map(Fields::iter) {
            if let Some(value) = figure(node, &other.text, Unit::One, log) {
                to.retain(|known| (&known.0, &known.1) != (&one.text, &other.text));
                to.push((one.text.clone(), other.text.clone(), whole(value)));
            }
        }
    }
}

/// A cost as a whole number; none is as large as a thousand.
fn whole(value: f64) -> u32 {
    value.round().clamp(0.0, 1000.0) as u32
}

fn order(node: &Node, rules: &mut ExtendRules, log: &mut Log) {
    let Value::List(items) = &node.value else {
        log.helped(node.span, "order must be a list of steps", "- {text: …, source: …}");
        return;
    };
    rules.order.clear();
    for item in items {
        let Some(one) = Fields::of(item, "step", &["with", "text", "caution", "source"], log) else { continue };
        let with = one.get("with").and_then(|node| text(node, "with", log).map(|word| (word.to_owned(), node.span)));
        if let Some((word, span)) = with.as_ref().filter(|(word, _)| !WITH.contains(&word.as_str())) {
            log.unknown(*span, "condition", word, WITH);
        }
        rules.order.push(StepWords {
            with: with.map(|(word, _)| word),
            text: one.need_text("text", log),
            caution: one.text("caution", log),
            source: one.need_text("source", log),
        });
    }
}
