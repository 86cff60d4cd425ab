//! Heat and smoke in a chase: what a hand finds before power is on again, and what is not brought about twice.

use super::Chase;
use crate::choice::allowed::burns;
use crate::choice::choose::Choice;
use crate::choice::feel::feel;
use crate::circuit::test::{Instrument, Settings, Test};
use crate::session::event::{Screen, SymptomInput};

/// So many things are felt before power comes on again where something has smoked.
const BY_HAND: usize = 4;
/// Before the first test that wants power.
const CLAMP: &str = "battery's minus clamp back on, if it is off";
/// What is set for a look at what has smoked.
const MARKED: &str =
    "nothing: all stays off. What has smoked is brown, shiny or soft: call that smokes, and what bears no mark cool";

impl Chase {
    /// Would this test bring about one of these again?
    pub(super) fn burns_again(&self, burnt: &[Settings], test: &Test) -> bool {
        burns(&self.machine.netlist, &self.machine.sim.schematic().controls, burnt, test)
    }

    /// What has smoked is looked for by eye and hand before power is on again.
    pub(super) fn by_hand_first(&mut self) -> Option<Choice> {
        if self.burns.is_empty() {
            return None;
        }
        let felt = self.done.iter().chain(&self.skipped).filter(|test| test.instrument == Instrument::Touch);
        if felt.count() >= BY_HAND {
            return None;
        }
        let worthless = self.worthless();
        self.feeling().filter(|choice| choice.gain > worthless)
    }

    /// What to lay a hand on, where heat was spoken of.
    pub(super) fn feeling(&mut self) -> Option<Choice> {
        let symptom = self.symptoms.iter().rev().find(|symptom| symptom.is_felt())?;
        let (set, complaints) = (symptom.set.clone(), self.complaints());
        feel(&mut self.board(&complaints), &set)
    }

    /// What smoked is not brought about again, and what got hot for no longer than a reading takes.
    pub(super) fn mind_heat(&self, test: &Test, screen: &mut Screen) {
        if test.instrument == Instrument::Touch && self.burns_again(&self.burns, test) {
            screen.set = vec![MARKED.into()];
            let procedure = self.machine.catalogue.procedures.get(test.instrument.name());
            screen.cautions = procedure.and_then(|procedure| procedure.caution.clone()).into_iter().collect();
            return;
        }
        // Whoever was told to take the clamp off is told when it is wanted again.
        let off = |test: &Test| test.instrument == Instrument::Touch && self.burns_again(&self.burns, test);
        if self.symptoms.iter().any(SymptomInput::is_felt) && test.open.is_empty() && self.done.iter().all(off) {
            screen.prepare.insert(0, CLAMP.into());
        }
        let felt = self.symptoms.iter().filter(|symptom| symptom.is_felt());
        let sets: Vec<Settings> = felt.map(|symptom| symptom.set.clone()).collect();
        if test.instrument != Instrument::Touch && self.burns_again(&sets, test) {
            let heats = self.machine.catalogue.dangers.iter().find(|danger| danger.rule == "heats");
            screen.cautions.splice(0..0, heats.and_then(|danger| danger.instead.clone()));
        }
    }
}
