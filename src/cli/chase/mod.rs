//! `ohmward chase`: from a symptom to the fault.

mod again;
mod answer;
mod begin;
mod bench;
mod choice;
pub mod driver;
pub mod jsonl;
mod outcome;
mod paper;
pub mod talk;

use super::Context;
use super::error::Failure;
use super::exit::Exit;
use super::journal::{Trails, Writer};
use super::load::{self, Loaded};
use super::prompt::terminal::Terminal;
use super::prompt::{Got, LineSource, Plain};
use super::{build_notes, clock};
use again::{looking_on, resumed};
use begin::{Answers, Begin};
use driver::Driver;
use jsonl::Script;
use ohmward::notes;
use ohmward::session::journal::{Header, fingerprint};
use ohmward::session::start::rivals::Assumptions;
use ohmward::session::{Chase, Input};
use ohmward::text::hidden::visible;
pub use outcome::{exit_of, verdict};
use serde_json::json;
use std::io::{self, BufReader, IsTerminal};
use std::path::{Path, PathBuf};

/// Find the fault behind a symptom, reading by reading
///
/// Say what is wrong in your own words. One screen a question: what to set, where red and black go, what each
/// leading suspect would read. Every answer is on disk before the next question; a chase that was killed goes
/// on where it was. At the end a section is added to build-notes.md. Words at the prompt: type help.
#[derive(clap::Args)]
pub struct Args {
    /// The symptom in your own words
    #[arg(value_name = "SYMPTOM")]
    symptom: Vec<String>,
    /// Events and answers as JSON lines, for scripts
    #[arg(long)]
    jsonl: bool,
    /// Begin anew, even if a chase is unfinished (it is closed as stopped)
    #[arg(long)]
    new: bool,
    /// Print the next three tests with every outcome, to take along; the chase stays open
    #[arg(long, conflicts_with = "jsonl")]
    paper: bool,
}

/// Lines of a script on standard input.
pub type Stdin = Script<BufReader<io::Stdin>>;

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    context.json |= args.jsonl;
    let trails = Trails::beside(&context.wiring);
    let lines = if args.jsonl { None } else { Some(source(context, Some(&trails))?) };
    chase(args, context, &trails, lines, Script::new(BufReader::new(io::stdin())))
}

/// Goes on with the unfinished trail, with who has been talking so far: lines, else the script.
pub fn go_on(context: &mut Context, lines: Option<Box<dyn LineSource>>, script: Stdin) -> Result<Exit, Failure> {
    let args = Args { symptom: Vec::new(), jsonl: lines.is_none(), new: false, paper: false };
    let trails = Trails::beside(&context.wiring);
    chase(&args, context, &trails, lines, script)
}

fn chase(
    args: &Args,
    context: &mut Context,
    trails: &Trails,
    mut lines: Option<Box<dyn LineSource>>,
    mut script: Stdin,
) -> Result<Exit, Failure> {
    if context.json && lines.is_some() {
        context.out.talk_aside();
    }
    let mut open = match trails.unfinished() {
        // A trail that this program cannot read stays as it is; the new one gets a number of its own.
        Err(Failure::Plain { text, .. }) if args.new => {
            context.out.say(format!("({text}; it is left as it is)"));
            None
        }
        open => open?,
    };
    if let Some((number, journal)) = open.take_if(|_| args.new) {
        match trails.resume(number, journal.whole) {
            Ok(mut writer) => writer.end(&clock::stamp(), "stopped")?,
            Err(failure) => return looking_on(failure, trails, context),
        }
    }
    let mut fresh = None;
    if let Some((_, journal)) = open.as_ref().filter(|(_, journal)| !journal.header.wiring.is_empty())
        && !context.wiring.exists()
    {
        let (file, what) = (context.wiring.display(), &journal.header.complaint);
        return Err(Failure::hinted(
            format!("{file} is gone, and the chase of \"{what}\" was begun on it"),
            "put it back and say the same again, or begin anew: ohmward chase --new",
        ));
    }
    if !context.wiring.exists() {
        let words = visible(args.symptom.join(" ").trim());
        let answers = match lines.as_deref_mut() {
            Some(lines) => Answers::Lines(lines),
            None => Answers::Script(&mut script),
        };
        match begin::begin(&words, open.take(), trails, answers, context) {
            Ok(Begin::Written(next_id)) => fresh = Some(next_id),
            Ok(Begin::Copied) => {}
            Ok(Begin::Left) => return Ok(if trails.numbers()?.is_empty() { Exit::Unusable } else { Exit::NotMet }),
            Err(failure) => return looking_on(failure, trails, context),
        }
        open = trails.unfinished()?;
    }
    if let Some(lines) = lines.as_deref_mut().filter(|_| open.is_none())
        && !bench::ask(lines, context)?
    {
        return Ok(Exit::NotMet);
    }
    let loaded = load::load(&context.wiring)?;
    load::manageable(&loaded.netlist)?;
    load::warn(&loaded, context);
    let (number, journal) = open.map_or((0, None), |(number, journal)| (number, Some(journal)));
    let complaint = match &journal {
        Some(journal) => journal.header.complaint.clone(),
        None => match complaint(args, lines.as_deref_mut(), context)? {
            Some(complaint) => complaint,
            None => return Ok(Exit::NotMet),
        },
    };
    let begun = match &journal {
        Some(journal) => trails.resume(number, journal.whole).map(|writer| (writer, journal.header.clone())),
        None => start(trails, &loaded, &complaint),
    };
    let (writer, header) = match begun {
        Ok(begun) => begun,
        Err(failure) => return looking_on(failure, trails, context),
    };
    // A chase that began without a wiring file knows of none.
    let changed = !header.wiring.is_empty() && header.wiring != fingerprint(&loaded.source.text);
    let title = loaded.netlist.title.clone();
    let book = load::book(&context.wiring)?;
    let assumptions = Assumptions::of(&loaded.source.text, &book, &loaded.catalogue);
    let text = loaded.source.text.clone();
    let mut driver = Driver::new(Chase::new(loaded.machine()).speaking(load::words(&context.wiring)?), Some(writer));
    driver.assume(assumptions, &context.wiring);
    driver.beware(book);
    driver.wired(&context.wiring, &text);
    let first;
    if let Some(journal) = &journal {
        if changed {
            context.out.say("(the wiring file has changed since this chase began; its readings are weighed anew)");
        }
        if let Some(line) = journal.damaged {
            context
                .out
                .say(format!("(line {line} of the trail was cut short and is left out: answer that question again)"));
        }
        for line in &journal.skipped {
            context.out.say(format!("(line {line} of the trail is damaged and is left out; the rest is used)"));
        }
        let progress = driver.progress();
        let lost = driver.replay(&journal.entries);
        drop(progress);
        for lost in lost {
            context.out.say(format!("({lost})"));
        }
        match fresh {
            Some(next_id) => driver.chase.count_from(next_id),
            None if args.paper => {}
            None => resumed(journal, &header, args.jsonl, context)?,
        }
        // Killed between the trail's first line and its second: the complaint stands in the first.
        first = if driver.waiting().is_none() && journal.entries.is_empty() && !complaint.is_empty() {
            let events = driver.feed(Input::Saw(complaint))?;
            driver.tell(&mut context.out);
            events
        } else {
            driver.again()
        };
    } else if complaint.is_empty() {
        first = Vec::new();
    } else {
        first = driver.feed(Input::Saw(complaint))?;
        driver.tell(&mut context.out);
    }
    if args.paper && driver.verdict().is_none() {
        let waiting = driver.waiting().cloned();
        return paper::print(&mut driver.chase, waiting.as_ref(), context);
    }

    let ended = match lines {
        None => {
            jsonl::run(&mut driver, &first, &mut script, &mut context.out)?;
            talk::Ended::Verdict
        }
        Some(mut lines) => talk::run(&mut driver, &first, lines.as_mut(), None, &mut context.out)?,
    };
    // A script has had the verdict as an event.
    let told = (context.json && !args.jsonl).then(|| {
        let complaint = &header.complaint;
        json!({
            "trail": header.number, "complaint": complaint, "readings": driver.record.readings(),
            "verdict": verdict(&driver), "notes": null,
        })
    });
    if ended == talk::Ended::BrokenOff {
        context.out.say("The chase stays open. Go on with it: ohmward chase");
        if let Some(told) = &told {
            context.out.json(told)?;
        }
        return Ok(Exit::NotMet);
    }
    driver.prove(&mut context.out)?;
    let notes = finish(&mut driver, &context.wiring, &title, &header)?;
    if let Some(notes) = notes.filter(|_| !args.jsonl) {
        context.out.page(format!("\nWritten: {}", notes.display()))?;
    }
    if let Some(mut told) = told {
        told["notes"] = json!(build_notes::beside(&context.wiring).display().to_string());
        context.out.json(&told)?;
    }
    Ok(exit_of(driver.verdict().map(|verdict| verdict.reason)))
}

/// Lines from a terminal if both ends are one, else plain lines.
pub fn source(context: &Context, trails: Option<&Trails>) -> Result<Box<dyn LineSource>, Failure> {
    if io::stdin().is_terminal() && io::stdout().is_terminal() {
        let kept = trails.map(Trails::history).filter(|history| history.parent().is_some_and(Path::is_dir));
        Ok(Box::new(Terminal::new(context.out.paint.is_on(), kept)?))
    } else if io::stdin().is_terminal() {
        Ok(Box::new(Plain::typed(BufReader::new(io::stdin()))))
    } else {
        Ok(Box::new(Plain::new(BufReader::new(io::stdin()), true)))
    }
}

/// The complaint: from the command line, else asked for; a script tells it in its first line.
fn complaint(
    args: &Args,
    lines: Option<&mut (dyn LineSource + 'static)>,
    context: &mut Context,
) -> Result<Option<String>, Failure> {
    let words = visible(args.symptom.join(" ").trim());
    if !words.is_empty() {
        return Ok(Some(words));
    }
    let Some(lines) = lines else { return Ok(Some(String::new())) };
    context.out.page("What is wrong, in your own words? What makes it come, what makes it go?")?;
    loop {
        match lines.line("> ")? {
            Got::Line(line) if line.trim().is_empty() => continue,
            Got::Line(line) => return Ok(Some(line.trim().to_string())),
            Got::End | Got::Interrupted => {
                context.out.say("Nothing is begun. Later: ohmward chase \"what is wrong\"");
                return Ok(None);
            }
        }
    }
}

fn start(trails: &Trails, loaded: &Loaded, complaint: &str) -> Result<(Writer, Header), Failure> {
    let mut header = Header {
        number: 0,
        machine: loaded.netlist.title.clone(),
        wiring: fingerprint(&loaded.source.text),
        started: clock::stamp(),
        complaint: complaint.to_string(),
    };
    let writer = trails.begin(&mut header)?;
    Ok((writer, header))
}

/// Writes the section into build-notes.md and closes the journal; gives the notes' path if something was added.
fn finish(driver: &mut Driver, wiring: &Path, machine: &str, header: &Header) -> Result<Option<PathBuf>, Failure> {
    let path = build_notes::beside(wiring);
    let added = write_notes(driver, &path, machine, &format!("{:03}, {}", header.number, header.started))?;
    driver.close()?;
    Ok(added.then_some(path))
}

/// Adds the section of a chase to the notes; false if it stands there already.
pub fn write_notes(driver: &Driver, path: &Path, machine: &str, trail: &str) -> Result<bool, Failure> {
    let section = notes::section(&driver.record, machine, &clock::today(), trail);
    build_notes::add(path, trail, machine, &section)
}
