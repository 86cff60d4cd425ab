//! What any instrument but a volt meter would read of a suspect, with the instrument in the circuit.

use super::enumerate::Suspects;
use super::lean::shared_by;
use super::machine::Machine;
use super::posterior::Predicted;
use super::predict::{mass, scale};
use super::runs::Runs;
use super::suspect::What;
use crate::circuit::fault::{Fault, Single};
use crate::circuit::meter::{self, How, Observed};
use crate::circuit::schematic::ElementId;
use crate::circuit::test::{Instrument, Reading, Test};

/// Chance that a contact which fails under load passes the microamps of an ohmmeter as if it were sound
/// (common practice, no source: "volts under load, not continuity").
const QUIET: f64 = 0.15;

/// Any other instrument, with the instrument in the circuit.
///
/// A poor contact is judged by ohms with reserve: with this chance it reads as the sound machine does.
pub(super) fn instrument(
    machine: &mut Machine,
    suspects: &Suspects,
    runs: &mut Runs,
    test: &Test,
    reading: &Reading,
    point: u32,
) -> Predicted {
    let faults = runs.faults_of(suspects, point);
    let blown = runs.blown(machine, suspects, point);
    let fuses = runs.memory.fuses(blown);
    let fuse = |fuse: &ElementId| machine.sim.schematic().elements[*fuse].part.clone();
    let blown: Vec<Single> = fuses.iter().filter_map(fuse).map(|part| Single::new(part, "blown", &[])).collect();
    let contact = |(what, fault): &(What, Fault)| {
        matches!(what, What::Series(_)) || matches!(fault.singles.first(), Some(s) if s.mode == "stuck-open")
    };
    let by_ohms = matches!(test.instrument, Instrument::Ohms | Instrument::Beep);
    let contacts: Vec<usize> = (0..faults.len()).filter(|&at| by_ohms && contact(&faults[at])).collect();
    // Each way that contacts may pass as sound: whether a contact does, by its place among the contacts.
    let mut ways = Vec::with_capacity(1 << contacts.len());
    for passing in 0..1_usize << contacts.len() {
        let passes = |at: usize| contacts.iter().position(|&c| c == at).is_some_and(|place| passing >> place & 1 == 1);
        let failing = (0..faults.len()).filter(|&at| !passes(at)).flat_map(|at| faults[at].1.singles.iter());
        let fault = Fault { singles: failing.chain(&blown).cloned().collect() };
        let chance = |place: usize| if passing >> place & 1 == 1 { QUIET } else { 1.0 - QUIET };
        let chance = (0..contacts.len()).map(chance).product::<f64>();
        ways.push((chance, seen_with(machine, test, reading, &fault)));
    }
    if contacts.is_empty() {
        return ways.swap_remove(0).1;
    }
    // The suspect's own fault is the last; the others have their severities for themselves.
    let besides = runs.besides(runs.acting(point));
    let smears: Vec<(Option<u32>, f64)> = contacts
        .iter()
        .map(|&at| match besides.get(at) {
            Some(&beside) => (Some(shared_by(at)), runs.points[beside as usize].smear),
            None => (None, runs.points[point as usize].smear),
        })
        .collect();
    doubtful(ways, reading, reading.step(test.instrument), &smears)
}

/// Poor contacts read by ohms, which may pass the meter's small current as if they were sound: every way with its chance,
/// by the bits of its place, a bit a contact. The likeliest is what is predicted; its chance makes up for the others, so
/// that a reading by itself weighs as the mixture does.
fn doubtful(mut ways: Vec<(f64, Predicted)>, reading: &Reading, step: f64, smears: &[(Option<u32>, f64)]) -> Predicted {
    let ohms = |way: usize| match &ways[way].1 {
        Predicted::Number { mean, .. } => Some(*mean),
        Predicted::Mass(_) => None,
    };
    // In series a contact's own ohms are what it adds; they move as one with the severity.
    let slope = |way: usize, place: usize| {
        let passes = way >> place & 1 == 1;
        let adds = || Some(ohms(way)? - ohms(way | 1 << place)?);
        if passes { 0.0 } else { adds().unwrap_or(0.0) }
    };
    let mass = |way: usize| match (&ways[way].1, reading) {
        (Predicted::Number { mean, own, .. }, Reading::Value { value, .. }) => {
            let leans: f64 =
                smears.iter().enumerate().map(|(place, (_, smear))| (slope(way, place) * smear).powi(2)).sum();
            let variance = own * own + leans + step * step / 12.0;
            let off = value - mean;
            ((-off * off / variance / 2.0).exp() / (std::f64::consts::TAU * variance).sqrt() * step).min(1.0)
        }
        (Predicted::Number { .. }, _) => 0.0,
        (Predicted::Mass(mass), _) => *mass,
    };
    let chances: Vec<f64> = (0..ways.len()).map(|way| ways[way].0 * mass(way)).collect();
    let all: f64 = chances.iter().sum();
    // (the first of several alike)
    let best = (0..ways.len()).rev().max_by(|&a, &b| chances[a].total_cmp(&chances[b])).unwrap_or(0);
    let slopes: Vec<f64> = (0..smears.len()).map(|place| slope(best, place)).collect();
    let (share, likeliest) = ways.swap_remove(best);
    match likeliest {
        Predicted::Number { mean, own, mut shared, .. } => {
            let more = if chances[best] > 0.0 { (all / chances[best]).ln() } else { 0.0 };
            let mut severity = 0.0;
            for ((beside, smear), slope) in smears.iter().zip(slopes) {
                match beside {
                    Some(id) => shared.push((*id, slope * smear)),
                    None => severity = slope,
                }
            }
            Predicted::Number { mean, own, shared, severity: Some(severity), ln: share.ln() + more }
        }
        Predicted::Mass(_) => Predicted::Mass(all),
    }
}

/// What a fault makes the instrument answer.
fn seen_with(machine: &mut Machine, test: &Test, reading: &Reading, fault: &Fault) -> Predicted {
    let seen = meter::observe(&mut machine.sim, &machine.netlist, &machine.catalogue, test, fault, How::Ports);
    let Some(observed) = seen.ok().and_then(|all| all.into_iter().next()) else { return Predicted::Mass(1.0) };
    match (observed.what, reading) {
        (Observed::Number { value, low, high, .. }, Reading::Value { .. }) => {
            let own = ((high - low) / 3.92).abs().max(1e-3);
            Predicted::Number { mean: value, own, shared: Vec::new(), severity: None, ln: 0.0 }
        }
        (Observed::Over, Reading::Over) => Predicted::Mass(0.97),
        (Observed::Live, Reading::Live) => Predicted::Mass(0.97),
        // What the meter shows on a live path is no resistance: it speaks neither for nor against.
        (Observed::Live, _) => Predicted::Mass(1.0),
        (Observed::Beeps(p), Reading::Beeps(heard)) => {
            let p = if *heard { p } else { 1.0 - p };
            Predicted::Mass(0.98 * p + 0.01)
        }
        (Observed::Showing(words), Reading::Showing(word)) => {
            mass(scale(machine, test.part.as_deref().unwrap_or("")), &words, std::slice::from_ref(word))
        }
        _ => Predicted::Mass(0.01),
    }
}
