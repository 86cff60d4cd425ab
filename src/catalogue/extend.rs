//! What is planned with when wires are made longer.

use indexmap::IndexMap;

/// Rules of `rules/extend.yaml`.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ExtendRules {
    /// Lengths by name, m; `slack` is a share.
    pub lengths: IndexMap<String, f64>,
    /// Limits by name, in base units.
    pub limits: IndexMap<String, f64>,
    /// Sizes on sale, mm², rising.
    pub sizes: Vec<f64>,
    /// Sleeves by the sizes that they take.
    pub sleeves: Vec<Takes>,
    /// Terminals by the sizes that they take.
    pub terminals: Vec<Takes>,
    /// What colours are to each other.
    pub colours: ColourCosts,
    /// Circuits with rules of their own.
    pub defer: IndexMap<String, Deferred>,
    /// The order of work.
    pub order: Vec<StepWords>,
    /// Headings of pin lists by what their columns hold.
    pub headings: IndexMap<String, Vec<String>>,
}

/// A sleeve or terminal and the sizes of wire that it takes.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Takes {
    /// What it is called on the shelf.
    pub name: String,
    /// The thinnest wire, mm².
    pub from: f64,
    /// The thickest, mm².
    pub to: f64,
}

/// What it costs to put one colour in another's place; whole numbers, so that sums can be compared exactly.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ColourCosts {
    /// The stripe is lost, the main colour stays.
    pub main: u32,
    /// It is another colour.
    pub other: u32,
    /// It is the own colour of another wire of the plug.
    pub taken: u32,
    /// For each size that a wire is thicker than it need be.
    pub thicker: u32,
    /// From an old colour (`ground`: what goes to metal) to a new one: what would be believed at sight and is wrong.
    pub misleads: Vec<(String, String, u32)>,
    /// Two wires of one colour in a plug, for each pair.
    pub pair: u32,
    /// Two colours that are taken for each other, and how easily.
    pub alike: Vec<(String, String, u32)>,
}

/// Circuits with rules of their own.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Deferred {
    /// Words of what a wire is for.
    pub words: Vec<String>,
    /// Kinds of parts at its ends.
    pub kinds: Vec<String>,
    /// Left out of the plan.
    pub stop: bool,
    /// What is said.
    pub text: String,
    /// Its source.
    pub source: String,
}

/// A step of the work; `{…}` for what is computed.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct StepWords {
    /// Only where the plan has this.
    pub with: Option<String>,
    /// What to do.
    pub text: String,
    /// What to be careful of.
    pub caution: Option<String>,
    /// Its source.
    pub source: String,
}

impl ExtendRules {
    /// A length by name, m; 0 for one that is not there.
    pub fn length(&self, name: &str) -> f64 {
        self.lengths.get(name).copied().unwrap_or(0.0)
    }

    /// A limit by name; 0 for one that is not there.
    pub fn limit(&self, name: &str) -> f64 {
        self.limits.get(name).copied().unwrap_or(0.0)
    }
}

impl ColourCosts {
    /// What it costs that the new colour says something wrong at sight.
    pub fn misleads(&self, old: Option<&str>, ground: bool, new: &str) -> u32 {
        let is = |word: &str| ground && word == "ground" || old.is_some_and(|old| word == old || word == main(old));
        let found = self.misleads.iter().filter(|(from, to, _)| is(from) && to == main(new));
        found.map(|row| row.2).max().unwrap_or(0)
    }

    /// How easily two colours are taken for each other; by their main colours where they have stripes.
    pub fn alike(&self, one: &str, other: &str) -> u32 {
        let (one, other) = (main(one), main(other));
        let is = |a: &str, b: &str| a == one && b == other || a == other && b == one;
        self.alike.iter().filter(|(a, b, _)| is(a, b)).map(|row| row.2).max().unwrap_or(0)
    }
}

/// The colour without its stripes.
pub fn main(colour: &str) -> &str {
    colour.split('/').next().unwrap_or(colour)
}
