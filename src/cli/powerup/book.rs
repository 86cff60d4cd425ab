//! The journal of bringing power on, `trails/powerup.jsonl`: gone on with, or begun.

use super::Context;
use crate::cli::book::{Book, Keeper};
use crate::cli::clock;
use crate::cli::error::Failure;
use crate::cli::load;
use crate::cli::progress::shown;
use ohmward::diagnosis::machine::Machine;
use ohmward::session::journal::{Entry, Header, fingerprint};
use ohmward::session::powerup::PowerUp;

/// All steps of it, planned; how far that is is shown where somebody waits.
pub fn planned(machine: Machine, lamp: Option<f64>) -> PowerUp {
    let pace = machine.pace.clone();
    shown(&pace, || PowerUp::new(machine, lamp))
}

/// Goes on with what was broken off, or begins. `lamp`: what stands in the minus lead, and whether that was said.
pub fn open(
    machine: Machine,
    title: &str,
    text: &str,
    (lamp, said): (Option<f64>, bool),
    anew: bool,
    context: &mut Context,
) -> Result<(PowerUp, Keeper), Failure> {
    let book = Book::beside(&context.wiring, "powerup", "brings power on", "ohmward powerup --new");
    let header = |lamp: Option<f64>| Header {
        number: 0,
        machine: title.to_string(),
        wiring: fingerprint(text),
        started: clock::stamp(),
        complaint: lamp.map_or_else(|| "small fuse".into(), |watts| format!("lamp {watts} W")),
    };
    let Some(old) = (if anew { None } else { book.unfinished()? }) else {
        let keeper = book.begin(&header(lamp))?;
        return Ok((planned(machine, lamp).speaking(load::words(&context.wiring)?), keeper));
    };
    let journal = &old.journal;
    let kept = journal.header.complaint.strip_prefix("lamp ").and_then(|rest| rest.strip_suffix(" W")?.parse().ok());
    let lamp = if said { lamp } else { kept };
    let mut power = planned(machine, lamp).speaking(load::words(&context.wiring)?);
    let mut taken: Vec<&Entry> = Vec::new();
    for entry in &journal.entries {
        // What was asked then must be what is asked now.
        let same = entry.asked.is_none() || entry.asked.as_ref() == power.asked();
        if !same || power.take(entry.input.clone()).is_err() {
            break;
        }
        taken.push(entry);
    }
    context.out.say(format!("(going on with what was begun {}; anew: ohmward powerup --new)", journal.header.started));
    for line in journal.damaged.iter().chain(&journal.skipped) {
        context.out.say(format!("(line {line} of its journal cannot be read and is left out)"));
    }
    if taken.len() == journal.entries.len() {
        return Ok((power, book.go_on(old)?));
    }
    context.out.say("(the wiring or the lamp has changed since: from here on it is asked anew)");
    let entries: Vec<Entry> = taken.into_iter().cloned().collect();
    drop(old);
    let mut keeper = book.begin(&header(lamp))?;
    keeper.keep_all(&entries.iter().collect::<Vec<_>>())?;
    Ok((power, keeper))
}
