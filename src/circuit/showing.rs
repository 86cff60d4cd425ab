//! What a person sees, hears or feels of a part, computed from the circuit.
//!
//! A showing's level is compared with thresholds that scatter (lognormal, from the catalogue); a counting input's
//! thresholds scatter together. The scatter is integrated over [`QUANTILES`] equal shares.

mod chances;
mod flash;
mod pulses;

pub(super) use chances::lamp_words;
pub(crate) use chances::normal;
use chances::{above, mixture, moved, two, word_moves};
pub(super) use chances::{named, split};

use super::coupling::pickup::Scene;
use super::injury::{Change, Injury, law_after};
use super::lower::rating;
use super::schematic::{ElementId, Law, When};
use super::sim::{Outcome, Sim, StateSpec};
use super::state;
use crate::catalogue::kind::{LevelOf, Measure, NeedleOf};
use crate::catalogue::{Catalogue, Kind, Showing};
use crate::netlist::{Netlist, Part};
use crate::text::problem::Problem;

/// A needle is seen to move from this share of its scale on.
pub const JUST_VISIBLE: f64 = 0.03;
/// A switched-on diode passes at least this, A.
const DARK_AMPS: f64 = 1e-4;
/// Scatter of the least current that moves a gauge's needle, in ln (common practice, no source).
pub(super) const NEEDS_SPREAD: f64 = 0.1;
/// Standard deviation of ln(pull-in) and ln(drop-out) of coils (common practice, no source).
pub(super) const COIL_SPREAD: f64 = 0.1;
/// Standard deviation of ln(what an interrupter works at).
const WORKS_SPREAD: f64 = 0.08;
/// The same of a threshold whose height is known: none to speak of.
const KNOWN_SPREAD: f64 = 1e-3;

/// Words with their probabilities.
pub type Words = Vec<(String, f64)>;

/// A state of the machine under an injury, to be looked at.
#[derive(Clone, Copy)]
pub struct View<'a> {
    /// The circuit.
    pub sim: &'a Sim,
    /// The wiring.
    pub netlist: &'a Netlist,
    /// The rules.
    pub catalogue: &'a Catalogue,
    /// The state.
    pub spec: &'a StateSpec,
    /// What is wrong.
    pub injury: &'a Injury,
    /// It, solved.
    pub outcome: &'a Outcome,
}

/// Standard normal quantiles in the middle of equal shares.
const QUANTILES: [f64; 15] =
    [-1.834, -1.282, -0.967, -0.728, -0.524, -0.341, -0.168, 0.0, 0.168, 0.341, 0.524, 0.728, 0.967, 1.282, 1.834];

impl View<'_> {
    /// It, with the looms it lies in.
    fn pickup(&self) -> Scene<'_> {
        Scene {
            sim: self.sim,
            netlist: self.netlist,
            loom: &self.catalogue.wire.loom,
            injury: self.injury,
            outcome: self.outcome,
        }
    }

    /// What a part shows.
    pub fn showing(&self, part: &str) -> Result<Words, Problem> {
        let (part, kind, first) = self.look_at(part)?;
        let mut words = self.words(part, kind, first);
        // Two filaments in one lamp are seen as one light: the brighter counts.
        for other in kind.showings.iter().skip(1).filter(|other| other.words == first.words) {
            let brighter = self.words(part, kind, other);
            let lowest =
                |words: &Words| words.iter().find(|(w, _)| Some(w) == first.words.first()).map_or(0.0, |w| w.1);
            if lowest(&brighter) < lowest(&words) {
                words = brighter;
            }
        }
        Ok(words)
    }

    /// What a part shows in the sense of these words: a starter that "only clicks" is heard by its solenoid, though one
    /// looks at its motor.
    pub fn showing_as(&self, part: &str, said: &[String]) -> Result<Words, Problem> {
        let (found, kind, first) = self.look_at(part)?;
        let own = |other: &&Showing| {
            let meant = |word: &String| said.contains(word) && !first.words.contains(word);
            other.words != first.words && other.words.iter().any(meant)
        };
        match kind.showings.iter().skip(1).find(own) {
            Some(other) => Ok(self.words(found, kind, other)),
            None => self.showing(part),
        }
    }

    /// Where a needle stands, as a share of its scale (its scatter averaged out); `None` for what has no needle.
    pub fn deflection(&self, part: &str) -> Result<Option<f64>, Problem> {
        let (part, kind, showing) = self.look_at(part)?;
        let places = if showing.needle { self.deflections(part, kind, showing) } else { Vec::new() };
        Ok(showing.needle.then(|| places.iter().sum::<f64>() / places.len().max(1) as f64))
    }

    /// What is seen of a part between this view and a later one: moves-up, moves-down, steady.
    pub fn change(&self, later: &View<'_>, part: &str) -> Result<Words, Problem> {
        let (part, kind, showing) = self.look_at(part)?;
        let (up, down) = if showing.needle {
            let before = self.deflections(part, kind, showing);
            let after = later.deflections(part, kind, showing);
            let (mut up, mut down) = (0.0, 0.0);
            for (a, b) in before.iter().zip(&after) {
                let (more, less) = moved(*a, *b);
                up += more / before.len() as f64;
                down += less / before.len() as f64;
            }
            (up, down)
        } else {
            word_moves(&self.showing(&part.name)?, &later.showing(&part.name)?, &showing.words)
        };
        let words = [("moves-up", up), ("moves-down", down), ("steady", (1.0 - up - down).max(0.0))];
        Ok(words.into_iter().filter(|(_, p)| *p > 1e-9).map(|(word, p)| (word.to_string(), p)).collect())
    }

    fn look_at(&self, name: &str) -> Result<(&Part, &Kind, &Showing), Problem> {
        let part = state::part(self.netlist, name).ok_or_else(|| {
            let near = crate::text::words::nearest(name, self.netlist.parts.keys().map(String::as_str));
            let problem = Problem::whole(format!("no part is called {name}"));
            match near {
                Some(near) => problem.help(format!("nearest: {near}")),
                None => problem,
            }
        })?;
        if !part.fitted {
            return Err(Problem::whole(format!("{name} is not fitted")));
        }
        let kind = self.catalogue.kind(&part.kind);
        let kind = kind.ok_or_else(|| Problem::whole(format!("no kind is called {}", part.kind)))?;
        let showing = kind.showings.first();
        let showing = showing.ok_or_else(|| Problem::whole(format!("{name} shows nothing that can be watched")))?;
        Ok((part, kind, showing))
    }

    fn element(&self, part: &Part, name: &str) -> Option<ElementId> {
        self.sim.schematic().by_name.get(&format!("{}.{name}", part.name)).copied()
    }

    /// The element's law in this state, the injury done.
    pub fn law(&self, id: ElementId) -> &Law {
        let changes = self.spec.changes.iter().chain(&self.injury.changes);
        law_after(changes, id, &self.sim.schematic().elements[id].law).standing(self.settings())
    }

    /// A setting for each control.
    fn settings(&self) -> &[usize] {
        self.spec.steps.last().map_or(&[], Vec::as_slice)
    }

    /// Elements that are, or may have become, of a kind: so few that asking for the law of each is cheap. Ascending.
    fn elements_that(&self, is: fn(&Law) -> bool) -> impl Iterator<Item = ElementId> {
        let changed = move |id: ElementId| {
            let mut changes = self.spec.changes.iter().chain(&self.injury.changes);
            changes.any(|change| matches!(change, Change::Law(element, law) if *element == id && is(law)))
        };
        let mut become_so = self.spec.changes.iter().chain(&self.injury.changes);
        let become_so = become_so.any(|change| matches!(change, Change::Law(_, law) if is(law)));
        let elements = self.sim.schematic().elements.iter().enumerate();
        elements.filter(move |(id, element)| is(&element.law) || (become_so && changed(*id))).map(|(id, _)| id)
    }

    fn words(&self, part: &Part, kind: &Kind, showing: &Showing) -> Words {
        match &showing.by {
            Measure::Contact { of } => {
                let Some(id) = self.element(part, of) else { return Vec::new() };
                if matches!(self.law(id), Law::Contact { when: When::Coil { coil, .. }, .. } if self.clicks(*coil)) {
                    return vec![("chatters".to_string(), 1.0)];
                }
                two(showing, self.closed(id))
            }
            Measure::Pulled { of } => {
                let Some(id) = self.element(part, of) else { return Vec::new() };
                if self.clicks(id) {
                    return vec![("chatters".to_string(), 1.0)];
                }
                two(showing, self.pulled_in(id))
            }
            Measure::Fuse { of } => {
                let Some(id) = self.element(part, of) else { return Vec::new() };
                let blown = self.outcome.blown.contains(&id) || *self.law(id) == Law::Open;
                two(showing, if blown { 0.0 } else { 1.0 })
            }
            Measure::VoltsRatio { .. } | Measure::Level { .. } => self.phased(part, kind, showing),
            Measure::Flashes { .. } => self.flashes(part, kind, showing),
            Measure::AmpsShare { .. } | Measure::Pulses { .. } | Measure::Needle { .. } => {
                let levels = self.deflections(part, kind, showing);
                mixture(showing, &levels)
            }
        }
    }

    /// Chance that a contact is closed.
    fn closed(&self, id: ElementId) -> f64 {
        let yes = |closed: bool| if closed { 1.0 } else { 0.0 };
        match self.law(id) {
            Law::Contact { when, .. } => match when {
                When::Always => 1.0,
                When::Setting { control, closed } => {
                    let now = self.spec.steps.last().and_then(|step| step.get(*control));
                    yes(now.is_some_and(|now| closed.contains(now)))
                }
                When::Fuse { .. } => yes(!self.outcome.blown.contains(&id)),
                When::Coil { coil, make } => {
                    let in_now = self.pulled_in(*coil);
                    if *make { in_now } else { 1.0 - in_now }
                }
            },
            _ => 0.0,
        }
    }

    /// A coil finds no rest, or goes in and out with what flashes.
    fn clicks(&self, coil: ElementId) -> bool {
        let pulled = |level: &super::sim::Level| level.pulled.contains(&coil);
        let follows = self.outcome.levels.windows(2).any(|two| pulled(&two[0]) != pulled(&two[1]));
        self.outcome.chatters || follows
    }

    /// Chance that a coil has pulled in.
    fn pulled_in(&self, coil: ElementId) -> f64 {
        let law = self.law(coil);
        let pulled = self.outcome.pulled.contains(&coil);
        law.coil().map_or(0.0, |(pull_in, drop_out)| {
            above(
                self.pull(coil, law),
                if pulled { drop_out } else { pull_in } * self.height(coil),
                self.scatters(COIL_SPREAD),
            )
        })
    }

    /// What pulls at a coil's contacts, V, the winding that helps it counted.
    fn pull(&self, coil: ElementId, law: &Law) -> f64 {
        let own = self.volts_of(coil, |_| true).unwrap_or(0.0);
        let helper = law.helper().filter(|(with, _)| *self.law(*with) != Law::Open);
        let helped = helper.and_then(|(with, ratio)| Some(ratio * self.volts_of(with, |_| true)?));
        (own + helped.unwrap_or(0.0)).abs()
    }

    /// Mean volts over an element in the levels that are wanted; `None` if there are none.
    fn volts_of(&self, id: ElementId, wanted: impl Fn(&super::sim::Level) -> bool) -> Option<f64> {
        self.mean(wanted, |level| self.sim.element_volts(self.outcome, level, id))
    }

    fn mean(&self, wanted: impl Fn(&super::sim::Level) -> bool, value: impl Fn(usize) -> f64) -> Option<f64> {
        let (mut sum, mut share) = (0.0, 0.0);
        for (index, level) in self.outcome.levels.iter().enumerate().filter(|(_, level)| wanted(level)) {
            sum += level.share * value(index);
            share += level.share;
        }
        (share > 0.0).then(|| sum / share)
    }

    /// The level of a lamp, motor, horn or heater in the levels that are wanted.
    fn level(
        &self,
        part: &Part,
        kind: &Kind,
        showing: &Showing,
        wanted: impl Fn(&super::sim::Level) -> bool + Copy,
    ) -> f64 {
        match &showing.by {
            Measure::Level { what, of, rated } => {
                let Some(id) = self.element(part, of) else { return 0.0 };
                let volts = |level| self.sim.element_volts(self.outcome, level, id);
                let amps = |level| self.sim.element_amps(self.outcome, level, id);
                let mean = match what {
                    LevelOf::Volts => self.mean(wanted, |level| volts(level).abs()),
                    LevelOf::Amps => self.mean(wanted, |level| amps(level).abs()),
                    LevelOf::Watts => self.mean(wanted, |level| (volts(level) * amps(level)).abs()),
                };
                let rated = rated.as_ref().and_then(|param| param.value(|name| rating(part, kind, name)));
                mean.unwrap_or(0.0) / rated.filter(|rated| *rated > 0.0).unwrap_or(1.0)
            }
            Measure::VoltsRatio { of } => {
                let Some(id) = self.element(part, of) else { return 0.0 };
                let law = self.law(id);
                let rated = match law {
                    Law::Open => return 0.0,
                    Law::Filament { volts, .. } | Law::Motor { volts, .. } | Law::Interrupter { volts, .. } => *volts,
                    _ => rating(part, kind, "volts").unwrap_or(state::BENCH_VOLTS),
                };
                if matches!(law, Law::Interrupter { .. }) {
                    return self.closed_phase(id).0 / rated;
                }
                // Light and heat go with the mean square.
                let square = self.mean(wanted, |level| {
                    let dark = matches!(law, Law::Diode { .. })
                        && self.sim.element_amps(self.outcome, level, id).abs() < DARK_AMPS;
                    let volts = if dark { 0.0 } else { self.sim.element_volts(self.outcome, level, id) };
                    volts * volts
                });
                square.unwrap_or(0.0).max(0.0).sqrt() / rated
            }
            _ => 0.0,
        }
    }

    /// Volts over and amps through an interrupter while it is closed, whichever level drives it most.
    pub(super) fn closed_phase(&self, id: ElementId) -> (f64, f64) {
        let slow = matches!(self.law(id), Law::Interrupter { hertz, .. } if *hertz < 3.0);
        let closed = self
            .outcome
            .levels
            .iter()
            .enumerate()
            .filter(|(_, level)| if slow { level.slow_closed } else { level.fast_closed });
        closed.fold((0.0, 0.0), |(volts, amps), (index, _)| {
            let v = self.sim.element_volts(self.outcome, index, id).abs();
            let i = self.sim.element_amps(self.outcome, index, id).abs();
            (f64::max(volts, v), f64::max(amps, i))
        })
    }

    /// How many times as high as the rules say an element's thresholds lie in this machine.
    fn height(&self, id: ElementId) -> f64 {
        let heights = self.injury.draw.map(|draw| self.sim.heights(draw));
        heights.and_then(|heights| heights.get(id).copied()).unwrap_or(1.0)
    }

    /// What a threshold scatters by, where it does not lie at a known height.
    fn scatters(&self, spread: f64) -> f64 {
        if self.injury.draw.is_some() { KNOWN_SPREAD } else { spread }
    }

    /// Chance that an interrupter works with what it has: of volts and amps, those that it needs beside them.
    fn over(&self, id: ElementId, has: [(f64, f64); 2]) -> f64 {
        let height = self.height(id);
        let over = has.map(|(has, needs)| above(has, needs * height, self.scatters(WORKS_SPREAD)));
        over[0].min(over[1])
    }

    /// Chance that an interrupter chops; `None` for a showing of something else.
    fn works(&self, part: &Part, showing: &Showing) -> Option<f64> {
        let Measure::VoltsRatio { of } = &showing.by else { return None };
        let id = self.element(part, of)?;
        let Law::Interrupter { works_volts, works_amps, .. } = *self.law(id) else { return None };
        let (volts, amps) = self.closed_phase(id);
        Some(self.over(id, [(volts, works_volts), (amps, works_amps)]))
    }

    /// Words of what may flash: both halves of a slow interrupter are looked at.
    fn phased(&self, part: &Part, kind: &Kind, showing: &Showing) -> Words {
        let slow = self.outcome.levels.iter().any(|level| !level.slow_closed);
        let mut on = split(showing, self.level(part, kind, showing, |level| level.slow_closed || !slow));
        if let Some(works) = self.works(part, showing) {
            // What does not chop shows the lowest word, whatever its volts.
            on.iter_mut().for_each(|p| *p *= works);
            if let Some(lowest) = on.first_mut() {
                *lowest += 1.0 - works;
            }
            return named(showing, &on);
        }
        if !slow {
            return named(showing, &on);
        }
        let off = split(showing, self.level(part, kind, showing, |level| !level.slow_closed));
        // Both phases meet the same thresholds, so what they share they share at once.
        let steady: Vec<f64> = on.iter().zip(&off).map(|(a, b)| a.min(*b)).collect();
        let flashing = 1.0 - steady.iter().sum::<f64>();
        let mut words = named(showing, &steady);
        if flashing > 1e-9 {
            words.extend(self.flash_words().into_iter().map(|(word, p)| (word, p * flashing)));
        }
        words
    }

    /// Where a needle stands, 0 to 1, at each quantile of what scatters.
    fn deflections(&self, part: &Part, kind: &Kind, showing: &Showing) -> Vec<f64> {
        let one = |level: f64| vec![level.clamp(0.0, 1.05); QUANTILES.len()];
        match &showing.by {
            Measure::AmpsShare { of: [up, down], zero, full, needs } => {
                let amps = |name: &str| {
                    let id = self.element(part, name);
                    id.and_then(|id| self.mean(|_| true, |level| self.sim.element_amps(self.outcome, level, id)))
                        .unwrap_or(0.0)
                        .abs()
                };
                let (up, down) = (amps(up), amps(down));
                let both = up + down;
                let place = ((up / both - zero) / (full - zero)).clamp(0.0, 1.05);
                // What it takes to leave its rest scatters as everything does.
                let moves = |z: &f64| both > needs * (NEEDS_SPREAD * z).exp();
                QUANTILES.iter().map(|z| if moves(z) { place } else { 0.0 }).collect()
            }
            Measure::Needle { what, of, zero, full } => {
                let Some(id) = self.element(part, of) else { return one(0.0) };
                let turned =
                    self.injury.changes.iter().filter(|change| **change == Change::Reverse(id)).count() % 2 == 1;
                let sign = if turned { -1.0 } else { 1.0 };
                let amps = |level| sign * self.sim.element_amps(self.outcome, level, id);
                let mean = match what {
                    NeedleOf::Volts => self.volts_of(id, |_| true).map(|volts| sign * volts),
                    NeedleOf::Amps => self.mean(|_| true, amps),
                    NeedleOf::Heat => self.mean(|_| true, |level| amps(level) * amps(level)).map(f64::sqrt),
                };
                let figure = |param: &crate::catalogue::Param| param.value(|name| rating(part, kind, name));
                let place =
                    figure(zero).zip(figure(full)).map(|(zero, full)| (mean.unwrap_or(0.0) - zero) / (full - zero));
                one(place.filter(|place| place.is_finite()).unwrap_or(0.0))
            }
            Measure::Pulses { .. } => {
                let gauge = pulses::Gauge::of(self, part, kind, &showing.by);
                gauge.map_or_else(
                    || one(0.0),
                    |gauge| QUANTILES.iter().map(|z| gauge.deflection(*z).clamp(0.0, 1.05)).collect(),
                )
            }
            _ => one(self.level(part, kind, showing, |_| true)),
        }
    }
}
