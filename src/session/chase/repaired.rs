//! What has been put right, with or without a cure.

use super::{Chase, Pending, Told, plain};
use crate::circuit::schematic::{ElementId, Law, When};
use crate::circuit::test::{Instrument, Reading, Test};
use crate::diagnosis::backdrop::Righted;
use crate::diagnosis::entry;
use crate::diagnosis::evidence::Tried;
use crate::diagnosis::memory::Happened;
use crate::session::event::{Event, SymptomInput, VerdictReason};
use crate::session::name;

/// What was put right in vain is thought of as one of several faults if it was this likely.
const LIKELY: f64 = 0.5;
/// Severities of what was put right in vain that are thought of as one of several faults: this part of its chance at
/// least, so many at most.
const PART: f64 = 0.05;
const SEVERITIES: usize = 2;

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
        let p = |point: usize| self.chances.points.get(point).copied().unwrap_or(0.0);
        let of_class = |point: &usize| {
            let suspect = &self.suspects.list[self.runs.points[*point].suspect];
            suspect.class == class && !suspect.special()
        };
        if self.sureness(class) < LIKELY {
            return;
        }
        let mut points: Vec<usize> =
            (0..self.runs.points.len()).filter(|point| p(*point) > 0.0).filter(of_class).collect();
        let all: f64 = points.iter().map(|point| p(*point)).sum();
        points.sort_by(|&a, &b| p(b).total_cmp(&p(a)));
        points.retain(|&point| p(point) >= PART * all);
        points.truncate(SEVERITIES);
        self.runs.memory.push(Happened::Mended);
        let from = self.runs.memory.now();
        self.look_again = !points.is_empty();
        let Chase { machine, suspects, runs, .. } = self;
        for (at, point) in points.into_iter().enumerate() {
            let righted = Righted { point: point as u32, from, missed: at == 0 };
            runs.open(&machine.netlist, &machine.catalogue.weights, suspects, righted);
        }
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
    fn renewed(&mut self, fuses: &[String], again: bool) {
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
