//! What a reading to come would be predicted as, worked out while somebody measures.

use super::enumerate::Suspects;
use super::evidence::{Entry, Evidence};
use super::machine::Machine;
use super::posterior::Predicted;
use super::predict::Sight;
use super::runs::Runs;

/// Predictions of a reading that has not come yet.
#[derive(Debug)]
pub(super) struct Prepared {
    sight: Sight,
    epoch: usize,
    row: Vec<Option<Predicted>>,
}

impl Evidence {
    /// Works out what every point that still counts predicts of a reading to come. `entry` is that reading, whatever
    /// number it has: what hangs on the number is left for when it is known.
    pub fn prepare(&mut self, machine: &mut Machine, suspects: &Suspects, runs: &mut Runs, entry: Entry) {
        if self.prepared.iter().any(|other| other.sight == entry.sight && other.epoch == entry.epoch) {
            return;
        }
        let within = std::mem::take(&mut self.within);
        self.entries.push(entry);
        self.predictions.push(Vec::new());
        self.foresee(machine, suspects, runs, self.entries.len() - 1, &within);
        self.within = within;
        let (Some(entry), Some(mut row)) = (self.entries.pop(), self.predictions.pop()) else { return };
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

    /// What was prepared for a reading that has come.
    pub(super) fn prepared(&mut self, entry: &Entry) -> Vec<Option<Predicted>> {
        let fits = |other: &Prepared| other.sight == entry.sight && other.epoch == entry.epoch;
        self.prepared.iter().position(fits).map_or_else(Vec::new, |at| self.prepared.swap_remove(at).row)
    }
}
