//! Chases against a simulated machine: what the tool is worth, in figures.
//!
//! A planted fault shows what it shows, its owner complains of that, every question is answered by the
//! simulated machine's own readings, and every repair proposed is done.

pub mod calibration;
pub mod plan;
pub mod tally;

use super::chase::Chase;
use super::event::{Event, Input, VerdictReason};
use super::name;
use super::twin::Twin;
use crate::catalogue::Catalogue;
use crate::circuit::fault::{Fault, Single};
use crate::circuit::test::Reading;
use crate::diagnosis::machine::Machine;
use crate::netlist::Netlist;
use crate::text::problem::Problem;

/// No chase asks more than this.
const MOST: usize = 30;

/// How a chase is answered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answering {
    /// Draws the machine, the meter's errors and the slips.
    pub seed: u64,
    /// Chance that a reading is a slip of the hand ([`slip`]), 0 to 1.
    pub wrong: f64,
}

/// How one chase went.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// The planted fault, with the severity that was drawn.
    pub fault: String,
    /// Seed of its machine and its answers.
    pub seed: u64,
    /// Placements read (looks included).
    pub asked: usize,
    /// Readings that were slips.
    pub slips: usize,
    /// Repairs tried in vain.
    pub vain: usize,
    /// Minutes of the placements.
    pub minutes: f64,
    /// How it ended.
    pub reason: VerdictReason,
    /// Class of the verdict.
    pub class: String,
    /// Faults of the final group.
    pub group: Vec<String>,
    /// The planted fault is in the final group; a short wherever along the same two nets, and of several faults each by
    /// one of its repair class.
    pub found: bool,
    /// The final group is one repair class, or no more than there were faults.
    pub one_class: bool,
    /// The likeliest fault of the final group is planted, taken in the same way.
    pub first: bool,
    /// The fault was drawn by how likely it is; set by who draws.
    pub by_weight: bool,
    /// Chances of the likelier repairs when the last reading was in and none was tried, and whether each is the planted
    /// fault's.
    pub said: Vec<(f64, bool)>,
    /// What was asked, read, tried, a line each.
    pub trail: Vec<String>,
}

/// One chase; `None` if nothing of the fault can be seen.
///
/// # Errors
///
/// What is wrong with the fault's name.
pub fn walk(
    netlist: &Netlist,
    catalogue: &Catalogue,
    fault: &Fault,
    answering: Answering,
) -> Result<Option<Walk>, Vec<Problem>> {
    let Answering { seed, wrong } = answering;
    let mut twin = Twin::new(netlist, catalogue, fault, seed)?;
    // The meter draws from the seed itself; slips come from elsewhere, so that they change no other reading.
    let mut hand = fastrand::Rng::with_seed(seed ^ 0x5119);
    let Some(symptom) = twin.symptom() else { return Ok(None) };
    let mut chase = Chase::new(Machine::new(netlist.clone(), catalogue.clone()));
    // (what comes and goes has no name of its own)
    let plain = |one: &Single| Fault { singles: vec![Single { intermittent: None, ..one.clone() }] };
    let mut planted: Vec<Fault> = fault.singles.iter().map(plain).collect();
    // What cannot be seen when the others are put right is not complained of.
    if planted.len() > 1 {
        planted.retain(|one| twin.shows(one));
    }
    let classes: Vec<String> = planted
        .iter()
        .filter_map(|one| chase.suspects.by_name(&one.to_string()))
        .map(|at| chase.suspects.list[at].class.clone())
        .collect();
    let truth = planted.first().and_then(|one| chase.suspects.by_name(&one.to_string()));
    let truth_class = truth.map_or_else(|| "not listed".to_string(), |s| chase.suspects.list[s].class.clone());
    let mut out = Walk {
        fault: twin.planted().to_string(),
        seed,
        asked: 0,
        slips: 0,
        vain: 0,
        minutes: 0.0,
        reason: VerdictReason::Stopped,
        class: String::new(),
        group: Vec::new(),
        found: false,
        one_class: false,
        first: false,
        by_weight: false,
        said: Vec::new(),
        trail: vec![truth_class, super::report::symptom_words(&symptom)],
    };
    let mut said = chase.take(Input::Symptom(symptom));
    let mut tried = false;
    for _ in 0..MOST {
        match said.pop() {
            Some(Event::Ask { test, minutes, .. }) => {
                out.minutes += minutes;
                out.asked += 1;
                let input = match twin.read(&test) {
                    Ok(mut readings) => {
                        if hand.f64() < wrong {
                            out.slips += usize::from(slip(&mut readings, &mut hand));
                        }
                        let unit = test.instrument.unit().unwrap_or("");
                        let met: Vec<String> = readings.iter().map(|r| super::ask::say_reading(r, unit)).collect();
                        out.trail.push(format!("{}: {}", super::ask::short_test(&test), met.join(", ")));
                        Input::Reading(readings)
                    }
                    Err(problems) => {
                        out.trail.push(format!("{}: skipped, {}", super::ask::short_test(&test), problems[0].text));
                        Input::Skip
                    }
                };
                said = chase.take(input);
                let lead: Vec<String> =
                    chase.classes().into_iter().take(3).map(|(class, p)| format!("{class} {p:.2}")).collect();
                if !tried {
                    let own = truth.map(|s| chase.suspects.list[s].class.as_str());
                    let all = chase.classes().into_iter();
                    out.said =
                        all.map(|(class, p)| (p, Some(class.as_str()) == own)).filter(|(p, _)| *p >= 1e-3).collect();
                }
                let mine = truth.map_or(0.0, |s| chase.chances.suspects[s]);
                out.trail.push(format!("    {} | truth {mine:.3}", lead.join(", ")));
            }
            Some(Event::Question { .. }) => said = chase.take(Input::Choice("don't know".into())),
            Some(Event::TryRepair { class, faults, .. }) => {
                tried = true;
                let cured = twin.cured_by(&faults);
                out.trail.push(format!("try {class}: {}", if cured { "cured" } else { "not cured" }));
                // (one of several faults put right is no work in vain)
                let one_of_them = planted.len() > 1 && classes.contains(&class);
                out.vain += usize::from(!cured && !one_of_them);
                twin.repair(&faults);
                twin.replace(&class.strip_prefix("replace:").map(String::from).into_iter().collect::<Vec<_>>());
                said = chase.take(Input::Cured { cured, blown: Vec::new() });
            }
            Some(Event::Verdict { verdict, .. }) => {
                out.reason = verdict.reason;
                out.class = verdict.class;
                out.group = verdict.faults.iter().map(|(f, _)| f.clone()).collect();
                let class_of = |fault: &String| {
                    let mut list = chase.suspects.list.iter();
                    list.find(|s| s.members.iter().any(|m| name::short(m) == *fault)).map(|s| s.class.clone())
                };
                let mut last: Vec<String> = out.group.iter().filter_map(class_of).collect();
                // Every planted fault has to be there; of several, one of its repair class: which ways were crossed is
                // hard to say beside something else, and one repair all the same.
                let among = |group: &[String], one: &Fault| match planted.len() {
                    1 => holds(&chase, group, one),
                    _ => {
                        let own = chase.suspects.by_name(&one.to_string()).map(|at| &chase.suspects.list[at].class);
                        own.is_some_and(|own| group.iter().filter_map(class_of).any(|class| class == *own))
                    }
                };
                out.found = planted.iter().all(|one| among(&out.group, one));
                out.first = planted.iter().any(|one| among(&out.group[..out.group.len().min(1)], one));
                last.sort_unstable();
                last.dedup();
                out.one_class = last.len() <= planted.len();
                out.trail.push(format!("{}: {}", verdict.reason.word(), verdict.text));
                break;
            }
            Some(Event::Suspects { .. } | Event::Error { .. }) | None => break,
        }
    }
    Ok(Some(out))
}

/// Is a fault in a group, by its own name or by that of a suspect it is one with, wherever along the same two nets it is?
fn holds(chase: &Chase, group: &[String], fault: &Fault) -> bool {
    let short = name::without_severity(fault).to_string();
    let suspects = &chase.suspects;
    group.contains(&short)
        || suspects.by_name(&fault.to_string()).is_some_and(|at| {
            let alike = |other: &usize| suspects.as_mated(*other) == suspects.as_mated(at);
            let mut members = (0..suspects.list.len()).filter(alike).flat_map(|other| &suspects.list[other].members);
            members.any(|member| group.contains(&name::short(member)))
        })
}

/// A slip that a person makes: leads the wrong way round, a lead that touched nothing, a factor of ten read off the
/// range (common practice, no source). `false`: nothing here that could be misread.
pub fn slip(readings: &mut [Reading], hand: &mut fastrand::Rng) -> bool {
    let kind = hand.u8(0..3);
    let mut any = false;
    for reading in readings {
        if let Reading::Value { value, .. } = reading {
            let misread = match kind {
                0 => -*value,
                1 => 0.0,
                _ => *value * 10.0,
            };
            any |= (misread - *value).abs() > 1e-9;
            *value = misread;
        }
    }
    any
}
