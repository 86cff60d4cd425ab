//! `draw`: what the page must hold to, whatever machine it is of; and what a browser makes of it.

mod browser;
mod command;
mod laws;

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::{Injury, injure};
use ohmward::circuit::state::state_of_settings;
use ohmward::circuit::test::Settings;
use ohmward::diagnosis::machine::Machine;
use ohmward::drawing::circuits::Band;
use ohmward::drawing::page::{Drawn, Wish, bands, draw, parted};
use ohmward::drawing::state::{Solved, busiest};
use ohmward::text::span::Source;
use ohmward::wiring;

/// A machine of a wiring text.
pub fn machine(text: &str) -> Machine {
    let source = Source::new("wiring.yaml", text);
    let catalogue = Catalogue::builtin();
    match wiring::read(&source, &catalogue) {
        Ok(reading) => Machine::new(reading.netlist, catalogue),
        Err(problems) => panic!("{}", problems.iter().map(|p| p.render(&source)).collect::<String>()),
    }
}

/// A built-in machine.
pub fn built_in(name: &str) -> Machine {
    machine(&crate::machines::built(name).wiring.text)
}

/// It solved in these settings, with a fault if one is named.
pub fn solved(machine: &mut Machine, set: Settings, fault: &str) -> Solved {
    let spec = state_of_settings(machine.sim.schematic(), &set).unwrap();
    let injury = if fault.is_empty() {
        Injury::default()
    } else {
        let fault = Fault::parse(fault).unwrap();
        injure(machine.sim.schematic(), &machine.netlist, &machine.catalogue, &fault).unwrap()
    };
    let state = machine.state(&spec);
    Solved::new(machine, set, state, &injury)
}

/// A drawing of these parts (of all, if there is none) where most of them work, and what it was solved to.
pub fn drawn(machine: &mut Machine, wish: &Wish, fault: &str) -> (Drawn, Solved) {
    let set = busiest(machine, &wish.parts);
    drawn_in(machine, wish, set, fault)
}

/// The same in a state.
pub fn drawn_in(machine: &mut Machine, wish: &Wish, set: Settings, fault: &str) -> (Drawn, Solved) {
    let solved = solved(machine, set, fault);
    let mut todo: Vec<Band> = bands(machine, &solved, wish);
    todo.reverse();
    let mut done = Vec::new();
    while let Some(band) = todo.pop() {
        match parted(machine, &solved, &band, wish) {
            Some([one, other]) => todo.extend([other, one]),
            None => done.push(band),
        }
    }
    let bands: Vec<(Band, &Solved, String)> = done.into_iter().map(|band| (band, &solved, String::new())).collect();
    (draw(machine, &bands, wish), solved)
}

/// A wish for some parts.
pub fn parts(names: &[&str]) -> Wish {
    Wish { parts: names.iter().map(ToString::to_string).collect(), ..Wish::default() }
}
