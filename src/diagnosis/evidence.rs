//! Everything that was said and read, and the suspects' chances in the light of it.

use super::enumerate::Suspects;
use super::fits::Explained;
use super::machine::Machine;
use super::posterior::{Fit, Met, Predicted, normalise};
use super::predict::{Sight, neighbour, predict, slope};
use super::prepare::Prepared;
use super::presence::{self, Presence};
use super::runs::Runs;
use super::suspect::What;
use super::threshold::Drawn;
use crate::circuit::sim::StateId;
use crate::circuit::test::{Reading, Test};
use std::collections::HashMap;

/// Suspects further behind the leader than this many nats are not computed any further: readings only ever lower a
/// suspect's weight (all but a hair: the course of one that comes and goes is sought anew), so the bound holds. (A
/// thousand of them weigh less than one in a thousand together; whoever is behind comes back when the leader falls.)
pub(super) const BEHIND: f64 = 14.0;
/// So many of the likeliest points are weighed before the others, to know how far behind one can be.
const FIRST: usize = 16;

/// One reading with all that is needed to weigh it.
#[derive(Clone, Debug)]
pub struct Entry {
    /// The placement it belongs to.
    pub test: Test,
    /// How it is predicted.
    pub sight: Sight,
    /// What was met.
    pub reading: Reading,
    /// The same as a mass.
    pub met: Met,
    /// It came with the complaint.
    pub complaint: bool,
    /// How much of the machine's history lies before it, see [`Memory`](super::memory::Memory).
    pub epoch: usize,
}

/// A repair that was tried and did not cure.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// Its class.
    pub class: String,
}

/// All evidence of a chase, weighed as one batch.
#[derive(Debug, Default)]
pub struct Evidence {
    /// Readings, complaint first.
    pub entries: Vec<Entry>,
    /// Repairs that did not cure.
    pub tried: Vec<Tried>,
    /// The complaint was said to come and go.
    pub comes_and_goes: bool,
    /// The likeliest of the machines drawn for each point, if it is near a threshold.
    draws: Vec<Option<u8>>,
    /// How each point stands to its readings, if it may come and go.
    pub(super) presence: Vec<Option<Presence>>,
    /// Chances that a suspect's fault comes or goes while this is done there.
    pub(super) stirring: HashMap<(usize, String, String), f64>,
    /// Parts looked at.
    looked_at: Vec<String>,
    /// Predictions, by entry, by point; computed when first needed.
    pub(super) predictions: Vec<Vec<Option<Predicted>>>,
    /// The same with thresholds drawn, for points near one.
    pub(super) drawn: Vec<Drawn>,
    /// ln weight of each point after the last weighing (an upper bound where not computed further).
    ln: Vec<f64>,
    /// Entries that `ln` accounts for.
    weighed: usize,
    /// How far behind the leader each point was at the last weighing, nats (an upper bound, at most 0 or a little more).
    pub(super) bound: Vec<f64>,
    /// Predictions of readings to come.
    pub(super) prepared: Vec<Prepared>,
}

/// The suspects' chances.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chances {
    /// By severity point; sums to one.
    pub points: Vec<f64>,
    /// By suspect; sums to one.
    pub suspects: Vec<f64>,
    /// Placements that the leading suspect needs to be wrong.
    pub doubted: Vec<usize>,
    /// ln of how well the machine with any of its suspects agrees with everything: the likelihood, summed.
    pub ln: f64,
}

/// P(a repair of the right thing does not cure): done badly (common practice, no source).
const BOTCHED: f64 = 0.001;

impl Evidence {
    /// A placement number that no reading has yet.
    pub fn next_placement(&self) -> usize {
        self.entries.iter().map(|e| e.met.placement + 1).max().unwrap_or(0)
    }

    /// Adds a reading.
    pub fn push(&mut self, mut entry: Entry) {
        // (what changes while it is stirred hangs on no eye's threshold)
        if let (Sight::Words { part, .. }, None) = (&entry.sight, &entry.test.disturb) {
            let known = self.looked_at.iter().position(|p| p == part).unwrap_or_else(|| {
                self.looked_at.push(part.clone());
                self.looked_at.len() - 1
            });
            entry.met.look = u32::try_from(known).ok();
        }
        let row = self.prepared(&entry);
        self.entries.push(entry);
        self.predictions.push(row);
    }

    /// Chances of all suspects in the light of everything.
    pub fn weigh(&mut self, machine: &mut Machine, suspects: &Suspects, runs: &mut Runs) -> Chances {
        let points = runs.points.len();
        let prior: Vec<f64> =
            runs.points.iter().map(|p| suspects.list[p.suspect].prior.max(1e-300).ln() + p.ln_share).collect();
        if self.weighed > self.entries.len() || self.ln.len() != points {
            self.ln.clone_from(&prior);
            self.weighed = 0;
        }
        let untried = |point: usize| {
            let class = &suspects.list[runs_suspect(runs, point)].class;
            self.tried.iter().filter(|t| &t.class == class).count() as f64 * BOTCHED.ln()
        };
        let bonus: Vec<f64> = (0..points).map(untried).collect();
        let mut order: Vec<usize> = (0..points).collect();
        let bound: Vec<f64> = (0..points).map(|i| self.ln[i] + bonus[i]).collect();
        order.sort_by(|&a, &b| bound[b].total_cmp(&bound[a]));
        let mut best = f64::NEG_INFINITY;
        for &point in order.iter().take(FIRST) {
            let fit = self.fits(machine, suspects, runs, &[point], self.entries.len());
            best = best.max(prior[point] + fit[0].fit.ln + bonus[point]);
        }
        let mut within: Vec<usize> = (0..points).filter(|&point| bound[point] >= best - BEHIND).collect();
        let mut doubted = vec![None; points];
        self.presence.resize(points, None);
        self.draws.resize(points, None);
        for index in 0..self.weighed {
            self.catch_up(machine, suspects, runs, &within, index);
        }
        // Reading by reading: whom one has put too far behind need not be solved for the next.
        for upto in (self.weighed + 1).min(self.entries.len())..=self.entries.len() {
            if let Some(last) = upto.checked_sub(1) {
                self.foresee(machine, suspects, runs, last, &within);
            }
            let fits = self.fits(machine, suspects, runs, &within, upto);
            for (&point, Explained { fit: Fit { ln, needs_wrong }, presence, draw }) in within.iter().zip(fits) {
                self.ln[point] = prior[point] + ln;
                doubted[point] = needs_wrong;
                self.presence[point] = presence;
                self.draws[point] = draw;
            }
            within.retain(|&point| self.ln[point] + bonus[point] >= best - BEHIND);
        }
        let mut out = vec![f64::NEG_INFINITY; points];
        let mut leader = None;
        best = f64::NEG_INFINITY;
        for &point in &within {
            out[point] = self.ln[point] + bonus[point];
            if out[point] > best {
                (best, leader) = (out[point], Some(point));
            }
        }
        let doubted = leader.and_then(|leader| doubted[leader]).into_iter().collect();
        // Cut at one place, whatever was computed on the way: the same evidence gives the same chances.
        for ln in out.iter_mut().filter(|ln| **ln < best - BEHIND) {
            *ln = f64::NEG_INFINITY;
        }
        self.bound = (0..points).map(|point| self.ln[point] + bonus[point] - best).collect();
        self.prepared.clear();
        self.weighed = self.entries.len();
        runs.memory.go_to(runs.memory.now());
        let sum: f64 = out.iter().map(|ln| (ln - best).exp()).sum();
        let ln = if best.is_finite() { best + sum.ln() } else { f64::NEG_INFINITY };
        let points = normalise(&out);
        let mut by_suspect = vec![0.0; suspects.list.len()];
        for (point, p) in points.iter().enumerate() {
            by_suspect[runs_suspect(runs, point)] += p;
        }
        Chances { points, suspects: by_suspect, doubted, ln }
    }

    /// Who comes back from behind has not been asked about every reading yet: about this one.
    pub(super) fn catch_up(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        points: &[usize],
        index: usize,
    ) {
        let row = &self.predictions[index];
        let unknown = |point: &usize| row.get(*point).is_none_or(Option::is_none);
        let back: Vec<usize> = points.iter().copied().filter(unknown).collect();
        self.foresee(machine, suspects, runs, index, &back);
    }

    /// Sees to it that a number predicted says what the severity does to it.
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
        let leans = |predictions: &[Option<Predicted>]| match &predictions[point] {
            Some(Predicted::Number { mean, severity: None, .. }) => Some(*mean),
            _ => None,
        };
        let Some(mean) = leans(&self.predictions[index]) else { return };
        let slope = match neighbour(runs, point) {
            Some(other) => {
                self.predict(machine, suspects, runs, index, other);
                self.predictions[index][other].as_ref().map_or(0.0, |there| slope(runs, point, mean, other, there))
            }
            None => 0.0,
        };
        if let Some(Predicted::Number { severity, .. }) = &mut self.predictions[index][point] {
            *severity = Some(slope);
        }
    }

    /// Sees to it that the prediction of an entry by a point is there.
    pub(super) fn predict(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        point: usize,
    ) {
        let row = &mut self.predictions[index];
        if row.len() < runs.points.len() {
            row.resize(runs.points.len(), None);
        }
        if row[point].is_some() {
            return;
        }
        let entry = &self.entries[index];
        runs.memory.go_to(entry.epoch);
        let other = self.same_as(machine, suspects, runs, index, point);
        if other != point {
            self.predict(machine, suspects, runs, index, other);
            self.predictions[index][point] = self.predictions[index][other].clone();
            return;
        }
        let mut predicted = predict(machine, suspects, runs, &entry.sight, &entry.reading, point as u32);
        if suspects.list[runs_suspect(runs, point)].what == What::NotInFile {
            predicted = elsewhere(entry, predicted);
        }
        self.predictions[index][point] = Some(predicted);
    }

    /// The point whose prediction of an entry is the same and is computed first; itself if there is none.
    pub(super) fn same_as(
        &self,
        machine: &Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        point: usize,
    ) -> usize {
        let mut of = |state: StateId| {
            // What changes nothing here reads as the machine in which nothing is broken.
            if runs.unmoved(machine, suspects, state, point as u32) {
                let whole = suspects.list.iter().position(|s| s.what == What::NothingBroken);
                return whole.map_or(point, |suspect| runs.range[suspect].0);
            }
            runs.stand_in(machine, suspects, state, point as u32) as usize
        };
        let mut states = self.entries[index].sight.states();
        let Some(first) = states.next().map(&mut of) else { return point };
        if states.all(|state| of(state) == first) { first } else { point }
    }

    /// The likeliest of the machines drawn for a point, if it is near a threshold.
    pub fn draw_of(&self, point: usize) -> Option<u8> {
        self.draws.get(point).copied().flatten()
    }

    /// How a point stands to its readings, if its fault may come and go.
    pub fn presence(&self, point: usize) -> Option<Presence> {
        self.presence.get(point).copied().flatten()
    }

    /// The same of all points; none before anything was weighed.
    pub fn presences(&self) -> &[Option<Presence>] {
        &self.presence
    }

    /// Priors have changed: weigh from the start, keep the predictions.
    pub fn forget_weights(&mut self) {
        self.ln.clear();
    }

    /// What a point predicts of an entry, if it has been computed.
    pub fn predicted(&self, entry: usize, point: usize) -> Option<&Predicted> {
        let drawn = self.drawn.get(entry).and_then(|drawn| drawn.of(point)).zip(self.draw_of(point));
        if let Some((ways, draw)) = drawn {
            return Some(ways.at(usize::from(draw)));
        }
        self.predictions.get(entry)?.get(point)?.as_ref()
    }
}

fn runs_suspect(runs: &Runs, point: usize) -> usize {
    runs.points[point].suspect
}

/// What "not in this file" predicts of an entry, from what the sound machine does.
pub(super) fn elsewhere(entry: &Entry, healthy: Predicted) -> Predicted {
    match (&entry.sight, &healthy) {
        (Sight::Stirs { .. }, _) => healthy,
        (Sight::Words { .. }, Predicted::Mass(sound)) if entry.test.disturb.is_some() => {
            Predicted::Mass(presence::outside_stirred(*sound, entry.met.wrong))
        }
        _ => outside(&healthy, &entry.met),
    }
}

/// "Not in this file": 0.6 as the healthy machine, 0.4 anything that the instrument can show.
fn outside(healthy: &Predicted, met: &Met) -> Predicted {
    let mass = match healthy {
        Predicted::Mass(mass) => *mass,
        Predicted::Number { mean, own, shared, .. } => {
            let variance = own * own + met.step * met.step / 12.0 + shared.iter().map(|(_, s)| s * s).sum::<f64>();
            let off = met.value - mean;
            ((-off * off / variance / 2.0).exp() / (std::f64::consts::TAU * variance).sqrt() * met.step).min(1.0)
        }
    };
    Predicted::Mass(0.6 * mass + 0.4 * met.wrong)
}
