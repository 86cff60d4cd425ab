//! Everything that was said and read, and the suspects' chances in the light of it.

use super::enumerate::Suspects;
use super::fits::Explained;
use super::lean::{beside_it, level};
use super::machine::Machine;
use super::posterior::{Fit, Met, Predicted, normalise};
use super::predict::{Sight, predict};
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
/// The same of a suspect with others beside it: each backdrop is as many points again.
const BEHIND_BESIDE: f64 = 8.0;
/// Of several faults at once, circuits solved are kept of those that are no further behind.
const KEPT: f64 = 4.0;
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
    /// A sound machine shows all that was complained of.
    pub(super) needless: bool,
    /// And yet it was otherwise once.
    pub(super) otherwise: bool,
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
            runs.points.iter().map(|p| self.ln_prior(&suspects.list[p.suspect]) + p.ln_share).collect();
        if self.weighed > self.entries.len() || self.ln.is_empty() || self.ln.len() > points {
            self.ln.clone_from(&prior);
            self.weighed = 0;
        }
        // Points that somebody has thought of since have met no reading yet.
        let known = self.ln.len();
        self.ln.extend(&prior[known..]);
        let untried = |point: usize| {
            let class = &suspects.list[runs_suspect(runs, point)].class;
            self.tried.iter().filter(|t| &t.class == class).count() as f64 * BOTCHED.ln()
        };
        let bonus: Vec<f64> = (0..points).map(untried).collect();
        let mut order: Vec<usize> = (0..known).collect();
        let bound: Vec<f64> = (0..points).map(|i| self.ln[i] + bonus[i]).collect();
        order.sort_by(|&a, &b| bound[b].total_cmp(&bound[a]));
        let mut best = f64::NEG_INFINITY;
        for &point in order.iter().take(FIRST) {
            let fit = self.fits(machine, suspects, runs, &[point], self.entries.len());
            best = best.max(prior[point] + fit[0].fit.ln + bonus[point]);
        }
        let alone = runs.range.last().map_or(0, |&(_, end)| end);
        let behind = |point: usize| if point < alone { BEHIND } else { BEHIND_BESIDE };
        let counts = |point: &usize| bound[*point] >= best - behind(*point);
        let mut within: Vec<usize> = (0..known).filter(counts).collect();
        let mut fresh: Vec<usize> = (known..points).filter(counts).collect();
        let mut doubted = vec![None; points];
        self.presence.resize(points, None);
        self.draws.resize(points, None);
        for index in 0..self.weighed {
            self.catch_up(machine, suspects, runs, &within, index);
        }
        // Reading by reading: whom one has put too far behind need not be solved for the next.
        let mut explain = |evidence: &mut Evidence, some: &mut Vec<usize>, upto: usize| {
            if let Some(last) = upto.checked_sub(1) {
                evidence.foresee(machine, suspects, runs, last, some);
            }
            let fits = evidence.fits(machine, suspects, runs, some, upto);
            for (&point, Explained { fit: Fit { ln, needs_wrong }, presence, draw }) in some.iter().zip(fits) {
                evidence.ln[point] = prior[point] + ln;
                doubted[point] = needs_wrong;
                evidence.presence[point] = presence;
                evidence.draws[point] = draw;
            }
            some.retain(|&point| evidence.ln[point] + bonus[point] >= best - behind(point));
        };
        if known < points {
            for upto in 1..=self.weighed {
                explain(self, &mut fresh, upto);
            }
        }
        within.append(&mut fresh);
        for upto in (self.weighed + 1).min(self.entries.len())..=self.entries.len() {
            explain(self, &mut within, upto);
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
        for (point, ln) in out.iter_mut().enumerate() {
            if *ln < best - behind(point) {
                *ln = f64::NEG_INFINITY;
            }
        }
        self.bound = (0..points).map(|point| self.ln[point] + bonus[point] - best).collect();
        self.prepared.clear();
        self.weighed = self.entries.len();
        let Evidence { bound, predictions, .. } = self;
        runs.forget(|point| bound[point as usize] >= -KEPT);
        for row in predictions {
            let besides = row.iter_mut().enumerate().skip(alone);
            besides.filter(|(point, _)| bound[*point] < -BEHIND_BESIDE).for_each(|(_, known)| *known = None);
        }
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
        runs.memory.go_to(self.entries[index].epoch);
        let other = self.same_as(machine, suspects, runs, index, point);
        let mut predicted = if other == point {
            let entry = &self.entries[index];
            predict(machine, suspects, runs, &entry.sight, &entry.reading, point as u32)
        } else {
            self.predict(machine, suspects, runs, index, other);
            let copied = self.predictions[index][other].clone().unwrap_or(Predicted::Mass(1.0));
            let besides = runs.besides_at(point as u32, self.entries[index].epoch);
            match besides.iter().position(|&fault| fault as usize == other) {
                _ if self.by_points(index) => level(copied),
                Some(place) => beside_it(copied, place, runs.points[other].smear),
                None => copied,
            }
        };
        if suspects.list[runs_suspect(runs, point)].what == What::NotInFile {
            predicted = elsewhere(&self.entries[index], predicted);
        }
        self.predictions[index][point] = Some(predicted);
    }

    /// Does what a severity does to an entry come from its neighbours? (An instrument's ohms say it themselves.)
    fn by_points(&self, index: usize) -> bool {
        matches!(self.entries[index].sight, Sight::Volts { .. })
    }

    /// The point whose prediction of an entry is the same and is computed first; itself if there is none.
    pub(super) fn same_as(
        &self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        index: usize,
        point: usize,
    ) -> usize {
        let sight = &self.entries[index].sight;
        // What changes nothing here reads as the machine in which nothing is broken.
        let whole = suspects.list.iter().position(|s| s.what == What::NothingBroken);
        let whole = whole.map(|suspect| runs.range[suspect].0 as u32);
        if let Sight::Instrument(test) = sight {
            return runs.unmet_by(machine, suspects, (index, test), point as u32, whole) as usize;
        }
        let part = match sight {
            Sight::Words { part, .. } | Sight::Change { part, .. } => Some(part.as_str()),
            _ => None,
        };
        let mut of = |state: StateId| runs.reads_as(machine, suspects, (state, part), point as u32, whole) as usize;
        let mut states = sight.states();
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
