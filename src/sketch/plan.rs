//! Which circuits, and which answers: what a begun wiring file is made from, and its header.

use super::{Ask, Book};
use indexmap::IndexMap;

/// How an answer is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// Assumed.
    Assumed,
    /// Assumed, and a reading has spoken against the first assumption: not asked again.
    Fits,
    /// Somebody said so.
    Said,
    /// Readings agree with nothing else.
    Proven,
}

impl How {
    /// The sign in the header.
    fn sign(self) -> &'static str {
        match self {
            How::Assumed => "?",
            How::Fits => "??",
            How::Said => "",
            How::Proven => "!",
        }
    }

    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            How::Assumed => "assumed",
            How::Fits => "assumed, fits the readings better",
            How::Said => "said",
            How::Proven => "proved by readings",
        }
    }
}

/// An answer in force.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Its key.
    pub choice: String,
    /// How it is known.
    pub how: How,
}

/// Circuits and answers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Plan {
    /// The complaint, as it was said.
    pub complaint: String,
    /// Circuits by name, those complained of first.
    pub circuits: Vec<String>,
    /// Answers by key: `horn.button`, `ground`.
    pub answers: IndexMap<String, Answer>,
    /// What was worked on last: `circuits`, `grounds`, names.
    pub recent: Vec<String>,
}

/// The header's lines begin so.
const COMPLAINT: &str = "# Begun from the complaint: ";
const PLAN: &str = "# plan: ";

impl Plan {
    /// The key of a circuit's question: its own, or one that all circuits share.
    pub fn key(circuit: &str, name: &str, ask: &Ask) -> String {
        if ask.several { name.to_string() } else { format!("{circuit}.{name}") }
    }

    /// All questions of these circuits, by key: circuit, question's name, question. A shared one comes once.
    pub fn asks<'b>(&self, book: &'b Book) -> IndexMap<String, (&'b str, &'b str, &'b Ask)> {
        let mut out = IndexMap::new();
        for sketch in self.circuits.iter().filter_map(|name| book.sketches.get(name)) {
            for (name, ask) in &sketch.asks {
                let key = Plan::key(&sketch.name, name, ask);
                out.entry(key).or_insert((sketch.name.as_str(), name.as_str(), ask));
            }
        }
        out
    }

    /// Does a shared question make sense here: are there two circuits that have it?
    pub fn several(&self, book: &Book, name: &str) -> bool {
        self.circuits.iter().filter(|circuit| book.ask(circuit, name).is_some()).count() > 1
    }

    /// The answer in force to a circuit's question.
    pub fn answer(&self, book: &Book, circuit: &str, name: &str, ask: &Ask) -> Answer {
        let known = self.answers.get(&Plan::key(circuit, name, ask));
        let known = known.filter(|answer| ask.choices.contains_key(&answer.choice));
        known.cloned().unwrap_or_else(|| {
            let alone = ask.alone.clone().filter(|_| ask.several && !self.several(book, name));
            Answer { choice: alone.unwrap_or_else(|| ask.default.clone()), how: How::Assumed }
        })
    }

    /// Does a circuit's question matter with the answers in force?
    pub fn matters(&self, book: &Book, circuit: &str, ask: &Ask) -> bool {
        ask.when.iter().all(|(other, choices)| {
            let known = book.ask(circuit, other).map(|ask| self.answer(book, circuit, other, ask));
            known.is_none_or(|answer| choices.contains(&answer.choice))
        })
    }

    /// The same with one answer changed.
    pub fn with(&self, key: &str, choice: &str, how: How) -> Plan {
        let mut out = self.clone();
        out.answers.insert(key.to_string(), Answer { choice: choice.to_string(), how });
        out
    }

    /// The lines of the header that hold the plan.
    pub(super) fn header(&self, book: &Book) -> String {
        let mut fields = vec![self.circuits.join(" ")];
        for (key, (circuit, name, ask)) in self.asks(book) {
            let Answer { choice, how } = self.answer(book, circuit, name, ask);
            fields.push(format!("{key}={choice}{}", how.sign()));
        }
        if !self.recent.is_empty() {
            fields.push(format!("recent={}", self.recent.join(" ")));
        }
        format!("{COMPLAINT}{}\n{PLAN}{}\n", self.complaint, fields.join("; "))
    }

    /// The plan of a wiring file that was begun by one.
    pub fn read(text: &str) -> Option<Plan> {
        let line = |start: &str| text.lines().take(12).find_map(|line| line.strip_prefix(start));
        let mut plan = Plan { complaint: line(COMPLAINT)?.to_string(), ..Plan::default() };
        let mut fields = line(PLAN)?.split("; ");
        plan.circuits = fields.next()?.split_whitespace().map(String::from).collect();
        for field in fields {
            let (key, value) = field.split_once('=')?;
            if key == "recent" {
                plan.recent = value.split_whitespace().map(String::from).collect();
                continue;
            }
            let (choice, how) = [How::Fits, How::Assumed, How::Proven]
                .into_iter()
                .find_map(|how| Some((value.strip_suffix(how.sign())?, how)))
                .unwrap_or((value, How::Said));
            plan.answers.insert(key.to_string(), Answer { choice: choice.to_string(), how });
        }
        Some(plan)
    }

    /// The plan of a wiring file that nobody has changed since it was begun.
    pub fn untouched(book: &Book, text: &str) -> Option<Plan> {
        Plan::read(text).filter(|plan| plan.text(book) == text)
    }
}
