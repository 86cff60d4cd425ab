//! Power brought on with a person, or with a script: each answer is kept before the next step is shown.

use super::{is_done, screen};
use crate::cli::Context;
use crate::cli::book::Keeper;
use crate::cli::chase::jsonl::Script;
use crate::cli::error::Failure;
use crate::cli::out::Out;
use crate::cli::prompt::dial::Dial;
use crate::cli::prompt::{Got, LineSource};
use ohmward::session::Input;
use ohmward::session::powerup::{AGAIN, Ask, CHASE, GO_ON, NONE, PowerUp, Wait, YES, json as lines_json};
use serde_json::json;
use std::io::BufRead;

/// How it ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// All steps were taken.
    Done,
    /// It can be gone on with.
    BrokenOff,
    /// What went wrong is to be chased.
    Chase,
}

const HELP: &str = "\
y            done, or all as told
a reading    12.6, 350 mV, OL; several on one line where several are asked
horn silent  at a look: what is not as told, a line for each thing
skip         leave this step out
back         take the last answer back
note …       for the build notes
stop         break off; ohmward powerup goes on";

/// What is to be done with a line.
enum Do {
    Take(Input),
    Show(String),
    Stop,
}

/// Goes from step to step.
pub fn run(
    power: &mut PowerUp,
    keeper: &mut Keeper,
    lines: &mut dyn LineSource,
    context: &mut Context,
) -> Result<Ended, Failure> {
    let paint = context.out.paint;
    let mut dial = Dial::new(power.words().clone());
    let (mut stage, mut shown) = (None, None);
    while !is_done(power) {
        let waits = power.waiting().clone();
        if shown.replace(waits.clone()) != Some(waits.clone()) {
            if let Some(now) = power.step().map(|step| step.stage)
                && stage.replace(now) != Some(now)
            {
                show(&format!("\n{}", screen::stage(power, now, paint)), context)?;
            }
            let text = match waits {
                Wait::Step(at) => screen::step(power, at, paint),
                _ => screen::wrong(power, paint),
            };
            show(&format!("\n{text}"), context)?;
        }
        lines.offer(words(power));
        let done = match lines.line(screen::prompt(power))? {
            Got::Line(line) => take(&line, power, &mut dial),
            Got::End | Got::Interrupted => Do::Stop,
        };
        match done {
            Do::Stop => return Ok(Ended::BrokenOff),
            Do::Show(text) => show(&text, context)?,
            Do::Take(input) => {
                let asked = power.asked().cloned();
                let chase = input == Input::Choice(CHASE.into());
                if let Err(why) = power.take(input.clone()) {
                    show(&format!("not taken: {why}"), context)?;
                    continue;
                }
                keeper.keep(&input, asked.as_ref())?;
                if input == Input::Back {
                    shown = None;
                }
                if chase {
                    return Ok(Ended::Chase);
                }
            }
        }
    }
    show(&format!("\n{}", screen::summary(power, paint)), context)?;
    if context.json {
        context.out.json(&power.event(0))?;
    }
    Ok(Ended::Done)
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
fn words(power: &PowerUp) -> Vec<String> {
    let mut out: Vec<String> = ["yes", "none", "skip", "back", "note ", "stop", "help"].map(String::from).to_vec();
    out.extend([AGAIN, GO_ON, CHASE].map(String::from));
    out.extend(power.machine().netlist.parts.keys().cloned());
    out
}

fn take(line: &str, power: &PowerUp, dial: &mut Dial) -> Do {
    let line = line.trim();
    let lower = line.to_lowercase();
    let yes = matches!(lower.as_str(), "y" | "yes" | "ok" | "done" | "all good" | "all so");
    match lower.as_str() {
        "help" | "h" | "?" => return Do::Show(HELP.into()),
        "stop" | "quit" | "exit" | "q" => return Do::Stop,
        "back" | "undo" => return Do::Take(Input::Back),
        "skip" | "s" if matches!(power.waiting(), Wait::Step(_)) => return Do::Take(Input::Skip),
        _ => {}
    }
    if let Some(text) = lower.strip_prefix("note ").map(|_| line[5..].trim()).filter(|text| !text.is_empty()) {
        return Do::Take(Input::Note(text.to_string()));
    }
    if let Wait::Wrong { .. } = power.waiting() {
        let choice = match lower.as_str() {
            "1" | "again" | "a" => AGAIN,
            "2" | "go on" | "on" | "g" => GO_ON,
            "3" | "chase" | "c" => CHASE,
            _ => return Do::Show("1 measures again, 2 goes on, 3 chases it; stop breaks off".into()),
        };
        return Do::Take(Input::Choice(choice.into()));
    }
    match power.step().map(|step| &step.ask) {
        Some(Ask::Do) if yes => Do::Take(Input::Choice(YES.into())),
        Some(Ask::Do) => Do::Show("y once it is done; stop breaks off".into()),
        Some(Ask::Read(test)) => {
            let (screen, _) = power.screen(test);
            match dial.read(line, power.machine(), test, &screen.words) {
                Ok(readings) => Do::Take(Input::Reading(readings)),
                Err(why) => Do::Show(why),
            }
        }
        Some(Ask::Look { .. }) if yes => Do::Take(Input::Choice(YES.into())),
        Some(Ask::Look { .. }) => match lower.as_str() {
            "" => Do::Show("y if all is so; else what is not: horn silent".into()),
            "n" | "no" => Do::Show("what is not so? The part and what it does: horn silent".into()),
            _ => Do::Take(Input::Saw(line.to_string())),
        },
        Some(Ask::Feel(cables)) => {
            if matches!(lower.as_str(), "none" | "n" | "no" | "0") {
                return Do::Take(Input::Choice(NONE.into()));
            }
            let number = lower.parse::<usize>().ok().and_then(|n| cables.get(n.checked_sub(1)?));
            let named = cables.iter().find(|(cable, _)| cable.eq_ignore_ascii_case(line));
            match number.or(named) {
                Some((cable, _)) => Do::Take(Input::Choice(cable.clone())),
                None => Do::Show("none, or the key of the cable that is warm".into()),
            }
        }
        None => Do::Stop,
    }
}

/// The same for a script; the end of input is `stop`.
pub fn script<R: BufRead + Send + 'static>(
    power: &mut PowerUp,
    keeper: &mut Keeper,
    script: &mut Script<R>,
    out: &mut Out,
) -> Result<Ended, Failure> {
    let mut id = 1;
    loop {
        out.json_line(&power.event(id))?;
        id += 1;
        if is_done(power) {
            return Ok(Ended::Done);
        }
        let Some(line) = script.next()? else { return Ok(Ended::BrokenOff) };
        let taken = match line.and_then(|value| lines_json::input(&value, power)) {
            Ok(Input::Stop) => return Ok(Ended::BrokenOff),
            Ok(input) => {
                let asked = power.asked().cloned();
                power.take(input.clone()).map(|()| (input, asked))
            }
            Err(why) => Err(why),
        };
        match taken {
            Ok((input, asked)) => {
                keeper.keep(&input, asked.as_ref())?;
                if input == Input::Choice(CHASE.into()) {
                    return Ok(Ended::Chase);
                }
            }
            Err(text) => out.json_line(&json!({"event": "error", "id": id - 1, "text": text}))?,
        }
    }
}
