//! What happened in a chase, collected from its inputs and events as they pass.

use crate::circuit::test::{Instrument, Reading, Test};
use crate::session::event::COMPLAINT;
use crate::session::{Event, Expected, Input, SuspectLine, SymptomInput, Verdict};

/// One thing that happened, in order.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// A reading asked for and taken.
    Read {
        /// the test in short
        test: String,
        /// what the leading suspects would read at that time
        expect: Vec<Expected>,
        /// what was met
        met: String,
    },
    /// A test not taken.
    Skipped(String),
    /// A reading nobody asked for.
    Measured {
        /// the test in short
        test: String,
        /// what was met
        met: String,
    },
    /// A question and its answer.
    Answered {
        /// the question
        question: String,
        /// the answer
        answer: String,
    },
    /// A question about the machine, asked beside the readings, and its answer.
    Told {
        /// the question
        question: String,
        /// the answer
        answer: String,
    },
    /// Something said, in the person's words.
    Said(Saying, String),
    /// A repair tried.
    Tried(Tried),
}

/// What something said is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Saying {
    /// What is seen, heard or felt.
    Seen,
    /// How it was before the work.
    Before,
    /// What makes it go away.
    CuredBy,
    /// A line for the notes.
    Note,
    /// What has been put right.
    PutRight,
}

impl Saying {
    /// For people.
    pub fn title(self) -> &'static str {
        match self {
            Saying::Seen => "seen",
            Saying::Before => "before the work",
            Saying::CuredBy => "cured by",
            Saying::Note => "note",
            Saying::PutRight => "put right",
        }
    }
}

/// A repair tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// What was done.
    pub text: String,
    /// Is the complaint gone?
    pub cured: bool,
    /// Fuses found blown.
    pub blown: Vec<String>,
}

/// A chase as the notes tell it.
#[derive(Clone, Debug, Default)]
pub struct Record {
    /// What happened; the first thing seen is the complaint.
    pub steps: Vec<Step>,
    /// Suspects before the first reading.
    pub before: Vec<SuspectLine>,
    /// Suspects at the end.
    pub after: Vec<SuspectLine>,
    /// The end.
    pub verdict: Option<Verdict>,
    waiting: Option<Event>,
}

impl Record {
    /// The complaint in the person's own words.
    pub fn complaint(&self) -> Option<&str> {
        self.steps.iter().find_map(|step| match step {
            Step::Said(Saying::Seen, text) => Some(text.as_str()),
            _ => None,
        })
    }

    /// An event passes.
    pub fn event(&mut self, event: &Event) {
        match event {
            Event::Suspects { list, .. } => {
                if !self.steps.iter().any(Step::is_reading) {
                    self.before.clone_from(list);
                }
                self.after.clone_from(list);
            }
            Event::Verdict { verdict, .. } => self.verdict = Some((**verdict).clone()),
            Event::Error { .. } => {}
            waiting => self.waiting = Some(waiting.clone()),
        }
    }

    /// An accepted input passes. `back` takes the last answer away; notes stay.
    pub fn input(&mut self, input: &Input) {
        if *input == Input::Back {
            if let Some(last) =
                self.steps.iter().rposition(|step| !matches!(step, Step::Said(Saying::Note, _) | Step::Told { .. }))
            {
                self.steps.remove(last);
            }
        } else if let Some(step) = self.step(input) {
            self.steps.push(step);
        }
    }

    fn step(&self, input: &Input) -> Option<Step> {
        Some(match input {
            Input::Reading(readings) => match &self.waiting {
                Some(Event::Ask { test, expect, .. }) => {
                    Step::Read { test: short(test), expect: expect.clone(), met: met(readings, test.instrument) }
                }
                _ => return None,
            },
            Input::Skip => match &self.waiting {
                Some(Event::Ask { test, .. }) => Step::Skipped(short(test)),
                Some(Event::TryRepair { text, .. }) => Step::Skipped(text.clone()),
                Some(Event::Question { text, .. }) => Step::Skipped(text.clone()),
                _ => return None,
            },
            Input::Choice(answer) => match &self.waiting {
                Some(Event::Question { text, .. }) => Step::Answered { question: text.clone(), answer: answer.clone() },
                _ => return None,
            },
            Input::Cured { cured, blown } => {
                let text = match &self.waiting {
                    Some(Event::TryRepair { text, .. }) => text.clone(),
                    _ => String::new(),
                };
                Step::Tried(Tried { text, cured: *cured, blown: blown.clone() })
            }
            Input::Measured { test, readings } => {
                Step::Measured { test: short(test), met: met(readings, test.instrument) }
            }
            Input::Saw(text) => Step::Said(Saying::Seen, text.clone()),
            Input::Was(text) => Step::Said(Saying::Before, text.clone()),
            Input::CuredBy(text) => Step::Said(Saying::CuredBy, text.clone()),
            Input::Note(text) => Step::Said(Saying::Note, text.clone()),
            Input::Fixed(names) => Step::Said(Saying::PutRight, names.join(", ")),
            Input::Symptom(symptom) => Step::Said(Saying::Seen, complained(symptom)),
            Input::Told { key, answer, .. } if key == COMPLAINT => Step::Said(Saying::Seen, answer.clone()),
            Input::Told { question, answer, .. } => Step::Told { question: question.clone(), answer: answer.clone() },
            Input::Back | Input::Stop | Input::Unnamed => return None,
        })
    }

    /// How many readings were taken.
    pub fn readings(&self) -> usize {
        self.steps.iter().filter(|step| step.is_reading()).count()
    }
}

impl Step {
    fn is_reading(&self) -> bool {
        matches!(self, Step::Read { .. } | Step::Measured { .. })
    }
}

/// A structured symptom as somebody would say it: `rev-gauge moves up when horn-push is pressed (key on)`.
pub fn complained(symptom: &SymptomInput) -> String {
    let mut out = format!("{} {}", symptom.part, symptom.showings.join(" or ").replace('-', " "));
    if let Some((control, [_, to])) = &symptom.change {
        out.push_str(&format!(" when {control} is {to}"));
    }
    if !symptom.set.is_empty() {
        out.push_str(&format!(" ({})", settings(&symptom.set)));
    }
    if let Some((how, at)) = &symptom.stirred {
        out.push_str(&format!(", changes while you {how} {at}"));
    }
    if symptom.comes_and_goes {
        out.push_str(", comes and goes");
    }
    out
}

/// What suspects would read, those of one reading together: the reading, then the suspects.
pub fn alike(expect: &[Expected]) -> Vec<(String, Vec<&str>)> {
    let mut out: Vec<(String, Vec<&str>)> = Vec::new();
    for e in expect {
        let value = e.values.join(", ");
        match out.iter_mut().find(|(known, _)| *known == value) {
            Some((_, titles)) => titles.push(&e.title),
            None => out.push((value, vec![&e.title])),
        }
    }
    out
}

/// A test in short: `volts, rev-gauge.ground to battery.neg, key on, horn-push pressed, P9 open`.
pub fn short(test: &Test) -> String {
    let mut out = match test.instrument {
        Instrument::Watch | Instrument::Touch => {
            format!("{} {}", test.instrument.name(), test.part.as_deref().unwrap_or(""))
        }
        instrument => {
            let name = match instrument {
                Instrument::VoltsDc => "volts",
                Instrument::VoltsAc => "volts AC",
                Instrument::VoltsLoz => "volts, low impedance",
                Instrument::Ohms => "ohms",
                Instrument::Beep => "beep",
                Instrument::AmpsDc => "amps",
                Instrument::TestLamp => "test lamp",
                Instrument::Watch => "watch",
                Instrument::Touch => "touch",
            };
            format!("{name}, {} to {}", test.red.as_deref().unwrap_or("?"), test.black.as_deref().unwrap_or("?"))
        }
    };
    for step in &test.after {
        out.push_str(&format!(", after {}", settings(step)));
    }
    if !test.set.is_empty() {
        out.push_str(&format!(", {}", settings(&test.set)));
    }
    if let Some((control, [from, to])) = &test.change {
        out.push_str(&format!(", {control} from {from} to {to}"));
    }
    for step in &test.then {
        out.push_str(&format!(", then {}", settings(step)));
    }
    if !test.open.is_empty() {
        out.push_str(&format!(", {} open", test.open.join(" and ")));
    }
    for bridge in &test.bridge {
        out.push_str(&format!(", {} bridged to {}", bridge.a, bridge.b));
    }
    for (part, _) in &test.fit {
        out.push_str(&format!(", another load in place of {part}"));
    }
    if let Some((how, at)) = &test.disturb {
        out.push_str(&format!(", {how} {at}"));
    }
    out
}

fn settings(list: &[(String, String)]) -> String {
    list.iter().map(|(control, setting)| format!("{control} {setting}")).collect::<Vec<_>>().join(", ")
}

/// Readings as a person writes them, `0.02 V, 0.35 V`.
fn met(readings: &[Reading], instrument: Instrument) -> String {
    readings.iter().map(|reading| said(reading, instrument)).collect::<Vec<_>>().join(", ")
}

/// One reading as a person writes it.
pub fn said(reading: &Reading, instrument: Instrument) -> String {
    let unit = match instrument {
        Instrument::Ohms | Instrument::Beep => " ohm",
        Instrument::AmpsDc => " A",
        _ => " V",
    };
    match reading {
        Reading::Value { value, step } => format!("{}{unit}", digits(*value, *step)),
        Reading::Range { from, to } => format!("{} to {}{unit}", digits(*from, None), digits(*to, None)),
        Reading::Over => "OL".into(),
        Reading::Beeps(true) => "beeps".into(),
        Reading::Beeps(false) => "silent".into(),
        Reading::Showing(word) => word.clone(),
        Reading::Live => "refused: live".into(),
    }
}

/// As many digits as the step is worth, else three that count.
fn digits(value: f64, step: Option<f64>) -> String {
    let step = step.filter(|s| *s > 0.0 && s.is_finite()).unwrap_or_else(|| {
        let size = value.abs().max(1e-3);
        10f64.powf(size.log10().floor() - 2.0).max(1e-3)
    });
    let places = (-step.log10() - 1e-9).ceil().clamp(0.0, 6.0) as usize;
    let text = format!("{value:.places$}");
    if text.trim_start_matches('-').chars().all(|c| c == '0' || c == '.') { text.replace('-', "") } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_those_that_count() {
        let cases =
            [(12.6, Some(0.01), "12.60"), (12.0, Some(1.0), "12"), (0.3512, None, "0.351"), (-0.0004, None, "0.000")];
        for (value, step, text) in cases {
            assert_eq!(digits(value, step), text);
        }
        assert_eq!(said(&Reading::Value { value: 812.0, step: None }, Instrument::Ohms), "812 ohm");
        assert_eq!(said(&Reading::Range { from: 2.0, to: 5.0 }, Instrument::VoltsDc), "2.00 to 5.00 V");
    }

    #[test]
    fn suspects_that_read_alike_stand_together() {
        let one = |title: &str, value: &str| Expected {
            fault: String::new(),
            title: title.into(),
            values: vec![value.into()],
        };
        let list = [one("G1", "1.2 V"), one("G2", "0 V"), one("P9", "1.2 V")];
        assert_eq!(alike(&list), [("1.2 V".to_string(), vec!["G1", "P9"]), ("0 V".to_string(), vec!["G2"])]);
    }

    #[test]
    fn back_takes_the_last_answer_away_and_leaves_notes() {
        let mut record = Record::default();
        record.input(&Input::Saw("the horn is dead".into()));
        record.input(&Input::Was("dead too".into()));
        record.input(&Input::Note("two".into()));
        record.input(&Input::Back);
        assert_eq!(record.complaint(), Some("the horn is dead"));
        assert_eq!(record.steps.len(), 2);
        record.input(&Input::Back);
        record.input(&Input::Back);
        assert_eq!(record.steps, [Step::Said(Saying::Note, "two".into())]);
    }
}
