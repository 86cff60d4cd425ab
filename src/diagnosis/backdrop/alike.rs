//! Points that read as another that is solved anyway: what no current meets changes nothing.

use crate::circuit::meter;
use crate::circuit::sim::{Outcome, StateId};
use crate::circuit::state::states_of;
use crate::circuit::test::Test;
use crate::diagnosis::enumerate::Suspects;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::memory::Blown;
use crate::diagnosis::runs::{Key, Runs, spared};
use crate::diagnosis::suspect::What;
use crate::diagnosis::visible::{hurt, unfelt};
use std::rc::Rc;

/// Amps through a segment below which resistance in it changes nothing that an instrument shows:
/// 50 ohm × 20 µA is 1 mV.
const QUIET: f64 = 2e-5;

impl Runs {
    /// A point's twin that touches elsewhere along the same two nets and is solved first: while no plug is parted they
    /// do the same.
    pub(in crate::diagnosis) fn as_mated(
        &self,
        machine: &Machine,
        suspects: &Suspects,
        state: StateId,
        point: u32,
    ) -> u32 {
        let suspect = self.points[point as usize].suspect;
        let first = suspects.as_mated(suspect);
        if first == suspect || machine.parted(state) {
            return point;
        }
        point - self.range[suspect].0 as u32 + self.range[first].0 as u32
    }

    /// What acts just as a point does in a state, found without solving its circuit: `Some(None)` is the sound machine. A
    /// resistance where nothing flows changes nothing.
    pub(in crate::diagnosis) fn like(
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

    /// Has a circuit come to this without anything on the way? A coil that is held in, or a fuse that has opened, hangs on
    /// earlier steps, where current may well have flowed.
    fn at_once(&self, outcome: &Outcome, blown: Blown) -> bool {
        let before = self.memory.fuses(blown);
        outcome.pulled.is_empty() && outcome.blown.iter().all(|fuse| before.contains(fuse))
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
        let quiet = self.at_once(&outcome, blown)
            && (0..outcome.levels.len())
                .all(|level| machine.sim.element_amps(&outcome, level, link.index()).abs() < QUIET);
        self.quiet.insert(key, quiet);
        quiet
    }

    /// The point that reads the same in a state at the step that is asked from and is computed first; itself if there is
    /// none. `whole` is the point of the machine in which nothing is broken; `part` what is looked at, if no meter reads.
    pub(in crate::diagnosis) fn reads_as(
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
                self.at_once(&outcome, blown) && unfelt(machine, &outcome, &spared(machine, state, injury))
            };
            alone.then_some(there)
        })
    }

    /// What else is wrong with a point, if that is one fault and no current meets the point's own in a state.
    pub(in crate::diagnosis) fn unmoved(
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
            self.at_once(&outcome, blown) && unfelt(machine, &outcome, &spared(machine, state, injury))
        };
        alone.then_some(base)
    }

    /// Has a point left just these fuses blown?
    fn left(&mut self, machine: &Machine, suspects: &Suspects, point: u32, blown: Blown) -> bool {
        self.blown(machine, suspects, point) == blown
    }

    /// The same of an instrument that drives a current itself, at the step that is asked from: what no current of its
    /// meets, it does not read. `test` goes by a number.
    pub(in crate::diagnosis) fn unmet_by(
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
    pub(in crate::diagnosis) fn forget_driven(&mut self, from: usize) {
        self.driven.retain(|(number, ..), _| *number < from);
    }
}
