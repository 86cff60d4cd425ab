//! Bringing power on, step by step: what to do, what a sound machine answers, when to stop. Pure: answers in, the next
//! step out.
//!
//! [`facts`] asks the wiring what there is, [`plan`] makes the steps, [`judge`] holds a reading against what a sound
//! machine answers, [`who`] says who carries the current, `hand` what a chase is told once a step went wrong.
//! [`PowerUp`] leads from step to step and keeps every answer, so that taking one back is forgetting it. Answers are
//! [`Input`]s of a chase, and their journal is a chase's.

pub mod facts;
mod hand;
pub mod json;
pub mod judge;
mod limited;
pub mod plan;
pub mod who;

use super::ask;
use super::event::{Input, Screen};
use super::words::SymptomTable;
use crate::choice::minutes::{self, Stand};
use crate::circuit::fault::Fault;
use crate::circuit::meter::{How, Observation, Observed, observe};
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::diagnosis::machine::Machine;
use judge::Beside;

/// A band of a reading that is narrower than this is not told, V, A or ohm.
const NARROW: f64 = 0.02;

/// All is as it should be; done.
pub const YES: &str = "yes";
/// No cable is warm.
pub const NONE: &str = "none";
/// Measure the same again.
pub const AGAIN: &str = "again";
/// Leave it open and go on.
pub const GO_ON: &str = "go on";
/// Chase it with all that is known.
pub const CHASE: &str = "chase";

/// When a step is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Before anything.
    Safe,
    /// Battery off.
    Dead,
    /// Through a lamp in the minus lead.
    Lamp,
    /// Through a small fuse there.
    Fuse,
    /// With nothing between.
    Full,
    /// The starter turns.
    Crank,
    /// The engine runs.
    Running,
}

impl Stage {
    /// Its name in `rules/powerup.yaml`.
    pub fn word(self) -> &'static str {
        match self {
            Stage::Safe => "safe",
            Stage::Dead => "dead",
            Stage::Lamp => "lamp",
            Stage::Fuse => "fuse",
            Stage::Full => "full",
            Stage::Crank => "crank",
            Stage::Running => "running",
        }
    }
}

/// What a step asks for.
#[derive(Clone, Debug, PartialEq)]
pub enum Ask {
    /// Do it, and say that it is done.
    Do,
    /// Take these readings.
    Read(Box<Test>),
    /// Look at the whole machine: these parts show one of these words, and nothing else shows anything.
    Look {
        /// what is set
        set: Settings,
        /// part and words, the likeliest first
        shows: Vec<(String, Vec<String>)>,
    },
    /// Feel these cables (with A): none may be warm.
    Feel(Vec<(String, f64)>),
}

/// One step.
#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    /// When.
    pub stage: Stage,
    /// What it is about: `F2 in`.
    pub head: String,
    /// What it asks for.
    pub ask: Ask,
}

/// How a step went.
#[derive(Clone, Debug, PartialEq)]
pub enum Went {
    /// As it should.
    Well,
    /// Not as it should: what is wrong, in a sentence. Left open, or chased.
    Wrong(String),
    /// Left out.
    Skipped,
}

/// A step that was taken.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// Index of the step.
    pub step: usize,
    /// How it went.
    pub went: Went,
    /// What was answered.
    pub input: Input,
    /// What a sound machine answers, in words; one a placement.
    pub expected: Vec<String>,
}

/// What is waited for.
#[derive(Clone, Debug, PartialEq)]
pub enum Wait {
    /// The answer to this step.
    Step(usize),
    /// It did not go as it should: again, go on, or chase.
    Wrong {
        /// the step
        step: usize,
        /// what is wrong
        text: String,
        /// Power goes off before anything else is done.
        stop: bool,
    },
    /// Nothing.
    Done,
}

/// Power being brought on.
pub struct PowerUp {
    machine: Machine,
    words: SymptomTable,
    /// The steps.
    pub plan: plan::Plan,
    stand: Stand,
    inputs: Vec<Input>,
    taken: Vec<Taken>,
    notes: Vec<String>,
    wait: Wait,
    wrong: Option<Taken>,
    expected: Option<(usize, Vec<Observation>)>,
}

impl PowerUp {
    /// Nothing is on yet. `lamp`: what stands in the minus lead at first, W; `None` for a small fuse.
    pub fn new(mut machine: Machine, lamp: Option<f64>) -> PowerUp {
        let plan = plan::plan(&mut machine, lamp);
        let mut out = PowerUp {
            machine,
            words: SymptomTable::builtin(),
            plan,
            stand: Stand::default(),
            inputs: Vec::new(),
            taken: Vec::new(),
            notes: Vec::new(),
            wait: Wait::Done,
            wrong: None,
            expected: None,
        };
        out.go_to(0);
        out
    }

    /// The same, spoken to in these words.
    pub fn speaking(mut self, words: SymptomTable) -> PowerUp {
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

    /// What is waited for.
    pub fn waiting(&self) -> &Wait {
        &self.wait
    }

    /// Answers accepted so far.
    pub fn inputs(&self) -> &[Input] {
        &self.inputs
    }

    /// Steps that were taken, in order.
    pub fn taken(&self) -> &[Taken] {
        &self.taken
    }

    /// Remarks.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// The test of the step that waits, if it is one.
    pub fn asked(&self) -> Option<&Test> {
        match (&self.wait, self.step().map(|step| &step.ask)) {
            (Wait::Step(_), Some(Ask::Read(test))) => Some(test),
            _ => None,
        }
    }

    /// The step that waits, or that went wrong.
    pub fn step(&self) -> Option<&Step> {
        match self.wait {
            Wait::Step(at) | Wait::Wrong { step: at, .. } => self.plan.steps.get(at),
            Wait::Done => None,
        }
    }

    /// What a sound machine answers to the readings of a step, one a placement.
    pub fn expected(&mut self, at: usize) -> Vec<Observation> {
        if let Some((known, list)) = &self.expected
            && *known == at
        {
            return list.clone();
        }
        let Some(Ask::Read(test)) = self.plan.steps.get(at).map(|step| step.ask.clone()) else { return Vec::new() };
        let Machine { sim, netlist, catalogue, .. } = &mut self.machine;
        let list = observe(sim, netlist, catalogue, &test, &Fault::healthy(), How::Afresh).unwrap_or_default();
        self.expected = Some((at, list.clone()));
        list
    }

    /// Who carries the current of a step's readings, with A; one list a placement.
    pub fn carriers(&mut self, at: usize) -> Vec<Vec<(String, f64)>> {
        match self.plan.steps.get(at).map(|step| step.ask.clone()) {
            Some(Ask::Read(test)) => who::carriers(&mut self.machine, &test),
            _ => Vec::new(),
        }
    }

    /// The screen of a step's test, and minutes from how things stand.
    pub fn screen(&self, test: &Test) -> (Screen, f64) {
        let Machine { netlist, catalogue, .. } = &self.machine;
        let minutes = minutes::minutes(netlist, &catalogue.minutes, &self.stand, test);
        (ask::screen(&self.machine, &self.stand, test), minutes)
    }

    /// Settings in words.
    pub fn say(&self, set: &Settings) -> String {
        ask::settings_say(&self.machine.sim.schematic().controls, set)
    }

    /// How it stands after a step, where the steps are only read through.
    pub fn pass(&mut self, at: usize) {
        if let Some(Ask::Read(test)) = self.plan.steps.get(at).map(|step| step.ask.clone()) {
            self.stand.move_to(&self.machine.netlist, &test);
        }
    }

    fn go_to(&mut self, at: usize) {
        self.wait = if at < self.plan.steps.len() { Wait::Step(at) } else { Wait::Done };
    }

    fn beside(&self) -> f64 {
        self.machine.catalogue.powerup.limit("beside")
    }

    /// Takes an answer; one that cannot be used is refused in a sentence, and what waits goes on waiting.
    pub fn take(&mut self, input: Input) -> Result<(), String> {
        if let Input::Back = input {
            return self.back();
        }
        self.apply(&input)?;
        self.inputs.push(input);
        Ok(())
    }

    fn apply(&mut self, input: &Input) -> Result<(), String> {
        if let Input::Note(text) = input {
            self.notes.push(text.clone());
            return Ok(());
        }
        match self.wait.clone() {
            Wait::Done => Err("all steps have been taken".into()),
            Wait::Step(at) => self.answer(at, input),
            Wait::Wrong { step, .. } => match input {
                Input::Choice(choice) if choice == AGAIN => {
                    self.wrong = None;
                    self.go_to(step);
                    Ok(())
                }
                Input::Choice(choice) if choice == GO_ON => {
                    self.taken.extend(self.wrong.take());
                    self.go_to(step + 1);
                    Ok(())
                }
                // Once it is chased the step is taken again.
                Input::Choice(choice) if choice == CHASE => {
                    self.taken.extend(self.wrong.take());
                    self.go_to(step);
                    Ok(())
                }
                _ => Err(format!("say {AGAIN}, {GO_ON} or {CHASE}")),
            },
        }
    }

    fn answer(&mut self, at: usize, input: &Input) -> Result<(), String> {
        let Some(step) = self.plan.steps.get(at).cloned() else { return Err("there is no such step".into()) };
        let mut expected = Vec::new();
        let went = match (&step.ask, input) {
            (_, Input::Skip) => Went::Skipped,
            (Ask::Do, Input::Choice(choice)) if choice == YES => Went::Well,
            (Ask::Read(test), Input::Reading(readings)) => {
                let observed = self.expected(at);
                if readings.len() != observed.len() {
                    return Err(format!("{} readings are wanted here, {} were given", observed.len(), readings.len()));
                }
                expected = self.expected_words(at);
                self.judge(&step, test, readings, &observed)
            }
            (Ask::Look { shows, .. }, Input::Choice(choice)) if choice == YES => {
                expected = shows.iter().map(|(part, words)| format!("{part} {}", words.join(" or "))).collect();
                Went::Well
            }
            (Ask::Look { shows, set }, Input::Saw(text)) => {
                if !hand::is_understood(self, text) {
                    return Err(format!(
                        "\"{text:.60}\" names no part and what it does: horn silent, or oil-lamp stays dark"
                    ));
                }
                expected = shows.iter().map(|(part, words)| format!("{part} {}", words.join(" or "))).collect();
                Went::Wrong(format!("{text}, with {}", self.say(set)))
            }
            (Ask::Feel(_), Input::Choice(choice)) if choice == NONE => Went::Well,
            (Ask::Feel(cables), Input::Choice(choice)) => {
                let Some((cable, amps)) = cables.iter().find(|(cable, _)| cable == choice) else {
                    return Err(format!("\"{choice:.60}\" is none of these cables"));
                };
                Went::Wrong(format!(
                    "{cable} is warm after {amps:.0} A for seconds: look for a loose or dirty joint at its ends first"
                ))
            }
            _ => return Err("that is no answer to this step".into()),
        };
        if let Ask::Read(test) = &step.ask
            && !matches!(input, Input::Skip)
        {
            self.stand.move_to(&self.machine.netlist, test);
        }
        let taken = Taken { step: at, went: went.clone(), input: input.clone(), expected };
        if let Went::Wrong(text) = went {
            self.wrong = Some(taken);
            let stop =
                matches!(step.stage, Stage::Dead | Stage::Lamp | Stage::Fuse) || matches!(step.ask, Ask::Feel(_));
            self.wait = Wait::Wrong { step: at, text, stop };
        } else {
            self.taken.push(taken);
            self.go_to(at + 1);
        }
        Ok(())
    }

    /// What a sound machine answers to a step, in words.
    pub fn expected_words(&mut self, at: usize) -> Vec<String> {
        let beside = self.beside();
        let Some(Ask::Read(test)) = self.plan.steps.get(at).map(|step| step.ask.clone()) else { return Vec::new() };
        let unit = test.instrument.unit().unwrap_or("");
        let say = |answer: Observation| match (&answer.what, judge::band(&answer.what, test.instrument, beside)) {
            (Observed::Over, _) => "over range".to_string(),
            (Observed::Number { value, .. }, Some((low, high))) if high - low < NARROW => {
                super::name::value(*value, unit)
            }
            (Observed::Number { value, .. }, Some((low, high))) => {
                let name = |value| super::name::value(value, unit);
                format!("{} ({} to {})", name(*value), super::name::value(low, ""), name(high))
            }
            (Observed::Range { from, to }, _) => {
                format!("swings {} to {}", super::name::value(*from, ""), super::name::value(*to, unit))
            }
            _ => "?".into(),
        };
        self.expected(at).into_iter().map(say).collect()
    }

    fn judge(&mut self, step: &Step, test: &Test, met: &[Reading], expected: &[Observation]) -> Went {
        let beside = self.beside();
        let sets = test.placements();
        let wrong: Vec<String> = met
            .iter()
            .zip(expected)
            .zip(&sets)
            .filter_map(|((met, expected), set)| {
                let how = judge::judge(met, &expected.what, test.instrument, beside);
                (how != Beside::Fits).then(|| self.say_wrong(step, test, met, &expected.what, how, set))
            })
            .collect();
        if wrong.is_empty() { Went::Well } else { Went::Wrong(wrong.join("; ")) }
    }

    fn say_wrong(
        &self,
        step: &Step,
        test: &Test,
        met: &Reading,
        expected: &Observed,
        how: Beside,
        set: &Settings,
    ) -> String {
        let unit = test.instrument.unit().unwrap_or("");
        let name = |value| super::name::value(value, unit);
        let should = match judge::band(expected, test.instrument, self.beside()) {
            Some((low, high)) if high - low < NARROW => name(0.5 * (low + high)),
            Some((low, high)) => format!("{} to {}", super::name::value(low, ""), name(high)),
            None => "over range".into(),
        };
        let means = match (step.stage, how) {
            (Stage::Dead, Beside::Less) => ": something joins plus and minus that should not",
            (Stage::Dead, Beside::More) => ": something that should be joined is not",
            (Stage::Lamp, Beside::More) => ": more current flows than should, a short or a wrong wire",
            (Stage::Lamp, Beside::Less) => ": less current flows than should, something is not joined",
            (Stage::Fuse, Beside::Less) => ": has the small fuse blown?",
            (Stage::Crank, Beside::More) if step.head.contains("lost") => ": a bad joint or too thin a cable there",
            _ => "",
        };
        format!("{} met with {}, {should} on a sound machine{means}", ask::say_reading(met, unit), self.say(set))
    }

    fn back(&mut self) -> Result<(), String> {
        let Some(last) = self.inputs.iter().rposition(|input| !matches!(input, Input::Note(_))) else {
            return Err("nothing has been answered yet".into());
        };
        let mut inputs = std::mem::take(&mut self.inputs);
        inputs.remove(last);
        (self.stand, self.wrong) = (Stand::default(), None);
        self.taken.clear();
        self.notes.clear();
        self.go_to(0);
        for input in inputs {
            // Each was accepted before.
            self.take(input)?;
        }
        Ok(())
    }

    /// Steps that went wrong and were left open, and those that were left out.
    pub fn open_points(&self) -> Vec<String> {
        let later = |at: usize, step: usize| self.taken[at + 1..].iter().any(|taken| taken.step == step);
        let mut out: Vec<String> = Vec::new();
        for (at, taken) in self.taken.iter().enumerate().filter(|(at, taken)| !later(*at, taken.step)) {
            let head = self.plan.steps.get(taken.step).map_or("", |step| step.head.as_str());
            match &taken.went {
                Went::Well => {}
                Went::Wrong(text) => out.push(format!("{head}: {text}")),
                Went::Skipped => out.push(format!("{head}: left out")),
            }
            let _ = at;
        }
        out.extend(self.plan.untried.iter().map(|what| format!("not tried: {what}")));
        out
    }

    /// What a chase is told: all that was read and seen, in the order in which it was.
    pub fn known(&self) -> Vec<Input> {
        hand::known(self)
    }
}

/// The instrument of a step's readings.
pub fn instrument(step: &Step) -> Option<Instrument> {
    match &step.ask {
        Ask::Read(test) => Some(test.instrument),
        _ => None,
    }
}
