//! A learning with a person, or with a script: what is asked, what is answered, each answer kept before the next.

use super::journal::Keeper;
use super::{Args, screen, write};
use crate::cli::Context;
use crate::cli::chase::jsonl::Script;
use crate::cli::error::Failure;
use crate::cli::out::Out;
use crate::cli::prompt::{Got, LineSource};
use ohmward::session::learn::json::Input;
use ohmward::session::learn::said::{self, HELP, Said};
use ohmward::session::learn::{Heard, Learn, Wait};
use serde_json::json;
use std::io::BufRead;

/// What is to be done with a line.
enum Do {
    /// Taken.
    Kept,
    /// The last answer was taken back.
    Back,
    /// Something to show; the question stands.
    Show(String),
    /// Broken off.
    Stop,
}

/// Asks until the table is whole; false if it was broken off.
pub fn run(
    learn: &mut Learn,
    keeper: &mut Keeper,
    lines: &mut dyn LineSource,
    args: &Args,
    context: &mut Context,
) -> Result<bool, Failure> {
    let mut position = None;
    loop {
        let (text, prompt) = match learn.waiting() {
            Wait::Done => break,
            Wait::Question(question) => {
                let default = question.default.as_ref().map_or(String::new(), |default| format!(" [{default}]"));
                (format!("{}{default}", question.text), "> ")
            }
            Wait::Touch(ask) => {
                let fresh = position.replace(ask.position) != Some(ask.position);
                (screen::ask(learn, ask, fresh, context.out.paint), screen::prompt(ask))
            }
        };
        show(&text, context)?;
        lines.offer(words(learn));
        let done = match lines.line(prompt)? {
            Got::Line(line) => take(&line, learn),
            Got::End | Got::Interrupted => Do::Stop,
        };
        match done {
            Do::Kept => keeper.keep(learn)?,
            Do::Back => {
                position = None;
                keeper.back(learn)?;
            }
            Do::Show(text) => show(&text, context)?,
            Do::Stop => {
                if matches!(learn.waiting(), Wait::Touch(_)) {
                    result(learn, context)?;
                }
                return Ok(false);
            }
        }
    }
    result(learn, context)?;
    write::offer(&learn.table(), args.write, lines, context)?;
    Ok(true)
}

/// What is known, on standard output.
fn result(learn: &Learn, context: &mut Context) -> Result<(), Failure> {
    let table = learn.table();
    if context.json {
        context.out.json(&table.to_json())
    } else {
        context.out.page(format!("\n{}", screen::page(&table, context.out.paint)))
    }
}

/// Questions are no result where JSON is wanted.
pub fn show(text: &str, context: &mut Context) -> Result<(), Failure> {
    if context.json {
        context.out.say(text);
        return Ok(());
    }
    context.out.page(text)
}

/// Words that the Tab key completes.
fn words(learn: &Learn) -> Vec<String> {
    let mut words: Vec<String> =
        ["beep", "silent", "all silent", "skip", "back", "stop", "help"].map(String::from).to_vec();
    words.extend(learn.setup().wires.iter().cloned());
    words.extend(learn.setup().positions.iter().map(|position| position.name.clone()));
    words
}

fn take(line: &str, learn: &mut Learn) -> Do {
    let done =
        |taken: Result<(), String>| taken.map_or_else(|why| Do::Show(format!("not taken: {why}")), |()| Do::Kept);
    match learn.waiting().clone() {
        Wait::Done => Do::Stop,
        Wait::Question(question) => match (line.trim().to_lowercase().as_str(), &question.default) {
            ("stop" | "quit" | "exit" | "q", _) => Do::Stop,
            ("back" | "undo", _) => back(learn),
            ("" | "?", Some(default)) => done(learn.answer(question.key.word(), default)),
            ("", None) => Do::Show("this one has to be known; stop breaks off".into()),
            _ => done(learn.answer(question.key.word(), line)),
        },
        Wait::Touch(ask) => {
            let setup = learn.setup();
            match said::read(line, &setup.wires, setup.leads) {
                Err(why) => Do::Show(format!("not taken: {why}")),
                Ok(Said::Help) => Do::Show(HELP.into()),
                Ok(Said::Stop) => Do::Stop,
                Ok(Said::Back) => back(learn),
                Ok(Said::Nothing) if !ask.number => {
                    Do::Show("beep or silent: y, n; or the ohms shown. help: all words".into())
                }
                Ok(Said::Nothing | Said::Skip) => done(learn.take(Heard::Skipped)),
                Ok(Said::Heard(heard)) => done(learn.take(heard)),
                Ok(Said::Met(red, black, heard)) => done(learn.met(red, black, heard)),
                Ok(Said::AllSilent) => done(learn.all_silent()),
            }
        }
    }
}

fn back(learn: &mut Learn) -> Do {
    learn.back().map_or_else(|why| Do::Show(format!("not taken: {why}")), |()| Do::Back)
}

/// The same for a script; the end of input is `stop`.
pub fn script<R: BufRead + Send + 'static>(
    learn: &mut Learn,
    keeper: &mut Keeper,
    script: &mut Script<R>,
    out: &mut Out,
) -> Result<bool, Failure> {
    let mut id = 1;
    loop {
        out.json_line(&learn.event(id))?;
        id += 1;
        if matches!(learn.waiting(), Wait::Done) {
            return Ok(true);
        }
        let Some(line) = script.next()? else { return Ok(false) };
        let input = line.and_then(|value| Input::from_json(&value));
        let taken = match (input, learn.waiting().clone()) {
            (Err(why), _) => Err(why),
            (Ok(Input::Stop), _) => return Ok(false),
            (Ok(Input::Back), _) => match learn.back() {
                Ok(()) => {
                    keeper.back(learn)?;
                    continue;
                }
                Err(why) => Err(why),
            },
            (Ok(Input::Answer(text)), Wait::Question(question)) => learn.answer(question.key.word(), &text),
            (Ok(Input::Skip), Wait::Question(question)) => match &question.default {
                Some(default) => learn.answer(question.key.word(), default),
                None => Err("this one has to be known".into()),
            },
            (Ok(_), Wait::Question(_)) => Err("an answer is wanted: {\"answer\":\"…\"}".into()),
            (Ok(Input::Answer(_)), _) => Err("a reading is wanted: {\"reading\":{\"value\":\"beeps\"}}".into()),
            (Ok(Input::Heard(heard)), _) => learn.take(off(heard, learn.setup().leads)),
            (Ok(Input::Skip), _) => learn.take(Heard::Skipped),
            (Ok(Input::AllSilent), _) => learn.all_silent(),
            (Ok(Input::Met(red, black, heard)), _) => {
                let find = |name: &str| {
                    let wires = &learn.setup().wires;
                    let at = wires.iter().position(|wire| wire.eq_ignore_ascii_case(name));
                    at.ok_or_else(|| format!("there is no wire \"{name:.40}\""))
                };
                match (find(&red), find(&black)) {
                    (Ok(red), Ok(black)) => learn.met(red, black, off(heard, learn.setup().leads)),
                    (Err(why), _) | (_, Err(why)) => Err(why),
                }
            }
        };
        match taken {
            Ok(()) => keeper.keep(learn)?,
            Err(text) => out.json_line(&json!({"event": "error", "id": id - 1, "text": text}))?,
        }
    }
}

/// Ohms as shown, the leads' own taken off.
fn off(heard: Heard, leads: f64) -> Heard {
    match heard {
        Heard::Ohms(shown) => said::ohms(shown, leads),
        heard => heard,
    }
}
