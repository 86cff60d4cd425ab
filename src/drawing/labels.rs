//! The words beside what is drawn.

use super::Picture;
use super::measure::{width, wrapped};
use super::scene::{Bit, BitKind, Edge, Hub, HubKind, What};
use super::symbols::{self, Symbol};
use crate::circuit::schematic::{ElementId, Law, When};
use crate::netlist::{Proof, Wire};

/// Words beside a line are no wider than this, pixels.
const WIDE: f64 = 148.0;
/// Volts lost in a piece from which on they are written beside it.
const LOST: f64 = 0.1;

/// One line of words.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// The words.
    pub text: String,
    /// In bold.
    pub bold: bool,
    /// Ink.
    pub ink: &'static str,
    /// In small letters.
    pub small: bool,
}

impl Row {
    fn new(text: impl Into<String>) -> Row {
        Row { text: text.into(), bold: false, ink: "ink", small: false }
    }

    fn bold(text: impl Into<String>) -> Row {
        Row { bold: true, ..Row::new(text) }
    }

    /// Something beside the point.
    pub fn quiet(text: impl Into<String>) -> Row {
        Row { ink: "quiet", small: true, ..Row::new(text) }
    }

    /// Something that is wrong, or was met.
    pub fn mark(text: impl Into<String>) -> Row {
        Row { bold: true, ink: "mark", ..Row::new(text) }
    }
}

impl Picture<'_> {
    /// Size of a row's letters.
    pub fn letters(&self, row: &Row) -> f64 {
        self.rules().size(if row.small { "small" } else { "text" })
    }

    /// How wide rows are.
    pub fn wide(&self, rows: &[Row]) -> f64 {
        rows.iter().map(|row| width(&row.text, self.letters(row), row.bold)).fold(0.0, f64::max)
    }

    /// The same rows, none wider than may be.
    fn fitted(&self, rows: Vec<Row>) -> Vec<Row> {
        let fit = |row: Row| {
            let lines = wrapped(&row.text, self.letters(&row), row.bold, WIDE);
            lines.into_iter().map(move |text| Row { text, ..row.clone() }).collect::<Vec<_>>()
        };
        rows.into_iter().flat_map(fit).collect()
    }

    /// `0.31 V lost`, where that is worth a word.
    fn lost(&self, a: usize, b: usize) -> Option<Row> {
        let lost = (self.solved.at(a)? - self.solved.at(b)?).abs();
        let text = self.rules().word("lost").replace("{volts}", &said(lost));
        (lost >= LOST).then(|| Row::mark(text))
    }

    /// Beside a piece of a run.
    pub fn bit_rows(&self, bit: &Bit) -> Vec<Row> {
        let words = self.rules();
        let mut rows = match &bit.what {
            BitKind::Wire { name, broken } => {
                let mut rows = match self.machine.netlist.wires.get(name) {
                    Some(wire) => self.wire_rows(wire),
                    None => vec![Row::new(name.clone())],
                };
                rows.extend(broken.then(|| Row::mark(words.word("broken"))));
                rows
            }
            BitKind::Way { plug, way, broken } => {
                let mut rows = vec![Row::bold(format!("{plug} way {way}"))];
                rows.extend(broken.then(|| Row::mark(words.word("open"))));
                rows
            }
        };
        rows.extend(self.lost(bit.nodes[0], bit.nodes[1]));
        self.fitted(rows)
    }

    fn wire_rows(&self, wire: &Wire) -> Vec<Row> {
        let mut head = wire.colour.clone().unwrap_or_default();
        if wire.area_known {
            head.push_str(&format!(" {} mm2", short(wire.area)));
        }
        match wire.proof {
            Proof::Assumed => head.push_str(" ?"),
            Proof::Capped => head.push_str(" capped"),
            _ => {}
        }
        let head = head.trim().to_string();
        let size = self.rules().size("text");
        // A name that is made of its ends tells nothing that is not drawn; of others both go on a line if they can.
        let made = wire.name.contains('_');
        let line = format!("{head} {}", wire.name);
        if head.is_empty() {
            vec![Row::quiet(wire.name.clone())]
        } else if !made && width(&line, size, false) <= WIDE {
            vec![Row::new(line)]
        } else {
            vec![Row::new(head), Row::quiet(wire.name.clone())]
        }
    }

    /// Beside an element of a part, and its symbol.
    pub fn element_rows(&self, id: ElementId, edge: &Edge) -> (Symbol, Vec<Row>) {
        let element = &self.machine.sim.schematic().elements[id];
        let words = self.rules();
        let netlist = &self.machine.netlist;
        let part = element.part.as_ref().and_then(|part| netlist.parts.get(part));
        let kind = part.and_then(|part| self.machine.catalogue.kind(&part.kind));
        let here = self.solved.present[id] && !self.solved.blown.contains(&id);
        let needle = kind.is_some_and(|kind| kind.showings.iter().any(|showing| showing.needle))
            && matches!(element.law, Law::PulseInput { .. } | Law::Resistor { .. } | Law::By { .. });
        let symbol = symbols::of(&element.law, needle, here);
        let mut rows = vec![Row::bold(element.part.clone().unwrap_or_else(|| element.name.clone()))];
        let inside = element.name.split_once('.').map_or("", |(_, inside)| inside);
        let several = element.part.as_ref().is_some_and(|part| {
            self.machine
                .sim
                .schematic()
                .by_part
                .get(part)
                .is_some_and(|own| own.iter().filter(|&&other| !self.is_seat(other)).count() > 1)
        });
        if several {
            let pins: Vec<&str> = edge.ends.iter().filter_map(|&end| self.pin(end)).collect();
            let pins = if pins.len() == 2 { format!(", {} to {}", pins[0], pins[1]) } else { String::new() };
            let inside = if inside.contains('-') && !pins.is_empty() {
                pins[2..].to_string()
            } else {
                format!("{inside}{pins}")
            };
            rows.push(Row::quiet(inside));
        }
        let mut state: Vec<String> = Vec::new();
        if let Law::Contact { when: When::Fuse { amps, .. }, .. } = element.law {
            state.push(format!("{} A", short(amps)));
            if !here {
                state.push(words.word("blown").to_string());
            }
        } else if matches!(element.law, Law::Contact { .. }) {
            let set =
                element.part.as_ref().and_then(|part| self.solved.set.iter().find(|(control, _)| control == part));
            state.extend(set.map(|(_, setting)| setting.clone()));
            if !here {
                state.push(words.word("open").to_string());
            }
        } else if let Some(part) = part {
            state.extend(
                part.ratings
                    .values()
                    .next()
                    .map(|q| format!("{} {}", short(q.value), q.unit.symbol()).trim().to_string()),
            );
            state.extend(self.solved.shows.get(&part.name).cloned());
        }
        if !state.is_empty() {
            rows.push(Row::new(state.join(", ")));
        }
        if matches!(element.law, Law::Contact { .. } | Law::Interrupter { .. }) && here && symbol != Symbol::Horn {
            let ends = edge.ends.map(|end| self.scene.hubs[end].node);
            rows.extend(self.lost(ends[0], ends[1]));
        }
        (symbol, self.fitted(rows))
    }

    /// Beside the place of a part that is not there.
    pub fn gap_rows(&self, part: &str) -> Vec<Row> {
        self.fitted(vec![Row::bold(part), Row::quiet(self.rules().word("not-fitted"))])
    }

    /// The pin of a hub.
    fn pin(&self, hub: usize) -> Option<&str> {
        match &self.scene.hubs[hub].what {
            HubKind::Pin { pin, .. } => Some(pin),
            _ => None,
        }
    }

    /// Over a hub's bar, and under it.
    pub fn hub_words(&self, hub: &Hub) -> [String; 2] {
        let netlist = &self.machine.netlist;
        // Along a level string the volts stand at its beginning only.
        let follows = self.scene.edges.iter().any(|edge| edge.level && self.scene.hubs[edge.ends[1]].node == hub.node);
        let volts = match (&hub.what, hub.volts) {
            _ if follows => String::new(),
            (HubKind::Inner, _) | (_, None) => String::new(),
            (_, Some(volts)) => said(volts),
        };
        let name = match &hub.what {
            HubKind::Inner => String::new(),
            // A pin whose part is drawn at it needs no more than its own name.
            HubKind::Pin { part, pin } => {
                let drawn = self.scene.edges.iter().any(|edge| {
                    edge.ends.iter().any(|&end| self.scene.hubs[end].node == hub.node)
                        && match &edge.what {
                            What::Element(id) => {
                                self.machine.sim.schematic().elements[*id].part.as_deref() == Some(part)
                            }
                            What::Gap(name) => name == part,
                            _ => false,
                        }
                });
                if drawn { pin.clone() } else { format!("{part}.{pin}") }
            }
            HubKind::Stud => String::new(),
            _ => {
                netlist.graph.node_weight(petgraph::graph::NodeIndex::new(hub.node)).map_or_else(String::new, |point| {
                    if point.name.ends_with("-sleeve") { String::new() } else { point.name.clone() }
                })
            }
        };
        // Those of a stud stand with its rings.
        let elsewhere = if hub.what == HubKind::Stud { String::new() } else { self.elsewhere(hub.node) };
        [volts, if elsewhere.is_empty() { name } else { format!("{name} {elsewhere}").trim().to_string() }]
    }
}

/// Volts as a meter's range of 20 V shows them; thousandths below a tenth.
pub fn said(volts: f64) -> String {
    let text = if volts.abs() < 0.0995 { format!("{volts:.3}") } else { format!("{volts:.2}") };
    let nought = text.trim_start_matches('-').bytes().all(|b| b == b'0' || b == b'.');
    if nought { "0 V".to_string() } else { format!("{text} V") }
}

/// A figure with no more digits than it needs.
pub fn short(value: f64) -> String {
    let text = format!("{value:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_string()
}
