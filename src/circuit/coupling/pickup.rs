//! What a point of a solved circuit picks up from the wires that a fast contact chops.
//!
//! A wire that something drives is taken not to be disturbed by its loom: the machine worked once. Two cases remain:
//! wires that a fault says lie too close ([`Injury::coupled`]), and a line that has lost what drove it. All is linear
//! and small beside the solved levels, so it is laid over them and moves no contact.

use super::{Back, Lie, PerMetre, induced, radius, ramped};
use crate::catalogue::tables::LoomData;
use crate::circuit::injury::{Injury, law_after};
use crate::circuit::schematic::{Law, Node};
use crate::circuit::sim::{Outcome, Sim};
use crate::netlist::{Loom, Netlist, Wire};

/// A wire whose current changes by less is not one that chops, A.
const CHOPS: f64 = 0.1;
/// Interrupters slower than this are read phase by phase, Hz.
const FAST: f64 = 3.0;
/// Share of a point's volts that an end of a wire must hand on to count as its line.
const ITS_LINE: f64 = 0.5;

/// A circuit under an injury, solved, with the looms it lies in.
#[derive(Clone, Copy)]
pub struct Scene<'a> {
    /// The circuit.
    pub sim: &'a Sim,
    /// The wiring.
    pub netlist: &'a Netlist,
    /// How wires lie in a loom.
    pub loom: &'a LoomData,
    /// What is wrong.
    pub injury: &'a Injury,
    /// It, solved.
    pub outcome: &'a Outcome,
}

/// Two levels that differ by a fast contact alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Break {
    /// The level with the contact closed.
    pub closed: usize,
    /// The level with it open.
    pub open: usize,
}

/// A wire that picks up, and the one that it picks up from.
#[derive(Clone, Copy, Debug)]
struct Pair<'a> {
    victim: &'a Wire,
    chops: &'a Wire,
    /// Both run over metal.
    metal: bool,
    /// Metres side by side.
    run: f64,
}

/// What reaches two points over one break, before any frequency or time is put in.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Reach {
    /// V at the points for each A/s, times the amps that are chopped: Vs.
    flux: f64,
    /// F between the wires.
    between: f64,
    /// F beside the ohms.
    beside: f64,
    /// ohm from the line to the ground.
    ohms: f64,
    /// Share of the line's volts that the points see.
    share: f64,
    /// V by which the wire that chops moves.
    swing: f64,
}

impl<'a> Scene<'a> {
    /// Levels that differ by a fast contact alone.
    pub fn breaks(&self) -> Vec<Break> {
        let levels = &self.outcome.levels;
        let mut out = Vec::new();
        for (closed, a) in levels.iter().enumerate().filter(|(_, level)| level.fast_closed) {
            let other = |b: &crate::circuit::sim::Level| {
                !b.fast_closed && b.pulse_high == a.pulse_high && b.slow_closed == a.slow_closed
            };
            if let Some(open) = levels.iter().position(other) {
                out.push(Break { closed, open });
            }
        }
        out
    }

    /// Highest volts that a break puts between two points for some microseconds. What inductance and capacitance do
    /// adds at the near end of a line and opposes at its far end; which end it is nobody has said, so: in quadrature.
    pub fn kick(&self, at: Break, red: Node, black: Node) -> f64 {
        let reach = self.reach(at, red, black);
        let by_amps = induced(reach.flux, 1.0, self.loom.edge);
        let by_volts = reach.share * ramped(reach.between, reach.beside, reach.ohms, self.loom.kick, self.loom.edge);
        by_amps.hypot(by_volts)
    }

    /// Volts (rms) that an AC range meets between two points beside what the levels themselves swing by.
    pub fn ripple(&self, red: Node, black: Node) -> f64 {
        let mut square = 0.0;
        for at in self.breaks() {
            let reach = self.reach(at, red, black);
            if reach == Reach::default() {
                continue;
            }
            let [on, off] = [at.closed, at.open].map(|level| self.outcome.levels[level].share);
            let hertz = self.hertz(at);
            let duty = on / (on + off).max(1e-12);
            // A square wave's harmonics, as far as the range sees them.
            for n in (1..=1000).map(f64::from).take_while(|n| n * hertz <= self.loom.bandwidth) {
                let part = 2.0 / (n * std::f64::consts::PI) * (n * std::f64::consts::PI * duty).sin().abs();
                let omega = std::f64::consts::TAU * n * hertz;
                let by_amps = omega * reach.flux;
                let slow = 1.0 + (omega * reach.ohms * (reach.between + reach.beside)).powi(2);
                let by_volts = reach.share * omega * reach.between * reach.ohms * reach.swing / slow.sqrt();
                square += (on + off) * part * part * (by_amps * by_amps + by_volts * by_volts) / 2.0;
            }
        }
        square.sqrt()
    }

    /// Hertz of the fast contact that breaks most.
    fn hertz(&self, at: Break) -> f64 {
        let elements = self.sim.schematic().elements.iter().enumerate();
        let fast = elements.filter_map(|(id, element)| match law_after(self.injury.changes.iter(), id, &element.law) {
            Law::Interrupter { hertz, .. } if *hertz >= FAST => {
                Some((self.sim.element_amps(self.outcome, at.closed, id).abs(), *hertz))
            }
            _ => None,
        });
        fast.max_by(|a, b| a.0.total_cmp(&b.0)).map_or(0.0, |(_, hertz)| hertz)
    }

    fn reach(&self, at: Break, red: Node, black: Node) -> Reach {
        let mut all = Reach::default();
        for pair in self.pairs(at, red, black) {
            self.add(&mut all, at, pair, red, black);
        }
        all
    }

    /// The pairs that count for these points.
    fn pairs(&self, at: Break, red: Node, black: Node) -> Vec<Pair<'a>> {
        let wires = &self.netlist.wires;
        let mut out = Vec::new();
        for coupled in &self.injury.coupled {
            let [Some(a), Some(b)] = coupled.map(|id| wires.values().find(|wire| wire.links[1].index() == id)) else {
                continue;
            };
            // The one that is chopped disturbs the other.
            let (victim, chops) = if self.chopped(at, a) > self.chopped(at, b) { (b, a) } else { (a, b) };
            let loom = self.netlist.looms.values().find(|loom| has(loom, victim) && has(loom, chops));
            let run = victim.length.min(chops.length).min(loom.and_then(|loom| loom.run).unwrap_or(f64::INFINITY));
            out.push(Pair { victim, chops, metal: loom.is_some_and(|loom| loom.lies_on.is_some()), run });
        }
        if self.sim.source_ohms(self.outcome, at.open, red, black) <= self.loom.floats_above {
            return out;
        }
        let Some(felt) = self.sim.answer(self.outcome, at.open, red, black) else { return out };
        for loom in self.netlist.looms.values() {
            let wires: Vec<&Wire> = loom.wires.iter().filter_map(|name| wires.get(name)).collect();
            let lines: Vec<&Wire> = wires.iter().filter(|wire| self.hangs(at, wire, red, &felt)).copied().collect();
            if lines.is_empty() {
                continue;
            }
            let worst = wires.iter().map(|wire| (self.chopped(at, wire), *wire)).max_by(|a, b| a.0.total_cmp(&b.0));
            let Some((_, chops)) = worst.filter(|(amps, _)| *amps > CHOPS) else { continue };
            for victim in lines {
                let named = |pair: &Pair<'_>| pair.victim.name == victim.name;
                if !out.iter().any(named) {
                    let run = victim.length.min(loom.run.unwrap_or(f64::INFINITY));
                    out.push(Pair { victim, chops, metal: loom.lies_on.is_some(), run });
                }
            }
        }
        out
    }

    /// Amps by which a wire's current changes when the contact breaks.
    fn chopped(&self, at: Break, wire: &Wire) -> f64 {
        let amps = |level| self.sim.element_amps(self.outcome, level, wire.links[1].index());
        (amps(at.closed) - amps(at.open)).abs()
    }

    /// The wire hands on its volts to the point, and nothing drives it. `felt`: what all nodes get of an amp at the
    /// points.
    fn hangs(&self, at: Break, wire: &Wire, red: Node, felt: &[f64]) -> bool {
        // What gets less cannot have so many ohms to the ground and hand on so much.
        let zero = self.sim.schematic().zero;
        let enough = |end: Node| (felt[end] - felt[zero]).abs() > ITS_LINE * self.loom.floats_above;
        if !wire.ends.iter().any(|end| enough(end.index())) {
            return false;
        }
        let (_, share, ohms) = self.line(at, wire, red, felt);
        share > ITS_LINE && ohms > self.loom.floats_above
    }

    /// The end of a wire that the points hang on: the end, the share of its volts that they see, ohms to the ground.
    fn line(&self, at: Break, wire: &Wire, red: Node, felt: &[f64]) -> (Node, f64, f64) {
        let zero = self.sim.schematic().zero;
        let ends = wire.ends.map(|end| {
            let end = end.index();
            let ohms = self.sim.source_ohms(self.outcome, at.open, end, zero);
            if !ohms.is_finite() || ohms <= 0.0 || self.sim.floating(self.outcome, at.open, end, red) {
                return (end, 0.0, 0.0);
            }
            (end, ((felt[end] - felt[zero]) / ohms).abs(), ohms)
        });
        if ends[0].1 >= ends[1].1 { ends[0] } else { ends[1] }
    }

    fn add(&self, all: &mut Reach, at: Break, pair: Pair<'_>, red: Node, black: Node) {
        let Some(felt) = self.sim.answer(self.outcome, at.open, red, black) else { return };
        let per_metre = self.per_metre(&pair);
        let (victim, chops) = (pair.victim, pair.chops);
        let copper = victim.links[1].index();
        let whole = self.sim.element_present(self.outcome, at.open, copper);
        let run = if whole { pair.run } else { 0.5 * pair.run };
        if let Law::Resistor { ohms } =
            *law_after(self.injury.changes.iter(), copper, &self.sim.schematic().elements[copper].law)
            && whole
            && ohms > 0.0
        {
            let [a, b] = victim.ends.map(|end| felt[end.index()]);
            let handed = (a - b).abs() / ohms;
            all.flux += handed * per_metre.mutual * run * self.chopped(at, chops);
        }
        let (_, share, ohms) = self.line(at, victim, red, &felt);
        if share > 0.0 && self.chopped(at, chops) > CHOPS {
            let zero = self.sim.schematic().zero;
            let volts = |level| {
                let [a, b] = chops.ends.map(|end| self.sim.volts(self.outcome, level, end.index(), zero));
                0.5 * (a + b)
            };
            all.between += per_metre.between * run;
            all.beside += per_metre.to_back[0] * run;
            all.ohms = all.ohms.max(ohms);
            all.share = all.share.max(share);
            all.swing = all.swing.max((volts(at.closed) - volts(at.open)).abs());
        }
    }

    fn per_metre(&self, pair: &Pair<'_>) -> PerMetre {
        let radii = [radius(pair.victim.area), radius(pair.chops.area)];
        let loom = self.loom;
        let back = if pair.metal {
            Back::Metal { height: [loom.height; 2] }
        } else {
            Back::Wire { radius: radii[1], away: [loom.return_apart; 2] }
        };
        Lie { radius: radii, apart: loom.apart, back }.per_metre(loom.permittivity)
    }
}

fn has(loom: &Loom, wire: &Wire) -> bool {
    loom.wires.contains(&wire.name)
}
