//! Words to meaning: complaints ([`understand`]) and readings ([`reading`], [`unasked`]) as people say them.
//!
//! What words mean stands in `rules/symptoms.yaml`; this module knows sentences, not parts. It never guesses in
//! silence: where several parts or controls fit, a [`Question`] comes back with what each answer would mean.

mod clauses;
mod fuses;
mod implied;
mod lexicon;
mod mention;
mod operate;
pub mod paths;
pub mod reading;
mod settle;
mod table;
mod tokens;
pub mod unasked;
mod understand;

pub use mention::{behind, mentioned, says, without};
pub use table::{ControlWords, Expected, PartWords, ShowingWords, SymptomTable, Verb};
pub use understand::understand;

use crate::circuit::test::Settings;

/// A showing of a part that is not as it should be (or is, where somebody says that it works).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Symptom {
    /// The part.
    pub part: String,
    /// What the user called it.
    pub said: String,
    /// Words of the part's kind, or `moves-up`, `moves-down`, `kicks`, `steady`; several where what was said
    /// fits each of them.
    pub showings: Vec<String>,
    /// What the user called that.
    pub said_showing: String,
    /// Seen while this control goes from one setting to the other.
    pub change: Option<(String, [String; 2])>,
    /// Settings that were said.
    pub set: Settings,
    /// Settings that were not said but must be so for the words to make sense: the key, the part's own switch.
    pub implied: Settings,
    /// What makes it go away.
    pub cured_by: Option<Cure>,
    /// Since when, in the user's words.
    pub since: Option<String>,
    /// It comes and goes.
    pub comes_and_goes: bool,
    /// True where the words say that it is in order.
    pub works: bool,
}

impl Symptom {
    /// It goes away while something is done to it.
    pub fn disturbed(&self) -> bool {
        matches!(self.cured_by, Some(Cure::Disturb(_)))
    }
}

/// What makes a symptom go away.
#[derive(Clone, Debug, PartialEq)]
pub enum Cure {
    /// These settings, on top of the symptom's own.
    Set(Settings),
    /// Something done to it: wiggle, heat, …
    Disturb(String),
    /// Something else, in the user's words.
    Words(String),
}

/// What was made of a text.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Understood {
    /// What is clear.
    pub symptoms: Vec<Symptom>,
    /// What has to be asked.
    pub questions: Vec<Question>,
    /// Phrases that meant nothing here, in the user's words.
    pub lost: Vec<String>,
}

/// A choice to be put before the user.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// The question: `which one is "left indicator"?`
    pub text: String,
    /// Answers, with what each would mean.
    pub options: Vec<Answer>,
}

/// One answer of a [`Question`].
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// What stands on the screen.
    pub label: String,
    /// The symptoms if this one is meant.
    pub symptoms: Vec<Symptom>,
}

#[cfg(test)]
mod tests;
