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
pub fn run<R: BufRead + Send + 'static>(
    driver: &mut Driver,
    first: &[Event],
    script: &mut Script<R>,
    out: &mut Out,
) -> Result<(), Failure> {
    show(first, out)?;
    while driver.verdict().is_none() {
        let events = match script.next_after(|done| driver.chase.think(done))? {
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
        driver.tell(out);
        show(&events, out)?;
    }
    Ok(())
}

/// The lines of a script, read by a thread of its own from the first that is wanted, so that something else can be done
/// while one is awaited. The program does not wait for that thread at its end.
pub struct Script<R> {
    input: Option<R>,
    lines: Option<Receiver<io::Result<Vec<u8>>>>,
}

impl<R: BufRead + Send + 'static> Script<R> {
    /// Lines of this input.
    pub fn new(input: R) -> Self {
        Script { input: Some(input), lines: None }
    }

    /// The next line that is not empty, as JSON, or why it is none; nothing at the end of input.
    pub fn next(&mut self) -> Result<Option<Result<Value, String>>, Failure> {
        self.next_after(|_| false)
    }

    /// The same; until a line is there, `think` is called with 0, 1 … as long as it says that there is more to do.
    pub fn next_after(
        &mut self,
        mut think: impl FnMut(usize) -> bool,
    ) -> Result<Option<Result<Value, String>>, Failure> {
        if let Some(input) = self.input.take() {
            let (tell, lines) = channel();
            thread::spawn(move || input.split(b'\n').all(|line| tell.send(line).is_ok()));
            self.lines = Some(lines);
        }
        let Some(lines) = &self.lines else { return Ok(None) };
        let (mut done, mut more) = (0, true);
        loop {
            let line = match lines.try_recv() {
                Err(TryRecvError::Empty) if more => {
                    more = think(done);
                    done += 1;
                    continue;
                }
                Err(TryRecvError::Empty) => lines.recv().ok(),
                line => line.ok(),
            };
            let Some(bytes) = line.transpose()? else { return Ok(None) };
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
