//! Ringing out with a person, or with a script: each answer is kept before the next placement.

use super::screen;
use crate::cli::Context;
use crate::cli::book::Keeper;
use crate::cli::chase::jsonl::Script;
use crate::cli::error::Failure;
use crate::cli::prompt::{Got, LineSource};
use ohmward::session::Input;
use ohmward::session::ringout::said::HELP;
use ohmward::session::ringout::{Finding, Ring, Wait};
use serde_json::{Value, json};
use std::io::BufRead;

/// Asks until every way is known; false if it was broken off.
pub fn run(
    ring: &mut Ring,
    keeper: &mut Keeper,
    lines: &mut dyn LineSource,
    context: &mut Context,
) -> Result<bool, Failure> {
    let paint = context.out.paint;
    let mut shown: Option<Wait> = None;
    let mut told: Vec<Finding> = ring.findings();
    while ring.waiting() != Wait::Done {
        let waits = ring.waiting();
        if shown.replace(waits.clone()) != Some(waits) {
            show(&format!("\n{}", screen::ask(ring, paint)), context)?;
        }
        lines.offer(words(ring));
        let line = match lines.line(screen::prompt(ring))? {
            Got::Line(line) => line,
            Got::End | Got::Interrupted => return Ok(false),
        };
        match line.trim().to_lowercase().as_str() {
            "stop" | "quit" | "exit" | "q" => return Ok(false),
            "help" | "h" | "?" => show(HELP, context)?,
            _ => match ring.take(&line) {
                Err(why) => show(&format!("not taken: {why}"), context)?,
                Ok(()) => {
                    keep(line.trim(), keeper)?;
                    if line.trim().eq_ignore_ascii_case("back") {
                        shown = None;
                    }
                    // What is wrong is named at once.
                    let now = ring.findings();
                    for finding in now.iter().filter(|finding| !told.contains(finding)) {
                        show(&format!("  {:<9}{}", "mend", paint.fault(&finding.text)), context)?;
                    }
                    told = now;
                }
            },
        }
    }
    if context.json {
        context.out.json(&summary(ring))?;
    } else {
        context.out.page(format!("\n{}", screen::summary(ring, paint)))?;
    }
    Ok(true)
}

fn keep(text: &str, keeper: &mut Keeper) -> Result<(), Failure> {
    let lower = text.to_lowercase();
    let input = if matches!(lower.as_str(), "back" | "undo") { Input::Back } else { Input::Choice(text.to_string()) };
    keeper.keep(&input, None)
}

/// Screens are no result where JSON is wanted.
fn show(text: &str, context: &mut Context) -> Result<(), Failure> {
    if context.json {
        context.out.say(text);
        return Ok(());
    }
    context.out.page(text)
}

/// Words that the Tab key completes.
fn words(ring: &Ring) -> Vec<String> {
    let mut out: Vec<String> =
        ["yes", "no", "dead", "all good", "skip", "back", "note ", "stop", "help"].map(String::from).to_vec();
    out.extend(ring.job.ways.iter().map(|way| way.name.clone()));
    out
}

/// What is known, for scripts.
pub fn summary(ring: &Ring) -> Value {
    let name = |at: usize| ring.job.ways[at].name.clone();
    let ways: Vec<Value> = ring
        .known()
        .iter()
        .enumerate()
        .map(|(at, known)| match known {
            None => json!({"way": name(at)}),
            Some(known) => json!({
                "way": name(at), "goes-to": known.far.map(name), "dead": known.dead, "left-out": known.skipped,
                "volts": known.volts, "came-out": known.pulled,
            }),
        })
        .collect();
    let joined: Vec<[String; 2]> = ring.joined().iter().map(|&(a, b)| [name(a), name(b)]).collect();
    json!({
        "event": "done", "name": ring.job.name, "ways": ways, "joined": joined,
        "good": ring.good().into_iter().map(name).collect::<Vec<_>>(),
        "findings": ring.findings().into_iter().map(|finding| finding.text).collect::<Vec<_>>(),
    })
}

/// What waits, for scripts.
fn event(ring: &Ring, id: usize) -> Value {
    let name = |at: &usize| ring.job.ways[*at].name.clone();
    let names = |ways: &[usize]| ways.iter().map(name).collect::<Vec<_>>();
    let ends = |at: usize| (ring.job.ways[at].near.at.clone(), ring.job.ways[at].far.at.clone());
    let mut event = match ring.waiting() {
        Wait::Safe => json!({"event": "safe"}),
        Wait::Bunches([one, other]) => json!({"event": "bunches", "red": names(&one), "black": names(&other)}),
        Wait::Way { at, drag } => {
            json!({"event": "way", "way": name(&at), "red": ends(at).0, "black": ends(at).1, "drag": names(&drag)})
        }
        Wait::Find { at, open } => json!({"event": "find", "way": name(&at), "red": ends(at).0, "among": names(&open)}),
        Wait::Load(at) => {
            let should = ohmward::session::ringout::load::should(&ring.job.ways[at], ring.lamp());
            json!({
                "event": "load", "way": name(&at), "red": ends(at).0, "black": ends(at).1,
                "volts": should.volts, "most": should.most,
            })
        }
        Wait::Pull => json!({"event": "pull"}),
        Wait::Done => summary(ring),
    };
    event["id"] = json!(id);
    event
}

/// The same for a script: `{"answer":"5=6"}` a line; the end of input is `stop`.
pub fn script<R: BufRead + Send + 'static>(
    ring: &mut Ring,
    keeper: &mut Keeper,
    script: &mut Script<R>,
    context: &mut Context,
) -> Result<bool, Failure> {
    let mut id = 1;
    loop {
        context.out.json_line(&event(ring, id))?;
        if ring.waiting() == Wait::Done {
            return Ok(true);
        }
        let Some(line) = script.next()? else { return Ok(false) };
        let answer = line.and_then(|value| {
            let text = value.get("answer").and_then(Value::as_str).map(ohmward::text::hidden::visible);
            text.ok_or_else(|| "an answer is wanted: {\"answer\":\"y\"}".to_string())
        });
        if answer.as_deref() == Ok("stop") {
            return Ok(false);
        }
        match answer.and_then(|answer| ring.take(&answer).map(|()| answer)) {
            Ok(answer) => keep(&answer, keeper)?,
            Err(text) => context.out.json_line(&json!({"event": "error", "id": id, "text": text}))?,
        }
        id += 1;
    }
}
