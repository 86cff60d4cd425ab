//! Interlocks: a starter that nothing holds back, switches that copper bridges, switches that change nothing.
//! (One that can never be satisfied keeps its part from working: [`super::works`].)

use super::scene::Scene;
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::schematic::{Law, When};
use crate::circuit::test::Settings;
use petgraph::unionfind::UnionFind;
use std::collections::HashMap;

/// All that is found of interlocks.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let bridged = bridged(scene);
    let names: Vec<&str> = bridged.iter().map(|finding| finding.site.as_str()).collect();
    let idle = idle(scene, &names);
    let mut out = bridged.clone();
    out.extend(idle);
    out.extend(missing(scene));
    out
}

/// Is the part a switch that keeps somebody from harm?
fn is_interlock(scene: &Scene, part: &str) -> bool {
    scene.listed("interlocks", part)
}

/// Switches whose two sides copper joins: they switch nothing.
fn bridged(scene: &Scene) -> Vec<Finding> {
    let schematic = scene.machine.sim.schematic();
    let links = scene.machine.netlist.graph.edge_count();
    let mut union = UnionFind::<usize>::new(schematic.nodes.len());
    for element in &schematic.elements[..links] {
        union.union(element.a, element.b);
    }
    let mut out = Vec::new();
    for part in scene.machine.netlist.parts.values().filter(|part| part.fitted) {
        let contacts: Vec<_> = scene
            .elements(&part.name)
            .iter()
            .map(|&id| &schematic.elements[id])
            .filter(|e| matches!(e.law, Law::Contact { when: When::Setting { .. }, .. }))
            .collect();
        let over = contacts.iter().find(|e| union.find(e.a) == union.find(e.b));
        let Some(contact) = over else { continue };
        let name = |node: usize| schematic.nodes.get(node).cloned().unwrap_or_default();
        let values = [("switch", part.name.clone()), ("a", name(contact.a)), ("b", name(contact.b))];
        let guards = is_interlock(scene, &part.name);
        let severity = if guards { Severity::Hurts } else { Severity::Fails };
        let sort = if guards { "interlock-bridged" } else { "switch-bridged" };
        out.push(scene.finding(severity, sort, At::part(&scene.machine.netlist, &part.name), &values));
    }
    out
}

/// Interlock switches that change what no part shows, in no state looked at.
fn idle(scene: &Scene, told: &[&str]) -> Vec<Finding> {
    // What was not looked at may be where it changes something.
    if scene.left > 0 {
        return Vec::new();
    }
    let at: HashMap<&Settings, usize> = scene.seen.iter().enumerate().map(|(at, seen)| (&seen.set, at)).collect();
    let mut out = Vec::new();
    for part in scene.machine.netlist.parts.values().filter(|part| part.fitted && is_interlock(scene, &part.name)) {
        if told.contains(&part.name.as_str()) || !scene.machine.sim.schematic().controls.contains_key(&part.name) {
            continue;
        }
        let changes = scene.seen.iter().any(|seen| {
            let mut without = seen.set.clone();
            without.retain(|(control, _)| *control != part.name);
            without.len() < seen.set.len()
                && at
                    .get(&without)
                    .is_some_and(|&rest| scene.seen[rest].shows != seen.shows || kills(scene, rest, seen))
        });
        if !changes {
            let values = [("switch", part.name.clone())];
            out.push(scene.finding(
                Severity::Fails,
                "interlock-idle",
                At::part(&scene.machine.netlist, &part.name),
                &values,
            ));
        }
    }
    out
}

/// Does it stop an engine, or let it run?
fn kills(scene: &Scene, rest: usize, seen: &super::scene::Seen) -> bool {
    scene.seen[rest].stalled != seen.stalled
}

/// Starters that run whatever the interlock switches say.
fn missing(scene: &Scene) -> Vec<Finding> {
    let mut out = Vec::new();
    for starter in scene.shown.iter().filter(|part| scene.listed("starting", part)) {
        let Some(base) = scene.at_work(starter) else { continue };
        let own = |(control, _): &&(String, String)| !is_interlock(scene, control);
        let rest: Settings = base.set.iter().filter(own).cloned().collect();
        // The same but for what the interlock switches say.
        let held = scene.seen.iter().any(|seen| {
            let theirs: Settings = seen.set.iter().filter(own).cloned().collect();
            theirs == rest && !scene.works(seen, starter)
        });
        if held {
            continue;
        }
        let switches = scene.machine.netlist.parts.values();
        let switches: Vec<String> = switches
            .filter(|part| part.fitted && is_interlock(scene, &part.name))
            .map(|part| part.name.clone())
            .collect();
        let none = if switches.is_empty() {
            "no clutch, neutral, seat or stand switch is in the file".to_string()
        } else {
            format!("{} {} no part in it", tell::list(&switches), if switches.len() == 1 { "has" } else { "have" })
        };
        let values = [("starter", starter.clone()), ("state", base.told()), ("none", none)];
        out.push(scene.finding(
            Severity::Marginal,
            "interlock-missing",
            At::part(&scene.machine.netlist, starter),
            &values,
        ));
    }
    out
}
