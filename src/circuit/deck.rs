//! A state under a fault as a deck for a general circuit simulator.
//!
//! Node 0 is battery minus, the other nodes are points in lower case. Every conductor and every mated contact is
//! two halves about a node of its own (`w7.mid`), so that a script can plant a fault in its middle. Settings,
//! fuses and interrupters stand as the state has them; relays are switches that follow their coils. Pulses stand at
//! their mean over time, which is what a DC meter reads: a deck has no level of theirs to choose. An island that
//! nothing ties to node 0 is tied at one node, through which nothing flows.

use super::injury::{Change, Injury};
use super::schematic::{Elem, ElementId, Law, Node, Schematic, When};
use super::sim::{Outcome, Sim, StateId, StateSpec};
use crate::netlist::{LinkKind, Netlist};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Which of the two levels of the interrupters that work.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum DeckLevel {
    /// Closed.
    #[default]
    Closed,
    /// Open.
    Open,
}

/// An open relay contact, ohm; far above anything that is there.
const OFF_OHMS: f64 = 1e12;
/// What ties an island, ohm: so much that a meter of 10 Mohm put between the island and what is live reads nothing of it.
const TIE_OHMS: f64 = 1e12;

/// The deck of a state under an injury. The state is solved first: from it comes which fuses are blown, which
/// relays are in (the switches' memory) and which interrupters work.
pub fn deck(
    sim: &Sim,
    netlist: &Netlist,
    spec: &StateSpec,
    state: StateId,
    injury: &Injury,
    level: DeckLevel,
) -> String {
    let outcome = sim.run_afresh(state, injury);
    // A machine in which nothing chops has only one level.
    let apart = |index: &usize| {
        let level = &outcome.levels[*index];
        usize::from(!level.fast_closed) + usize::from(!level.slow_closed)
    };
    let first = |best: usize| (0..outcome.levels.len()).find(|index| apart(index) == best);
    let most = (0..outcome.levels.len()).map(|index| apart(&index)).max().unwrap_or(0);
    let index = first(if level == DeckLevel::Open { most } else { 0 }).unwrap_or(0);
    let mut writer = Writer::new(sim, netlist, spec, &outcome, index);
    writer.apply(&spec.changes);
    writer.apply(&injury.changes);
    writer.write(netlist)
}

struct Writer<'a> {
    sim: &'a Sim,
    schematic: &'a Schematic,
    spec: &'a StateSpec,
    outcome: &'a Outcome,
    level: usize,
    laws: Vec<Law>,
    reversed: Vec<bool>,
    added: Vec<(Node, Node, Law)>,
    ties: Vec<Tie<'a>>,
    /// Links written as two halves, with the middle's node name.
    halves: BTreeMap<ElementId, String>,
    lines: String,
    models: String,
    count: usize,
    islands: Islands,
}

/// A resistor between two weighted taps.
struct Tie<'a> {
    from: &'a [(Node, f64)],
    to: &'a [(Node, f64)],
    ohms: f64,
}

impl<'a> Writer<'a> {
    fn new(sim: &'a Sim, netlist: &Netlist, spec: &'a StateSpec, outcome: &'a Outcome, level: usize) -> Self {
        let schematic = sim.schematic();
        let middle = |kind| matches!(kind, LinkKind::Conductor | LinkKind::Mated);
        let halves = netlist.graph.edge_indices().filter(|&edge| middle(netlist.graph[edge].what));
        Writer {
            sim,
            schematic,
            spec,
            outcome,
            level,
            laws: schematic.elements.iter().map(|e| e.law.clone()).collect(),
            reversed: vec![false; schematic.elements.len()],
            added: Vec::new(),
            ties: Vec::new(),
            halves: halves.map(|e| (e.index(), format!("{}.mid", netlist.graph[e].site.to_lowercase()))).collect(),
            lines: String::new(),
            models: String::new(),
            count: 0,
            islands: Islands::default(),
        }
    }

    fn apply(&mut self, changes: &'a [Change]) {
        for change in changes {
            match change {
                Change::Law(id, law) => self.laws[*id] = law.clone(),
                Change::Reverse(id) => self.reversed[*id] = !self.reversed[*id],
                Change::Tie { from, to, ohms } => self.ties.push(Tie { from, to, ohms: *ohms }),
                Change::Add { a, b, law } => self.added.push((*a, *b, law.clone())),
            }
        }
    }

    fn write(mut self, netlist: &Netlist) -> String {
        let elements: &'a [Elem] = &self.schematic.elements;
        for (id, elem) in elements.iter().enumerate() {
            let (a, b) = if self.reversed[id] { (elem.b, elem.a) } else { (elem.a, elem.b) };
            let (a, b) = (self.name(a), self.name(b));
            let law = self.laws[id].clone();
            let spread = match (&elem.law, &law) {
                // What a fault puts in series is as many ohms as it is named with: only the part's own scatter.
                (Law::Resistor { ohms: own }, Law::Resistor { ohms }) if ohms > own => elem.spread * own / ohms,
                _ => elem.spread,
            };
            self.element(Some(id), &elem.name, (&a, &b), &law, spread);
        }
        for (index, (a, b, law)) in std::mem::take(&mut self.added).into_iter().enumerate() {
            let (a, b) = (self.name(a), self.name(b));
            self.element(None, &format!("added.{}", index + 1), (&a, &b), &law, 0.0);
        }
        for (index, tie) in std::mem::take(&mut self.ties).into_iter().enumerate() {
            let (from, less) = self.tap(tie.from, index, "from");
            let (to, still_less) = self.tap(tie.to, index, "to");
            let ohms = (tie.ohms - less - still_less).max(1e-9);
            self.resistor(&format!("touching.{}", index + 1), &from, &to, ohms, 0.0);
        }
        let names: Vec<String> = (0..self.schematic.nodes.len()).map(|node| self.name(node)).collect();
        for name in names.iter().map(String::as_str).chain(self.halves.values().map(String::as_str)) {
            if self.islands.tie(name, "0") {
                let _ = writeln!(self.lines, "Rtie{} {name} 0 {TIE_OHMS:e} $ site=tie tol=0", self.count);
                self.count += 1;
            }
        }
        let title = if netlist.title.is_empty() { "ohmward" } else { netlist.title.trim() };
        let title: String = title.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        format!("* {title}\n{}{}.options reltol=1e-6\n.op\n.end\n", self.lines, self.models)
    }

    fn name(&self, node: Node) -> String {
        if node == self.schematic.zero { "0".to_string() } else { self.schematic.nodes[node].clone() }
    }

    /// The node of a tap, and the ohms that the middle's own half-and-half already stands for.
    fn tap(&mut self, side: &[(Node, f64)], index: usize, which: &str) -> (String, f64) {
        if let [(node, _)] = side {
            return (self.name(*node), 0.0);
        }
        let ends = |elem: &Elem| side.iter().all(|(node, _)| *node == elem.a || *node == elem.b);
        let middle = self.halves.iter().find(|(id, _)| side.len() == 2 && ends(&self.schematic.elements[**id]));
        if let Some((id, name)) = middle
            && let Law::Resistor { ohms } = self.laws[*id]
        {
            return (name.clone(), ohms / 4.0);
        }
        // Any other weighted tap: a stiff divider would change the circuit, so the heaviest node stands for it.
        let heaviest = side.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(self.schematic.zero, |(node, _)| *node);
        let _ = writeln!(self.lines, "* touching.{} {which}: taken at {}", index + 1, self.name(heaviest));
        (self.name(heaviest), 0.0)
    }

    fn line(&mut self, letter: char, rest: &str, site: &str, tol: f64) {
        self.count += 1;
        let _ = writeln!(self.lines, "{letter}{} {rest} $ site={site} tol={tol}", self.count);
    }

    fn resistor(&mut self, site: &str, a: &str, b: &str, ohms: f64, tol: f64) {
        self.islands.tie(a, b);
        self.line('R', &format!("{a} {b} {ohms:.9e}"), site, tol);
    }

    fn source(&mut self, site: &str, (a, b): (&str, &str), volts: f64, ohms: f64, tol: f64) {
        let inner = format!("_{}.emf", site.to_lowercase());
        self.islands.tie(&inner, b);
        self.line('V', &format!("{inner} {b} {volts:.9e}"), site, tol);
        self.resistor(site, a, &inner, ohms, tol);
    }

    fn element(&mut self, id: Option<ElementId>, site: &str, (a, b): (&str, &str), law: &Law, tol: f64) {
        let setting =
            |control: &usize| self.spec.steps.last().and_then(|step| step.get(*control)).copied().unwrap_or(0);
        match law {
            Law::Open => {}
            Law::Resistor { ohms } => match id.and_then(|id| self.halves.get(&id)).cloned() {
                Some(middle) => {
                    self.resistor(site, a, &middle, ohms / 2.0, tol);
                    self.resistor(site, &middle, b, ohms / 2.0, tol);
                }
                None => self.resistor(site, a, b, *ohms, tol),
            },
            Law::By { .. } => {
                let settings = self.spec.steps.last().map_or(&[][..], Vec::as_slice);
                let law = law.standing(settings).clone();
                self.element(id, site, (a, b), &law, tol);
            }
            Law::Coil { ohms, .. } | Law::Solenoid { ohms, .. } | Law::PulseInput { ohms, .. } => {
                self.resistor(site, a, b, *ohms, tol);
            }
            Law::Filament { .. } | Law::Motor { .. } | Law::Cell { .. } => {
                if let Some(amps) = law.spice_current(&format!("v({a},{b})")) {
                    self.islands.tie(a, b);
                    self.line('B', &format!("{a} {b} I={amps}"), site, tol);
                }
            }
            Law::Diode { saturation, emission, series } => {
                self.islands.tie(a, b);
                let model = format!("diode{}", self.count + 1);
                let _ = writeln!(self.models, ".model {model} D(IS={saturation:.9e} N={emission:.9e} RS={series:.9e})");
                self.line('D', &format!("{a} {b} {model}"), site, tol);
            }
            Law::Source { volts, ohms } => self.source(site, (a, b), *volts, *ohms, tol),
            Law::PulseSource { low, high: None, ohms, .. } => {
                // What lets go is no mean of two volts: it is as in the level exported.
                if id.is_none_or(|id| self.sim.element_present(self.outcome, self.level, id)) {
                    self.source(site, (a, b), *low, *ohms, tol);
                }
            }
            Law::PulseSource { low, high: Some(high), ohms, .. } => {
                let (mut up, mut all) = (0.0, 0.0);
                for level in &self.outcome.levels {
                    all += level.share;
                    up += if level.pulse_high { level.share } else { 0.0 };
                }
                let share = if all > 0.0 { up / all } else { 0.0 };
                self.source(site, (a, b), low + share * (high - low), *ohms, tol);
            }
            Law::Interrupter { ohms, .. } => {
                if id.is_none_or(|id| self.sim.element_present(self.outcome, self.level, id)) {
                    self.resistor(site, a, b, *ohms, tol);
                }
            }
            Law::Contact { ohms, when } => {
                let closed = match when {
                    When::Always => true,
                    When::Setting { control, closed } => closed.contains(&setting(control)),
                    When::Fuse { .. } => id.is_none_or(|id| !self.outcome.blown.contains(&id)),
                    When::Coil { coil, make } => return self.switch(site, (a, b), *ohms, *coil, *make, tol),
                };
                if closed {
                    self.resistor(site, a, b, *ohms, tol);
                }
            }
        }
    }

    /// A relay's contact: a switch with hysteresis on |volts| of its coil.
    fn switch(&mut self, site: &str, (a, b): (&str, &str), ohms: f64, coil: ElementId, make: bool, tol: f64) {
        let Some((pull_in, drop_out)) = self.laws[coil].coil() else { return };
        let over = |id: ElementId| {
            let elem = &self.schematic.elements[id];
            format!("v({},{})", self.name(elem.a), self.name(elem.b))
        };
        let mut pull = over(coil);
        if let Some((with, ratio)) = self.laws[coil].helper().filter(|(with, _)| self.laws[*with] != Law::Open) {
            pull = format!("{pull}+{ratio:.12e}*{}", over(with));
        }
        let level = self.outcome.levels.get(self.level);
        let pulled = level.map_or(&self.outcome.pulled, |level| &level.pulled).contains(&coil);
        if pulled == make {
            self.islands.tie(a, b);
        }
        let sense = format!("_{}.sense", site.to_lowercase());
        self.islands.tie(&sense, "0");
        let sign = if make { "" } else { "-" };
        self.line('B', &format!("{sense} 0 V={sign}abs({pull})"), site, 0.0);
        let middle = (pull_in + drop_out) / 2.0 * if make { 1.0 } else { -1.0 };
        let half = ((pull_in - drop_out) / 2.0).max(1e-3);
        let model = format!("relay{}", self.count + 1);
        let _ =
            writeln!(self.models, ".model {model} SW(VT={middle:.9e} VH={half:.9e} RON={ohms:.9e} ROFF={OFF_OHMS:e})");
        let memory = if pulled == make { "ON" } else { "OFF" };
        self.line('S', &format!("{a} {b} {sense} 0 {model} {memory}"), site, tol);
    }
}

/// Which nodes hang together.
#[derive(Default)]
struct Islands {
    index: BTreeMap<String, usize>,
    parent: Vec<usize>,
}

impl Islands {
    fn id(&mut self, name: &str) -> usize {
        if let Some(&id) = self.index.get(name) {
            return id;
        }
        let id = self.parent.len();
        self.index.insert(name.to_string(), id);
        self.parent.push(id);
        id
    }

    fn root(&mut self, mut id: usize) -> usize {
        while self.parent[id] != id {
            self.parent[id] = self.parent[self.parent[id]];
            id = self.parent[id];
        }
        id
    }

    /// Joins two nodes; true if they were apart.
    fn tie(&mut self, a: &str, b: &str) -> bool {
        let (a, b) = (self.id(a), self.id(b));
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a] = b;
        a != b
    }
}
