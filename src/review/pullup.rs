//! Lines of pulses that something pulls to ground and nothing pulls up: a gauge on them counts nothing, and no part is at
//! fault.

use super::scene::Scene;
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::schematic::{Elem, Law};
use crate::diagnosis::net::nets;

/// Finds them: in no state with the engine turning does the line rise while what pulls it down lets go.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let elements = &scene.machine.sim.schematic().elements;
    let lets_go = |element: &&Elem| matches!(element.law, Law::PulseSource { high: None, .. });
    let risen = |element: &Elem| {
        let live = scene.limit("live");
        scene.seen.iter().filter(|seen| seen.engine_runs()).any(|seen| {
            let high = seen.outcome.levels.iter().position(|level| level.pulse_high);
            high.is_some_and(|level| scene.machine.sim.volts(&seen.outcome, level, element.a, element.b) > live)
        })
    };
    let turned = scene.seen.iter().any(|seen| seen.engine_runs());
    let found = elements.iter().filter(lets_go).filter(|element| turned && !risen(element));
    let told = |element: &Elem| {
        let netlist = &scene.machine.netlist;
        let part = element.part.clone().unwrap_or_default();
        let pin = netlist.parts.get(&part).and_then(|part| {
            let pin = part.pins.iter().find(|(_, node)| node.index() == element.a);
            pin.map(|(pin, _)| format!("{}.{pin}", part.name))
        });
        let values = [
            ("pin", pin.unwrap_or_else(|| part.clone())),
            ("part", part.clone()),
            ("counters", counters(scene, element)),
        ];
        scene.finding(Severity::Fails, "no-pull-up", At::part(netlist, &part), &values)
    };
    found.map(told).collect()
}

/// What counts pulses on the line of this element.
fn counters(scene: &Scene, line: &Elem) -> String {
    let machine = scene.machine;
    let nets = nets(&machine.netlist);
    let net = |element: &Elem| nets.of.get(element.a).copied();
    let counts = |element: &&Elem| matches!(element.law, Law::PulseInput { .. }) && net(element) == net(line);
    let all = machine.sim.schematic().elements.iter().filter(counts);
    let names: Vec<String> = all.filter_map(|element| element.part.clone()).collect();
    if names.is_empty() { "what counts pulses there".into() } else { tell::list(&names) }
}
