//! The tree's shapes made into texts, lists and maps; what has another shape is a problem.

use super::fields::{Row, Text, is_name, split};
use crate::text::problem::Problem;
use crate::text::span::{Source, Span};
use crate::text::words::nearest;
use crate::text::yaml::{Node, Value};
use std::collections::HashMap;

/// Reads shapes and collects what does not fit.
pub(super) struct Shaper<'a> {
    pub source: &'a Source,
    pub problems: Vec<Problem>,
}

/// A map whose keys are known beforehand.
pub(super) struct Long<'a> {
    pairs: Vec<(Text, &'a Node)>,
}

impl<'a> Long<'a> {
    pub fn node(&self, key: &str) -> Option<&'a Node> {
        self.pairs.iter().find(|(k, _)| k.is(key)).map(|(_, node)| *node)
    }

    pub fn text(&self, key: &str, shaper: &mut Shaper) -> Option<Text> {
        let node = self.node(key)?;
        shaper.text(node, key)
    }

    pub fn list(&self, key: &str, shaper: &mut Shaper) -> Vec<Text> {
        self.node(key).map_or_else(Vec::new, |node| shaper.texts(node, key))
    }

    /// Pairs whose keys are not among these.
    pub fn others(&self, known: &[&str]) -> impl Iterator<Item = &(Text, &'a Node)> {
        self.pairs.iter().filter(move |(key, _)| !known.iter().any(|k| key.is(k)))
    }
}

impl<'s> Shaper<'s> {
    pub fn problem(&mut self, problem: Problem) {
        self.problems.push(problem);
    }

    /// One text.
    pub fn text(&mut self, node: &Node, what: &str) -> Option<Text> {
        match &node.value {
            Value::Scalar(text) => Some(Text { text: text.trim().to_owned(), span: node.span }),
            Value::Null => {
                self.null(node, what);
                None
            }
            Value::List(_) | Value::Map(_) => {
                self.problem(
                    Problem::at(node.span, format!("{what} takes one text, not a list or a map"))
                        .help("write one value behind the colon, without brackets"),
                );
                None
            }
        }
    }

    fn null(&mut self, node: &Node, what: &str) {
        let word = self.source.text.get(node.span.start..node.span.end).unwrap_or("").trim();
        self.problem(if word.is_empty() {
            Problem::at(node.span, format!("nothing stands at {what}")).help("write a value, or take the line out")
        } else {
            Problem::at(node.span, format!("\"{word}\" at {what} means nothing to YAML"))
                .help("put it in quotes if it is a word")
        });
    }

    /// A list of texts; one text with commas is a list too.
    pub fn texts(&mut self, node: &Node, what: &str) -> Vec<Text> {
        match &node.value {
            Value::List(items) => items.iter().filter_map(|item| self.item(item, what)).collect(),
            Value::Scalar(_) => {
                let Some(text) = self.text(node, what) else { return Vec::new() };
                let row = split(&text, self.source, &mut self.problems);
                let mut all = row.fields;
                all.extend(row.list.into_iter().flatten());
                all
            }
            _ => self.text(node, what).into_iter().collect(),
        }
    }

    fn item(&mut self, node: &Node, what: &str) -> Option<Text> {
        if let Value::Map(pairs) = &node.value
            && let Some((key, _)) = pairs.first()
        {
            self.colon(&Text { text: key.text.clone(), span: key.span });
            return None;
        }
        self.text(node, what)
    }

    /// A colon has made a map of a row.
    pub fn colon(&mut self, key: &Text) {
        self.problem(
            Problem::at(
                key.span,
                format!("the colon after \"{}\" makes YAML read this row as a name and a value", short(&key.text)),
            )
            .help("put the row in quotes, or write a comma in place of the colon"),
        );
    }

    /// A row of fields.
    pub fn row(&mut self, node: &Node, what: &str) -> Option<Row> {
        let text = self.text(node, what)?;
        Some(split(&text, self.source, &mut self.problems))
    }

    /// A map of names to nodes. A duplicate is a problem; the first is kept.
    pub fn map<'n>(&mut self, node: &'n Node, what: &str) -> Vec<(Text, &'n Node)> {
        match &node.value {
            Value::Map(pairs) => {
                let mut out: Vec<(Text, &Node)> = Vec::with_capacity(pairs.len());
                let mut seen: HashMap<String, Span> = HashMap::with_capacity(pairs.len());
                for (key, value) in pairs {
                    let key = Text { text: key.text.trim().to_owned(), span: key.span };
                    match seen.get(&key.lower()).copied() {
                        Some(first) => {
                            let line = self.source.line(first);
                            self.problem(
                                Problem::at(
                                    key.span,
                                    format!("\"{}\" stands twice in {what}, first in line {line}", key.text),
                                )
                                .help("take one out, or give it another name"),
                            );
                        }
                        None => {
                            seen.insert(key.lower(), key.span);
                            out.push((key, value));
                        }
                    }
                }
                out
            }
            Value::Null => Vec::new(),
            Value::Scalar(_) | Value::List(_) => {
                self.problem(
                    Problem::at(node.span, format!("{what} takes rows of NAME: …"))
                        .help("give each row a name, a colon and what it is"),
                );
                Vec::new()
            }
        }
    }

    /// A map with known keys; every unknown one is a problem.
    pub fn long<'n>(&mut self, node: &'n Node, what: &str, keys: &[&str]) -> Long<'n> {
        let pairs = self.map(node, what);
        self.known(&pairs, what, keys);
        Long { pairs }
    }

    /// A map with some known keys.
    pub fn open<'n>(&mut self, node: &'n Node, what: &str) -> Long<'n> {
        Long { pairs: self.map(node, what) }
    }

    pub fn known(&mut self, pairs: &[(Text, &Node)], what: &str, keys: &[&str]) {
        for (key, _) in pairs.iter().filter(|(key, _)| !keys.iter().any(|k| key.is(k))) {
            let decimal =
                key.text.starts_with(|c: char| c.is_ascii_digit()) && self.source.text[..key.span.start].ends_with(',');
            let problem = if decimal {
                Problem::at(key.span, format!("a decimal comma before \"{}\" splits the value", key.text))
                    .help("write a point")
            } else {
                let help = match nearest(&key.text, keys.iter().copied()) {
                    Some(near) => format!("nearest: {near}"),
                    None => format!("it takes: {}", keys.join(", ")),
                };
                Problem::at(key.span, format!("{what} takes no \"{}\"", short(&key.text))).help(help)
            };
            self.problem(problem);
        }
    }

    /// A key that must be a name.
    pub fn name(&mut self, key: &Text) -> bool {
        if is_name(&key.text) {
            return true;
        }
        self.problem(
            Problem::at(key.span, format!("\"{}\" is no name", short(&key.text)))
                .help("a name is letters, digits, - and _, and begins with a letter or a digit"),
        );
        false
    }
}

/// A text short enough for a message.
pub(super) fn short(text: &str) -> String {
    if text.chars().count() <= 40 { text.to_owned() } else { text.chars().take(39).chain(['…']).collect() }
}
