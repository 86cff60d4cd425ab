//! What bringing power on has to know of a machine: its batteries, its fuses in the order in which power reaches them,
//! the states in which each part is seen at work, what cranks it.

use crate::circuit::fault::site::ends_at;
use crate::circuit::injury::Injury;
use crate::circuit::lower::ENGINE;
use crate::circuit::schematic::{ElementId, Law, Node, When};
use crate::circuit::test::Settings;
use crate::diagnosis::machine::Machine;
use crate::netlist::Netlist;
use crate::review::reach::{cranks, elements_at};
use crate::review::scene::{Scene, Seen, is_load};
use crate::review::walk::{Walks, ends};
use indexmap::IndexMap;
use petgraph::graph::NodeIndex;

/// A part whose contact chops slower than this is shown by what it feeds, Hz.
const SLOW: f64 = 3.0;

/// A word less likely than this is none that a sound part shows.
const MAY: f64 = 0.01;

/// A battery and the ends of wires on its minus post.
#[derive(Clone, Debug, PartialEq)]
pub struct Battery {
    /// Its part.
    pub part: String,
    /// Its source.
    pub source: ElementId,
    /// Its plus post.
    pub plus: String,
    /// Its minus post.
    pub minus: String,
    /// What is opened to take its minus off, as tests name it.
    pub off: Vec<String>,
    /// The conductors that come loose then.
    pub loose: Vec<String>,
    /// V, open.
    pub volts: f64,
    /// The least that a hand sets so that it gives something; empty where nothing does, or it always does.
    pub wakes: Settings,
}

/// A state in which something is seen at work.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// What is set.
    pub set: Settings,
    /// Parts that may show more than when they get nothing, with what they may show, the likeliest first.
    pub shows: Vec<(String, Vec<String>)>,
    /// Amps out of each battery, in the order of [`Facts::batteries`].
    pub amps: Vec<f64>,
    /// Amps through each fuse.
    pub fuses: IndexMap<String, f64>,
    /// The dearest load behind each fuse: its part, the pins that current goes in and comes out by, A.
    pub loads: IndexMap<String, Load>,
    /// Parts at work, with the last fuse on the way to each.
    pub behind: Vec<(String, String)>,
}

/// A load at work.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// The part.
    pub part: String,
    /// Where current goes in.
    pub high: String,
    /// Where it comes out.
    pub low: String,
    /// A
    pub amps: f64,
}

/// A starter at work.
#[derive(Clone, Debug, PartialEq)]
pub struct Crank {
    /// What is set.
    pub set: Settings,
    /// It, and its amps.
    pub load: Load,
    /// Cables that carry as much as a hand feels, with A.
    pub cables: Vec<(String, f64)>,
}

/// All of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Batteries.
    pub batteries: Vec<Battery>,
    /// Fuses that are pulled by hand, in the order in which power reaches them.
    pub fuses: Vec<String>,
    /// What most states at work have set: the key on.
    pub base: Settings,
    /// What a battery gives by no more than this is nothing, A.
    pub nothing: f64,
    /// States with the engine stopped, fewest settings first.
    pub stopped: Vec<Look>,
    /// States with the engine running.
    pub running: Vec<Look>,
    /// Starters.
    pub cranks: Vec<Crank>,
    /// What is not tried, and why.
    pub untried: Vec<String>,
}

impl Facts {
    /// What is set so that a battery gives something: what most things need if it does with that, else the least that
    /// does; nothing where nothing takes from it.
    pub fn on(&self, battery: usize) -> Settings {
        let takes = |look: &&Look| look.set == self.base && look.amps.get(battery).is_some_and(|a| *a > self.nothing);
        if !self.base.is_empty() && self.stopped.iter().any(|look| takes(&look)) {
            return self.base.clone();
        }
        self.batteries.get(battery).map(|battery| battery.wakes.clone()).unwrap_or_default()
    }

    /// Of a sound machine.
    pub fn of(machine: &mut Machine) -> Facts {
        let scene = Scene::new(machine);
        let mut facts = Facts { batteries: batteries(&scene), ..Facts::default() };
        facts.fuses = fuses(&scene);
        let walks = Walks::new(&scene);
        let (mut stopped, mut running): (Vec<&Seen>, Vec<&Seen>) = (Vec::new(), Vec::new());
        for part in scene.shown.iter().filter(|part| is_seen(&scene, part)) {
            let works = || scene.seen.iter().filter(|seen| !seen.stalled && scene.works(seen, part));
            let by_hand = || works().filter(|seen| !cranks(&scene, seen) && by_hand(&scene, seen));
            let list = if let Some(seen) = by_hand().find(|seen| !seen.engine_runs()) {
                Some((&mut stopped, seen))
            } else {
                by_hand().find(|seen| seen.engine_runs()).map(|seen| (&mut running, seen))
            };
            match list {
                Some((list, seen)) if !list.iter().any(|known| known.id == seen.id) => list.push(seen),
                Some(_) => {}
                None if scene.listed("starting", part) && works().next().is_some() => {}
                None => facts.untried.push(match works().find(|seen| !cranks(&scene, seen)) {
                    Some(seen) => format!("{part}: works with {}, which no hand sets", seen.told()),
                    None => format!("{part}: works in no state that was looked at (ohmward check)"),
                }),
            }
        }
        stopped.sort_by_key(|seen| seen.set.len());
        running.sort_by_key(|seen| seen.set.len());
        facts.stopped = stopped.into_iter().map(|seen| look(&scene, &walks, seen, &facts.batteries)).collect();
        facts.running = running.into_iter().map(|seen| look(&scene, &walks, seen, &facts.batteries)).collect();
        facts.base = base(&facts.stopped);
        facts.cranks = starters(&scene);
        facts.nothing = scene.limit("sneak");
        let netlist = &scene.machine.netlist;
        facts.untried.extend(netlist.parts.values().filter(|p| !p.fitted).map(|p| format!("{}: not fitted", p.name)));
        facts
    }
}

/// Is it seen at work by itself? What only passes current on is shown by what it feeds.
fn is_seen(scene: &Scene, part: &str) -> bool {
    let elements = &scene.machine.sim.schematic().elements;
    let passes = |id: &ElementId| match &elements[*id].law {
        Law::Contact { .. } => true,
        Law::Interrupter { hertz, .. } => *hertz < SLOW,
        _ => false,
    };
    scene.words(part).is_some() && !scene.elements(part).iter().any(passes)
}

/// Can a hand set all of it?
fn by_hand(scene: &Scene, seen: &Seen) -> bool {
    seen.set.iter().all(|(control, _)| !scene.machine.catalogue.powerup.lists("by-itself", control))
}

fn name(netlist: &Netlist, node: Node) -> String {
    netlist.point_name(NodeIndex::new(node)).to_string()
}

fn batteries(scene: &Scene) -> Vec<Battery> {
    let schematic = scene.machine.sim.schematic();
    let netlist = &scene.machine.netlist;
    let mut out = Vec::new();
    for &id in &scene.batteries {
        let element = &schematic.elements[id];
        let (Some(part), Law::Source { volts, .. } | Law::Cell { volts, .. }) = (&element.part, &element.law) else {
            continue;
        };
        let ends = ends_at(netlist, NodeIndex::new(element.b));
        let loose: Vec<String> = ends.iter().map(|(wire, end)| format!("{wire}.{end}")).collect();
        if loose.is_empty() {
            continue;
        }
        // Where most of what works does not take from it, what does.
        let gives = |seen: &&Seen| {
            -seen.amps[id] > scene.limit("sneak") && !seen.engine_runs() && !cranks(scene, seen) && by_hand(scene, seen)
        };
        let wakes = scene.seen.iter().find(gives).map(|seen| seen.set.clone()).unwrap_or_default();
        let off = if part.eq_ignore_ascii_case("battery") { vec!["battery".to_string()] } else { loose.clone() };
        out.push(Battery {
            part: part.clone(),
            source: id,
            plus: name(netlist, element.a),
            minus: name(netlist, element.b),
            off,
            loose,
            volts: *volts,
            wakes,
        });
    }
    out
}

/// Fuses that are pulled by hand: first those that power reaches with none in, then those behind them, and so on.
fn fuses(scene: &Scene) -> Vec<String> {
    let schematic = scene.machine.sim.schematic();
    let netlist = &scene.machine.netlist;
    let pulled = |part: &str| {
        let kind = netlist.parts.get(part).and_then(|part| scene.machine.catalogue.kind(&part.kind));
        kind.is_some_and(|kind| scene.machine.catalogue.powerup.lists("taken-out", &kind.name))
    };
    let mut left: IndexMap<String, ElementId> = IndexMap::new();
    for (id, element) in schematic.elements.iter().enumerate() {
        if let (Law::Contact { when: When::Fuse { .. }, .. }, Some(part)) = (&element.law, &element.part)
            && pulled(part)
        {
            left.insert(part.clone(), id);
        }
    }
    let at = elements_at(scene);
    let mut reached = vec![false; schematic.nodes.len()];
    let mut todo: Vec<Node> = scene.plus_posts();
    let mut out = Vec::new();
    loop {
        while let Some(node) = todo.pop() {
            if std::mem::replace(&mut reached[node], true) {
                continue;
            }
            for &id in &at[node] {
                let element = &schematic.elements[id];
                let open = left.values().any(|fuse| *fuse == id) || is_load(&element.law) || is_source(&element.law);
                if !open {
                    todo.extend([element.a, element.b].into_iter().filter(|&next| !reached[next]));
                }
            }
        }
        let fed = |id: ElementId| reached[schematic.elements[id].a] || reached[schematic.elements[id].b];
        let Some(next) = left.iter().find(|(_, id)| fed(**id)).map(|(part, _)| part.clone()) else { break };
        if let Some(id) = left.shift_remove(&next) {
            todo.extend([schematic.elements[id].a, schematic.elements[id].b].into_iter().filter(|&n| !reached[n]));
        }
        out.push(next);
    }
    // What no power reaches is put in last.
    out.extend(left.into_keys());
    out
}

fn is_source(law: &Law) -> bool {
    matches!(law, Law::Source { .. } | Law::Cell { .. })
}

fn look(scene: &Scene, walks: &Walks, seen: &Seen, batteries: &[Battery]) -> Look {
    let schematic = scene.machine.sim.schematic();
    let netlist = &scene.machine.netlist;
    let parts = scene.shown.iter().filter(|part| is_seen(scene, part));
    let shows = parts.filter_map(|part| Some((part.clone(), may_show(scene, seen, part)?))).collect();
    let mut fuses = IndexMap::new();
    let mut fuse_of: IndexMap<ElementId, String> = IndexMap::new();
    for (id, element) in schematic.elements.iter().enumerate() {
        if let (Law::Contact { when: When::Fuse { .. }, .. }, Some(part)) = (&element.law, &element.part) {
            fuses.insert(part.clone(), seen.heat[id].abs());
            fuse_of.insert(id, part.clone());
        }
    }
    let mut loads: IndexMap<String, Load> = IndexMap::new();
    let mut behind = Vec::new();
    for part in scene.shown.iter().filter(|part| is_seen(scene, part)) {
        let Some((high, low)) = ends(scene, seen, part) else { continue };
        let own = scene.elements(part).iter().filter(|&&id| is_load(&schematic.elements[id].law));
        let amps = own.map(|&id| seen.heat[id].abs()).fold(0.0, f64::max);
        let fed_by: Vec<&String> =
            walks.steps(seen, &seen.volts, high, true, part).iter().filter_map(|(id, _)| fuse_of.get(id)).collect();
        behind.extend(fed_by.first().map(|fuse| (part.clone(), (*fuse).clone())));
        for fuse in fed_by {
            if loads.get(fuse).is_none_or(|dearest| amps > dearest.amps) {
                let load = Load { part: part.clone(), high: name(netlist, high), low: name(netlist, low), amps };
                loads.insert(fuse.clone(), load);
            }
        }
    }
    let amps = batteries.iter().map(|battery| (-seen.amps[battery.source]).max(0.0)).collect();
    Look { set: seen.set.clone(), shows, amps, fuses, loads, behind }
}

/// What a part may show in a state, the likeliest first; nothing where that is what it shows when it gets nothing.
fn may_show(scene: &Scene, seen: &Seen, part: &str) -> Option<Vec<String>> {
    let (_, nothing) = scene.words(part)?;
    let healthy = Injury::default();
    let mut words = scene.machine.view(seen.id, &healthy, &seen.outcome)?.showing(part).ok()?;
    words.retain(|(_, p)| *p >= MAY);
    words.sort_by(|a, b| b.1.total_cmp(&a.1));
    let words: Vec<String> = words.into_iter().map(|(word, _)| word).collect();
    words.iter().any(|word| word != nothing).then_some(words)
}

/// What more than half of the states have set.
fn base(looks: &[Look]) -> Settings {
    let mut out = Settings::new();
    for (control, setting) in looks.iter().flat_map(|look| &look.set) {
        let having = looks.iter().filter(|look| look.set.iter().any(|(c, s)| c == control && s == setting)).count();
        let named = out.iter().any(|(c, _)| c == control);
        if 2 * having > looks.len() && !named && control != ENGINE {
            out.push((control.clone(), setting.clone()));
        }
    }
    out
}

fn starters(scene: &Scene) -> Vec<Crank> {
    let netlist = &scene.machine.netlist;
    let felt = scene.machine.catalogue.powerup.limit("felt");
    let mut out = Vec::new();
    for part in scene.shown.iter().filter(|part| scene.listed("starting", part)) {
        let Some(seen) = scene.seen.iter().find(|seen| !seen.stalled && scene.works(seen, part)) else { continue };
        let Some((high, low)) = ends(scene, seen, part) else { continue };
        let amps = scene.elements(part).iter().map(|&id| seen.amps[id].abs()).fold(0.0, f64::max);
        let mut cables: Vec<(String, f64)> = netlist
            .wires
            .values()
            .map(|wire| (wire.name.clone(), seen.amps[wire.links[1].index()].abs()))
            .filter(|(_, amps)| *amps > felt)
            .collect();
        cables.sort_by(|a, b| b.1.total_cmp(&a.1));
        let load = Load { part: part.clone(), high: name(netlist, high), low: name(netlist, low), amps };
        out.push(Crank { set: seen.set.clone(), load, cables });
    }
    out
}
