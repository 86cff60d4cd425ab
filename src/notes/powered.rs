//! Power brought on, as a section of the build notes.

use super::said;
use crate::session::event::Input;
use crate::session::powerup::{Ask, PowerUp, Step, Taken, Went, instrument};
use std::fmt::Write;

/// The section: what was done, what a sound machine answers, what was met, what is open.
pub fn powered(power: &PowerUp, machine: &str, date: &str) -> String {
    let mut out = format!("## {date}: power brought on\n\n{machine}.\n\n");
    let mut stage = None;
    let mut number = 0;
    for taken in power.taken() {
        let Some(step) = power.plan.steps.get(taken.step) else { continue };
        if stage.replace(step.stage) != Some(step.stage) {
            let words = power.machine().catalogue.powerup.stages.get(step.stage.word());
            let _ = writeln!(out, "### {}\n", words.map_or(step.stage.word(), |words| &words.title));
        }
        number += 1;
        let _ = writeln!(out, "{number}. {}", line(step, taken));
    }
    let open = power.open_points();
    if !open.is_empty() {
        out.push_str("\n### Open\n\n");
        open.iter().for_each(|point| {
            let _ = writeln!(out, "- {point}");
        });
    }
    if !power.notes().is_empty() {
        out.push_str("\n### Notes\n\n");
        power.notes().iter().for_each(|note| {
            let _ = writeln!(out, "- {note}");
        });
    }
    out
}

fn line(step: &Step, taken: &Taken) -> String {
    let met = match (&taken.input, instrument(step)) {
        (Input::Reading(readings), Some(instrument)) => {
            let met: Vec<String> = readings.iter().map(|reading| said(reading, instrument)).collect();
            format!(": met **{}**, should be {}", met.join(", "), taken.expected.join(", "))
        }
        (Input::Saw(text), _) => format!(": **{text}**, should be {}", taken.expected.join(", ")),
        (Input::Choice(_), _) if matches!(step.ask, Ask::Look { .. }) => format!(": {}", taken.expected.join(", ")),
        (Input::Choice(choice), _) if matches!(step.ask, Ask::Feel(_)) => format!(": warm: {choice}"),
        _ => String::new(),
    };
    let head = if step.head.is_empty() { "made safe" } else { &step.head };
    let how = match &taken.went {
        Went::Well => "",
        Went::Wrong(_) => " (**not as it should be**)",
        Went::Skipped => " (left out)",
    };
    format!("{head}{met}{how}")
}
