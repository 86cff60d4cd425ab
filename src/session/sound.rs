//! Not a fault at all: what a sound machine does just so, and what would have to be set for it to work.

use super::ask::{say_setting, settings_say};
use super::chase::Chase;
use super::event::SymptomInput;
use crate::circuit::injury::Injury;
use crate::circuit::state::against_the_engine;
use crate::circuit::test::Settings;
use crate::diagnosis::predict;

/// A sound machine shows it so surely, or it is no matter of settings.
const SURE: f64 = 0.8;
/// The key setting that cranks: nobody is told to crank to see whether a lamp lights.
const CRANKS: &str = "start";

/// What would make it work on a sound machine.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// What it shows as it was said to stand: `still`.
    pub shows: String,
    /// What it shows when it works: `turns`.
    pub works: String,
    /// The control and its setting.
    pub step: (String, String),
}

/// Where a sound machine shows just what is complained of, and one control more would make it work.
pub fn wanted(chase: &mut Chase, symptom: &SymptomInput) -> Option<Wanted> {
    if symptom.change.is_some() || !symptom.cured_by.is_empty() {
        return None;
    }
    let part = chase.machine.netlist.parts.get(&symptom.part)?;
    let kind = chase.machine.catalogue.kind(&part.kind)?;
    let works: Vec<String> = kind.showings.iter().filter_map(|showing| showing.works.clone()).collect();
    let shows = shown(chase, &symptom.part, &symptom.set)?;
    if !symptom.showings.contains(&shows) || works.contains(&shows) {
        return None;
    }
    let controls = chase.machine.sim.schematic().controls.clone();
    let mut found: Option<Wanted> = None;
    for (control, info) in &controls {
        let now = symptom.set.iter().rev().find(|(name, _)| name == control).map(|(_, setting)| setting.clone());
        let now = now.or_else(|| info.settings.first().cloned());
        for setting in info.settings.iter().filter(|setting| Some(*setting) != now.as_ref() && *setting != CRANKS) {
            let mut set: Settings = symptom.set.iter().filter(|(name, _)| name != control).cloned().collect();
            set.push((control.clone(), setting.clone()));
            if against_the_engine(&controls, &set) {
                continue;
            }
            if let Some(word) = shown(chase, &symptom.part, &set).filter(|word| works.contains(word)) {
                // Several ways to make it work: then it is no one control that was forgotten.
                if found.as_ref().is_some_and(|found| found.step.0 != *control) {
                    return None;
                }
                let step = (control.clone(), setting.clone());
                found = found.or(Some(Wanted { shows: shows.clone(), works: word, step }));
            }
        }
    }
    found
}

/// What a part surely shows on the sound machine.
fn shown(chase: &mut Chase, part: &str, set: &Settings) -> Option<String> {
    let state = chase.state(set)?;
    let healthy = chase.runs.healthy(&chase.machine, state);
    let words = predict::words(&chase.machine, state, &Injury::default(), &healthy, part);
    words.into_iter().find(|(_, p)| *p >= SURE).map(|(word, _)| word)
}

/// What can be answered, and what each answer says.
pub type Answers = Vec<(String, Vec<SymptomInput>)>;

/// The question that comes before any test: how did it stand?
pub fn question(chase: &mut Chase, symptom: &SymptomInput) -> Option<(String, Answers)> {
    let Wanted { shows, works, step: (control, setting) } = wanted(chase, symptom)?;
    let controls = &chase.machine.sim.schematic().controls;
    let now = symptom.set.iter().rev().find(|(name, _)| *name == control).map(|(_, setting)| setting.clone());
    let now = now.or_else(|| controls.get(&control)?.settings.first().cloned())?;
    let text = format!(
        "a sound {part}: {shows} with {control} {now}, {works} with {control} {setting}. How did it stand?",
        part = symptom.part,
    );
    let mut other = symptom.clone();
    other.set.retain(|(name, _)| *name != control);
    other.set.push((control.clone(), setting.clone()));
    let as_said = vec![symptom.clone()];
    Some((
        text,
        vec![
            (format!("{control} {setting}"), vec![other]),
            (format!("{control} {now}"), as_said.clone()),
            ("don't know".into(), as_said),
        ],
    ))
}

/// Why nothing is broken: a sound machine does that, and what makes it work.
pub fn why(chase: &mut Chase) -> Vec<String> {
    let Some(symptom) = chase.symptoms.first().cloned() else { return Vec::new() };
    let part = &symptom.part;
    let Some(shows) = shown(chase, part, &symptom.set).filter(|shows| symptom.showings.contains(shows)) else {
        return Vec::new();
    };
    let controls = chase.machine.sim.schematic().controls.clone();
    let mut out = vec![format!("a sound {part}: {shows}, with this set: {}", settings_say(&controls, &symptom.set))];
    if let Some(Wanted { works, step: (control, setting), .. }) = wanted(chase, &symptom) {
        out.push(format!("{works} once you {}", say_setting(&controls, &control, &setting)));
    }
    out
}
