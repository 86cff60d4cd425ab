//! A chase in a folder without a wiring file: a few questions, then the file is written and the chase goes on in it.
//!
//! The trail begins with the complaint; each answer is a line of it. So going on after a break is reading them again.

use super::choice;
use super::jsonl::Script;
use crate::cli::error::Failure;
use crate::cli::journal::{Trails, Writer};
use crate::cli::prompt::keywords::{self, Typed};
use crate::cli::prompt::{Got, LineSource, screen};
use crate::cli::{Context, clock, load, machines, new, store};
use ohmward::notes;
use ohmward::session::event::COMPLAINT;
use ohmward::session::journal::{Entry, Header, Journal};
use ohmward::session::start::{Asked, DONT_KNOW, MOST, Start};
use ohmward::session::{Event, Input, Report, SymptomInput, Verdict, VerdictReason};
use std::io::BufRead;
use std::path::Path;

/// How beginning ended.
pub enum Begin {
    /// The wiring file is there, and a trail that tells what was said; the number of the next event.
    Written(usize),
    /// The wiring file is there, of a built-in machine: nothing has been said.
    Copied,
    /// Broken off or not wanted.
    Left,
}

/// Who answers.
pub enum Answers<'a, R> {
    /// A person.
    Lines(&'a mut dyn LineSource),
    /// A script.
    Script(&'a mut Script<R>),
}

/// A start with its trail.
struct Beginning<'c> {
    start: Start,
    trails: &'c Trails,
    writer: Option<Writer>,
    /// The person's inputs so far are in the trail up to here.
    context: &'c mut Context,
    next_id: usize,
}

/// Begins a wiring file from a complaint.
pub fn begin<R: BufRead + Send + 'static>(
    words: &str,
    journal: Option<(u32, Journal)>,
    trails: &Trails,
    mut answers: Answers<'_, R>,
    context: &mut Context,
) -> Result<Begin, Failure> {
    let name = context.wiring.display().to_string();
    if context.wiring != Path::new("wiring.yaml") {
        return Err(Failure::hinted(
            format!("there is no {name} here"),
            "begin with a built-in machine: ohmward new orchard-cart; or name your file: --wiring FILE",
        ));
    }
    let book = load::book(&context.wiring)?;
    let start = Start::new(book, load::rules(&context.wiring)?).speaking(load::words(&context.wiring)?);
    let mut beginning = Beginning { start, trails, writer: None, context, next_id: 1 };
    let mut whole = Vec::new();
    if let Some((number, journal)) = journal {
        beginning.writer = Some(trails.resume(number, journal.whole)?);
        whole = beginning.again(&journal, matches!(answers, Answers::Script(_)))?;
    } else if !beginning.first(words, &mut answers)? {
        return Ok(if beginning.context.wiring.exists() { Begin::Copied } else { Begin::Left });
    }
    if whole.is_empty() && !beginning.ask(&mut answers)? {
        return Ok(Begin::Left);
    }
    beginning.write(&whole)?;
    Ok(Begin::Written(beginning.next_id))
}

impl Beginning<'_> {
    /// Answers of a trail that was broken off; what the chase was told already, if it came so far.
    fn again(&mut self, journal: &Journal, script: bool) -> Result<Vec<Input>, Failure> {
        let mut whole = Vec::new();
        for entry in &journal.entries {
            match &entry.input {
                Input::Told { key, answer, .. } if key == COMPLAINT => self.start.complain(answer),
                Input::Told { key, question, answer } if key == GIVEN => {
                    let symptom =
                        serde_json::from_str(answer).ok().and_then(|value| Input::from_json(&value, None).ok());
                    if let Some(Input::Symptom(symptom)) = symptom {
                        self.start.give(symptom, question).map_err(Failure::plain)?;
                    }
                }
                Input::Told { answer, .. } => drop(self.start.answer(answer)),
                Input::Back => drop(self.start.back()),
                Input::Note(_) => {}
                input => whole.push(input.clone()),
            }
        }
        super::resumed(journal, &journal.header, script, self.context)?;
        // Killed between the trail's first line and its second: the complaint stands in the first.
        if journal.entries.is_empty() && !journal.header.complaint.is_empty() {
            self.complain(&journal.header.complaint)?;
        }
        Ok(whole)
    }

    /// The complaint; false if there is none and nothing is wanted.
    fn first<R: BufRead + Send + 'static>(
        &mut self,
        words: &str,
        answers: &mut Answers<'_, R>,
    ) -> Result<bool, Failure> {
        match answers {
            Answers::Script(script) => {
                if !words.is_empty() {
                    return self.complain(words).map(|()| true);
                }
                while let Some(line) = script.next()? {
                    let taken = match line.and_then(|value| Input::from_json(&value, None)) {
                        Ok(Input::Saw(text)) => {
                            self.complain(&text)?;
                            return Ok(true);
                        }
                        Ok(Input::Symptom(symptom)) => self.give(symptom)?,
                        Ok(Input::Stop) => break,
                        Ok(_) => Err("say first what is wrong: {\"saw\":\"the horn is dead\"}".to_string()),
                        Err(why) => Err(why),
                    };
                    match taken {
                        Ok(()) => return Ok(true),
                        Err(text) => self.say(&Event::Error { id: 0, text })?,
                    }
                }
                self.stopped()?;
                Ok(false)
            }
            Answers::Lines(lines) => self.first_words(words, *lines),
        }
    }

    /// The complaint of a person; where there is none, or nothing of it is known, a machine to try is offered too.
    fn first_words(&mut self, words: &str, lines: &mut dyn LineSource) -> Result<bool, Failure> {
        if self.start.understands(words) {
            return self.complain(words).map(|()| true);
        }
        let first = machines::FIRST;
        let mut said = words.to_string();
        let paint = self.context.out.paint;
        if said.is_empty() {
            self.context.out.page(format!(
                "There is no {} here yet. Say what is wrong and it is begun from a few questions.\n  \
                 {}  copy the built-in {first} instead: a whole machine to try\n  \
                 {}  write a small file that explains itself, to fill in\n  \
                 {}  neither",
                self.context.wiring.display(),
                paint.key("1"),
                paint.key("2"),
                paint.key("q")
            ))?;
        }
        loop {
            if !said.is_empty() {
                self.context.out.page(format!(
                    "\"{said}\": nothing in it that I know. Name the part and what it does (\"the horn is dead\"); or\n  \
                     {}  go on: you will be asked   {}  the built-in {first}   {}  a file to fill in   {}  stop",
                    paint.key("Enter"),
                    paint.key("1"),
                    paint.key("2"),
                    paint.key("q")
                ))?;
            }
            lines.offer(Vec::new());
            let line = match lines.line("what is wrong> ")? {
                Got::Line(line) => line.trim().to_string(),
                Got::End | Got::Interrupted => "q".into(),
            };
            let machine = match line.to_lowercase().as_str() {
                "1" => first,
                "2" => "empty",
                "q" | "quit" | "stop" | "no" | "exit" => {
                    self.context.out.say(format!("Nothing was written. Later: ohmward chase, or ohmward new {first}"));
                    return Ok(false);
                }
                "" if said.is_empty() => continue,
                "" => return self.complain(&said).map(|()| true),
                _ if self.start.understands(&line) => return self.complain(&line).map(|()| true),
                _ => {
                    said = line;
                    continue;
                }
            };
            let path = new::put(machine, Path::new("."))?;
            self.context.out.page(format!("{} is written.\n", path.display()))?;
            return Ok(false);
        }
    }

    fn complain(&mut self, words: &str) -> Result<(), Failure> {
        self.start.complain(words);
        let answer = self.start.complaint().to_string();
        self.keep(Input::Told { key: COMPLAINT.into(), question: "what is wrong".into(), answer })
    }

    fn give(&mut self, symptom: SymptomInput) -> Result<Result<(), String>, Failure> {
        let words = notes::complained(&symptom);
        let answer = Input::Symptom(symptom.clone()).to_json(None).to_string();
        if let Err(why) = self.start.give(symptom, &words) {
            return Ok(Err(why));
        }
        self.keep(Input::Told { key: GIVEN.into(), question: words, answer }).map(Ok)
    }

    /// The questions; false if they were broken off.
    fn ask<R: BufRead + Send + 'static>(&mut self, answers: &mut Answers<'_, R>) -> Result<bool, Failure> {
        let mut shown = false;
        while let Some(asked) = self.start.ask() {
            let input = match answers {
                Answers::Script(script) => {
                    let event = Start::event(&asked, self.next_id);
                    self.next_id += 1;
                    self.say(&event)?;
                    match script.next()? {
                        None => {
                            self.stopped()?;
                            return Ok(false);
                        }
                        Some(line) => line.and_then(|value| Input::from_json(&value, None)),
                    }
                }
                Answers::Lines(lines) => {
                    if !shown {
                        let paint = self.context.out.paint;
                        self.context.out.page(paint.aside(&format!(
                            "A few questions first, at most {MOST}. ? or Enter: don't know. back, stop."
                        )))?;
                        shown = true;
                    }
                    match self.line(&asked, *lines)? {
                        Some(input) => input,
                        None => {
                            self.context.out.say("The questions stay open. Go on with them: ohmward chase");
                            return Ok(false);
                        }
                    }
                }
            };
            let halts = match &input {
                Ok(Input::Choice(choice)) => asked.halts(choice),
                Ok(Input::Skip) => asked.halts(DONT_KNOW),
                _ => false,
            };
            if halts {
                match answers {
                    Answers::Script(_) => self.stopped()?,
                    Answers::Lines(_) => {
                        let text = "Make it safe first. The questions stay open; go on with them: ohmward chase";
                        self.context.out.say(text);
                    }
                }
                return Ok(false);
            }
            let taken = match input {
                Ok(Input::Choice(choice)) => self.start.answer(&choice),
                Ok(Input::Skip) => self.start.answer(DONT_KNOW),
                Ok(Input::Saw(text)) => {
                    self.complain_more(&text)?;
                    continue;
                }
                Ok(Input::Back) if self.start.back() => Ok(Input::Back),
                Ok(Input::Back) => Err("there is nothing to take back".into()),
                Ok(note @ Input::Note(_)) => Ok(note),
                Ok(Input::Stop) => {
                    self.stopped()?;
                    return Ok(false);
                }
                Ok(_) => Err("first the questions: answer with one of the choices, or \"don't know\"".into()),
                Err(why) => Err(why),
            };
            match taken {
                Ok(input) => self.keep(input)?,
                Err(text) => match answers {
                    Answers::Script(_) => {
                        let id = self.next_id;
                        self.next_id += 1;
                        self.say(&Event::Error { id, text })?;
                    }
                    Answers::Lines(_) => self.context.out.page(text)?,
                },
            }
        }
        Ok(true)
    }

    fn complain_more(&mut self, text: &str) -> Result<(), Failure> {
        self.start.complain(text);
        self.keep(Input::Told { key: COMPLAINT.into(), question: "what else".into(), answer: text.into() })
    }

    /// A person's answer; none if he wants to get away now.
    fn line(&mut self, asked: &Asked, lines: &mut dyn LineSource) -> Result<Option<Result<Input, String>>, Failure> {
        let event = Start::event(asked, 0);
        let head = format!("\n{}/{MOST} ", self.start.answered() + 1);
        let shown = screen::screen(&event, self.context.out.paint).unwrap_or_default();
        self.context.out.page(format!("{head}{shown}"))?;
        lines.offer(asked.choices.clone());
        let line = match lines.line(screen::prompt(&event))? {
            Got::Line(line) => line,
            Got::End => return Ok(Some(Ok(Input::Stop))),
            Got::Interrupted => return Ok(None),
        };
        if matches!(line.trim(), "" | "?") {
            return Ok(Some(Ok(Input::Choice(DONT_KNOW.into()))));
        }
        Ok(Some(Ok(match keywords::typed(&line) {
            Typed::Back => Input::Back,
            Typed::Stop => Input::Stop,
            Typed::Skip => Input::Skip,
            Typed::Note(text) => Input::Note(text),
            Typed::Help | Typed::Why => {
                let why = "A number or a word of the answer; ? or Enter if you do not know: then the usual wiring is \
                           assumed, and the readings show whether it is so. back takes the last answer back, saw … adds to what is wrong, stop ends.";
                return Ok(Some(Err(why.into())));
            }
            Typed::Saw(text) => Input::Saw(text),
            _ => match choice::choose(&line, &asked.choices) {
                Ok(choice) => Input::Choice(choice),
                Err(why) => return Ok(Some(Err(why))),
            },
        })))
    }

    /// On disk before the next question.
    fn keep(&mut self, input: Input) -> Result<(), Failure> {
        if self.writer.is_none() {
            let mut header = Header {
                machine: "My machine".into(),
                started: clock::stamp(),
                complaint: self.start.complaint().to_string(),
                ..Header::default()
            };
            self.writer = Some(self.trails.begin(&mut header)?);
        }
        match &mut self.writer {
            Some(writer) => writer.entry(&Entry { at: clock::stamp(), input, asked: None }),
            None => Ok(()),
        }
    }

    /// The wiring file, and what the chase is told first.
    fn write(&mut self, whole: &[Input]) -> Result<(), Failure> {
        let begun = self.start.finish().map_err(|(source, problems)| Failure::of(&source, problems))?;
        // A kill may have left only some of them in the trail.
        for input in begun.inputs.strip_prefix(whole).unwrap_or_default() {
            self.keep(input.clone())?;
        }
        store::create(&self.context.wiring, begun.text.as_bytes())?;
        let assumed = begun.text.lines().filter(|line| line.ends_with(", ?")).count();
        let rows = begun.text.lines().filter(|line| line.starts_with("  - ")).count();
        self.context.out.say(format!(
            "\nWritten: {}, {rows} wires, {assumed} of them assumed (\"?\"). What readings prove or disprove is put right there.\n",
            self.context.wiring.display()
        ));
        Ok(())
    }

    /// Stopped before there was anything to go on with.
    fn stopped(&mut self) -> Result<(), Failure> {
        if let Some(writer) = &mut self.writer {
            writer.end(&clock::stamp(), VerdictReason::Stopped.word())?;
        }
        if self.context.json {
            let text = "stopped before the wiring was known; no wiring file was written".to_string();
            let verdict = Verdict {
                reason: VerdictReason::Stopped,
                class: String::new(),
                pattern: String::new(),
                faults: Vec::new(),
                text,
                report: Report::default(),
                cured: None,
            };
            let event = Event::Verdict { id: self.next_id, verdict: Box::new(verdict) };
            return self.say(&event);
        }
        self.context.out.say("Stopped. Your answers are kept in trails/; no wiring file was written.");
        Ok(())
    }

    fn say(&mut self, event: &Event) -> Result<(), Failure> {
        self.context.out.json_line(&event.to_json())
    }
}

/// The key under which a symptom that came as such is told.
const GIVEN: &str = "symptom";
