//! All faults of harnesses of growing size in eight states, in port space beside the same solved afresh and beside a
//! general circuit simulator, in one run; before it how long the program takes to start, after it the orchard cart's first and next question.
//!
//! `cargo bench --bench speed`; `-- faults` or `-- questions` for one half of it. Times are of one processor where the system tells them. Trust the ratios, not the microseconds.
#![expect(clippy::print_stdout, reason = "a bench reports to whoever runs it")]

mod choice;
mod clock;
mod loom;
mod spice;
mod wired;

use clock::Clock;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::Injury;
use ohmward::circuit::sim::{FuseCurve, Outcome, Sim, StateId, StateSpec};
use ohmward::diagnosis::machine::Machine;
use ohmward::session::chase::Chase;
use ohmward::session::event::{Event, Input};
use ohmward::session::twin::Twin;
use ohmward::text::span::Source;
use ohmward::wiring;
use std::hint::black_box;
use std::time::Instant;

/// Unknowns, and how many looms of that size.
const SIZES: [(usize, u64); 5] = [(50, 3), (300, 3), (1000, 3), (3000, 1), (10_000, 1)];
/// Solutions afresh that a size may cost, times its unknowns.
const AFRESH: usize = 600_000;
/// Faults solved by the general simulator.
const THEIRS: usize = 40;

/// One size: sums over its looms.
#[derive(Default)]
struct Row {
    unknowns: f64,
    faults: usize,
    runs: usize,
    full: usize,
    seconds: f64,
    /// Seconds of the dearest loom for all its faults in all states.
    most: f64,
    state: f64,
    afresh: f64,
    fresh: usize,
    read: f64,
    reads: usize,
    theirs: Option<f64>,
    factorisations: usize,
    states: usize,
    apart: Vec<f64>,
    other: usize,
    peak: Option<f64>,
}

/// How long commands take that compute nothing: the middle of twenty starts, wall's clock.
fn start_up() {
    let here = std::env::temp_dir();
    let told =
        [&["--version"][..], &["--help"], &["trail"], &["new"], &["kinds"], &["schema"], &["completions", "bash"]].map(
            |args| {
                let once = || {
                    let start = Instant::now();
                    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_ohmward"));
                    let done = command.args(args).current_dir(&here).output().is_ok();
                    if done { start.elapsed().as_secs_f64() * 1e3 } else { f64::NAN }
                };
                let mut all: Vec<f64> = (0..20).map(|_| once()).collect();
                all.sort_by(f64::total_cmp);
                format!("{} {:.1}", args.join(" "), all[10])
            },
        );
    println!("start-up, ms: {}", told.join(", "));
}

fn main() {
    println!("{}", clock::load());
    let only = |half: &str| std::env::args().any(|word| word == half);
    if !only("questions") {
        start_up();
        faults();
        cart();
    }
    if !only("faults") {
        choice::tell();
    }
    println!("{}", clock::load());
}

/// All faults of looms of growing size.
fn faults() {
    println!(
        "unknowns  faults  us a fault  all x {}, ms  grows  full share  read us  state us  afresh us  ratio  ngspice us  ratio  worst V  median V  factorisations/states  peak MB",
        loom::STATES
    );
    let mut rows: Vec<Row> = Vec::new();
    for (size, seeds) in SIZES {
        let mut row = Row::default();
        for seed in 0..seeds {
            measure(size, seed, &mut row);
        }
        let looms = seeds as f64;
        let us = |seconds: f64, count: usize| 1e6 * seconds / count.max(1) as f64;
        row.unknowns /= looms;
        row.apart.sort_by(f64::total_cmp);
        let (port, afresh) = (us(row.seconds, row.runs), us(row.afresh, row.fresh));
        let theirs = row.theirs.map(|seconds| 1e6 * seconds / looms);
        let tell = |value: Option<f64>| value.map_or("-".to_string(), |value| format!("{value:.0}"));
        let grows = rows.last().map(|last| {
            (port * row.faults as f64
                / looms
                / (last.seconds / last.runs as f64 * 1e6 * last.faults as f64 / last.looms()))
            .ln()
                / (row.unknowns / last.unknowns).ln()
        });
        println!(
            "{:8.0}  {:6}  {port:10.2}  {:13.1}  {:5}  {:9.2}%  {:7.2}  {:8.0}  {afresh:9.1}  {:5.0}  {:>10}  {:>5}  {:7.0e}  {:8.0e}  {:>21}  {:>7}",
            row.unknowns,
            row.faults / seeds as usize,
            1e3 * row.most,
            grows.map_or("-".to_string(), |grows| format!("{grows:.2}")),
            100.0 * row.full as f64 / row.runs as f64,
            us(row.read, row.reads),
            us(row.state, row.states),
            afresh / port,
            tell(theirs),
            tell(theirs.map(|theirs| theirs / port)),
            row.apart.last().copied().unwrap_or(0.0),
            row.apart.get(row.apart.len() / 2).copied().unwrap_or(0.0),
            format!("{}/{}", row.factorisations, row.states),
            tell(row.peak),
        );
        if row.other > 0 {
            println!("{:8}  {} faults with other relays or fuses than afresh", "", row.other);
        }
        rows.push(row);
    }
    if rows.iter().all(|row| row.theirs.is_none()) {
        println!("ngspice is not here, or failed: no ratio to it");
    }
    if let [first, .., last] = &rows[..] {
        let all = |row: &Row| row.seconds / row.looms();
        println!(
            "all faults in all states grow as unknowns to the power {:.2}, a fault as {:.2}",
            (all(last) / all(first)).ln() / (last.unknowns / first.unknowns).ln(),
            (last.seconds / last.runs as f64 / (first.seconds / first.runs as f64)).ln()
                / (last.unknowns / first.unknowns).ln()
        );
    }
}

impl Row {
    fn looms(&self) -> f64 {
        (self.states / loom::STATES).max(1) as f64
    }
}

/// One loom: all its faults in all states, timed; then some of them afresh, and there.
fn measure(size: usize, seed: u64, row: &mut Row) {
    let schematic = loom::of_size(size, seed);
    let unknowns = schematic.nodes.len();
    let zero = schematic.zero;
    let faults = loom::faults(&schematic);
    let all = faults.len();
    let specs: Vec<StateSpec> =
        loom::states().into_iter().map(|settings| StateSpec { steps: vec![settings], changes: Vec::new() }).collect();
    let mut sim = Sim::new(schematic, FuseCurve::blade());
    let clock = Clock::start();
    let states: Vec<StateId> = specs.iter().map(|spec| sim.state(spec)).collect();
    row.state += clock.seconds();
    let before = sim.counts();
    // Of large looms a part, the same in all states; told as if it were all.
    let faults: Vec<Injury> = faults.into_iter().step_by((unknowns / 1500).max(1)).collect();
    let runs = faults.len() * states.len();
    let stride = (runs / (AFRESH / unknowns)).max(1) | 1;
    let mut kept: Vec<(usize, Outcome)> = Vec::new();
    let clock = Clock::start();
    for at in 0..runs {
        let outcome = sim.run(states[at / faults.len()], &faults[at % faults.len()]);
        if at % stride == 0 {
            kept.push((at, outcome));
        } else {
            black_box(outcome);
        }
    }
    let seconds = clock.seconds();
    row.seconds += seconds;
    row.most = row.most.max(seconds * all as f64 / faults.len() as f64);
    row.full += sim.counts().full_solves - before.full_solves;
    let clock = Clock::start();
    for (_, outcome) in &kept {
        black_box(sim.volts(outcome, 0, unknowns - 1, zero));
    }
    row.read += clock.seconds();
    row.peak = clock::peak();
    row.unknowns += unknowns as f64;
    row.reads += kept.len();
    row.faults += all;
    row.runs += runs;
    row.states += states.len();
    row.factorisations += sim.counts().factorisations;
    for (at, ports) in &kept {
        let (state, fault) = (states[at / faults.len()], &faults[at % faults.len()]);
        let clock = Clock::start();
        let afresh = black_box(sim.run_afresh(state, fault));
        row.afresh += clock.seconds();
        row.fresh += 1;
        if ports.levels.len() != afresh.levels.len() || ports.blown != afresh.blown || ports.pulled != afresh.pulled {
            row.other += 1;
            continue;
        }
        let (ports, afresh) = (sim.all_volts(ports, 0), sim.all_volts(&afresh, 0));
        row.apart.push(ports.iter().zip(&afresh).map(|(one, two)| (one - two).abs()).fold(0.0, f64::max));
    }
    let middle = states.len() / 2;
    let few = (THEIRS * 300 / unknowns).clamp(4, THEIRS);
    let theirs = if unknowns > 4000 { None } else { spice::seconds(&sim, &specs[middle], states[middle], few) };
    if let Some(seconds) = theirs {
        row.theirs = Some(row.theirs.unwrap_or(0.0) + seconds);
    }
}

/// The orchard cart from its text to the first question, and from an answer to the next.
fn cart() {
    const SAID: &str = "the rev needle jumps when I press the horn";
    let text = include_str!("../../rules/machines/orchard-cart/wiring.yaml");
    let (mut first, mut next) = (Vec::new(), Vec::new());
    let mut told = String::new();
    for _ in 0..5 {
        let start = Instant::now();
        let catalogue = Catalogue::builtin();
        let Ok(reading) = wiring::read(&Source::new("wiring.yaml", text), &catalogue) else { return };
        let mut chase = Chase::new(Machine::new(reading.netlist.clone(), catalogue.clone()));
        let mut said = chase.take(Input::Saw(SAID.into()));
        first.push(start.elapsed().as_secs_f64());
        let counts = chase.machine().sim.counts();
        told = format!(
            "{} factorisations of states, {} faults in port space, {} with a matrix of their own",
            counts.factorisations, counts.port_solves, counts.full_solves
        );
        let Ok(fault) = Fault::parse("G1:resistive(1)") else { return };
        let Ok(mut twin) = Twin::new(&reading.netlist, &catalogue, &fault, 7) else { return };
        for _ in 0..3 {
            let Some(Event::Ask { test, .. }) = said.last() else { break };
            let Ok(readings) = twin.read(test) else { break };
            let start = Instant::now();
            said = chase.take(Input::Reading(readings));
            next.push(start.elapsed().as_secs_f64());
        }
    }
    let median = |times: &mut Vec<f64>| {
        times.sort_by(f64::total_cmp);
        times.get(times.len() / 2).map_or(0.0, |time| time * 1e3)
    };
    println!(
        "orchard cart, \"{SAID}\": first question {:.0} ms, the next {:.0} ms (medians); until the first {told}",
        median(&mut first),
        median(&mut next)
    );
}
