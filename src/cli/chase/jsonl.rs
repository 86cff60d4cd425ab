//! A chase as JSON lines, for scripts: events out, inputs in.

use super::driver::Driver;
use crate::cli::error::Failure;
use crate::cli::out::Out;
use ohmward::session::{Event, Input};
use serde_json::Value;
use std::io::BufRead;

/// Runs until a verdict; the end of input is `stop`.
pub fn run<R: BufRead>(
    driver: &mut Driver,
    first: &[Event],
    script: &mut Script<R>,
    out: &mut Out,
) -> Result<(), Failure> {
    show(first, out)?;
    while driver.verdict().is_none() {
        let events = match script.next()? {
            None => driver.feed(Input::Stop)?,
            Some(line) => match line.and_then(|value| Input::from_json(&value, driver.asked())) {
                Ok(input) => driver.feed(input)?,
                Err(why) => {
                    let id = driver.waiting().map_or(0, Event::id);
                    let error = Event::Error { id, text: why };
                    std::iter::once(error).chain(driver.waiting().cloned()).collect()
                }
            },
        };
        show(&events, out)?;
    }
    Ok(())
}

/// The lines of a script.
pub struct Script<R> {
    input: R,
}

impl<R: BufRead> Script<R> {
    /// Lines of this input.
    pub fn new(input: R) -> Self {
        Script { input }
    }

    /// The next line that is not empty, as JSON, or why it is none; nothing at the end of input.
    pub fn next(&mut self) -> Result<Option<Result<Value, String>>, Failure> {
        loop {
            let mut bytes = Vec::new();
            if self.input.read_until(b'\n', &mut bytes)? == 0 {
                return Ok(None);
            }
            let text = String::from_utf8_lossy(&bytes);
            let text = text.trim();
            if !text.is_empty() {
                let told = |error: serde_json::Error| format!("not JSON (column {}): {text:.60}", error.column());
                return Ok(Some(serde_json::from_str(text).map_err(told)));
            }
        }
    }
}

/// Events as lines, each flushed.
pub fn show(events: &[Event], out: &mut Out) -> Result<(), Failure> {
    events.iter().try_for_each(|event| out.json_line(&event.to_json()))
}
