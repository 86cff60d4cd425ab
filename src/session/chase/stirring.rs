//! What to wiggle, and what to watch meanwhile.

use super::Chase;
use crate::choice::candidates::watch;
use crate::choice::choose::Choice;
use crate::choice::stir::stir;
use crate::circuit::test::Settings;
use crate::diagnosis::kill;
use crate::diagnosis::visible::{Watcher, states};

/// Suspects that are asked for another part that they show on.
const LEADERS: usize = 8;

impl Chase {
    /// What to wiggle while somebody watches what was complained of; or, where the engine would turn meanwhile, something
    /// else that the likeliest suspects show on: looked at first without wiggling.
    pub(super) fn stirring(&mut self) -> Option<Choice> {
        // (What a hand feels changes in minutes, not while something is moved.)
        let symptom = self.symptoms.last().filter(|symptom| !symptom.is_felt())?;
        let (part, set) = (symptom.part.clone(), symptom.states().pop()?);
        let complaints = self.complaints();
        if !kill::turns(&set) {
            return stir(&mut self.board(&complaints), &part, &set);
        }
        let (part, set) = self.shown_elsewhere()?;
        let stirred = stir(&mut self.board(&complaints), &part, &set)?;
        let look = watch(&part, &set);
        if self.done.contains(&look) {
            return Some(stirred);
        }
        let first = !self.skipped.contains(&look);
        first.then(|| Choice { gain: stirred.gain, ..self.look(look) })
    }

    /// A part that shows the likeliest suspect that comes and goes with the engine standing, and in which settings.
    fn shown_elsewhere(&mut self) -> Option<(String, Settings)> {
        let coming = |point: usize| self.evidence.presence(point).map_or(0.0, |presence| presence.coming);
        let all = self.chances.points.iter().enumerate().filter(|(_, p)| **p > 0.0);
        let mut order: Vec<(usize, f64)> = all.map(|(point, p)| (point, p * coming(point))).collect();
        order.sort_by(|a, b| b.1.total_cmp(&a.1));
        order.truncate(LEADERS);
        let Chase { machine, suspects, runs, watcher, .. } = self;
        let watcher = watcher.get_or_insert_with(|| {
            let still = states(machine).into_iter().filter(|set| !kill::turns(set)).collect();
            Watcher::new(machine, still)
        });
        order.into_iter().find_map(|(point, _)| {
            let injury = runs.injury_of(machine, suspects, point as u32);
            watcher.first(machine, &injury).map(|sight| (sight.part, sight.set))
        })
    }
}
