//! How long the next question takes, on made-up machines of growing size: from an answer to the question after it, all suspects
//! weighed and all allowed tests counted, with nothing worked out while somebody measures and with all of it.
//!
//! The wall's clock, since several workers share a question; what all of them used of processors stands beside it.

use super::{clock, wired};
use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::diagnosis::machine::Machine;
use ohmward::session::chase::Chase;
use ohmward::session::event::{Event, Input};
use ohmward::session::twin::Twin;
use ohmward::text::span::Source;
use ohmward::wiring;
use std::time::Instant;

/// Circuits of each machine: some 300, 1,000 and 3,000 unknowns.
const CIRCUITS: [usize; 3] = [13, 43, 128];
/// Faults that are chased, and answers given to each.
const FAULTS: [&str; 4] = ["F1:blown", "S3:stuck-open", "G1:resistive(1)", "load5-ground_G1:resistive(2)"];
const ANSWERS: usize = 4;

/// All sizes.
pub fn tell() {
    println!(
        "unknowns  suspects  first ms  questions  next ms: median  95 %  worst  after thinking: median  95 %  worst  processor ms  peak MB"
    );
    for circuits in CIRCUITS {
        if let Err(why) = measure(circuits) {
            println!("{circuits} circuits: {why}");
        }
    }
}

/// All chases on one machine.
fn measure(circuits: usize) -> Result<(), String> {
    let catalogue = Catalogue::builtin();
    let text = wired::of(circuits);
    let reading =
        wiring::read(&Source::new("wiring.yaml", &text), &catalogue).map_err(|all| format!("{:?}", all.first()))?;
    let (mut first, mut cold, mut warm) = (Vec::new(), Vec::new(), Vec::new());
    let (mut unknowns, mut suspects) = (0, 0);
    let before = clock::workers();
    let mut asked = 0;
    for (fault, thinks) in FAULTS.iter().flat_map(|fault| [(fault, false), (fault, true)]) {
        let fault = Fault::parse(fault).map_err(|problem| format!("{problem:?}"))?;
        let mut twin =
            Twin::new(&reading.netlist, &catalogue, &fault, 7).map_err(|all| format!("{:?}", all.first()))?;
        let Some(symptom) = twin.symptom() else { continue };
        let mut chase = Chase::new(Machine::new(reading.netlist.clone(), catalogue.clone()));
        let start = Instant::now();
        let mut said = chase.take(Input::Symptom(symptom));
        first.push(start.elapsed().as_secs_f64() * 1e3);
        (unknowns, suspects) = (chase.machine().sim.schematic().nodes.len(), chase.suspects().list.len());
        for _ in 0..ANSWERS {
            let Some(Event::Ask { test, .. }) = said.last() else { break };
            let Ok(readings) = twin.read(test) else { break };
            if thinks {
                let mut done = 0;
                while chase.think(done) {
                    done += 1;
                }
            }
            let start = Instant::now();
            said = chase.take(Input::Reading(readings));
            asked += 1;
            if thinks { &mut warm } else { &mut cold }.push(start.elapsed().as_secs_f64() * 1e3);
        }
    }
    let used = clock::workers().zip(before).map_or(0.0, |(now, before)| now - before);
    let [first, cold, warm] = [first, cold, warm].map(|mut times: Vec<f64>| {
        times.sort_by(f64::total_cmp);
        let at =
            |share: f64| times.get(((times.len() as f64 * share) as usize).min(times.len().saturating_sub(1))).copied();
        [0.5, 0.95, 1.0].map(|share| at(share).unwrap_or(f64::NAN))
    });
    println!(
        "{unknowns:8}  {suspects:8}  {:8.0}  {asked:9}  {:15.0}  {:4.0}  {:5.0}  {:22.0}  {:4.0}  {:5.0}  {:12.0}  {:>7.0}",
        first[0],
        cold[0],
        cold[1],
        cold[2],
        warm[0],
        warm[1],
        warm[2],
        1e3 * used / f64::from(asked.max(1)),
        clock::peak().unwrap_or(0.0),
    );
    Ok(())
}
