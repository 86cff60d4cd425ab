//! A test's settings, openings, bridges and fittings as a state of the circuit.
//!
//! Steps follow the order written: everything at rest, then each control change of `after` and `set` as a step
//! of its own, then what `set` does not name returns to rest. A `then` is `set` with its own settings on top;
//! what an earlier `then` changed returns first to what `set` says.

use super::fault::site::{self, Site};
use super::injury::Change;
use super::lower::{ENGINE, OIL_PRESSURE};
use super::schematic::{ControlInfo, ElementId, Law, Schematic};
use super::sim::StateSpec;
use super::test::{BridgeWith, Fit, Settings, Test};
use crate::catalogue::kind::EngineMust;
use crate::netlist::{LinkKind, Netlist, Part};
use crate::text::problem::Problem;
use crate::text::words::nearest;
use indexmap::IndexMap;

/// A bridging lead, ohm.
pub const LEAD_OHMS: f64 = 0.02;
/// Volts that loads and lamps of the bench are rated for.
pub const BENCH_VOLTS: f64 = 12.0;
/// Cold ohms over hot ohms of the bench's lamps.
pub const LAMP_COLD: f64 = 0.1;
/// A bridging fuse drops about this much at its rating (common practice, no source), V.
const FUSE_VOLTS: f64 = 0.1;

/// The state of a test's first placement; see [`states_of`] for all of them.
pub fn state_of(schematic: &Schematic, netlist: &Netlist, test: &Test) -> Result<StateSpec, Vec<Problem>> {
    let mut states = states_of(schematic, netlist, test)?;
    Ok(states.swap_remove(0))
}

/// The states of a test: one for each placement (the first, then each `then`); two each, before and after, where
/// a change is watched. Every problem of the test's names at once.
pub fn states_of(schematic: &Schematic, netlist: &Netlist, test: &Test) -> Result<Vec<StateSpec>, Vec<Problem>> {
    let mut problems = Vec::new();
    let changes = changes(schematic, netlist, test, &mut problems);
    let mut walk = Walk::new(schematic);
    for step in &test.after {
        walk.apply(step, &mut problems);
    }
    let mut set = test.set.clone();
    if let Some((control, [from, _])) = &test.change {
        set.retain(|(name, _)| !name.eq_ignore_ascii_case(control));
        set.push((control.clone(), from.clone()));
    }
    walk.settle(&set, &mut problems);
    let base = walk.now.clone();
    let mut states = Vec::new();
    let nothing = Settings::new();
    for on_top in std::iter::once(&nothing).chain(&test.then) {
        walk.on_top(&base, on_top, &mut problems);
        states.push(walk.steps.clone());
        if let Some((control, [_, to])) = &test.change {
            let before = walk.now.clone();
            walk.on_top(&before, &vec![(control.clone(), to.clone())], &mut problems);
            states.push(walk.steps.clone());
        }
    }
    problems.dedup();
    if problems.is_empty() {
        Ok(states.into_iter().map(|steps| StateSpec { steps, changes: changes.clone() }).collect())
    } else {
        Err(problems)
    }
}

/// The state of these settings alone.
pub fn state_of_settings(schematic: &Schematic, settings: &Settings) -> Result<StateSpec, Vec<Problem>> {
    let mut problems = Vec::new();
    let mut walk = Walk::new(schematic);
    walk.settle(settings, &mut problems);
    let steps = walk.steps;
    if problems.is_empty() { Ok(StateSpec { steps, changes: Vec::new() }) } else { Err(problems) }
}

/// What is done to elements before any fault is: openings, bridges, fittings. A fault cannot change what these
/// hold, see [`super::injury::injure_in`].
fn changes(schematic: &Schematic, netlist: &Netlist, test: &Test, problems: &mut Vec<Problem>) -> Vec<Change> {
    let mut changes = Vec::new();
    for name in &test.open {
        match opened(schematic, netlist, name) {
            Ok(elements) => changes.extend(elements.into_iter().map(|id| Change::Law(id, Law::Open))),
            Err(problem) => problems.push(problem),
        }
    }
    for bridge in &test.bridge {
        let (a, b) = (point(netlist, &bridge.a), point(netlist, &bridge.b));
        if let (Ok(a), Ok(b)) = (&a, &b) {
            if a == b {
                problems.push(Problem::whole(format!("a bridge from {} to itself", bridge.a)));
            } else {
                changes.push(Change::Add { a: *a, b: *b, law: bridge_law(bridge.with) });
            }
        }
        problems.extend(a.err().into_iter().chain(b.err()));
    }
    for (name, fit) in &test.fit {
        let Some(part) = part(netlist, name) else {
            let near = nearest(name, netlist.parts.keys().map(String::as_str));
            problems.push(with_nearest(Problem::whole(format!("no part is called {name}")), near));
            continue;
        };
        let own = schematic.by_part.get(&part.name).cloned().unwrap_or_default();
        match fit {
            // The element as the machine has it healthy: held against any fault of the part.
            Fit::Good => changes.extend(own.into_iter().map(|id| Change::Law(id, schematic.elements[id].law.clone()))),
            Fit::Load(amps) => {
                let ends = own.first().map(|&id| (schematic.elements[id].a, schematic.elements[id].b));
                let pins = || Some((part.pins.first()?.1.index(), part.pins.last()?.1.index()));
                let (ends, two) = (ends.or_else(pins), part.pins.len() == 2);
                changes.extend(own.into_iter().map(|id| Change::Law(id, Law::Open)));
                match if two { pins() } else { ends } {
                    Some((a, b)) if a != b => {
                        changes.push(Change::Add { a, b, law: Law::Resistor { ohms: BENCH_VOLTS / amps } });
                    }
                    _ => problems.push(Problem::whole(format!("{name} has no two pins for a load"))),
                }
            }
        }
    }
    changes
}

/// The law of what stands in a bridge.
pub fn bridge_law(with: BridgeWith) -> Law {
    match with {
        BridgeWith::Lead => Law::Resistor { ohms: LEAD_OHMS },
        BridgeWith::Lamp(watts) => lamp_law(watts),
        BridgeWith::Fuse(amps) => Law::Resistor { ohms: FUSE_VOLTS / amps },
        BridgeWith::Resistor(ohms) => Law::Resistor { ohms },
    }
}

/// A lamp of the bench.
pub fn lamp_law(watts: f64) -> Law {
    Law::Filament { volts: BENCH_VOLTS, amps: watts / BENCH_VOLTS, cold: LAMP_COLD }
}

/// The elements that are gone when this is opened: a plug, a wire's end, a part or fuse taken out, `battery`.
pub fn opened(schematic: &Schematic, netlist: &Netlist, name: &str) -> Result<Vec<ElementId>, Problem> {
    let joints = |point| {
        let ends = site::ends_at(netlist, point).into_iter().filter_map(|end| site::end(netlist, end));
        ends.map(|(joint, _, _)| joint.index()).collect::<Vec<ElementId>>()
    };
    if name.eq_ignore_ascii_case("battery")
        && let Some(minus) = netlist.point("battery.neg")
    {
        return Ok(joints(minus));
    }
    match site::find(netlist, name) {
        Some(Site::Plug(plug)) => Ok(netlist.plugs[&plug].ways.values().map(|way| way.link.index()).collect()),
        Some(Site::Part(part)) => Ok(schematic.by_part.get(&part).cloned().unwrap_or_default()),
        Some(Site::Link(edge)) if netlist.graph[edge].what != LinkKind::Conductor => Ok(vec![edge.index()]),
        Some(Site::Link(_)) => Err(Problem::whole(format!("{name} is opened at one of its ends"))
            .help(format!("name an end: {name}.a or {name}.b"))),
        Some(Site::Point(point)) => {
            let list = joints(point);
            if list.len() == 1 {
                return Ok(list);
            }
            let ends = site::ends_at(netlist, point).into_iter().map(|(wire, end)| format!("{wire}.{end}"));
            let ends = ends.collect::<Vec<_>>().join(", ");
            let problem = Problem::whole(format!("{name} cannot be opened: {} wire ends are there", list.len()));
            Err(if ends.is_empty() { problem } else { problem.help(format!("name one: {ends}")) })
        }
        None => {
            let names = site::names(netlist);
            let near = nearest(name, names.iter().map(String::as_str));
            Err(with_nearest(Problem::whole(format!("nothing to open is called {name}")), near))
        }
    }
}

/// The node of a point's name.
pub fn point(netlist: &Netlist, name: &str) -> Result<usize, Problem> {
    netlist.point(name).map(|node| node.index()).ok_or_else(|| {
        let names: Vec<&str> = netlist.points.values().map(|&node| netlist.point_name(node)).collect();
        with_nearest(Problem::whole(format!("no point is called {name}")), nearest(name, names))
    })
}

/// The part of this name, without regard to case.
pub fn part<'a>(netlist: &'a Netlist, name: &str) -> Option<&'a Part> {
    netlist.parts.get(name).or_else(|| netlist.parts.values().find(|part| part.name.eq_ignore_ascii_case(name)))
}

fn with_nearest(problem: Problem, near: Option<&str>) -> Problem {
    match near {
        Some(near) => problem.help(format!("nearest: {near}")),
        None => problem,
    }
}

/// The controls as they are turned, step by step.
struct Walk<'a> {
    schematic: &'a Schematic,
    steps: Vec<Vec<usize>>,
    now: Vec<usize>,
    /// Named by the test, so that the engine does not bring them along.
    oil_named: bool,
}

impl<'a> Walk<'a> {
    fn new(schematic: &'a Schematic) -> Self {
        let now = vec![0; schematic.controls.len()];
        Walk { schematic, steps: vec![now.clone()], now, oil_named: false }
    }

    /// Index of a control and of one of its settings.
    fn find(&self, control: &str, setting: &str) -> Result<(usize, usize), Problem> {
        let controls = &self.schematic.controls;
        let alike = || controls.keys().position(|name| name.eq_ignore_ascii_case(control));
        let found = controls.get_index_of(control).or_else(alike);
        let Some((id, (_, info))) = found.and_then(|id| Some((id, controls.get_index(id)?))) else {
            let near = nearest(control, controls.keys().map(String::as_str));
            let problem = with_nearest(Problem::whole(format!("no control is called {control}")), near);
            return Err(match problem.help {
                Some(_) => problem,
                None => {
                    let all: Vec<&str> = controls.keys().map(String::as_str).collect();
                    problem.help(format!("controls: {}", all.join(", ")))
                }
            });
        };
        match info.settings.iter().position(|s| s.eq_ignore_ascii_case(setting)) {
            Some(index) => Ok((id, index)),
            None => Err(Problem::whole(format!("{control} has no setting {setting}"))
                .help(format!("its settings: {}", info.settings.join(", ")))),
        }
    }

    fn turn(&mut self, control: usize, setting: usize) {
        // What stands so already is no step, but for the engine, which may bring its oil along.
        if self.now[control] == setting && self.schematic.controls.get_index_of(ENGINE) != Some(control) {
            return;
        }
        let mut next = self.now.clone();
        next[control] = setting;
        self.follow_engine(control, setting, &mut next);
        if next != self.now {
            self.now.clone_from(&next);
            self.steps.push(next);
        }
    }

    /// A running engine makes oil pressure, a stopped one loses it, unless the test names it.
    fn follow_engine(&self, control: usize, setting: usize, next: &mut [usize]) {
        let controls = &self.schematic.controls;
        if controls.get_index_of(ENGINE) != Some(control) || self.oil_named {
            return;
        }
        if let Some((oil, _, info)) = controls.get_full(OIL_PRESSURE) {
            let ok = info.settings.iter().position(|s| s == "ok").unwrap_or(usize::from(info.settings.len() > 1));
            next[oil] = if setting == 0 { 0 } else { ok };
        }
    }

    /// Turns these one after the other and leaves the rest as it is; the controls named.
    fn apply(&mut self, settings: &Settings, problems: &mut Vec<Problem>) -> Vec<usize> {
        self.oil_named |= settings.iter().any(|(name, _)| name.eq_ignore_ascii_case(OIL_PRESSURE));
        let mut named = Vec::new();
        for (control, setting) in settings {
            match self.find(control, setting) {
                Ok((id, index)) => {
                    self.turn(id, index);
                    named.push(id);
                }
                Err(problem) => problems.push(problem),
            }
        }
        named
    }

    /// Turns these one after the other, then what they do not name back to rest.
    fn settle(&mut self, settings: &Settings, problems: &mut Vec<Problem>) {
        self.oil_named = false;
        let mut named = self.apply(settings, problems);
        let controls = &self.schematic.controls;
        if let (Some(engine), Some(oil)) = (controls.get_index_of(ENGINE), controls.get_index_of(OIL_PRESSURE))
            && named.contains(&engine)
            && !named.contains(&oil)
        {
            let mut next = self.now.clone();
            self.follow_engine(engine, self.now[engine], &mut next);
            if next != self.now {
                self.now.clone_from(&next);
                self.steps.push(next);
            }
            named.push(oil);
        }
        let mut rest = vec![true; self.now.len()];
        named.into_iter().for_each(|id| rest[id] = false);
        for id in (0..rest.len()).filter(|&id| rest[id]) {
            self.turn(id, 0);
        }
    }

    /// Back to a state settled before, but for what these name; then these, one after the other.
    fn on_top(&mut self, base: &[usize], settings: &Settings, problems: &mut Vec<Problem>) {
        let named: Vec<usize> = settings.iter().filter_map(|(c, s)| self.find(c, s).ok()).map(|(id, _)| id).collect();
        for (id, &setting) in base.iter().enumerate() {
            if !named.contains(&id) {
                self.turn(id, setting);
            }
        }
        self.apply(settings, problems);
    }
}
/// Does a setting want the engine to do what it does not do here: be in gear while it runs, have oil pressure while it
/// stands, charge with no battery chosen? Controls that are not named are at rest; oil pressure comes by itself.
pub fn against_the_engine(controls: &IndexMap<String, ControlInfo>, set: &Settings) -> bool {
    let setting = |name: &str| set.iter().rev().find(|(control, _)| control == name).map(|(_, setting)| setting);
    let running = setting(ENGINE).is_some_and(|setting| setting != "stopped");
    let now = if running { EngineMust::Run } else { EngineMust::Stand };
    let must = |(name, info): (&String, &ControlInfo)| {
        let rest = info.settings.first().filter(|_| name != OIL_PRESSURE);
        info.engine.get(setting(name).or(rest)?).copied()
    };
    controls.contains_key(ENGINE) && controls.iter().filter_map(must).any(|must| must != now)
}
