//! What severities do to numbers predicted: a suspect's own, and those of the faults that are there besides.

use super::enumerate::Suspects;
use super::evidence::Evidence;
use super::machine::Machine;
use super::posterior::Predicted;
use super::predict::{Sight, neighbour, slope};
use super::runs::Runs;

/// What numbers share beyond the spreads of the machine's parts goes by these: the severities of the faults that are there
/// besides the suspect's.
pub(super) const BESIDES: u32 = u32::MAX - 8;

impl Evidence {
    /// Sees to it that a number predicted says what the severity does to it, and what the severities of the other faults
    /// do.
    pub(super) fn lean(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        point: usize,
    ) {
        if !matches!(self.entries[index].sight, Sight::Volts { .. } | Sight::Instrument(_)) {
            return;
        }
        let Some(mean) = self.unleaned(index, point) else { return };
        let epoch = self.entries[index].epoch;
        runs.memory.go_to(epoch);
        let besides = runs.besides_at(point as u32, epoch).to_vec();
        let other = self.same_as(machine, suspects, runs, index, point);
        if other != point {
            self.lean(machine, suspects, runs, index, other);
            let slopes = self.slopes_of(index, other);
            let place = besides.iter().position(|&fault| fault as usize == other);
            // What else is wrong is all that acts: its severity is no longer the suspect's own.
            let slopes = match place {
                Some(place) => (0.0, vec![(shared_by(place), slopes.0 * runs.points[other].smear)]),
                None => slopes,
            };
            self.set_slopes(index, point, slopes);
            return;
        }
        let own = self.slope_to(machine, suspects, runs, (index, mean), (point, neighbour(runs, point)));
        let mut shared = Vec::new();
        for (place, &fault) in besides.iter().enumerate() {
            let smear = runs.points[fault as usize].smear;
            let Some(near) = neighbour(runs, fault as usize).filter(|_| smear > 0.0) else { continue };
            let beside = runs.beside(runs.acting_at(point as u32, epoch), place, near as u32);
            let slope = match beside {
                Some(beside) => {
                    self.predict(machine, suspects, runs, index, beside as usize);
                    let there = self.predictions[index][beside as usize].as_ref();
                    there.map_or(0.0, |there| slope(runs, fault as usize, mean, near, there))
                }
                // (as it is without the suspect)
                None => {
                    self.predict(machine, suspects, runs, index, fault as usize);
                    self.lean(machine, suspects, runs, index, fault as usize);
                    self.slopes_of(index, fault as usize).0
                }
            };
            shared.push((shared_by(place), slope * smear));
        }
        self.set_slopes(index, point, (own, shared));
    }

    /// The mean of a number predicted of which it is not known yet what its severity does.
    fn unleaned(&self, index: usize, point: usize) -> Option<f64> {
        match &self.predictions[index][point] {
            Some(Predicted::Number { mean, severity: None, .. }) => Some(*mean),
            _ => None,
        }
    }

    /// Change of a reading for a unit of ln(severity) on the way to a neighbouring point.
    fn slope_to(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        (index, mean): (usize, f64),
        (point, other): (usize, Option<usize>),
    ) -> f64 {
        let Some(other) = other else { return 0.0 };
        self.predict(machine, suspects, runs, index, other);
        self.predictions[index][other].as_ref().map_or(0.0, |there| slope(runs, point, mean, other, there))
    }

    /// What the severity of its own fault does to a number, and those of the others.
    fn slopes_of(&self, index: usize, point: usize) -> (f64, Vec<(u32, f64)>) {
        match &self.predictions[index][point] {
            Some(Predicted::Number { severity, shared, .. }) => {
                let others = shared.iter().copied().filter(|(id, _)| *id >= BESIDES).collect();
                (severity.unwrap_or(0.0), others)
            }
            _ => (0.0, Vec::new()),
        }
    }

    fn set_slopes(&mut self, index: usize, point: usize, (own, others): (f64, Vec<(u32, f64)>)) {
        if let Some(Predicted::Number { severity, shared, .. }) = &mut self.predictions[index][point] {
            *severity = Some(own);
            shared.extend(others);
        }
    }
}

/// By what the severity of the fault of this place among those besides goes.
pub(super) fn shared_by(place: usize) -> u32 {
    BESIDES + place as u32
}

/// A number that says what its severity does, read where that fault is one of those besides: it is no longer the suspect's
/// own severity that moves it.
pub(super) fn beside_it(predicted: Predicted, place: usize, smear: f64) -> Predicted {
    match predicted {
        Predicted::Number { mean, own, mut shared, severity: Some(slope), ln } => {
            shared.push((shared_by(place), slope * smear));
            Predicted::Number { mean, own, shared, severity: Some(0.0), ln }
        }
        other => other,
    }
}

/// A number without what severities do to it.
pub(super) fn level(predicted: Predicted) -> Predicted {
    match predicted {
        Predicted::Number { mean, own, mut shared, ln, .. } => {
            shared.retain(|(id, _)| *id < BESIDES);
            Predicted::Number { mean, own, shared, severity: None, ln }
        }
        mass => mass,
    }
}
