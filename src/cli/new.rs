//! `ohmward new`: a folder to begin with.

use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, machines, store};
use clap::ValueHint;
use clap_complete::engine::ArgValueCompleter;
use ohmward::catalogue::Catalogue;
use ohmward::text::problem::Problem;
use ohmward::text::span::Source;
use ohmward::wiring::edit::{Addition, Draft, JOINED, Refusal};
use serde_json::json;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Make a folder with a wiring file to begin with
///
/// The built-in machines are inventions, whole and solvable: change them into yours. `empty` gives a file that
/// explains itself. Without MACHINE they are listed. Nothing that stands there already is overwritten; what cannot
/// be left out or added is said, and then nothing is written.
#[derive(clap::Args)]
pub struct Args {
    /// A built-in machine, or `empty`; without it the machines are listed
    #[arg(value_name = "MACHINE", add = ArgValueCompleter::new(offer::beginnings))]
    machine: Option<String>,
    /// The folder to make; default: here
    #[arg(value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    folder: Option<PathBuf>,
    /// Leave out a part or a circuit: horn, "turn signals"; "seat-switch, joined" joins its two wires
    #[arg(long, value_name = "WHAT", requires = "machine", add = ArgValueCompleter::new(offer::left_out))]
    without: Vec<String>,
    /// Add a part: kind, figures, place, `on FEED`, `ground POINT`, `by a toggle switch at PLACE`, `PIN to POINT`
    ///
    /// What is not said is taken from what is near. Its rows are marked `?`: assumed, until proved.
    #[arg(long, value_name = "WORDS", requires = "machine")]
    with: Vec<String>,
}

/// A wiring file with one circuit, each section explained.
const EMPTY: &str = "\
# The wiring as it really is. One row for one thing that you see on the bench; see README.md for every form.
machine: My machine
bench: {meter: [volts, ohms, beep], leads: 1 m}
chassis: [frame]
places:
  dash: easy
  engine-bay: 2 min

parts:                                   # kind, ratings, place
  battery: lead-acid battery, 12 V, 14 Ah, engine-bay
  main-fuse: fuse, 20 A, engine-bay
  horn-push: push switch, dash
  horn: horn, 3.5 A, engine-bay

wires:                                   # from to to, colour, size, length
  - battery.pos to main-fuse.in, red, 4 mm2, 0.3 m
  - battery.neg to G1, black, 4 mm2, 0.3 m
  - main-fuse.out to horn-push.a, red, 1.5 mm2, 2 m
  - horn-push.b to horn.feed, brown, 1.5 mm2, 2 m
grounds:
  G1: engine-bay, on frame, [horn.ground]
";

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let Some(name) = &args.machine else {
        return list(context);
    };
    let folder = args.folder.clone().unwrap_or_else(|| PathBuf::from("."));
    let (text, changes) = fitted(text_of(name)?, args)?;
    let path = write(name, &text, &folder)?;
    if context.json {
        let list = |with: bool| {
            let of = changes.iter().filter(|change| change.with == with);
            of.flat_map(|change| change.parts.iter()).cloned().collect::<Vec<String>>()
        };
        context.out.json(&json!({
            "machine": name,
            "wiring": path.display().to_string(),
            "without": list(false),
            "with": list(true),
        }))?;
        return Ok(Exit::Done);
    }
    for change in &changes {
        context.out.page(&change.said)?;
    }
    context.out.page(format!("{} is written.", path.display()))?;
    let go = if folder == Path::new(".") { String::new() } else { format!("cd {}; ", folder.display()) };
    context.out.page(format!("Next: {go}ohmward check, then ohmward chase \"what is wrong, in your words\""))?;
    Ok(Exit::Done)
}

/// What was left out or added.
struct Fitted {
    with: bool,
    parts: Vec<String>,
    said: String,
}

/// The text without what the person's machine has not, with what it has.
fn fitted(text: &str, args: &Args) -> Result<(String, Vec<Fitted>), Failure> {
    let mut out = Vec::new();
    if args.without.is_empty() && args.with.is_empty() {
        return Ok((text.to_owned(), out));
    }
    let catalogue = Catalogue::builtin();
    let mut draft = Draft::new(Source::new("wiring.yaml", text), &catalogue).map_err(refused)?;
    // Each phrase that does not fit is told, not the first alone.
    let mut wrong: Vec<(String, Box<Refusal>)> = Vec::new();
    for phrase in &args.without {
        let (rest, gone) = match draft.without_named(phrase) {
            Ok(done) => done,
            Err(refusal) => {
                wrong.push((format!("--without \"{phrase}\""), refusal));
                continue;
            }
        };
        draft = rest;
        let parts: Vec<String> = gone.parts.into_iter().collect();
        let joined = if phrase.trim().ends_with("joined") { ", its wires joined" } else { "" };
        let caution = if joined.is_empty() { String::new() } else { format!("\n{JOINED}") };
        out.push(Fitted { with: false, said: format!("Without {}{joined}.{caution}", parts.join(", ")), parts });
    }
    for words in &args.with {
        let whole = |problem| Box::new(Refusal { source: draft.source().clone(), problems: vec![problem] });
        let added = Addition::read(words, &draft).map_err(whole);
        let (added, with) = match added.and_then(|added| Ok((draft.with(&added.changes)?, added))) {
            Ok((with, added)) => (added, with),
            Err(refusal) => {
                wrong.push((format!("--with \"{words}\""), refusal));
                continue;
            }
        };
        draft = with;
        let assumed =
            if added.assumed.is_empty() { String::new() } else { format!(", taken: {}", added.assumed.join(", ")) };
        let said = format!("With {}; its rows are marked ?{assumed}.", added.part);
        out.push(Fitted { with: true, parts: vec![added.part], said });
    }
    if wrong.is_empty() { Ok((draft.text().to_owned(), out)) } else { Err(all_refused(wrong)) }
}

/// Problems with a place are shown in their lines, others by the words that they speak of.
fn all_refused(mut wrong: Vec<(String, Box<Refusal>)>) -> Failure {
    if wrong.len() == 1
        && let Some((_, only)) = wrong.pop_if(|(_, refusal)| refusal.problems.len() == 1)
    {
        return refused(only);
    }
    let named = |(words, refusal): (String, Box<Refusal>)| {
        let Refusal { source, problems } = *refusal;
        let (source, said) = (Arc::new(source), Arc::new(Source::new(words, "")));
        let place = move |problem: Problem| {
            let source = if problem.span.is_some() { source.clone() } else { said.clone() };
            (source, problem)
        };
        problems.into_iter().map(place).collect::<Vec<_>>()
    };
    Failure::Problems(wrong.into_iter().flat_map(named).collect())
}

/// Problems with a place are shown in their lines, others as they are.
#[expect(clippy::boxed_local, reason = "errors come boxed")]
fn refused(refusal: Box<Refusal>) -> Failure {
    match refusal.problems.as_slice() {
        [problem] if problem.span.is_none() => Failure::problem(problem),
        _ => Failure::of(&refusal.source, refusal.problems),
    }
}

fn text_of(name: &str) -> Result<&'static str, Failure> {
    if name.eq_ignore_ascii_case("empty") { Ok(EMPTY) } else { machines::wiring(name) }
}

/// Writes a machine's wiring file into a folder; refuses to overwrite one.
pub fn put(name: &str, folder: &Path) -> Result<PathBuf, Failure> {
    write(name, text_of(name)?, folder)
}

fn write(name: &str, text: &str, folder: &Path) -> Result<PathBuf, Failure> {
    let path = folder.join("wiring.yaml");
    if path.exists() {
        return Err(Failure::hinted(
            format!("{} stands there already; it is left as it is", path.display()),
            format!("name another folder: ohmward new {name} FOLDER"),
        ));
    }
    std::fs::create_dir_all(folder).map_err(|error| Failure::file("make the folder", folder, &error))?;
    store::replace(&path, text.as_bytes())?;
    Ok(path)
}

fn list(context: &mut Context) -> Result<Exit, Failure> {
    let names: Vec<&str> = machines::names().into_iter().chain(["empty"]).collect();
    if context.json {
        context.out.json(&json!(names))?;
        return Ok(Exit::Done);
    }
    let width = names.iter().map(|name| name.len()).max().unwrap_or(0);
    for name in names {
        let about = machines::about(name).unwrap_or_else(|| "battery, fuse, horn; each section explained".into());
        context.out.page(format!("{name:width$}  {about}"))?;
    }
    Ok(Exit::Done)
}
