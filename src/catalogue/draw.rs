//! How a drawing looks: inks, colours, sizes, words.

use indexmap::IndexMap;

/// Rules of `rules/draw.yaml`.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct DrawRules {
    /// Inks by what they are for, `#rrggbb`: paper, ink, quiet, faint, mark.
    pub inks: IndexMap<String, String>,
    /// What the word of a wire's colour is drawn as, `#rrggbb`; `unknown` where the file names none.
    pub colours: IndexMap<String, String>,
    /// Sizes by name, pixels; `volt` is pixels for a volt.
    pub sizes: IndexMap<String, f64>,
    /// Words on the page; `{…}` for what is filled in.
    pub words: IndexMap<String, String>,
}

impl DrawRules {
    /// An ink; one that is not there is black.
    pub fn ink(&self, name: &str) -> &str {
        self.inks.get(name).map_or("#000000", String::as_str)
    }

    /// The ink of one plain colour word, shades of what is known included (`dark blue` as blue).
    pub fn colour(&self, word: &str) -> &str {
        let shade = || word.split_once(' ').and_then(|(_, rest)| self.colours.get(rest));
        let found = self.colours.get(word).or_else(shade).or_else(|| self.colours.get("unknown"));
        found.map_or("#e4e4e4", String::as_str)
    }

    /// A size; one that is not there is nothing.
    pub fn size(&self, name: &str) -> f64 {
        self.sizes.get(name).copied().unwrap_or(0.0)
    }

    /// A word; one that is not there is its own name.
    pub fn word<'a>(&'a self, name: &'a str) -> &'a str {
        self.words.get(name).map_or(name, String::as_str)
    }
}
