//! Instruments in the circuit: what each of them answers to a test.
//!
//! The meter is an element like any other while it reads: its input resistance, its ohms source, the lamp.

mod branches;
mod intermittent;
mod json;
mod shown;

use super::coupling::pickup::Scene;
use super::fault::Fault;
use super::heat::Touched;
use super::injury::{Change, Injury, injure_in};
use super::schematic::{Law, Node};
use super::showing::{View, Words};
use super::sim::{Outcome, Sim, StateId, StateSpec};
use super::state::{self, lamp_law, states_of};
use super::test::{Instrument, Test};
use crate::catalogue::Catalogue;
use crate::catalogue::kind::Measure;
use crate::netlist::{Bench, Netlist};
use crate::text::problem::Problem;

use branches::{Scatter, Way};
pub use intermittent::stirs;
pub use json::controls_json;
pub use shown::{accuracy, volts_shown};
use shown::{beeps, number, widened};

/// Input resistance of the low-impedance volts range, ohm.
pub const LOZ_OHMS: f64 = 3.0e3;
/// Volts of the ohms range's source …
pub const OHMS_SOURCE_VOLTS: f64 = 0.6;
/// … and the ohms it stands behind.
pub const OHMS_SOURCE_OHMS: f64 = 1.7e3;
/// More than this is over range, ohm.
pub const OHMS_LIMIT: f64 = 40.0e6;
/// With its source off the meter meets no more than this on a dead path, V.
pub const LIVE_VOLTS: f64 = 0.010;
/// The amps range, ohm.
pub const AMPS_OHMS: f64 = 0.03;
/// The test lamp where the bench names none, W.
pub const TEST_LAMP_WATTS: f64 = 5.0;
/// What a floating lead picks up, one standard deviation, V (common practice, no source).
pub const FLOATING_VOLTS: f64 = 0.05;
/// A source of more than this part of the meter's own ohms is solved with the meter in the circuit: behind a diode that
/// is all but off the meter's microamp moves the point by volts.
pub const LOAD_SHARE: f64 = 1e-3;
/// From this chance on a word is simply said.
const CERTAIN: f64 = 0.995;

/// How the circuit is solved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// Rebuilt and factored for this test, the meter in it.
    Afresh,
    /// In port space, the meter's load as a correction where it is slight.
    Ports,
}

/// What an instrument or an eye would answer.
#[derive(Clone, Debug, PartialEq)]
pub enum Observed {
    /// A value, what one digit is worth there, and its 2.5 and 97.5 % points.
    Number {
        /// V, A or ohm
        value: f64,
        /// display step
        step: f64,
        /// 2.5 %
        low: f64,
        /// 97.5 %
        high: f64,
    },
    /// Swings, slowly enough to be read.
    Range {
        /// the lower
        from: f64,
        /// the higher
        to: f64,
    },
    /// Over range.
    Over,
    /// Chance that it beeps.
    Beeps(f64),
    /// Words with their chances.
    Showing(Words),
    /// Refused: the path is live.
    Live,
}

/// An answer with what else happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// The answer.
    pub what: Observed,
    /// No path but the meter joins the two probes.
    pub floating: bool,
    /// Parts whose fuses opened on the way.
    pub blown: Vec<String>,
    /// Some contact finds no rest.
    pub chatters: bool,
}

/// A test's probes or part, looked up.
#[derive(Clone, Debug, PartialEq)]
pub enum Ask {
    /// Probes of an instrument.
    Probes {
        /// the instrument
        instrument: Instrument,
        /// red
        red: Node,
        /// black
        black: Node,
    },
    /// A part watched.
    Watch {
        /// its name as in the netlist
        part: String,
        /// while a control changes
        change: bool,
    },
    /// A part, plug, wire, place that a hand is laid on.
    Touch {
        /// its name
        thing: String,
    },
}

/// Looks up a test's points or part.
pub fn ask(netlist: &Netlist, test: &Test) -> Result<Ask, Vec<Problem>> {
    if test.instrument == Instrument::Touch {
        let thing = test.part.clone().unwrap_or_default();
        return Touched::find(netlist, &thing).map(|_| Ask::Touch { thing }).map_err(|problem| vec![problem]);
    }
    if test.instrument == Instrument::Watch {
        let name = test.part.as_deref().unwrap_or_default();
        return match state::part(netlist, name) {
            Some(part) => Ok(Ask::Watch { part: part.name.clone(), change: test.change.is_some() }),
            None => {
                let near = crate::text::words::nearest(name, netlist.parts.keys().map(String::as_str));
                let problem = Problem::whole(format!("no part is called {name}"));
                Err(vec![match near {
                    Some(near) => problem.help(format!("nearest: {near}")),
                    None => problem,
                }])
            }
        };
    }
    let node = |name: &Option<String>| state::point(netlist, name.as_deref().unwrap_or_default());
    match (node(&test.red), node(&test.black)) {
        (Ok(red), Ok(black)) => Ok(Ask::Probes { instrument: test.instrument, red, black }),
        (red, black) => Err(red.err().into_iter().chain(black.err()).collect()),
    }
}

/// What the test would answer with this fault, one answer a placement (the first, then each `then`).
///
/// A fault that comes and goes answers as it is more often; where the test stirs it (`disturb`) with the least and the
/// greatest that a meter keeps. Every problem of the test and of the fault's name comes back at once.
pub fn observe(
    sim: &mut Sim,
    netlist: &Netlist,
    catalogue: &Catalogue,
    test: &Test,
    fault: &Fault,
    how: How,
) -> Result<Vec<Observation>, Vec<Problem>> {
    let Some(faces) = intermittent::Faces::of(fault, test.disturb.as_ref(), netlist, catalogue) else {
        return steady(sim, netlist, catalogue, test, fault, how);
    };
    let present = steady(sim, netlist, catalogue, test, &faces.present, how)?;
    let absent = steady(sim, netlist, catalogue, test, &faces.absent, how)?;
    Ok(present.into_iter().zip(absent).map(|(present, absent)| faces.joined(present, absent)).collect())
}

/// The same with a fault that is always there.
fn steady(
    sim: &mut Sim,
    netlist: &Netlist,
    catalogue: &Catalogue,
    test: &Test,
    fault: &Fault,
    how: How,
) -> Result<Vec<Observation>, Vec<Problem>> {
    let mut problems = Vec::new();
    let states = states_of(sim.schematic(), netlist, test).unwrap_or_else(|bad| {
        problems.extend(bad);
        Vec::new()
    });
    let asked = ask(netlist, test).map_err(|bad| problems.extend(bad)).ok();
    let held = states.first().map_or(&[][..], |state| state.changes.as_slice());
    let injury = match injure_in(sim.schematic(), netlist, catalogue, fault, held) {
        Ok(injury) => Some(injury),
        Err(problem) => {
            problems.push(problem);
            None
        }
    };
    let (Some(asked), Some(injury), true) = (asked, injury, problems.is_empty()) else { return Err(problems) };
    let ids: Vec<StateId> = states.iter().map(|state| sim.state(state)).collect();
    let bench = Place { sim, netlist, catalogue, how };
    let size = match &asked {
        Ask::Watch { change: true, .. } => 2,
        _ => 1,
    };
    let mut answers = Vec::new();
    for (specs, ids) in states.chunks(size).zip(ids.chunks(size)) {
        let (Some(spec), Some(&state)) = (specs.last(), ids.last()) else { continue };
        // Port space is for those who ask thousands of faults, and weigh what scatters themselves.
        let ways = match how {
            How::Afresh => {
                let fuse_spread = libm::log(catalogue.fuses.factor.max(1.0));
                Scatter { sim: bench.sim, spec, state, fuse_spread }.ways(&injury)
            }
            How::Ports => vec![Way { p: 1.0, injury: injury.clone(), opened: Vec::new() }],
        };
        let mut met = Vec::new();
        for way in &ways {
            let mut answer = bench.answer(&asked, specs, ids, &way.injury)?;
            let schematic = bench.sim.schematic();
            let opened = way.opened.iter().filter_map(|&id| schematic.elements.get(id)?.part.clone());
            answer.blown.splice(0..0, opened);
            met.push((way.p, answer));
        }
        answers.extend(branches::joined(met));
    }
    Ok(answers)
}

/// The circuit under an injury as an instrument that drives a current itself makes it, in each way that it does; what no
/// current of these meets it does not read. Nothing of the other instruments, or of a test that cannot be.
pub fn driven(
    sim: &Sim,
    netlist: &Netlist,
    catalogue: &Catalogue,
    test: &Test,
    state: StateId,
    injury: &Injury,
) -> Vec<Outcome> {
    let Ok(Ask::Probes { instrument, red, black }) = ask(netlist, test) else { return Vec::new() };
    let source = |volts| Law::Source { volts, ohms: OHMS_SOURCE_OHMS };
    let laws = match instrument {
        Instrument::Ohms | Instrument::Beep => vec![source(0.0), source(OHMS_SOURCE_VOLTS)],
        Instrument::AmpsDc => vec![Law::Resistor { ohms: AMPS_OHMS }],
        Instrument::TestLamp => vec![lamp_law(netlist.bench.test_lamp.unwrap_or(TEST_LAMP_WATTS))],
        Instrument::VoltsDc | Instrument::VoltsLoz | Instrument::VoltsAc => Vec::new(),
        Instrument::Watch | Instrument::Touch => Vec::new(),
    };
    let bench = Place { sim, netlist, catalogue, how: How::Ports };
    laws.into_iter().map(|law| bench.with(state, injury, red, black, law)).collect()
}

/// Volts red over black of each level, a meter of these ohms at the probes, from an outcome solved without it;
/// `None` where the meter loads the circuit too much for a correction.
pub fn loaded_volts(sim: &Sim, outcome: &Outcome, red: Node, black: Node, meter: f64) -> Option<Vec<f64>> {
    let mut volts = Vec::with_capacity(outcome.levels.len());
    for level in 0..outcome.levels.len() {
        if sim.floating(outcome, level, red, black) {
            volts.push(0.0);
            continue;
        }
        let source = sim.source_ohms(outcome, level, red, black);
        if source > LOAD_SHARE * meter {
            return None;
        }
        volts.push(sim.volts(outcome, level, red, black) * meter / (meter + source));
    }
    Some(volts)
}

/// Where the instrument is used.
struct Place<'a> {
    sim: &'a Sim,
    netlist: &'a Netlist,
    catalogue: &'a Catalogue,
    how: How,
}

impl Place<'_> {
    /// One placement's answer: of one state, or of those before and after a change.
    fn answer(
        &self,
        asked: &Ask,
        specs: &[StateSpec],
        ids: &[StateId],
        injury: &Injury,
    ) -> Result<Observation, Vec<Problem>> {
        if let Ask::Probes { instrument, red, black } = asked {
            return Ok(self.probe(ids[0], injury, *instrument, *red, *black));
        }
        let outcomes: Vec<Outcome> = ids.iter().map(|&id| self.run(id, injury)).collect();
        let views: Vec<View<'_>> = specs
            .iter()
            .zip(&outcomes)
            .map(|(spec, outcome)| View {
                sim: self.sim,
                netlist: self.netlist,
                catalogue: self.catalogue,
                spec,
                injury,
                outcome,
            })
            .collect();
        let words = match (asked, views.as_slice()) {
            (Ask::Watch { part, .. }, [before, after]) => before.change(after, part),
            (Ask::Watch { part, .. }, [one, ..]) => one.showing(part),
            (Ask::Touch { thing }, [one, ..]) => Touched::find(self.netlist, thing).map(|on| one.touched(&on)),
            _ => Ok(Words::new()),
        };
        let words = words.map_err(|problem| vec![problem])?;
        Ok(self.observation(Observed::Showing(words), false, &outcomes[outcomes.len() - 1], injury))
    }

    fn run(&self, state: StateId, injury: &Injury) -> Outcome {
        match self.how {
            How::Afresh => self.sim.run_afresh(state, injury),
            How::Ports => self.sim.run(state, injury),
        }
    }

    fn with(&self, state: StateId, injury: &Injury, red: Node, black: Node, law: Law) -> Outcome {
        let mut injury = injury.clone();
        injury.changes.push(Change::Add { a: red, b: black, law });
        self.run(state, &injury)
    }

    fn observation(&self, what: Observed, floating: bool, outcome: &Outcome, injury: &Injury) -> Observation {
        let schematic = self.sim.schematic();
        let blown = outcome.blown.iter().filter(|id| !injury.blown.contains(id));
        let part = |id: &usize| schematic.elements.get(*id).and_then(|e| e.part.clone());
        Observation { what, floating, blown: blown.filter_map(part).collect(), chatters: outcome.chatters }
    }

    fn probe(&self, state: StateId, injury: &Injury, instrument: Instrument, red: Node, black: Node) -> Observation {
        match instrument {
            Instrument::VoltsDc | Instrument::VoltsAc => {
                self.volts(state, injury, instrument, red, black, self.netlist.bench.volts_ohms)
            }
            Instrument::VoltsLoz => self.volts(state, injury, instrument, red, black, LOZ_OHMS),
            Instrument::Ohms | Instrument::Beep => self.ohms(state, injury, instrument, red, black),
            Instrument::AmpsDc => {
                let outcome = self.with(state, injury, red, black, Law::Resistor { ohms: AMPS_OHMS });
                let volts = self.level_volts(&outcome, red, black);
                let amps: Vec<f64> = volts.iter().map(|v| v / AMPS_OHMS).collect();
                let spread = self.spread(&outcome, &volts, instrument, red, black) / AMPS_OHMS;
                let what = widened(volts_shown(instrument, &outcome.levels, &amps), instrument, spread);
                self.observation(what, false, &outcome, injury)
            }
            Instrument::TestLamp => self.lamp(state, injury, red, black),
            Instrument::Watch | Instrument::Touch => {
                self.observation(Observed::Showing(Vec::new()), false, &self.run(state, injury), injury)
            }
        }
    }

    fn level_volts(&self, outcome: &Outcome, red: Node, black: Node) -> Vec<f64> {
        (0..outcome.levels.len()).map(|level| self.sim.volts(outcome, level, red, black)).collect()
    }

    /// Standard deviation of what is shown from the spreads of all elements: of the mean of these level volts, or of
    /// their rms about it.
    fn spread(&self, outcome: &Outcome, volts: &[f64], instrument: Instrument, red: Node, black: Node) -> f64 {
        let schematic = self.sim.schematic();
        let mean = outcome.levels.iter().zip(volts).map(|(level, v)| level.share * v).sum::<f64>();
        let square = outcome.levels.iter().zip(volts).map(|(l, v)| l.share * (v - mean) * (v - mean)).sum::<f64>();
        // A millivolt at the probes of an ohms range is an ohm or more; over the amps range it is 30 mA.
        let unfelt = match instrument {
            Instrument::Ohms | Instrument::Beep => 1e-8,
            Instrument::AmpsDc => 1e-6,
            _ => 1e-4,
        };
        let mut by_element: std::collections::BTreeMap<usize, f64> = std::collections::BTreeMap::new();
        for (index, (level, v)) in outcome.levels.iter().zip(volts).enumerate() {
            let weight = match instrument {
                Instrument::VoltsAc if square > 0.0 => level.share * (v - mean) / square.sqrt(),
                Instrument::VoltsAc => break,
                _ => level.share,
            };
            for (id, slope) in self.sim.fine_sensitivity(outcome, index, red, black, unfelt) {
                *by_element.entry(id).or_default() += weight * slope;
            }
        }
        let square = |(id, slope): (&usize, &f64)| {
            let spread = schematic.elements.get(*id).map_or(0.0, |e| e.spread);
            (slope * spread) * (slope * spread)
        };
        by_element.iter().map(square).sum::<f64>().sqrt()
    }

    fn floats(&self, outcome: &Outcome, red: Node, black: Node) -> bool {
        red != black && (0..outcome.levels.len()).all(|level| self.sim.floating(outcome, level, red, black))
    }

    fn volts(
        &self,
        state: StateId,
        injury: &Injury,
        instrument: Instrument,
        red: Node,
        black: Node,
        meter: f64,
    ) -> Observation {
        let bare = self.run(state, injury);
        let floating = self.floats(&bare, red, black);
        let corrected = match self.how {
            How::Ports => loaded_volts(self.sim, &bare, red, black, meter),
            How::Afresh => None,
        };
        let (outcome, volts) = match corrected {
            Some(volts) => (bare, volts),
            None => {
                let outcome = self.with(state, injury, red, black, Law::Resistor { ohms: meter });
                let volts = self.level_volts(&outcome, red, black);
                (outcome, volts)
            }
        };
        let picked_up = |outcome: &Outcome| {
            let loom = &self.catalogue.wire.loom;
            Scene { sim: self.sim, netlist: self.netlist, loom, injury, outcome }.ripple(red, black)
        };
        let ripple = match instrument {
            // What floats is met behind the meter's own ohms.
            Instrument::VoltsAc if floating => picked_up(&self.sim.loaded(&outcome, red, black, meter)),
            Instrument::VoltsAc => picked_up(&outcome),
            _ => 0.0,
        };
        // What a lead picks up collapses under a meter that takes current.
        let picked_up = FLOATING_VOLTS * (meter / Bench::default().volts_ohms).min(1.0);
        let spread = if floating { picked_up } else { self.spread(&outcome, &volts, instrument, red, black) };
        let what = match volts_shown(instrument, &outcome.levels, &volts) {
            // A changing current induces a quarter of a turn later than it flows: in quadrature.
            Observed::Number { value, .. } if ripple > 0.0 => {
                let scatter = self.catalogue.wire.loom.scatter;
                let all = value.hypot(ripple);
                number(instrument, all, spread.hypot(scatter * ripple * ripple / all))
            }
            what => widened(what, instrument, spread),
        };
        self.observation(what, floating, &outcome, injury)
    }

    fn ohms(&self, state: StateId, injury: &Injury, instrument: Instrument, red: Node, black: Node) -> Observation {
        let source = |volts| Law::Source { volts, ohms: OHMS_SOURCE_OHMS };
        let dead = self.with(state, injury, red, black, source(0.0));
        let live = self.level_volts(&dead, red, black).iter().any(|v| v.abs() > LIVE_VOLTS);
        if live {
            return self.observation(Observed::Live, false, &dead, injury);
        }
        let outcome = self.with(state, injury, red, black, source(OHMS_SOURCE_VOLTS));
        let levels = self.level_volts(&outcome, red, black);
        let volts: f64 = outcome.levels.iter().zip(&levels).map(|(level, v)| level.share * v).sum();
        let left = OHMS_SOURCE_VOLTS - volts;
        let over = left <= OHMS_SOURCE_VOLTS * OHMS_SOURCE_OHMS / (OHMS_LIMIT + OHMS_SOURCE_OHMS);
        let ohms = if over { f64::INFINITY } else { (volts * OHMS_SOURCE_OHMS / left).max(0.0) };
        let slope = OHMS_SOURCE_OHMS * OHMS_SOURCE_VOLTS / (left * left);
        let spread = if over { 0.0 } else { slope * self.spread(&outcome, &levels, instrument, red, black) };
        let what = match instrument {
            Instrument::Beep => Observed::Beeps(beeps(&self.netlist.bench, ohms, spread)),
            _ if over => Observed::Over,
            _ => number(instrument, ohms, spread),
        };
        self.observation(what, false, &outcome, injury)
    }

    fn lamp(&self, state: StateId, injury: &Injury, red: Node, black: Node) -> Observation {
        let watts = self.netlist.bench.test_lamp.unwrap_or(TEST_LAMP_WATTS);
        let outcome = self.with(state, injury, red, black, lamp_law(watts));
        let volts = self.level_volts(&outcome, red, black);
        let words = super::showing::lamp_words(&outcome.levels, &volts, state::BENCH_VOLTS, self.lamp_thresholds());
        self.observation(Observed::Showing(words), false, &outcome, injury)
    }

    /// Where a lamp looks dim and lit: as the rules say of the plainest lamp.
    fn lamp_thresholds(&self) -> [(f64, f64); 2] {
        let kind = self.catalogue.kind("filament lamp");
        let showing = kind.and_then(|kind| kind.showings.iter().find(|s| matches!(s.by, Measure::VoltsRatio { .. })));
        match showing.map(|s| (s.at.as_slice(), s.spread.as_slice())) {
            Some(([dim, lit, ..], [a, b, ..])) => [(*dim, *a), (*lit, *b)],
            _ => [(0.2, 0.25), (0.72, 0.1)],
        }
    }
}
