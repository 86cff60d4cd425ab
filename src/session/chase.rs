//! One chase: what has been said and read, what is waited for.
//!
//! - [`inputs`]: what is said to it
//! - [`decide`]: what comes next
//! - [`repaired`]: what has been put right
//! - [`stirring`]: what to wiggle; [`heated`]: what to lay a hand on
//! - [`needless`]: complaints of what a sound machine does

mod decide;
mod heated;
mod inputs;
mod needless;
mod repaired;
mod stirring;

use super::event::{Event, Input, SuspectLine, SymptomInput};
use super::words::SymptomTable;
use super::{name, report};
use crate::choice::choose::{Choice, look_ahead};
use crate::choice::minutes::Stand;
use crate::circuit::heat;
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::diagnosis::entry;
use crate::diagnosis::enumerate::{Suspects, enumerate};
use crate::diagnosis::evidence::{Chances, Entry, Evidence, Tried};
use crate::diagnosis::machine::Machine;
use crate::diagnosis::predict;
use crate::diagnosis::runs::Runs;
use crate::diagnosis::visible::Watcher;
use crate::text::problem::Problem;
use indexmap::IndexMap;

/// Suspects listed.
const LISTED: usize = 12;

/// What is waited for.
#[derive(Clone, Debug)]
enum Pending {
    /// Nothing has been said yet.
    Symptom,
    Ask(Event, Box<Test>),
    Question(Event, Vec<(String, Vec<SymptomInput>)>),
    Repair(Event, String),
    Over(Event),
}

/// What a chase was told that weighs, so that another machine can be told the same.
#[derive(Clone, Debug, PartialEq)]
pub enum Told {
    /// What shows.
    Symptom(SymptomInput),
    /// What was read.
    Readings(Box<Test>, Vec<Reading>),
    /// A repair class that was tried in vain.
    Tried(String),
}

/// Problems in one line.
fn plain(problems: Vec<Problem>) -> String {
    let say = |p: &Problem| p.help.as_ref().map_or_else(|| p.text.clone(), |help| format!("{} ({help})", p.text));
    problems.iter().map(say).collect::<Vec<_>>().join("; ")
}

/// One chase as a pure function of its inputs.
pub struct Chase {
    pub(super) machine: Machine,
    pub(super) suspects: Suspects,
    pub(super) runs: Runs,
    pub(super) evidence: Evidence,
    pub(super) chances: Chances,
    cured: Option<bool>,
    pub(super) symptoms: Vec<SymptomInput>,
    pub(super) stand: Stand,
    words: SymptomTable,
    inputs: Vec<Input>,
    done: Vec<Test>,
    skipped: Vec<Test>,
    /// Classes whose repair was tried in vain.
    fixed: Vec<String>,
    /// Classes whose repair was proposed and not done.
    declined: Vec<String>,
    /// What is wrong was asked and could not be said.
    unnamed: bool,
    older: bool,
    /// It stood so that a sound machine shows just what is complained of.
    sound: bool,
    /// What was complained of is to be looked at again: something has been put right.
    look_again: bool,
    /// How it stood, or whether it ever did otherwise, has been asked.
    asked_before: bool,
    /// Settings in which something smoked.
    burns: Vec<Settings>,
    /// The step of the machine's memory at which something was last put right in vain.
    mended: usize,
    /// Severity points of the class that led when something not yet put right still explained everything.
    explained: Vec<u32>,
    /// The sound machine in all states near rest with the engine standing, once it was asked for.
    watcher: Option<Watcher>,
    told: Vec<Told>,
    pending: Pending,
    next_id: usize,
    last_choice: Option<Choice>,
}

impl Chase {
    /// A chase on this machine; nothing has been said yet.
    pub fn new(machine: Machine) -> Self {
        let suspects = enumerate(&machine, true);
        let runs = Runs::new(&suspects);
        let chances = Chances { suspects: suspects.list.iter().map(|s| s.prior).collect(), ..Chances::default() };
        Chase {
            machine,
            suspects,
            runs,
            evidence: Evidence::default(),
            chances,
            cured: None,
            symptoms: Vec::new(),
            stand: Stand::default(),
            words: SymptomTable::builtin(),
            inputs: Vec::new(),
            done: Vec::new(),
            skipped: Vec::new(),
            fixed: Vec::new(),
            declined: Vec::new(),
            unnamed: false,
            older: false,
            sound: false,
            look_again: false,
            asked_before: false,
            burns: Vec::new(),
            mended: usize::MAX,
            explained: Vec::new(),
            watcher: None,
            told: Vec::new(),
            pending: Pending::Symptom,
            next_id: 1,
            last_choice: None,
        }
    }

    /// The same, spoken to in these words.
    pub fn speaking(mut self, words: SymptomTable) -> Chase {
        self.words = words;
        self
    }

    /// The words that are understood.
    pub fn words(&self) -> &SymptomTable {
        &self.words
    }

    /// The machine.
    pub fn machine(&self) -> &Machine {
        &self.machine
    }

    /// Its suspects, in the order of [`Chase::chances`].
    pub fn suspects(&self) -> &Suspects {
        &self.suspects
    }

    /// The suspects' chances in the light of everything said and read so far.
    pub fn chances(&self) -> &Chances {
        &self.chances
    }

    /// Inputs accepted so far: fed to a new chase they lead to the same place.
    pub fn inputs(&self) -> &[Input] {
        &self.inputs
    }

    /// What weighs of all that it was told.
    pub fn told(&self) -> &[Told] {
        &self.told
    }

    /// Tests that were skipped.
    pub fn skipped(&self) -> &[Test] {
        &self.skipped
    }

    /// An input of another machine's chase: controls that this machine has not got do not matter on it.
    pub fn fitted(&self, input: Input) -> Input {
        match input {
            Input::Symptom(symptom) => Input::Symptom(self.fitted_symptom(symptom)),
            Input::Measured { test, readings } => Input::Measured { test: Box::new(self.fitted_test(*test)), readings },
            other => other,
        }
    }

    fn has(&self, control: &str) -> bool {
        self.machine.sim.schematic().controls.contains_key(control)
    }

    fn fitted_symptom(&self, mut symptom: SymptomInput) -> SymptomInput {
        symptom.set.retain(|(control, _)| self.has(control));
        symptom.cured_by.retain(|(control, _)| self.has(control));
        symptom
    }

    fn fitted_test(&self, mut test: Test) -> Test {
        let steps = test.after.iter_mut().chain(&mut test.then).chain(std::iter::once(&mut test.set));
        steps.for_each(|step| step.retain(|(control, _)| self.has(control)));
        test
    }

    /// Takes what another chase was told, and asks nothing; false if it means nothing on this machine.
    pub fn tell(&mut self, told: &Told) -> bool {
        match told {
            Told::Symptom(symptom) => {
                let symptom = self.fitted_symptom(symptom.clone());
                self.add_symptom(&symptom).is_ok()
            }
            Told::Readings(test, readings) => {
                let test = self.fitted_test((**test).clone());
                self.add_readings(&test, readings).is_ok()
            }
            Told::Tried(class) => {
                self.evidence.tried.push(Tried { class: class.clone() });
                true
            }
        }
    }

    /// ln of how well this machine, whatever may be wrong with it, agrees with all that it was told.
    pub fn agreement(&mut self) -> f64 {
        self.chances = self.weigh();
        self.chances.ln
    }

    /// Has it ended?
    pub fn over(&self) -> bool {
        matches!(self.pending, Pending::Over(_))
    }

    /// What is waited for, said again.
    pub fn waiting(&self) -> Option<Event> {
        match &self.pending {
            Pending::Symptom => None,
            Pending::Ask(event, _) | Pending::Question(event, _) | Pending::Repair(event, _) | Pending::Over(event) => {
                Some(event.clone())
            }
        }
    }

    /// The leading suspects.
    pub fn suspect_lines(&mut self) -> Vec<SuspectLine> {
        let mut order: Vec<usize> = (0..self.suspects.list.len()).collect();
        order.sort_by(|&a, &b| self.chances.suspects[b].total_cmp(&self.chances.suspects[a]));
        let mut out = Vec::new();
        for index in order.into_iter().take(LISTED) {
            let p = self.chances.suspects[index];
            if p < 1e-4 {
                break;
            }
            let pattern = report::pattern(self, index);
            let suspect = &self.suspects.list[index];
            let title = name::suspect(&self.machine, &self.suspects, suspect);
            for member in &suspect.members {
                out.push(SuspectLine {
                    fault: name::short(member),
                    title: title.clone(),
                    class: suspect.class.clone(),
                    pattern: pattern.clone(),
                    p: p * member.share,
                });
            }
        }
        out.sort_by(|a, b| b.p.total_cmp(&a.p));
        out.truncate(LISTED * 2);
        out
    }

    /// Takes an input; gives back what is to be said.
    pub fn take(&mut self, input: Input) -> Vec<Event> {
        if self.over() && !matches!(input, Input::Back | Input::Note(_) | Input::Told { .. }) {
            return self.error("this chase has ended".into());
        }
        if input == Input::Back {
            return self.back();
        }
        match self.apply(&input) {
            Ok(said) => {
                self.inputs.push(input);
                said
            }
            Err(text) => self.error(text),
        }
    }

    /// Works ahead while the answer to what is asked is not there, a piece a call, after `done` of them: what the points
    /// that count predict of each possible reading, the same for those that the reading may bring forward, the states of
    /// the choice to come. Says nothing and changes no outcome; false if nothing is left.
    pub fn think(&mut self, done: usize) -> bool {
        let Pending::Ask(_, test) = &self.pending else { return false };
        let test = test.clone();
        let mut entries = Vec::new();
        for readings in self.possible(&test) {
            let placement = self.evidence.next_placement();
            entries.extend(entry::readings(&mut self.machine, &test, &readings, placement).unwrap_or_default());
        }
        let (count, past) = (entries.len(), self.evidence.entries.len());
        let Chase { evidence, machine, suspects, runs, .. } = self;
        let mut prepare = |at: usize, far: bool| {
            let next = Entry { epoch: runs.memory.now(), ..entries.swap_remove(at) };
            evidence.prepare(machine, suspects, runs, next, far);
            true
        };
        match done {
            done if done < count => prepare(done, false),
            done if done < count + past => evidence.recall(machine, suspects, runs, done - count),
            done if done < count + past + count => prepare(done - count - past, true),
            done => {
                let complaints = self.complaints();
                look_ahead(&mut self.board(&complaints), done - count - past - count)
            }
        }
    }

    /// Readings that a test may give: every word of a part, or numbers, where only how many they are matters.
    fn possible(&mut self, test: &Test) -> Vec<Vec<Reading>> {
        let sets = test.placements();
        if test.instrument == Instrument::Touch {
            return heat::WORDS.map(|word| vec![Reading::Showing(word.into()); sets.len()]).to_vec();
        }
        if let (Instrument::Watch, Some(part)) = (test.instrument, &test.part) {
            let words = predict::scale(&self.machine, part);
            return words.iter().map(|word| vec![Reading::Showing(word.clone()); sets.len()]).collect();
        }
        let number = |set: &Settings| {
            let state = self.state(set);
            let healthy = state.map(|state| self.runs.healthy(&self.machine, state));
            match healthy.is_some_and(|healthy| healthy.levels.iter().any(|level| !level.slow_closed)) {
                true => Reading::Range { from: 0.0, to: 1.0 },
                false => Reading::Value { value: 0.0, step: None },
            }
        };
        vec![sets.iter().map(number).collect()]
    }

    /// Events are numbered from here on.
    pub fn count_from(&mut self, id: usize) {
        self.next_id = self.next_id.max(id);
    }

    fn id(&mut self) -> usize {
        let id = self.next_id;
        self.next_id += 1;
        id
    }

    fn error(&mut self, text: String) -> Vec<Event> {
        let mut out = vec![Event::Error { id: self.id(), text }];
        out.extend(self.waiting());
        out
    }

    /// Takes the last answer back by walking the way again without it.
    fn back(&mut self) -> Vec<Event> {
        let Some(last) = self.inputs.iter().rposition(|i| !matches!(i, Input::Note(_) | Input::Told { .. })) else {
            return self.error("there is nothing to take back".into());
        };
        let mut inputs = self.inputs.clone();
        let _ = inputs.remove(last);
        let id = self.next_id;
        self.reset();
        let mut said = Vec::new();
        for input in inputs {
            said = self.take(input);
        }
        self.next_id = self.next_id.max(id);
        if said.is_empty() {
            said.extend(self.waiting());
        }
        said
    }

    fn reset(&mut self) {
        self.suspects = enumerate(&self.machine, true);
        self.runs = Runs::new(&self.suspects);
        self.evidence = Evidence::default();
        self.chances = Chances { suspects: self.suspects.list.iter().map(|s| s.prior).collect(), ..Chances::default() };
        self.cured = None;
        self.symptoms.clear();
        self.stand = Stand::default();
        self.inputs.clear();
        self.done.clear();
        self.skipped.clear();
        self.fixed.clear();
        self.declined.clear();
        self.unnamed = false;
        self.older = false;
        self.sound = false;
        self.look_again = false;
        self.asked_before = false;
        self.burns.clear();
        self.mended = usize::MAX;
        self.explained.clear();
        self.told.clear();
        self.pending = Pending::Symptom;
        self.last_choice = None;
    }

    fn weigh(&mut self) -> Chances {
        self.evidence.weigh(&mut self.machine, &self.suspects, &mut self.runs)
    }

    /// Was this repair tried in vain?
    pub(super) fn tried(&self, class: &str) -> bool {
        self.fixed.iter().any(|c| c == class)
    }

    /// Has any repair been tried in vain?
    pub(super) fn fixed_any(&self) -> bool {
        !self.fixed.is_empty()
    }

    /// Has a repair cured the complaint?
    pub(super) fn is_cured(&self) -> bool {
        self.cured == Some(true)
    }

    /// Is nobody else suspected any more?
    pub(super) fn is_settled(&self) -> bool {
        self.is_cured() || self.sound
    }

    /// How sure a class is: what was put right in vain is out, what a repair has cured was it, and what a sound machine
    /// does needs no fault.
    pub(super) fn sureness(&self, class: &str) -> f64 {
        let of = |wanted: &dyn Fn(&str) -> bool| -> f64 {
            let all = self.suspects.list.iter().zip(&self.chances.suspects);
            all.filter(|(suspect, _)| wanted(&suspect.class)).map(|(_, p)| p).sum()
        };
        let goes = self.leader_of(class).is_some_and(|leader| self.goes(leader));
        // (the cure of what comes and goes was seen, and may be chance)
        if self.is_settled() && !(goes && self.is_cured()) {
            1.0
        } else {
            of(&|c| c == class) / of(&|c| c == class || !self.tried(c)).max(1e-300)
        }
    }

    /// Repair classes by probability.
    pub(super) fn classes(&self) -> Vec<(String, f64)> {
        let mut out: IndexMap<&str, f64> = IndexMap::new();
        for (suspect, p) in self.suspects.list.iter().zip(&self.chances.suspects) {
            *out.entry(suspect.class.as_str()).or_default() += p;
        }
        let mut out: Vec<(String, f64)> = out.into_iter().map(|(c, p)| (c.to_string(), p)).collect();
        out.sort_by(|a, b| b.1.total_cmp(&a.1));
        out
    }

    fn suspects_event(&mut self) -> Event {
        Event::Suspects { id: self.id(), list: self.suspect_lines() }
    }

    /// Why this question and not another, in minutes and chances.
    pub fn why(&mut self) -> Vec<String> {
        let Some(choice) = self.last_choice.clone().filter(|_| matches!(self.pending, Pending::Ask(..))) else {
            return vec!["nothing is asked just now".into()];
        };
        report::why(self, &choice)
    }

    /// State of a settings list, factored; for the screens.
    pub(super) fn state(&mut self, set: &Settings) -> Option<crate::circuit::sim::StateId> {
        predict::state(&mut self.machine, set).ok()
    }
}
