//! What is said: `rules/ringout.yaml` has the sentences, here their braces are filled.

use crate::text::span::Source;
use crate::text::yaml::{self, Node, Value};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// The table.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Words {
    slips: BTreeMap<String, String>,
    texts: BTreeMap<String, String>,
    figures: BTreeMap<String, f64>,
}

const BUILTIN: &str = include_str!("../../../rules/ringout.yaml");

impl Words {
    /// The table that is compiled in; a test reads it, so it is whole.
    pub fn builtin() -> &'static Words {
        static WORDS: OnceLock<Words> = OnceLock::new();
        WORDS.get_or_init(|| {
            let source = Source::new("rules/ringout.yaml", BUILTIN);
            yaml::parse(&source).ok().map(|tree| Words::of(&tree)).unwrap_or_default()
        })
    }

    fn of(tree: &Node) -> Words {
        let mut words = Words::default();
        let Value::Map(pairs) = &tree.value else { return words };
        for (key, node) in pairs {
            match &node.value {
                Value::Scalar(text) => match text.parse() {
                    Ok(figure) => drop(words.figures.insert(key.text.clone(), figure)),
                    Err(_) => drop(words.texts.insert(key.text.clone(), text.clone())),
                },
                Value::Map(slips) => {
                    for (name, text) in slips {
                        if let Value::Scalar(text) = &text.value {
                            words.slips.insert(name.text.clone(), text.clone());
                        }
                    }
                }
                _ => {}
            }
        }
        words
    }

    /// A slip in words.
    pub fn slip(&self, name: &str, values: &[(&str, &str)]) -> String {
        fill(self.slips.get(name).map_or(name, String::as_str), values)
    }

    /// A sentence.
    pub fn text(&self, name: &str, values: &[(&str, &str)]) -> String {
        fill(self.texts.get(name).map_or("", String::as_str), values)
    }

    /// A figure; 0 if there is none.
    pub fn figure(&self, name: &str) -> f64 {
        self.figures.get(name).copied().unwrap_or(0.0)
    }
}

fn fill(text: &str, values: &[(&str, &str)]) -> String {
    values.iter().fold(text.to_string(), |text, (key, value)| text.replace(&format!("{{{key}}}"), value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_sentence_that_is_asked_for_is_there() {
        let words = Words::builtin();
        for slip in ["mirror", "shift", "crossed", "colours", "goes", "dead", "joined", "load", "joint", "pulled"] {
            assert!(words.slips.contains_key(slip), "{slip}");
        }
        for text in ["safe", "safe-load", "caution", "caution-load"] {
            assert!(!words.text(text, &[]).is_empty(), "{text}");
        }
        assert!(["lamp", "fuse", "step"].iter().all(|figure| words.figure(figure) > 0.0));
    }
}
