//! `ohmward learn`: the table of an unknown switch or plug, by beeper.

mod journal;
mod screen;
mod talk;
mod write;

use super::Context;
use super::chase::jsonl::Script;
use super::error::Failure;
use super::exit::Exit;
use super::{chase, load};
use journal::Book;
use ohmward::session::learn::journal::MOST_CLIPS;
use ohmward::session::learn::setup::Key;
use ohmward::session::learn::{Learn, Start, Wait};
use ohmward::text::yaml::{self, Value};
use std::io::{self, BufReader};
use std::path::Path;

/// Learn the table of an unknown switch or plug with a beeper, in few touches
///
/// Off the machine only. It asks for one touch at a time, position by position, and works out the rest; diodes, lamps and
/// resistors are told from contacts. At the end stands the table as the wiring file writes it, and it can be put there.
/// Every answer is on disk before the next question. Answers: y, n, a number of ohms, back, skip, all silent, stop.
#[derive(clap::Args)]
pub struct Args {
    /// What it is called
    #[arg(value_name = "NAME", default_value = "switch")]
    name: String,
    /// Colours of its wires; - for an empty way of a plug
    #[arg(long, value_name = "COLOURS")]
    wires: Option<String>,
    /// Its positions, at rest first; a star behind what springs back: "off, on, start*"
    #[arg(long, value_name = "POSITIONS")]
    positions: Option<String>,
    /// A plug: ways in each row from the top, "3, 3"; or none
    #[arg(long, value_name = "ROWS")]
    plug: Option<String>,
    /// How the plug is looked at: "wire side, latch up", "mating face, latch down"
    #[arg(long, value_name = "VIEW", requires = "plug")]
    seen: Option<String>,
    /// Clips to hold wires together; default: those of the wiring file's bench, else none
    #[arg(long, value_name = "N")]
    clips: Option<usize>,
    /// Nothing but contacts is in it: beeps are not tried with the leads swapped, no ohms are asked
    #[arg(long)]
    contacts_only: bool,
    /// Put it into the wiring file without asking
    #[arg(long)]
    write: bool,
    /// Go on with one that was broken off
    #[arg(long, conflicts_with = "new", conflicts_with_all = ["wires", "positions", "plug", "clips", "contacts_only"])]
    resume: bool,
    /// Begin anew; what was learnt under this name is kept beside
    #[arg(long)]
    new: bool,
    /// Events and answers as JSON lines, for scripts
    #[arg(long)]
    jsonl: bool,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    context.json |= args.jsonl;
    named(&args.name)?;
    let book = Book::beside(&context.wiring, &args.name);
    let (mut learn, steps, kept);
    if args.resume {
        let (old, writer) = book.resume()?;
        if let Some(line) = old.damaged {
            context.out.say(format!("(line {line} of the journal was cut short and is left out: answer that again)"));
        }
        (steps, kept) = (old.steps.len(), writer);
        learn = Learn::again(old.start, old.steps);
    } else {
        let start = Start { name: args.name.clone(), ..bench(args, context)? };
        learn = Learn::new(start);
        given(args, &mut learn)?;
        kept = book.begin(learn.start(), args.new)?;
        steps = 0;
    }
    let mut keeper = journal::Keeper::new(kept, steps);
    keeper.keep(&learn)?;
    let ended = if args.jsonl {
        talk::script(&mut learn, &mut keeper, &mut Script::new(BufReader::new(io::stdin())), &mut context.out)?
    } else {
        let mut lines = chase::source(context, None)?;
        talk::run(&mut learn, &mut keeper, lines.as_mut(), args, context)?
    };
    if !ended {
        context.out.say(format!("Broken off. Go on with it: ohmward learn {} --resume", args.name));
        return Ok(Exit::NotMet);
    }
    if args.jsonl && args.write {
        write::put(&learn.table(), context)?;
    }
    keeper.end()?;
    Ok(if matches!(learn.waiting(), Wait::Done) { Exit::Done } else { Exit::NotMet })
}

/// A name that a part of the wiring file can have.
fn named(name: &str) -> Result<(), Failure> {
    let fits = name.starts_with(|c: char| c.is_ascii_alphanumeric())
        && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
        && name.len() <= 60;
    if fits {
        return Ok(());
    }
    let hint = "a name is letters, digits, - and _, and begins with a letter or a digit: ohmward learn turn-switch";
    Err(Failure::hinted(format!("\"{name:.60}\" is no name for a part"), hint))
}

/// What is at hand: from the command line, else from the wiring file if there is one that says so.
fn bench(args: &Args, context: &Context) -> Result<Start, Failure> {
    let clips = args.clips.unwrap_or_default();
    if clips > MOST_CLIPS {
        return Err(Failure::plain(format!("{clips} clips: {MOST_CLIPS} at most")));
    }
    let mut start = Start { clips, contacts_only: args.contacts_only, ..Start::default() };
    // A wiring file that does not check hinders nothing here; it is told when something is to be put into it.
    if let Ok(loaded) = load::load(&context.wiring) {
        let bench = &loaded.netlist.bench;
        start.beep_below = bench.beep_below;
        if args.clips.is_none() && says_clips(&loaded.source) {
            start.clips = bench.clips.min(MOST_CLIPS);
        }
    }
    Ok(start)
}

/// Does the file itself name clips? A bench that nobody has described has none to hold wires with.
fn says_clips(source: &ohmward::text::span::Source) -> bool {
    let find = |node: &yaml::Node, key: &str| match &node.value {
        Value::Map(pairs) => pairs.iter().find(|(k, _)| k.text.eq_ignore_ascii_case(key)).map(|(_, node)| node.clone()),
        _ => None,
    };
    yaml::parse(source).is_ok_and(|tree| find(&tree, "bench").is_some_and(|bench| find(&bench, "clips").is_some()))
}

/// What the command line says before anything is asked; every problem of it at once.
fn given(args: &Args, learn: &mut Learn) -> Result<(), Failure> {
    let plug = args.plug.as_deref();
    // Without a word about a plug, colours given are those of loose wires.
    let plug = plug.or(args.wires.as_ref().map(|_| "loose wires"));
    let mut problems: Vec<String> = Vec::new();
    let all = [
        (Key::Plug, plug),
        (Key::Seen, args.seen.as_deref()),
        (Key::Wires, args.wires.as_deref()),
        (Key::Positions, args.positions.as_deref()),
    ];
    for (key, text) in all {
        if let Some(Err(why)) = text.map(|text| learn.answer(key.word(), text)) {
            problems.push(format!("--{}: {why}", key.word()));
        }
    }
    if learn.has(Key::Positions) {
        // What springs back is said by its star, or by its name.
        let held: Vec<String> =
            learn.setup().positions.iter().filter(|position| position.held).map(|p| p.name.clone()).collect();
        let held = if held.is_empty() { "none".to_owned() } else { held.join(", ") };
        if let Err(why) = learn.answer(Key::Held.word(), &held) {
            problems.push(format!("--positions: {why}"));
        }
    }
    if problems.is_empty() {
        return Ok(());
    }
    Err(Failure::hinted(
        problems.join("\n  "),
        "ohmward learn key --wires \"white, brown, blue\" --positions \"off, on\"",
    ))
}

/// The folder that journals stand in.
fn folder(wiring: &Path) -> std::path::PathBuf {
    wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")).join("trails")
}
