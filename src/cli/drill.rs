//! `ohmward drill`: many chases against the simulated machine, in figures.

use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::progress::Progress;
use super::{Context, load, machines, testargs};
use clap_complete::engine::ArgValueCompleter;
use ohmward::catalogue::Catalogue;
use ohmward::pace::Work;
use ohmward::session::drill::plan::{Planted, Pool};
use ohmward::session::drill::tally::{self, Tally, isolated, worst};
use ohmward::session::drill::{Answering, Walk, walk};
use ohmward::text::problem::Problem;
use ohmward::text::span::Source;
use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Plant many faults and see how well they are found
///
/// Each is planted in a machine drawn from its tolerances; half are drawn by how likely they are, half evenly over
/// everything that can be seen. Nobody is asked anything. Isolated: the planted fault is in the last group, and the
/// group is one repair. Of two at once: the repair of each that shows is there, and no third one.
#[derive(clap::Args)]
pub struct Args {
    /// A built-in machine in place of the wiring file
    #[arg(long, value_name = "NAME", add = ArgValueCompleter::new(offer::machines))]
    machine: Option<String>,
    /// So many faults, or `all` that can be seen
    #[arg(long, value_name = "N", default_value = "20", value_parser = wanted)]
    faults: Wanted,
    /// So many machines more with two faults at once
    #[arg(long, value_name = "N", default_value_t = 0)]
    pairs: usize,
    /// So many faults more that come and go: wiggled they change, and now and then by themselves
    #[arg(long, value_name = "N", default_value_t = 0)]
    intermittent: usize,
    /// Chance that a reading is a slip: leads swapped, nothing touched, ten times too much
    #[arg(long, value_name = "P", default_value_t = 0.0, value_parser = chance)]
    wrong_readings: f64,
    /// Another number draws other faults and other machines
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Print every chase, reading by reading
    #[arg(long)]
    trails: bool,
}

#[derive(Clone, Copy, Debug)]
enum Wanted {
    All,
    Some(usize),
}

fn wanted(text: &str) -> Result<Wanted, String> {
    if text.eq_ignore_ascii_case("all") {
        return Ok(Wanted::All);
    }
    text.parse().map(Wanted::Some).map_err(|_| "a number, or all".to_string())
}

fn chance(text: &str) -> Result<f64, String> {
    let chance = text.parse::<f64>().ok().filter(|chance| (0.0..=1.0).contains(chance));
    chance.ok_or_else(|| "a chance from 0 to 1, as 0.05".to_string())
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let loaded = match &args.machine {
        Some(name) => load::read(Source::new("wiring.yaml", machines::wiring(name)?), Catalogue::builtin())?,
        None => {
            let loaded = load::load(&context.wiring)?;
            load::warn(&loaded, context);
            loaded
        }
    };
    load::manageable(&loaded.netlist)?;
    let (netlist, catalogue) = (loaded.netlist.clone(), loaded.catalogue.clone());
    let mut machine = loaded.machine();
    let pace = machine.pace.clone();
    let progress = Progress::of(&pace);
    let pool = Pool::new(&mut machine);
    let mut faults = match args.faults {
        Wanted::All => pool.all(),
        Wanted::Some(count) => pool.draw(count, args.seed),
    };
    faults.extend(pool.pairs(args.pairs, args.seed));
    faults.extend(pool.loose(args.intermittent, args.seed));
    pace.begin(Work::Chases, faults.len());
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done: Vec<(usize, Result<Walk, Vec<Problem>>)> = Vec::new();
        loop {
            let at = next.fetch_add(1, Ordering::Relaxed);
            let Some(planted) = faults.get(at) else { return done };
            let answering = Answering { seed: args.seed.wrapping_add(at as u64), wrong: args.wrong_readings };
            // What cannot be seen in this draw is no chase.
            let walked = walk(&netlist, &catalogue, &planted.fault, answering).transpose();
            let by_weight = planted.by_weight;
            done.extend(walked.map(|walked| (at, walked.map(|walk| Walk { by_weight, ..walk }))));
            pace.step();
        }
    };
    let workers = thread::available_parallelism().map_or(1, NonZero::get).min(faults.len().max(1));
    let mut done: Vec<_> = thread::scope(|scope| {
        let hands: Vec<_> = (0..workers).map(|_| scope.spawn(work)).collect();
        hands
            .into_iter()
            .flat_map(|hand| hand.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    });
    drop(progress);
    done.sort_by_key(|(at, _)| *at);
    let walks = done.into_iter().map(|(_, walk)| walk).collect::<Result<Vec<Walk>, _>>();
    let walks = walks.map_err(|problems| testargs::failure(&problems))?;
    if context.json {
        context.out.json(&tally::json(&walks))?;
    } else {
        show(args, &faults, &walks, context)?;
    }
    Ok(if !walks.is_empty() && walks.iter().all(isolated) { Exit::Done } else { Exit::NotMet })
}

fn show(args: &Args, faults: &[Planted], walks: &[Walk], context: &mut Context) -> Result<(), Failure> {
    if args.trails {
        for walk in walks {
            let paint = context.out.paint;
            context.out.page(format!("{} (seed {})", paint.fault(&walk.fault), walk.seed))?;
            for line in &walk.trail {
                context.out.page(format!("  {line}"))?;
            }
        }
    }
    if walks.is_empty() {
        return context.out.page("Nothing was planted that can be seen.");
    }
    let tally = Tally::of(walks);
    context.out.page(format!(
        "{} of {} faults showed. Isolated: {:.1} %. The first named was right: {:.1} %.",
        tally.chases,
        faults.len(),
        tally.isolated * 100.0,
        tally.first * 100.0
    ))?;
    context.out.page(format!(
        "On average {:.2} questions, {:.1} minutes, {:.2} repairs in vain.",
        tally.readings, tally.minutes, tally.vain
    ))?;
    let percent = |share: f64| format!("{:.0}", 100.0 * share);
    for band in &tally.calibration {
        context.out.page(format!(
            "Repairs called likely at {} %: {} % of {} were right (with perfect chances {} to {} %){}",
            percent(band.said),
            percent(band.came_true),
            band.count,
            percent(band.perfect[0]),
            percent(band.perfect[1]),
            if band.fits() { "." } else { ": more off than luck explains." }
        ))?;
    }
    for walk in worst(walks).into_iter().filter(|walk| !isolated(walk)) {
        context.out.page(format!(
            "Not isolated: {} (seed {}), {} questions, {}: {}",
            walk.fault,
            walk.seed,
            walk.asked,
            walk.reason.word(),
            if walk.group.is_empty() { &walk.class } else { &walk.group[0] }
        ))?;
    }
    Ok(())
}
