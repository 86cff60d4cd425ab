//! Wires that lie side by side: those that touch, and those that one puts its kicks into the other.

use super::{Draft, Weigh, Weighed, cells_of, single};
use crate::catalogue::LinkMode;
use crate::circuit::fault::Fault;
use crate::circuit::schematic::{Law, When};
use crate::diagnosis::machine::Machine;
use crate::diagnosis::net::{Nets, nets, stretches};
use crate::diagnosis::suspect::{Suspect, What};
use crate::netlist::Wire;
use indexmap::IndexMap;
use petgraph::graph::EdgeIndex;
use std::collections::{HashMap, HashSet};

/// Shorts to the chassis, between loom neighbours and between neighbouring ways: one suspect a pair of nets, and of the
/// stretches of them that plugs part.
///
/// How hard they touch matters to no reading as long as it is far below the load's ohms, so a short has
/// one severity, its default.
pub(super) fn touching(machine: &Machine, weigh: &Weigh, drafts: &mut Vec<Draft>) {
    let netlist = &machine.netlist;
    let (nets, stretches) = (nets(netlist), stretches(netlist));
    let node = |edge: EdgeIndex| netlist.graph.edge_endpoints(edge).map_or(0, |(a, _)| a.index());
    // By nets, by stretches of them.
    let mut pairs: IndexMap<String, IndexMap<String, Vec<Weighed>>> = IndexMap::new();
    let mut add = |a: usize, b: usize, fault: Fault, weight: f64| {
        if nets.of[a] != nets.of[b] {
            let pairs = pairs.entry(nets.pair(a, b)).or_default();
            pairs.entry(stretches.pair(a, b)).or_default().push((fault, Vec::new(), weight));
        }
    };
    if let Some(mode) = machine.catalogue.wire.modes.get("touching") {
        for loom in netlist.looms.values() {
            let edges: Vec<EdgeIndex> =
                loom.wires.iter().filter_map(|w| netlist.wires.get(w)).map(|w| w.links[1]).collect();
            // A wire's mass is shared by what it could touch; the metal it lies on counts as much as all its neighbours.
            let beside = (edges.len() - usize::from(!edges.is_empty())).max(1) as f64;
            let halves = if loom.lies_on.is_some() && edges.len() > 1 { 2.0 } else { 1.0 };
            for (i, &edge) in edges.iter().enumerate() {
                let weight = mode.weight * weigh.link(edge) / halves;
                let site = &netlist.graph[edge].site;
                if let Some(piece) = loom.lies_on.as_ref().and_then(|name| netlist.pieces.get_key_value(name)) {
                    add(node(edge), piece.1.point.index(), pair(site, piece.0, "touching", mode), weight);
                }
                for &other in &edges[i + 1..] {
                    let other_weight = mode.weight * weigh.link(other) / halves;
                    let fault = pair(site, &netlist.graph[other].site, "touching", mode);
                    add(node(edge), node(other), fault, (weight + other_weight) / beside);
                }
            }
        }
    }
    if let Some(mode) = machine.catalogue.wire.plug_modes.get("touching") {
        for plug in netlist.plugs.values() {
            let factor = weigh.factor(None, weigh.is_recent(&[plug.name.as_str()]));
            let share = mode.weight * factor / plug.ways.len().max(1) as f64;
            let ways: Vec<_> = plug.ways.iter().collect();
            for two in ways.windows(2) {
                let site = |at: usize| format!("{}.{}", plug.name, two[at].0);
                add(node(two[0].1.link), node(two[1].1.link), pair(&site(0), &site(1), "touching", mode), share);
            }
        }
    }
    for (nets, by_stretch) in pairs {
        for members in by_stretch.into_values() {
            drafts.push(Draft { members, class: format!("part:{nets}"), cells: cells_of(None), what: What::Touching });
        }
    }
}

/// Of suspects that touch between the same nets, each with the first of them.
pub(super) fn firsts(list: &[Suspect]) -> HashMap<usize, usize> {
    let mut by_class: HashMap<&str, usize> = HashMap::new();
    let touching = list.iter().enumerate().filter(|(_, suspect)| suspect.what == What::Touching);
    touching.map(|(at, suspect)| (at, *by_class.entry(&suspect.class).or_insert(at))).collect()
}

/// `a~b:touching`, names in canonical order.
fn pair(a: &str, b: &str, name: &str, mode: &LinkMode) -> Fault {
    let site = crate::circuit::fault::pair(a, b);
    Fault { singles: vec![single(&site, name, mode.argument.as_ref())] }
}

/// A coupled pair, its metres side by side, and the factor of the signal's wire.
type Beside = (Fault, f64, f64);

/// Signal wires that lie in a loom with a wire that a fast contact chops: one suspect a pair of nets. A signal's mass
/// is shared by the nets that could disturb it, and by the stretches of them in proportion to their length.
pub(super) fn coupled(machine: &Machine, weigh: &Weigh, drafts: &mut Vec<Draft>) {
    let netlist = &machine.netlist;
    let Some(mode) = machine.catalogue.wire.modes.get("coupled") else { return };
    let nets = nets(netlist);
    let node = |edge: EdgeIndex| netlist.graph.edge_endpoints(edge).map_or(0, |(a, _)| a.index());
    let (signals, chopped) = (signals(machine, &nets), chopped(machine, &nets));
    // By signal net, by what disturbs it.
    let mut found: IndexMap<usize, IndexMap<String, Vec<Beside>>> = IndexMap::new();
    for loom in netlist.looms.values() {
        let wires: Vec<&Wire> = loom.wires.iter().filter_map(|name| netlist.wires.get(name)).collect();
        let longest = loom.run.unwrap_or(f64::INFINITY);
        for signal in wires.iter().filter(|wire| signals.contains(&nets.of[node(wire.links[1])])) {
            let signal_net = nets.of[node(signal.links[1])];
            for other in wires.iter().filter(|wire| chopped.contains(&nets.of[node(wire.links[1])])) {
                let [a, b] = [signal, other].map(|wire| node(wire.links[1]));
                if nets.of[a] == nets.of[b] {
                    continue;
                }
                let site = |wire: &Wire| netlist.graph[wire.links[1]].site.clone();
                let fault = pair(&site(signal), &site(other), "coupled", mode);
                let run = signal.length.min(other.length).min(longest);
                let pairs = found.entry(signal_net).or_default().entry(nets.pair(a, b)).or_default();
                // Two looms that both hold the two wires are one pair.
                if !pairs.iter().any(|(known, _, _)| *known == fault) {
                    pairs.push((fault, run, weigh.link(signal.links[1])));
                }
            }
        }
    }
    for by_pair in found.into_values() {
        let share = mode.weight / by_pair.len().max(1) as f64;
        for (nets, pairs) in by_pair {
            let metres: f64 = pairs.iter().map(|(_, run, _)| run).sum();
            let members = pairs
                .into_iter()
                .map(|(fault, run, factor)| (fault, Vec::new(), share * factor * run / metres.max(1e-9)))
                .collect();
            let class = format!("{}:{nets}", mode.repair);
            drafts.push(Draft { members, class, cells: cells_of(None), what: What::Coupled });
        }
    }
}

/// Nets that end in a counting input.
fn signals(machine: &Machine, nets: &Nets) -> HashSet<usize> {
    let elements = machine.sim.schematic().elements.iter();
    let inputs = elements.filter(|element| matches!(element.law, Law::PulseInput { .. }));
    inputs.filter_map(|element| nets.of.get(element.a).copied()).collect()
}

/// Nets that a fast interrupter's current goes through: those of its part's pins, and what a switch or a relay joins
/// to them; the ground and the battery carry everybody's.
fn chopped(machine: &Machine, nets: &Nets) -> HashSet<usize> {
    let (netlist, schematic) = (&machine.netlist, machine.sim.schematic());
    let mut common: HashSet<usize> = netlist.pieces.values().map(|piece| nets.of[piece.point.index()]).collect();
    let sources = schematic.elements.iter().filter(|element| element.law.feeds());
    common.extend(sources.flat_map(|element| [element.a, element.b]).filter_map(|node| nets.of.get(node).copied()));
    let chops = |law: &Law| matches!(law, Law::Interrupter { hertz, .. } if *hertz >= 3.0);
    let parts: HashSet<&String> =
        schematic.elements.iter().filter(|e| chops(&e.law)).filter_map(|e| e.part.as_ref()).collect();
    let pins = netlist.parts.values().filter(|part| parts.contains(&part.name)).flat_map(|part| part.pins.values());
    let first: HashSet<usize> = pins.map(|pin| nets.of[pin.index()]).filter(|net| !common.contains(net)).collect();
    let mut all = first.clone();
    for element in &schematic.elements {
        let Law::Contact { when, .. } = &element.law else { continue };
        let (Some(&a), Some(&b)) = (nets.of.get(element.a), nets.of.get(element.b)) else { continue };
        if !matches!(when, When::Fuse { .. }) && (first.contains(&a) || first.contains(&b)) {
            all.extend([a, b].into_iter().filter(|net| !common.contains(net)));
        }
    }
    all
}
