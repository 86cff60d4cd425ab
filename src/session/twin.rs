//! A simulated machine with a planted fault, to practise on and to drive chases without a bench.
//!
//! Its copper, loads and sources are drawn from their spreads, so that it is never quite the machine that the
//! chase computes with; the fault's severity is off the grid that suspects are weighed on. Pure: the same seed
//! gives the same machine and the same readings.

use super::event::SymptomInput;
use crate::catalogue::{Catalogue, Kind};
use crate::circuit::fault::resolve::resolve;
use crate::circuit::fault::{Fault, Single};
use crate::circuit::injury::{Injury, injure};
use crate::circuit::lower::ENGINE;
use crate::circuit::meter::{How, Observed, accuracy, observe, stirs};
use crate::circuit::schematic::{Law, Schematic};
use crate::circuit::sim::{FuseCurve, Sim};
use crate::circuit::state::against_the_engine;
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::diagnosis::kill;
use crate::diagnosis::machine::Machine;
use crate::diagnosis::visible::{self, Watcher};
use crate::netlist::Netlist;
use crate::text::problem::Problem;
use indexmap::IndexMap;

/// Draws for a simulated machine.
#[derive(Clone, Debug)]
pub struct Draw {
    rng: fastrand::Rng,
    /// Where the thresholds of each part's showings lie, drawn once: the same lamp looks the same twice.
    eyes: IndexMap<String, f64>,
}

impl Draw {
    /// Draws of this seed.
    pub fn new(seed: u64) -> Draw {
        Draw { rng: fastrand::Rng::with_seed(seed), eyes: IndexMap::new() }
    }

    /// A standard normal number (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.rng.f64()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.rng.f64()).cos()
    }

    /// A factor whose logarithm has this standard deviation, three of them at most.
    pub fn factor(&mut self, spread: f64) -> f64 {
        (spread * self.normal().clamp(-3.0, 3.0)).exp()
    }

    /// A number between two, evenly in its logarithm.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        if from <= 0.0 || to <= from {
            return from;
        }
        (from.ln() + (to.ln() - from.ln()) * self.rng.f64()).exp()
    }

    /// Every element's main value times a factor of its spread.
    pub fn machine(&mut self, healthy: &Schematic) -> Schematic {
        let mut drawn = healthy.clone();
        for element in &mut drawn.elements {
            let factor = self.factor(element.spread);
            element.law = element.law.clone().each(&|law| scale(law, factor));
        }
        drawn
    }

    /// The fault with severities off the grid: an argument that is a plain number is moved within a factor 1.6.
    pub fn severity(&mut self, fault: &Fault) -> Fault {
        let mut moved = fault.clone();
        for single in &mut moved.singles {
            if let [arg] = single.args.as_mut_slice()
                && moves(&single.mode)
                && let Ok(value) = arg.parse::<f64>()
            {
                *arg = format!("{:.4}", value * self.between(1.0 / 1.6, 1.6));
            }
        }
        moved
    }
}

/// Modes whose argument is a severity, not a rating or a place.
fn moves(mode: &str) -> bool {
    matches!(mode, "resistive" | "touching" | "weak")
}

fn scale(mut law: Law, factor: f64) -> Law {
    match &mut law {
        Law::Resistor { ohms }
        | Law::Coil { ohms, .. }
        | Law::Solenoid { ohms, .. }
        | Law::Contact { ohms, .. }
        | Law::PulseInput { ohms, .. }
        | Law::Interrupter { ohms, .. } => *ohms *= factor,
        Law::Source { volts, .. } | Law::Cell { volts, .. } => *volts *= factor,
        Law::Filament { amps, .. } | Law::Motor { amps, .. } => *amps *= factor,
        Law::Diode { saturation, .. } => *saturation *= factor,
        Law::PulseSource { high: Some(high), .. } => *high *= factor,
        Law::PulseSource { high: None, ohms, .. } => *ohms *= factor,
        // One factor for every setting, by `each`.
        Law::Open | Law::By { .. } => {}
    }
    law
}

/// How often what comes and goes does so where it is stirred, and from one reading to the next by itself.
const STIRRED: f64 = 0.6;
const BY_ITSELF: f64 = 0.04;

/// A machine with a fault in it, and a meter.
pub struct Twin {
    machine: Machine,
    planted: Fault,
    /// What is left of it.
    fault: Fault,
    injury: Injury,
    draw: Draw,
    /// Fuses that the fault has blown so far: they stay so.
    blown: Vec<String>,
    /// What comes and goes of the fault is there.
    there: bool,
}

impl Twin {
    /// Draws a machine from this wiring and plants the fault, its severity off the grid.
    ///
    /// # Errors
    ///
    /// What is wrong with the fault's name.
    pub fn new(netlist: &Netlist, catalogue: &Catalogue, fault: &Fault, seed: u64) -> Result<Twin, Vec<Problem>> {
        let mut draw = Draw::new(seed);
        let mut machine = Machine::new(netlist.clone(), catalogue.clone());
        let drawn = draw.machine(machine.sim.schematic());
        machine.sim = Sim::new(drawn, FuseCurve::from(&catalogue.fuses));
        let fault = draw.severity(&resolve(fault, netlist, catalogue)?);
        let injury = injure(machine.sim.schematic(), netlist, catalogue, &fault).map_err(|problem| vec![problem])?;
        Ok(Twin { machine, planted: fault.clone(), fault, injury, draw, blown: Vec::new(), there: true })
    }

    /// The planted fault with the severity that was drawn.
    pub fn planted(&self) -> &Fault {
        &self.planted
    }

    /// The readings of a test, first placement first, with the meter's own error and as its display shows them.
    ///
    /// # Errors
    ///
    /// What is wrong with the test.
    pub fn read(&mut self, test: &Test) -> Result<Vec<Reading>, Vec<Problem>> {
        let mut fault = self.now(test);
        let Machine { netlist, catalogue, sim, .. } = &mut self.machine;
        fault.singles.extend(self.blown.iter().map(|fuse| Single::new(fuse.clone(), "blown", &[])));
        let seen = observe(sim, netlist, catalogue, test, &fault, How::Afresh)?;
        for fuse in seen.iter().flat_map(|seen| &seen.blown) {
            if !self.blown.contains(fuse) {
                self.blown.push(fuse.clone());
            }
        }
        let eye = test.part.as_deref().unwrap_or_default();
        Ok(seen.into_iter().map(|seen| self.draw.shown(&seen.what, test.instrument, eye)).collect())
    }

    /// The fault as it is while this test is taken: what comes and goes of it does so by itself now and then, and more
    /// often than not where it is stirred.
    fn now(&mut self, test: &Test) -> Fault {
        let Machine { netlist, catalogue, .. } = &self.machine;
        let comes = |single: &Single| single.intermittent.is_some();
        if !self.fault.singles.iter().any(comes) {
            return self.fault.clone();
        }
        let stirred = test.disturb.as_ref().is_some_and(|(how, at)| {
            self.fault.singles.iter().any(|single| comes(single) && stirs(how, at, single, netlist, catalogue))
        });
        if self.draw.rng.f64() < if stirred { STIRRED } else { BY_ITSELF } {
            self.there = !self.there;
        }
        let there = self.there;
        let singles = self.fault.singles.iter().filter(|single| there || !comes(single));
        Fault { singles: singles.map(|single| Single { intermittent: None, ..single.clone() }).collect() }
    }

    /// New fuses, where any had blown: each stands for one of these names.
    pub fn replace(&mut self, fuses: &[String]) {
        self.blown.retain(|fuse| !fuses.contains(fuse));
    }

    /// The machine stands in these settings for a while: what blows there stays blown.
    fn stand(&mut self, symptom: &SymptomInput) {
        for set in symptom.states() {
            let test = Test { part: Some(symptom.part.clone()), ..Test::new(Instrument::Watch, &set) };
            let drawn = self.draw.clone();
            // A part that cannot be looked at blows nothing either.
            let _ = self.read(&test);
            self.draw = drawn;
        }
    }

    /// A symptom that a person would report: a needle that another control moves, else the first thing that shows
    /// otherwise than on a sound machine. `None`: nothing of this fault can be seen.
    pub fn symptom(&mut self) -> Option<SymptomInput> {
        let mut symptom = self.first_symptom()?;
        let duty = self.fault.singles.iter().find_map(|single| single.intermittent);
        symptom.comes_and_goes = duty.is_some();
        self.stand(&symptom);
        // Who comes with a meter finds it there or not.
        self.there = duty.is_none_or(|duty| self.draw.rng.f64() < duty);
        Some(symptom)
    }

    fn first_symptom(&mut self) -> Option<SymptomInput> {
        self.moving_needle().or_else(|| {
            let states = visible::states(&self.machine);
            let watcher = Watcher::new(&mut self.machine, states);
            // Somebody complains of the horn before he looks at its fuse.
            let complained = watcher.sights(&self.machine, &self.injury).find(|sight| !self.is_fuse(&sight.part));
            let sight = complained.or_else(|| watcher.first(&self.machine, &self.injury))?;
            Some(SymptomInput {
                part: sight.part,
                showings: vec![sight.shows],
                set: sight.set,
                ..SymptomInput::default()
            })
        })
    }

    fn is_fuse(&self, part: &str) -> bool {
        let kind = self.machine.netlist.parts.get(part).and_then(|part| self.machine.catalogue.kind(&part.kind));
        kind.is_some_and(Kind::is_fuse)
    }

    /// A needle that moves with a control which leaves it alone on the sound machine.
    fn moving_needle(&mut self) -> Option<SymptomInput> {
        for (part, set, change) in needle_changes(&mut self.machine) {
            let sound = visible::needle(&mut self.machine, &Injury::default(), &part, &set, &change);
            let Some(word) = visible::needle(&mut self.machine, &self.injury, &part, &set, &change) else { continue };
            if sound.as_deref() == Some(STEADY) && word != STEADY {
                return Some(SymptomInput {
                    part,
                    showings: vec![word],
                    set,
                    change: Some(change),
                    ..SymptomInput::default()
                });
            }
        }
        None
    }

    /// What is left of the planted fault when these are put right.
    fn without(&self, faults: &[String]) -> Fault {
        let Machine { netlist, catalogue, .. } = &self.machine;
        let named: Vec<Fault> = faults
            .iter()
            .filter_map(|name| Fault::parse(name).ok())
            .filter_map(|f| resolve(&f, netlist, catalogue).ok())
            .collect();
        // Mode and site count: a repair mends a bad contact however bad it is.
        let mends = |single: &Single| {
            named.iter().flat_map(|fault| &fault.singles).any(|s| s.site == single.site && s.mode == single.mode)
        };
        Fault { singles: self.fault.singles.iter().filter(|single| !mends(single)).cloned().collect() }
    }

    /// Puts these right: of what was planted they are gone. Fuses that blew stay so.
    pub fn repair(&mut self, faults: &[String]) {
        let left = self.without(faults);
        let Machine { netlist, catalogue, sim, .. } = &self.machine;
        if let Ok(injury) = injure(sim.schematic(), netlist, catalogue, &left) {
            (self.fault, self.injury) = (left, injury);
        }
    }

    /// Does a repair of these faults cure it? So it does if every planted fault that can be seen is among them.
    pub fn cured_by(&mut self, faults: &[String]) -> bool {
        let rest = self.without(faults);
        if rest.singles.is_empty() {
            return true;
        }
        !self.shows(&rest)
    }

    /// Can anything of a fault be seen on this machine, if it is the only one?
    pub fn shows(&mut self, fault: &Fault) -> bool {
        let Machine { netlist, catalogue, sim, .. } = &self.machine;
        let Ok(injury) = injure(sim.schematic(), netlist, catalogue, fault) else { return true };
        let states = visible::states(&self.machine);
        let watcher = Watcher::new(&mut self.machine, states);
        watcher.first(&self.machine, &injury).is_some()
    }
}

/// A needle that stays where it is.
const STEADY: &str = "steady";

/// Every needle with every control that another part has, key on and engine idling where there are such controls.
fn needle_changes(machine: &mut Machine) -> Vec<(String, Settings, (String, [String; 2]))> {
    let controls = &machine.sim.schematic().controls;
    let mut set: Settings = Vec::new();
    for (control, setting) in [("key", "on"), (ENGINE, "idling")] {
        if controls.get(control).is_some_and(|c| c.settings.iter().any(|s| s == setting)) {
            set.push((control.to_string(), setting.to_string()));
        }
    }
    let mut out = Vec::new();
    if against_the_engine(controls, &set) {
        return out;
    }
    let set = kill::running(machine, set);
    let controls = &machine.sim.schematic().controls;
    for part in machine.netlist.parts.values().filter(|part| part.fitted) {
        let Some(kind) = machine.catalogue.kind(&part.kind) else { continue };
        if !kind.showings.iter().any(|showing| showing.needle) {
            continue;
        }
        for (name, control) in controls {
            // A person's own controls: not the key, and nothing that the whole machine shares.
            if !machine.netlist.parts.contains_key(name) || set.iter().any(|(c, _)| c == name) {
                continue;
            }
            let Some((rest, others)) = control.settings.split_first() else { continue };
            for other in others {
                out.push((part.name.clone(), set.clone(), (name.clone(), [rest.clone(), other.clone()])));
            }
        }
    }
    out
}

/// The first ground point whose bad seat lets a control move a needle: the drill's fault if none is named. On a
/// machine without such a needle, the first one that more than one wire ends at and whose bad seat can be seen.
pub fn shared_ground(netlist: &Netlist, catalogue: &Catalogue) -> Option<Fault> {
    let mut machine = Machine::new(netlist.clone(), catalogue.clone());
    let bad = |ground: &str| Fault { singles: vec![Single::new(ground, "resistive", &["2"])] };
    let injuries: Vec<(&String, Injury)> = netlist
        .grounds
        .keys()
        .filter_map(|ground| {
            let injury = injure(machine.sim.schematic(), netlist, catalogue, &bad(ground)).ok()?;
            Some((ground, injury))
        })
        .collect();
    for (ground, injury) in &injuries {
        for (part, set, change) in needle_changes(&mut machine) {
            let sound = visible::needle(&mut machine, &Injury::default(), &part, &set, &change);
            let hurt = visible::needle(&mut machine, injury, &part, &set, &change);
            if sound.as_deref() == Some(STEADY) && hurt.is_some_and(|word| word != STEADY) {
                return Some(bad(ground));
            }
        }
    }
    let states = visible::states(&machine);
    let watcher = Watcher::new(&mut machine, states);
    // The seat itself is one link of the point's.
    let shared = |ground: &str| netlist.graph.edges(netlist.grounds[ground].point).count() > 2;
    let found = injuries.iter().find(|(ground, injury)| shared(ground) && watcher.seen(&machine, injury));
    found.map(|(ground, _)| bad(ground))
}

impl Draw {
    /// What a display shows, or a person says, of an observation.
    fn shown(&mut self, seen: &Observed, instrument: Instrument, part: &str) -> Reading {
        match seen {
            Observed::Number { value, step, .. } => {
                // The value is this machine's own; what is drawn here is only the meter's error.
                let noisy = value + accuracy(instrument, *value) * self.normal().clamp(-2.0, 2.0);
                Reading::Value { value: (noisy / step).round() * step, step: Some(*step) }
            }
            Observed::Range { from, to } => Reading::Range { from: *from, to: *to },
            Observed::Over => Reading::Over,
            Observed::Live => Reading::Live,
            Observed::Beeps(p) => Reading::Beeps(self.rng.f64() < *p),
            Observed::Showing(words) => {
                let rng = &mut self.rng;
                let mut left = *self.eyes.entry(part.to_string()).or_insert_with(|| rng.f64());
                let word = words.iter().find(|(_, p)| {
                    left -= p;
                    left <= 0.0
                });
                let word = word.or(words.last()).map_or_else(String::new, |(word, _)| word.clone());
                Reading::Showing(word)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_seeds_draw_two_machines_and_one_seed_one() {
        let draws =
            |seed| (0..4).map(|_| 0).scan(Draw::new(seed), |draw, _| Some(draw.factor(0.1))).collect::<Vec<_>>();
        assert_eq!(draws(1), draws(1));
        assert_ne!(draws(1), draws(2));
    }

    #[test]
    fn normal_numbers_have_mean_0_and_deviation_1() {
        let mut draw = Draw::new(7);
        let sample: Vec<f64> = (0..20_000).map(|_| draw.normal()).collect();
        let mean = sample.iter().sum::<f64>() / sample.len() as f64;
        let variance = sample.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / sample.len() as f64;
        // Four standard errors of 20,000 draws.
        assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.04, "{mean} {variance}");
    }
}
