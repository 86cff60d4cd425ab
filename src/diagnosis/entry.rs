//! Readings and complaints made into evidence.

use super::evidence::Entry;
use super::machine::Machine;
use super::posterior::Met;
use super::predict::{Sight, volts_ohms};
use crate::circuit::fault::Fault;
use crate::circuit::heat::{self, Touched};
use crate::circuit::injury::Injury;
use crate::circuit::meter::{self, How, Observed};
use crate::circuit::state::states_of;
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::text::problem::Problem;

/// Span of a display that a wrong reading is spread over, in V, A, and as a factor for ohms.
const VOLTS_SPAN: f64 = 30.0;
/// Words of needles.
pub const NEEDLE_WORDS: [&str; 4] = ["moves-up", "moves-down", "kicks", "steady"];

/// A complaint is seldomer wrong than a reading: nobody goes looking for a fault that he has not seen
/// (common practice, no source).
const COMPLAINT_DOUBT: f64 = 0.1;

/// Chance that a reading is wrong.
fn doubt(machine: &Machine) -> f64 {
    machine.catalogue.weights.specials.get("wrong-reading").copied().unwrap_or(0.03)
}

/// What a complaint says of a part.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Complaint {
    /// The part.
    pub part: String,
    /// Showings that fit what was said.
    pub showings: Vec<String>,
    /// Settings in which it shows.
    pub set: Settings,
    /// Seen while this control moves.
    pub change: Option<(String, [String; 2])>,
    /// On top of `set`: settings in which it does not show.
    pub cured_by: Settings,
    /// It changes while this is done to that: `wiggle`, `P9`.
    pub stirred: Option<(String, String)>,
}

/// `fits` of `n` words fit what was said.
fn said_met(n: usize, fits: usize, placement: usize, doubt: f64) -> Met {
    Met { value: 0.0, step: 1.0, wrong: fits as f64 / n.max(2) as f64, doubt, placement, look: None }
}

/// Is it said of a needle that it moves? (A flasher that is steady has a word of its own.)
fn moves(said: &Complaint, known: &[String]) -> bool {
    said.showings.iter().any(|w| NEEDLE_WORDS.contains(&w.as_str()) && !known.contains(w))
}

/// Evidence of a complaint.
pub fn complaint(machine: &mut Machine, said: &Complaint, placement: usize) -> Result<Vec<Entry>, Vec<Problem>> {
    let known = known_words(machine, &said.part, &said.showings)?;
    let needle = moves(said, &known);
    let mut out = Vec::new();
    for word in &said.showings {
        if !known.contains(word) && !NEEDLE_WORDS.contains(&word.as_str()) {
            let near = crate::text::words::nearest(word, known.iter().map(String::as_str));
            let problem = Problem::whole(format!("{} never shows \"{word}\"", said.part));
            return Err(vec![
                problem
                    .help(near.map_or_else(|| format!("it shows: {}", known.join(", ")), |n| format!("nearest: {n}"))),
            ]);
        }
    }
    let mut test = Test::new(sense(&said.showings), &said.set);
    test.part = Some(said.part.clone());
    let doubt = doubt(machine) * COMPLAINT_DOUBT;
    let met = |n: usize, fits: usize, placement: usize| said_met(n, fits, placement, doubt);
    match (&said.change, needle) {
        (Some(change), true) => {
            test.change = Some(change.clone());
            let states = states(machine, &test)?;
            let [before, after] = states[..] else { return Err(vec![Problem::whole("a change needs two states")]) };
            let sight = Sight::Change { before, after, part: said.part.clone(), words: said.showings.clone() };
            out.push(entry(&test, sight, &said.showings, met(4, said.showings.len(), placement)));
        }
        (Some((control, [from, to])), false) => {
            // It shows with the control moved, and does not before.
            let with = |setting: &str| {
                let mut set: Settings = said.set.iter().filter(|(c, _)| c != control).cloned().collect();
                set.push((control.clone(), setting.to_string()));
                set
            };
            test.set = with(to);
            out.push(words_entry(machine, &test, &said.part, &said.showings, known.len(), &met, placement)?);
            test.set = with(from);
            let others: Vec<String> = known.iter().filter(|w| !said.showings.contains(w)).cloned().collect();
            out.push(words_entry(machine, &test, &said.part, &others, known.len(), &met, placement + 1)?);
        }
        // Stirred it does what it should: that says where, not what.
        (None, false) if said.stirred.is_some() && sound(machine, &test, said)? => {}
        (None, false) => {
            out.push(words_entry(machine, &test, &said.part, &said.showings, known.len(), &met, placement)?);
        }
        (None, true) => {
            return Err(vec![
                Problem::whole(format!("{} moves: with which control?", said.part)).help("say \"when I press …\""),
            ]);
        }
    }
    if !said.cured_by.is_empty() {
        out.extend(cure(machine, said, placement + 2)?);
    }
    if let Some((how, at)) = &said.stirred {
        test.disturb.clone_from(&said.stirred);
        let sight = Sight::Stirs { how: how.clone(), at: at.clone() };
        // Who is wrong has named one of all things that one takes hold of.
        let netlist = &machine.netlist;
        let things = netlist.parts.len() + netlist.plugs.len() + netlist.grounds.len();
        out.push(entry(&test, sight, &["changes".to_string()], met(things, 1, placement + 3)));
    }
    Ok(out)
}

/// Is what was said what the sound machine shows?
fn sound(machine: &mut Machine, test: &Test, said: &Complaint) -> Result<bool, Vec<Problem>> {
    let state = states(machine, test)?[0];
    let healthy = machine.sim.run(state, &Injury::default());
    let shown = machine.likeliest(state, &Injury::default(), &healthy, &said.part);
    Ok(shown.is_some_and(|word| said.showings.contains(&word)))
}

/// Evidence of a cure alone: with `cured_by` on top, the part shows none of what was complained of.
pub fn cure(machine: &mut Machine, said: &Complaint, placement: usize) -> Result<Vec<Entry>, Vec<Problem>> {
    let known = known_words(machine, &said.part, &said.showings)?;
    let doubt = doubt(machine) * COMPLAINT_DOUBT;
    let mut set = said.set.clone();
    let change = said.change.as_ref().map(|(control, [_, to])| (control.clone(), to.clone()));
    for (control, setting) in change.iter().chain(&said.cured_by) {
        set.retain(|(c, _)| c != control);
        set.push((control.clone(), setting.clone()));
    }
    let needle = moves(said, &known);
    let mut test = Test::new(sense(&said.showings), &set);
    test.part = Some(said.part.clone());
    let met = |n: usize, fits: usize, placement: usize| said_met(n, fits, placement, doubt);
    match (&said.change, needle) {
        (Some((control, [from, to])), true) if !said.cured_by.iter().any(|(c, _)| c == control) => {
            // With the cure in place the needle no longer moves.
            test.change = Some((control.clone(), [from.clone(), to.clone()]));
            let steady = vec!["steady".to_string()];
            let states = states(machine, &test)?;
            let [before, after] = states[..] else { return Ok(Vec::new()) };
            let sight = Sight::Change { before, after, part: said.part.clone(), words: steady.clone() };
            Ok(vec![entry(&test, sight, &steady, met(4, 1, placement))])
        }
        (_, true) => Ok(Vec::new()),
        _ => {
            let others: Vec<String> = known.iter().filter(|w| !said.showings.contains(w)).cloned().collect();
            Ok(vec![words_entry(machine, &test, &said.part, &others, known.len(), &met, placement)?])
        }
    }
}

/// Words that a part can show; those of heat, where what was said is one of them.
fn known_words(machine: &Machine, part: &str, said: &[String]) -> Result<Vec<String>, Vec<Problem>> {
    let netlist = &machine.netlist;
    if said.iter().any(|word| heat::is_word(word)) {
        let found = Touched::find(netlist, part).map_err(|problem| vec![problem]);
        return found.map(|_| heat::WORDS.map(String::from).to_vec());
    }
    let Some(found) =
        netlist.parts.get(part).or_else(|| netlist.parts.values().find(|p| p.name.eq_ignore_ascii_case(part)))
    else {
        let near = crate::text::words::nearest(part, netlist.parts.keys().map(String::as_str));
        let problem = Problem::whole(format!("no part is called \"{part}\""));
        return Err(vec![match near {
            Some(near) => problem.help(format!("nearest: {near}")),
            None => problem,
        }]);
    };
    let words = machine.catalogue.kind(&found.kind).map(|kind| {
        let mut words: Vec<String> = kind.showings.iter().flat_map(|s| s.words.clone()).collect();
        words.extend(["flashing", "slow-flash", "fast-flash", "chatters"].map(String::from));
        words
    });
    words
        .filter(|w| !w.is_empty())
        .ok_or_else(|| vec![Problem::whole(format!("{part} shows nothing that can be watched"))])
}

/// The eye, or the hand.
fn sense(said: &[String]) -> Instrument {
    if said.iter().any(|word| heat::is_word(word)) { Instrument::Touch } else { Instrument::Watch }
}

fn states(machine: &mut Machine, test: &Test) -> Result<Vec<crate::circuit::sim::StateId>, Vec<Problem>> {
    let specs = states_of(machine.sim.schematic(), &machine.netlist, test)?;
    Ok(specs.iter().map(|spec| machine.state(spec)).collect())
}

fn entry(test: &Test, sight: Sight, words: &[String], met: Met) -> Entry {
    Entry { test: test.clone(), sight, reading: Reading::Showing(words.join(" or ")), met, complaint: true, epoch: 0 }
}

fn words_entry(
    machine: &mut Machine,
    test: &Test,
    part: &str,
    words: &[String],
    known: usize,
    met: &dyn Fn(usize, usize, usize) -> Met,
    placement: usize,
) -> Result<Entry, Vec<Problem>> {
    let state = states(machine, test)?[0];
    let (part, fit) = (part.to_string(), words.to_vec());
    let sight = match test.instrument {
        Instrument::Touch => Sight::Felt { state, thing: part, words: fit, complaint: true },
        _ => Sight::Words { state, part, words: fit, complaint: true },
    };
    Ok(entry(test, sight, words, met(known, words.len(), placement)))
}

/// Evidence of the readings of one placement, in the order of its settings.
pub fn readings(
    machine: &mut Machine,
    test: &Test,
    readings: &[Reading],
    placement: usize,
) -> Result<Vec<Entry>, Vec<Problem>> {
    let per_setting = if test.change.is_some() { 2 } else { 1 };
    let states = states(machine, test)?;
    let doubt = doubt(machine);
    let mut out = Vec::new();
    for (index, (reading, set)) in readings.iter().zip(test.placements()).enumerate() {
        let one = Test { set, then: Vec::new(), ..test.clone() };
        let step = reading.step(test.instrument);
        let met = |value: f64, wrong: f64| Met { value, step, wrong, doubt, placement, look: None };
        let push = |out: &mut Vec<Entry>, sight: Sight, met: Met| {
            out.push(Entry { test: one.clone(), sight, reading: reading.clone(), met, complaint: false, epoch: 0 });
        };
        let state = states[index * per_setting];
        if let (Some(ohms), Some(red), Some(black)) = (volts_ohms(machine, test.instrument), &test.red, &test.black) {
            let (Some(red), Some(black)) = (machine.netlist.point(red), machine.netlist.point(black)) else { continue };
            let sight = |swing| Sight::Volts { state, red: red.index(), black: black.index(), ohms, swing };
            match reading {
                Reading::Value { value, .. } => push(&mut out, sight(None), met(*value, step / VOLTS_SPAN)),
                Reading::Range { from, to } => {
                    push(&mut out, sight(Some(false)), met(from.min(*to), step / VOLTS_SPAN));
                    push(&mut out, sight(Some(true)), met(from.max(*to), step / VOLTS_SPAN));
                }
                _ => return Err(vec![Problem::whole("a volts reading is a number, or two that it swings between")]),
            }
            continue;
        }
        match (test.instrument, reading) {
            (Instrument::Watch | Instrument::Touch, Reading::Showing(word)) => {
                let part = test.part.clone().unwrap_or_default();
                let felt = test.instrument == Instrument::Touch;
                let of_heat = felt.then(|| heat::WORDS.map(String::from).to_vec());
                let known = known_words(machine, &part, of_heat.as_deref().unwrap_or_default())?;
                if let (Some(_), true) = (&test.change, per_setting == 2) {
                    if !NEEDLE_WORDS.contains(&word.as_str()) {
                        return Err(vec![Problem::whole(format!(
                            "\"{word}\": say moves-up, moves-down, kicks or steady"
                        ))]);
                    }
                    let after = states[index * per_setting + 1];
                    let sight = Sight::Change { before: state, after, part, words: vec![word.clone()] };
                    push(&mut out, sight, met(0.0, 0.25));
                } else {
                    if !known.contains(word) {
                        return Err(vec![
                            Problem::whole(format!("{part} never shows \"{word}\""))
                                .help(format!("it shows: {}", known.join(", "))),
                        ]);
                    }
                    let words = vec![word.clone()];
                    let sight = match test.instrument {
                        Instrument::Touch => Sight::Felt { state, thing: part, words, complaint: false },
                        _ => Sight::Words { state, part, words, complaint: false },
                    };
                    push(&mut out, sight, met(0.0, 1.0 / known.len() as f64));
                }
            }
            (_, Reading::Value { value, .. }) => {
                let live = healthy_is_live(machine, &one);
                let sight = if live { Sight::Nothing } else { Sight::Instrument(Box::new(one.clone())) };
                let span = if test.instrument == Instrument::Ohms { value.abs().max(1.0) * 20.0 } else { VOLTS_SPAN };
                push(&mut out, sight, met(*value, (step / span).min(1.0)));
            }
            _ => {
                let live = !matches!(reading, Reading::Live) && healthy_is_live(machine, &one);
                let sight = if live { Sight::Nothing } else { Sight::Instrument(Box::new(one.clone())) };
                push(&mut out, sight, met(0.0, 0.3));
            }
        }
    }
    Ok(out)
}

/// Ohms and beeps on a path that is live say nothing about resistance: kept, and weigh nothing.
fn healthy_is_live(machine: &mut Machine, test: &Test) -> bool {
    matches!(test.instrument, Instrument::Ohms | Instrument::Beep)
        && meter::observe(&mut machine.sim, &machine.netlist, &machine.catalogue, test, &Fault::healthy(), How::Ports)
            .is_ok_and(|seen| seen.iter().any(|o| matches!(o.what, Observed::Live)))
}
