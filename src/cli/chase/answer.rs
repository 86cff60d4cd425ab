//! What a person types in answer to a question, as inputs of the chase.

use super::choice;
use super::driver::Driver;
use crate::cli::paint::Paint;
use crate::cli::prompt::keywords::WORDS;
use ohmward::circuit::test::Test;
use ohmward::session::hear::hear;
use ohmward::session::words::unasked;
use ohmward::session::{Event, Input};

/// An answer to what waits.
pub fn answer(text: &str, waiting: &Event, driver: &mut Driver) -> Result<Input, String> {
    match waiting {
        Event::Ask { test, screen, .. } => {
            let machine = driver.chase.machine();
            let read = driver.dial.read(text, machine, test, &screen.words);
            read.map(Input::Reading).map_err(|why| told_otherwise(text, why, driver))
        }
        Event::Question { choices, .. } => choice::choose(text, choices).map(Input::Choice),
        Event::TryRepair { .. } => {
            let netlist = &driver.chase.machine().netlist;
            let known = |word: &str| netlist.parts.keys().find(|name| name.eq_ignore_ascii_case(word)).cloned();
            choice::cured(text, &known).map(|(cured, blown)| Input::Cured { cured, blown })
        }
        _ => Ok(Input::Saw(text.to_string())),
    }
}

/// A sentence that says what something else does is no reading, and is not lost on the way.
fn told_otherwise(text: &str, why: String, driver: &Driver) -> String {
    let sentence = text.split_whitespace().count() > 1;
    let heard = sentence.then(|| hear(driver.chase.machine(), driver.dial.table(), text));
    let says = heard.is_some_and(|heard| heard.lost.is_empty() && !heard.symptoms.is_empty());
    if says { format!("{why}; if that is what you see besides, put saw before it") } else { why }
}

/// `read 8.1 V at horn.feed, key on`: a reading nobody asked for.
pub fn unasked(text: &str, driver: &Driver) -> Result<Input, String> {
    let said = unasked::unasked(text)?;
    let machine = driver.chase.machine();
    let (netlist, catalogue) = (&machine.netlist, &machine.catalogue);
    let point = |words: &str| -> Result<String, String> {
        let found = unasked::points(words, netlist, catalogue);
        match found.as_slice() {
            [one] => Ok(one.clone()),
            [] => Err(format!("nothing here is called \"{words}\"; the Tab key completes points")),
            several => {
                let shown: Vec<&str> = several.iter().take(6).map(String::as_str).collect();
                Err(format!("\"{words}\" can be {}: say which", shown.join(", ")))
            }
        }
    };
    let red = point(&said.red)?;
    let black = match &said.black {
        Some(words) => point(words)?,
        None => point("battery.neg").map_err(|_| "say where black was: between horn.feed and G1".to_string())?,
    };
    let controls = &machine.sim.schematic().controls;
    let (settings, lost) = unasked::settings(&said.state, netlist, catalogue, controls, driver.dial.table());
    if !lost.is_empty() {
        return Err(format!("\"{}\" is no setting of this machine; for example: key on", lost.join(" ")));
    }
    let mut set = Vec::new();
    for alternatives in settings {
        match alternatives.as_slice() {
            [one] => set.push(one.clone()),
            [] => {}
            several => {
                let shown: Vec<String> =
                    several.iter().map(|(control, setting)| format!("{control} {setting}")).collect();
                return Err(format!("that can be {}: say which", shown.join(", ")));
            }
        }
    }
    let test = Test {
        instrument: said.instrument,
        red: Some(red),
        black: Some(black),
        part: None,
        change: None,
        set,
        after: Vec::new(),
        open: Vec::new(),
        bridge: Vec::new(),
        fit: Vec::new(),
        disturb: None,
        then: Vec::new(),
    };
    Ok(Input::Measured { test: Box::new(test), readings: vec![said.reading] })
}

/// Why this test, and what each suspect would read.
pub fn why(driver: &mut Driver, waiting: &Event, paint: Paint) -> String {
    let mut lines: Vec<String> = match waiting {
        Event::Ask { .. } => driver.chase.why(),
        Event::TryRepair { report, .. } => report.why.clone(),
        Event::Question { .. } => vec!["the answer tells suspects apart without any measuring".into()],
        _ => Vec::new(),
    };
    if let Event::Ask { expect, .. } = waiting {
        for e in expect {
            lines.push(format!("  {}: {}", paint.fault(&e.title), paint.value(&e.values.join(", "))));
        }
    }
    lines.join("\n")
}

/// Words that the Tab key completes here.
pub fn words(driver: &Driver, waiting: &Event) -> Vec<String> {
    let machine = driver.chase.machine();
    let mut words: Vec<String> = WORDS.iter().map(|row| row.0.to_string()).collect();
    match waiting {
        Event::Ask { screen, .. } => words.extend(screen.words.iter().cloned()),
        Event::Question { choices, .. } => words.extend(choices.iter().cloned()),
        _ => {}
    }
    words.extend(machine.netlist.points.values().map(|&node| machine.netlist.point_name(node).to_string()));
    words.extend(machine.netlist.parts.keys().cloned());
    words.extend(machine.netlist.plugs.keys().cloned());
    for control in machine.sim.schematic().controls.values() {
        words.extend(control.settings.iter().cloned());
    }
    words
}
