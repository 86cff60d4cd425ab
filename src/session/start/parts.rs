//! Which circuit a part or a control belongs to.

use super::Start;
use crate::diagnosis::machine::Machine;
use crate::session::event::SymptomInput;
use crate::session::words;
use crate::session::words::paths::Paths;
use crate::sketch::{BASE, Book, Sketch};
use indexmap::IndexMap;

/// The fuse that everything hangs on; it is of no circuit.
pub(super) const MAIN_FUSE: &str = "main-fuse";
/// Who says "all of them" has looked at one or two.
const OF_ALL: usize = 2;

/// Parts of the whole machine, by name, with the circuits that have them. What every circuit may have (the key,
/// fuses) belongs to none.
pub(super) fn owners(book: &Book, all: &Machine) -> IndexMap<String, Vec<String>> {
    let shared: Vec<&String> = book.shared.values().flat_map(|(_, rows)| rows).flat_map(names).collect();
    let mut out: IndexMap<String, Vec<String>> =
        all.netlist.parts.keys().map(|name| (name.clone(), Vec::new())).collect();
    for sketch in book.circuits() {
        for name in sketch.rows.iter().flat_map(names).filter(|name| !shared.contains(name)) {
            let list = out.entry(name.clone()).or_default();
            if !list.contains(&sketch.name) {
                list.push(sketch.name.clone());
            }
        }
    }
    // The turn switch is the turn signals' rather than the trailer's: what is asked about oftenest comes first.
    let common = || book.circuit.say.keys().flat_map(|names| names.split(' '));
    let rare = |name: &String| !common().any(|known| known == name);
    out.values_mut().for_each(|owners| owners.sort_by_key(rare));
    out.retain(|name, owners| !owners.is_empty() && !is_fuse(all, name));
    out
}

/// Is this part one that blows?
pub(super) fn is_fuse(machine: &Machine, part: &str) -> bool {
    let kind = machine.netlist.parts.get(part).and_then(|part| machine.catalogue.kind(&part.kind));
    kind.is_some_and(|kind| kind.elements.values().any(|element| element.blows.is_some()))
}

fn names(block: &crate::sketch::Block) -> impl Iterator<Item = &String> {
    block.named.get("parts").into_iter().flatten().map(|(name, _)| name)
}

impl Start {
    /// The circuits of these parts, one each; of several that have it one that is named already, else the first.
    pub(super) fn owners_of<'p>(&self, parts: impl Iterator<Item = &'p String>, named: &mut Vec<String>) {
        for part in parts {
            let Some(owners) = self.owners.get(part) else { continue };
            if !owners.iter().any(|owner| named.contains(owner)) {
                named.extend(owners.first().cloned());
            }
        }
    }

    /// Circuits that symptoms name, those of the parts first.
    pub(super) fn circuits_of(&self, symptoms: &[SymptomInput]) -> Vec<String> {
        let mut out = Vec::new();
        self.owners_of(symptoms.iter().map(|symptom| &symptom.part), &mut out);
        for symptom in symptoms {
            self.owners_of(symptom.change.iter().map(|(control, _)| control), &mut out);
            self.owners_of(symptom.cured_by.iter().map(|(control, _)| control), &mut out);
            self.owners_of(symptom.set.iter().map(|(control, _)| control), &mut out);
        }
        out
    }

    /// Of many parts that are said to do the same, those that somebody will have looked at: of each circuit the first.
    pub(super) fn looked_at(&self, symptoms: Vec<SymptomInput>) -> Vec<SymptomInput> {
        if symptoms.len() <= OF_ALL || symptoms.iter().any(|symptom| symptom.showings != symptoms[0].showings) {
            return symptoms;
        }
        let rank = |symptom: &SymptomInput| {
            let circuit = self.circuits_of(std::slice::from_ref(symptom)).into_iter().next();
            let sketch = circuit.as_ref().and_then(|circuit| self.book.sketches.get(circuit));
            sketch.and_then(|sketch| sketch.looks.iter().position(|part| *part == symptom.part)).unwrap_or(usize::MAX)
        };
        let mut out = symptoms;
        out.sort_by_key(rank);
        out.truncate(OF_ALL);
        out
    }

    /// Circuits that a text mentions, phrase by phrase: each with all that it can mean.
    pub(super) fn mentions(&self, text: &str) -> Vec<Vec<String>> {
        let also = |sketch: &&Sketch| sketch.name != BASE && words::says(text, &sketch.also);
        let by_words: Vec<Vec<String>> = self.book.circuits().filter(also).map(|s| vec![s.name.clone()]).collect();
        if !by_words.is_empty() {
            return by_words;
        }
        let controls = &self.all.sim.schematic().controls;
        let groups = words::mentioned(text, &self.all.netlist, &self.all.catalogue, controls, &self.table);
        let circuits = groups.into_iter().map(|parts| {
            let mut out: Vec<String> = Vec::new();
            for owner in parts.iter().filter_map(|part| self.owners.get(part)).flatten() {
                if !out.contains(owner) {
                    out.push(owner.clone());
                }
            }
            out
        });
        circuits.filter(|circuits| !circuits.is_empty()).collect()
    }

    /// Circuits that such a machine mostly has.
    pub(super) fn usual(&self) -> Vec<String> {
        let named = self.book.usual.iter().find(|(say, _)| words::says(&self.complaint, say));
        let any = || self.book.usual.iter().find(|(say, _)| say.is_empty());
        named.or_else(any).map(|(_, circuits)| circuits.clone()).unwrap_or_default()
    }

    /// The fuse that a circuit hangs on.
    pub(super) fn fuse_of(&self, circuit: &str, machine: &Machine) -> Option<String> {
        let part = self.book.sketches.get(circuit)?.looks.first()?;
        let fuses = Paths::new(&machine.netlist, &machine.catalogue).fuses(part);
        let own = fuses.iter().find(|fuse| *fuse != MAIN_FUSE).or(fuses.first());
        own.cloned()
    }

    /// What a circuit is called.
    pub(super) fn is<'b>(&'b self, circuit: &'b str) -> &'b str {
        self.book.sketches.get(circuit).map_or(circuit, |sketch| sketch.is.as_str())
    }
}
