//! Several faults at once: what else may be wrong with the machine besides the fault that a suspect stands for.
//!
//! A backdrop is a fault, or two, that the machine has besides. Every severity point of every suspect is weighed once
//! more before it, in a circuit with all of them in it; a suspect before a backdrop is a pair, before one of two a triple.
//! What was put right in vain may have been one of several faults: a backdrop that lasts until then and one that stays, as
//! the repair may have missed, are opened for it ([`Runs::open`]). Whatever nobody thinks of costs nothing.

mod alike;
mod open;

pub use open::Righted;

use super::enumerate::Suspects;
use super::machine::Machine;
use super::runs::Runs;
use super::suspect::{Suspect, What};
use crate::circuit::fault::Fault;

/// What may be wrong besides.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Backdrop {
    /// Severity points, of suspects alone, of the faults that are there as well.
    pub faults: Vec<u32>,
    /// From these steps of the machine's memory on it is as another backdrop, one fault having been put right.
    pub then: Vec<(usize, usize)>,
}

impl Runs {
    /// Are several faults at once thought of?
    pub fn several(&self) -> bool {
        self.backdrops.len() > 1
    }

    /// Severity points of suspects alone.
    pub(super) fn alone(&self) -> usize {
        self.range.last().map_or(0, |&(_, end)| end)
    }

    /// The backdrop of a point, and the same suspect's point alone.
    pub fn split(&self, point: u32) -> (usize, u32) {
        let alone = self.alone().max(1);
        (point as usize / alone, (point as usize % alone) as u32)
    }

    fn at(&self, backdrop: usize, own: u32) -> u32 {
        (backdrop * self.alone()) as u32 + own
    }

    /// First severity point of a point's suspect before the same backdrop, and one past the last.
    pub fn span(&self, point: usize) -> (usize, usize) {
        let start = point - point % self.alone().max(1);
        let (first, end) = self.range[self.points[point].suspect];
        (start + first, start + end)
    }

    /// All severity points of a suspect, before whatever backdrop.
    pub fn points_of(&self, suspect: usize) -> impl Iterator<Item = usize> {
        let ((first, end), alone) = (self.range[suspect], self.alone());
        (0..self.backdrops.len()).flat_map(move |backdrop| (backdrop * alone + first)..(backdrop * alone + end))
    }

    /// What else was wrong, at one time, with a point: points of suspects alone.
    pub fn besides(&self, point: u32) -> &[u32] {
        &self.backdrops[self.split(point).0].faults
    }

    /// The same at a step of the machine's memory.
    pub fn besides_at(&self, point: u32, epoch: usize) -> &[u32] {
        self.besides(self.acting_at(point, epoch))
    }

    /// A point as the machine stands at a step of its memory: what was put right before that is away.
    pub(super) fn acting_at(&self, point: u32, epoch: usize) -> u32 {
        let (backdrop, own) = self.split(point);
        let then = &self.backdrops[backdrop].then;
        then.iter().rev().find(|(from, _)| epoch >= *from).map_or(point, |&(_, backdrop)| self.at(backdrop, own))
    }

    /// The same at the step that is asked from.
    pub(super) fn acting(&self, point: u32) -> u32 {
        self.acting_at(point, self.memory.epoch())
    }

    /// The same, if it has left no other fuses blown than the point that it acts as.
    pub fn now(&mut self, machine: &Machine, suspects: &Suspects, point: u32) -> u32 {
        let acting = self.acting(point);
        let same = acting == point || self.blown(machine, suspects, point) == self.blown(machine, suspects, acting);
        if same { acting } else { point }
    }

    /// The suspects that a point's faults are of: what else is wrong first.
    fn suspects_of<'a>(&'a self, suspects: &'a Suspects, point: u32) -> impl Iterator<Item = &'a Suspect> {
        let of = |point: u32| &suspects.list[self.points[point as usize].suspect];
        self.besides(point).iter().copied().chain(std::iter::once(point)).map(of)
    }

    /// Does a point, as it acts, do nothing to the circuit?
    pub(super) fn sound(&self, suspects: &Suspects, acting: u32) -> bool {
        self.suspects_of(suspects, acting).all(Suspect::special)
    }

    /// May a point have blown a fuse? What breaks nothing, or only lets less current through, blows none.
    pub(super) fn blows(&self, suspects: &Suspects, point: u32) -> bool {
        self.suspects_of(suspects, point).any(|suspect| !suspect.special() && !matches!(suspect.what, What::Series(_)))
    }

    /// Do two conductors touch each other with a point, as it acts?
    pub(super) fn touches(&self, suspects: &Suspects, acting: u32) -> bool {
        self.suspects_of(suspects, acting).any(|suspect| suspect.what == What::Touching)
    }

    /// ln of how many times as long as their table says fuses hold.
    pub(super) fn patience(&self, acting: u32) -> f64 {
        let of = |&point: &u32| self.points[point as usize].patience;
        self.besides(acting).iter().chain(std::iter::once(&acting)).map(of).sum()
    }

    /// All faults of a point, as it acts, its own with this severity.
    pub(super) fn fault_at(&self, suspects: &Suspects, acting: u32, severity: Option<f64>) -> Fault {
        let mut fault = suspects.list[self.points[acting as usize].suspect].fault_at(severity);
        for &point in self.besides(acting) {
            let at = self.points[point as usize];
            fault.singles.extend(suspects.list[at.suspect].fault_at(at.severity).singles);
        }
        fault
    }

    /// Faults that a point has at the step that is asked from, each by itself.
    pub(super) fn faults_of(&self, suspects: &Suspects, point: u32) -> Vec<(What, Fault)> {
        let acting = self.acting(point);
        let of = |&point: &u32| {
            let at = self.points[point as usize];
            let suspect = &suspects.list[at.suspect];
            (suspect.what.clone(), if suspect.special() { Fault::healthy() } else { suspect.fault_at(at.severity) })
        };
        self.besides(acting).iter().chain(std::iter::once(&acting)).map(of).collect()
    }

    /// The backdrop of a point in which one of its faults, and no more, is another point; by its place among them.
    pub(super) fn beside(&self, point: u32, place: usize, other: u32) -> Option<u32> {
        let (backdrop, own) = self.split(point);
        let mut faults = self.backdrops[backdrop].faults.clone();
        *faults.get_mut(place)? = other;
        let lasts = |b: &Backdrop| b.faults == faults && b.then.is_empty();
        Some(self.at(self.backdrops.iter().position(lasts)?, own))
    }
}

#[cfg(test)]
mod tests;
