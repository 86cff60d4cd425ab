//! How fast a flasher flashes, and what that makes of a lamp.

use super::{View, Words, above};
use crate::catalogue::kind::Measure;
use crate::catalogue::{Kind, Param, Showing};
use crate::circuit::lower::rating;
use crate::circuit::schematic::{ElementId, Law};
use crate::netlist::Part;

/// Below this a flasher carries nothing worth the name, A.
const NOTHING: f64 = 1e-3;
/// Nor does a bimetal below this share of its rated amps: no lamp glows at that, the smallest tell-tale takes twice as
/// much. It is what runs round two feeds that touch behind it (common practice, no source).
const NOTHING_OF_RATED: f64 = 0.02;
/// Interrupters slower than this are seen, a second.
const SEEN: f64 = 3.0;
/// Flashes a minute that count as normal: 60 to 120 (FMVSS 108 and SAE J590).
const NORMAL: [f64; 2] = [60.0, 120.0];
/// Scatter of what people call slow and fast (common practice, no source).
const RATE_SPREAD: f64 = 0.08;
/// How a bimetal's rate nears nothing towards the amps that it works at: 1 less their ratio to this power.
const BIMETAL: i32 = 4;

/// A flasher at work.
struct Flashing {
    amps: f64,
    /// Amps below which it shows nothing.
    nothing: f64,
    /// Chance that it chops.
    works: f64,
    /// Flashes a minute if it does.
    rate: f64,
    at: Vec<f64>,
    spread: Vec<f64>,
}

impl View<'_> {
    /// What a flasher shows: none, steady, then words by rate.
    pub(super) fn flashes(&self, part: &Part, kind: &Kind, showing: &Showing) -> Words {
        let Measure::Flashes { of, .. } = &showing.by else { return Vec::new() };
        let flashing = self.element(part, of).and_then(|id| self.flashing(id, Some((part, kind, showing))));
        let mut chances = vec![0.0; showing.words.len()];
        match flashing.filter(|flashing| flashing.amps > flashing.nothing) {
            None => chances[0] = 1.0,
            Some(flashing) => {
                chances[1] = 1.0 - flashing.works;
                for (chance, p) in chances[2..].iter_mut().zip(flashing.by_rate()) {
                    *chance = p * flashing.works;
                }
            }
        }
        super::named(showing, &chances)
    }

    /// What a lamp that flashes is called, by the rate of the flasher that carries most.
    pub(super) fn flash_words(&self) -> Words {
        let slow = self.elements_that(|law| matches!(law, Law::Interrupter { hertz, .. } if *hertz < SEEN));
        let flashing = slow.filter_map(|id| {
            let part = self.sim.schematic().elements[id].part.as_ref();
            let owner = part.and_then(|part| self.netlist.parts.get(part));
            let owner = owner.and_then(|part| Some((part, self.catalogue.kind(&part.kind)?)));
            let told = owner.and_then(|(part, kind)| {
                let of_it = |showing: &&Showing| match &showing.by {
                    Measure::Flashes { of, .. } => self.element(part, of) == Some(id),
                    _ => false,
                };
                Some((part, kind, kind.showings.iter().find(of_it)?))
            });
            self.flashing(id, told)
        });
        let most = flashing.filter(|flashing| flashing.works > 0.0).max_by(|a, b| a.amps.total_cmp(&b.amps));
        let Some(flashing) = most else { return vec![("flashing".to_string(), 1.0)] };
        let by_rate = flashing.by_rate();
        let words = ["slow-flash", "flashing", "fast-flash"];
        words.into_iter().zip(by_rate).filter(|(_, p)| *p > 1e-9).map(|(word, p)| (word.to_string(), p)).collect()
    }

    /// An interrupter as its part's showing tells of it; `None` for what is no interrupter any more.
    fn flashing(&self, id: ElementId, told: Option<(&Part, &Kind, &Showing)>) -> Option<Flashing> {
        let Law::Interrupter { hertz, works_volts, works_amps, .. } = *self.law(id) else { return None };
        let (volts, amps) = self.closed_phase(id);
        let works = self.over(id, [(volts, works_volts), (amps, works_amps)]);
        let (mut rate, mut nothing) = (60.0 * hertz, NOTHING);
        let (mut at, mut spread) = (NORMAL.to_vec(), vec![RATE_SPREAD; 2]);
        if let Some((part, kind, showing)) = told {
            (at, spread) = (showing.at.clone(), showing.spread.clone());
            if let Measure::Flashes { rated, fast_below, fast, .. } = &showing.by {
                let figure = |param: &Option<Param>| {
                    param.as_ref().and_then(|param| param.value(|name| rating(part, kind, name)))
                };
                let rated = figure(rated);
                nothing = nothing.max(NOTHING_OF_RATED * rated.unwrap_or(0.0));
                let works_amps = works_amps * self.height(id);
                if let Some(rated) = rated.filter(|rated| *rated > works_amps) {
                    let heat = |amps: f64| (1.0 - (works_amps / amps.max(NOTHING)).powi(BIMETAL)).max(0.0);
                    rate *= heat(amps) / heat(rated);
                }
                if figure(fast_below).is_some_and(|below| amps < below) {
                    rate *= fast;
                }
            }
        }
        Some(Flashing { amps, nothing, works, rate, at, spread })
    }
}

impl Flashing {
    /// Chance of each word by rate, the slowest first.
    fn by_rate(&self) -> Vec<f64> {
        let mut over = vec![1.0];
        for (at, spread) in self.at.iter().zip(&self.spread) {
            let p = above(self.rate, *at, *spread);
            over.push(p.min(over.last().copied().unwrap_or(1.0)));
        }
        over.push(0.0);
        over.windows(2).map(|pair| pair[0] - pair[1]).collect()
    }
}
