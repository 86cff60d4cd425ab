//! A chase as JSON lines, for scripts: events out, inputs in.

use super::driver::Driver;
use crate::cli::error::Failure;
use crate::cli::out::Out;
use ohmward::session::{Event, Input};
use serde_json::Value;
use std::io::{self, BufRead};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::thread;

/// Runs until a verdict; the end of input is `stop`.
pub fn run(
    driver: &mut Driver,
    first: &[Event],
    input: impl BufRead + Send + 'static,
    out: &mut Out,
) -> Result<(), Failure> {
    show(first, out)?;
    let (tell, lines) = channel();
    // It waits for a line while the chase works ahead; the program does not wait for it at its end.
    thread::spawn(move || input.split(b'\n').all(|line| tell.send(line).is_ok()));
    while driver.verdict().is_none() {
        let events = match next(driver, &lines).transpose()? {
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

/// The next line; the chase works ahead until it is there.
fn next(driver: &mut Driver, lines: &Receiver<io::Result<Vec<u8>>>) -> Option<io::Result<Vec<u8>>> {
    let mut done = 0;
    loop {
        match lines.try_recv() {
            Ok(line) => return Some(line),
            Err(TryRecvError::Disconnected) => return None,
            Err(TryRecvError::Empty) if driver.chase.think(done) => done += 1,
            Err(TryRecvError::Empty) => return lines.recv().ok(),
        }
    }
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
