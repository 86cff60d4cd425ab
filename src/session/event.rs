//! What a chase says and what it takes.

use crate::circuit::test::{Reading, Settings, Test};

/// Something the chase says. `Ask`, `Question` and `TryRepair` wait for one input; the others do not.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Take a reading.
    Ask {
        /// running number
        id: usize,
        /// what to do
        test: Box<Test>,
        /// minutes from where the person stands
        minutes: f64,
        /// what each leading suspect would read
        expect: Vec<Expected>,
        /// the same for a person
        screen: Box<Screen>,
    },
    /// Answer one of the choices.
    Question {
        /// running number
        id: usize,
        /// the question
        text: String,
        /// the last is "don't know"
        choices: Vec<String>,
    },
    /// Do this repair and say whether it cured.
    TryRepair {
        /// running number
        id: usize,
        /// `remake:G1`
        class: String,
        /// every fault that the repair would cure
        faults: Vec<String>,
        /// what to do, in a sentence
        text: String,
        /// the whole finding for a person
        report: Box<Report>,
    },
    /// The suspects after an accepted input.
    Suspects {
        /// running number
        id: usize,
        /// leading first
        list: Vec<SuspectLine>,
    },
    /// The end.
    Verdict {
        /// running number
        id: usize,
        /// the verdict
        verdict: Box<Verdict>,
    },
    /// The input could not be used; the last waiting event stands.
    Error {
        /// running number
        id: usize,
        /// why, and a way out
        text: String,
    },
}

/// What one suspect would read.
#[derive(Clone, Debug, PartialEq)]
pub struct Expected {
    /// The suspect's fault name.
    pub fault: String,
    /// The suspect for people: `ground point G1`.
    pub title: String,
    /// The value for people: `about 1.2 V`, `lit`; one for each reading of the placement.
    pub values: Vec<String>,
}

/// An ask for a person, each line ready to print.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Screen {
    /// What must come off to get there, if not open yet: `seat off (6 min)`.
    pub reach: Option<String>,
    /// What to set, switch on, hold: `key on`, `press and hold horn-push`.
    pub set: Vec<String>,
    /// What to unplug, lift, bridge, fit.
    pub prepare: Vec<String>,
    /// What may be said instead of an answer.
    pub instead: Option<String>,
    /// Why the same is read once more.
    pub again: Option<String>,
    /// Meter range and sockets.
    pub meter: Option<String>,
    /// Where red goes and how to reach it.
    pub red: Option<String>,
    /// Where black goes and how to reach it.
    pub black: Option<String>,
    /// What to watch.
    pub watch: Option<String>,
    /// Settings to go through at the same placement, one reading each (more than one: answers on one line).
    pub settings: Vec<String>,
    /// Words that answer, when the answer is a showing.
    pub words: Vec<String>,
    /// Unit of the answer, else empty.
    pub unit: String,
    /// Cautions at this step.
    pub cautions: Vec<String>,
}

/// One line of the suspects' list.
#[derive(Clone, Debug, PartialEq)]
pub struct SuspectLine {
    /// Fault name.
    pub fault: String,
    /// For people.
    pub title: String,
    /// Repair class.
    pub class: String,
    /// Pattern name.
    pub pattern: String,
    /// Probability.
    pub p: f64,
}

/// Why the chase ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VerdictReason {
    /// One repair is worth doing (and, if tried, cured it).
    Repair,
    /// Only an ambiguity group is left.
    Group,
    /// No allowed test would change the decision.
    NothingAllowed,
    /// Nothing that can be seen is wrong.
    NothingVisible,
    /// The person stopped.
    Stopped,
}

impl VerdictReason {
    /// The contract's word.
    pub fn word(self) -> &'static str {
        match self {
            VerdictReason::Repair => "repair",
            VerdictReason::Group => "group",
            VerdictReason::NothingAllowed => "nothing-allowed",
            VerdictReason::NothingVisible => "nothing-visible",
            VerdictReason::Stopped => "stopped",
        }
    }
}

/// The end of a chase.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    /// Why it ended.
    pub reason: VerdictReason,
    /// Repair class of the leading group.
    pub class: String,
    /// Pattern name.
    pub pattern: String,
    /// The final group: fault and probability.
    pub faults: Vec<(String, f64)>,
    /// One sentence.
    pub text: String,
    /// The whole finding.
    pub report: Report,
    /// Did a tried repair cure it?
    pub cured: Option<bool>,
}

/// A finding for people: what, where, how sure, why, what to do.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Report {
    /// What and where: `bad seat of ground point G1 (nose, on frame)`.
    pub what: String,
    /// near certain, likely, could be.
    pub sure: String,
    /// It comes and goes: a cure that was seen proves nothing yet.
    pub comes_and_goes: bool,
    /// The pattern's title: `shared ground`.
    pub pattern: String,
    /// The computed sentence in the trade's terms, with its numbers.
    pub why: Vec<String>,
    /// Predicted beside met, a line a reading.
    pub readings: Vec<ReportLine>,
    /// none, annoyance, stranded, fire.
    pub harm: String,
    /// May it be driven.
    pub drive: String,
    /// What to do, with minutes.
    pub repair: Vec<String>,
    /// What has to be at hand for it.
    pub parts: Option<String>,
    /// A fused stopgap for tonight, if there is one.
    pub stopgap: Option<String>,
    /// How to prove it.
    pub proof: Vec<String>,
    /// Where else the same slip may sit, what is unproved.
    pub open_points: Vec<String>,
    /// Cautions.
    pub cautions: Vec<String>,
    /// Other suspects that are left, for people.
    pub others: Vec<String>,
}

/// One reading in a report.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReportLine {
    /// The test in short: `volts rev-gauge.ground to battery.neg, key on, horn-push pressed`.
    pub test: String,
    /// What the suspect predicts.
    pub predicted: String,
    /// What the healthy machine would read.
    pub healthy: String,
    /// What was met.
    pub met: String,
}

/// A structured symptom.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SymptomInput {
    /// The part.
    pub part: String,
    /// Showings that fit what was said: words of its kind, or `moves-up`, `moves-down`, `kicks`, `steady`.
    pub showings: Vec<String>,
    /// Settings in which it shows.
    pub set: Settings,
    /// Seen while this control goes from one to the other.
    pub change: Option<(String, [String; 2])>,
    /// Settings on top of `set` in which it does not show.
    pub cured_by: Settings,
    /// It changes while this is done to that: `wiggle`, `P9`.
    pub stirred: Option<(String, String)>,
    /// It was said to come and go, or to hang on bumps, heat, or where one touches it.
    pub comes_and_goes: bool,
}

/// The key of what is told first: the complaint itself, in the person's words.
pub const COMPLAINT: &str = "complaint";

/// What a person says to a chase.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// A structured symptom.
    Symptom(SymptomInput),
    /// Free words: a symptom.
    Saw(String),
    /// So it was before the work, in free words.
    Was(String),
    /// Cured by, in free words.
    CuredBy(String),
    /// The readings asked for, in order.
    Reading(Vec<Reading>),
    /// Not now.
    Skip,
    /// One of a question's choices.
    Choice(String),
    /// A repair was tried.
    Cured {
        /// is the complaint gone?
        cured: bool,
        /// fuses found blown
        blown: Vec<String>,
    },
    /// A reading nobody asked for.
    Measured {
        /// the test
        test: Box<Test>,
        /// its reading(s)
        readings: Vec<Reading>,
    },
    /// These faults (or parts) have been put right.
    Fixed(Vec<String>),
    /// A question about the machine that was asked beside the readings, and its answer: for the notes.
    Told {
        /// what it was about, `horn.button`
        key: String,
        /// the question
        question: String,
        /// the answer
        answer: String,
    },
    /// Nobody can say what shows: tests are asked all the same.
    Unnamed,
    /// For the notes.
    Note(String),
    /// Take the last answer back.
    Back,
    /// End it.
    Stop,
}

/// What was made of free words; shown to the person before it counts.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Understanding {
    /// The symptoms, in words for people.
    pub said: Vec<String>,
    /// Phrases not understood.
    pub lost: Vec<String>,
}
