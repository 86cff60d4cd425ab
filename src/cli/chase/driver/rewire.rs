//! The wiring file changed in the middle of a chase: the chase goes on with the machine as it is written now.
//!
//! It is what resuming does where the file has changed meanwhile: a new chase is told all that was said and read. What
//! no longer fits (a reading at a part that has gone) is left out and named; the trail keeps it.

use super::Driver;
use crate::cli::error::Failure;
use crate::cli::load;
use crate::cli::wire;
use crate::cli::wire::desk::Desk;
use ohmward::session::start::rivals::Assumptions;
use ohmward::session::{Chase, Event, Input};
use std::path::Path;

impl Driver {
    /// Where the wiring file stands, so that it can be written from the prompt.
    pub fn wired(&mut self, wiring: &Path) {
        self.wiring = Some(wiring.to_path_buf());
    }

    /// A line for the wiring file. Also returns what is asked now, if the file changed.
    pub fn rewire(&mut self, line: &str) -> Result<(String, Vec<Event>), Failure> {
        let Some(path) = self.wiring.clone() else {
            return Ok(("a drill's machine is not changed\n".into(), Vec::new()));
        };
        let mut desk = match self.desk.take() {
            Some(desk) => desk,
            None => Desk::at(&path)?,
        };
        let told = wire::one(&mut desk, line)?;
        self.desk = Some(desk);
        let Some(told) = told else { return Ok((String::new(), Vec::new())) };
        if !told.changed {
            return Ok((told.text, Vec::new()));
        }
        let loaded = match load::load(&path) {
            Ok(loaded) => loaded,
            Err(Failure::BrokenPipe) => return Err(Failure::BrokenPipe),
            Err(_) => {
                let text = format!(
                    "{}(the file has other problems, see ohmward check: the chase goes on with the wiring as it was)\n",
                    told.text
                );
                return Ok((text, Vec::new()));
            }
        };
        let id = self.waiting.as_ref().map_or(0, Event::id);
        let assumed = self.book.as_ref().and_then(|book| Assumptions::of(&loaded.source.text, book, &loaded.catalogue));
        self.assumed = assumed.map(|assumed| (assumed, path));
        self.chase = Chase::new(loaded.machine());
        self.record = Default::default();
        (self.waiting, self.verdict) = (None, None);
        let entries = std::mem::take(&mut self.entries);
        let lost = self.replay(&entries);
        self.notices.extend(lost.into_iter().map(|lost| format!("({lost})")));
        self.chase.count_from(id + 1);
        // In the notes it says what was changed, and when.
        let mut events = self.feed(Input::Note(format!("the wiring file: {line}")))?;
        if let Some(verdict) = &self.verdict {
            events.push(Event::Verdict { id: id + 1, verdict: Box::new(verdict.clone()) });
        }
        Ok((told.text, events))
    }
}
