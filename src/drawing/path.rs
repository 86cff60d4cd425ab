//! One circuit from feed to ground, for a terminal: piece by piece, with the volts along it.

use super::circuits::Finder;
use super::labels::{said, short};

use super::state::Solved;
use crate::circuit::schematic::{ElementId, Law, Node, When};
use crate::diagnosis::machine::Machine;
use crate::netlist::{LinkKind, PointKind, Proof};
use petgraph::graph::{EdgeIndex, NodeIndex};
use serde_json::{Value, json};

/// A drop from which on it is marked, where nothing should drop, V.
const LOST: f64 = 0.1;
/// Columns of a terminal that is not asked.
const WIDE: usize = 80;

/// One circuit, from feed to ground.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// The part that it is the circuit of.
    pub part: String,
    /// What the part shows, if anything.
    pub shows: Option<String>,
    /// Where it begins.
    pub from: String,
    /// Volts there.
    pub volts: Option<f64>,
    /// Piece by piece; empty if there is no way through the part.
    pub pieces: Vec<Piece>,
}

/// A piece of a way.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// What it is, for people: `red 5.26 mm2`, `plug P9 way 4`, `horn, 3.5 A`.
    pub what: String,
    /// Its name: `W7`, `P9.4`, `horn`, `G1`.
    pub site: String,
    /// Where it ends.
    pub to: String,
    /// Volts there; `None` where nothing holds it.
    pub volts: Option<f64>,
    /// Volts over it.
    pub lost: Option<f64>,
    /// Is it there to take volts: a load?
    pub load: bool,
    /// It does not pass: open, blown, broken.
    pub parted: bool,
}

/// What a word of the text means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// The heading.
    Head,
    /// Volts.
    Volts,
    /// Volts lost where none should be, or no passage.
    Lost,
    /// Something beside the point.
    Aside,
}

/// The ways of these parts; of all that show something and have no control, if none is named.
pub fn paths(machine: &Machine, solved: &Solved, parts: &[String]) -> Vec<Way> {
    let finder = Finder::new(machine, solved);
    let shows = |part: &&String| {
        let kind = machine.netlist.parts.get(*part).and_then(|part| machine.catalogue.kind(&part.kind));
        kind.is_some_and(|kind| !kind.showings.is_empty() && kind.control.is_none() && !kind.is_fuse())
    };
    let all: Vec<String> = if parts.is_empty() {
        machine.netlist.parts.keys().filter(shows).filter(|part| finder.through(part).is_some()).cloned().collect()
    } else {
        parts.to_vec()
    };
    all.into_iter().map(|part| way(machine, solved, &finder, part)).collect()
}

fn way(machine: &Machine, solved: &Solved, finder: &Finder, part: String) -> Way {
    let shows = solved.shows.get(&part).cloned();
    let Some((start, steps)) = finder.through(&part) else {
        return Way { part, shows, from: String::new(), volts: None, pieces: Vec::new() };
    };
    let mut pieces: Vec<Piece> = Vec::new();
    let mut before = start;
    for (id, node) in steps {
        let (site, what, load) = named(machine, id);
        let volts = solved.at(node);
        let lost = solved.at(before).zip(volts).map(|(a, b)| a - b);
        let parted = !solved.present[id];
        match pieces.last_mut().filter(|last| last.site == site) {
            Some(last) => {
                (last.to, last.volts) = (name(machine, node), volts);
                last.lost = last.lost.zip(lost).map(|(a, b)| a + b);
                last.load |= load;
                last.parted |= parted;
            }
            None => pieces.push(Piece { what, site, to: name(machine, node), volts, lost, load, parted }),
        }
        before = node;
    }
    Way { part, shows, from: name(machine, start), volts: solved.at(start), pieces }
}

/// Site and words of an element, and whether it is a load.
fn named(machine: &Machine, id: ElementId) -> (String, String, bool) {
    let netlist = &machine.netlist;
    let element = &machine.sim.schematic().elements[id];
    if let Some(part) = &element.part {
        let known = netlist.parts.get(part);
        let rating = known.and_then(|part| part.ratings.values().next());
        let figure = match element.law {
            Law::Contact { when: When::Fuse { amps, .. }, .. } => Some(format!("{} A", short(amps))),
            _ => rating.map(|q| format!("{} {}", short(q.value), q.unit.symbol()).trim().to_string()),
        };
        let kind = known.map(|part| part.kind.clone()).filter(|kind| !part.contains(kind.as_str()));
        let what: Vec<String> = [Some(part.clone()), kind, figure].into_iter().flatten().collect();
        let load =
            !matches!(element.law, Law::Contact { .. } | Law::Interrupter { hertz: ..=20.0, .. } | Law::Diode { .. });
        return (part.clone(), what.join(", "), load);
    }
    let link = &netlist.graph[EdgeIndex::new(id)];
    match link.what {
        LinkKind::Mated => (link.site.clone(), format!("plug {}", link.site.replacen('.', " way ", 1)), false),
        LinkKind::Seat => (link.site.clone(), format!("bolt {}", link.site), false),
        LinkKind::Conductor | LinkKind::Joint(_) => {
            let wire = match link.what {
                LinkKind::Conductor => link.site.as_str(),
                _ => link.site.rsplit_once('.').map_or(link.site.as_str(), |(wire, _)| wire),
            };
            let Some(known) = netlist.wires.get(wire) else { return (wire.to_string(), wire.to_string(), false) };
            let size = known.area_known.then(|| format!("{} mm2", short(known.area)));
            let proof = (known.proof == Proof::Assumed).then(|| "?".to_string());
            let words: Vec<String> = [Some(known.colour.clone().unwrap_or_else(|| "wire".into())), size, proof]
                .into_iter()
                .flatten()
                .collect();
            (wire.to_string(), words.join(" "), false)
        }
    }
}

/// A node for people.
fn name(machine: &Machine, node: Node) -> String {
    match machine.netlist.graph.node_weight(NodeIndex::new(node)) {
        Some(point) if matches!(point.what, PointKind::Sleeve) && point.name.ends_with("-sleeve") => {
            "its sleeve".into()
        }
        Some(point) => point.name.clone(),
        None => "inside".into(),
    }
}

impl Way {
    /// For scripts.
    pub fn to_json(&self) -> Value {
        let round = |volts: Option<f64>| volts.map(|v| libm::round(v * 1000.0) / 1000.0);
        let pieces: Vec<Value> = self
            .pieces
            .iter()
            .map(|piece| {
                json!({
                    "site": piece.site, "what": piece.what, "to": piece.to, "volts": round(piece.volts),
                    "lost": round(piece.lost), "load": piece.load, "parted": piece.parted,
                })
            })
            .collect();
        json!({"part": self.part, "shows": self.shows, "from": self.from, "volts": round(self.volts), "pieces": pieces})
    }
}

/// The way in lines of 80 columns at most: volts reached, what it is and where it leads, volts lost in it.
pub fn lines(way: &Way, paint: impl Fn(Ink, &str) -> String) -> Vec<String> {
    let shows = way.shows.as_ref().map_or_else(String::new, |shows| format!(" ({shows})"));
    let mut out = vec![paint(Ink::Head, &cut(&format!("{}{shows}, from feed to ground", way.part), WIDE))];
    if way.pieces.is_empty() {
        out.push("  no way leads from battery plus through it to battery minus: a wire is missing in the file".into());
        return out;
    }
    let volts = |volts: Option<f64>| volts.map_or_else(|| "not held".to_string(), said);
    out.push(format!("  {}  {}", paint(Ink::Volts, &format!("{:>8}", volts(way.volts))), cut(&way.from, 50)));
    for piece in &way.pieces {
        let mark = if piece.parted {
            "X"
        } else if piece.load {
            "#"
        } else {
            "|"
        };
        let mut text = format!("{mark} {}", piece.what);
        if piece.to != "its sleeve" && piece.to != "inside" {
            text.push_str(&format!(" to {}", piece.to));
        }
        let lost = match (piece.parted, piece.lost) {
            (true, _) => "open".to_string(),
            (false, None) => String::new(),
            (false, Some(lost)) if lost.abs() < 0.0005 => String::new(),
            (false, Some(lost)) if lost.abs() < LOST => format!("{:.0} mV", lost * 1000.0),
            (false, Some(lost)) => said(lost),
        };
        let bad = piece.parted || (!piece.load && piece.lost.is_some_and(|lost| lost.abs() >= LOST));
        let lost = format!("{lost:>8}");
        let lost = if bad { paint(Ink::Lost, &lost) } else { paint(Ink::Aside, &lost) };
        let text = cut(&text, WIDE - 22);
        let blank = " ".repeat((WIDE - 22).saturating_sub(text.chars().count()));
        let line = format!("  {}  {text}{blank}{lost}", paint(Ink::Volts, &format!("{:>8}", volts(piece.volts))));
        out.push(line.trim_end().to_string());
    }
    out
}

/// No longer than so many characters.
fn cut(text: &str, wide: usize) -> String {
    if text.chars().count() <= wide {
        return text.to_string();
    }
    text.chars().take(wide.saturating_sub(1)).chain(['…']).collect()
}
