//! `ohmward wire`: rows of the wiring file written, changed and taken out, by the file's own short form.

pub mod desk;
pub mod history;

use super::Context;
use super::chase::source;
use super::complete::offer;
use super::error::{self, Failure, problem_json};
use super::exit::Exit;
use super::prompt::Got;
use clap_complete::engine::ArgValueCompleter;
use desk::{Desk, Told};
use ohmward::wiring::edit::VERBS;
use serde_json::json;

/// Write rows of the wiring file: add, change, remove, in the file's own short form
///
/// Without LINE a prompt opens (on a pipe: one line a row); Tab completes sections, kinds, pins, plugs, wires,
/// colours. Each line is checked and written at once, comments and layout stay; a line with a problem changes
/// nothing. Lines given here are taken together: all, or none. Where no wiring file is, one is begun.
#[derive(clap::Args)]
pub struct Args {
    /// Rows and words: NAME: …, FROM to TO, …, change NAME: …, remove NAME, plug NAME
    #[arg(value_name = "LINE", add = ArgValueCompleter::new(offer::rows))]
    lines: Vec<String>,
    /// Take the last step back; again for the one before
    #[arg(long, conflicts_with = "lines")]
    undo: bool,
    /// With --undo: also if the file was changed by hand since (what was written by hand is kept)
    #[arg(long, requires = "undo")]
    anyway: bool,
}

/// Words of the prompt besides those of rows.
const WORDS: [(&str, &str, &str); 5] = [
    ("undo", "undo", "take the last step back; again for the one before"),
    ("show", "show P9", "the file, or its rows that speak of something"),
    ("check", "check", "what is wrong or odd in the file"),
    ("help", "help", "this list"),
    ("done", "done", "end (all is on disk already)"),
];

/// Rows as examples.
const ROWS: [(&str, &str); 6] = [
    ("horn: horn, 3.5 A, nose", "a part: kind, figures, place"),
    ("horn.ground to G1, black, 1 m, ?", "a wire: from to to, colour, size, length, proof"),
    ("P9: 4, grey, white, turn.right, lamp.feed, ?", "a row of a plug"),
    ("G1: nose, on frame, [horn.ground]", "a ground point"),
    ("F3: fuse 10 A, dash, [horn.feed]", "a feed"),
    ("nose: 3 min", "a place"),
];

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let mut desk = Desk::at(&context.wiring)?;
    if args.undo {
        let told = desk.undo(args.anyway)?;
        let refused = told.refused;
        tell(&told, context)?;
        return Ok(if refused { Exit::NotMet } else { Exit::Done });
    }
    if !args.lines.is_empty() {
        // Words without quotes around them are one line: ohmward wire remove horn.
        let bare = args.lines.iter().all(|word| !word.contains(char::is_whitespace));
        let told = if bare { one(&mut desk, &args.lines.join(" "))? } else { Some(desk.take(&args.lines.join("\n"))?) };
        let told = told.unwrap_or_default();
        tell(&told, context)?;
        held(&desk, context);
        return Ok(if told.refused { Exit::Unusable } else { Exit::Done });
    }
    talk(&mut desk, context)
}

/// Lines until there are no more.
fn talk(desk: &mut Desk, context: &mut Context) -> Result<Exit, Failure> {
    let mut lines = source(context, None)?;
    let mut refused = false;
    loop {
        let mut words = desk.offers();
        words.extend(WORDS.iter().map(|row| row.0.to_owned()));
        lines.offer(words);
        let prompt = match desk.open() {
            Some((name, _)) => format!("{name}> "),
            None => "wire> ".into(),
        };
        match lines.line(&prompt)? {
            Got::End => break,
            Got::Interrupted => {
                context.out.say("All rows that were taken are on disk. Go on: ohmward wire");
                break;
            }
            Got::Line(line) => match one(desk, &line)? {
                Some(told) => {
                    refused |= told.refused;
                    tell(&told, context)?;
                }
                None => break,
            },
        }
    }
    held(desk, context);
    Ok(if refused { Exit::NotMet } else { Exit::Done })
}

/// One line of the prompt; `None` ends it. Also taken at the prompt of a chase, behind `wire`.
pub fn one(desk: &mut Desk, line: &str) -> Result<Option<Told>, Failure> {
    let (word, rest) = line.trim().split_once(' ').unwrap_or((line.trim(), ""));
    let told = match (word.to_lowercase().as_str(), rest.trim()) {
        ("done" | "quit" | "exit" | "stop" | "q", "") => return Ok(None),
        ("undo" | "back", "") => desk.undo(false),
        ("undo", "anyway") => desk.undo(true),
        ("show" | "list", of) => desk.show(of),
        ("check", "") => desk.check(),
        ("help" | "?", "") => Ok(Told { text: help(), json: json!({"help": help()}), ..Told::default() }),
        _ => desk.take(line),
    };
    // What one line met does not end the prompt.
    let (text, json) = match told {
        Err(Failure::Plain { text, hint }) => {
            let hint_line = hint.as_ref().map_or(String::new(), |hint| format!("    {hint}\n"));
            (format!("{text}\n{hint_line}"), vec![json!({"line": line, "text": text, "help": hint})])
        }
        Err(Failure::Problems(list)) => {
            (error::told(&list), list.iter().map(|(source, problem)| problem_json(source, problem)).collect())
        }
        other => return other.map(Some),
    };
    let json = json!({"line": line, "lines": [], "notes": [], "problems": json});
    Ok(Some(Told { refused: true, text: format!("not taken: {text}"), json, ..Told::default() }))
}

/// Something begun that does not stand in the file yet.
fn held(desk: &Desk, context: &mut Context) {
    if let Some((name, false)) = desk.open() {
        context.out.say(format!("({name} has no rows yet: it is not in the file)"));
    }
}

fn tell(told: &Told, context: &mut Context) -> Result<(), Failure> {
    if context.json {
        if told.refused {
            context.out.say(&told.text);
        }
        return if told.json.is_null() { Ok(()) } else { context.out.json_line(&told.json) };
    }
    match told.text.as_str() {
        "" => Ok(()),
        text if told.refused => {
            context.out.say(text);
            Ok(())
        }
        text => context.out.page(text.trim_end_matches('\n')),
    }
}

fn help() -> String {
    let rows = ROWS.iter().map(|(row, what)| (*row, *what)).chain(VERBS.iter().map(|row| (row.1, row.2)));
    let words = WORDS.iter().map(|row| (row.1, row.2));
    rows.chain(words).map(|(usage, what)| format!("  {usage:<46} {what}\n")).collect()
}
