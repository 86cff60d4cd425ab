//! Several faults at once: what else may be wrong with the machine besides the fault that a suspect stands for.
//!
//! A backdrop is a fault, or two, that the machine has besides. Every severity point of every suspect is weighed once
//! more before it, in a circuit with all of them in it; a suspect before a backdrop is a pair, before one of two a triple.
//! What was put right in vain may have been one of several faults: a backdrop that lasts until then and one that stays, as
//! the repair may have missed, are opened for it ([`Runs::open`]). Whatever nobody thinks of costs nothing.

use super::enumerate::Suspects;
use super::machine::Machine;
use super::memory::Blown;
use super::runs::{Key, Runs, spared};
use super::suspect::{Suspect, What};
use super::visible::{hurt, unfelt};
use crate::catalogue::Weights;
use crate::circuit::fault::{Fault, Single};
use crate::circuit::meter;
use crate::circuit::sim::{Outcome, StateId};
use crate::circuit::state::states_of;
use crate::circuit::test::Test;
use crate::netlist::Netlist;
use petgraph::graph::NodeIndex;
use std::collections::HashSet;
use std::rc::Rc;

/// Amps through a segment below which resistance in it changes nothing that an instrument shows:
/// 50 ohm × 20 µA is 1 mV.
const QUIET: f64 = 2e-5;
/// No more backdrops than this are kept in one chase: each is as many points again as there are suspects' own.
const MOST: usize = 24;
/// No more faults than this at once.
const DEEP: usize = 3;

/// What may be wrong besides.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Backdrop {
    /// Severity points, of suspects alone, of the faults that are there as well.
    pub faults: Vec<u32>,
    /// From these steps of the machine's memory on it is as another backdrop, one fault having been put right.
    pub then: Vec<(usize, usize)>,
}

/// Something that was put right in vain and may have been one of several faults.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Righted {
    /// The severity point.
    pub point: u32,
    /// From this step of the machine's memory on it is away.
    pub from: usize,
}

impl Runs {
    /// Are several faults at once thought of?
    pub fn several(&self) -> bool {
        self.backdrops.len() > 1
    }

    /// Severity points of suspects alone.
    fn alone(&self) -> usize {
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

    /// What acts just as a point does in a state, found without solving its circuit: `Some(None)` is the sound machine. A
    /// resistance where nothing flows changes nothing.
    pub(super) fn like(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        (state, point, blown): Key,
    ) -> Option<Option<u32>> {
        let (backdrop, own) = self.split(point);
        let base = match self.backdrops[backdrop].faults[..] {
            [] => None,
            [only] => Some(only),
            _ => return None,
        };
        let suspect = &suspects.list[self.points[own as usize].suspect];
        if suspect.special() {
            return Some(base);
        }
        if self.quiet_in(machine, suspects, (state, base.unwrap_or(own), blown), base.is_some(), own) {
            return Some(base);
        }
        let base = base?;
        // Where what else is wrong stands near a threshold by itself, or finds no rest, the suspect's own fault is left
        // out: many times the work for what is uncertain anyway.
        let alone = self.outcome_with(machine, suspects, state, base, blown);
        if alone.chatters || !alone.near.is_empty() {
            return Some(Some(base));
        }
        // What else is wrong may be where nothing flows with this one.
        self.quiet_in(machine, suspects, (state, own, blown), true, base).then_some(Some(own))
    }

    /// Is a point nothing but resistance where no current flows in a state, in any level? In the circuit of another point,
    /// or in the sound machine.
    fn quiet_in(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        (state, other, blown): Key,
        hurt: bool,
        point: u32,
    ) -> bool {
        let at = self.points[point as usize];
        let What::Series(segment) = suspects.list[at.suspect].what else { return false };
        if at.severity.is_none() {
            return false;
        }
        let key = (hurt.then_some((state, other, blown)), state, segment);
        if let Some(&known) = self.quiet.get(&key) {
            return known;
        }
        let Some(link) = suspects.segments[segment].links.first().copied() else { return false };
        let outcome = match hurt {
            true => self.outcome_with(machine, suspects, state, other, blown),
            false => self.healthy(machine, state),
        };
        // A coil that is held in may hang on earlier steps, where current may well have flowed.
        let quiet = outcome.pulled.is_empty()
            && (0..outcome.levels.len())
                .all(|level| machine.sim.element_amps(&outcome, level, link.index()).abs() < QUIET);
        self.quiet.insert(key, quiet);
        quiet
    }

    /// The point that reads the same in a state at the step that is asked from and is computed first; itself if there is
    /// none. `whole` is the point of the machine in which nothing is broken; `part` what is looked at, if no meter reads.
    pub(super) fn reads_as(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        (state, part): (StateId, Option<&str>),
        point: u32,
        whole: Option<u32>,
    ) -> u32 {
        let point = self.stand_in(machine, suspects, state, point);
        let acting = self.acting(point);
        let blown = self.blown(machine, suspects, point);
        if self.split(acting).0 == 0 && suspects.list[self.points[acting as usize].suspect].special() {
            return point;
        }
        match self.like(machine, suspects, (state, acting, blown)) {
            Some(None) => whole.unwrap_or(point),
            Some(Some(other)) if self.left(machine, suspects, other, blown) => other,
            Some(Some(_)) => point,
            None => {
                part.and_then(|part| self.looks_as(machine, suspects, (state, acting, blown), part)).unwrap_or(point)
            }
        }
    }

    /// The one of two faults of a point that a part looks the same with alone, as no current meets the other.
    fn looks_as(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        (state, acting, blown): Key,
        part: &str,
    ) -> Option<u32> {
        let (backdrop, own) = self.split(acting);
        let [base] = self.backdrops[backdrop].faults[..] else { return None };
        [(base, own), (own, base)].into_iter().find_map(|(there, other)| {
            let injury = self.injury_of(machine, suspects, other);
            let alone = self.left(machine, suspects, there, blown) && !hurt(machine, &injury, part) && {
                let outcome = self.outcome_with(machine, suspects, state, there, blown);
                unfelt(machine, &outcome, &spared(machine, state, injury))
            };
            alone.then_some(there)
        })
    }

    /// What else is wrong with a point, if that is one fault and no current meets the point's own in a state.
    pub(super) fn unmoved(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        (state, acting, blown): Key,
    ) -> Option<u32> {
        let (backdrop, own) = self.split(acting);
        let [base] = self.backdrops[backdrop].faults[..] else { return None };
        let injury = self.injury_of(machine, suspects, own);
        let alone = self.left(machine, suspects, base, blown) && {
            let outcome = self.outcome_with(machine, suspects, state, base, blown);
            unfelt(machine, &outcome, &spared(machine, state, injury))
        };
        alone.then_some(base)
    }

    /// Has a point left just these fuses blown?
    fn left(&mut self, machine: &Machine, suspects: &Suspects, point: u32, blown: Blown) -> bool {
        self.blown(machine, suspects, point) == blown
    }

    /// The same of an instrument that drives a current itself, at the step that is asked from: what no current of its
    /// meets, it does not read. `test` goes by a number.
    pub(super) fn unmet_by(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        (number, test): (usize, &Test),
        point: u32,
        whole: Option<u32>,
    ) -> u32 {
        let point = self.now(machine, suspects, point);
        let (backdrop, own) = self.split(point);
        let base = match self.backdrops[backdrop].faults[..] {
            [] => whole,
            [only] => Some(only),
            _ => None,
        };
        let Some(base) = base.filter(|base| *base != point) else { return point };
        if suspects.list[self.points[own as usize].suspect].special() {
            return if backdrop == 0 { point } else { base };
        }
        let blown = self.blown(machine, suspects, point);
        let mut unmet = |runs: &mut Runs, driven: u32, other: u32| {
            blown == runs.blown(machine, suspects, driven) && {
                let outcomes = runs.driven(machine, suspects, (number, test), driven);
                let injury = runs.injury_of(machine, suspects, other);
                !outcomes.is_empty() && outcomes.iter().all(|outcome| machine.sim.idle(outcome, &injury))
            }
        };
        if unmet(self, base, own) {
            base
        } else if backdrop > 0 && unmet(self, own, base) {
            own
        } else {
            point
        }
    }

    /// The circuit of a point as an instrument makes it, see [`meter::driven`].
    fn driven(
        &mut self,
        machine: &mut Machine,
        suspects: &Suspects,
        (number, test): (usize, &Test),
        point: u32,
    ) -> Rc<Vec<Outcome>> {
        let key = (number, point, self.blown(machine, suspects, point));
        if let Some(known) = self.driven.get(&key) {
            return known.clone();
        }
        let injury = self.injury_of(machine, suspects, point);
        let specs = states_of(machine.sim.schematic(), &machine.netlist, test).unwrap_or_default();
        let found = specs.first().map_or_else(Vec::new, |spec| {
            let state = machine.state(spec);
            let injury = spared(machine, state, injury);
            meter::driven(&machine.sim, &machine.netlist, &machine.catalogue, test, state, &injury)
        });
        let found = Rc::new(found);
        self.driven.insert(key, found.clone());
        found
    }

    /// Forgets the circuits of instruments from this number on: another may be given it.
    pub(super) fn forget_driven(&mut self, from: usize) {
        self.driven.retain(|(number, ..), _| *number < from);
    }

    /// The backdrop of a point in which one of its faults, and no more, is another point; by its place among them.
    pub(super) fn beside(&self, point: u32, place: usize, other: u32) -> Option<u32> {
        let (backdrop, own) = self.split(point);
        let mut faults = self.backdrops[backdrop].faults.clone();
        *faults.get_mut(place)? = other;
        let lasts = |b: &Backdrop| b.faults == faults && b.then.is_empty();
        Some(self.at(self.backdrops.iter().position(lasts)?, own))
    }

    /// Thinks of what was put right in vain as one of several faults: opens the backdrops that it makes, those in which
    /// the repair missed with them. Each has all suspects before it; whose places or work are the same are likelier.
    pub fn open(&mut self, netlist: &Netlist, weights: &Weights, suspects: &Suspects, righted: Righted) {
        let Righted { point, from } = righted;
        let (before, own) = self.split(point);
        let history = self.backdrops[before].clone();
        if history.faults.len() + 2 > DEEP || self.backdrops.len() + 2 > MOST || history.faults.contains(&own) {
            return;
        }
        let Some(first) = suspects.list.get(self.points[own as usize].suspect) else { return };
        let at = self.points[point as usize];
        let ln = first.prior.max(1e-300).ln() + at.ln_share;
        let second = |key: &str| weights.second.get(key).copied().unwrap_or(0.0);
        let shares = shares(netlist, suspects, first, [second("anywhere"), second("beside")]);
        // All of them, lasting: what it was until now, and what it is if the repair missed.
        let mut faults = history.faults.clone();
        faults.push(own);
        let taken: HashSet<&str> =
            faults.iter().map(|&at| suspects.list[self.points[at as usize].suspect].class.as_str()).collect();
        let shares: Vec<f64> = suspects
            .list
            .iter()
            .zip(shares)
            .map(|(suspect, share)| {
                let barred = suspect.what == What::NothingBroken || taken.contains(suspect.class.as_str());
                if barred { f64::NEG_INFINITY } else { ln + share }
            })
            .collect();
        let missed = second("missed").max(1e-300).ln();
        self.append(Backdrop { faults: faults.clone(), then: Vec::new() }, &shares, missed);
        // One after the other put right.
        let mut then = Vec::new();
        for &(step, backdrop) in &history.then {
            let mut left = self.backdrops[backdrop].faults.clone();
            left.push(own);
            then.push((step, self.lasting(left)));
        }
        let left = then.last().map_or(history.faults.clone(), |&(_, at)| self.backdrops[at].faults.clone());
        let left: Vec<u32> = left.into_iter().filter(|&at| at != own).collect();
        then.push((from, self.lasting(left)));
        self.append(Backdrop { faults, then }, &shares, 0.0);
    }

    /// The backdrop of these faults that lasts; a new one is nothing that anybody thinks of yet.
    fn lasting(&mut self, faults: Vec<u32>) -> usize {
        let known = self.backdrops.iter().position(|b| b.faults == faults && b.then.is_empty());
        known.unwrap_or_else(|| {
            let none = vec![f64::NEG_INFINITY; self.range.len()];
            self.append(Backdrop { faults, then: Vec::new() }, &none, 0.0);
            self.backdrops.len() - 1
        })
    }

    /// All suspects before one more backdrop; `shares`: ln of what to weigh each with beside its own prior.
    fn append(&mut self, backdrop: Backdrop, shares: &[f64], ln: f64) {
        for own in 0..self.alone() {
            let at = self.points[own];
            self.points.push(super::suspect::Point { ln_share: at.ln_share + shares[at.suspect] + ln, ..at });
        }
        self.backdrops.push(backdrop);
    }
}

/// ln of how likely each suspect is the second fault, beside its own prior: anywhere, or more likely beside the first.
fn shares(netlist: &Netlist, suspects: &Suspects, first: &Suspect, [anywhere, beside]: [f64; 2]) -> Vec<f64> {
    let places = owners(netlist, first);
    let near: Vec<bool> =
        suspects.list.iter().map(|other| owners(netlist, other).iter().any(|owner| places.contains(owner))).collect();
    let all: f64 = suspects.list.iter().zip(&near).filter(|(_, near)| **near).map(|(suspect, _)| suspect.prior).sum();
    let more = if all > 0.0 { beside / all } else { 0.0 };
    near.into_iter().map(|near| (anywhere + if near { more } else { 0.0 }).max(1e-300).ln()).collect()
}

/// Plugs and ground points that a suspect is at: whoever worked there may have erred twice.
fn owners<'a>(netlist: &'a Netlist, suspect: &'a Suspect) -> HashSet<&'a str> {
    let mut out = HashSet::new();
    let mut add = |name: &'a str| {
        let head = name.split('.').next().unwrap_or(name);
        let plug = [head, head.strip_suffix(['a', 'b']).unwrap_or(head)];
        let known =
            plug.into_iter().find(|name| netlist.plugs.contains_key(*name) || netlist.grounds.contains_key(*name));
        out.extend(known);
    };
    let singles = suspect.members.iter().flat_map(|member| &member.fault.singles);
    for site in singles.flat_map(|single: &Single| single.site.split('~')) {
        add(site);
        let wire =
            site.rsplit_once('.').and_then(|(wire, _)| netlist.wires.get(wire)).or_else(|| netlist.wires.get(site));
        if let Some(wire) = wire {
            let point = |node: NodeIndex| netlist.graph[node].name.as_str();
            add(point(wire.from));
            add(point(wire.to));
        }
    }
    out
}
