//! What a suspect would read and show, from the circuit.

use super::enumerate::Suspects;
use super::felt;
use super::instrument::instrument;
use super::machine::Machine;
use super::posterior::Predicted;
use super::presence;
use super::runs::Runs;
use crate::circuit::injury::Injury;
use crate::circuit::meter;
use crate::circuit::schematic::Node;
use crate::circuit::sim::{Outcome, Sim, StateId};
use crate::circuit::state::state_of_settings;
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::text::problem::Problem;

/// Chance that a showing is called by the next word on its scale, dim for lit (common practice, no source).
const NEXT_WORD: f64 = 0.03;
/// How much seldomer a word is mistaken in a complaint than in an answer (common practice, no source).
const UNPROVOKED: f64 = 0.15;
/// Chance that it is called by any other word of the part, lit for dark (common practice, no source).
const OTHER_WORD: f64 = 0.001;

/// Chance that people say `said` of a part that shows `shown`; `order` is the scale of its words.
pub fn said_of(order: &[String], said: &str, shown: &str) -> f64 {
    if said == shown {
        return 1.0 - NEXT_WORD;
    }
    let at = |word: &str| order.iter().position(|w| w == word);
    let moving = ["moves-up", "moves-down", "kicks"];
    let next = match (at(said), at(shown)) {
        (Some(a), Some(b)) => a.abs_diff(b) == 1,
        // A needle that moves is hard to call still, its direction easier to get wrong.
        _ => moving.contains(&said) && moving.contains(&shown),
    };
    if next { NEXT_WORD } else { OTHER_WORD }
}

/// The scale of a part's words.
pub fn scale<'a>(machine: &'a Machine, part: &str) -> &'a [String] {
    let kind = machine.netlist.parts.get(part).and_then(|p| machine.catalogue.kind(&p.kind));
    kind.and_then(|k| k.showings.first()).map_or(&[], |s| &s.words)
}
/// Standard deviation of a volts reading beside that of the circuit: two or three counts and the probe's seat, V.
const VOLTS_FLOOR: f64 = 0.02;
/// The same in proportion (6000-count meters: 0.5 % and 2 digits, from memory), with the model's own roughness.
const VOLTS_SHARE: f64 = 0.01;
/// What it makes where along two nets they touch, V and in proportion; but no more than so many times what the fault
/// itself makes there, and than what flows makes in so many ohms: two metres of thin wire and some joints (common
/// practice, no source).
const WHERE: f64 = 0.1;
const WHERE_SHARE: f64 = 0.04;
const WHERE_MOVED: f64 = 2.0;
const WHERE_OHMS: f64 = 0.1;

/// Standard deviation, V, of a reading that stands for every place where two nets could touch, beside what the sound
/// machine reads.
pub(super) fn by_place(volts: f64, sound: f64) -> f64 {
    (WHERE + WHERE_SHARE * volts.abs()).min(WHERE_MOVED * (volts - sound).abs())
}

/// What a floating point reads: nothing, give or take pick-up, V.
const FLOATING: f64 = 0.05;

/// How a reading is predicted.
#[derive(Clone, Debug, PartialEq)]
pub enum Sight {
    /// A volt meter between two points.
    Volts {
        /// the state
        state: StateId,
        /// red
        red: Node,
        /// black
        black: Node,
        /// the meter's own resistance, ohm
        ohms: f64,
        /// index of the value where a reading swings between two: low, high
        swing: Option<bool>,
    },
    /// The word for a part.
    Words {
        /// the state
        state: StateId,
        /// the part
        part: String,
        /// words that fit
        words: Vec<String>,
        /// said of its own accord, as a complaint: nobody complains of a lamp that is as bright as ever
        complaint: bool,
    },
    /// What a hand says of a part, plug, wire or place.
    Felt {
        /// the state
        state: StateId,
        /// what the hand is laid on
        thing: String,
        /// words that fit
        words: Vec<String>,
        /// said of its own accord: nobody complains of what is cool
        complaint: bool,
    },
    /// What a needle does when a control moves.
    Change {
        /// before
        before: StateId,
        /// after
        after: StateId,
        /// the part
        part: String,
        /// words that fit
        words: Vec<String>,
    },
    /// It changes while something is stirred, as somebody says of his own accord.
    Stirs {
        /// `wiggle`, `bump` …
        how: String,
        /// what: a part, plug, ground point or wire
        at: String,
    },
    /// Another instrument: computed with it in the circuit, one placement and setting.
    Instrument(Box<Test>),
    /// Kept, but weighs nothing (ohms on a live path).
    Nothing,
}

impl Sight {
    /// The states that it is a sight of.
    pub fn states(&self) -> impl Iterator<Item = StateId> {
        let (one, other) = match self {
            Sight::Volts { state, .. } | Sight::Words { state, .. } => (Some(*state), None),
            Sight::Change { before, after, .. } => (Some(*before), Some(*after)),
            Sight::Felt { .. } | Sight::Stirs { .. } | Sight::Instrument(_) | Sight::Nothing => (None, None),
        };
        one.into_iter().chain(other)
    }
}

/// The state reached by these settings from rest.
pub fn state(machine: &mut Machine, set: &Settings) -> Result<StateId, Problem> {
    let spec = state_of_settings(machine.sim.schematic(), set).map_err(|mut problems| problems.swap_remove(0))?;
    Ok(machine.state(&spec))
}

/// Volts of every node over battery minus, averaged over the levels that the circuit takes turns in: what a DC meter shows.
pub fn mean_volts(sim: &Sim, outcome: &Outcome) -> Vec<f64> {
    let mut out = vec![0.0; sim.schematic().nodes.len()];
    for (level, l) in outcome.levels.iter().enumerate() {
        for (sum, v) in out.iter_mut().zip(sim.all_volts(outcome, level)) {
            *sum += l.share * v;
        }
    }
    out
}

/// Words for a part with their probabilities, as the circuit has it; none if it cannot be looked at.
pub fn words(machine: &Machine, state: StateId, injury: &Injury, outcome: &Outcome, part: &str) -> Vec<(String, f64)> {
    machine.view(state, injury, outcome).and_then(|view| view.showing(part).ok()).unwrap_or_default()
}

/// What a severity point predicts of a reading; what the severity does to a number is left to [`slope`].
pub fn predict(
    machine: &mut Machine,
    suspects: &Suspects,
    runs: &mut Runs,
    sight: &Sight,
    reading: &Reading,
    point: u32,
) -> Predicted {
    match sight {
        Sight::Nothing => Predicted::Mass(1.0),
        Sight::Stirs { how, at } => {
            Predicted::Mass(presence::changes(machine, suspects, runs.points[point as usize].suspect, how, at))
        }
        Sight::Volts { state, .. } => {
            let outcome = runs.outcome(machine, suspects, *state, point);
            let injury = runs.injury_of(machine, suspects, point);
            let sound = runs.touches(suspects, runs.acting(point)).then(|| runs.healthy(machine, *state));
            let sound = sound.and_then(|sound| sound_volts(machine, &sound, sight));
            volts_met(machine, &outcome, sight, reading, sound.map(|sound| (sound, &*injury)))
                .unwrap_or(Predicted::Mass(1.0))
        }
        Sight::Words { state, .. } => {
            let outcome = runs.outcome(machine, suspects, *state, point);
            let injury = runs.injury_of(machine, suspects, point);
            words_met(machine, &outcome, &injury, sight).unwrap_or(Predicted::Mass(1.0))
        }
        Sight::Felt { state, thing, words, complaint } => {
            let felt = runs.felt(machine, suspects, *state, point, thing);
            let sure: f64 = felt.iter().filter(|(word, _)| words.contains(word)).map(|(_, p)| p).sum();
            match felt::mass(&felt, words) {
                Predicted::Mass(heard) if *complaint => Predicted::Mass(sure + UNPROVOKED * (heard - sure).max(0.0)),
                other => other,
            }
        }
        Sight::Change { before, after, .. } => {
            let first = runs.outcome(machine, suspects, *before, point);
            let then = runs.outcome(machine, suspects, *after, point);
            let injury = runs.injury_of(machine, suspects, point);
            change_met(machine, [&first, &then], &injury, sight).unwrap_or(Predicted::Mass(1.0))
        }
        Sight::Instrument(test) => instrument(machine, suspects, runs, test, reading, point),
    }
}

/// Volts that the sound machine, or any other circuit solved, shows there; nothing if it is another sight.
pub(super) fn sound_volts(machine: &Machine, outcome: &Outcome, sight: &Sight) -> Option<f64> {
    let Sight::Volts { red, black, ohms, swing, .. } = sight else { return None };
    let (loaded, values, _) = shown(machine, outcome, [*red, *black], *ohms, false);
    let levels = levels_of(loaded.as_ref().unwrap_or(outcome), &values, *swing);
    Some(levels.iter().map(|(level, weight)| weight * values[*level]).sum())
}

/// The mean of what [`volts_met`] makes of a reading, without what it scatters by; nothing if that is no number.
pub(super) fn mean_met(machine: &Machine, outcome: &Outcome, sight: &Sight, reading: &Reading) -> Option<f64> {
    let Sight::Volts { red, black, ohms, swing, .. } = sight else { return None };
    match otherwise(machine, outcome, [*red, *black], *ohms, *swing, reading) {
        Some(_) => None,
        None => sound_volts(machine, outcome, sight),
    }
}

/// A volts reading in a solved circuit; nothing if it is another sight. `touching`: the circuit stands for every place
/// where two nets could touch; what the sound machine reads, and what ties them together.
pub fn volts_met(
    machine: &Machine,
    outcome: &Outcome,
    sight: &Sight,
    reading: &Reading,
    touching: Option<(f64, &Injury)>,
) -> Option<Predicted> {
    let Sight::Volts { red, black, ohms, swing, .. } = sight else { return None };
    if let Some(mass) = otherwise(machine, outcome, [*red, *black], *ohms, *swing, reading) {
        return Some(Predicted::Mass(mass));
    }
    let mut predicted = volts(machine, outcome, [*red, *black], *ohms, *swing);
    if let (Predicted::Number { mean, own, .. }, Some((sound, injury))) = (&mut predicted, touching) {
        let flows = WHERE_OHMS * machine.sim.tied_amps(outcome, injury);
        *own = own.hypot(by_place(*mean, sound).min(flows));
    }
    Some(predicted)
}

/// What was said of a part, in a solved circuit; nothing if it is another sight.
pub fn words_met(machine: &Machine, outcome: &Outcome, injury: &Injury, sight: &Sight) -> Option<Predicted> {
    let Sight::Words { state, part, words: fit, complaint } = sight else { return None };
    let view = machine.view(*state, injury, outcome);
    let shown = view.and_then(|view| view.showing_as(part, fit).ok()).unwrap_or_default();
    let sure: f64 = shown.iter().filter(|(word, _)| fit.contains(word)).map(|(_, p)| p).sum();
    Some(match mass(scale(machine, part), &shown, fit) {
        Predicted::Mass(heard) if *complaint => Predicted::Mass(sure + UNPROVOKED * (heard - sure).max(0.0)),
        other => other,
    })
}

/// What was said of a needle while a control moved, in the circuit solved before and after; nothing if it is another
/// sight.
pub fn change_met(machine: &Machine, outcomes: [&Outcome; 2], injury: &Injury, sight: &Sight) -> Option<Predicted> {
    let Sight::Change { before, after, part, words: fit } = sight else { return None };
    let [first, then] = outcomes;
    let (earlier, later) = (machine.view(*before, injury, first)?, machine.view(*after, injury, then)?);
    Some(mass(scale(machine, part), &earlier.change(&later, part).unwrap_or_default(), fit))
}

/// Probability of the words that fit, people's confusion included.
pub(super) fn mass(order: &[String], words: &[(String, f64)], fit: &[String]) -> Predicted {
    let heard = |shown: &str| fit.iter().map(|said| said_of(order, said, shown)).sum::<f64>().min(1.0);
    Predicted::Mass(words.iter().map(|(shown, p)| p * heard(shown)).sum::<f64>().clamp(1e-6, 1.0))
}

/// The levels that make up a reading with their weights, which sum to one: all of them for a steady display; for the
/// lower or the higher of two values that it swings between, those of that phase of the slow interrupter.
fn levels_of(outcome: &Outcome, volts: &[f64], swing: Option<bool>) -> Vec<(usize, f64)> {
    let weigh = |chosen: Vec<usize>| {
        let total: f64 = chosen.iter().map(|&level| outcome.levels[level].share).sum();
        chosen.into_iter().map(|level| (level, outcome.levels[level].share / total.max(1e-12))).collect::<Vec<_>>()
    };
    let all: Vec<usize> = (0..outcome.levels.len()).collect();
    let Some(high) = swing else { return weigh(all) };
    let phase =
        |closed: bool| weigh(all.iter().copied().filter(|&l| outcome.levels[l].slow_closed == closed).collect());
    let (closed, apart) = (phase(true), phase(false));
    let value = |levels: &[(usize, f64)]| levels.iter().map(|(level, w)| w * volts[*level]).sum::<f64>();
    match (closed.is_empty(), apart.is_empty()) {
        (true, _) => apart,
        (_, true) => closed,
        _ if (value(&closed) > value(&apart)) == high => closed,
        _ => apart,
    }
}

/// What each element's spread does to a reading, see [`Sim::sensitivity`].
type Rows = Vec<(usize, f64)>;

/// What the meter shows in each level, the solution that it was read from, and what moves it if that is wanted.
fn shown(
    machine: &Machine,
    outcome: &Outcome,
    probes: [Node; 2],
    ohms: f64,
    with_rows: bool,
) -> (Option<Outcome>, Vec<f64>, Vec<Rows>) {
    let sim = &machine.sim;
    let [red, black] = probes;
    let mut values = Vec::with_capacity(outcome.levels.len());
    let mut moved = Vec::with_capacity(outcome.levels.len());
    for level in 0..outcome.levels.len() {
        let (source, rows) = if with_rows {
            sim.source_and_sensitivity(outcome, level, red, black)
        } else {
            (sim.source_ohms(outcome, level, red, black), Rows::new())
        };
        moved.push(rows);
        if !source.is_finite() {
            values.push(0.0);
        } else if source > meter::LOAD_SHARE * ohms {
            let loaded = sim.loaded(outcome, red, black, ohms);
            let levels = 0..loaded.levels.len();
            let values = levels.clone().map(|level| sim.volts(&loaded, level, red, black)).collect();
            let rows = |level| if with_rows { sim.sensitivity(&loaded, level, red, black) } else { Rows::new() };
            let moved = levels.map(rows).collect();
            return (Some(loaded), values, moved);
        } else {
            values.push(sim.volts(outcome, level, red, black) * ohms / (ohms + source));
        }
    }
    (None, values, moved)
}

/// Chance that a flasher stands still where it is computed to work, or works where it is computed to stand still:
/// what it works at scatters (common practice, no source).
const FLASHER: f64 = 0.08;
/// How often the wires behind a flasher that works after all read nothing while it is open (common practice, no source).
const DEAD: f64 = 0.6;

/// The mass of a reading that does not swing where it should, or swings where it should not.
fn otherwise(
    machine: &Machine,
    outcome: &Outcome,
    probes: [Node; 2],
    ohms: f64,
    swing: Option<bool>,
    reading: &Reading,
) -> Option<f64> {
    let works = outcome.levels.iter().any(|l| l.slow_closed) && outcome.levels.iter().any(|l| !l.slow_closed);
    match (reading, swing) {
        (Reading::Value { .. }, None) if works => {}
        (Reading::Range { .. }, Some(_)) if !works => {}
        _ => return None,
    }
    let (loaded, values, _) = shown(machine, outcome, probes, ohms, false);
    let outcome = loaded.as_ref().unwrap_or(outcome);
    let closed = outcome.levels.iter().zip(&values).filter(|(l, _)| l.slow_closed);
    let share: f64 = closed.clone().map(|(l, _)| l.share).sum();
    let steady = closed.map(|(l, v)| l.share * v).sum::<f64>() / share.max(1e-12);
    let near = |met: f64| {
        let sd = VOLTS_FLOOR.hypot(0.05 * steady);
        let step = reading.step(Instrument::VoltsDc);
        (-((met - steady) / sd).powi(2) / 2.0).exp() / (sd * std::f64::consts::TAU.sqrt()) * step
    };
    match (reading, swing) {
        (Reading::Value { value, .. }, None) if works => {
            let swings = values.iter().any(|v| (v - steady).abs() > 0.3);
            swings.then(|| (FLASHER * near(*value)).min(1.0))
        }
        (Reading::Range { from, to }, Some(high)) if !works && (from - to).abs() > 0.3 => {
            // One end is what is computed; the other is most often what a dead wire reads, else anything.
            let (end, other) = if near(*from) > near(*to) { (*from, *to) } else { (*to, *from) };
            let step = reading.step(Instrument::VoltsDc);
            let dead = (-(other / VOLTS_FLOOR).powi(2) / 2.0).exp() / (VOLTS_FLOOR * std::f64::consts::TAU.sqrt());
            let other = (DEAD * dead + (1.0 - DEAD) / 15.0) * step;
            Some(if high { FLASHER * near(end).min(1.0) } else { other.min(1.0) })
        }
        _ => None,
    }
}

/// A volts reading with its spread; every part's own spread is shared between the readings that it moves.
fn volts(machine: &Machine, outcome: &Outcome, [red, black]: [Node; 2], ohms: f64, swing: Option<bool>) -> Predicted {
    let sim = &machine.sim;
    let (loaded, values, moved) = shown(machine, outcome, [red, black], ohms, true);
    let outcome = loaded.as_ref().unwrap_or(outcome);
    let levels = levels_of(outcome, &values, swing);
    let mean: f64 = levels.iter().map(|(level, weight)| weight * values[*level]).sum();
    let floats = levels.iter().any(|(level, _)| sim.floating(outcome, *level, red, black));
    let mut shared: Vec<(u32, f64)> = Vec::new();
    for &(level, weight) in &levels {
        for &(element, slope) in &moved[level] {
            let by = slope * sim.schematic().elements[element].spread * weight;
            match shared.binary_search_by_key(&(element as u32), |(e, _)| *e) {
                Ok(at) => shared[at].1 += by,
                Err(at) => shared.insert(at, (element as u32, by)),
            }
        }
    }
    let floor = if floats { FLOATING } else { VOLTS_FLOOR };
    Predicted::Number { mean, own: floor.hypot(VOLTS_SHARE * mean), shared, severity: None, ln: 0.0 }
}

/// Index of the neighbouring severity point of the same suspect, if it has one.
pub fn neighbour(runs: &Runs, point: usize) -> Option<usize> {
    let (first, end) = runs.span(point);
    let other = if point + 1 < end { point + 1 } else { point.checked_sub(1).filter(|other| *other >= first)? };
    (runs.points[point].severity.is_some() && runs.points[other].severity.is_some()).then_some(other)
}

/// Change of a reading for a unit of ln(severity), from what a neighbouring point predicts of it; 0 if that is no
/// number.
pub fn slope(runs: &Runs, point: usize, mean: f64, other: usize, there: &Predicted) -> f64 {
    let (Some(here), Some(near)) = (runs.points[point].severity, runs.points[other].severity) else { return 0.0 };
    let Predicted::Number { mean: there, .. } = there else { return 0.0 };
    let step = (near / here).ln();
    if step.abs() < 1e-9 { 0.0 } else { (there - mean) / step }
}

/// The instruments that [`Sight::Volts`] stands for, with their resistance, ohm.
pub fn volts_ohms(machine: &Machine, instrument: Instrument) -> Option<f64> {
    match instrument {
        Instrument::VoltsDc => Some(machine.netlist.bench.volts_ohms),
        Instrument::VoltsLoz => Some(3000.0),
        _ => None,
    }
}
