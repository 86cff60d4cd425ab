//! What is left behind: a section of the build notes, or a trail for a chase.

use super::Context;
use crate::cli::book::Keeper;
use crate::cli::error::Failure;
use crate::cli::journal::Trails;
use crate::cli::{clock, store};
use ohmward::notes;
use ohmward::session::journal::{Entry, Header, fingerprint};
use ohmward::session::powerup::{PowerUp, Wait};
use std::path::Path;

/// Adds the section to build-notes.md and ends the journal.
pub fn write(power: &PowerUp, keeper: Keeper, title: &str, context: &mut Context) -> Result<(), Failure> {
    let folder = context.wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let path = folder.join("build-notes.md");
    let old = match std::fs::read(&path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(error) => return Err(Failure::plain(format!("cannot read {}: {error}", path.display()))),
    };
    let section = notes::powered(power, title, &clock::today());
    if let Some(new) = notes::append(&old, &format!("powerup, {}", keeper.started), title, &section) {
        store::replace(&path, &new)?;
        if !context.json {
            context.out.page(format!("\nWritten: {}", path.display()))?;
        }
    }
    keeper.end()
}

/// A trail with all that is known: the chase that goes on with it. One that was open is closed as stopped.
pub fn hand_over(power: &PowerUp, title: &str, text: &str, context: &mut Context) -> Result<(), Failure> {
    let trails = Trails::beside(&context.wiring);
    if let Some((number, journal)) = trails.unfinished()? {
        trails.resume(number, journal.whole)?.end(&clock::stamp(), "stopped")?;
        context
            .out
            .say(format!("(trail {number:03} was open and is closed as stopped; read it: ohmward trail {number})"));
    }
    let what = match power.waiting() {
        Wait::Step(at) => power.plan.steps.get(*at).map_or("", |step| step.head.as_str()),
        _ => "",
    };
    let mut header = Header {
        number: 0,
        machine: title.to_string(),
        wiring: fingerprint(text),
        started: clock::stamp(),
        complaint: format!("while power was brought on: {what}"),
    };
    let mut writer = trails.begin(&mut header)?;
    for input in power.known() {
        writer.entry(&Entry { at: clock::stamp(), input, asked: None })?;
    }
    Ok(())
}
