//! What can hurt in a test, said beside it.

use crate::circuit::schematic::Law;
use crate::circuit::test::Test;
use crate::diagnosis::kill;
use crate::diagnosis::machine::Machine;

/// Cautions at this step: the instrument's, and what the state brings with it.
pub fn of(machine: &Machine, test: &Test) -> Vec<String> {
    let mut out = Vec::new();
    let mut add = |text: Option<&String>| {
        if let Some(text) = text
            && !out.contains(text)
        {
            out.push(text.clone());
        }
    };
    let danger =
        |rule: &str| machine.catalogue.dangers.iter().find(|d| d.rule == rule).and_then(|d| d.instead.as_ref());
    let cranks = crate::choice::allowed::cranks(test);
    if cranks {
        add(danger("moving-parts"));
        add(danger("crank-long"));
    }
    if !test.bridge.is_empty() {
        add(danger("hot-lamp"));
    }
    if test.disturb.is_some() {
        add(danger("stirring"));
    }
    // Who looks for a spark looks at hundreds of volts.
    let schematic = machine.sim.schematic();
    let sparks = |part: &String| {
        let own = schematic.by_part.get(part).into_iter().flatten();
        own.map(|&id| &schematic.elements[id].law)
            .any(|law| matches!(law, Law::PulseSource { high: Some(high), .. } if *high > kill::IGNITION))
    };
    if test.part.as_ref().is_some_and(sparks) {
        add(danger("ignition-volts"));
    }
    add(machine.catalogue.procedures.get(test.instrument.name()).and_then(|p| p.caution.as_ref()));
    let key_on = test.placements().iter().flatten().any(|(c, s)| c.contains("key") && s == "on");
    let running = test.placements().iter().flatten().any(|(c, s)| c == "engine" && s != "stopped");
    if key_on && !running {
        add(danger("key-on-long"));
    }
    if running {
        add(danger("moving-parts"));
    }
    out.truncate(if cranks { 3 } else { 2 });
    out
}
