//! A chase with a person: screens out, lines in.

use super::answer;
use super::driver::Driver;
use crate::cli::error::Failure;
use crate::cli::out::Out;
use crate::cli::prompt::keywords::{self, Typed};
use crate::cli::prompt::screen;
use crate::cli::prompt::{Got, LineSource};
use ohmward::circuit::test::{Reading, Test};
use ohmward::session::{Event, Input};

/// What can take a reading by itself: the drill's simulated machine.
pub trait Meter {
    /// The readings of a test, first placement first.
    fn read(&mut self, test: &Test) -> Result<Vec<Reading>, String>;
    /// Is the complaint gone once these faults are put right?
    fn cured(&mut self, faults: &[String]) -> bool;
}

/// How a talk ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ended {
    /// With a verdict.
    Verdict,
    /// Broken off; it can be gone on with.
    BrokenOff,
}

/// Talks until there is a verdict.
///
/// With a meter, an empty line takes the reading.
pub fn run(
    driver: &mut Driver,
    first: &[Event],
    lines: &mut dyn LineSource,
    mut meter: Option<&mut dyn Meter>,
    out: &mut Out,
) -> Result<Ended, Failure> {
    show(first, out)?;
    while driver.verdict().is_none() {
        let Some(waiting) = driver.waiting().cloned() else {
            // Nothing that it could use has been said yet.
            let input = match lines.line("what is wrong> ")? {
                Got::Interrupted => return Ok(Ended::BrokenOff),
                Got::End => Input::Stop,
                Got::Line(line) => match symptom(&line) {
                    Some(input) => input,
                    None => continue,
                },
            };
            let events = driver.feed(input)?;
            driver.tell(out);
            show(&events, out)?;
            continue;
        };
        let prompt = match meter {
            Some(_) if !matches!(waiting, Event::Question { .. }) => format!("[Enter] or {}", screen::prompt(&waiting)),
            _ => screen::prompt(&waiting).to_string(),
        };
        lines.offer(answer::words(driver, &waiting));
        // Worked out while somebody goes and measures, so that the next question is there at once.
        if meter.is_none() && lines.leisurely() {
            let _progress = driver.progress();
            (0..).take_while(|&done| driver.chase.think(done)).count();
        }
        let input = match lines.line(&prompt)? {
            Got::Interrupted => return Ok(Ended::BrokenOff),
            Got::End => Some(Input::Stop),
            Got::Line(line) => take(&line, &waiting, driver, &mut meter, out)?,
        };
        if let Some(input) = input {
            let events = driver.feed(input)?;
            driver.tell(out);
            show(&events, out)?;
        }
    }
    Ok(Ended::Verdict)
}

/// A line while no symptom is known yet.
fn symptom(line: &str) -> Option<Input> {
    Some(match keywords::typed(line) {
        Typed::Empty | Typed::Help => return None,
        Typed::Stop => Input::Stop,
        Typed::Note(text) => Input::Note(text),
        Typed::Was(text) => Input::Was(text),
        Typed::Saw(text) => Input::Saw(text),
        _ => Input::Saw(line.trim().to_string()),
    })
}

/// What a typed line asks for: an input, or something shown at once.
fn take(
    line: &str,
    waiting: &Event,
    driver: &mut Driver,
    meter: &mut Option<&mut dyn Meter>,
    out: &mut Out,
) -> Result<Option<Input>, Failure> {
    let paint = out.paint;
    // "cured" alone answers "did it cure?"; "?" is always an answer to a question.
    let line = match (waiting, line.trim().to_lowercase().as_str()) {
        (Event::TryRepair { .. }, "cured" | "fixed" | "gone") => "yes",
        (Event::Question { .. }, "?") => "don't know",
        _ => line,
    };
    let input = match keywords::typed(line) {
        Typed::Empty => match meter {
            Some(meter) => return self_answer(waiting, *meter, out).map(Some),
            None => {
                out.page(paint.aside("type a reading, or: skip, why, back, help"))?;
                return Ok(None);
            }
        },
        Typed::Help => {
            out.page(keywords::help().trim_end())?;
            return Ok(None);
        }
        Typed::Why => {
            out.page(answer::why(driver, waiting, paint))?;
            return Ok(None);
        }
        Typed::Suspects { figures } => {
            out.page(screen::suspects(&driver.record.after, figures, paint))?;
            return Ok(None);
        }
        Typed::Lacks(how) => {
            out.page(how)?;
            return Ok(None);
        }
        Typed::Wire(line) => {
            let (text, events) = driver.rewire(&line)?;
            out.page(text.trim_end_matches('\n'))?;
            driver.tell(out);
            show(&events, out)?;
            return Ok(None);
        }
        Typed::Skip => Input::Skip,
        Typed::Back => Input::Back,
        Typed::Stop => Input::Stop,
        Typed::Saw(text) => Input::Saw(text),
        Typed::CuredBy(text) => Input::CuredBy(text),
        Typed::Was(text) => Input::Was(text),
        Typed::Note(text) => Input::Note(text),
        Typed::Fixed(names) => Input::Fixed(names),
        Typed::Read(text) => match answer::unasked(&text, driver) {
            Ok(input) => input,
            Err(why) => {
                out.page(why)?;
                return Ok(None);
            }
        },
        Typed::Answer(text) => match answer::answer(&text, waiting, driver) {
            Ok(input) => input,
            Err(why) => {
                out.page(why)?;
                return Ok(None);
            }
        },
    };
    Ok(Some(input))
}

/// What the drill's machine answers; shown as if it had been typed.
pub fn self_answer(waiting: &Event, meter: &mut dyn Meter, out: &mut Out) -> Result<Input, Failure> {
    Ok(match waiting {
        Event::Ask { test, .. } => match meter.read(test) {
            Ok(readings) => {
                let met: Vec<String> =
                    readings.iter().map(|reading| ohmward::notes::said(reading, test.instrument)).collect();
                out.page(format!("  the meter reads {}", out.paint.value(&met.join(", "))))?;
                Input::Reading(readings)
            }
            Err(why) => {
                out.page(format!("  not taken: {why}"))?;
                Input::Skip
            }
        },
        Event::TryRepair { faults, .. } => {
            let cured = meter.cured(faults);
            out.page(format!("  {}", if cured { "done: the complaint is gone" } else { "done: it is not cured" }))?;
            Input::Cured { cured, blown: Vec::new() }
        }
        Event::Question { choices, .. } => {
            let last = choices.last().cloned().unwrap_or_else(|| "don't know".into());
            out.page(format!("  {last}"))?;
            Input::Choice(last)
        }
        _ => Input::Stop,
    })
}

/// Events that a person should see, a blank line before each.
pub fn show(events: &[Event], out: &mut Out) -> Result<(), Failure> {
    for event in events {
        if let Some(text) = screen::screen(event, out.paint) {
            out.page(format!("\n{text}"))?;
        }
    }
    Ok(())
}
