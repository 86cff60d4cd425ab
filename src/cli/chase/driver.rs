//! A chase with its journal and its record: what the prompt, the line protocol and the drill share.

use crate::cli::clock;
use crate::cli::error::Failure;
use crate::cli::journal::Writer;
use ohmward::circuit::test::{Instrument, Test};
use ohmward::notes::Record;
use ohmward::session::journal::Entry;
use ohmward::session::words::SymptomTable;
use ohmward::session::{Chase, Event, Input, Verdict};

/// A chase being driven.
pub struct Driver {
    /// The chase.
    pub chase: Chase,
    /// What goes into the notes.
    pub record: Record,
    writer: Option<Writer>,
    waiting: Option<Event>,
    verdict: Option<Verdict>,
    table: SymptomTable,
    /// The range named last, by instrument, as a factor.
    scales: Vec<(Instrument, f64)>,
    /// The line that was questioned last.
    questioned: Option<String>,
}

impl Driver {
    /// A driver of a chase in which nothing has been said yet. Without a writer nothing is kept (a drill).
    pub fn new(chase: Chase, writer: Option<Writer>) -> Driver {
        Driver {
            chase,
            record: Record::default(),
            writer,
            waiting: None,
            verdict: None,
            table: SymptomTable::builtin(),
            scales: Vec::new(),
            questioned: None,
        }
    }

    /// Feeds the entries of a journal again; those that no longer fit are left out and named.
    pub fn replay(&mut self, entries: &[Entry]) -> Vec<String> {
        let mut lost = Vec::new();
        for (i, entry) in entries.iter().enumerate() {
            let input = match (&entry.input, &entry.asked) {
                // The wiring file or the rules have changed and something else is asked now: the reading is still true.
                (Input::Reading(readings), Some(test)) if self.asked() != Some(test) => {
                    Input::Measured { test: Box::new(test.clone()), readings: readings.clone() }
                }
                (input, _) => input.clone(),
            };
            let events = self.chase.take(input.clone());
            let refused = events.iter().find_map(|event| match event {
                Event::Error { text, .. } => Some(text.clone()),
                _ => None,
            });
            match refused {
                Some(why) => lost.push(format!("answer {} no longer fits and was left out: {why}", i + 1)),
                None => self.record.input(&input),
            }
            self.note(&events);
        }
        lost
    }

    /// One input: taken, on disk, then its events. A refused one is not kept; the waiting event comes again.
    pub fn feed(&mut self, input: Input) -> Result<Vec<Event>, Failure> {
        let asked = match input {
            Input::Reading(_) => self.asked().cloned(),
            _ => None,
        };
        let mut events = self.chase.take(input.clone());
        let refused = events.iter().any(|event| matches!(event, Event::Error { .. }));
        if refused {
            if !events.iter().any(Event::waits) {
                events.extend(self.waiting.clone());
            }
        } else {
            if let Some(writer) = &mut self.writer {
                writer.entry(&Entry { at: clock::stamp(), input: input.clone(), asked })?;
            }
            self.record.input(&input);
        }
        self.note(&events);
        Ok(events)
    }

    /// The event that waits for an answer.
    pub fn waiting(&self) -> Option<&Event> {
        self.waiting.as_ref()
    }

    /// The test whose reading is waited for.
    pub fn asked(&self) -> Option<&Test> {
        match &self.waiting {
            Some(Event::Ask { test, .. }) => Some(test),
            _ => None,
        }
    }

    /// The language of complaints and readings.
    pub fn table(&self) -> &SymptomTable {
        &self.table
    }

    /// What a number without a unit is multiplied by.
    pub fn scale(&self, instrument: Instrument) -> f64 {
        self.scales.iter().find(|(i, _)| *i == instrument).map_or(1.0, |(_, scale)| *scale)
    }

    /// The range named last.
    pub fn set_scale(&mut self, instrument: Instrument, scale: f64) {
        self.scales.retain(|(i, _)| *i != instrument);
        self.scales.push((instrument, scale));
    }

    /// Was this very line questioned just before? If not it is now.
    pub fn said_twice(&mut self, line: &str) -> bool {
        let line = Some(line.trim().to_string());
        if self.questioned == line {
            self.questioned = None;
            return true;
        }
        self.questioned = line;
        false
    }

    /// The verdict, once there is one.
    pub fn verdict(&self) -> Option<&Verdict> {
        self.verdict.as_ref()
    }

    /// Closes the journal.
    pub fn close(&mut self) -> Result<(), Failure> {
        let reason = self.verdict.as_ref().map_or("stopped", |verdict| verdict.reason.word());
        match &mut self.writer {
            Some(writer) => writer.end(&clock::stamp(), reason),
            None => Ok(()),
        }
    }

    fn note(&mut self, events: &[Event]) {
        for event in events {
            self.record.event(event);
            if event.waits() {
                self.waiting = Some(event.clone());
            }
            if let Event::Verdict { verdict, .. } = event {
                self.verdict = Some((**verdict).clone());
                self.waiting = None;
            }
        }
    }
}
