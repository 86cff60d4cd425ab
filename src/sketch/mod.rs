//! Above the wiring file, below the circuit: sketches of circuits, from which a wiring file is begun where there is none.
//!
//! A sketch (`rules/sketches/*.yaml`) holds the rows that one circuit adds to a wiring file, and the questions that
//! choose between them. A [`Plan`] is which circuits and which answers; [`Plan::text`] writes it as a wiring file
//! whose header says the plan again, so that a file that nobody has changed since is known by its own text. Knows
//! nothing of complaints, readings or files on disk.

mod plan;
mod read;
mod text;

pub use plan::{Answer, How, Plan};

use crate::text::problem::Problem;
use crate::text::span::Source;
use include_dir::{Dir, include_dir};
use indexmap::IndexMap;

static SKETCHES: Dir = include_dir!("$CARGO_MANIFEST_DIR/rules/sketches");

/// The name of the sketch that every machine begins with.
pub const BASE: &str = "base";

/// All sketches in force, and what is asked beside them.
#[derive(Clone, Debug, Default)]
pub struct Book {
    /// Rows of every machine, then its circuits, by name.
    pub sketches: IndexMap<String, Sketch>,
    /// Places with their reach.
    pub places: IndexMap<String, String>,
    /// Questions that several circuits share, by name.
    pub shared: IndexMap<String, (Ask, Vec<Block>)>,
    /// What was changed last: key to what is said and what counts as worked on.
    pub changed: Asking,
    /// How exactly it shows: showing words in plain words.
    pub how: Asking,
    /// When it shows.
    pub when: Asking,
    /// What a part does: phrases of complaints.
    pub what: Asking,
    /// Which of several parts is meant.
    pub which: Asking,
    /// Which circuit it is about.
    pub circuit: Asking,
    /// What a fuse feeds.
    pub fuse: Asking,
    /// Whether it is safe to go on.
    pub safe: Asking,
    /// Words of danger and what has to be done first.
    pub dangers: IndexMap<String, Danger>,
    /// Circuits of a sort of machine, by the words for it.
    pub usual: Vec<(Vec<String>, Vec<String>)>,
}

/// One circuit.
#[derive(Clone, Debug, Default)]
pub struct Sketch {
    /// Its name.
    pub name: String,
    /// What it is called in a question: `the horn`.
    pub is: String,
    /// Where it mostly is; a ground of its own is there.
    pub at: String,
    /// The parts that one looks at or listens to.
    pub looks: Vec<String>,
    /// Words that name the circuit, besides those for its parts.
    pub also: Vec<String>,
    /// Settings in which it shows what it does, where the complaint does not say.
    pub shows_at: Vec<(String, String)>,
    /// Questions about its wiring, by name.
    pub asks: IndexMap<String, Ask>,
    /// Rows, each under its conditions.
    pub rows: Vec<Block>,
}

/// A question about a circuit's wiring.
#[derive(Clone, Debug, Default)]
pub struct Ask {
    /// The question.
    pub text: String,
    /// How much an answer is worth; the dearest are asked.
    pub worth: f64,
    /// What is assumed without an answer.
    pub default: String,
    /// One answer for all circuits that have this question, asked where there are several.
    pub several: bool,
    /// By other questions of the circuit: answers without which this one does not matter.
    pub when: IndexMap<String, Vec<String>>,
    /// What is so where there is one circuit only.
    pub alone: Option<String>,
    /// Answers by key.
    pub choices: IndexMap<String, Choice>,
}

/// An answer to a question about a circuit's wiring.
#[derive(Clone, Debug, Default)]
pub struct Choice {
    /// In plain words.
    pub say: String,
    /// How usual it is beside the others.
    pub weight: f64,
    /// Words of a complaint that say it.
    pub words: Vec<String>,
    /// What `<name>` in a row stands for.
    pub slots: IndexMap<String, String>,
}

/// Rows under a condition.
#[derive(Clone, Debug, Default)]
pub struct Block {
    /// By question: answers with which these rows stand.
    pub when: IndexMap<String, Vec<String>>,
    /// By section: named rows.
    pub named: IndexMap<String, Vec<(String, String)>>,
    /// Wires.
    pub wires: Vec<String>,
}

/// A question beside the wiring.
#[derive(Clone, Debug, Default)]
pub struct Asking {
    /// The question.
    pub ask: String,
    /// How much an answer is worth.
    pub worth: f64,
    /// Answers: key (or the phrase itself) and plain words.
    pub say: IndexMap<String, String>,
    /// Words of a complaint that answer it, by key.
    pub words: IndexMap<String, Vec<String>>,
    /// Words that say that it happens again and again.
    pub again: Vec<String>,
    /// What counts as worked on, by key.
    pub recent: IndexMap<String, Vec<String>>,
}

/// Words of danger.
#[derive(Clone, Debug, Default)]
pub struct Danger {
    /// Phrases.
    pub say: Vec<String>,
    /// What to do before anything else.
    pub first: String,
    /// Dangers whose first thing would be wrong beside this one.
    pub covers: Vec<String>,
}

impl Book {
    /// The built-in sketches.
    ///
    /// ```
    /// let book = ohmward::sketch::Book::builtin();
    /// assert!(book.sketches.contains_key("horn"));
    /// ```
    pub fn builtin() -> Book {
        Book::with(&[]).unwrap_or_default()
    }

    /// The built-in sketches with a user's own (`sketches/NAME.yaml` of a `rules` folder) laid over them.
    ///
    /// # Errors
    ///
    /// Every problem of every file.
    pub fn with(files: &[Source]) -> Result<Book, Vec<(Source, Problem)>> {
        let mut sources: Vec<Source> = SKETCHES
            .files()
            .filter_map(|file| Some(Source::new(file.path().to_string_lossy(), file.contents_utf8()?)))
            .collect();
        for file in files {
            let name = file.name.rsplit('/').next().unwrap_or(&file.name).to_string();
            sources.retain(|known| known.name != name);
            sources.push(Source::new(name, file.text.clone()));
        }
        let first = format!("{BASE}.yaml");
        sources.sort_by(|a, b| (a.name != first, &a.name).cmp(&(b.name != first, &b.name)));
        read::book(&sources)
    }

    /// Names of all circuits.
    pub fn circuits(&self) -> impl Iterator<Item = &Sketch> {
        self.sketches.values().filter(|sketch| sketch.name != BASE)
    }

    /// A question of a circuit, and whether all circuits share its answer.
    pub fn ask(&self, circuit: &str, ask: &str) -> Option<&Ask> {
        self.sketches.get(circuit)?.asks.get(ask)
    }
}

#[cfg(test)]
mod tests;
