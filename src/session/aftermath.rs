//! After the finding: what helps for tonight, and where the same slip may sit. The words are `rules/aftermath.yaml`'s,
//! what stands in their braces is computed on this machine.

use super::chase::Chase;
use super::name;
use crate::catalogue::Repair;
use crate::circuit::fault::site;
use crate::circuit::injury::{Change, Injury};
use crate::circuit::schematic::{ElementId, Law};
use crate::circuit::sim::{Outcome, StateId};
use crate::diagnosis::enumerate::{plug_of, wire_of};
use crate::diagnosis::predict;
use crate::diagnosis::suspect::What;
use crate::netlist::{LinkKind, Loom, Netlist, Part};
use crate::text::quantity::Unit;
use petgraph::graph::NodeIndex;

/// Less than this is a signal: nobody leads 12 V or ground past it, A.
const SIGNAL: f64 = 0.05;
/// A healthy point this far from battery minus is on the ground side, V.
const GROUND_SIDE: f64 = 1.0;
/// So much above what it carries a fuse is chosen (common practice, no source).
const MARGIN: f64 = 1.25;
/// The repair that puts a new part in.
const REPLACE: &str = "replace";
/// Names told at most.
const NAMED: usize = 4;

/// A fused stopgap for tonight, where there is an honest one.
pub fn stopgap(chase: &mut Chase, leader: usize) -> Option<String> {
    match chase.suspects.list[leader].what.clone() {
        What::Series(index) => past(chase, index),
        What::Touching => without(chase, leader),
        _ => None,
    }
}

/// A lead round a bad run: what it carries, from where to where.
fn past(chase: &mut Chase, index: usize) -> Option<String> {
    let state = chase.scene().active?;
    let healthy = chase.runs.healthy(&chase.machine, state);
    let machine = &chase.machine;
    let segment = &chase.suspects.segments[index];
    let volts = predict::mean_volts(&machine.sim, &healthy);
    let link = segment.links.first()?;
    let amps: f64 = (0..healthy.levels.len())
        .map(|level| machine.sim.element_amps(&healthy, level, link.index()).abs())
        .fold(0.0, f64::max);
    let ratings = &machine.catalogue.aftermath.fuses;
    let most = ratings.last().copied().unwrap_or(0.0);
    // What carries a starter is no matter of leads, and what carries a signal none of volts.
    if amps < SIGNAL || MARGIN * amps > most {
        return None;
    }
    let [a, b] = segment.ends;
    let (high, low) = if volts[a.index()] >= volts[b.index()] { (a, b) } else { (b, a) };
    let zero = machine.sim.schematic().zero;
    let area = segment.links.iter().filter_map(|&link| wire_of(&machine.netlist, link));
    let area = area.filter_map(|wire| machine.netlist.wires.get(wire)).map(|wire| wire.area).fold(0.0, f64::max);
    let size = if area > 0.0 { format!("{area} mm2") } else { "the same size".to_string() };
    let site = name::segment(machine, &chase.suspects, index);
    let ground = volts[high.index()].abs() < GROUND_SIDE;
    let words = machine.catalogue.aftermath.after.get(if ground { "ground-run" } else { "feed-run" })?;
    let at = |node: NodeIndex, back: NodeIndex| reachable(&machine.netlist, node, back);
    let text = words
        .tonight
        .as_ref()?
        .replace("{size}", &size)
        .replace("{site}", &site)
        .replace("{amps}", &name::value(amps, "A"))
        .replace("{load}", &at(high, low)?)
        .replace("{zero}", &name::node(machine, zero));
    if ground {
        return Some(text);
    }
    let own = fuse_over(chase, state, &healthy, link.index());
    let fuse = ratings.iter().copied().find(|rating| *rating >= MARGIN * amps)?;
    let fuse = own.map_or(fuse, |own| fuse.min(own));
    Some(text.replace("{after}", &at(low, high)?).replace("{fuse}", &format!("{fuse} A")))
}

/// The nearest point that a clip reaches, going on from `node` away from `back`.
fn reachable(netlist: &Netlist, node: NodeIndex, back: NodeIndex) -> Option<String> {
    let (mut at, mut from) = (node, back);
    for _ in 0..netlist.graph.node_count() {
        if netlist.graph[at].probeable {
            return Some(name::point(netlist, at));
        }
        let next = netlist.graph.neighbors(at).find(|&other| other != from)?;
        (from, at) = (at, next);
    }
    None
}

/// Rating of the smallest fuse that all of an element's current passes: its opening takes that away.
fn fuse_over(chase: &Chase, state: StateId, healthy: &Outcome, element: ElementId) -> Option<f64> {
    let machine = &chase.machine;
    let most = |outcome: &Outcome, id: ElementId| -> f64 {
        let levels = 0..outcome.levels.len();
        levels.map(|level| machine.sim.element_amps(outcome, level, id).abs()).fold(0.0, f64::max)
    };
    let amps = most(healthy, element);
    let fuses = machine.netlist.parts.values().filter_map(|part| {
        let kind = machine.catalogue.kind(&part.kind).filter(|kind| kind.is_fuse())?;
        let given = part.ratings.values().find(|quantity| quantity.unit == Unit::Amp).map(|quantity| quantity.value);
        let default = kind.ratings.values().find(|rating| rating.unit == Unit::Amp).map(|rating| rating.default);
        Some((given.or(default)?, machine.sim.schematic().by_part.get(&part.name)?))
    });
    // What carries less than the element cannot carry all of it.
    let carries = |elements: &[ElementId]| elements.iter().any(|&id| most(healthy, id) > amps - SIGNAL);
    let mut fuses: Vec<(f64, &Vec<ElementId>)> = fuses.filter(|(_, elements)| carries(elements)).collect();
    fuses.sort_by(|a, b| a.0.total_cmp(&b.0));
    let takes = |elements: &[ElementId]| most(&machine.sim.run(state, &out(elements)), element) < SIGNAL;
    fuses.into_iter().find(|(_, elements)| takes(elements)).map(|(rating, _)| rating)
}

/// These elements taken out.
fn out(elements: &[ElementId]) -> Injury {
    Injury { changes: elements.iter().map(|&id| Change::Law(id, Law::Open)).collect(), ..Injury::default() }
}

/// The fuse of a circuit that has touched something, and what is dead without it.
fn without(chase: &mut Chase, leader: usize) -> Option<String> {
    let state = chase.scene().active?;
    let point = chase.best_point(leader);
    let hurt = chase.runs.outcome(&chase.machine, &chase.suspects, state, point);
    let injury = chase.runs.injury_of(&chase.machine, &chase.suspects, point);
    let machine = &chase.machine;
    let healthy = chase.runs.healthy(machine, state);
    // The fuse that blows, else the one that carries the most that it should not.
    let parts = machine.netlist.parts.values().filter(|part| {
        let kind = machine.catalogue.kind(&part.kind);
        kind.is_some_and(|kind| kind.is_fuse())
    });
    let more = |part: &str| -> f64 {
        let Some(elements) = machine.sim.schematic().by_part.get(part) else { return 0.0 };
        elements
            .iter()
            .map(|&id| {
                if hurt.blown.contains(&id) {
                    return f64::INFINITY;
                }
                let amps = |outcome| machine.sim.element_amps(outcome, 0, id).abs();
                amps(&hurt) - amps(&healthy)
            })
            .fold(0.0, f64::max)
    };
    let fuse = parts.max_by(|a, b| more(&a.name).total_cmp(&more(&b.name))).filter(|part| more(&part.name) > SIGNAL)?;
    let elements = machine.sim.schematic().by_part.get(&fuse.name)?;
    let removed = out(elements);
    let outcome = machine.sim.run(state, &removed);
    let likeliest = |injury: &Injury, outcome, part: &str| {
        let words = predict::words(machine, state, injury, outcome, part);
        words.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map(|(word, _)| word)
    };
    let dead: Vec<&str> = machine
        .netlist
        .parts
        .values()
        .filter(|part| part.fitted && part.name != fuse.name)
        .filter(|part| {
            let well = likeliest(&Injury::default(), &healthy, &part.name);
            well.is_some() && well != likeliest(&removed, &outcome, &part.name)
        })
        .map(|part| part.name.as_str())
        .collect();
    if dead.is_empty() {
        return None;
    }
    // Still too much current with that fuse out: the two lie before it, and no fuse helps.
    let mut still = removed.clone();
    still.changes.extend(injury.changes.iter().cloned());
    let rest = machine.sim.run(state, &still);
    let source = source_amps(chase, &rest);
    if source > source_amps(chase, &healthy) + SIGNAL {
        return None;
    }
    let words = chase.machine.catalogue.aftermath.after.get("touching")?;
    let named = named(&dead);
    Some(words.tonight.as_ref()?.replace("{fuse}", &fuse.name).replace("{dead}", &named))
}

/// Amps that the batteries give.
fn source_amps(chase: &Chase, outcome: &Outcome) -> f64 {
    let sim = &chase.machine.sim;
    let cells = sim.schematic().elements.iter().enumerate();
    cells
        .filter(|(_, element)| matches!(element.law, Law::Cell { .. } | Law::Source { .. }))
        .map(|(id, _)| sim.element_amps(outcome, 0, id).abs())
        .sum()
}

/// `horn, left-lamp and 2 more`.
fn named(names: &[&str]) -> String {
    let more = names.len().saturating_sub(NAMED);
    let told = names.iter().take(NAMED).copied().collect::<Vec<_>>().join(", ");
    if more > 0 { format!("{told} and {more} more") } else { told }
}

/// Where the same hand may have made the same slip.
pub fn elsewhere(chase: &Chase, leader: usize) -> Option<String> {
    let (machine, netlist) = (&chase.machine, &chase.machine.netlist);
    let suspect = &chase.suspects.list[leader];
    let single = suspect.members.first()?.fault.singles.first()?;
    let words = |key: &str| machine.catalogue.aftermath.after.get(key)?.elsewhere.clone();
    match &suspect.what {
        What::Series(index) => {
            let links = &chase.suspects.segments[*index].links;
            let joint = links.iter().map(|&link| netlist.graph[link].what).find(|what| *what != LinkKind::Conductor)?;
            let plug = |link| wire_of(netlist, link).and_then(|wire| plug_of(netlist, wire));
            let own: Vec<&str> = links.iter().filter_map(|&link| plug(link)).collect();
            let is_recent = |name: &str| netlist.recent.iter().any(|recent| recent.eq_ignore_ascii_case(name));
            let mut others: Vec<&str> = Vec::new();
            for edge in netlist.graph.edge_indices() {
                let link = &netlist.graph[edge];
                if link.what != joint || links.contains(&edge) {
                    continue;
                }
                // Joints of a plug go by the plug; bolts by their own name.
                let name = match joint {
                    LinkKind::Seat => Some(link.site.as_str()),
                    LinkKind::Mated => link.site.split_once('.').map(|(plug, _)| plug),
                    _ => plug(edge),
                };
                let place = netlist.graph.edge_endpoints(edge).and_then(|(a, _)| netlist.graph[a].place.as_deref());
                let same = |name: &str| own.contains(&name) || is_recent(name) || place.is_some_and(is_recent);
                if let Some(name) = name.filter(|name| same(name))
                    && !others.contains(&name)
                {
                    others.push(name);
                }
            }
            let joints = site::joint_key(joint)?.replace('-', " ");
            let joints = match joint {
                LinkKind::Seat => "bolted grounds".to_string(),
                LinkKind::Mated => "contacts".to_string(),
                _ => format!("{joints}s"),
            };
            (!others.is_empty()).then_some(())?;
            Some(words("ground-run")?.replace("{joints}", &joints).replace("{others}", &named(&others)))
        }
        What::Touching => {
            let (a, _) = single.site.split_once('~')?;
            let holds = |loom: &Loom| loom.wires.iter().any(|wire| wire.eq_ignore_ascii_case(a));
            let (loom, _) = netlist.looms.iter().find(|(_, loom)| holds(loom))?;
            Some(words("touching")?.replace("{others}", &format!("loom {loom}")))
        }
        What::Crossed => {
            let plug = single.site.split(['.', '~']).next().filter(|name| netlist.plugs.contains_key(*name))?;
            Some(words("crossed")?.replace("{others}", plug))
        }
        _ => None,
    }
}

/// What has to be at hand for a repair (`called` so): what the rules say, or the part itself with its ratings.
pub fn needs(chase: &Chase, leader: usize, repair: &Repair, called: &str) -> Option<String> {
    let netlist = &chase.machine.netlist;
    let part = match &chase.suspects.list[leader].what {
        What::Part(name) => netlist.parts.get(name).map(with_ratings),
        _ => None,
    };
    match (&repair.needs, part) {
        (Some(needs), part) => Some(needs.replace("{part}", part.as_deref().unwrap_or("it"))),
        (None, part) => part.filter(|_| called == REPLACE),
    }
}

/// `filament lamp, 21 W`.
fn with_ratings(part: &Part) -> String {
    let ratings = part.ratings.values().map(|quantity| format!(", {} {}", quantity.value, quantity.unit.symbol()));
    ratings.fold(part.kind.clone(), |text, rating| text + &rating)
}
