//! The list of suspects, from netlist and catalogue.
//!
//! Mass belongs to site × mode: splitting a run into more wires adds sites, but the severities of a
//! mode and the partners that a wire could touch share one site's mass.

use super::machine::Machine;
use super::net::{Nets, nets};
use super::segment::{Segment, segments};
use super::suspect::{Cell, Member, Suspect, What, cells};
use crate::catalogue::{Argument, LinkMode};
use crate::circuit::fault::{Fault, Single, resolve, site};
use crate::circuit::schematic::{Law, When};
use crate::netlist::{Joint, LinkKind, Netlist, PointKind, Proof, Wire};
use indexmap::IndexMap;
use petgraph::graph::EdgeIndex;
use std::collections::{HashMap, HashSet};

/// All suspects of a machine, with their segments.
#[derive(Clone, Debug, Default)]
pub struct Suspects {
    /// Suspects; priors sum to one.
    pub list: Vec<Suspect>,
    /// Segments of the netlist.
    pub segments: Vec<Segment>,
}

impl Suspects {
    /// The suspect that has a member of this name.
    pub fn by_name(&self, name: &str) -> Option<usize> {
        self.list.iter().position(|s| s.members.iter().any(|m| m.name == name || m.aliases.iter().any(|a| a == name)))
    }
}

/// Before normalising: a suspect with the weights of its members.
struct Draft {
    members: Vec<(Fault, Vec<String>, f64)>,
    class: String,
    cells: Vec<Cell>,
    what: What,
}

/// Enumerates the suspects. `recent`: does work done lately count (not for a fault that is older than it)?
pub fn enumerate(machine: &Machine, recent: bool) -> Suspects {
    let (segments, _) = segments(&machine.netlist, machine.sim.schematic());
    let weigh = Weigh::new(machine, recent);
    let mut drafts = Vec::new();
    series(machine, &segments, &weigh, &mut drafts);
    touching(machine, &weigh, &mut drafts);
    coupled(machine, &weigh, &mut drafts);
    plugs(machine, &weigh, &mut drafts);
    parts(machine, &weigh, &mut drafts);
    Suspects { list: normalise(machine, drafts), segments }
}

/// Factors on a site's weight: proof mark and recent work, capped.
struct Weigh<'a> {
    machine: &'a Machine,
    recent: HashSet<String>,
}

impl<'a> Weigh<'a> {
    fn new(machine: &'a Machine, recent: bool) -> Self {
        let recent =
            if recent { machine.netlist.recent.iter().map(|n| n.to_lowercase()).collect() } else { HashSet::new() };
        Weigh { machine, recent }
    }

    fn is_recent(&self, names: &[&str]) -> bool {
        !self.recent.is_empty() && names.iter().any(|n| self.recent.contains(&n.to_lowercase()))
    }

    fn factor(&self, proof: Option<Proof>, recent: bool) -> f64 {
        let weights = &self.machine.catalogue.weights;
        let mark = match proof {
            Some(Proof::Assumed) => "assumed",
            Some(Proof::Beep) => "beep",
            Some(Proof::Loaded) => "ok",
            Some(Proof::NotFitted) => "not-fitted",
            Some(Proof::Capped) => "capped",
            Some(Proof::Paper) | None => "paper",
        };
        let proof = weights.proof.get(mark).copied().unwrap_or(1.0);
        let recent = if recent && weights.recent > 0.0 { weights.recent } else { 1.0 };
        let cap = if weights.cap > 0.0 { weights.cap } else { 20.0 };
        (proof * recent).min(cap)
    }

    /// The factor of a link.
    fn link(&self, edge: EdgeIndex) -> f64 {
        let netlist = &self.machine.netlist;
        let link = &netlist.graph[edge];
        let (a, b) = netlist.graph.edge_endpoints(edge).expect("edge of this graph");
        let wire_name = wire_of(netlist, edge);
        let wire = wire_name.and_then(|name| netlist.wires.get(name));
        let mut names: Vec<&str> = vec![link.site.as_str()];
        names.extend(wire_name);
        if let Some(plug) = wire_name.and_then(|name| plug_of(netlist, name)) {
            names.push(plug);
        }
        for node in [a, b] {
            let point = &netlist.graph[node];
            names.push(&point.name);
            names.extend(point.place.as_deref());
            match &point.what {
                PointKind::Way { plug, .. } => names.push(plug),
                PointKind::Pin { part, .. } => names.push(part),
                _ => {}
            }
        }
        self.factor(wire.map(|w| w.proof), self.is_recent(&names))
    }

    fn part(&self, name: &str, place: Option<&str>) -> f64 {
        let mut names = vec![name];
        names.extend(place);
        self.factor(None, self.is_recent(&names))
    }
}

/// The wire a link belongs to.
pub fn wire_of(netlist: &Netlist, edge: EdgeIndex) -> Option<&str> {
    let link = &netlist.graph[edge];
    match link.what {
        LinkKind::Conductor => Some(link.site.as_str()),
        LinkKind::Joint(_) => {
            let (a, b) = netlist.graph.edge_endpoints(edge)?;
            [a, b].into_iter().find_map(|node| match &netlist.graph[node].what {
                PointKind::Conductor { wire, .. } => Some(wire.as_str()),
                _ => None,
            })
        }
        LinkKind::Mated | LinkKind::Seat => None,
    }
}

/// The plug whose row made this wire.
pub fn plug_of<'a>(netlist: &'a Netlist, wire: &str) -> Option<&'a str> {
    netlist
        .plugs
        .values()
        .find(|plug| plug.ways.values().any(|way| way.crimped.iter().flatten().any(|(name, _)| name == wire)))
        .or_else(|| {
            // The old stub behind the sleeve is named after the plug half.
            let half = wire.split('-').next()?;
            let name = half.strip_suffix(['a', 'b'])?;
            netlist.plugs.get(name).filter(|_| wire.ends_with("-old") || wire.ends_with("-new"))
        })
        .map(|plug| plug.name.as_str())
}

fn link_modes(machine: &Machine, what: LinkKind) -> Option<&IndexMap<String, LinkMode>> {
    match what {
        LinkKind::Conductor => Some(&machine.catalogue.wire.modes),
        joint => machine.catalogue.joints.get(site::joint_key(joint)?).map(|joint| &joint.modes),
    }
}

/// A single fault with its default argument written out, if it has one.
pub fn single(site: &str, mode: &str, argument: Option<&Argument>) -> Single {
    Single {
        site: site.to_string(),
        mode: mode.to_string(),
        args: argument.map(|a| vec![format!("{}", a.default)]).unwrap_or_default(),
        intermittent: None,
    }
}

fn cells_of(argument: Option<&Argument>) -> Vec<Cell> {
    match argument {
        Some(argument) => cells(argument.from, argument.to),
        None => vec![Cell { from: 1.0, to: 1.0, share: 1.0 }],
    }
}

/// Opens and resistances: one suspect a segment and mode.
fn series(machine: &Machine, segments: &[Segment], weigh: &Weigh, drafts: &mut Vec<Draft>) {
    for (index, segment) in segments.iter().enumerate() {
        for mode in ["open", "resistive"] {
            let mut members: Vec<(Fault, Vec<String>, f64)> = Vec::new();
            let mut known: HashMap<String, usize> = HashMap::new();
            let mut argument: Option<Argument> = None;
            for &edge in &segment.links {
                let link = &machine.netlist.graph[edge];
                let Some(data) = link_modes(machine, link.what).and_then(|modes| modes.get(mode)) else { continue };
                if argument.is_none() {
                    argument.clone_from(&data.argument);
                }
                let site = site::canonical_link(&machine.netlist, edge);
                let one = single(&site, mode, data.argument.as_ref());
                let weight = data.weight * weigh.link(edge);
                if let Some(&at) = known.get(&site) {
                    // Two ends in one sleeve: two joints that go by one name.
                    members[at].2 += weight;
                } else {
                    known.insert(site, members.len());
                    let aliases = resolve::aliases(&one, &machine.netlist);
                    members.push((Fault { singles: vec![one] }, aliases, weight));
                }
            }
            if members.is_empty() {
                continue;
            }
            drafts.push(Draft {
                members,
                class: series_class(machine, segment),
                cells: cells_of(argument.as_ref()),
                what: What::Series(index),
            });
        }
    }
}

/// What one would do about a segment: remake the ground point, a joint or a contact, or renew the run.
fn series_class(machine: &Machine, segment: &Segment) -> String {
    let netlist = &machine.netlist;
    let [only] = segment.links.as_slice() else { return format!("renew:{}", segment.name) };
    let link = &netlist.graph[*only];
    let (a, b) = netlist.graph.edge_endpoints(*only).expect("edge of this graph");
    // Unbolting a ground point and cleaning it remakes every ring under the bolt as well.
    if let Some(stud) = [a, b].into_iter().find(|&node| netlist.graph[node].what == PointKind::Stud)
        && matches!(link.what, LinkKind::Seat | LinkKind::Joint(Joint::Ring))
    {
        return format!("remake:{}", netlist.point_name(stud));
    }
    let repair = link_modes(machine, link.what).and_then(|modes| modes.values().next()).map(|m| m.repair.as_str());
    format!("{}:{}", repair.unwrap_or("remake"), link.site)
}

/// Shorts to the chassis, between loom neighbours and between neighbouring ways: one suspect a pair of nets.
///
/// How hard they touch matters to no reading as long as it is far below the load's ohms, so a short has
/// one severity, its default.
fn touching(machine: &Machine, weigh: &Weigh, drafts: &mut Vec<Draft>) {
    let netlist = &machine.netlist;
    let nets = nets(netlist);
    let node = |edge: EdgeIndex| netlist.graph.edge_endpoints(edge).map_or(0, |(a, _)| a.index());
    let mut pairs: IndexMap<String, Vec<(Fault, Vec<String>, f64)>> = IndexMap::new();
    let mut add = |a: usize, b: usize, fault: Fault, weight: f64| {
        if nets.of[a] != nets.of[b] {
            pairs.entry(nets.pair(a, b)).or_default().push((fault, Vec::new(), weight));
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
    for (nets, members) in pairs {
        drafts.push(Draft { members, class: format!("part:{nets}"), cells: cells_of(None), what: What::Touching });
    }
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
fn coupled(machine: &Machine, weigh: &Weigh, drafts: &mut Vec<Draft>) {
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

/// Faults of whole plugs: ways crossed, mirrored, shifted.
fn plugs(machine: &Machine, weigh: &Weigh, drafts: &mut Vec<Draft>) {
    let modes = &machine.catalogue.wire.plug_modes;
    for plug in machine.netlist.plugs.values() {
        let factor = weigh.factor(None, weigh.is_recent(&[plug.name.as_str()]));
        let ways: Vec<&str> = plug.ways.keys().map(String::as_str).collect();
        let mut push = |fault: Single, weight: f64, class: String, what: What, argument: Option<&Argument>| {
            drafts.push(Draft {
                members: vec![(Fault { singles: vec![fault] }, Vec::new(), weight)],
                class,
                cells: cells_of(argument),
                what,
            });
        };
        if let Some(mode) = modes.get("crossed") {
            let pairs: Vec<(&str, &str)> =
                ways.iter().enumerate().flat_map(|(i, &a)| ways[i + 1..].iter().map(move |&b| (a, b))).collect();
            let share = mode.weight * factor / pairs.len().max(1) as f64;
            for (a, b) in pairs {
                let fault = Single {
                    site: plug.name.clone(),
                    mode: "crossed".into(),
                    args: vec![a.to_string(), b.to_string()],
                    intermittent: None,
                };
                push(fault, share, format!("repin:{}", plug.name), What::Crossed, None);
            }
        }
        for (name, args) in [("mirrored", Vec::new()), ("shifted", vec!["1".to_string()])] {
            if let Some(mode) = modes.get(name).filter(|_| ways.len() > 2) {
                let fault = Single { site: plug.name.clone(), mode: name.into(), args, intermittent: None };
                push(fault, mode.weight * factor, format!("repin:{}", plug.name), What::Crossed, None);
            }
        }
    }
}

/// Faults of parts, as the catalogue lists them.
fn parts(machine: &Machine, weigh: &Weigh, drafts: &mut Vec<Draft>) {
    for part in machine.netlist.parts.values().filter(|p| p.fitted) {
        let Some(kind) = machine.catalogue.kind(&part.kind) else { continue };
        for (name, mode) in &kind.modes {
            if mode.weight <= 0.0 {
                continue;
            }
            let fault = Fault { singles: vec![single(&part.name, name, mode.argument.as_ref())] };
            drafts.push(Draft {
                members: vec![(fault, Vec::new(), mode.weight * weigh.part(&part.name, part.place.as_deref()))],
                class: format!("{}:{}", mode.repair, part.name),
                cells: cells_of(mode.argument.as_ref()),
                what: What::Part(part.name.clone()),
            });
        }
    }
}

/// Weights into probabilities, with the special suspects first.
fn normalise(machine: &Machine, drafts: Vec<Draft>) -> Vec<Suspect> {
    let specials = &machine.catalogue.weights.specials;
    let special = |name: &str, default: f64| specials.get(name).copied().unwrap_or(default);
    let healthy = special("nothing-broken", 0.05);
    let outside = special("not-in-file", 0.03);
    let total: f64 = drafts.iter().flat_map(|d| d.members.iter().map(|m| m.2)).sum();
    let scale = if total > 0.0 { (1.0 - healthy - outside) / total } else { 0.0 };
    let one = |name: &str, prior: f64, what: What| Suspect {
        members: vec![Member { fault: Fault::default(), name: name.into(), aliases: Vec::new(), share: 1.0 }],
        class: name.into(),
        prior,
        cells: vec![Cell { from: 1.0, to: 1.0, share: 1.0 }],
        what,
    };
    let mut out =
        vec![one("nothing-broken", healthy, What::NothingBroken), one("not-in-file", outside, What::NotInFile)];
    for draft in drafts {
        let weight: f64 = draft.members.iter().map(|m| m.2).sum();
        if weight <= 0.0 {
            continue;
        }
        let mut members: Vec<Member> = draft
            .members
            .into_iter()
            .map(|(fault, aliases, w)| Member { name: fault.to_string(), fault, aliases, share: w / weight })
            .collect();
        members.sort_by(|a, b| b.share.total_cmp(&a.share));
        out.push(Suspect { members, class: draft.class, prior: weight * scale, cells: draft.cells, what: draft.what });
    }
    out
}
