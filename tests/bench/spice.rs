//! The general simulator at the same work: one process, the deck read once, each fault an `alter` and an `op`.

use super::clock;
use ohmward::circuit::deck::{DeckLevel, deck};
use ohmward::circuit::injury::Injury;
use ohmward::circuit::sim::{Sim, StateId, StateSpec};
use ohmward::netlist::Netlist;
use std::io::Write as _;
use std::process::{Command, Stdio};
use std::time::Instant;

/// Seconds for one fault in one state; nothing where there is no ngspice, or where it failed.
pub fn seconds(sim: &Sim, spec: &StateSpec, state: StateId, faults: usize) -> Option<f64> {
    let text = deck(sim, &Netlist::default(), spec, state, &Injury::default(), DeckLevel::Closed);
    let resistors: Vec<(&str, &str)> = text.lines().filter_map(resistor).collect();
    let few = (resistors.len() / faults.max(1)).max(1);
    let picked: Vec<&(&str, &str)> = resistors.iter().step_by(few).take(faults).collect();
    // What it costs to start and to read the deck is not the faults' to pay.
    let idle = timed(&text, &[])?;
    let all = timed(&text, &picked)?;
    Some((all - idle).max(1e-6) / picked.len() as f64)
}

/// Name and ohms of a deck's resistor.
fn resistor(line: &str) -> Option<(&str, &str)> {
    let mut words = line.split_whitespace();
    let name = words.next().filter(|name| name.starts_with('R') && !name.starts_with("Rtie"))?;
    Some((name, words.nth(2)?))
}

/// Seconds of a processor (of the wall where children's are not told) for the deck and these resistors open one by one.
fn timed(deck: &str, open: &[&(&str, &str)]) -> Option<f64> {
    let mut control = String::from(".control\nop\ndestroy all\n");
    for (name, ohms) in open {
        control += &format!("alter {name} = 1e12\nop\ndestroy all\nalter {name} = {ohms}\n");
    }
    control += "quit 0\n.endc\n.end\n";
    let mut file = tempfile::NamedTempFile::new().ok()?;
    file.write_all(deck.replace(".op\n.end\n", &control).as_bytes()).ok()?;
    let (before, wall) = (clock::children(), Instant::now());
    let quiet = Command::new("ngspice").arg("-b").arg(file.path()).stdout(Stdio::null()).stderr(Stdio::null()).status();
    quiet.ok().filter(std::process::ExitStatus::success)?;
    let taken = clock::children().zip(before).map(|(now, before)| now - before);
    Some(taken.unwrap_or_else(|| wall.elapsed().as_secs_f64()))
}
