//! Chases against a simulated machine: what the tool is worth, in figures.
//!
//! A planted fault shows what it shows, its owner complains of that, every question is answered by the
//! simulated machine's own readings, and every repair proposed is done.

use super::chase::Chase;
use super::event::{Event, Input, VerdictReason};
use super::name;
use super::twin::Twin;
use crate::catalogue::Catalogue;
use crate::circuit::fault::Fault;
use crate::diagnosis::machine::Machine;
use crate::netlist::Netlist;
use crate::text::problem::Problem;

/// No chase asks more than this.
const MOST: usize = 30;

/// How one chase went.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// The planted fault, with the severity that was drawn.
    pub fault: String,
    /// Placements read (looks included).
    pub asked: usize,
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
    /// The planted fault is in the final group.
    pub found: bool,
    /// The final group is one repair class.
    pub one_class: bool,
    /// What was asked, read, tried, a line each.
    pub trail: Vec<String>,
}

/// One chase; `None` if nothing of the fault can be seen.
///
/// # Errors
///
/// What is wrong with the fault's name.
pub fn walk(netlist: &Netlist, catalogue: &Catalogue, fault: &Fault, seed: u64) -> Result<Option<Walk>, Vec<Problem>> {
    let mut twin = Twin::new(netlist, catalogue, fault, seed)?;
    let Some(symptom) = twin.symptom() else { return Ok(None) };
    let mut chase = Chase::new(Machine::new(netlist.clone(), catalogue.clone()));
    let truth = chase.suspects.by_name(&fault.to_string());
    let truth_class = truth.map_or_else(|| "not listed".to_string(), |s| chase.suspects.list[s].class.clone());
    let mut out = Walk {
        fault: twin.fault().to_string(),
        asked: 0,
        vain: 0,
        minutes: 0.0,
        reason: VerdictReason::Stopped,
        class: String::new(),
        group: Vec::new(),
        found: false,
        one_class: false,
        trail: vec![truth_class, super::report::symptom_words(&symptom)],
    };
    let mut said = chase.take(Input::Symptom(symptom));
    for _ in 0..MOST {
        match said.pop() {
            Some(Event::Ask { test, minutes, .. }) => {
                out.minutes += minutes;
                out.asked += 1;
                let input = match twin.read(&test) {
                    Ok(readings) => {
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
                let mine = truth.map_or(0.0, |s| chase.chances.suspects[s]);
                out.trail.push(format!("    {} | truth {mine:.3}", lead.join(", ")));
            }
            Some(Event::Question { .. }) => said = chase.take(Input::Choice("don't know".into())),
            Some(Event::TryRepair { class, faults, .. }) => {
                let cured = twin.cured_by(&faults);
                out.trail.push(format!("try {class}: {}", if cured { "cured" } else { "not cured" }));
                out.vain += usize::from(!cured);
                said = chase.take(Input::Cured { cured, blown: Vec::new() });
            }
            Some(Event::Verdict { verdict, .. }) => {
                out.reason = verdict.reason;
                out.class = verdict.class;
                out.group = verdict.faults.iter().map(|(f, _)| f.clone()).collect();
                let truth = name::without_severity(fault).to_string();
                out.found = out.group.contains(&truth)
                    || chase.suspects.by_name(&fault.to_string()).is_some_and(|s| {
                        chase.suspects.list[s].members.iter().any(|m| out.group.contains(&name::short(m)))
                    });
                let class_of = |fault: &String| {
                    chase
                        .suspects
                        .list
                        .iter()
                        .find(|s| s.members.iter().any(|m| name::short(m) == *fault))
                        .map(|s| &s.class)
                };
                let first = out.group.first().and_then(class_of);
                out.one_class = out.group.iter().all(|f| class_of(f) == first);
                out.trail.push(format!("{}: {}", verdict.reason.word(), verdict.text));
                break;
            }
            Some(Event::Suspects { .. } | Event::Error { .. }) | None => break,
        }
    }
    Ok(Some(out))
}
