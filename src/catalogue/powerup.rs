//! What is said and minded while power is brought on.

use indexmap::IndexMap;

/// Rules of `rules/powerup.yaml`.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct PowerRules {
    /// Limits by name, in base units.
    pub limits: IndexMap<String, f64>,
    /// Kinds and controls by what they are asked for.
    pub lists: IndexMap<String, Vec<String>>,
    /// Words of each stage.
    pub stages: IndexMap<String, StageWords>,
}

/// What is said at one stage.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct StageWords {
    /// Its name on the screen.
    pub title: String,
    /// How things stand at it.
    pub first: String,
    /// When to stop, and what to do then.
    pub stop: String,
    /// The usual caution.
    pub caution: String,
    /// Its source.
    pub source: String,
}

impl PowerRules {
    /// A limit by name; one that is not there limits nothing.
    pub fn limit(&self, name: &str) -> f64 {
        self.limits.get(name).copied().unwrap_or(f64::INFINITY)
    }

    /// Does a list have this word?
    pub fn lists(&self, list: &str, word: &str) -> bool {
        self.lists.get(list).is_some_and(|words| words.iter().any(|known| known.eq_ignore_ascii_case(word)))
    }
}
