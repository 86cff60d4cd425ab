//! A chase as JSON lines, for scripts: events out, inputs in.

use super::driver::Driver;
use crate::cli::error::Failure;
use crate::cli::out::Out;
use ohmward::session::{Event, Input};
use serde_json::Value;
use std::io::BufRead;

/// Runs until a verdict; the end of input is `stop`.
pub fn run(driver: &mut Driver, first: &[Event], input: impl BufRead, out: &mut Out) -> Result<(), Failure> {
    show(first, out)?;
    let mut lines = input.split(b'\n');
    while driver.verdict().is_none() {
        let events = match lines.next().transpose()? {
            None => driver.feed(Input::Stop)?,
            Some(bytes) => {
                let text = String::from_utf8_lossy(&bytes);
                if text.trim().is_empty() {
                    continue;
                }
                match read(text.trim(), driver) {
                    Ok(input) => driver.feed(input)?,
                    Err(why) => {
                        let id = driver.waiting().map_or(0, Event::id);
                        let error = Event::Error { id, text: why };
                        std::iter::once(error).chain(driver.waiting().cloned()).collect()
                    }
                }
            }
        };
        show(&events, out)?;
    }
    Ok(())
}

fn read(text: &str, driver: &Driver) -> Result<Input, String> {
    let value: Value =
        serde_json::from_str(text).map_err(|error| format!("not JSON (column {}): {text:.60}", error.column()))?;
    Input::from_json(&value, driver.asked())
}

/// Events as lines, each flushed.
pub fn show(events: &[Event], out: &mut Out) -> Result<(), Failure> {
    events.iter().try_for_each(|event| out.json_line(&event.to_json()))
}
