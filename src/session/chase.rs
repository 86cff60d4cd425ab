//! One chase: what has been said and read, what is waited for, what comes next.

use super::event::{Event, Input, SuspectLine, SymptomInput, Verdict, VerdictReason};
use super::hear::hear;
use super::words::SymptomTable;
use super::{ask, name, report};
use crate::choice::choose::{Board, Choice, choose};
use crate::choice::minutes::Stand;
use crate::circuit::test::{Reading, Settings, Test};
use crate::diagnosis::entry;
use crate::diagnosis::enumerate::{Suspects, enumerate};
use crate::diagnosis::evidence::{Chances, Evidence, Tried};
use crate::diagnosis::machine::Machine;
use crate::diagnosis::predict;
use crate::diagnosis::runs::Runs;
use crate::diagnosis::suspect::What;
use crate::text::problem::Problem;
use indexmap::IndexMap;

/// A repair is proposed when its class is at least this likely…
const SURE: f64 = 0.9;
/// …or when no test is worth more than this share of what is undecided, and the class at least…
const WORTHLESS: f64 = 0.004;
/// …this likely.
const WORTH_TRYING: f64 = 0.12;
/// A class that stands out: this likely, so many times the next, while no test tells more than this share.
const STANDS_OUT: f64 = 0.3;
const LONE: f64 = 5.0;
const TELLING: f64 = 0.15;
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
    older: bool,
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
            older: false,
            pending: Pending::Symptom,
            next_id: 1,
            last_choice: None,
        }
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
        if self.over() && !matches!(input, Input::Back | Input::Note(_)) {
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
        let Some(last) = self.inputs.iter().rposition(|i| !matches!(i, Input::Note(_))) else {
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
        self.older = false;
        self.pending = Pending::Symptom;
        self.last_choice = None;
    }

    fn apply(&mut self, input: &Input) -> Result<Vec<Event>, String> {
        match input {
            Input::Symptom(symptom) => {
                self.add_symptom(symptom)?;
                Ok(self.go_on())
            }
            Input::Saw(text) => self.saw(text),
            Input::Was(_) => {
                self.was();
                Ok(self.go_on())
            }
            Input::CuredBy(text) => {
                self.cured_by(text)?;
                Ok(self.go_on())
            }
            Input::Reading(readings) => self.reading(readings),
            Input::Skip => self.skip(),
            Input::Choice(choice) => self.choice(choice),
            Input::Cured { cured, .. } => self.cured(*cured),
            Input::Measured { test, readings } => {
                self.add_readings(test, readings)?;
                Ok(self.go_on())
            }
            Input::Fixed(names) => {
                self.fix(names)?;
                Ok(self.go_on())
            }
            Input::Note(_) => {
                let mut said = vec![self.suspects_event()];
                said.extend(self.waiting());
                Ok(said)
            }
            Input::Stop => Ok(vec![self.verdict(VerdictReason::Stopped, None)]),
            Input::Back => Err("back is taken before".into()),
        }
    }

    fn add_symptom(&mut self, symptom: &SymptomInput) -> Result<(), String> {
        let placement = self.evidence.next_placement();
        let entries = entry::complaint(&mut self.machine, &symptom.complaint(), placement).map_err(plain)?;
        for entry in entries {
            self.evidence.push(entry);
        }
        self.symptoms.push(symptom.clone());
        Ok(())
    }

    fn saw(&mut self, text: &str) -> Result<Vec<Event>, String> {
        let heard = hear(&self.machine, &self.words, text);
        if heard.symptoms.is_empty() && heard.question.is_none() {
            return Err(format!(
                "\"{text}\" names no part and showing that I know: say what does what, \"the rev needle jumps when I press the horn\""
            ));
        }
        for symptom in &heard.symptoms {
            self.add_symptom(symptom)?;
        }
        let Some((question, options)) = heard.question else { return Ok(self.go_on()) };
        let mut choices: Vec<String> = options.iter().map(|(label, _)| label.clone()).collect();
        choices.push("don't know".into());
        let event = Event::Question { id: self.id(), text: question, choices };
        self.pending = Pending::Question(event.clone(), options);
        Ok(vec![event])
    }

    /// "It was so before the work": work done lately no longer counts against anything.
    fn was(&mut self) {
        if self.older {
            return;
        }
        self.older = true;
        // The same suspects in the same order with other priors: what has been computed stays.
        let again = enumerate(&self.machine, false);
        for (now, then) in self.suspects.list.iter_mut().zip(again.list) {
            now.prior = then.prior;
            now.members = then.members;
        }
        self.evidence.forget_weights();
    }

    fn cured_by(&mut self, text: &str) -> Result<(), String> {
        let Some(last) = self.symptoms.last().cloned() else {
            return Err("say first what is wrong, then what cures it".into());
        };
        let heard =
            hear(&self.machine, &self.words, &format!("{} {}, cured by {text}", last.part, last.showings.join(" ")));
        let set = heard.symptoms.into_iter().map(|s| s.cured_by).find(|set| !set.is_empty());
        let Some(set) = set else {
            return Err(format!("\"{text}\" names no control of this machine: say \"cured by lights on\""));
        };
        let placement = self.evidence.next_placement();
        let complaint = entry::Complaint { cured_by: set, ..last.complaint() };
        // The symptom itself has been weighed already: only the cure is new.
        for entry in entry::cure(&mut self.machine, &complaint, placement).map_err(plain)? {
            self.evidence.push(entry);
        }
        Ok(())
    }

    fn reading(&mut self, readings: &[Reading]) -> Result<Vec<Event>, String> {
        let Pending::Ask(_, test) = &self.pending else {
            return Err("no reading was asked for; \"read 8.1 V at …\" gives one unasked".into());
        };
        let test = test.clone();
        self.add_readings(&test, readings)?;
        self.move_to(&test);
        Ok(self.go_on())
    }

    fn add_readings(&mut self, test: &Test, readings: &[Reading]) -> Result<(), String> {
        let wanted = 1 + test.then.len();
        if readings.len() != wanted {
            return Err(format!("this placement takes {wanted} readings, {} came", readings.len()));
        }
        let entries =
            entry::readings(&mut self.machine, test, readings, self.evidence.next_placement()).map_err(plain)?;
        for entry in entries {
            self.evidence.push(entry);
        }
        self.done.push(test.clone());
        Ok(())
    }

    fn move_to(&mut self, test: &Test) {
        let netlist = &self.machine.netlist;
        for place in crate::choice::minutes::places(netlist, test) {
            self.stand.open_places.insert(place.clone());
            self.stand.at = Some(place);
        }
        self.stand.set = test.set.clone();
        for step in &test.then {
            for (control, setting) in step {
                self.stand.set.retain(|(c, _)| c != control);
                self.stand.set.push((control.clone(), setting.clone()));
            }
        }
        self.stand.out = test.open.clone();
        self.stand.instrument = Some(test.instrument);
        self.stand.probes = [test.red.clone(), test.black.clone()];
    }

    fn skip(&mut self) -> Result<Vec<Event>, String> {
        match self.pending.clone() {
            Pending::Ask(_, test) => {
                self.skipped.push(*test);
                Ok(self.go_on())
            }
            Pending::Question(..) => Ok(self.go_on()),
            Pending::Repair(_, class) => {
                // Not done: it can be true all the same, but is not proposed again.
                self.declined.push(class);
                Ok(self.go_on())
            }
            _ => Err("there is nothing to skip".into()),
        }
    }

    fn choice(&mut self, choice: &str) -> Result<Vec<Event>, String> {
        let Pending::Question(Event::Question { choices, .. }, symptoms) = self.pending.clone() else {
            return Err("no question is open".into());
        };
        let at = choices.iter().position(|c| c.eq_ignore_ascii_case(choice.trim())).or_else(|| {
            choice.trim().parse::<usize>().ok().and_then(|n| n.checked_sub(1)).filter(|n| *n < choices.len())
        });
        let Some(at) = at else {
            return Err(format!("\"{choice}\" is none of: {}", choices.join(", ")));
        };
        for symptom in symptoms.get(at).map(|(_, s)| s.clone()).unwrap_or_default() {
            self.add_symptom(&symptom)?;
        }
        Ok(self.go_on())
    }

    fn cured(&mut self, cured: bool) -> Result<Vec<Event>, String> {
        let Pending::Repair(_, class) = self.pending.clone() else {
            return Err("no repair was proposed".into());
        };
        self.cured = Some(cured);
        if cured {
            self.chances = self.weigh();
            return Ok(vec![self.suspects_event(), self.verdict(VerdictReason::Repair, Some(class))]);
        }
        // Never the same repair twice; it can have been done badly all the same.
        self.fixed.push(class.clone());
        self.evidence.tried.push(Tried { class });
        Ok(self.go_on())
    }

    /// These have been put right without being asked: they are no longer suspects.
    fn fix(&mut self, names: &[String]) -> Result<(), String> {
        for name in names {
            let classes: Vec<String> = self
                .suspects
                .list
                .iter()
                .filter(|s| {
                    s.members.iter().any(|m| {
                        m.name == *name
                            || name::short(m) == *name
                            || m.fault.singles.iter().any(|f| f.site.eq_ignore_ascii_case(name))
                    })
                })
                .map(|s| s.class.clone())
                .collect();
            if classes.is_empty() {
                return Err(format!("nothing here is called \"{name}\""));
            }
            self.evidence.tried.extend(classes.into_iter().map(|class| Tried { class }));
        }
        Ok(())
    }

    fn weigh(&mut self) -> Chances {
        self.evidence.weigh(&mut self.machine, &self.suspects, &mut self.runs)
    }

    /// Was this repair tried in vain?
    pub(super) fn tried(&self, class: &str) -> bool {
        self.fixed.iter().any(|c| c == class)
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

    /// Weighs everything anew and says what comes next.
    fn go_on(&mut self) -> Vec<Event> {
        self.chances = self.weigh();
        let mut out = vec![self.suspects_event()];
        if self.evidence.entries.is_empty() {
            self.pending = Pending::Symptom;
            return out;
        }
        out.push(self.next());
        out
    }

    /// Settings of the complaints, the active ones first.
    fn complaints(&self) -> Vec<Settings> {
        let mut out: Vec<Settings> = Vec::new();
        for symptom in &self.symptoms {
            let mut active = symptom.set.clone();
            if let Some((control, [from, to])) = &symptom.change {
                active.retain(|(c, _)| c != control);
                let mut passive = active.clone();
                active.push((control.clone(), to.clone()));
                passive.push((control.clone(), from.clone()));
                out.push(active);
                out.push(passive);
            } else {
                out.push(active);
            }
        }
        if out.is_empty() {
            out.extend(self.evidence.entries.iter().map(|e| e.test.set.clone()).next_back());
        }
        out
    }

    fn next(&mut self) -> Event {
        // What has been put right is out; the rest shares the chances.
        let mut open = self.classes();
        open.retain(|(class, _)| !self.fixed.contains(class));
        let all: f64 = open.iter().map(|(_, p)| p).sum();
        let share = |at: usize| open.get(at).map_or(0.0, |(_, p)| p / all.max(1e-300));
        let (p, second) = (share(0), share(1));
        let leader = open.first().map(|(class, _)| class.clone());
        let Some(class) = leader.clone().filter(|class| !self.declined.contains(class)) else {
            // The likeliest repair is known and was not wanted.
            return self.verdict(VerdictReason::Group, leader);
        };
        if open.is_empty() {
            return self.verdict(VerdictReason::NothingAllowed, None);
        };
        if p >= SURE {
            return self.conclude(class);
        }
        let complaints = self.complaints();
        let parts: Vec<String> = self.symptoms.iter().map(|s| s.part.clone()).collect();
        let best = choose(
            &mut Board {
                machine: &mut self.machine,
                suspects: &self.suspects,
                runs: &mut self.runs,
                p: &self.chances.points,
                complaints: &complaints,
                parts: &parts,
                stand: &self.stand,
                done: &self.done,
                skipped: &self.skipped,
            },
            1,
        );
        let best = best.into_iter().next().filter(|c| c.gain > WORTHLESS);
        // One stands out and no test tells much: the repair is the test.
        let special = self.suspects.list.iter().any(|s| s.class == class && s.special());
        if !special && p >= STANDS_OUT && p >= LONE * second && best.as_ref().is_none_or(|c| c.gain < TELLING) {
            return self.conclude(class);
        }
        match best {
            Some(choice) => self.ask(choice),
            None if p >= WORTH_TRYING => self.conclude(class),
            None => self.verdict(VerdictReason::NothingAllowed, None),
        }
    }

    fn ask(&mut self, choice: Choice) -> Event {
        let id = self.id();
        let expect = ask::expected(self, &choice.test);
        let screen = ask::screen(self, &choice.test);
        let event = Event::Ask {
            id,
            test: Box::new(choice.test.clone()),
            minutes: choice.minutes,
            expect,
            screen: Box::new(screen),
        };
        self.pending = Pending::Ask(event.clone(), Box::new(choice.test.clone()));
        self.last_choice = Some(choice);
        event
    }

    /// A repair is worth doing, or there is nothing to repair.
    fn conclude(&mut self, class: String) -> Event {
        let special = self.suspects.list.iter().find(|s| s.class == class).map(|s| s.what.clone());
        match special {
            Some(What::NothingBroken) => self.verdict(VerdictReason::NothingVisible, Some(class)),
            Some(What::NotInFile) => self.verdict(VerdictReason::NothingAllowed, Some(class)),
            _ => {
                let faults = self.class_faults(&class);
                let report = report::report(self, &class);
                let text = report.repair.first().cloned().unwrap_or_else(|| report.what.clone());
                let event =
                    Event::TryRepair { id: self.id(), class: class.clone(), faults, text, report: Box::new(report) };
                self.pending = Pending::Repair(event.clone(), class);
                event
            }
        }
    }

    /// Every fault that the repair would cure.
    fn class_faults(&self, class: &str) -> Vec<String> {
        self.suspects.list.iter().filter(|s| s.class == class).flat_map(|s| s.members.iter().map(name::short)).collect()
    }

    fn verdict(&mut self, reason: VerdictReason, class: Option<String>) -> Event {
        let cured = self.cured;
        let left = || self.classes().into_iter().map(|(class, _)| class).find(|class| !self.fixed.contains(class));
        let class = class.or_else(left).unwrap_or_default();
        let faults = report::final_group(self, &class, reason);
        let report = report::report(self, &class);
        let verdict = Verdict {
            reason,
            pattern: report::class_pattern(self, &class),
            class,
            faults,
            text: report::sentence(&report),
            report,
            cured,
        };
        let event = Event::Verdict { id: self.id(), verdict: Box::new(verdict) };
        self.pending = Pending::Over(event.clone());
        event
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
