//! `ohmward ringout`: which way goes where, by beeper; then what each way loses under load.

mod finish;
mod screen;
mod talk;

use super::book::{Book, Keeper};
use super::chase::jsonl::Script;
use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, chase, clock, load};
use clap_complete::engine::ArgValueCompleter;
use ohmward::session::Input;
use ohmward::session::journal::{Header, fingerprint};
use ohmward::session::ringout::job::{self, Job};
use ohmward::session::ringout::words::Words;
use ohmward::session::ringout::{Ring, Stage, Wait};
use ohmward::text::words::nearest;
use std::io::{self, BufReader};

/// Ring out a plug: which way goes where, then what each way loses under load
///
/// By beeper, both ends unplugged and loads off: red stays on a way, black goes to its far end (beep) and is dragged over the
/// ways not touched yet (silent): one placement a way. Answers: y, n, 5=6, 7 dead, 4+6, all good, back, skip. What is crossed,
/// dead or joined is named at once with what it usually comes of. A half that got new wire is rung out from its cavities to
/// where its wires end. Then, joined, --load: a lamp through every way, and the volts over it. What is good is marked in the
/// wiring file (beep, then ok) if you like, and a section is added to build-notes.md.
#[derive(clap::Args)]
pub struct Args {
    /// The plug
    #[arg(value_name = "PLUG", required_unless_present = "ways", add = ArgValueCompleter::new(offer::plugs))]
    plug: Option<String>,
    /// Only this half, a or b; default: those that got new wire
    #[arg(long, value_name = "HALF", value_parser = ["a", "b"])]
    half: Option<String>,
    /// No wiring file: so many ways, each straight through
    #[arg(long, value_name = "N", conflicts_with_all = ["plug", "half", "load"], value_parser = clap::value_parser!(u16).range(1..=400))]
    ways: Option<u16>,
    /// Joined and mated: a lamp through every way, and the volts over it
    #[arg(long, conflicts_with_all = ["half", "ganged"])]
    load: bool,
    /// Watts of that lamp; default: the bench's test lamp, else 21
    #[arg(long, value_name = "WATTS", requires = "load")]
    lamp: Option<f64>,
    /// Ways can be held together in bunches (a breakout, a comb of clips): shorts are told in a few rounds, nothing is dragged
    #[arg(long)]
    ganged: bool,
    /// Begin anew; what was answered so far is kept beside
    #[arg(long)]
    new: bool,
    /// Mark what is good in the wiring file without asking
    #[arg(long)]
    write: bool,
    /// Placements and answers as JSON lines, for scripts
    #[arg(long)]
    jsonl: bool,
}

/// What is rung out.
struct Work {
    /// Each with the name of its journal.
    jobs: Vec<(String, Job)>,
    stage: Stage,
    /// The plug, where there is a wiring file.
    plug: Option<String>,
    title: String,
    /// Fingerprint of the wiring file.
    wiring: String,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    context.json |= args.jsonl;
    let work = work(args, context)?;
    let mut script = Script::new(BufReader::new(io::stdin()));
    let mut lines = if args.jsonl { None } else { Some(chase::source(context, None)?) };
    let mut rings: Vec<Ring> = Vec::new();
    let mut last: Option<Keeper> = None;
    for (name, job) in work.jobs.clone() {
        let (mut ring, keeper) = open(&name, job, &work, args, context)?;
        if let Some(mut keeper) = keeper {
            let ended = match lines.as_deref_mut() {
                Some(lines) => talk::run(&mut ring, &mut keeper, lines, context)?,
                None => talk::script(&mut ring, &mut keeper, &mut script, context)?,
            };
            if !ended {
                let what = work.plug.as_ref().map_or_else(|| format!("--ways {}", ring.job.ways.len()), Clone::clone);
                let load = if args.load { " --load" } else { "" };
                context.out.say(format!("Broken off. Go on with it: ohmward ringout {what}{load}"));
                return Ok(Exit::NotMet);
            }
            finish::note(&ring, &keeper, &work, context)?;
            if let Some(before) = last.replace(keeper) {
                before.end()?;
            }
        }
        rings.push(ring);
    }
    finish::prove(&rings, &work, args.write, lines.as_deref_mut(), context)?;
    // Only now: what is killed before its marks are written goes on there.
    if let Some(keeper) = last {
        keeper.end()?;
    }
    let left = |ring: &Ring| ring.good().len() < ring.job.ways.len();
    Ok(if rings.iter().any(left) { Exit::NotMet } else { Exit::Done })
}

/// What there is to ring out; every problem of the command line at once.
fn work(args: &Args, context: &mut Context) -> Result<Work, Failure> {
    if let Some(count) = args.ways {
        let job = Job::straight(usize::from(count));
        return Ok(Work {
            jobs: vec![(format!("ringout-{count}-ways"), job)],
            stage: Stage::Beep { ganged: args.ganged },
            plug: None,
            title: String::new(),
            wiring: String::new(),
        });
    }
    let loaded = load::load(&context.wiring)?;
    load::warn(&loaded, context);
    let netlist = &loaded.netlist;
    let wanted = args.plug.as_deref().unwrap_or_default();
    let Some(plug) = netlist.plugs.values().find(|plug| plug.name.eq_ignore_ascii_case(wanted)) else {
        let hint = match nearest(wanted, netlist.plugs.keys().map(String::as_str)) {
            Some(near) => format!("nearest: {near}"),
            None if netlist.plugs.is_empty() => {
                "this machine has no plugs; without a file: ohmward ringout --ways 8".into()
            }
            None => format!("plugs: {}", netlist.plugs.keys().cloned().collect::<Vec<_>>().join(", ")),
        };
        return Err(Failure::hinted(format!("no plug is called {wanted:.60}"), hint));
    };
    let usual = netlist.bench.test_lamp.unwrap_or(Words::builtin().figure("lamp"));
    let lamp = args.lamp.unwrap_or(usual);
    if !(5.0..=60.0).contains(&lamp) {
        let hint = "a bigger one tells more: a brake lamp has 21: ohmward ringout P9 --load --lamp 21";
        if args.load {
            return Err(Failure::hinted(format!("a lamp of {lamp} W does not do: 5 to 60 W"), hint));
        }
    }
    let name = plug.name.clone();
    let jobs: Vec<(String, Job)> = if args.load {
        vec![(format!("ringout-{name}-load"), Job::whole(netlist, plug))]
    } else {
        let halves = match args.half.as_deref() {
            Some("b") => vec!['b'],
            Some(_) => vec!['a'],
            None => job::halves(netlist, plug),
        };
        halves.into_iter().map(|half| (format!("ringout-{name}{half}"), Job::half(netlist, plug, half))).collect()
    };
    if jobs.iter().all(|(_, job)| job.ways.is_empty()) {
        return Err(Failure::hinted(
            format!("{name} has no ways"),
            format!("ohmward wire \"{name}: 1, red, same, horn.feed, F1.out, ?\""),
        ));
    }
    let stage = if args.load { Stage::Load { lamp } } else { Stage::Beep { ganged: args.ganged } };
    let wiring = fingerprint(&loaded.source.text);
    Ok(Work { jobs, stage, plug: Some(name), title: netlist.title.clone(), wiring })
}

/// Goes on with what was broken off, takes what is finished as it is, or begins.
fn open(
    name: &str,
    job: Job,
    work: &Work,
    args: &Args,
    context: &mut Context,
) -> Result<(Ring, Option<Keeper>), Failure> {
    let anew = format!("ohmward ringout {} --new", work.plug.as_deref().unwrap_or("--ways"));
    let book = Book::beside(&context.wiring, name, "rings this out", &anew);
    let mut ring = Ring::new(job.clone(), work.stage);
    // The file may have got its proof marks since: what is rung out is what counts.
    let what =
        format!("{:?} {}", work.stage, job.ways.iter().map(|way| way.name.as_str()).collect::<Vec<_>>().join(" "));
    if let Some(old) = (if args.new { None } else { book.old()? })
        && old.journal.header.complaint == what
    {
        let answers = old.journal.entries.iter().filter_map(|entry| match &entry.input {
            Input::Choice(text) | Input::Note(text) => Some(text.clone()),
            Input::Back => Some("back".into()),
            _ => None,
        });
        for answer in answers.collect::<Vec<_>>() {
            // Each was accepted before.
            let _ = ring.take(&answer);
        }
        let done = matches!(ring.waiting(), Wait::Done);
        let ended = old.journal.end.is_some();
        for line in old.journal.damaged.iter().chain(&old.journal.skipped) {
            context.out.say(format!("(line {line} of its journal cannot be read and is left out)"));
        }
        if ended && done && work.jobs.len() > 1 && work.jobs[0].0 == name {
            context.out.say(format!("({} was rung out {}; anew: {anew})", job.name, old.journal.header.started));
            return Ok((ring, None));
        }
        if !ended && !ring.answers().is_empty() {
            context.out.say(format!("(going on with what was begun {}; anew: {anew})", old.journal.header.started));
            return Ok((ring, Some(book.go_on(old)?)));
        }
    }
    let header = Header {
        number: 0,
        machine: work.title.clone(),
        wiring: work.wiring.clone(),
        started: clock::stamp(),
        complaint: what,
    };
    Ok((Ring::new(job, work.stage), Some(book.begin(&header)?)))
}
