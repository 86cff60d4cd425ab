//! Faults solved in port space beside each fault solved afresh, in one run, on harnesses of growing size.
//!
//! `cargo bench --bench speed`. Trust the ratios, not the microseconds.
#![expect(clippy::print_stdout, reason = "a bench reports to whoever runs it")]

mod harness;

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::{Change, Injury};
use ohmward::circuit::schematic::{Law, Schematic};
use ohmward::circuit::sim::{FuseCurve, Outcome, Sim, StateSpec};
use ohmward::diagnosis::machine::Machine;
use ohmward::session::chase::Chase;
use ohmward::session::event::{Event, Input};
use ohmward::session::twin::Twin;
use ohmward::text::span::Source;
use ohmward::wiring;
use std::hint::black_box;
use std::time::Instant;

fn main() {
    println!(
        "unknowns  faults  port us  read us  afresh us  ratio  full share  worst V  state us  factorisations/states"
    );
    let mut rows: Vec<(f64, f64, f64)> = Vec::new();
    for size in [50, 300, 1000, 3000] {
        let schematic = harness::of_size(size);
        let unknowns = schematic.nodes.len();
        let injuries = injuries(&schematic);
        let specs: Vec<StateSpec> = harness::states(&schematic).into_iter().map(spec).collect();
        let mut sim = Sim::new(schematic, FuseCurve::blade());
        let start = Instant::now();
        let states: Vec<_> = specs.iter().map(|spec| sim.state(spec)).collect();
        let state_us = start.elapsed().as_secs_f64() * 1e6 / states.len() as f64;
        // The same work for every size, spread over all faults.
        let stride = (injuries.len() / 300).max(1);
        let some: Vec<&Injury> = injuries.iter().step_by(stride).collect();
        let runs = some.len() * states.len();
        let before = sim.counts();
        let start = Instant::now();
        for &state in &states {
            for injury in &some {
                black_box(sim.run(state, injury));
            }
        }
        let port_us = start.elapsed().as_secs_f64() * 1e6 / runs as f64;
        let counts = sim.counts();
        let full = counts.full_solves - before.full_solves;
        let solves = full + counts.port_solves - before.port_solves;
        let probe = |outcome: &Outcome| sim.volts(outcome, 0, unknowns - 1, 0);
        let outcomes: Vec<Outcome> = some.iter().map(|injury| sim.run(states[0], injury)).collect();
        let start = Instant::now();
        for outcome in &outcomes {
            black_box(probe(outcome));
        }
        let read_us = start.elapsed().as_secs_f64() * 1e6 / outcomes.len() as f64;
        let fewer: Vec<&&Injury> = some.iter().step_by((some.len() / 40).max(1)).collect();
        let start = Instant::now();
        for &state in &states {
            for injury in &fewer {
                black_box(sim.run_afresh(state, injury));
            }
        }
        let afresh_us = start.elapsed().as_secs_f64() * 1e6 / (fewer.len() * states.len()) as f64;
        let mut worst: f64 = 0.0;
        for &state in &states {
            for injury in &fewer {
                let (ports, afresh) = (sim.run(state, injury), sim.run_afresh(state, injury));
                let (ports, afresh) = (sim.all_volts(&ports, 0), sim.all_volts(&afresh, 0));
                worst = ports.iter().zip(&afresh).map(|(one, two)| (one - two).abs()).fold(worst, f64::max);
            }
        }
        println!(
            "{unknowns:8}  {runs:6}  {port_us:7.2}  {read_us:7.2}  {afresh_us:9.1}  {:5.0}  {:9.2}%  {worst:7.0e}  {state_us:8.0}  {}/{}",
            afresh_us / port_us,
            100.0 * full as f64 / solves as f64,
            sim.counts().factorisations,
            states.len(),
        );
        rows.push((unknowns as f64, port_us, afresh_us));
    }
    let growth = |pick: fn(&(f64, f64, f64)) -> f64| {
        let (first, last) = (&rows[0], &rows[rows.len() - 1]);
        (pick(last) / pick(first)).ln() / (last.0 / first.0).ln()
    };
    println!(
        "time grows as unknowns to the power {:.2} in port space, {:.2} afresh",
        growth(|row| row.1),
        growth(|row| row.2)
    );
    cart();
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

fn spec(settings: Vec<usize>) -> StateSpec {
    StateSpec { steps: vec![settings], changes: Vec::new() }
}

/// Each link open, resistive and touching the chassis, each lamp open.
fn injuries(schematic: &Schematic) -> Vec<Injury> {
    let mut injuries = Vec::new();
    for (id, element) in schematic.elements.iter().enumerate() {
        let one = |change: Change| Injury { changes: vec![change], ..Injury::default() };
        match element.law {
            Law::Resistor { ohms } => {
                injuries.push(one(Change::Law(id, Law::Open)));
                injuries.push(one(Change::Law(id, Law::Resistor { ohms: ohms + 2.0 })));
                injuries.push(one(Change::Tie {
                    from: vec![(element.a, 0.5), (element.b, 0.5)],
                    to: vec![(harness::CHASSIS, 1.0)],
                    ohms: 3.0 + ohms / 4.0,
                }));
            }
            Law::Filament { .. } => injuries.push(one(Change::Law(id, Law::Open))),
            _ => {}
        }
    }
    injuries
}
