//! Reading the fields of a map: unknown, missing and repeated keys, figures, lists.

use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::text::span::Span;
use crate::text::words::nearest;
use crate::text::yaml::{Key, Node, Value};

/// Problems met so far.
pub(super) struct Log {
    pub(super) problems: Vec<Problem>,
    /// Also ask for the fixed order of fields (built-in files).
    pub(super) strict: bool,
}

impl Log {
    pub(super) fn at(&mut self, span: Span, text: impl Into<String>) {
        self.problems.push(Problem::at(span, text));
    }

    pub(super) fn helped(&mut self, span: Span, text: impl Into<String>, help: impl Into<String>) {
        self.problems.push(Problem::at(span, text).help(help));
    }

    /// A word that is none of those allowed.
    pub(super) fn unknown<'a>(
        &mut self,
        span: Span,
        what: &str,
        word: &str,
        allowed: impl IntoIterator<Item = &'a str>,
    ) {
        let allowed: Vec<&str> = allowed.into_iter().collect();
        let help = match nearest(word, allowed.iter().copied()) {
            Some(near) => format!("nearest: {near}"),
            None if allowed.is_empty() => "none is possible here".into(),
            None => format!("possible: {}", allowed.join(", ")),
        };
        self.helped(span, format!("unknown {what} \"{word}\""), help);
    }
}

/// The fields of one map.
pub(super) struct Fields<'a> {
    pairs: &'a [(Key, Node)],
    span: Span,
    what: &'a str,
}

impl<'a> Fields<'a> {
    /// The map's fields, all of which must be among `known` (given in their fixed order).
    pub(super) fn of(node: &'a Node, what: &'a str, known: &[&str], log: &mut Log) -> Option<Self> {
        let fields = Self::any(node, what, log)?;
        let mut last = 0;
        for (key, _) in fields.pairs {
            match known.iter().position(|k| *k == key.text) {
                None => log.unknown(key.span, &format!("field of {what}"), &key.text, known.iter().copied()),
                Some(at) => {
                    if log.strict && at < last {
                        log.helped(
                            key.span,
                            format!("{} stands too late in {what}", key.text),
                            format!("the order is {}", known.join(", ")),
                        );
                    }
                    last = last.max(at);
                }
            }
        }
        Some(fields)
    }

    /// The map's fields, whatever they are called.
    pub(super) fn any(node: &'a Node, what: &'a str, log: &mut Log) -> Option<Self> {
        let Value::Map(pairs) = &node.value else {
            log.helped(node.span, format!("{what} must be fields with values"), "write `name: value` rows");
            return None;
        };
        for (i, (key, _)) in pairs.iter().enumerate() {
            if pairs[..i].iter().any(|(earlier, _)| earlier.text == key.text) {
                log.helped(key.span, format!("{} stands twice in {what}", key.text), "keep one of them");
            }
        }
        Some(Fields { pairs, span: node.span, what })
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = (&'a Key, &'a Node)> {
        self.pairs.iter().map(|(key, value)| (key, value))
    }

    pub(super) fn get(&self, key: &str) -> Option<&'a Node> {
        self.pairs.iter().find(|(k, _)| k.text == key).map(|(_, value)| value)
    }

    pub(super) fn need(&self, key: &str, log: &mut Log) -> Option<&'a Node> {
        let found = self.get(key);
        if found.is_none() {
            log.helped(self.span, format!("{} has no {key}", self.what), format!("add `{key}:`"));
        }
        found
    }

    pub(super) fn text(&self, key: &str, log: &mut Log) -> Option<String> {
        self.get(key).and_then(|node| text(node, key, log)).map(str::to_owned)
    }

    pub(super) fn need_text(&self, key: &str, log: &mut Log) -> String {
        self.need(key, log).and_then(|node| text(node, key, log)).unwrap_or_default().to_owned()
    }

    pub(super) fn figure(&self, key: &str, unit: Unit, log: &mut Log) -> Option<f64> {
        self.get(key).and_then(|node| figure(node, key, unit, log))
    }

    pub(super) fn need_figure(&self, key: &str, unit: Unit, log: &mut Log) -> f64 {
        self.need(key, log).and_then(|node| figure(node, key, unit, log)).unwrap_or_default()
    }

    /// A list of texts; absent is empty.
    pub(super) fn texts(&self, key: &str, log: &mut Log) -> Vec<String> {
        self.get(key).map(|node| texts(node, key, log)).unwrap_or_default()
    }
}

/// The text of a scalar.
pub(super) fn text<'a>(node: &'a Node, what: &str, log: &mut Log) -> Option<&'a str> {
    match &node.value {
        Value::Scalar(text) if !text.trim().is_empty() => Some(text.trim()),
        _ => {
            log.at(node.span, format!("{what} must be one word or sentence"));
            None
        }
    }
}

/// A list of texts.
pub(super) fn texts(node: &Node, what: &str, log: &mut Log) -> Vec<String> {
    match &node.value {
        Value::List(items) => items.iter().filter_map(|item| text(item, what, log)).map(str::to_owned).collect(),
        Value::Null => Vec::new(),
        _ => {
            log.helped(node.span, format!("{what} must be a list"), "write [one, two]");
            Vec::new()
        }
    }
}

/// A list of bare numbers.
pub(super) fn figures(node: &Node, what: &str, log: &mut Log) -> Vec<f64> {
    match &node.value {
        Value::List(items) => items.iter().filter_map(|item| figure(item, what, Unit::One, log)).collect(),
        _ => {
            log.helped(node.span, format!("{what} must be a list of numbers"), "write [0.2, 0.7]");
            Vec::new()
        }
    }
}

/// A figure in this unit; a bare number is taken in its base.
pub(super) fn figure(node: &Node, what: &str, unit: Unit, log: &mut Log) -> Option<f64> {
    let text = text(node, what, log)?;
    if let Ok(value) = text.parse::<f64>() {
        if value.is_finite() {
            return Some(value);
        }
        log.at(node.span, format!("{what} must be a finite number"));
        return None;
    }
    let found = any_figure(node, what, log)?;
    if found.unit == unit {
        return Some(found.value);
    }
    let wanted = if unit == Unit::One { "a bare number".into() } else { format!("in {}", unit.symbol()) };
    log.at(node.span, format!("{what} must be {wanted}, not in {}", found.unit.symbol()));
    None
}

/// A figure in whatever unit it says.
pub(super) fn any_figure(node: &Node, what: &str, log: &mut Log) -> Option<quantity::Quantity> {
    let text = text(node, what, log)?;
    match quantity::parse(text) {
        Ok(found) => Some(found),
        Err(problem) => {
            log.at(node.span, format!("{what}: {problem}"));
            None
        }
    }
}
