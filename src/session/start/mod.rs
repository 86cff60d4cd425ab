//! From a complaint alone to a wiring file: at most six questions about the circuits named, each of which may go
//! unanswered, then a [`Plan`] and what the chase is to be told first.
//!
//! The complaint is understood by the ordinary understanding on a machine that has every circuit of the book; the
//! circuits that own what it names are taken. All is worked out anew from the complaint and the answers so far, so
//! that going on after a break is giving the same answers again.
//!
//! - [`rivals`]: assumptions under test while the chase runs

mod asks;
mod parts;
pub mod rivals;

use super::event::{Event, Input, SymptomInput};
use super::hear::{Heard, Meaning, hear};
use super::words::{self, SymptomTable};
use crate::catalogue::Catalogue;
use crate::circuit::heat::{SOMEWHERE, Touched};
use crate::diagnosis::machine::Machine;
use crate::sketch::{Book, Danger, How, Plan};
use crate::text::span::Source;
use crate::wiring;
use indexmap::IndexMap;

/// Questions before the first measurement, at most.
pub const MOST: usize = 6;
/// What stands last among the choices of every question.
pub const DONT_KNOW: &str = "don't know";

/// How the keys of questions about safety begin.
const SAFE: &str = "safe.";
/// It is not safe yet.
const NOT_YET: &str = "not yet";

/// Dangers that a text speaks of, by name, in the order in which they are met: those that another covers left out.
pub fn dangers<'b>(book: &'b Book, text: &str) -> Vec<(&'b str, &'b Danger)> {
    let met: Vec<(&str, &Danger)> = book
        .dangers
        .iter()
        .filter(|(_, danger)| words::says(text, &danger.say))
        .map(|(name, danger)| (name.as_str(), danger))
        .collect();
    let covered = |name: &str| met.iter().any(|(_, danger)| danger.covers.iter().any(|other| other == name));
    met.iter().filter(|(name, _)| !covered(name)).copied().collect()
}

/// A complaint on its way to a wiring file.
pub struct Start {
    book: Book,
    table: SymptomTable,
    catalogue: Catalogue,
    /// A machine that has every circuit.
    all: Machine,
    /// Which circuits have a part of this name, in the order of the book.
    owners: IndexMap<String, Vec<String>>,
    complaint: String,
    /// Symptoms that came as such.
    given: Vec<SymptomInput>,
    /// Answers so far: the question's key, the choice.
    told: Vec<(String, String)>,
}

/// A question to be put.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    /// What it is about: `horn.button`.
    pub key: String,
    /// The question.
    pub text: String,
    /// Choices; the last is "don't know".
    pub choices: Vec<String>,
}

impl Asked {
    /// With this answer nothing is measured now: it is not safe, or nobody knows whether it is.
    pub fn halts(&self, choice: &str) -> bool {
        let typed = choice.trim();
        let by_number = typed.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
        let at = self.choices.iter().position(|known| known.eq_ignore_ascii_case(typed)).or(by_number);
        self.key.starts_with(SAFE) && at.is_some_and(|at| at > 0 && at < self.choices.len())
    }
}

/// What came of it.
#[derive(Clone, Debug)]
pub struct Begun {
    /// Circuits and answers.
    pub plan: Plan,
    /// The wiring file.
    pub text: String,
    /// What the chase is told first.
    pub inputs: Vec<Input>,
}

/// The way so far.
#[derive(Default)]
struct Walk {
    asked: usize,
    next: Option<Asked>,
    circuits: Vec<String>,
    symptoms: Vec<SymptomInput>,
    /// What was said of heat and smoke: it tells which circuit, and is heard anew on the machine that comes of it.
    felt: Vec<SymptomInput>,
    /// A fuse blows: of this circuit, or the main one.
    fuse: Option<Option<String>>,
    /// The complaint's own words no longer say all of it.
    changed: bool,
    plan: Plan,
}

impl Start {
    /// Nothing has been said yet.
    pub fn new(book: Book, catalogue: Catalogue) -> Start {
        let plan = Plan { circuits: book.circuits().map(|s| s.name.clone()).collect(), ..Plan::default() };
        let source = Source::new("wiring.yaml", plan.text(&book));
        let netlist = wiring::read(&source, &catalogue).map(|reading| reading.netlist).unwrap_or_default();
        let all = Machine::new(netlist, catalogue.clone());
        let owners = parts::owners(&book, &all);
        let (table, complaint) = (SymptomTable::builtin(), String::new());
        Start { book, table, catalogue, all, owners, complaint, given: Vec::new(), told: Vec::new() }
    }

    /// The same, spoken to in these words.
    pub fn speaking(mut self, words: SymptomTable) -> Start {
        self.table = words;
        self
    }

    /// The complaint, in the person's words; said again, it is added to.
    pub fn complain(&mut self, text: &str) {
        let text: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        if !self.complaint.is_empty() {
            self.complaint += "; ";
        }
        self.complaint += text.trim();
    }

    /// A symptom that came as such, with what it says in words.
    ///
    /// # Errors
    ///
    /// No circuit has a part of this name.
    pub fn give(&mut self, symptom: SymptomInput, words: &str) -> Result<(), String> {
        let parts = &self.all.netlist.parts;
        let Some(part) = parts.keys().find(|name| name.eq_ignore_ascii_case(&symptom.part)).cloned() else {
            let near = crate::text::words::nearest(&symptom.part, parts.keys().map(String::as_str));
            let near = near.map_or_else(String::new, |near| format!("; nearest: {near}"));
            return Err(format!(
                "there is no wiring file, and no circuit that I know has a \"{}\"{near}",
                symptom.part
            ));
        };
        self.complain(words);
        self.given.push(SymptomInput { part, ..symptom });
        Ok(())
    }

    /// The complaint so far.
    pub fn complaint(&self) -> &str {
        &self.complaint
    }

    /// Does the complaint name anything that any sketch knows?
    pub fn understands(&self, text: &str) -> bool {
        let heard = hear(&self.all, &self.table, text);
        !heard.symptoms.is_empty() || heard.question.is_some() || !self.mentions(text).is_empty()
    }

    /// The question that waits, with how many were asked before it; none if all is known that is asked for.
    pub fn ask(&self) -> Option<Asked> {
        self.walk().next
    }

    /// Questions answered so far.
    pub fn answered(&self) -> usize {
        self.told.len()
    }

    /// Takes an answer to the question that waits: one of its choices, in its words or by its number.
    pub fn answer(&mut self, choice: &str) -> Result<Input, String> {
        let Some(asked) = self.ask() else { return Err("nothing is asked just now".into()) };
        let typed = choice.trim();
        let by_number = typed.parse::<usize>().ok().and_then(|n| asked.choices.get(n.checked_sub(1)?));
        let known = asked.choices.iter().find(|known| known.eq_ignore_ascii_case(typed)).or(by_number);
        let Some(known) = known else {
            return Err(format!("\"{typed}\" is none of: {}", asked.choices.join(", ")));
        };
        self.told.push((asked.key.clone(), known.clone()));
        Ok(Input::Told { key: asked.key, question: asked.text, answer: known.clone() })
    }

    /// Takes the last answer back; false if there is none.
    pub fn back(&mut self) -> bool {
        self.told.pop().is_some()
    }

    /// The question as an event.
    pub fn event(asked: &Asked, id: usize) -> Event {
        Event::Question { id, text: asked.text.clone(), choices: asked.choices.clone() }
    }

    /// The wiring file and what the chase is told first.
    ///
    /// # Errors
    ///
    /// The file that came of it cannot be read: a sketch of the user's own is at fault.
    pub fn finish(&self) -> Result<Begun, (Source, Vec<crate::text::problem::Problem>)> {
        let walk = self.walk();
        let source = Source::new("wiring.yaml", walk.plan.text(&self.book));
        let netlist = match wiring::read(&source, &self.catalogue) {
            Ok(reading) => reading.netlist,
            Err(problems) => return Err((source, problems)),
        };
        let small = Machine::new(netlist, self.catalogue.clone());
        let inputs = self.inputs(&walk, &small);
        Ok(Begun { plan: walk.plan, text: source.text, inputs })
    }

    /// What was said, resolved on the machine that was made of it.
    fn inputs(&self, walk: &Walk, small: &Machine) -> Vec<Input> {
        let mut heard = hear(small, &self.table, &self.complaint);
        let felt = self.felt(walk, small, &mut heard);
        if !walk.changed && heard.question.is_none() && !heard.symptoms.is_empty() {
            return felt.into_iter().chain(heard.symptoms).map(Input::Symptom).collect();
        }
        let controls = &small.sim.schematic().controls;
        let known = |symptom: &&SymptomInput| small.netlist.parts.contains_key(&symptom.part);
        let symptoms: Vec<Input> = (walk.symptoms.iter().filter(known))
            .map(|symptom| {
                let mut symptom = symptom.clone();
                if let Some(Some(circuit)) = &walk.fuse {
                    symptom.part = self.fuse_of(circuit, small).unwrap_or(symptom.part);
                }
                symptom.set.retain(|(control, setting)| {
                    controls.get(control).is_some_and(|info| info.settings.contains(setting))
                });
                symptom.cured_by.retain(|(control, _)| controls.contains_key(control));
                symptom.change = symptom.change.filter(|(control, _)| controls.contains_key(control));
                Input::Symptom(symptom)
            })
            .collect();
        if symptoms.is_empty() && felt.is_empty() {
            return vec![Input::Unnamed];
        }
        let blown = walk.fuse.is_some() && words::says(&self.complaint, &self.book.fuse.again);
        let fuse = symptoms.iter().find_map(|input| match input {
            Input::Symptom(symptom) if blown => Some(Input::Fixed(vec![symptom.part.clone()])),
            _ => None,
        });
        felt.into_iter().map(Input::Symptom).chain(symptoms).chain(fuse).collect()
    }

    /// What gets hot, in the names of the machine that was made; taken out of what was heard. Whoever cannot tell where
    /// still knows that it does.
    fn felt(&self, walk: &Walk, small: &Machine, heard: &mut Heard) -> Vec<SymptomInput> {
        let (mut felt, rest): (Vec<_>, Vec<_>) = heard.symptoms.drain(..).partition(SymptomInput::is_felt);
        heard.symptoms = rest;
        let of_heat = |(_, options): &(String, Vec<Meaning>)| {
            options.iter().flat_map(|(_, symptoms)| symptoms).any(SymptomInput::is_felt)
        };
        if let Some((_, options)) = heard.question.take_if(|question| of_heat(question)) {
            felt.extend(options.into_iter().next_back().map(|(_, symptoms)| symptoms).unwrap_or_default());
        }
        if felt.is_empty()
            && let Some(first) = walk.felt.first()
        {
            let known = Touched::find(&small.netlist, &first.part).is_ok();
            let part = if known { first.part.clone() } else { SOMEWHERE.to_string() };
            felt.push(SymptomInput { part, ..first.clone() });
        }
        let controls = &small.sim.schematic().controls;
        for symptom in &mut felt {
            symptom
                .set
                .retain(|(control, setting)| controls.get(control).is_some_and(|info| info.settings.contains(setting)));
        }
        felt
    }

    /// From the complaint and the answers to the next question.
    fn walk(&self) -> Walk {
        let mut walk = Walk::default();
        // What waits is found on the way; from there on nothing more can be known.
        let _ = self.go(&mut walk);
        walk
    }

    fn go(&self, walk: &mut Walk) -> Option<()> {
        self.safe(walk)?;
        self.heard(walk)?;
        self.circuits(walk)?;
        self.shows(walk)?;
        self.when(walk)?;
        walk.plan = Plan { complaint: self.complaint.clone(), circuits: walk.circuits.clone(), ..Plan::default() };
        self.said_already(walk);
        self.rest(walk)
    }

    /// Puts a question: its answer if it has one or may no longer be asked, none if it waits.
    fn put(&self, walk: &mut Walk, key: &str, text: &str, choices: Vec<String>) -> Option<String> {
        if let Some((_, choice)) = self.told.iter().find(|(told, _)| told == key) {
            walk.asked += 1;
            return Some(choice.clone());
        }
        if walk.asked >= MOST || choices.is_empty() {
            return Some(DONT_KNOW.into());
        }
        let choices = choices.into_iter().chain([DONT_KNOW.to_string()]).collect();
        walk.next = Some(Asked { key: key.into(), text: text.into(), choices });
        None
    }

    /// Records an answer about the wiring.
    fn settle(plan: &mut Plan, key: &str, choice: &str) {
        *plan = plan.with(key, choice, How::Said);
    }
}

#[cfg(test)]
mod tests;
