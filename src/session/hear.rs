//! Free words into symptoms, settings and choices, with the language of [`super::words`].

use super::event::SymptomInput;
use super::words::{Cure, Symptom, SymptomTable, understand};
use crate::circuit::lower::ENGINE;
use crate::circuit::schematic::Law;
use crate::circuit::test::Settings;
use crate::diagnosis::entry::{Complaint, NEEDLE_WORDS};
use crate::diagnosis::machine::Machine;

/// An answer to a question about words, and what it would mean.
pub type Meaning = (String, Vec<SymptomInput>);

/// What was heard.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heard {
    /// Clear symptoms.
    pub symptoms: Vec<SymptomInput>,
    /// A question, with what each answer would mean.
    pub question: Option<(String, Vec<Meaning>)>,
    /// Phrases that meant nothing.
    pub lost: Vec<String>,
}

/// What a text says of this machine.
pub fn hear(machine: &Machine, table: &SymptomTable, text: &str) -> Heard {
    let controls = &machine.sim.schematic().controls;
    let understood = understand(text, &machine.netlist, &machine.catalogue, controls, table);
    let plain = |symptoms: &[Symptom]| {
        symptoms.iter().filter(|s| !s.works).map(|s| turning(machine, input(s))).collect::<Vec<_>>()
    };
    let question = understood.questions.first().map(|q| {
        let options = q.options.iter().map(|o| (o.label.clone(), plain(&o.symptoms))).collect();
        (q.text.clone(), options)
    });
    Heard { symptoms: plain(&understood.symptoms), question, lost: understood.lost }
}

/// A needle that counts the engine's pulses lies at zero with the engine stopped: who saw it move, and does not
/// say otherwise, had the engine running.
fn turning(machine: &Machine, mut symptom: SymptomInput) -> SymptomInput {
    let schematic = machine.sim.schematic();
    let counts = schematic
        .by_part
        .get(&symptom.part)
        .is_some_and(|own| own.iter().any(|&e| matches!(schematic.elements[e].law, Law::PulseInput { .. })));
    let moves = symptom.change.is_some() && symptom.showings.iter().any(|w| NEEDLE_WORDS.contains(&w.as_str()));
    if counts && moves && !symptom.set.iter().any(|(control, _)| control == ENGINE) {
        symptom.set.push((ENGINE.into(), "idling".into()));
    }
    symptom
}

/// A symptom as the session takes it: what was said and what must be so for it to make sense.
fn input(symptom: &Symptom) -> SymptomInput {
    let mut set = symptom.implied.clone();
    for (control, setting) in &symptom.set {
        set.retain(|(c, _)| c != control);
        set.push((control.clone(), setting.clone()));
    }
    let cured_by = match &symptom.cured_by {
        Some(Cure::Set(set)) => set.clone(),
        _ => Settings::new(),
    };
    SymptomInput {
        part: symptom.part.clone(),
        showings: symptom.showings.clone(),
        set,
        change: symptom.change.clone(),
        cured_by,
    }
}

impl SymptomInput {
    /// The same for the diagnosis.
    pub fn complaint(&self) -> Complaint {
        Complaint {
            part: self.part.clone(),
            showings: self.showings.clone(),
            set: self.set.clone(),
            change: self.change.clone(),
            cured_by: self.cured_by.clone(),
        }
    }

    /// Settings that the machine stood in: before the control moved, if one did, and when it showed.
    pub fn states(&self) -> Vec<Settings> {
        let Some((control, ends)) = &self.change else { return vec![self.set.clone()] };
        let rest = self.set.iter().filter(|(c, _)| c != control);
        let with = |end: &String| rest.clone().cloned().chain([(control.clone(), end.clone())]).collect();
        ends.iter().map(with).collect()
    }
}
