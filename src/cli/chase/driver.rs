//! A chase with its journal and its record: what the prompt, the line protocol and the drill share.

mod rewire;

use crate::cli::error::Failure;
use crate::cli::journal::Writer;
use crate::cli::out::Out;
use crate::cli::progress::Progress;
use crate::cli::prompt::dial::Dial;
use crate::cli::wire::desk::Desk;
use crate::cli::{clock, load, store};
use ohmward::circuit::test::Test;
use ohmward::notes::Record;
use ohmward::session::event::COMPLAINT;
use ohmward::session::journal::Entry;
use ohmward::session::start::rivals::Assumptions;
use ohmward::session::start::{DONT_KNOW, dangers};
use ohmward::session::{Chase, Event, Input, Verdict, VerdictReason};
use ohmward::sketch::Book;
use ohmward::text::span::Source;
use std::path::{Path, PathBuf};

/// A chase being driven.
pub struct Driver {
    /// The chase.
    pub chase: Chase,
    /// What goes into the notes.
    pub record: Record,
    writer: Option<Writer>,
    waiting: Option<Event>,
    verdict: Option<Verdict>,
    verdict_id: usize,
    /// How readings are read out.
    pub dial: Dial,
    /// Words of danger.
    book: Option<Book>,
    /// What has to be said beside the events.
    notices: Vec<String>,
    /// Inputs taken, to be fed again on a machine that turned out to be another.
    entries: Vec<Entry>,
    /// Assumptions of a begun wiring file, and where it stands.
    assumed: Option<(Assumptions, PathBuf)>,
    /// Where the wiring file stands; none in a drill.
    wiring: Option<PathBuf>,
    /// Fingerprint of the wiring file as this chase knows it.
    known: Option<String>,
    /// The wiring file while lines are written into it.
    desk: Option<Desk>,
}

impl Driver {
    /// A driver of a chase in which nothing has been said yet. Without a writer nothing is kept (a drill).
    pub fn new(chase: Chase, writer: Option<Writer>) -> Driver {
        let dial = Dial::new(chase.words().clone());
        Driver {
            chase,
            record: Record::default(),
            writer,
            waiting: None,
            verdict: None,
            verdict_id: 0,
            dial,
            book: None,
            notices: Vec::new(),
            entries: Vec::new(),
            assumed: None,
            wiring: None,
            known: None,
            desk: None,
        }
    }

    /// Feeds the entries of a journal again; those that no longer fit are left out and named.
    pub fn replay(&mut self, entries: &[Entry]) -> Vec<String> {
        let mut lost = Vec::new();
        let entries = &told_for_good(entries);
        // What was not found on a machine that turned out to be another may be found on this one.
        let corrected = entries.iter().rposition(|entry| matches!(entry.input, Input::Told { .. }));
        for (i, entry) in entries.iter().enumerate() {
            if self.assumed.is_some() && entry.input == Input::Skip && corrected.is_some_and(|last| i < last) {
                continue;
            }
            let input = match (&entry.input, &entry.asked) {
                // The wiring file or the rules have changed and something else is asked now: the reading is still true.
                (Input::Reading(readings), Some(test)) if self.asked() != Some(test) => {
                    Input::Measured { test: Box::new(test.clone()), readings: readings.clone() }
                }
                (input, _) => input.clone(),
            };
            let input = if self.assumed.is_some() { self.chase.fitted(input) } else { input };
            let events = self.chase.take(input.clone());
            let refused = events.iter().find_map(|event| match event {
                Event::Error { text, .. } => Some(text.clone()),
                _ => None,
            });
            match refused {
                Some(why) => lost.push(format!("answer {} no longer fits and was left out: {why}", i + 1)),
                None => {
                    self.record.input(&input);
                    self.entries.push(entry.clone());
                }
            }
            self.note(&events);
        }
        lost
    }

    /// What waits after a replay; the verdict, if the chase was killed after it and before its trail was closed.
    pub fn again(&mut self) -> Vec<Event> {
        let id = self.verdict_id;
        let verdict = self.verdict.take().map(|verdict| Event::Verdict { id, verdict: Box::new(verdict) });
        let mut events: Vec<Event> = self.waiting.clone().or(verdict).into_iter().collect();
        self.doubt(&mut events);
        self.note(&events);
        events
    }

    /// Assumptions that the readings may speak against; the wiring file that they stand in.
    pub fn assume(&mut self, assumptions: Option<Assumptions>, wiring: &Path) {
        self.assumed = assumptions.map(|assumptions| (assumptions, wiring.to_path_buf()));
    }

    /// Words of danger in what is said, that are answered before anything is measured.
    pub fn beware(&mut self, book: Book) {
        self.book = Some(book);
    }

    /// Says what has to be said before the events of the last input: first things first.
    pub fn tell(&mut self, out: &mut Out) {
        for notice in self.notices.drain(..) {
            out.say(notice);
        }
    }

    /// What has to be done first, where something that is said speaks of danger.
    fn first_things(&mut self, input: &Input) {
        if let (Some(book), Input::Saw(text)) = (&self.book, input) {
            let first = dangers(book, text).into_iter().map(|(_, danger)| format!("MAKE SAFE FIRST  {}", danger.first));
            self.notices.extend(first);
        }
    }

    /// A contradiction takes the place of what would be asked next.
    fn doubt(&mut self, events: &mut [Event]) {
        let Some((assumptions, _)) = &mut self.assumed else { return };
        let waits = |event: &Event| match event {
            // What is cured or was stopped is not gone on with.
            Event::Verdict { verdict, .. } => {
                !matches!(verdict.reason, VerdictReason::Stopped) && verdict.cured != Some(true)
            }
            event => event.waits(),
        };
        if let Some(last) = events.last_mut().filter(|event| waits(event))
            && let Some(doubt) = assumptions.doubt(&mut self.chase, last.id())
        {
            *last = doubt;
        }
    }

    /// The answer to a contradiction: on disk, in the wiring file, and the chase goes on with its readings kept.
    fn correct(&mut self, choice: &str) -> Result<Vec<Event>, Failure> {
        let Some((assumptions, wiring)) = &mut self.assumed else { return Ok(Vec::new()) };
        let before = assumptions.text();
        let (told, changed) = match assumptions.answer(choice) {
            Ok(taken) => taken,
            Err(text) => {
                let id = self.waiting.as_ref().map_or(0, Event::id);
                return Ok(std::iter::once(Event::Error { id, text }).chain(self.waiting.clone()).collect());
            }
        };
        let entry = Entry { at: clock::stamp(), input: told.clone(), asked: None };
        if let Some(writer) = &mut self.writer {
            writer.entry(&entry)?;
        }
        let text = assumptions.text();
        if !put(wiring, &before, &text)? && before != text {
            let notice = "(the wiring file was changed by hand: it is left as it is, and this chase goes on with what you just said)";
            self.notices.push(notice.into());
        }
        self.wrote();
        let Some((_, wiring)) = &self.assumed else { return Ok(Vec::new()) };
        if changed {
            let loaded = load::read(Source::new("wiring.yaml", text), load::rules(wiring)?)?;
            let id = self.waiting.as_ref().map_or(0, Event::id);
            self.chase = Chase::new(loaded.machine()).speaking(self.dial.table().clone());
            self.record = Record::default();
            (self.waiting, self.verdict) = (None, None);
            let entries = std::mem::take(&mut self.entries);
            let lost = self.replay(&entries);
            self.notices.extend(lost.into_iter().map(|lost| format!("({lost})")));
            self.chase.count_from(id + 1);
        }
        if changed && self.chase.waiting().is_none() {
            // Nothing of what was said shows on this machine: tests are asked all the same.
            self.chase.take(Input::Unnamed);
        }
        let mut events = self.chase.take(told.clone());
        self.record.input(&told);
        self.entries.push(entry);
        self.verdict = None;
        self.doubt(&mut events);
        self.note(&events);
        Ok(events)
    }

    /// At the end: what the readings have proved goes into the wiring file.
    pub fn prove(&mut self, out: &mut Out) -> Result<(), Failure> {
        let Some((assumptions, wiring)) = &mut self.assumed else { return Ok(()) };
        let before = assumptions.text();
        if assumptions.prove(&mut self.chase) && put(wiring, &before, &assumptions.text())? {
            out.say(format!("{}: rows that the readings bear out are no longer marked \"?\"", wiring.display()));
        }
        Ok(())
    }

    /// How far its work is, shown where somebody waits for it.
    pub fn progress(&self) -> Progress {
        Progress::of(&self.chase.machine().pace)
    }

    /// One input: taken, on disk, then its events. A refused one is not kept; the waiting event comes again.
    pub fn feed(&mut self, input: Input) -> Result<Vec<Event>, Failure> {
        let _progress = self.progress();
        let events = self.heard(input)?;
        self.look(events)
    }

    /// The same, whatever has become of the wiring file.
    fn heard(&mut self, input: Input) -> Result<Vec<Event>, Failure> {
        self.first_things(&input);
        let doubted = matches!((&self.assumed, &self.waiting), (Some((assumptions, _)), Some(waiting))
            if assumptions.waiting() == Some(waiting));
        match &input {
            Input::Choice(choice) if doubted => return self.correct(choice),
            Input::Skip if doubted => return self.correct(DONT_KNOW),
            _ => {}
        }
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
            let entry = Entry { at: clock::stamp(), input: input.clone(), asked };
            if let Some(writer) = &mut self.writer {
                writer.entry(&entry)?;
            }
            self.record.input(&input);
            self.entries.push(entry);
            self.doubt(&mut events);
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
            if let Event::Verdict { id, verdict } = event {
                self.verdict = Some((**verdict).clone());
                self.verdict_id = *id;
                self.waiting = None;
            }
        }
    }
}

/// Entries without the answers that were taken back among the questions at the start: they were never the chase's.
fn told_for_good(entries: &[Entry]) -> Vec<Entry> {
    let mut out: Vec<Entry> = Vec::new();
    let mut begun = false;
    for entry in entries {
        let told = |entry: &Entry| matches!(&entry.input, Input::Told { key, .. } if key != COMPLAINT);
        begun |= !matches!(entry.input, Input::Told { .. } | Input::Back | Input::Note(_));
        match out.iter().rposition(told) {
            Some(last) if !begun && entry.input == Input::Back => drop(out.remove(last)),
            _ => out.push(entry.clone()),
        }
    }
    out
}

/// Puts the wiring file in place of what was written there; a file that somebody has changed meanwhile is left alone.
fn put(wiring: &Path, before: &str, now: &str) -> Result<bool, Failure> {
    let same = load::text(wiring).is_ok_and(|source| source.text == before);
    if same && before != now {
        store::replace(wiring, now.as_bytes())?;
    }
    Ok(same && before != now)
}
