//! How well points explain everything that was met: standing in one way or in several, there all the time or not.

use super::enumerate::Suspects;
use super::evidence::Evidence;
use super::machine::Machine;
use super::posterior::{Fit, Met, Predicted, alone, fit, ln_sum};
use super::predict::Sight;
use super::presence::{self, Presence};
use super::runs::Runs;
use super::suspect::{Point, What};
use super::threshold::{Ways, together};
use super::workers::by_workers;
use crate::circuit::schematic::ElementId;
use std::collections::HashMap;

/// How well a point explains everything, and how it does.
#[derive(Clone, Debug)]
pub(super) struct Explained {
    pub fit: Fit,
    /// If it may come and go.
    pub presence: Option<Presence>,
    /// The likeliest of the machines drawn, if it is near a threshold.
    pub draw: Option<u8>,
}

impl Evidence {
    /// How well each of these points explains the first `upto` entries.
    pub(super) fn fits(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        points: &[usize],
        upto: usize,
    ) -> Vec<Explained> {
        for &point in points {
            for index in 0..upto {
                self.predict(machine, suspects, runs, index, point);
                self.lean(machine, suspects, runs, index, point);
                self.draw(machine, suspects, runs, index, point);
            }
        }
        // Who comes and goes reads as the sound machine while away, or as a fuse that it has blown.
        let whole = suspects.list.iter().position(|s| s.what == What::NothingBroken).map(|at| runs.range[at].0);
        let mut fuses: HashMap<ElementId, Option<usize>> = HashMap::new();
        let mut left: HashMap<usize, usize> = HashMap::new();
        for &point in points {
            let fuse = self.left_by(machine, suspects, runs, point, upto);
            let blown =
                fuse.and_then(|fuse| *fuses.entry(fuse).or_insert_with(|| blown(machine, suspects, runs, fuse)));
            left.extend(blown.map(|blown| (point, blown)));
        }
        let mut others: Vec<usize> = whole.into_iter().chain(left.values().copied()).collect();
        others.sort_unstable();
        others.dedup();
        for point in others {
            for index in 0..upto {
                self.predict(machine, suspects, runs, index, point);
                self.draw(machine, suspects, runs, index, point);
            }
        }
        let flips = self.flips(machine, suspects, points.iter().map(|&point| runs.points[point].suspect), upto);
        // What weighs nothing is left out whole: it is no reading that could be the wrong one either.
        let weighs: Vec<usize> = (0..upto).filter(|&i| self.entries[i].sight != Sight::Nothing).collect();
        let met: Vec<&Met> = weighs.iter().map(|&i| &self.entries[i].met).collect();
        let Evidence { predictions, drawn, comes_and_goes, .. } = &*self;
        let (said, runs) = (*comes_and_goes, &*runs);
        let (shared, range) = (&runs.points, &runs.range);
        let row = |index: usize, point: usize| (predictions[index][point].as_ref(), drawn[index].of(point));
        let flips_of = |suspect: usize| -> Vec<f64> { weighs.iter().map(|&i| flips.of(suspect)[i]).collect() };
        let one = |&point: &usize| {
            let Point { suspect, smear, .. } = shared[point];
            let (constant, draw) = explains(weighs.iter().map(|&i| row(i, point)), &met, smear);
            // (of several faults at once none is thought to come and go)
            let may = point < range[suspect].1 && presence::may_come_and_go(suspects, suspect);
            let Some(whole) = whole.filter(|_| may) else {
                let outside = suspects.list[suspect].what == What::NotInFile;
                let ln = constant.ln + presence::steadily(said && !outside);
                return Explained { fit: Fit { ln, ..constant }, presence: None, draw };
            };
            let masses = |point: usize, smear: f64| -> Vec<f64> {
                let each = weighs.iter().zip(&met);
                each.map(|(&i, met)| row(i, point).0.map_or(0.0, |predicted| alone(predicted, met, smear))).collect()
            };
            let (there, flips) = (masses(point, smear), flips_of(suspect));
            let ways: Vec<usize> = std::iter::once(whole).chain(left.get(&point).copied()).collect();
            let in_way = |&away: &usize| {
                let course = presence::course(&there, &masses(away, 0.0), &flips);
                let (coming, then) = if course.away.iter().any(|away| *away) {
                    let met_then =
                        weighs.iter().zip(&course.away).map(|(&i, gone)| row(i, if *gone { away } else { point }));
                    explains(met_then, &met, smear)
                } else {
                    (constant.clone(), draw)
                };
                let each = coming.ln - (ways.len() as f64).ln();
                let (ln, presence) = presence::either(said, away, &course, constant.ln, each);
                (ln, presence, coming, then)
            };
            let best = ways.iter().map(in_way).max_by(|a, b| a.0.total_cmp(&b.0));
            let Some((ln, presence, coming, then)) = best else {
                return Explained { fit: constant, presence: None, draw };
            };
            let (likelier, draw) = if presence.coming > 0.5 { (&coming, then) } else { (&constant, draw) };
            let fit = Fit { ln, needs_wrong: likelier.needs_wrong };
            Explained { fit, presence: Some(presence), draw }
        };
        let done = by_workers(points, one);
        points.iter().zip(done).map(|(point, done)| done.unwrap_or_else(|| one(point))).collect()
    }
}

impl Evidence {
    /// The one fuse that a short has blown by any of the first entries: if it comes and goes, that stays blown.
    fn left_by(
        &self,
        machine: &Machine,
        suspects: &Suspects,
        runs: &mut Runs,
        point: usize,
        upto: usize,
    ) -> Option<ElementId> {
        let suspect = runs.points[point].suspect;
        let alone = point < runs.range[suspect].1 && suspects.list[suspect].what == What::Touching;
        if !alone {
            return None;
        }
        let mut epochs: Vec<usize> = self.entries[..upto].iter().map(|entry| entry.epoch).collect();
        epochs.dedup();
        let only = epochs.into_iter().find_map(|epoch| {
            runs.memory.go_to(epoch);
            let blown = runs.blown(machine, suspects, point as u32);
            match runs.memory.fuses(blown)[..] {
                [fuse] => Some(fuse),
                _ => None,
            }
        });
        runs.memory.go_to(runs.memory.now());
        only
    }
}

/// The point of the suspect that this fuse has blown by itself.
fn blown(machine: &Machine, suspects: &Suspects, runs: &Runs, fuse: ElementId) -> Option<usize> {
    let part = machine.sim.schematic().elements[fuse].part.as_ref()?;
    suspects.by_name(&format!("{part}:blown")).map(|at| runs.range[at].0)
}

/// How well readings are explained by what is predicted of each, in all ways that the machine may stand.
fn explains<'a>(
    rows: impl Iterator<Item = (Option<&'a Predicted>, Option<&'a Ways<Predicted>>)>,
    met: &[&Met],
    smear: f64,
) -> (Fit, Option<u8>) {
    let (predicted, drawn): (Vec<Option<&Predicted>>, Vec<_>) = rows.unzip();
    let predicted: Vec<&Predicted> = predicted.into_iter().flatten().collect();
    if drawn.iter().all(Option::is_none) {
        return (fit(&predicted, met, smear), None);
    }
    let fits = together(&drawn).into_iter().map(|(chance, draw, each)| {
        let each: Vec<&Predicted> =
            each.into_iter().zip(&predicted).map(|(drawn, still)| drawn.unwrap_or(still)).collect();
        let Fit { ln, needs_wrong } = fit(&each, met, smear);
        (Fit { ln: ln + chance, needs_wrong }, draw)
    });
    either(&fits.collect::<Vec<_>>())
}

/// Ways that a point may stand, each with its weight in it: all of them, with the doubts of the likeliest.
fn either(fits: &[(Fit, u8)]) -> (Fit, Option<u8>) {
    let ln: Vec<f64> = fits.iter().map(|(fit, _)| fit.ln).collect();
    let best = fits.iter().max_by(|(a, _), (b, _)| a.ln.total_cmp(&b.ln));
    let needs_wrong = best.and_then(|(fit, _)| fit.needs_wrong);
    (Fit { ln: ln_sum(&ln), needs_wrong }, best.map(|(_, draw)| *draw))
}
