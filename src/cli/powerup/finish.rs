//! What is left behind: a section of the build notes, or a trail for a chase.

use super::Context;
use crate::cli::book::Keeper;
use crate::cli::error::Failure;
use crate::cli::journal::Trails;
use crate::cli::{build_notes, clock};
use ohmward::notes;
use ohmward::session::journal::{Entry, Header, fingerprint};
use ohmward::session::powerup::{PowerUp, Wait};

/// Adds the section to build-notes.md and ends the journal.
pub fn write(power: &PowerUp, keeper: Keeper, title: &str, context: &mut Context) -> Result<(), Failure> {
    let path = build_notes::beside(&context.wiring);
    let section = notes::powered(power, title, &clock::today());
    if build_notes::add(&path, &format!("powerup, {}", keeper.started), title, &section)? && !context.json {
        context.out.page(format!("\nWritten: {}", path.display()))?;
    }
    keeper.end()
}

/// A trail with all that is known: the chase that goes on with it. One that was open is closed as stopped.
pub fn hand_over(power: &PowerUp, title: &str, text: &str, context: &mut Context) -> Result<(), Failure> {
    let trails = Trails::beside(&context.wiring);
    if let Some((number, journal)) = trails.unfinished()? {
        trails.resume(number, journal.whole)?.end(&clock::stamp(), "stopped")?;
        context.out.say(format!(
            "(trail {number:03} was open and is closed as stopped; read it: ohmward trail show {number})"
        ));
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
