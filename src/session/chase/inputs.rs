//! What is said to a chase: complaints, readings, answers, repairs.

use super::{Chase, Pending, Told, plain};
use crate::circuit::lower::ENGINE;
use crate::circuit::state::states_of;
use crate::circuit::test::{Fit, Instrument, Reading, Settings, Test};
use crate::diagnosis::entry;
use crate::diagnosis::enumerate::enumerate;
use crate::diagnosis::evidence::Entry;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::memory::Happened;
use crate::diagnosis::predict::Sight;
use crate::diagnosis::suspect::What;
use crate::session::event::{Event, Input, SymptomInput, VerdictReason};
use crate::session::hear::{Meaning, ask_back, hear};
use crate::session::sound;
use crate::session::start::DONT_KNOW;
use crate::session::words::reading::UNCHANGED;

impl Chase {
    pub(super) fn apply(&mut self, input: &Input) -> Result<Vec<Event>, String> {
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
            Input::Cured { cured, blown } => self.cured(*cured, blown),
            Input::Measured { test, readings } => {
                self.add_readings(test, readings)?;
                // What was taken out or clipped in for it is so until it is put right.
                if !test.open.is_empty() || !test.bridge.is_empty() {
                    self.move_to(test);
                }
                Ok(self.go_on())
            }
            Input::Fixed(names) => {
                self.fix(names)?;
                Ok(self.go_on())
            }
            Input::Unnamed => {
                self.unnamed = true;
                Ok(self.go_on())
            }
            Input::Note(_) | Input::Told { .. } => {
                let mut said = vec![self.suspects_event()];
                said.extend(self.waiting());
                Ok(said)
            }
            Input::Stop => Ok(vec![self.verdict(VerdictReason::Stopped, None)]),
            Input::Back => Err("back is taken before".into()),
        }
    }

    pub(super) fn add_symptom(&mut self, symptom: &SymptomInput) -> Result<(), String> {
        let placement = self.evidence.next_placement();
        let mut entries = entry::complaint(&mut self.machine, &symptom.complaint(), placement).map_err(plain)?;
        // One thing wiggled is said once, of however many lamps.
        let said = |sight: &Sight| self.evidence.entries.iter().any(|entry| entry.sight == *sight);
        entries.retain(|entry| !(matches!(entry.sight, Sight::Stirs { .. }) && said(&entry.sight)));
        self.push(entries);
        for set in symptom.states() {
            let test = Test::new(Instrument::Watch, &set);
            self.stood(&test);
        }
        if symptom.comes_and_goes && !self.evidence.comes_and_goes {
            self.evidence.comes_and_goes = true;
            // Whom the readings have put far behind may have been away.
            self.evidence.forget_weights();
        }
        let Chase { evidence, machine, suspects, runs, .. } = self;
        evidence.complained(machine, suspects, runs);
        if symptom.showings == ["smokes"] {
            // A short burns as well with the engine stopped, and what a switch of its own feeds with the key anywhere.
            let keys = self.words.controls.get("key").map_or(&[][..], |key| &key.kinds);
            let Machine { netlist, catalogue, .. } = &self.machine;
            let kind = |name: &str| catalogue.kind(name).map(|kind| kind.name.as_str());
            let is_key = |control: &str| {
                let part = netlist.parts.get(control);
                part.is_some_and(|part| keys.iter().any(|key| kind(key) == kind(&part.kind)))
            };
            let burns = |mut set: Settings| {
                set.retain(|(control, _)| control != ENGINE);
                if set.iter().any(|(control, _)| !is_key(control)) {
                    set.retain(|(control, _)| !is_key(control));
                }
                set
            };
            self.burns.extend(symptom.states().into_iter().map(burns));
        }
        self.symptoms.push(symptom.clone());
        self.told.push(Told::Symptom(symptom.clone()));
        Ok(())
    }

    fn saw(&mut self, text: &str) -> Result<Vec<Event>, String> {
        let heard = hear(&self.machine, &self.words, text);
        if heard.symptoms.is_empty() && heard.question.is_none() {
            // At the start a short choice helps further; in mid-chase what waits goes on waiting.
            if matches!(self.pending, Pending::Symptom)
                && let Some((question, options)) = ask_back(&self.machine, &self.words, text)
            {
                return Ok(vec![self.question(question, options)]);
            }
            return Err(format!(
                "\"{text}\" names no part and showing that I know: say what does what, \"the rev needle jumps when I press the horn\""
            ));
        }
        if let ([only], None) = (heard.symptoms.as_slice(), &heard.question)
            && let Some((question, options)) = sound::question(self, only)
        {
            self.asked_before = true;
            return Ok(vec![self.question(question, options)]);
        }
        for symptom in &heard.symptoms {
            self.add_symptom(symptom)?;
        }
        let Some((question, options)) = heard.question else { return Ok(self.go_on()) };
        Ok(vec![self.question(question, options)])
    }

    fn question(&mut self, text: String, options: Vec<Meaning>) -> Event {
        let mut choices: Vec<String> = options.iter().map(|(label, _)| label.clone()).collect();
        if choices.iter().all(|choice| choice != DONT_KNOW) {
            choices.push(DONT_KNOW.into());
        }
        let event = Event::Question { id: self.id(), text, choices };
        self.pending = Pending::Question(event.clone(), options);
        event
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
        let entries = entry::cure(&mut self.machine, &complaint, placement).map_err(plain)?;
        self.push(entries);
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

    pub(super) fn add_readings(&mut self, test: &Test, readings: &[Reading]) -> Result<(), String> {
        let wanted = 1 + test.then.len();
        if readings.len() != wanted {
            return Err(format!("this placement takes {wanted} readings, {} came", readings.len()));
        }
        let readings: &[Reading] = &self.last_shown(test, readings)?;
        let entries =
            entry::readings(&mut self.machine, test, readings, self.evidence.next_placement()).map_err(plain)?;
        self.push(entries);
        // A new fuse that was put in for it stays in.
        let fresh = test.fit.iter().filter(|(_, fit)| matches!(fit, Fit::Good)).map(|(part, _)| part.clone());
        self.renewed(&fresh.collect::<Vec<_>>(), false);
        self.stood(test);
        self.done.push(test.clone());
        self.told.push(Told::Readings(Box::new(test.clone()), readings.to_vec()));
        Ok(())
    }

    /// "Unchanged" is what the part showed last in these settings.
    fn last_shown(&self, test: &Test, readings: &[Reading]) -> Result<Vec<Reading>, String> {
        let unchanged = Reading::Showing(UNCHANGED.into());
        if test.disturb.is_none() || !readings.contains(&unchanged) {
            return Ok(readings.to_vec());
        }
        let before = self.evidence.entries.iter().rev();
        let word =
            before.filter(|entry| entry.test.set == test.set && entry.test.part == test.part).find_map(|entry| {
                match &entry.sight {
                    Sight::Words { words, .. } => words.first().cloned(),
                    _ => None,
                }
            });
        let Some(word) = word else {
            return Err("say what it shows: nothing was said of it in these settings before".into());
        };
        let last =
            |reading: &Reading| if *reading == unchanged { Reading::Showing(word.clone()) } else { reading.clone() };
        Ok(readings.iter().map(last).collect())
    }

    /// What was met just now.
    pub(super) fn push(&mut self, entries: Vec<Entry>) {
        let epoch = self.runs.memory.now();
        for entry in entries {
            self.evidence.push(Entry { epoch, ..entry });
        }
    }

    /// The machine has stood in the states of this test: what blew there stays blown.
    pub(super) fn stood(&mut self, test: &Test) {
        // With the battery off nothing blows.
        if matches!(test.instrument, Instrument::Ohms | Instrument::Beep) {
            return;
        }
        let specs = states_of(self.machine.sim.schematic(), &self.machine.netlist, test).unwrap_or_default();
        for spec in specs {
            let state = self.machine.state(&spec);
            self.runs.memory.push(Happened::Stood(state));
        }
    }

    pub(in crate::session) fn move_to(&mut self, test: &Test) {
        self.stand.move_to(&self.machine.netlist, test);
    }

    fn skip(&mut self) -> Result<Vec<Event>, String> {
        match self.pending.clone() {
            Pending::Ask(_, test) => {
                self.skipped.push(*test);
                Ok(self.go_on())
            }
            Pending::Question(..) => {
                self.unnamed = true;
                Ok(self.go_on())
            }
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
        let (label, meant) = symptoms.get(at).cloned().unwrap_or_default();
        if let Some(events) = self.answered_otherwise(&label) {
            return Ok(events);
        }
        if meant.is_empty()
            && self.machine.netlist.parts.values().any(|part| part.name == label || part.kind == label)
            && let Some((question, options)) = ask_back(&self.machine, &self.words, &label)
        {
            return Ok(vec![self.question(question, options)]);
        }
        // It did stand so that a sound machine shows just that: there is nothing to look for.
        let sound = label != DONT_KNOW && meant.len() == 1 && sound::wanted(self, &meant[0]).is_some();
        for symptom in meant {
            self.add_symptom(&symptom)?;
        }
        let nothing = self.suspects.list.iter().find(|suspect| suspect.what == What::NothingBroken);
        if let Some(class) = nothing.map(|suspect| suspect.class.clone()).filter(|_| sound) {
            self.sound = true;
            self.chances = self.weigh();
            return Ok(vec![self.suspects_event(), self.verdict(VerdictReason::NothingVisible, Some(class))]);
        }
        // "Don't know": then tests are asked all the same.
        self.unnamed = true;
        Ok(self.go_on())
    }
}
