//! What comes next: a question, a repair, or the end with its reason.

use super::{Chase, Pending};
use crate::choice::candidates::watch;
use crate::choice::choose::{Board, Choice, choose, worth};
use crate::choice::minutes::minutes;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::diagnosis::evidence::Entry;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::posterior::Predicted;
use crate::diagnosis::suspect::What;
use crate::diagnosis::visible::most_hangs_on;
use crate::session::event::{Event, Screen, Verdict, VerdictReason};
use crate::session::{aftermath, ask, name, report, swing};

/// A repair is proposed when its class is at least this likely…
const SURE: f64 = 0.9;
/// …or when no test is worth more than this share of what is undecided, and the class at least…
const WORTHLESS: f64 = 0.004;
/// The same while a second fault is looked for: it may be anywhere, and each look clears little.
const WORTHLESS_WIDE: f64 = 0.001;
/// …this likely.
const WORTH_TRYING: f64 = 0.12;
/// A class that stands out: this likely, so many times the next, while no test tells more than this share.
const STANDS_OUT: f64 = 0.3;
const LONE: f64 = 5.0;
const TELLING: f64 = 0.15;
/// What is seen with less than this chance on the sound machine is seen otherwise than there.
const ODD: f64 = 0.1;
/// Why something is read or moved once more, and what may be said when something was put right and it is not cured.
const AGAIN: &str =
    "what you read here fits nothing known: lift the leads, look at range and settings, and read it anew";
const LOOK_AGAIN: &str = "what you see here fits nothing known: set it once more as said, and look anew";
const SECOND_TIME: &str = "a loose joint does not change every time it is moved";
const OTHERWISE: &str = "if something else is wrong now: saw …, as in saw the tail lamp is dim";
/// A cheap repair is the next test if its class is so many times as likely as any other that can be repaired.
const TWICE: f64 = 2.0;

impl Chase {
    /// Weighs everything anew and says what comes next.
    pub(super) fn go_on(&mut self) -> Vec<Event> {
        self.chances = self.weigh();
        if self.cornered() {
            self.chances = self.weigh();
        }
        let mut out = vec![self.suspects_event()];
        if self.evidence.entries.is_empty() && !self.unnamed {
            self.pending = Pending::Symptom;
            return out;
        }
        out.push(self.next());
        out
    }

    /// All that the choice of the next test looks at.
    pub(super) fn board<'a>(&'a mut self, complaints: &'a [Settings]) -> Board<'a> {
        Board {
            machine: &mut self.machine,
            suspects: &self.suspects,
            runs: &mut self.runs,
            p: &self.chances.points,
            presence: self.evidence.presences(),
            complaints,
            stand: &self.stand,
            done: &self.done,
            skipped: &self.skipped,
            burns: &self.burns,
        }
    }

    /// Settings of the complaints, the active ones first.
    pub(super) fn complaints(&self) -> Vec<Settings> {
        let mut out: Vec<Settings> = Vec::new();
        for symptom in &self.symptoms {
            out.extend(symptom.states().into_iter().rev());
        }
        if out.is_empty() {
            out.extend(self.evidence.entries.iter().map(|e| e.test.set.clone()).next_back());
        }
        if out.is_empty() {
            // Nobody could say what is wrong: at rest, and one control away from it.
            out.push(Settings::new());
        }
        // A second fault need not show where the first did: what most hangs on, the key as a rule, is switched on.
        if self.runs.several() {
            let controls = &self.machine.sim.schematic().controls;
            let most = most_hangs_on(&self.machine).into_iter().find_map(|id| controls.get_index(id));
            let key = most.filter(|(_, info)| info.settings.iter().any(|setting| setting == "on"));
            let on: Settings = key.map(|(control, _)| (control.clone(), "on".to_string())).into_iter().collect();
            out.retain(|set| *set != on);
            out.insert(0, on);
            for set in self.seen_since() {
                out.retain(|other| *other != set);
                out.insert(0, set);
            }
        }
        out
    }

    /// Settings in which something was seen otherwise than on the sound machine since a repair did not cure: nobody had
    /// complained of that yet.
    fn seen_since(&self) -> Vec<Settings> {
        let whole = self.suspects.list.iter().position(|suspect| suspect.what == What::NothingBroken);
        let Some(whole) = whole.map(|suspect| self.runs.range[suspect].0) else { return Vec::new() };
        let odd = |(index, entry): (usize, &Entry)| {
            let seen = entry.epoch >= self.mended && !entry.complaint && entry.test.instrument == Instrument::Watch;
            let sound = self.evidence.predicted(index, whole);
            (seen && matches!(sound, Some(Predicted::Mass(mass)) if *mass < ODD)).then(|| entry.test.set.clone())
        };
        self.evidence.entries.iter().enumerate().filter_map(odd).collect()
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
        if let Some(question) = self.ever_otherwise() {
            return question;
        }
        // What a repair has not cured is looked at first, however sure the next one is: as before, or otherwise?
        if let Some(choice) = self.there_still() {
            return self.ask_with(choice, |screen| screen.instead = Some(OTHERWISE.into()));
        }
        if p >= SURE {
            return match self.read_again(&class) {
                Some(choice) if choice.test.instrument.is_sense() => {
                    self.ask_with(choice, |screen| screen.again = Some(LOOK_AGAIN.into()))
                }
                Some(choice) => self.ask_with(choice, |screen| screen.again = Some(AGAIN.into())),
                None => self.conclude(class),
            };
        }
        let complaints = self.complaints();
        // So is what comes and goes: is it there at all?
        if let Some(choice) = self.there_now() {
            return self.ask(choice);
        }
        if let Some(choice) = self.by_hand_first() {
            return self.ask(choice);
        }
        let best = choose(&mut self.board(&complaints), 1);
        let best = best.into_iter().next().into_iter().chain(self.stirring()).chain(self.feeling());
        let best = best.max_by(|a, b| worth(a).total_cmp(&worth(b))).filter(|c| c.gain > self.worthless());
        // One stands out and no test tells much: the repair is the test.
        let special = self.special(&class);
        let telling = best.as_ref().is_some_and(|c| c.gain >= TELLING);
        if !special && !telling && p >= STANDS_OUT && p >= LONE * second {
            return self.conclude(class);
        }
        // The chance of being done with it, a minute, beside what the best test settles a minute.
        let rest = open.iter().skip(1).find(|(class, _)| !self.special(class)).map_or(0.0, |(_, p)| p / all);
        let settles = best.as_ref().map_or(0.0, |c| c.gain / c.minutes);
        let worth = p / report::repair_minutes(self, &class);
        if !special && !telling && p >= WORTH_TRYING && p >= TWICE * rest && worth >= settles {
            return self.conclude(class);
        }
        match best {
            Some(choice) if choice.test.disturb.is_some() && self.done.contains(&choice.test) => {
                self.ask_with(choice, |screen| screen.again = Some(SECOND_TIME.into()))
            }
            Some(choice) => self.ask(choice),
            None if p >= WORTH_TRYING => self.conclude(class),
            None => self.verdict(VerdictReason::NothingAllowed, None),
        }
    }

    /// A look at what was said to come and go, before anything is measured.
    fn there_now(&mut self) -> Option<Choice> {
        let symptom = self.symptoms.last().filter(|symptom| symptom.change.is_none() && !symptom.is_felt())?;
        let fresh = self.done.is_empty() && self.skipped.is_empty();
        if !(fresh && self.evidence.comes_and_goes) {
            return None;
        }
        Some(self.look(watch(&symptom.part, &symptom.set)))
    }

    /// A look at what was complained of, after something likely was put right and did not cure: as before, or otherwise?
    fn there_still(&mut self) -> Option<Choice> {
        if !std::mem::take(&mut self.look_again) {
            return None;
        }
        // (Nobody waits for smoke.)
        let symptom = self.symptoms.last().filter(|symptom| !symptom.is_felt())?;
        let mut test = watch(&symptom.part, &symptom.set);
        test.change.clone_from(&symptom.change);
        let skipped = self.skipped.contains(&test);
        (!skipped && !self.burns_again(&self.burns, &test)).then(|| self.look(test))
    }

    /// What was read last, if with it nothing on the list fits any more: before anybody is sent to look for what the file
    /// does not have, it is read once more.
    fn read_again(&mut self, class: &str) -> Option<Choice> {
        let outside = self.suspects.list.iter().any(|s| s.class == class && s.what == What::NotInFile);
        let read = self.evidence.entries.last().is_some_and(|entry| !entry.complaint);
        let last = self.done.last().filter(|last| outside && read && last.disturb.is_none())?;
        let once = self.done.iter().filter(|test| *test == last).count() == 1 && !self.skipped.contains(last);
        once.then(|| self.look(last.clone()))
    }

    /// A look that is asked for whatever it tells.
    pub(super) fn look(&self, test: Test) -> Choice {
        let Machine { netlist, catalogue, .. } = &self.machine;
        let minutes = minutes(netlist, &catalogue.minutes, &self.stand, &test);
        Choice { test, minutes, gain: 0.0 }
    }

    /// A test that settles no more of what is undecided is not asked.
    pub(super) fn worthless(&self) -> f64 {
        if self.runs.several() { WORTHLESS_WIDE } else { WORTHLESS }
    }

    fn special(&self, class: &str) -> bool {
        self.suspects.list.iter().any(|s| s.class == class && s.special())
    }

    /// The next tests in the order to take them, the one that is asked now first; nothing is changed.
    pub(in crate::session) fn next_tests(&mut self, most: usize) -> Vec<Choice> {
        let (done, stand) = (self.done.clone(), self.stand.clone());
        let complaints = self.complaints();
        let asked = self.last_choice.clone().filter(|_| matches!(self.pending, Pending::Ask(..)));
        let mut out: Vec<Choice> = Vec::new();
        while out.len() < most {
            let first = asked.clone().filter(|_| out.is_empty());
            let worthless = self.worthless();
            let chosen = || choose(&mut self.board(&complaints), 1).into_iter().find(|choice| choice.gain > worthless);
            let Some(choice) = first.or_else(chosen) else { break };
            self.move_to(&choice.test);
            self.done.push(choice.test.clone());
            out.push(choice);
        }
        (self.done, self.stand) = (done, stand);
        out
    }

    /// Asks, with something more on the screen.
    fn ask_with(&mut self, choice: Choice, more: impl Fn(&mut Screen)) -> Event {
        let mut event = self.ask(choice);
        if let (Event::Ask { screen, .. }, Pending::Ask(asked, _)) = (&mut event, &mut self.pending) {
            more(screen);
            *asked = event.clone();
        }
        event
    }

    fn ask(&mut self, choice: Choice) -> Event {
        let id = self.id();
        let expect = ask::expected(self, &choice.test);
        let mut screen = ask::screen(&self.machine, &self.stand, &choice.test);
        screen.words = swing::with_flashes(self, &choice.test, &expect, screen.words);
        self.mind_heat(&choice.test, &mut screen);
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

    /// Every fault that the repair would cure, with those that were put right before.
    fn class_faults(&self, class: &str) -> Vec<String> {
        let right = |of: &String| of == class || self.fixed.contains(of);
        self.suspects.list.iter().filter(|s| right(&s.class)).flat_map(|s| s.members.iter().map(name::short)).collect()
    }

    pub(super) fn verdict(&mut self, reason: VerdictReason, class: Option<String>) -> Event {
        let cured = self.cured;
        let left = || self.classes().into_iter().map(|(class, _)| class).find(|class| !self.fixed.contains(class));
        let class = class.or_else(left).unwrap_or_default();
        let faults = report::final_group(self, &class, reason);
        let mut report = report::report(self, &class);
        report.stopgap = self.leader_of(&class).and_then(|leader| aftermath::stopgap(self, leader));
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
}
