//! What a reading to come would be predicted as, worked out while somebody measures.

use super::enumerate::Suspects;
use super::evidence::{BEHIND, Entry, Evidence};
use super::machine::Machine;
use super::posterior::Predicted;
use super::predict::Sight;
use super::runs::Runs;

/// A reading may put the leader so much lower, nats, that those behind it count again.
const FALL: f64 = 12.0;

/// Predictions of a reading that has not come yet.
#[derive(Debug)]
pub(super) struct Prepared {
    sight: Sight,
    epoch: usize,
    row: Vec<Option<Predicted>>,
}

impl Evidence {
    /// Works out what the points that count predict of a reading to come; `far`: those too that may come to count with
    /// it. `entry` is that reading, whatever number it has: what hangs on the number is left for when it is known.
    pub fn prepare(&mut self, machine: &mut Machine, suspects: &Suspects, runs: &mut Runs, entry: Entry, far: bool) {
        let points = self.counting(far);
        let known = self.prepared(&entry);
        self.entries.push(entry);
        self.predictions.push(known);
        self.foresee(machine, suspects, runs, self.entries.len() - 1, &points);
        let (Some(entry), Some(mut row)) = (self.entries.pop(), self.predictions.pop()) else { return };
        runs.forget_driven(self.entries.len());
        for (point, cell) in row.iter_mut().enumerate() {
            let special = suspects.list[runs.points[point].suspect].special();
            let hangs = matches!(entry.sight, Sight::Volts { .. }) && matches!(cell, Some(Predicted::Mass(_)));
            if special || hangs {
                *cell = None;
            }
        }
        runs.memory.go_to(runs.memory.now());
        self.prepared.push(Prepared { sight: entry.sight, epoch: entry.epoch, row });
    }

    /// Asks those who may come to count about an earlier reading, as far as they have not been; false if there is none of
    /// this index.
    pub fn recall(&mut self, machine: &mut Machine, suspects: &Suspects, runs: &mut Runs, index: usize) -> bool {
        if index >= self.entries.len() {
            return false;
        }
        let points = self.counting(true);
        self.catch_up(machine, suspects, runs, &points, index);
        runs.memory.go_to(runs.memory.now());
        true
    }

    /// Points not too far behind; `far`: those too that a reading may bring there.
    fn counting(&self, far: bool) -> Vec<usize> {
        let fall = if far { FALL } else { 0.0 };
        (0..self.bound.len()).filter(|&point| self.bound[point] >= -BEHIND - fall).collect()
    }

    /// What was prepared for a reading that has come.
    pub(super) fn prepared(&mut self, entry: &Entry) -> Vec<Option<Predicted>> {
        let fits = |other: &Prepared| other.sight == entry.sight && other.epoch == entry.epoch;
        self.prepared.iter().position(fits).map_or_else(Vec::new, |at| self.prepared.swap_remove(at).row)
    }
}
