//! What one weighing needs, predicted by several workers before it is weighed in order.

use super::enumerate::Suspects;
use super::evidence::{BEHIND, Evidence};
use super::machine::Machine;
use super::predict::{Sight, volts_met};
use super::runs::Runs;
use super::suspect::What;
use crate::circuit::sim::Outcome;
use std::rc::Rc;

/// Workers.
const WORKERS: usize = 4;
/// Fewer jobs than this are not worth the workers.
const WORTH_WORKERS: usize = 200;
/// So many of the likeliest points are predicted before the others.
const FIRST: usize = 16;

/// Does all jobs, by several workers if there are many; in the order of the jobs. What a worker could not do is
/// missing.
pub(super) fn by_workers<J: Sync, R: Send>(jobs: &[J], one: impl Fn(&J) -> R + Sync) -> Vec<Option<R>> {
    if jobs.len() < WORTH_WORKERS {
        return jobs.iter().map(|job| Some(one(job))).collect();
    }
    let one = &one;
    let part = |jobs: &[J]| jobs.iter().map(one).collect::<Vec<R>>();
    let part = &part;
    let size = jobs.len().div_ceil(WORKERS);
    std::thread::scope(|scope| {
        let hands: Vec<_> = jobs
            .chunks(size)
            .map(|jobs| (jobs.len(), std::thread::Builder::new().spawn_scoped(scope, move || part(jobs))))
            .collect();
        let mut out: Vec<Option<R>> = Vec::with_capacity(jobs.len());
        for (count, hand) in hands {
            match hand.ok().and_then(|hand| hand.join().ok()) {
                Some(done) => out.extend(done.into_iter().map(Some)),
                None => out.extend((0..count).map(|_| None)),
            }
        }
        out
    })
}

impl Evidence {
    /// Predicts in one go what the points need that can be weighed at all: some of the likeliest tell how far behind
    /// the leader one can be. `of` gives a point's bound and its weight before any reading.
    pub(super) fn ahead(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        order: &[usize],
        of: impl Fn(usize) -> (f64, f64),
    ) {
        let mut best = f64::NEG_INFINITY;
        for &point in order.iter().take(FIRST) {
            best = best.max(of(point).1 + self.fit_point(machine, suspects, runs, point).ln);
        }
        let within: Vec<usize> = order.iter().copied().filter(|&point| of(point).0 >= best - BEHIND).collect();
        for (entry, row) in self.entries.iter().zip(&self.predictions) {
            let missing: Vec<usize> =
                within.iter().copied().filter(|&point| row.get(point).is_none_or(Option::is_none)).collect();
            runs.memory.go_to(entry.epoch);
            for state in entry.sight.states() {
                runs.ahead(machine, suspects, state, &missing);
            }
        }
        for index in 0..self.entries.len() {
            self.read_ahead(machine, suspects, runs, index, &within);
        }
    }

    /// Volts readings of one entry.
    fn read_ahead(&mut self, machine: &Machine, suspects: &Suspects, runs: &mut Runs, index: usize, points: &[usize]) {
        let Sight::Volts { state, .. } = self.entries[index].sight else { return };
        let row = &mut self.predictions[index];
        if row.len() < runs.points.len() {
            row.resize(runs.points.len(), None);
        }
        runs.memory.go_to(self.entries[index].epoch);
        let mut jobs: Vec<(usize, Rc<Outcome>, bool)> = Vec::new();
        for &point in points {
            let what = &suspects.list[runs.points[point].suspect].what;
            // (a special suspect's prediction is made of the healthy machine's)
            if matches!(what, What::NothingBroken | What::NotInFile)
                || self.predictions[index][point].is_some()
                || self.same_as(machine, suspects, runs, index, point) != point
            {
                continue;
            }
            let outcome = runs.outcome(machine, suspects, state, point as u32);
            jobs.push((point, outcome, *what == What::Touching));
        }
        let entry = &self.entries[index];
        let work: Vec<(&Outcome, bool)> = jobs.iter().map(|(_, outcome, touching)| (&**outcome, *touching)).collect();
        let done = by_workers(&work, |(outcome, touching)| {
            volts_met(machine, outcome, &entry.sight, &entry.reading, *touching)
        });
        for ((point, ..), predicted) in jobs.iter().zip(done) {
            self.predictions[index][*point] = predicted.flatten();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_jobs_and_few_come_back_in_order() {
        for count in [3, WORTH_WORKERS * 2 + 1] {
            let jobs: Vec<usize> = (0..count).collect();
            let done: Vec<usize> = by_workers(&jobs, |job| job * 2).into_iter().flatten().collect();
            assert_eq!(done, jobs.iter().map(|job| job * 2).collect::<Vec<_>>());
        }
    }
}
