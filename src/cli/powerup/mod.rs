//! `ohmward powerup`: power brought on step by step, each with what a sound machine answers.

mod book;
mod finish;
mod screen;
mod talk;

use super::chase::jsonl::Script;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, chase, load};
use ohmward::session::powerup::{PowerUp, Wait};
use serde_json::json;
use std::io::{self, BufReader};

/// Bring power on step by step, each with what it should read
///
/// With the battery off it begins with ohms across the feed; then power comes through a lamp in the minus lead, fuse by
/// fuse; then in full: every function with what it should show, volts under load, the first crank and cables that must
/// stay cool, the engine running. What is to be read is computed of this wiring. What does not fit stops it: measure
/// again, go on, or chase it with all that is known by then. Every answer is on disk before the next step; broken off,
/// it goes on where it was. At the end a section is added to build-notes.md.
#[derive(clap::Args)]
pub struct Args {
    /// Watts of the lamp in the minus lead; default: the bench's test lamp, else 21
    #[arg(long, value_name = "WATTS", conflicts_with = "no_lamp")]
    lamp: Option<f64>,
    /// No lamp at hand: a small fuse in its place
    #[arg(long)]
    no_lamp: bool,
    /// Print all steps with what they should read, to take along; nothing is asked
    #[arg(long, conflicts_with = "jsonl")]
    paper: bool,
    /// Begin anew; what was answered so far is kept beside
    #[arg(long)]
    new: bool,
    /// Steps and answers as JSON lines, for scripts
    #[arg(long)]
    jsonl: bool,
}

/// Watts of a lamp that can stand in a battery's lead.
const LAMPS: std::ops::RangeInclusive<f64> = 1.0..=100.0;

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    context.json |= args.jsonl;
    if let Some(watts) = args.lamp.filter(|watts| !LAMPS.contains(watts)) {
        let hint = "a brake lamp has 21: ohmward powerup --lamp 21; without one: --no-lamp";
        return Err(Failure::hinted(format!("a lamp of {watts} W does not do: 1 to 100 W"), hint));
    }
    let loaded = load::load(&context.wiring)?;
    load::manageable(&loaded.netlist)?;
    load::warn(&loaded, context);
    let title = loaded.netlist.title.clone();
    let text = loaded.source.text.clone();
    let machine = loaded.machine();
    let usual = machine.netlist.bench.test_lamp.unwrap_or(machine.catalogue.powerup.limit("lamp"));
    let lamp = (!args.no_lamp).then(|| args.lamp.unwrap_or(usual));
    if args.paper {
        return paper(&mut book::planned(machine, lamp), &title, context);
    }
    let (mut power, mut keeper) =
        book::open(machine, &title, &text, (lamp, args.lamp.is_some() || args.no_lamp), args.new, context)?;
    let mut script = Script::new(BufReader::new(io::stdin()));
    let (ended, lines) = if args.jsonl {
        (talk::script(&mut power, &mut keeper, &mut script, &mut context.out)?, None)
    } else {
        let mut lines = chase::source(context, None)?;
        (talk::run(&mut power, &mut keeper, lines.as_mut(), context)?, Some(lines))
    };
    match ended {
        talk::Ended::Done => {
            finish::write(&power, keeper, &title, context)?;
            let left = power.open_points().iter().any(|point| !point.starts_with("not tried"));
            Ok(if left { Exit::NotMet } else { Exit::Done })
        }
        talk::Ended::BrokenOff => {
            context.out.say("Broken off. Go on with it: ohmward powerup");
            Ok(Exit::NotMet)
        }
        talk::Ended::Chase => {
            finish::hand_over(&power, &title, &text, context)?;
            drop(keeper);
            context.out.say("When it is mended, go on with bringing power on: ohmward powerup");
            chase::go_on(context, lines, script)
        }
    }
}

/// All steps at once.
fn paper(power: &mut PowerUp, title: &str, context: &mut Context) -> Result<Exit, Failure> {
    let count = power.plan.steps.len();
    if context.json {
        let steps: Vec<_> = (0..count).map(|at| power.event_of(at)).collect();
        context.out.json(&json!({"steps": steps, "not-tried": power.plan.untried}))?;
        return Ok(Exit::Done);
    }
    let paint = context.out.paint;
    context.out.page(paint.head(&format!("{title}: bringing power on, {count} steps")))?;
    let mut stage = None;
    for at in 0..count {
        let now = power.plan.steps[at].stage;
        if stage.replace(now) != Some(now) {
            context.out.page(format!("\n{}", screen::stage(power, now, paint)))?;
        }
        context.out.page(screen::step(power, at, paint))?;
        power.pass(at);
    }
    for what in &power.plan.untried {
        context.out.page(format!("not tried: {what}"))?;
    }
    Ok(Exit::Done)
}

/// Is everything done?
fn is_done(power: &PowerUp) -> bool {
    matches!(power.waiting(), Wait::Done)
}
