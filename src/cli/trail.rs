//! `ohmward trail`: the chases so far.

use super::Context;
use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::journal::Trails;
use clap_complete::engine::ArgValueCompleter;
use ohmward::notes;
use ohmward::session::Input;
use ohmward::session::journal::{Entry, Journal};
use serde_json::json;

/// List the chases so far, or show one
///
/// A trail is the record of one chase: what was said, read and tried, in order. Trails stand in the folder
/// `trails` beside the wiring file, one JSON line an answer.
#[derive(clap::Args)]
pub struct Args {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(clap::Subcommand)]
enum What {
    /// List all trails
    List,
    /// Show one trail; without a number the newest
    Show {
        /// Its number
        #[arg(add = ArgValueCompleter::new(offer::trails))]
        number: Option<u32>,
    },
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let trails = Trails::beside(&context.wiring);
    match args.what {
        None | Some(What::List) => list(&trails, context),
        Some(What::Show { number }) => show(&trails, number, context),
    }
}

fn list(trails: &Trails, context: &mut Context) -> Result<Exit, Failure> {
    let mut rows = Vec::new();
    for number in trails.numbers()? {
        match trails.read(number) {
            Ok(journal) => rows.push((number, journal)),
            Err(Failure::Plain { text, .. }) => context.out.say(format!("(warning) {text}")),
            Err(other) => return Err(other),
        }
    }
    if context.json {
        let list: Vec<_> = rows
            .iter()
            .map(|(number, journal)| {
                json!({
                    "trail": number,
                    "started": journal.header.started,
                    "complaint": complaint(journal),
                    "answers": journal.entries.len(),
                    "end": journal.end,
                })
            })
            .collect();
        context.out.json(&json!(list))?;
        return Ok(Exit::Done);
    }
    if rows.is_empty() {
        context.out.say("no trails yet; begin one with: ohmward chase \"what is wrong\"");
    }
    for (number, journal) in rows {
        let day = journal.header.started.split('T').next().unwrap_or("");
        let end = journal.end.as_deref().unwrap_or("not finished");
        context.out.page(format!("{number:03}  {day}  {end:<16} {}", complaint(&journal)))?;
    }
    Ok(Exit::Done)
}

/// Shows a trail; also what a second program does while another one is in the chase.
pub fn show(trails: &Trails, number: Option<u32>, context: &mut Context) -> Result<Exit, Failure> {
    let number = match number {
        Some(number) => number,
        None => *trails.numbers()?.last().ok_or_else(|| {
            Failure::hinted("there are no trails yet", "begin one with: ohmward chase \"what is wrong\"")
        })?,
    };
    let journal = trails.read(number)?;
    if let Some(line) = journal.damaged {
        context.out.say(format!("(warning) trail {number:03}: line {line} is damaged and was skipped"));
    }
    for line in &journal.skipped {
        context.out.say(format!("(warning) trail {number:03}: line {line} is damaged and was skipped"));
    }
    if context.json {
        let entries: Vec<_> = journal
            .entries
            .iter()
            .map(|entry| {
                json!({
                    "at": entry.at,
                    "input": entry.input.to_json(entry.asked.as_ref()),
                    "asked": entry.asked.as_ref().map(|test| test.to_json()),
                })
            })
            .collect();
        context.out.json(&json!({
            "trail": number,
            "machine": journal.header.machine,
            "started": journal.header.started,
            "complaint": complaint(&journal),
            "answers": entries,
            "end": journal.end,
        }))?;
        return Ok(Exit::Done);
    }
    let paint = context.out.paint;
    context.out.page(format!("{} {}", paint.head(&format!("Trail {number:03}:")), complaint(&journal)))?;
    context.out.page(format!("  {}, begun {}", journal.header.machine, journal.header.started))?;
    for (i, entry) in journal.entries.iter().enumerate() {
        context.out.page(format!("{:>3}. {}", i + 1, told(entry)))?;
    }
    context.out.page(format!("  {}", journal.end.as_deref().map_or("not finished", |end| end)))?;
    Ok(Exit::Done)
}

fn complaint(journal: &Journal) -> String {
    if !journal.header.complaint.is_empty() {
        return journal.header.complaint.clone();
    }
    journal.entries.first().map(told).unwrap_or_default()
}

/// An accepted answer in words.
fn told(entry: &Entry) -> String {
    let readings = |list: &[ohmward::circuit::test::Reading], test: &ohmward::circuit::test::Test| {
        let met: Vec<String> = list.iter().map(|reading| notes::said(reading, test.instrument)).collect();
        format!("{}: {}", notes::short(test), met.join(", "))
    };
    match (&entry.input, &entry.asked) {
        (Input::Reading(list), Some(test)) => readings(list, test),
        (Input::Measured { test, readings: list }, _) => readings(list, test),
        (Input::Saw(text), _) => format!("saw {text}"),
        (Input::Was(text), _) => format!("was {text}"),
        (Input::CuredBy(text), _) => format!("cured by {text}"),
        (Input::Choice(text), _) => format!("answer: {text}"),
        (Input::Told { question, answer, .. }, _) => format!("{question}: {answer}"),
        (Input::Unnamed, _) => "what shows could not be said".into(),
        (Input::Note(text), _) => format!("note {text}"),
        (Input::Fixed(names), _) => format!("fixed {}", names.join(", ")),
        (Input::Cured { cured: true, .. }, _) => "the repair cured it".into(),
        (Input::Cured { cured: false, .. }, _) => "the repair did not cure it".into(),
        (Input::Symptom(symptom), _) => format!("{} {}", symptom.part, symptom.showings.join(" or ")),
        (Input::Skip, _) => "skipped".into(),
        (Input::Back, _) => "back".into(),
        (Input::Stop, _) => "stopped".into(),
        (Input::Reading(_), None) => "a reading".into(),
    }
}
