//! Which controls and fuses a part depends on, by structure alone.
//!
//! Copper, fuses, switches, relay contacts and diodes conduct; loads and coils do not. A control is in series
//! with a part if the part loses its way to the battery once the control's contacts are taken out.

mod either;

use crate::catalogue::{Catalogue, Element, ElementType, Kind};
use crate::netlist::{Netlist, Part};
use petgraph::graph::NodeIndex;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// Points joined by copper.
type Island = usize;

/// A part, and the one of its feeds that is meant.
type Fed = (String, Option<String>);

/// A way through a part.
#[derive(Clone, Debug)]
struct Pass {
    part: usize,
    from: Island,
    to: Island,
    one_way: bool,
    /// Settings in which it is closed; `None`: not moved by a setting.
    closed: Option<Vec<String>>,
    /// The coil's pins, where a coil moves it.
    coil: Option<[Island; 2]>,
}

/// The machine as ways for current.
pub struct Paths<'m> {
    netlist: &'m Netlist,
    catalogue: &'m Catalogue,
    island: Vec<Island>,
    /// The first number that no island has yet.
    next: Island,
    passes: Vec<Pass>,
    sources: Vec<Island>,
    sinks: Vec<Island>,
    /// By part and feed.
    known: RefCell<BTreeMap<Fed, Vec<usize>>>,
}

/// No more than this is no load, ohm.
const COPPER: f64 = 0.1;

/// Is it a resistor of so few ohms that it stands for copper?
fn as_copper(element: &Element) -> bool {
    element.params.get("ohms").and_then(|ohms| ohms.value(|_| None)).is_some_and(|ohms| ohms <= COPPER)
}

impl<'m> Paths<'m> {
    /// Finds the ways through every part.
    pub fn new(netlist: &'m Netlist, catalogue: &'m Catalogue) -> Paths<'m> {
        let mut paths = Paths {
            netlist,
            catalogue,
            island: Vec::new(),
            next: 0,
            passes: Vec::new(),
            sources: Vec::new(),
            sinks: Vec::new(),
            known: RefCell::new(BTreeMap::new()),
        };
        paths.island = islands(netlist);
        paths.next = paths.island.iter().max().map_or(0, |most| most + 1);
        for (index, part) in netlist.parts.values().enumerate() {
            if let Some(kind) = catalogue.kind(&part.kind) {
                paths.add(index, part, kind);
            }
        }
        paths
    }

    fn add(&mut self, index: usize, part: &Part, kind: &Kind) {
        let inner = self.inner(kind);
        let pin =
            |name: &str| part.pins.get(name).map(|node| self.island[node.index()]).or_else(|| inner.get(name).copied());
        let mut passes: Vec<Pass> = Vec::new();
        let mut ends: Vec<(Island, Island)> = Vec::new();
        for (a, b, closed) in joined(part, kind) {
            if let (Some(from), Some(to)) = (pin(&a), pin(&b)) {
                passes.push(Pass { part: index, from, to, one_way: false, closed: Some(closed), coil: None });
            }
        }
        for element in kind.elements.values() {
            let (Some(from), Some(to)) = (pin(&element.from), pin(&element.to)) else { continue };
            match element.what {
                ElementType::Source if kind.control.is_none() => {
                    ends.push((from, to));
                }
                ElementType::Contact | ElementType::Diode => {
                    let coil = element.coil.as_ref().and_then(|(coil, _)| {
                        let coil = kind.elements.get(coil)?;
                        Some([pin(&coil.from)?, pin(&coil.to)?])
                    });
                    let by_setting = kind.control.is_some() && element.coil.is_none() && element.blows.is_none();
                    let closed = by_setting.then(|| element.closed.clone()).filter(|closed| !closed.is_empty());
                    let one_way = element.what == ElementType::Diode;
                    passes.push(Pass { part: index, from, to, one_way, closed, coil });
                }
                // a shunt, a stud, a way of a socket
                ElementType::Resistor if as_copper(element) => {
                    passes.push(Pass { part: index, from, to, one_way: false, closed: None, coil: None });
                }
                // a flasher's contact chops what others draw; a horn's coil is a load
                ElementType::Interrupter if !element.params.contains_key("amps") => {
                    passes.push(Pass { part: index, from, to, one_way: false, closed: None, coil: None });
                }
                _ => {}
            }
        }
        self.passes.extend(passes);
        self.sources.extend(ends.iter().map(|end| end.0));
        self.sinks.extend(ends.iter().map(|end| end.1));
    }

    /// Islands for the nodes inside a part of this kind.
    fn inner(&mut self, kind: &Kind) -> BTreeMap<String, Island> {
        let mut inner = BTreeMap::new();
        for end in kind.elements.values().flat_map(|element| [&element.from, &element.to]) {
            if end.starts_with('.') && !inner.contains_key(end) {
                inner.insert(end.clone(), self.next);
                self.next += 1;
            }
        }
        inner
    }

    /// The pins between which a part must be fed: its coil's, where it has one, and those of the rest.
    /// Of a part with several feeds (a lamp of two filaments), one of them named: the ends of what it feeds.
    fn groups(&self, part: &Part, feed: Option<&str>) -> Vec<Vec<Island>> {
        let elements = self.catalogue.kind(&part.kind).map(|kind| kind.elements.values()).into_iter().flatten();
        let pin = |node: &NodeIndex| self.island[node.index()];
        let fed: Vec<&Element> = elements.clone().filter(|element| feed == Some(element.from.as_str())).collect();
        if !fed.is_empty() {
            let ends = fed.iter().flat_map(|element| [&element.from, &element.to]);
            return vec![ends.filter_map(|name| part.pins.get(name).map(pin)).collect()];
        }
        let coils: Vec<[Option<Island>; 2]> = elements
            .filter(|element| element.what == ElementType::Coil)
            .map(|coil| [&coil.from, &coil.to].map(|name| part.pins.get(name).map(pin)))
            .collect();
        let first: Vec<Island> = coils.iter().filter_map(|pins| pins[0]).collect();
        let rest = part.pins.values().map(pin).filter(|pin| !first.contains(pin)).collect();
        let coils = coils.iter().map(|pins| pins.iter().copied().flatten().collect());
        coils.chain(std::iter::once(rest)).collect()
    }

    /// Everything reached from `starts` by passes; `allowed` says which passes conduct.
    fn reach(&self, starts: &[Island], backwards: bool, allowed: &dyn Fn(&Pass) -> bool) -> BTreeSet<Island> {
        let mut seen: BTreeSet<Island> = starts.iter().copied().collect();
        let mut open: Vec<Island> = starts.to_vec();
        while let Some(at) = open.pop() {
            for pass in self.passes.iter().filter(|pass| allowed(pass)) {
                let (from, to) = if backwards { (pass.to, pass.from) } else { (pass.from, pass.to) };
                let next = match at {
                    n if n == from => to,
                    n if n == to && !pass.one_way => from,
                    _ => continue,
                };
                if seen.insert(next) {
                    open.push(next);
                }
            }
        }
        seen
    }

    /// Can current flow between two of these pins?
    fn fed(&self, pins: &[Island], allowed: &dyn Fn(&Pass) -> bool) -> bool {
        let from_plus = self.reach(&self.sources, false, allowed);
        let to_minus = self.reach(&self.sinks, true, allowed);
        pins.iter().any(|p| from_plus.contains(p) && pins.iter().any(|q| p != q && to_minus.contains(q)))
    }

    /// Parts in series with a part (fuses, switches, flashers, diodes, relays), a coil's circuit included.
    pub fn in_series(&self, part: &str, feed: Option<&str>) -> Vec<&'m Part> {
        let Some(part) = self.netlist.parts.get(part) else { return Vec::new() };
        let key = (part.name.clone(), feed.map(str::to_owned));
        let known = self.known.borrow().get(&key).cloned();
        let out = known.unwrap_or_else(|| {
            let mut out: Vec<usize> = Vec::new();
            let own = self.netlist.parts.get_index_of(&part.name);
            for pins in self.groups(part, feed) {
                self.series_of(&pins, own, &mut out, 0);
            }
            self.known.borrow_mut().insert(key, out.clone());
            out
        });
        out.into_iter().filter_map(|index| self.netlist.parts.get_index(index).map(|(_, part)| part)).collect()
    }

    fn series_of(&self, pins: &[Island], own: Option<usize>, out: &mut Vec<usize>, depth: usize) {
        let all = |pass: &Pass| Some(pass.part) != own;
        if !self.fed(pins, &all) {
            return;
        }
        let candidates: BTreeSet<usize> = self.passes.iter().map(|p| p.part).filter(|p| Some(*p) != own).collect();
        for candidate in candidates {
            if out.contains(&candidate) || self.fed(pins, &|pass| all(pass) && pass.part != candidate) {
                continue;
            }
            out.push(candidate);
            let coils = self.passes.iter().filter(|p| p.part == candidate).filter_map(|p| p.coil);
            for coil in coils.collect::<Vec<_>>() {
                if depth < 4 {
                    self.series_of(&coil, Some(candidate), out, depth + 1);
                }
            }
        }
    }

    /// Controls in series with a part, each with the first setting that lets current through to it.
    pub fn controls(&self, part: &str, feed: Option<&str>) -> Vec<(String, String)> {
        self.settings(part, feed).into_iter().filter_map(|(control, lets, _)| Some((control, lets?))).collect()
    }

    /// Controls in series with a part, each with the first setting that lets no current through to it.
    pub fn opening(&self, part: &str, feed: Option<&str>) -> Vec<(String, String)> {
        self.settings(part, feed).into_iter().filter_map(|(control, _, stops)| Some((control, stops?))).collect()
    }

    /// Controls in series with a part: the first setting that lets current through, the first that does not.
    fn settings(&self, part: &str, feed: Option<&str>) -> Vec<(String, Option<String>, Option<String>)> {
        let Some(load) = self.netlist.parts.get(part) else { return Vec::new() };
        let own = self.netlist.parts.get_index_of(&load.name);
        let mut out = Vec::new();
        for switch in self.in_series(part, feed) {
            let Some(kind) = self.catalogue.kind(&switch.kind) else { continue };
            let Some(index) = self.netlist.parts.get_index_of(&switch.name) else { continue };
            let control = kind.control.as_ref().and_then(|c| c.shared.clone()).unwrap_or_else(|| switch.name.clone());
            let settings = settings_of(switch, kind);
            let works = |setting: &&String| {
                let allowed = |pass: &Pass| {
                    Some(pass.part) != own
                        && (pass.part != index || pass.closed.as_ref().is_none_or(|closed| closed.contains(setting)))
                };
                self.reaches(load, feed, &allowed, 0)
            };
            if !settings.is_empty() {
                let lets = settings.iter().find(works).cloned();
                out.push((control, lets, settings.iter().find(|setting| !works(setting)).cloned()));
            }
        }
        out
    }

    /// Is the part fed, and are the coils of the relays it hangs on?
    fn reaches(&self, part: &Part, feed: Option<&str>, allowed: &dyn Fn(&Pass) -> bool, depth: usize) -> bool {
        let own = self.netlist.parts.get_index_of(&part.name);
        let all = |pass: &Pass| Some(pass.part) != own;
        self.groups(part, feed)
            .iter()
            .all(|pins| !self.fed(pins, &all) || self.group_reached(pins, own, allowed, depth))
    }

    fn group_reached(
        &self,
        pins: &[Island],
        own: Option<usize>,
        allowed: &dyn Fn(&Pass) -> bool,
        depth: usize,
    ) -> bool {
        if !self.fed(pins, allowed) {
            return false;
        }
        if depth > 3 {
            return true;
        }
        let relays: BTreeSet<usize> =
            self.passes.iter().filter(|p| p.coil.is_some() && Some(p.part) != own).map(|p| p.part).collect();
        relays.into_iter().all(|relay| {
            let needed = !self.fed(pins, &|pass| allowed(pass) && pass.part != relay);
            let coils = self.passes.iter().filter(|p| p.part == relay).filter_map(|p| p.coil);
            !needed
                || coils
                    .collect::<Vec<_>>()
                    .iter()
                    .all(|coil| self.group_reached(coil, Some(relay), allowed, depth + 1))
        })
    }

    /// The fuse that is a part's own: of those in series with it the one that the fewest parts hang on.
    pub fn own_fuse(&self, part: &str) -> Option<String> {
        let hangs = |fuse: &String| self.netlist.parts.keys().filter(|part| self.fuses(part).contains(fuse)).count();
        self.fuses(part).into_iter().min_by_key(hangs)
    }

    /// Fuses in series with a part.
    pub fn fuses(&self, part: &str) -> Vec<String> {
        let is_fuse = |part: &&Part| self.catalogue.kind(&part.kind).is_some_and(Kind::is_fuse);
        self.in_series(part, None).into_iter().filter(is_fuse).map(|part| part.name.clone()).collect()
    }
}

/// Numbers the pieces of copper.
fn islands(netlist: &Netlist) -> Vec<Island> {
    let mut out = vec![usize::MAX; netlist.graph.node_count()];
    for start in netlist.graph.node_indices() {
        if out[start.index()] != usize::MAX {
            continue;
        }
        let mut open = vec![start];
        out[start.index()] = start.index();
        while let Some(node) = open.pop() {
            for next in netlist.graph.neighbors(node) {
                if out[next.index()] == usize::MAX {
                    out[next.index()] = start.index();
                    open.push(next);
                }
            }
        }
    }
    out
}

/// Settings of a switch in order, the first at rest.
pub fn settings_of(part: &Part, kind: &Kind) -> Vec<String> {
    match &part.table {
        Some(table) => table.settings.keys().cloned().collect(),
        None => kind.control.as_ref().map_or_else(Vec::new, |control| control.settings.clone()),
    }
}

/// Pairs of pins that a switch table joins, with the settings in which it does.
type Pairs = Vec<(String, String, Vec<String>)>;

fn joined(part: &Part, kind: &Kind) -> Pairs {
    let table = part.table.as_ref().map_or(&kind.table, |table| &table.settings);
    let mut pairs: Pairs = Vec::new();
    for (setting, groups) in table {
        for group in groups {
            for (at, a) in group.iter().enumerate() {
                for b in &group[at + 1..] {
                    match pairs.iter_mut().find(|(x, y, _)| x == a && y == b) {
                        Some((.., settings)) => settings.push(setting.clone()),
                        None => pairs.push((a.clone(), b.clone(), vec![setting.clone()])),
                    }
                }
            }
        }
    }
    pairs
}
