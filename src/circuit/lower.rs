//! Netlist and catalogue into elements between nodes, once for a machine; no state, no fault yet.
//!
//! A `petgraph` node index of the netlist is a node here, an edge index an element. What a kind leaves out
//! (a figure that neither the file nor the catalogue gives) makes its element absent: the catalogue's loader
//! refuses such kinds, so that only hand-made catalogues meet it.

use super::schematic::{ControlId, ControlInfo, Elem, Law, Node, Schematic, When};
use crate::catalogue::{Action, Catalogue, Element, ElementType, FuseTable, Kind, Param};
use crate::netlist::{Netlist, Part};
use indexmap::IndexMap;

/// The control that the machine's running is.
pub const ENGINE: &str = "engine";
/// The shared control of engine oil pressure.
pub const OIL_PRESSURE: &str = "oil-pressure";

const ENGINE_SETTINGS: [&str; 3] = ["stopped", "idling", "revving"];
const ENGINE_SAY: [&str; 3] = ["stop the engine", "let the engine idle", "rev the engine up"];

/// Behind an element's name: the seat that a fault in series with it sits in, where its own law has no room for one.
pub const SEAT: &str = "-seat";
const SEAT_OHMS: f64 = 1e-4;

/// Ohms in series cannot be folded into these laws.
fn needs_seat(law: &Law) -> bool {
    match law {
        Law::Filament { .. } | Law::Motor { .. } | Law::Cell { .. } => true,
        Law::By { laws, .. } => laws.iter().any(needs_seat),
        _ => false,
    }
}

/// Lowers a machine: links first, then the elements of the parts that are fitted.
pub fn lower(netlist: &Netlist, catalogue: &Catalogue) -> Schematic {
    let mut schematic = Schematic {
        nodes: netlist.graph.node_indices().map(|n| netlist.point_name(n).to_lowercase()).collect(),
        ..Schematic::default()
    };
    for edge in netlist.graph.edge_indices() {
        let link = &netlist.graph[edge];
        let (a, b) = netlist.graph.edge_endpoints(edge).map_or((0, 0), |(a, b)| (a.index(), b.index()));
        let law = Law::Resistor { ohms: link.ohms };
        push(&mut schematic, Elem { name: link.site.clone(), part: None, a, b, law, spread: link.spread });
    }
    controls(netlist, catalogue, &mut schematic);
    let fitted: Vec<(&Part, &Kind)> = netlist
        .parts
        .values()
        .filter(|part| part.fitted)
        .filter_map(|part| Some((part, catalogue.kind(&part.kind)?)))
        .collect();
    let sources = fitted.iter().flat_map(|(_, kind)| kind.elements.values());
    // A lone source meets no current but its own.
    let charging = sources.filter(|element| element.what == ElementType::Source).count() > 1;
    for (part, kind) in fitted {
        Lowering { part, kind, charging, curves: &catalogue.fuses.curves, schematic: &mut schematic }.part();
    }
    schematic.zero = netlist.point("battery.neg").map_or_else(|| first_minus(&schematic), |n| n.index());
    schematic
}

/// The control that a part's own settings belong to: a shared one, or one called by the part.
pub fn control_name<'a>(part: &'a Part, kind: &'a Kind) -> &'a str {
    kind.control.as_ref().and_then(|control| control.shared.as_deref()).unwrap_or(&part.name)
}

/// The value of a rating of a part: what the file says, else what its kind says, in base units.
pub fn rating(part: &Part, kind: &Kind, name: &str) -> Option<f64> {
    part.ratings.get(name).map(|q| q.value).or_else(|| kind.ratings.get(name).map(|r| r.default))
}

fn first_minus(schematic: &Schematic) -> Node {
    schematic.elements.iter().find(|e| matches!(e.law, Law::Source { .. })).map_or(0, |e| e.b)
}

fn push(schematic: &mut Schematic, elem: Elem) {
    let id = schematic.elements.len();
    if let Some(part) = &elem.part {
        schematic.by_part.entry(part.clone()).or_default().push(id);
    }
    schematic.by_name.insert(elem.name.clone(), id);
    schematic.elements.push(elem);
}

/// Controls of the fitted parts in the order of the file, then what the whole machine shares.
fn controls(netlist: &Netlist, catalogue: &Catalogue, schematic: &mut Schematic) {
    let mut shared: IndexMap<String, ControlInfo> = IndexMap::new();
    let mut pulses = false;
    for part in netlist.parts.values().filter(|part| part.fitted) {
        let Some(kind) = catalogue.kind(&part.kind) else { continue };
        pulses |= kind.elements.values().any(|e| e.what == ElementType::PulseSource);
        let own = part.table.as_ref().map(|table| table.settings.keys().cloned().collect::<Vec<_>>());
        let Some(control) = &kind.control else {
            if let Some(settings) = own {
                let info = ControlInfo { settings, place: part.place.clone(), ..ControlInfo::default() };
                schematic.controls.insert(part.name.clone(), info);
            }
            continue;
        };
        let settings = own.unwrap_or_else(|| control.settings.clone());
        let named = |text: &String| text.replace("{}", &part.name);
        let info = ControlInfo {
            held: control.held.iter().filter(|h| settings.contains(h)).cloned().collect(),
            say: control.say.iter().map(|(setting, say)| (setting.clone(), named(say))).collect(),
            engine: control.engine.clone(),
            place: part.place.clone(),
            settings,
        };
        match &control.shared {
            None => {
                schematic.controls.insert(part.name.clone(), info);
            }
            Some(name) => {
                // A later part may know a setting that the first one does not.
                let entry = shared.entry(name.clone()).or_insert_with(|| ControlInfo { place: None, ..info.clone() });
                for setting in info.settings {
                    if !entry.settings.contains(&setting) {
                        entry.settings.push(setting);
                    }
                }
            }
        }
    }
    if pulses || shared.contains_key(OIL_PRESSURE) {
        let engine = shared.entry(ENGINE.to_string()).or_insert_with(|| ControlInfo {
            settings: ENGINE_SETTINGS.map(String::from).to_vec(),
            say: ENGINE_SETTINGS.iter().zip(ENGINE_SAY).map(|(s, say)| (s.to_string(), say.to_string())).collect(),
            ..ControlInfo::default()
        });
        for setting in ENGINE_SETTINGS {
            if !engine.settings.iter().any(|s| s == setting) {
                engine.settings.push(setting.to_string());
            }
        }
    }
    schematic.controls.extend(shared);
}

/// One part on its way into elements.
struct Lowering<'a> {
    part: &'a Part,
    kind: &'a Kind,
    /// Something in the machine may charge a source.
    charging: bool,
    /// How long fuses last that are no blade fuses.
    curves: &'a IndexMap<String, FuseTable>,
    schematic: &'a mut Schematic,
}

impl Lowering<'_> {
    fn part(&mut self) {
        self.table();
        // A contact may be named before the coil that moves it.
        let first = self.schematic.elements.len();
        let mut seats = Vec::new();
        let ids: IndexMap<&str, usize> =
            self.kind.elements.keys().enumerate().map(|(i, name)| (name.as_str(), first + i)).collect();
        for (name, element) in &self.kind.elements {
            let law = self.law(element, &ids).unwrap_or(Law::Open);
            let (a, mut b) = (self.node(&element.from), self.node(&element.to));
            let inner = format!("{}.{name}", self.part.name);
            let part = Some(self.part.name.clone());
            if needs_seat(&law)
                && self.kind.modes.values().any(|mode| mode.does.contains(&(name.clone(), Action::Series)))
            {
                let seat = self.node(&format!(".{name}{SEAT}"));
                let law = Law::Resistor { ohms: SEAT_OHMS };
                seats.push(Elem { name: format!("{inner}{SEAT}"), part: part.clone(), a: seat, b, law, spread: 0.0 });
                b = seat;
            }
            if let Some(spread) = self.threshold(element) {
                self.schematic.thresholds.insert(self.schematic.elements.len(), spread);
            }
            push(self.schematic, Elem { name: inner, part, a, b, law, spread: element.spread });
        }
        for seat in seats {
            push(self.schematic, seat);
        }
    }

    /// The spread of a coil's threshold, if that is a rating of the part.
    fn threshold(&self, element: &Element) -> Option<f64> {
        match element.params.get("pull-in")? {
            Param::Rating(name) => self.kind.ratings.get(name).map(|rating| rating.spread),
            _ => None,
        }
    }

    fn control(&self) -> Option<(ControlId, &[String])> {
        let name = control_name(self.part, self.kind);
        self.schematic.controls.get_full(name).map(|(id, _, info)| (id, info.settings.as_slice()))
    }

    /// The node of a pin, or of an inner node: `.name`, or a pin that this part does not have.
    fn node(&mut self, name: &str) -> Node {
        if let Some(node) = self.part.pins.get(name) {
            return node.index();
        }
        let name = format!("_{}.{}", self.part.name, name.trim_start_matches('.')).to_lowercase();
        // Inner nodes are few and stand at the end.
        if let Some(back) = self.schematic.nodes.iter().rev().take(16).position(|n| *n == name) {
            return self.schematic.nodes.len() - 1 - back;
        }
        self.schematic.nodes.push(name);
        self.schematic.nodes.len() - 1
    }

    /// Contacts of the switch's table, the part's own or the kind's: wires joined in a setting are chained in
    /// the table's order.
    fn table(&mut self) {
        let (wires, settings) = match &self.part.table {
            Some(own) => (own.wires.clone(), own.settings.clone()),
            None => (self.kind.pins.keys().cloned().collect(), self.kind.table.clone()),
        };
        let Some((control, known)) = self.control() else { return };
        let known = known.to_vec();
        let rank = |wire: &String| wires.iter().position(|w| w == wire).unwrap_or(usize::MAX);
        let mut pairs: IndexMap<(String, String), Vec<usize>> = IndexMap::new();
        for (setting, groups) in &settings {
            let Some(index) = known.iter().position(|s| s == setting) else { continue };
            for group in groups {
                let mut group = group.clone();
                group.sort_by_key(rank);
                for pair in group.windows(2) {
                    let closed = pairs.entry((pair[0].clone(), pair[1].clone())).or_default();
                    if !closed.contains(&index) {
                        closed.push(index);
                    }
                }
            }
        }
        let (ohms, spread) = self.kind.table_ohms;
        for ((from, to), closed) in pairs {
            let (low, high) = if from <= to { (&from, &to) } else { (&to, &from) };
            let name = format!("{}.{low}-{high}", self.part.name);
            let (a, b) = (self.node(&from), self.node(&to));
            let law = Law::Contact { ohms, when: When::Setting { control, closed } };
            push(self.schematic, Elem { name, part: Some(self.part.name.clone()), a, b, law, spread });
        }
    }

    /// The law of an element, in every setting of the control if it goes by it; `None` where a figure is missing.
    fn law(&self, element: &Element, ids: &IndexMap<&str, usize>) -> Option<Law> {
        if !element.params.values().any(|param| matches!(param, Param::BySetting(_))) {
            return self.law_in(element, ids, None);
        }
        let (control, settings) = self.control()?;
        let laws = (0..settings.len()).map(|setting| self.law_in(element, ids, Some(setting)));
        Some(Law::By { control, laws: laws.collect::<Option<Vec<Law>>>()? })
    }

    /// The law of an element in a setting of its control.
    fn law_in(&self, element: &Element, ids: &IndexMap<&str, usize>, setting: Option<usize>) -> Option<Law> {
        let value = |param: &Param| match param {
            Param::BySetting(table) => self.in_setting(table, setting.unwrap_or(0)),
            param => param.value(|name| rating(self.part, self.kind, name)),
        };
        let figure = |name: &str| element.params.get(name).and_then(value);
        Some(match element.what {
            ElementType::Resistor => Law::Resistor { ohms: figure("ohms")? },
            ElementType::Filament => {
                let volts = figure("volts")?;
                let amps = figure("amps").or_else(|| Some(figure("watts")? / volts))?;
                Law::Filament { volts, amps, cold: figure("cold")? }
            }
            ElementType::Diode => Law::Diode {
                saturation: figure("saturation")?,
                emission: figure("emission")?,
                series: figure("series")?,
            },
            ElementType::Contact => Law::Contact { ohms: figure("ohms")?, when: self.when(element, ids)? },
            ElementType::Source => {
                let (volts, ohms) = (figure("volts")?, figure("ohms")?);
                match figure("charge-ohms").filter(|_| self.charging) {
                    Some(charge) => Law::Cell { volts, ohms, charge },
                    None => Law::Source { volts, ohms },
                }
            }
            ElementType::Motor => {
                Law::Motor { volts: figure("volts")?, amps: figure("amps")?, stall: figure("stall")? }
            }
            ElementType::Interrupter => {
                let duty = figure("duty")?;
                let volts = figure("volts").or_else(|| rating(self.part, self.kind, "volts")).unwrap_or(12.0);
                let ohms = figure("ohms").or_else(|| Some(duty * volts / figure("amps")?))?;
                Law::Interrupter {
                    ohms,
                    hertz: figure("hertz")?,
                    duty,
                    works_volts: figure("works-volts").unwrap_or(0.0),
                    works_amps: figure("works-amps").unwrap_or(0.0),
                    volts,
                }
            }
            ElementType::Coil => {
                let (ohms, pull_in, drop_out) = (figure("ohms")?, figure("pull-in")?, figure("drop-out")?);
                match &element.helper {
                    None => Law::Coil { ohms, pull_in, drop_out },
                    Some(helper) => {
                        let theirs = self.kind.elements.get(helper)?.params.get("ohms").and_then(value)?;
                        let ratio = figure("turns").unwrap_or(1.0) * ohms / theirs;
                        Law::Solenoid { ohms, pull_in, drop_out, with: *ids.get(helper.as_str())?, ratio }
                    }
                }
            }
            ElementType::PulseSource => Law::PulseSource {
                low: figure("low")?,
                high: figure("high"),
                ohms: figure("ohms")?,
                per_turn: figure("per-turn").unwrap_or(1.0),
            },
            ElementType::PulseInput => {
                Law::PulseInput { ohms: figure("ohms")?, lower: figure("lower")?, upper: figure("upper")? }
            }
            // Both act on AC only.
            ElementType::Capacitor | ElementType::Mutual => Law::Open,
        })
    }

    /// A figure by setting; a setting that the table leaves out is as the one before it.
    fn in_setting(&self, table: &IndexMap<String, f64>, setting: usize) -> Option<f64> {
        let (_, settings) = self.control()?;
        let named = settings.iter().take(setting + 1).rev().find_map(|word| table.get(word));
        named.or_else(|| table.values().next()).copied()
    }

    fn when(&self, element: &Element, ids: &IndexMap<&str, usize>) -> Option<When> {
        if let Some(blows) = &element.blows {
            let amps = blows.value(|name| rating(self.part, self.kind, name))?;
            let curve = element.lasts.as_ref().and_then(|name| self.curves.get_index_of(name));
            return Some(When::Fuse { amps, curve: curve.map_or(0, |at| at + 1) });
        }
        if let Some((coil, make)) = &element.coil {
            return Some(When::Coil { coil: *ids.get(coil.as_str())?, make: *make });
        }
        if element.closed.is_empty() {
            return Some(When::Always);
        }
        let (control, settings) = self.control()?;
        let closed = element.closed.iter().filter_map(|word| settings.iter().position(|s| s == word)).collect();
        Some(When::Setting { control, closed })
    }
}
