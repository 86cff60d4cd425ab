//! Free words into symptoms, settings and choices, with the language of [`super::words`].

use super::event::SymptomInput;
use super::words::{Cure, Symptom, SymptomTable, behind, mentioned, says, understand};
use crate::circuit::heat;
use crate::circuit::lower::ENGINE;
use crate::circuit::schematic::Law;
use crate::circuit::test::Settings;
use crate::diagnosis::entry::{Complaint, NEEDLE_WORDS};
use crate::diagnosis::machine::Machine;
use crate::netlist::Part;

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
    let stirred = stirred(machine, table, text);
    let of = |symptom: &Symptom| SymptomInput {
        comes_and_goes: (symptom.comes_and_goes && !reliably(text)) || symptom.disturbed() || stirred.is_some(),
        stirred: stirred.clone(),
        ..turning(machine, input(symptom))
    };
    // (what works when something is stirred does not by itself)
    let plain =
        |symptoms: &[Symptom]| symptoms.iter().filter(|s| !s.works || stirred.is_some()).map(of).collect::<Vec<_>>();
    let question = understood.questions.first().map(|q| {
        let options = q.options.iter().map(|o| (o.label.clone(), plain(&o.symptoms))).collect();
        (q.text.clone(), options)
    });
    Heard { symptoms: plain(&understood.symptoms), question, lost: understood.lost }
}

/// Is it said to do so without fail? What flickers whenever one brakes hangs on the brake.
fn reliably(said: &str) -> bool {
    let said = format!(" {} ", said.to_lowercase());
    [" whenever ", " every time ", " each time ", " always "].iter().any(|word| said.contains(word))
}

/// What was stirred, and how: "it comes back when I wiggle P9".
fn stirred(machine: &Machine, table: &SymptomTable, text: &str) -> Option<(String, String)> {
    let netlist = &machine.netlist;
    table.disturbs.iter().find_map(|(how, phrases)| {
        let rest = behind(text, phrases)?;
        let names = netlist.plugs.keys().chain(netlist.grounds.keys()).chain(netlist.parts.keys());
        let names = names.chain(netlist.wires.keys()).chain(netlist.places.keys());
        // (of `rivet` and `feed-rivet` the one that says more is meant)
        let said = |name: &&String| says(&rest, std::slice::from_ref(*name));
        let by_name = names.filter(said).min_by_key(|name| std::cmp::Reverse(name.len())).cloned();
        let by_word = || {
            let controls = &machine.sim.schematic().controls;
            let parts = mentioned(&rest, netlist, &machine.catalogue, controls, table);
            parts.into_iter().find_map(|parts| <[String; 1]>::try_from(parts).ok()).map(|[part]| part)
        };
        Some((how.clone(), by_name.or_else(by_word)?))
    })
}

/// Choices of one question at most.
const CHOICES: usize = 12;

/// What is asked back where a text says nothing that can be weighed: what the part that it names does, else which part
/// it is. An answer without symptoms is a part or a kind, to be asked about next.
pub fn ask_back(machine: &Machine, table: &SymptomTable, text: &str) -> Option<(String, Vec<Meaning>)> {
    let controls = &machine.sim.schematic().controls;
    let seen = |name: &&String| {
        let part = machine.netlist.parts.get(*name).filter(|part| part.fitted);
        let kind = part.and_then(|part| machine.catalogue.kind(&part.kind));
        // Fuses and relays are looked at when asked; nobody complains of them by name.
        kind.is_some_and(|kind| !kind.showings.is_empty() && !kind.is_fuse())
    };
    let mut named: Vec<String> = Vec::new();
    for part in mentioned(text, &machine.netlist, &machine.catalogue, controls, table).into_iter().flatten() {
        if seen(&&part) && !named.contains(&part) {
            named.push(part);
        }
    }
    if let [part] = named.as_slice() {
        let options = doings(machine, table, part);
        return (!options.is_empty()).then(|| (format!("what does {part} do?"), options));
    }
    if named.is_empty() {
        // Parts of one kind are one choice, and asked apart when it is taken.
        let all: Vec<&Part> = machine.netlist.parts.values().filter(|part| seen(&&part.name)).collect();
        for part in &all {
            let alone = all.iter().filter(|other| other.kind == part.kind).count() == 1;
            let label = if alone { &part.name } else { &part.kind };
            if !named.contains(label) {
                named.push(label.clone());
            }
        }
    }
    named.truncate(CHOICES);
    let options: Vec<Meaning> = named.into_iter().map(|label| (label, Vec::new())).collect();
    (!options.is_empty()).then(|| ("which of these does it show on?".into(), options))
}

/// What a part can be complained of, in the words of the rules.
fn doings(machine: &Machine, table: &SymptomTable, part: &str) -> Vec<Meaning> {
    let mut out: Vec<Meaning> = Vec::new();
    for phrase in table.showings.values().filter_map(|words| words.say.first()) {
        let said = format!("{part} {phrase}");
        let heard = hear(machine, table, &said);
        let own = heard.symptoms.iter().all(|symptom| symptom.part == part);
        if heard.question.is_none() && heard.lost.is_empty() && !heard.symptoms.is_empty() && own {
            let known = out.iter().any(|(_, symptoms)| *symptoms == heard.symptoms);
            if !known && out.len() < CHOICES {
                out.push((said, heard.symptoms));
            }
        }
    }
    out
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
        stirred: None,
        comes_and_goes: false,
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
            stirred: self.stirred.clone(),
        }
    }

    /// It is felt, not seen.
    pub fn is_felt(&self) -> bool {
        self.showings.iter().any(|word| heat::is_word(word))
    }

    /// Settings that the machine stood in: before the control moved, if one did, and when it showed.
    pub fn states(&self) -> Vec<Settings> {
        let Some((control, ends)) = &self.change else { return vec![self.set.clone()] };
        let rest = self.set.iter().filter(|(c, _)| c != control);
        let with = |end: &String| rest.clone().cloned().chain([(control.clone(), end.clone())]).collect();
        ends.iter().map(with).collect()
    }
}
