//! The wiring file changed in the middle of a chase: the chase goes on with the machine as it is written now.
//!
//! It is what resuming does where the file has changed meanwhile: a new chase is told all that was said and read. What
//! no longer fits (a reading at a part that has gone) is left out and named; the trail keeps it.

use super::Driver;
use crate::cli::error::Failure;
use crate::cli::load::{self, Loaded};
use crate::cli::wire;
use crate::cli::wire::desk::Desk;
use ohmward::session::journal::fingerprint;
use ohmward::session::start::rivals::Assumptions;
use ohmward::session::{Chase, Event, Input};
use std::path::{Path, PathBuf};

impl Driver {
    /// Where the wiring file stands and what it says, so that it can be written from the prompt, and what others write
    /// into it is seen.
    pub fn wired(&mut self, wiring: &Path, text: &str) {
        self.wiring = Some(wiring.to_path_buf());
        self.known = Some(fingerprint(text));
    }

    /// What this program has just written is nothing new.
    pub(super) fn wrote(&mut self) {
        if let Some(Ok(source)) = self.wiring.as_deref().map(load::text) {
            self.known = Some(fingerprint(&source.text));
        }
    }

    /// After an answer: has somebody written the wiring file meanwhile? Then what is asked next is asked of that machine.
    pub(super) fn look(&mut self, events: Vec<Event>) -> Result<Vec<Event>, Failure> {
        let Some(path) = self.wiring.clone().filter(|_| self.verdict.is_none()) else { return Ok(events) };
        let now = load::text(&path).ok().map(|source| fingerprint(&source.text));
        if now == self.known {
            return Ok(events);
        }
        // Told once for each change.
        self.known = now;
        match load::load(&path) {
            Ok(loaded) => {
                self.notices.push("(the wiring file has changed meanwhile; its readings are weighed anew)".into());
                self.reload(loaded, path, Input::Note("the wiring file was changed by hand".into()))
            }
            Err(Failure::BrokenPipe) => Err(Failure::BrokenPipe),
            Err(_) => {
                let notice = "(the wiring file was changed and has problems now, see ohmward check: this chase goes on with the wiring as it was)";
                self.notices.push(notice.into());
                Ok(events)
            }
        }
    }

    /// The chase on another machine, told all that was said and read; `note` tells of it in the trail.
    fn reload(&mut self, loaded: Loaded, path: PathBuf, note: Input) -> Result<Vec<Event>, Failure> {
        let id = self.waiting.as_ref().map_or(0, Event::id);
        let assumed = self.book.as_ref().and_then(|book| Assumptions::of(&loaded.source.text, book, &loaded.catalogue));
        self.assumed = assumed.map(|assumed| (assumed, path));
        self.chase = Chase::new(loaded.machine()).speaking(self.dial.table().clone());
        self.record = Default::default();
        (self.waiting, self.verdict) = (None, None);
        let entries = std::mem::take(&mut self.entries);
        let lost = self.replay(&entries);
        self.notices.extend(lost.into_iter().map(|lost| format!("({lost})")));
        self.chase.count_from(id + 1);
        // In the notes it says what was changed, and when.
        let mut events = self.heard(note)?;
        if let Some(verdict) = &self.verdict {
            events.push(Event::Verdict { id: id + 1, verdict: Box::new(verdict.clone()) });
        }
        Ok(events)
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
        self.wrote();
        let events = self.reload(loaded, path, Input::Note(format!("the wiring file: {line}")))?;
        Ok((told.text, events))
    }
}
