//! The questions in their order: safety, what is meant, what shows, when; then about the wiring, the dearest first.

use super::parts::{MAIN_FUSE, is_fuse};
use super::{DONT_KNOW, MOST, NOT_YET, SAFE, Start, Walk, dangers};
use crate::circuit::test::Settings;
use crate::session::event::SymptomInput;
use crate::session::hear::{Meaning, hear};
use crate::session::words::{self, says};
use crate::sketch::{Ask, How, Plan};

/// Choices on a screen of ten lines, the question and "don't know" beside them.
const CHOICES: usize = 8;
/// A question that is worth less is not asked.
const LEAST: f64 = 2.4;
/// What a question about a circuit named beside the first is worth.
const BESIDE: f64 = 0.85;
/// What a question is worth that circuits share, where none is said to move another.
const APART: f64 = 0.5;
/// More circuits than this are no circuits any more but the whole machine.
const MANY: usize = 4;

/// A question about the wiring or the past, ready to be put.
struct Ready {
    worth: f64,
    key: String,
    text: String,
    /// The answer's key, and what is said.
    choices: Vec<(String, String)>,
}

impl Start {
    /// Make safe first.
    pub(super) fn safe(&self, walk: &mut Walk) -> Option<()> {
        for (name, danger) in dangers(&self.book, &self.complaint) {
            let text = format!("{} {}", danger.first, self.book.safe.ask);
            let choices = self.book.safe.say.values().cloned().chain([NOT_YET.to_string()]).collect();
            self.put(walk, &format!("{SAFE}{name}"), &text, choices)?;
        }
        Some(())
    }

    /// What the complaint says; of several things that it can mean, which.
    pub(super) fn heard(&self, walk: &mut Walk) -> Option<()> {
        if !self.given.is_empty() {
            walk.symptoms.clone_from(&self.given);
            walk.changed = true;
            return Some(());
        }
        let heard = hear(&self.all, &self.table, &self.complaint);
        (walk.felt, walk.symptoms) = heard.symptoms.into_iter().partition(SymptomInput::is_felt);
        let (text, mut options) = heard.question.unwrap_or_default();
        if options.iter().flat_map(|(_, symptoms)| symptoms).any(SymptomInput::is_felt) {
            // Where it is on the machine can be said once there is one.
            walk.felt.extend(options.drain(..).flat_map(|(_, symptoms)| symptoms));
        }
        let fuse = |symptom: &SymptomInput| is_fuse(&self.all, &symptom.part);
        let mut meant = walk.symptoms.iter().chain(options.iter().flat_map(|(_, symptoms)| symptoms)).peekable();
        if meant.peek().is_some() && meant.all(fuse) {
            let blown =
                SymptomInput { part: MAIN_FUSE.into(), showings: vec!["blown".into()], ..SymptomInput::default() };
            let said =
                walk.symptoms.first().filter(|symptom| self.circuits_of(std::slice::from_ref(symptom)).len() == 1);
            walk.symptoms = vec![SymptomInput { set: said.map(|s| s.set.clone()).unwrap_or_default(), ..blown }];
            walk.fuse = Some(None);
            walk.changed = true;
            return Some(());
        }
        let many = walk.symptoms.len();
        walk.symptoms = self.looked_at(std::mem::take(&mut walk.symptoms));
        walk.changed |= walk.symptoms.len() < many;
        if options.is_empty() {
            return Some(());
        }
        let options = self.grouped(self.narrowed(options));
        if let [(_, only)] = options.as_slice() {
            walk.symptoms.extend(only.clone());
            walk.changed = true;
            return Some(());
        }
        let labels = options.iter().map(|(label, _)| label.clone()).collect();
        let answer = self.put(walk, "which", &text, labels)?;
        let chosen = options.iter().find(|(label, _)| *label == answer);
        // Nobody knows: the likeliest is as good as any.
        let chosen = chosen.or_else(|| options.first().filter(|_| walk.symptoms.is_empty()));
        walk.symptoms.extend(chosen.map(|(_, symptoms)| symptoms.clone()).unwrap_or_default());
        walk.changed = true;
        Some(())
    }

    /// Words that name a circuit and no part of it ("bilgepump", "spotlight") say which of several parts is meant.
    fn narrowed(&self, options: Vec<Meaning>) -> Vec<Meaning> {
        let also = |circuit: &String| {
            self.book.sketches.get(circuit).is_some_and(|sketch| says(&self.complaint, &sketch.also))
        };
        let of = |symptom: &SymptomInput| {
            let mut owners = Vec::new();
            self.owners_of(std::iter::once(&symptom.part), &mut owners);
            owners
        };
        let meant = |(_, symptoms): &&Meaning| symptoms.iter().flat_map(of).all(|circuit| also(&circuit));
        let narrow: Vec<Meaning> = options.iter().filter(meant).cloned().collect();
        if narrow.is_empty() { options } else { narrow }
    }

    /// Choices few enough for a screen: with many, one a circuit.
    fn grouped(&self, options: Vec<Meaning>) -> Vec<Meaning> {
        let mut options: Vec<Meaning> = options.into_iter().filter(|(_, symptoms)| !symptoms.is_empty()).collect();
        if options.len() > CHOICES {
            let mut by_circuit: Vec<Meaning> = Vec::new();
            for (_, symptoms) in options {
                let circuits = self.circuits_of(&symptoms[..1]);
                let Some(circuit) = circuits.first() else { continue };
                let label = self.is(circuit).to_string();
                if !by_circuit.iter().any(|(known, _)| *known == label) {
                    by_circuit.push((label, symptoms));
                }
            }
            let usual = self.usual();
            let first = |meaning: &Meaning| !self.circuits_of(&meaning.1).iter().any(|circuit| usual.contains(circuit));
            by_circuit.sort_by_key(first);
            options = by_circuit;
        }
        options.truncate(CHOICES);
        options
    }

    /// The circuits that it is about.
    pub(super) fn circuits(&self, walk: &mut Walk) -> Option<()> {
        if walk.fuse.is_some() {
            return self.fused(walk);
        }
        walk.circuits = self.circuits_of(&walk.symptoms);
        if walk.symptoms.is_empty() {
            // Of several things that may be hot only one is meant.
            let felt = self.circuits_of(&walk.felt);
            walk.circuits = if felt.len() == 1 { felt } else { Vec::new() };
        }
        if walk.symptoms.is_empty() {
            for circuits in self.mentions(&self.complaint) {
                if circuits.iter().any(|circuit| walk.circuits.contains(circuit)) {
                    continue;
                }
                if circuits.len() > 1 {
                    if walk.circuits.is_empty() {
                        self.which(walk, &circuits)?;
                    }
                    continue;
                }
                walk.circuits.extend(circuits);
            }
        }
        if walk.circuits.is_empty() && walk.symptoms.is_empty() {
            let labels = self.book.circuit.say.values().cloned().collect();
            let answer = self.put(walk, "circuit", &self.book.circuit.ask, labels)?;
            let chosen = self.book.circuit.say.iter().find(|(_, say)| **say == answer).map(|(names, _)| names);
            let circuits: Vec<String> =
                chosen.into_iter().flat_map(|names| names.split(' ')).map(String::from).collect();
            match circuits.as_slice() {
                [] | [_] => walk.circuits.extend(circuits),
                _ => self.which(walk, &circuits)?,
            }
        }
        if walk.circuits.is_empty() || walk.circuits.len() > MANY {
            walk.circuits = self.usual();
        }
        Some(())
    }

    /// Which of these circuits it is; the first if nobody knows.
    fn which(&self, walk: &mut Walk, circuits: &[String]) -> Option<()> {
        let labels: Vec<String> = circuits.iter().take(CHOICES).map(|circuit| self.is(circuit).to_string()).collect();
        let answer = self.put(walk, "which", &self.book.which.ask, labels)?;
        let chosen = circuits.iter().find(|circuit| self.is(circuit) == answer).or(circuits.first());
        walk.circuits.extend(chosen.cloned());
        Some(())
    }

    /// A fuse blows: what hangs on it.
    fn fused(&self, walk: &mut Walk) -> Option<()> {
        let fuses = self.table.parts.values().filter(|words| words.fuse).flat_map(|words| &words.say);
        let fuses: Vec<String> = fuses.cloned().collect();
        let rest = words::without(&self.complaint, &fuses);
        let named = self.mentions(&rest).into_iter().find(|circuits| circuits.len() == 1);
        let circuit = match named {
            Some(circuits) => circuits.into_iter().next(),
            None => {
                let mut circuits = self.usual();
                let alone = |name: &&String| !circuits.contains(name) && !name.contains(' ');
                let common: Vec<String> = self.book.circuit.say.keys().filter(alone).cloned().collect();
                circuits.extend(common);
                circuits.truncate(CHOICES - 1);
                let main = self.book.fuse.say.values().cloned();
                let labels = main.chain(circuits.iter().map(|circuit| self.is(circuit).to_string())).collect();
                let answer = self.put(walk, "fuse", &self.book.fuse.ask, labels)?;
                circuits.into_iter().find(|circuit| self.is(circuit) == answer)
            }
        };
        walk.circuits = circuit.clone().map_or_else(|| self.usual(), |circuit| vec![circuit]);
        walk.fuse = Some(circuit);
        Some(())
    }

    /// What it does, where the complaint only names it.
    pub(super) fn shows(&self, walk: &mut Walk) -> Option<()> {
        if !walk.symptoms.is_empty() || !walk.felt.is_empty() {
            return Some(());
        }
        walk.changed = true;
        let Some(sketch) = walk.circuits.first().and_then(|circuit| self.book.sketches.get(circuit)) else {
            return Some(());
        };
        let Some(part) = sketch.looks.first() else { return Some(()) };
        let meanings: Vec<(String, Vec<SymptomInput>)> = (self.book.what.say.keys())
            .map(|phrase| {
                let heard = hear(&self.all, &self.table, &format!("{part} {phrase}"));
                let asked = heard.question.and_then(|(_, options)| options.into_iter().next_back()).map(|(_, s)| s);
                (phrase.clone(), if heard.symptoms.is_empty() { asked.unwrap_or_default() } else { heard.symptoms })
            })
            .filter(|(_, symptoms)| symptoms.iter().any(|symptom| symptom.part == *part))
            .take(CHOICES)
            .collect();
        let text = self.book.what.ask.replace("<part>", &sketch.is);
        let answer = self.put(walk, "what", &text, meanings.iter().map(|(phrase, _)| phrase.clone()).collect())?;
        walk.symptoms = meanings.into_iter().find(|(phrase, _)| *phrase == answer).map(|(_, s)| s).unwrap_or_default();
        Some(())
    }

    /// In which settings it shows, where that is not said and matters.
    pub(super) fn when(&self, walk: &mut Walk) -> Option<()> {
        for symptom in &mut walk.symptoms {
            let usual = walk.circuits.iter().filter_map(|circuit| self.book.sketches.get(circuit));
            for (control, setting) in usual.flat_map(|sketch| &sketch.shows_at) {
                let moved = symptom.change.as_ref().is_some_and(|(moved, _)| moved == control);
                if !moved && !symptom.set.iter().any(|(said, _)| said == control) {
                    symptom.set.push((control.clone(), setting.clone()));
                    walk.changed = true;
                }
            }
        }
        let blown = |symptom: &SymptomInput| symptom.showings.iter().any(|word| word == "blown");
        let said = |symptom: &SymptomInput| symptom.set.iter().any(|(control, _)| self.owners.contains_key(control));
        let Some(at) = walk.symptoms.iter().position(|symptom| blown(symptom) && !said(symptom)) else {
            return Some(());
        };
        let controls = &self.all.sim.schematic().controls;
        let own = |control: &str| self.owners.get(control).is_some_and(|o| o.iter().any(|c| walk.circuits.contains(c)));
        let key = |setting: &str| controls.get("key").map(|_| ("key".to_string(), setting.to_string()));
        let words = |key: &str| self.book.when.say.get(key).cloned().unwrap_or_default();
        let mut states =
            vec![(words("rest"), Vec::new()), (words("key"), key("on").into_iter().collect::<Vec<(String, String)>>())];
        if walk.circuits.iter().any(|circuit| circuit == "starter") {
            states.push((words("start"), key("start").into_iter().collect()));
        }
        for (control, info) in controls.iter().filter(|(control, _)| own(control)) {
            let on = info.settings.iter().rev().find(|setting| info.settings.first() != Some(setting));
            let part = self.all.netlist.parts.get(control).and_then(|part| self.all.catalogue.kind(&part.kind));
            let say = |on: &String| {
                part.and_then(|kind| kind.control.as_ref()?.say.get(on)).map(|say| say.replace("{}", control))
            };
            if let Some((on, say)) = on.and_then(|on| Some((on, say(on)?))) {
                let set = key("on").into_iter().chain([(control.clone(), on.clone())]).collect();
                states.push((format!("with: {say}"), set));
            }
        }
        states.truncate(CHOICES);
        let answer =
            self.put(walk, "when", &self.book.when.ask, states.iter().map(|(label, _)| label.clone()).collect())?;
        walk.changed = true;
        // Nobody knows: sooner or later everything was on.
        let every = || {
            let mut set: Settings = Vec::new();
            for (control, setting) in states.iter().flat_map(|(_, set)| set) {
                let known = set.iter().any(|(known, _)| known == control);
                if !known && setting != "start" {
                    set.push((control.clone(), setting.clone()));
                }
            }
            set
        };
        let said = states.iter().find(|(label, _)| *label == answer).map(|(_, set)| set.clone());
        walk.symptoms[at].set = said.unwrap_or_else(every);
        Some(())
    }

    /// Answers that the complaint's own words give.
    pub(super) fn said_already(&self, walk: &mut Walk) {
        for (key, (_, name, ask)) in walk.plan.asks(&self.book) {
            // One fuse for everything: nothing has one of its own.
            if walk.fuse == Some(None) && name == "feed" && ask.choices.contains_key("key-bare") {
                walk.plan = walk.plan.with(&key, "key-bare", How::Assumed);
            }
            let said = ask.choices.iter().find(|(_, choice)| says(&self.complaint, &choice.words));
            if let Some((choice, _)) = said {
                Start::settle(&mut walk.plan, &key, choice);
            }
        }
    }

    /// The rest, the dearest first, until six have been asked.
    pub(super) fn rest(&self, walk: &mut Walk) -> Option<()> {
        let mut ready = Vec::new();
        for (key, (circuit, name, ask)) in walk.plan.asks(&self.book) {
            let senseless = ask.several && !walk.plan.several(&self.book, name);
            let known = walk.plan.answers.get(&key).is_some_and(|answer| answer.how == How::Said);
            if !known && !senseless {
                ready.push(self.about_wiring(walk, &key, circuit, ask));
            }
        }
        ready.extend(self.about_the_past(walk));
        ready.extend(self.exactly(walk));
        ready.retain(|question| question.worth >= LEAST);
        ready.sort_by(|a, b| b.worth.total_cmp(&a.worth));
        for question in ready {
            if walk.asked >= MOST {
                break;
            }
            let asks = walk.plan.asks(&self.book);
            let matters = |(circuit, _, ask): &(&str, &str, &Ask)| walk.plan.matters(&self.book, circuit, ask);
            if !asks.get(&question.key).is_none_or(matters) {
                continue;
            }
            let labels = question.choices.iter().map(|(_, say)| say.clone()).collect();
            let answer = self.put(walk, &question.key, &question.text, labels)?;
            if answer == DONT_KNOW {
                continue;
            }
            let Some((choice, _)) = question.choices.iter().find(|(_, say)| *say == answer) else { continue };
            match question.key.as_str() {
                "changed" => {
                    walk.plan.recent = self.book.changed.recent.get(choice).cloned().unwrap_or_default();
                }
                "how" => self.narrow(walk, choice),
                key => Start::settle(&mut walk.plan, key, choice),
            }
        }
        Some(())
    }

    fn about_wiring(&self, walk: &Walk, key: &str, circuit: &str, ask: &Ask) -> Ready {
        let beside = walk.circuits.first().is_some_and(|first| first != circuit) && !ask.several;
        let all: Vec<&str> = walk.circuits.iter().map(|circuit| self.is(circuit)).collect();
        let all = match all.as_slice() {
            [first, second] => format!("{first} and {second}"),
            many => many.join(", "),
        };
        let text = ask.text.replace("<is>", self.is(circuit)).replace("<all>", &all);
        let choices = ask.choices.iter().map(|(key, choice)| (key.clone(), choice.say.clone())).collect();
        // What several share matters most where one moves another, and to a blown fuse not at all.
        let coupled = walk.symptoms.iter().any(|symptom| symptom.change.is_some() || !symptom.cured_by.is_empty());
        let share = match () {
            () if ask.several && walk.fuse.is_some() => 0.0,
            () if ask.several && !coupled => APART,
            () if beside => BESIDE,
            () => 1.0,
        };
        Ready { worth: ask.worth * share, key: key.to_string(), text, choices }
    }

    /// Whether it worked before, and what was done last; what the complaint says of it is taken from there.
    fn about_the_past(&self, walk: &mut Walk) -> Option<Ready> {
        let changed = &self.book.changed;
        if let Some((key, _)) = changed.words.iter().find(|(_, words)| says(&self.complaint, words)) {
            walk.plan.recent = changed.recent.get(key).cloned().unwrap_or_default();
            return None;
        }
        let choices = changed.say.iter().map(|(key, say)| (key.clone(), say.clone())).collect();
        Some(Ready { worth: changed.worth, key: "changed".into(), text: changed.ask.clone(), choices })
    }

    /// How exactly it shows, where the words fit several things.
    fn exactly(&self, walk: &Walk) -> Option<Ready> {
        let symptom = walk.symptoms.iter().find(|symptom| symptom.showings.len() > 1)?;
        let how = &self.book.how;
        let moves = symptom.change.is_some() && symptom.showings.iter().any(|word| word.starts_with("moves"));
        let end = moves.then(|| "pegged".to_string());
        let words = symptom.showings.iter().cloned().chain(end);
        let choices: Vec<(String, String)> =
            words.filter_map(|word| Some((word.clone(), how.say.get(&word)?.clone()))).collect();
        let owner = self.circuits_of(std::slice::from_ref(symptom));
        let called = owner.first().map_or(symptom.part.as_str(), |circuit| self.is(circuit));
        let text = how.ask.replace("<part>", called);
        (choices.len() > 1).then(|| Ready { worth: how.worth, key: "how".into(), text, choices })
    }

    fn narrow(&self, walk: &mut Walk, word: &str) {
        if let Some(symptom) = walk.symptoms.iter_mut().find(|symptom| symptom.showings.len() > 1) {
            symptom.showings = vec![word.to_string()];
            walk.changed = true;
        }
    }

    /// A question's answer in force, for people: what the plan says of the machine.
    pub fn recap(&self, plan: &Plan) -> Vec<String> {
        let asks = plan.asks(&self.book).into_iter();
        let lines = asks.filter(|(_, (_, name, ask))| !ask.several || plan.several(&self.book, name));
        lines
            .map(|(_, (circuit, name, ask))| {
                let answer = plan.answer(&self.book, circuit, name, ask);
                let say = ask.choices.get(&answer.choice).map_or("", |choice| choice.say.as_str());
                format!("{}: {say} ({})", self.is(circuit), answer.how.words())
            })
            .collect()
    }
}
