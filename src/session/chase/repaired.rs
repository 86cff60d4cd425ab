//! What has been put right, with or without a cure.

use super::{Chase, Pending, Told, plain};
use crate::circuit::schematic::{ElementId, Law, When};
use crate::circuit::test::{Instrument, Reading, Test};
use crate::diagnosis::backdrop::Righted;
use crate::diagnosis::entry;
use crate::diagnosis::evidence::Tried;
use crate::diagnosis::memory::Happened;
use crate::diagnosis::suspect::What;
use crate::session::event::{Event, SymptomInput, VerdictReason};
use crate::session::name;

/// What was put right in vain is thought of as one of several faults if it was this likely.
const LIKELY: f64 = 0.5;
/// Severities of what was put right in vain that are thought of as one of several faults: this part of its chance at
/// least, so many at most.
const PART: f64 = 0.05;
const SEVERITIES: usize = 2;
/// Less than this is left for all that has not been put right in vain: nothing by itself explains what was met; and what
/// led with this part of the rest before may be one of two faults.
const CORNERED: f64 = 0.1;
const LED: f64 = 0.3;

impl Chase {
    pub(super) fn cured(&mut self, cured: bool, blown: &[String]) -> Result<Vec<Event>, String> {
        let Pending::Repair(_, class) = self.pending.clone() else {
            return Err("no repair was proposed".into());
        };
        self.cured = Some(cured);
        if cured {
            self.chances = self.weigh();
            return Ok(vec![self.suspects_event(), self.verdict(VerdictReason::Repair, Some(class))]);
        }
        self.righted(&class);
        // What blew is seen with the new fuse in.
        if let Some(fuse) = class.strip_prefix("replace:") {
            self.renewed(&[fuse.to_string()], true);
        }
        for fuse in blown {
            let set = self.symptoms.last().map(|s| s.states().pop().unwrap_or_default()).unwrap_or_default();
            let test = Test { part: Some(fuse.clone()), ..Test::new(Instrument::Watch, &set) };
            let placement = self.evidence.next_placement();
            let showing = [Reading::Showing("blown".into())];
            let entries = entry::readings(&mut self.machine, &test, &showing, placement).map_err(plain)?;
            self.push(entries);
        }
        self.renewed(blown, true);
        // Never the same repair twice; it can have been done badly all the same.
        self.fixed.push(class.clone());
        self.told.push(Told::Tried(class.clone()));
        self.evidence.tried.push(Tried { class });
        Ok(self.go_on())
    }

    /// A repair was done and did not cure: what was put right may have been one of several faults all the same.
    fn righted(&mut self, class: &str) {
        if self.sureness(class) < LIKELY {
            return;
        }
        let points = self.points_of(class);
        self.runs.memory.push(Happened::Mended);
        let from = self.runs.memory.now();
        self.mended = from;
        self.look_again = !points.is_empty();
        let Chase { machine, suspects, runs, .. } = self;
        // (what was put right before it may have been sound: then this is the first of them)
        let alone = points.first().map(|&best| runs.split(best)).filter(|(before, _)| *before > 0).map(|(_, own)| own);
        for (at, point) in points.into_iter().chain(alone).enumerate() {
            runs.open(&machine.netlist, &machine.catalogue.weights, suspects, Righted { point, from, missed: at == 0 });
        }
    }

    /// The likeliest severities of a class.
    fn points_of(&self, class: &str) -> Vec<u32> {
        let p = |point: u32| self.chances.points.get(point as usize).copied().unwrap_or(0.0);
        let of_class = |point: &u32| {
            let suspect = &self.suspects.list[self.runs.points[*point as usize].suspect];
            suspect.class == class && !suspect.special()
        };
        let all = 0..self.runs.points.len() as u32;
        let mut points: Vec<u32> = all.filter(|point| p(*point) > 0.0).filter(of_class).collect();
        let all: f64 = points.iter().map(|point| p(*point)).sum();
        points.sort_by(|&a, &b| p(b).total_cmp(&p(a)));
        points.retain(|&point| p(point) >= PART * all);
        points.truncate(SEVERITIES);
        points
    }

    /// Nothing that has not been put right in vain explains it any more: what did until now may be one of two faults.
    /// Has anything been opened for that?
    pub(super) fn cornered(&mut self) -> bool {
        let mut open = 0.0;
        let mut best: Option<(&str, f64)> = None;
        let classes = self.classes();
        for (class, p) in &classes {
            let outside = self.suspects.list.iter().any(|s| s.class == *class && s.what == What::NotInFile);
            if !outside && !self.tried(class) {
                open += p;
                best = best.or(Some((class, *p)));
            }
        }
        if open >= CORNERED {
            let Some((class, p)) = best else { return false };
            // (a guess among many is none)
            self.explained = if p >= LED * open { self.points_of(class) } else { Vec::new() };
            return false;
        }
        let points = std::mem::take(&mut self.explained);
        let Chase { machine, suspects, runs, .. } = self;
        for &point in &points {
            runs.beside_another(&machine.netlist, &machine.catalogue.weights, suspects, point);
        }
        !points.is_empty()
    }

    /// These have been put right without being asked: they are no longer suspects.
    pub(super) fn fix(&mut self, names: &[String]) -> Result<(), String> {
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
            // (Whether it is tried again at once, or with something unplugged first, is not said.)
            let site = name.split(':').next().unwrap_or(name).to_string();
            self.renewed(&[site], false);
            self.evidence.tried.extend(classes.into_iter().map(|class| Tried { class }));
        }
        Ok(())
    }

    /// These fuses were renewed; `again`: and what showed the fault was done again.
    pub(super) fn renewed(&mut self, fuses: &[String], again: bool) {
        let elements = self.machine.sim.schematic().elements.iter().enumerate();
        let of = |part: &Option<String>| part.as_ref().is_some_and(|p| fuses.iter().any(|f| f.eq_ignore_ascii_case(p)));
        let renewed: Vec<ElementId> = elements
            .filter(|(_, element)| {
                matches!(element.law, Law::Contact { when: When::Fuse { .. }, .. }) && of(&element.part)
            })
            .map(|(id, _)| id)
            .collect();
        if renewed.is_empty() {
            return;
        }
        self.runs.memory.push(Happened::Renewed(renewed));
        // A new fuse is worth another look.
        self.done.retain(|test| !of(&test.part));
        let states = self.symptoms.iter().filter(|_| again).flat_map(SymptomInput::states);
        for set in states.collect::<Vec<_>>() {
            self.stood(&Test::new(Instrument::Watch, &set));
        }
    }
}
