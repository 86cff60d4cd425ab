//! Makes points, links and parts of the raw rows and collects all that makes no sense.
//!
//! Order: places and names first, so that a row may name what stands further down; then points (pieces, parts,
//! grounds, sleeves, plugs); then the wires between them; then what speaks of wires (looms, recent work).

mod names;
mod parts;
mod plugs;
mod rest;
mod wires;

use super::colour::Colours;
use super::fields::Text;
use super::raw::File;
use crate::catalogue::Catalogue;
use crate::netlist::{Link, LinkKind, Netlist, Point, PointKind};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Quantity, QuantityError, Unit};
use crate::text::span::Source;
use indexmap::{IndexMap, IndexSet};
use names::Names;
pub(super) use parts::{SLEEVES, sleeve_joint};
use petgraph::graph::{EdgeIndex, NodeIndex};
pub(super) use wires::{JOINTS, PROOFS, proof_word};

/// The lowering's state.
struct Lower<'a> {
    source: &'a Source,
    catalogue: &'a Catalogue,
    colours: Colours<'a>,
    net: Netlist,
    problems: Vec<Problem>,
    warnings: Vec<Problem>,
    names: Names,
    /// Parts whose kind is not known, in lower case: their pins raise no further problems.
    dead: IndexSet<String>,
    /// Metres of the loom that a wire (lower case) is in.
    loom_runs: IndexMap<String, f64>,
}

/// Lowers a file: netlist, problems, warnings.
pub(super) fn lower(source: &Source, catalogue: &Catalogue, file: &File) -> (Netlist, Vec<Problem>, Vec<Problem>) {
    let mut problems = Vec::new();
    let colours = Colours::new(catalogue, &file.colours, &mut problems);
    let mut lower = Lower {
        source,
        catalogue,
        colours,
        net: Netlist::default(),
        problems,
        warnings: Vec::new(),
        names: Names::default(),
        dead: file.lost.iter().map(Text::lower).collect(),
        loom_runs: IndexMap::new(),
    };
    lower.net.title = file.machine.as_ref().map_or_else(|| "machine".to_owned(), |t| t.text.clone());
    lower.places(file);
    lower.declare(file);
    lower.pieces(file);
    lower.parts(file);
    lower.grounds(file);
    lower.sleeves(file);
    lower.plug_points(file);
    lower.runs(file);
    lower.all_wires(file);
    lower.plug_wires(file);
    lower.looms(file);
    lower.recent(file);
    lower.bench(file);
    (lower.net, lower.problems, lower.warnings)
}

impl Lower<'_> {
    fn point(&mut self, name: &str, what: PointKind, probeable: bool, place: Option<String>) -> NodeIndex {
        let node = self.net.graph.add_node(Point { name: name.to_owned(), what, probeable, place });
        self.net.points.entry(name.to_lowercase()).or_insert(node);
        node
    }

    fn link(&mut self, a: NodeIndex, b: NodeIndex, site: &str, what: LinkKind, ohms: f64, spread: f64) -> EdgeIndex {
        let edge = self.net.graph.add_edge(a, b, Link { site: site.to_owned(), what, ohms, spread });
        self.net.links.entry(site.to_lowercase()).or_insert(edge);
        edge
    }

    /// Healthy ohms and spread of a joint, a mated contact or a seat.
    fn joint_data(&self, name: &str) -> (f64, f64) {
        self.catalogue.joints.get(name).map_or((LEAST_OHMS, 0.0), |j| (j.ohms.max(LEAST_OHMS), j.spread))
    }

    /// A declared place, by its name as declared.
    fn place(&mut self, text: &Text) -> Option<String> {
        if let Some(name) = self.find_place(&text.text) {
            return Some(name);
        }
        let known: Vec<String> = self.net.places.keys().cloned().collect();
        self.stranger(text, format!("there is no place \"{}\"", text.text), known.iter().map(String::as_str), "places");
        let near = crate::text::words::nearest(&text.text, known.iter().map(String::as_str));
        if let Some(help) = self.problems.last_mut().and_then(|problem| problem.help.as_mut())
            && near.is_none()
            && super::fields::is_name(&text.text)
        {
            help.push_str(&format!("; a new one goes under places: {}: easy", text.text));
        }
        None
    }

    fn find_place(&self, text: &str) -> Option<String> {
        self.net.places.keys().find(|name| name.eq_ignore_ascii_case(text)).cloned()
    }

    /// An unknown word: the nearest of the known ones is the way out, else the list of them.
    fn stranger<'k>(&mut self, at: &Text, says: String, known: impl Iterator<Item = &'k str>, what: &str) {
        let known: Vec<&str> = known.collect();
        let help = match crate::text::words::nearest(&at.text, known.iter().copied()) {
            Some(near) => format!("nearest: {near}"),
            None if known.is_empty() => format!("the file names no {what} yet"),
            None if known.len() <= 12 => format!("{what}: {}", known.join(", ")),
            None => format!("look under {what} in the file"),
        };
        self.problems.push(Problem::at(at.span, says).help(help));
    }

    /// A quantity of this unit, above zero and believable.
    fn amount(&mut self, text: &Text, unit: Unit, example: &str) -> Option<f64> {
        match quantity::parse(&text.text) {
            Ok(q) if q.unit == unit => self.believable(text, q),
            Ok(q) => {
                let after = self.source.text.get(text.span.end..).unwrap_or("");
                if q.unit == Unit::One
                    && after.strip_prefix(',').is_some_and(|s| s.starts_with(|c: char| c.is_ascii_digit()))
                {
                    // In braces a decimal comma makes a key of the decimals, and that has been told.
                    return None;
                }
                let says = if q.unit == Unit::One {
                    format!("\"{}\" has no unit", text.text)
                } else {
                    format!("\"{}\" is in {}, not in {}", text.text, q.unit.symbol(), unit.symbol())
                };
                self.problems.push(Problem::at(text.span, says).help(format!("write it like this: {example}")));
                None
            }
            Err(error) => {
                self.bad_quantity(text, &error, example);
                None
            }
        }
    }

    fn believable(&mut self, text: &Text, q: Quantity) -> Option<f64> {
        let most = match q.unit {
            Unit::Metre => 1000.0,
            Unit::SquareMillimetre => 1000.0,
            Unit::Volt => 1e5,
            Unit::Amp | Unit::Watt | Unit::AmpHour => 1e5,
            _ => 1e9,
        };
        let zero = matches!(q.unit, Unit::Celsius | Unit::One | Unit::Minute | Unit::Second);
        if q.value > most || (q.value < 1e-9 && !zero) {
            let says =
                format!("\"{}\" cannot be: {}", text.text, if q.value > most { "too much" } else { "it is zero" });
            self.problems.push(Problem::at(text.span, says).help("look at the figure and its unit"));
            return None;
        }
        Some(q.value)
    }

    fn bad_quantity(&mut self, text: &Text, error: &QuantityError, example: &str) {
        let problem = Problem::at(text.span, format!("\"{}\": {error}", text.text));
        self.problems.push(match error {
            QuantityError::DecimalComma(_) => problem.help("numbers take a point, 1.6 m"),
            QuantityError::Negative | QuantityError::NotFinite => problem.help("look at the figure"),
            _ => problem.help(format!("write it like this: {example}")),
        });
    }
}

/// No joint is better than this, so that no link is a short to the arithmetic.
const LEAST_OHMS: f64 = 1e-4;
