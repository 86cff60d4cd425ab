//! `ohmward rehearse`: a drill on a built-in machine with a planted fault and a simulated meter.

use super::chase::driver::Driver;
use super::chase::talk::{self, Meter};
use super::chase::{exit_of, source, verdict, write_notes};
use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, clock, load, machines, store, testargs};
use clap_complete::engine::ArgValueCompleter;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::test::{Reading, Test};
use ohmward::notes;
use ohmward::session::twin::{self, Twin};
use ohmward::session::{Chase, Event, Input, SymptomInput};
use ohmward::text::span::Source;
use serde_json::{Value, json};
use std::path::Path;

/// Practise: a built-in machine with a planted fault and a simulated meter
///
/// Enter takes the reading; everything that works in a chase works here. The simulated machine has every part
/// drawn from its tolerance, so its readings never quite match. With --auto it answers itself and writes
/// build-notes.md here.
#[derive(clap::Args)]
pub struct Args {
    /// The built-in machine
    #[arg(long, value_name = "NAME", default_value = machines::FIRST, add = ArgValueCompleter::new(offer::machines))]
    machine: String,
    /// The planted fault; by default a ground point that a gauge shares with another load
    #[arg(long, value_name = "FAULT", add = ArgValueCompleter::new(offer::faults))]
    fault: Option<String>,
    /// Another number draws another machine
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Answer everything by itself and write build-notes.md here
    #[arg(long)]
    auto: bool,
}

impl Meter for Twin {
    fn read(&mut self, test: &Test) -> Result<Vec<Reading>, String> {
        Twin::read(self, test).map_err(|problems| problems.into_iter().map(|p| p.text).collect::<Vec<_>>().join("; "))
    }

    fn cured(&mut self, faults: &[String]) -> bool {
        let cured = self.cured_by(faults);
        self.repair(faults);
        cured
    }
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let text = machines::wiring(&args.machine)?;
    let loaded = load::read(Source::new("wiring.yaml", text), Catalogue::builtin())?;
    let fault = match &args.fault {
        Some(name) => Fault::parse(name).map_err(|problem| Failure::problem(&problem))?,
        None => twin::shared_ground(&loaded.netlist, &loaded.catalogue).ok_or_else(|| {
            Failure::hinted(
                "no ground point of this machine can be seen to fail",
                "name a fault: --fault main-fuse:blown",
            )
        })?,
    };
    let title = loaded.netlist.title.clone();
    let mut twin = Twin::new(&loaded.netlist, &loaded.catalogue, &fault, args.seed)
        .map_err(|problems| testargs::failure(&problems))?;
    let Some(symptom) = twin.symptom() else {
        return Err(Failure::hinted(
            format!("nothing can be seen of {fault} on this machine"),
            "plant another one; list them: ohmward faults",
        ));
    };
    let mut driver = Driver::new(Chase::new(loaded.machine()), None);
    if args.auto {
        return auto(args, &title, symptom, twin, &mut driver, context);
    }

    if context.json {
        context.out.talk_aside();
    }
    let complaint = notes::complained(&symptom);
    // The drill's files stand in a folder of their own and go with it.
    let folder = tempfile::tempdir().map_err(|error| Failure::plain(format!("no temporary folder: {error}")))?;
    store::replace(&folder.path().join("wiring.yaml"), text.as_bytes())?;
    let paint = context.out.paint;
    context.out.page(format!(
        "{} {title}, an invented machine with a fault planted in it (seed {}).\n\
         Somebody says: {}\n\
         Enter takes the reading that is asked for; {} lists the words that you can type.",
        paint.head("Drill:"),
        args.seed,
        paint.fault(&complaint),
        paint.key("help")
    ))?;
    let first = driver.feed(Input::Symptom(symptom))?;
    let mut lines = source(context, None)?;
    let ended = talk::run(&mut driver, &first, lines.as_mut(), Some(&mut twin), &mut context.out)?;
    context.out.page(format!("\nPlanted was {}.", paint.fault(&twin.planted().to_string())))?;
    if ended == talk::Ended::Verdict && driver.record.readings() > 0 {
        let notes = folder.path().join("build-notes.md");
        write_notes(&driver, &notes, &title, "drill")?;
        context.out.page("In a chase on your own machine this now stands in build-notes.md:\n")?;
        let section = notes::section(&driver.record, &title, &clock::today(), "drill");
        context.out.page(section)?;
    }
    context.out.page("The end of the drill. Yours next: ohmward new orchard-cart my-cart")?;
    if context.json {
        context.out.json(&told(args, &twin, &complaint, &driver, None))?;
    }
    Ok(Exit::Done)
}

/// Answers itself.
fn auto(
    args: &Args,
    title: &str,
    symptom: SymptomInput,
    mut twin: Twin,
    driver: &mut Driver,
    context: &mut Context,
) -> Result<Exit, Failure> {
    let complaint = notes::complained(&symptom);
    let quiet = context.json;
    if !quiet {
        context.out.page(format!("{title}: {complaint}"))?;
    }
    let mut events = driver.feed(Input::Symptom(symptom))?;
    loop {
        if !quiet {
            talk::show(&events, &mut context.out)?;
        }
        let Some(waiting) = driver.waiting().cloned().filter(|_| driver.verdict().is_none()) else { break };
        let input =
            if quiet { silent(&waiting, &mut twin) } else { talk::self_answer(&waiting, &mut twin, &mut context.out)? };
        events = driver.feed(input)?;
    }
    let trail = format!("drill, {}", clock::stamp());
    let path = Path::new("build-notes.md");
    write_notes(driver, path, title, &trail)?;
    let verdict = driver.verdict();
    let exit = exit_of(verdict.map(|verdict| verdict.reason));
    if quiet {
        context.out.json(&told(args, &twin, &complaint, driver, Some(path)))?;
    } else {
        let paint = context.out.paint;
        context.out.page(format!(
            "\nPlanted was {}. Written: {}",
            paint.fault(&twin.planted().to_string()),
            path.display()
        ))?;
    }
    Ok(exit)
}

/// A drill for scripts; no verdict where it was left before its end.
fn told(args: &Args, twin: &Twin, complaint: &str, driver: &Driver, notes: Option<&Path>) -> Value {
    json!({
        "machine": args.machine,
        "seed": args.seed,
        "planted": twin.planted().to_string(),
        "complaint": complaint,
        "readings": driver.record.readings(),
        "verdict": verdict(driver),
        "notes": notes.map(|path| path.display().to_string()),
    })
}

/// The machine's answer, nothing shown.
fn silent(waiting: &Event, twin: &mut Twin) -> Input {
    match waiting {
        Event::Ask { test, .. } => Meter::read(twin, test).map_or(Input::Skip, Input::Reading),
        Event::TryRepair { faults, .. } => {
            let cured = twin.cured_by(faults);
            twin.repair(faults);
            Input::Cured { cured, blown: Vec::new() }
        }
        Event::Question { choices, .. } => Input::Choice(choices.last().cloned().unwrap_or_default()),
        _ => Input::Stop,
    }
}
