//! Which controls and fuses a part depends on, by structure alone.
//!
//! Copper, fuses, switches, relay contacts and diodes conduct; loads and coils do not. A control is in series
//! with a part if the part loses its way to the battery once the control's contacts are taken out.

use crate::catalogue::{Catalogue, ElementType, Kind};
use crate::netlist::{Netlist, Part};
use petgraph::graph::NodeIndex;
use petgraph::visit::EdgeRef;
use std::collections::BTreeSet;

/// A way through a part.
#[derive(Clone, Debug)]
struct Pass {
    part: usize,
    from: NodeIndex,
    to: NodeIndex,
    one_way: bool,
    /// Settings in which it is closed; `None`: not moved by a setting.
    closed: Option<Vec<String>>,
    /// The coil's pins, where a coil moves it.
    coil: Option<[NodeIndex; 2]>,
}

/// The machine as ways for current.
pub struct Paths<'m> {
    netlist: &'m Netlist,
    catalogue: &'m Catalogue,
    passes: Vec<Pass>,
    sources: Vec<NodeIndex>,
    sinks: Vec<NodeIndex>,
}

impl<'m> Paths<'m> {
    /// Finds the ways through every part.
    pub fn new(netlist: &'m Netlist, catalogue: &'m Catalogue) -> Paths<'m> {
        let mut paths = Paths { netlist, catalogue, passes: Vec::new(), sources: Vec::new(), sinks: Vec::new() };
        for (index, part) in netlist.parts.values().enumerate() {
            if let Some(kind) = catalogue.kind(&part.kind) {
                paths.add(index, part, kind);
            }
        }
        paths
    }

    fn add(&mut self, index: usize, part: &Part, kind: &Kind) {
        let pin = |name: &str| part.pins.get(name).copied();
        for (a, b, closed) in joined(part, kind) {
            if let (Some(from), Some(to)) = (pin(&a), pin(&b)) {
                self.passes.push(Pass { part: index, from, to, one_way: false, closed: Some(closed), coil: None });
            }
        }
        for element in kind.elements.values() {
            let (Some(from), Some(to)) = (pin(&element.from), pin(&element.to)) else { continue };
            match element.what {
                ElementType::Source if kind.control.is_none() => {
                    self.sources.push(from);
                    self.sinks.push(to);
                }
                ElementType::Contact | ElementType::Diode => {
                    let coil = element.coil.as_ref().and_then(|(coil, _)| {
                        let coil = kind.elements.get(coil)?;
                        Some([pin(&coil.from)?, pin(&coil.to)?])
                    });
                    let by_setting = kind.control.is_some() && element.coil.is_none() && element.blows.is_none();
                    let closed = by_setting.then(|| element.closed.clone()).filter(|closed| !closed.is_empty());
                    let one_way = element.what == ElementType::Diode;
                    self.passes.push(Pass { part: index, from, to, one_way, closed, coil });
                }
                // a flasher's contact chops what others draw; a horn's coil is a load
                ElementType::Interrupter if !element.params.contains_key("amps") => {
                    self.passes.push(Pass { part: index, from, to, one_way: false, closed: None, coil: None });
                }
                _ => {}
            }
        }
    }

    /// Everything reached from `starts` by copper and passes; `allowed` says which passes conduct.
    fn reach(&self, starts: &[NodeIndex], backwards: bool, allowed: &dyn Fn(&Pass) -> bool) -> BTreeSet<NodeIndex> {
        let mut seen: BTreeSet<NodeIndex> = starts.iter().copied().collect();
        let mut open: Vec<NodeIndex> = starts.to_vec();
        while let Some(node) = open.pop() {
            let copper = self
                .netlist
                .graph
                .edges(node)
                .map(|edge| if edge.source() == node { edge.target() } else { edge.source() });
            let through = self.passes.iter().filter(|pass| allowed(pass)).filter_map(|pass| {
                let (from, to) = if backwards { (pass.to, pass.from) } else { (pass.from, pass.to) };
                match node {
                    n if n == from => Some(to),
                    n if n == to && !pass.one_way => Some(from),
                    _ => None,
                }
            });
            for next in copper.chain(through).collect::<Vec<_>>() {
                if seen.insert(next) {
                    open.push(next);
                }
            }
        }
        seen
    }

    /// Can current flow between two of these pins?
    fn fed(&self, pins: &[NodeIndex], allowed: &dyn Fn(&Pass) -> bool) -> bool {
        let from_plus = self.reach(&self.sources, false, allowed);
        let to_minus = self.reach(&self.sinks, true, allowed);
        pins.iter().any(|p| from_plus.contains(p) && pins.iter().any(|q| p != q && to_minus.contains(q)))
    }

    /// Parts in series with a part (fuses, switches, flashers, diodes, relays), a coil's circuit included.
    pub fn in_series(&self, part: &str) -> Vec<&'m Part> {
        let Some(part) = self.netlist.parts.get(part) else { return Vec::new() };
        let mut out: Vec<usize> = Vec::new();
        let pins: Vec<NodeIndex> = part.pins.values().copied().collect();
        let own = self.netlist.parts.get_index_of(&part.name);
        self.series_of(&pins, own, &mut out, 0);
        out.into_iter().filter_map(|index| self.netlist.parts.get_index(index).map(|(_, part)| part)).collect()
    }

    fn series_of(&self, pins: &[NodeIndex], own: Option<usize>, out: &mut Vec<usize>, depth: usize) {
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
    pub fn controls(&self, part: &str) -> Vec<(String, String)> {
        let Some(load) = self.netlist.parts.get(part) else { return Vec::new() };
        let mut out = Vec::new();
        for switch in self.in_series(part) {
            let Some(kind) = self.catalogue.kind(&switch.kind) else { continue };
            let Some(index) = self.netlist.parts.get_index_of(&switch.name) else { continue };
            let control = kind.control.as_ref().and_then(|c| c.shared.clone()).unwrap_or_else(|| switch.name.clone());
            let own = self.netlist.parts.get_index_of(&load.name);
            let settings = settings_of(switch, kind);
            let works = |setting: &String| {
                let allowed = |pass: &Pass| {
                    Some(pass.part) != own
                        && (pass.part != index || pass.closed.as_ref().is_none_or(|closed| closed.contains(setting)))
                };
                self.reaches(load, &allowed, 0)
            };
            if let Some(setting) = settings.iter().find(|s| works(s)) {
                out.push((control, setting.clone()));
            }
        }
        out
    }

    /// Is the part fed, and are the coils of the relays it hangs on?
    fn reaches(&self, part: &Part, allowed: &dyn Fn(&Pass) -> bool, depth: usize) -> bool {
        let pins: Vec<NodeIndex> = part.pins.values().copied().collect();
        if !self.fed(&pins, allowed) {
            return false;
        }
        if depth > 3 {
            return true;
        }
        let own = self.netlist.parts.get_index_of(&part.name);
        let relays: BTreeSet<usize> =
            self.passes.iter().filter(|p| p.coil.is_some() && Some(p.part) != own).map(|p| p.part).collect();
        relays.into_iter().all(|relay| {
            let needed = !self.fed(&pins, &|pass| allowed(pass) && pass.part != relay);
            let coils = self.passes.iter().filter(|p| p.part == relay).filter_map(|p| p.coil);
            !needed || coils.collect::<Vec<_>>().iter().all(|coil| self.fed(coil, &|p| allowed(p) && p.part != relay))
        })
    }

    /// Fuses in series with a part.
    pub fn fuses(&self, part: &str) -> Vec<String> {
        let is_fuse = |part: &&Part| {
            self.catalogue.kind(&part.kind).is_some_and(|k| k.elements.values().any(|e| e.blows.is_some()))
        };
        self.in_series(part).into_iter().filter(is_fuse).map(|part| part.name.clone()).collect()
    }
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
