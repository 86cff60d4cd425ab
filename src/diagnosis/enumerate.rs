//! The list of suspects, from netlist and catalogue.
//!
//! Mass belongs to site × mode: splitting a run into more wires adds sites, but the severities of a
//! mode and the partners that a wire could touch share one site's mass.

mod beside;

use super::machine::Machine;
use super::segment::{Segment, segments};
use super::suspect::{Cell, Member, Suspect, What, cells};
use crate::catalogue::{Argument, LinkMode};
use crate::circuit::fault::{Fault, Single, resolve, site};
use crate::netlist::{Joint, LinkKind, Netlist, PointKind, Proof};
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
    /// By suspect: the first of the same two nets that touch elsewhere along them, itself included.
    first: HashMap<usize, usize>,
}

impl Suspects {
    /// The suspect that reads the same while no plug is parted: where along two nets they touch tells only then.
    pub fn as_mated(&self, suspect: usize) -> usize {
        self.first.get(&suspect).copied().unwrap_or(suspect)
    }

    /// The suspect that has a member of this name.
    pub fn by_name(&self, name: &str) -> Option<usize> {
        self.list.iter().position(|s| s.members.iter().any(|m| m.name == name || m.aliases.iter().any(|a| a == name)))
    }
}

/// A fault, its other names, its weight.
type Weighed = (Fault, Vec<String>, f64);

/// Before normalising: a suspect with the weights of its members.
struct Draft {
    members: Vec<Weighed>,
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
    beside::touching(machine, &weigh, &mut drafts);
    beside::coupled(machine, &weigh, &mut drafts);
    plugs(machine, &weigh, &mut drafts);
    parts(machine, &weigh, &mut drafts);
    let list = normalise(machine, drafts);
    let first = beside::firsts(&list);
    Suspects { list, segments, first }
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
