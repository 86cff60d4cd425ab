//! Wires: from rows, straps, the lists of grounds and feeds.

use super::super::colour::NoColour;
use super::super::fields::{Text, is_name};
use super::super::raw::{Attr, File, RawItem, RawWire, Role};
use super::Lower;
use crate::netlist::{Joint, LinkKind, PointKind, Proof, Wire};
use crate::text::problem::Problem;
use crate::text::quantity::{self, QuantityError, Unit};
use crate::text::span::Span;
use petgraph::graph::NodeIndex;

/// What a row says of its wire.
#[derive(Clone, Debug, Default)]
pub(super) struct Spec {
    pub colour: Option<String>,
    pub area: Option<f64>,
    pub length: Option<f64>,
    /// Used where neither the row nor a run tells a length.
    pub guess: Option<f64>,
    /// The whole conductor's ohms, where the row gives them.
    pub ohms: Option<f64>,
    pub proof: Proof,
    pub ends: [Option<Joint>; 2],
}

impl Lower<'_> {
    pub(super) fn all_wires(&mut self, file: &File) {
        for piece in file.pieces.iter().flatten() {
            for strap in &piece.straps {
                self.wire_row(strap);
            }
        }
        for wire in &file.wires {
            self.wire_row(wire);
        }
        for ground in &file.grounds {
            for item in &ground.items {
                self.item(item, &ground.name, false);
            }
        }
        for feed in &file.feeds {
            let out = Text { text: format!("{}.out", feed.part.name.text), span: feed.part.name.span };
            for item in &feed.items {
                self.item(item, &out, true);
            }
        }
    }

    fn wire_row(&mut self, raw: &RawWire) {
        let spec = self.spec(raw);
        let missing = |which: &str| {
            Problem::at(raw.span, format!("this wire names no {which}")).help("write FROM to TO, colour, size, length")
        };
        let (Some(from), Some(to)) = (&raw.from, &raw.to) else {
            match (&raw.from, &raw.to) {
                (Some(from), None) => {
                    self.resolve(from);
                    self.problems.push(missing("far end"));
                }
                (None, Some(to)) => {
                    self.resolve(to);
                    self.problems.push(missing("end to start from"));
                }
                _ => self.problems.push(missing("ends")),
            }
            return;
        };
        let ends = (self.resolve(from), self.resolve(to));
        if let (Some(a), Some(b)) = ends {
            let base = format!("{}_{}", self.called(from, a), self.called(to, b));
            self.connect(raw.name.as_ref(), [a, b], &base, &spec, raw.span, to);
        }
    }

    /// A pin under a ground point, or a pin on a fuse.
    fn item(&mut self, item: &RawItem, owner: &Text, feed: bool) {
        let raw = RawWire { attrs: item.attrs.clone(), span: item.span, ..RawWire::default() };
        let spec = self.spec(&raw);
        let Some(far) = self.resolve(&item.point) else { return };
        let Some(near) = self.resolve(owner) else { return };
        let far_name = self.called(&item.point, far);
        let (ends, name) = if feed {
            let feed = owner.text.trim_end_matches(".out");
            ([near, far], format!("{feed}_{far_name}"))
        } else {
            ([far, near], format!("{far_name}_{}", owner.text))
        };
        self.connect(None, ends, &name, &spec, item.span, &item.point);
    }

    /// A wire between two different points, by its own name or by one made of its ends.
    fn connect(&mut self, name: Option<&Text>, [a, b]: [NodeIndex; 2], base: &str, spec: &Spec, span: Span, at: &Text) {
        if a == b {
            let says = format!("this wire begins and ends at {}", self.net.point_name(a));
            self.problems.push(Problem::at(at.span, says).help("name the point at its other end"));
            return;
        }
        let name = match name {
            Some(name) if is_name(&name.text) => {
                let ours = self.names.written(&name.text) == Some(name.text.as_str());
                if !ours || self.net.wires.contains_key(&name.text) {
                    // A duplicate, already told.
                    return;
                }
                name.text.clone()
            }
            _ => self.names.made(base, span),
        };
        self.add_wire(&name, [a, b], spec, span);
    }

    /// A point as part of a wire's name: as the row calls it, dots as `-`; a pin called by a sign (`+`) by its name.
    fn called(&self, text: &Text, node: NodeIndex) -> String {
        let written = text.text.replace(['.', '/', ' '], "-");
        if is_name(&written) { written } else { self.net.point_name(node).replace('.', "-") }
    }

    /// Makes the wire's two conductor points and three links.
    pub(super) fn add_wire(&mut self, name: &str, [from, to]: [NodeIndex; 2], spec: &Spec, span: Span) {
        let data = &self.catalogue.wire;
        let area = spec.area.unwrap_or(data.default_area).max(0.01);
        let known = spec
            .length
            .or_else(|| self.run_between(from, to))
            .or_else(|| self.loom_runs.get(&name.to_lowercase()).copied());
        let default = if data.default_length > 0.0 { data.default_length } else { 1.0 };
        let length = known.or(spec.guess).unwrap_or(default);
        let spread = if known.is_some() || spec.ohms.is_some() { data.spread } else { data.guessed_spread };
        // Half of it lies at either end; what a row says its ohms are, it has.
        let warmed = 0.5 * (self.warmed(from) + self.warmed(to));
        let data = &self.catalogue.wire;
        let ohms = spec.ohms.unwrap_or(warmed * data.resistivity * data.lay.max(1.0) * length / area);
        let joints = [self.joint_at(from, spec.ends[0]), self.joint_at(to, spec.ends[1])];
        let mut ends = [from, to];
        for (i, (end, letter)) in [(from, 'a'), (to, 'b')].into_iter().enumerate() {
            let what = PointKind::Conductor { wire: name.to_owned(), end: letter };
            let (probeable, place) = (self.conductor_probeable(end, joints[i]), self.net.graph[end].place.clone());
            ends[i] = self.point(&format!("{name}.{letter}"), what, probeable, place);
        }
        let joint = |lower: &mut Self, i: usize, at: NodeIndex, letter: char| {
            let (ohms, spread) = lower.joint_data(joint_name(joints[i]));
            lower.link(at, ends[i], &format!("{name}.{letter}"), LinkKind::Joint(joints[i]), ohms, spread)
        };
        let first = joint(self, 0, from, 'a');
        let middle = self.link(ends[0], ends[1], name, LinkKind::Conductor, ohms.max(1e-6), spread);
        let last = joint(self, 1, to, 'b');
        let wire = Wire {
            name: name.to_owned(),
            from,
            to,
            ends,
            links: [first, middle, last],
            colour: spec.colour.clone(),
            area,
            area_known: spec.area.is_some(),
            length,
            length_known: known.is_some(),
            proof: spec.proof,
            span,
        };
        self.net.wires.insert(name.to_owned(), wire);
        self.crimp_into(from, name, 'a', span);
        self.crimp_into(to, name, 'b', span);
        if spec.proof == Proof::NotFitted {
            self.not_fitted(to);
        }
    }

    /// `not fitted` on a row speaks of the load at the wire's far end.
    fn not_fitted(&mut self, end: NodeIndex) {
        if let PointKind::Pin { part, .. } = &self.net.graph[end].what
            && let Some(part) = self.net.parts.get_mut(part)
        {
            part.fitted = false;
        }
    }

    /// A wire that ends in a plug's cavity is crimped there.
    fn crimp_into(&mut self, end: NodeIndex, wire: &str, letter: char, span: Span) {
        let PointKind::Way { plug, half, way } = &self.net.graph[end].what else { return };
        let index = usize::from(*half == 'b');
        if let Some(way) = self.net.plugs.get_mut(plug).and_then(|plug| plug.ways.get_mut(way)) {
            match &way.crimped[index] {
                None => way.crimped[index] = Some((wire.to_owned(), letter)),
                Some((first, _)) => {
                    let says = format!("{} has two wires in it, {first} and {wire}", self.net.graph[end].name);
                    let warning =
                        Problem::at(span, says).help("write none at one of the two rows if they are one wire");
                    self.warnings.push(warning);
                }
            }
        }
    }

    /// The joint at a wire's end, by what it lands on unless the row says another.
    fn joint_at(&self, end: NodeIndex, told: Option<Joint>) -> Joint {
        if let Some(joint) = told {
            return joint;
        }
        match &self.net.graph[end].what {
            PointKind::Stud | PointKind::Piece => Joint::Ring,
            PointKind::Sleeve => {
                let name = &self.net.graph[end].name;
                self.net.sleeves.get(name).map_or(Joint::CrimpSleeve, |sleeve| sleeve.joint)
            }
            PointKind::Pin { part, .. } if self.is_battery(part) => Joint::Clamp,
            PointKind::Pin { .. } | PointKind::Way { .. } | PointKind::Conductor { .. } => Joint::Crimp,
        }
    }

    /// A battery is what has a source inside and is called one; its posts take clamps.
    fn is_battery(&self, part: &str) -> bool {
        let Some(kind) = self.net.parts.get(part).and_then(|part| self.catalogue.kind(&part.kind)) else {
            return false;
        };
        let called = std::iter::once(&kind.name).chain(&kind.also).any(|name| name.to_lowercase().ends_with("battery"));
        called && kind.elements.values().any(|e| e.what == crate::catalogue::ElementType::Source)
    }

    /// Can a probe reach the conductor behind a terminal? At a plug from the wire side; else as the joint allows.
    fn conductor_probeable(&self, end: NodeIndex, joint: Joint) -> bool {
        match self.net.graph[end].what {
            PointKind::Way { .. } => true,
            PointKind::Sleeve => false,
            _ => match self.catalogue.joints.get(joint_name(joint)) {
                Some(data) => data.probeable,
                None => matches!(joint, Joint::Ring | Joint::Clamp),
            },
        }
    }

    /// What the place of a point does to copper there.
    fn warmed(&self, at: NodeIndex) -> f64 {
        let place = self.net.graph[at].place.as_ref().and_then(|name| self.net.places.get(name));
        place.and_then(|place| place.warm).map_or(1.0, |celsius| self.catalogue.wire.warmed(celsius))
    }

    fn run_between(&self, a: NodeIndex, b: NodeIndex) -> Option<f64> {
        let place = |node: NodeIndex| self.net.graph[node].place.as_ref().map(|p| p.to_lowercase());
        self.net.runs.get(&(place(a)?, place(b)?)).copied()
    }

    /// What the fields of a row say.
    pub(super) fn spec(&mut self, raw: &RawWire) -> Spec {
        let mut spec = Spec::default();
        for attr in &raw.attrs {
            self.attr(attr, &mut spec);
        }
        if !raw.ends.is_empty() {
            if raw.ends.len() != 2 {
                self.problems.push(Problem::at(raw.ends[0].span, "ends takes two joints").help("ends: [crimp, ring]"));
            }
            for (i, text) in raw.ends.iter().take(2).enumerate() {
                spec.ends[i] = end_joint(&text.text);
                if spec.ends[i].is_none() {
                    let says = format!("\"{}\" is no joint", text.text);
                    self.stranger(text, says, JOINTS.iter().copied(), "joints");
                }
            }
        }
        spec
    }

    fn attr(&mut self, attr: &Attr, spec: &mut Spec) {
        let text = &attr.text;
        match attr.role {
            Role::Colour => spec.colour = self.colour(text),
            Role::Size => spec.area = self.amount(text, Unit::SquareMillimetre, "1.5 mm2, 16 AWG"),
            Role::Length | Role::Stub => spec.length = self.amount(text, Unit::Metre, "1.6 m"),
            Role::Ohms => spec.ohms = self.amount(text, Unit::Ohm, "1.5 ohm"),
            Role::Proof => {
                if let Some(proof) = self.proof(text) {
                    spec.proof = proof;
                }
            }
            Role::Any | Role::Place | Role::Joint => self.field(text, spec),
        }
    }

    /// A field of a short row: its content tells what it is.
    fn field(&mut self, text: &Text, spec: &mut Spec) {
        if text.text.is_empty() {
            self.problems
                .push(Problem::at(text.span, "there is nothing between two commas").help("take one comma out"));
            return;
        }
        if let Some(proof) = proof_word(&text.text) {
            spec.proof = proof;
            return;
        }
        match quantity::parse(&text.text) {
            Ok(q) => {
                let slot = match q.unit {
                    Unit::Metre => &mut spec.length,
                    Unit::SquareMillimetre => &mut spec.area,
                    Unit::Ohm => &mut spec.ohms,
                    unit => {
                        let says = match unit {
                            Unit::One => format!("\"{}\" has no unit", text.text),
                            _ => format!("a wire has no figure in {}", unit.symbol()),
                        };
                        self.problems.push(
                            Problem::at(text.span, says)
                                .help("a wire has a length (1.6 m), a size (1.5 mm2, 16 AWG), ohms"),
                        );
                        return;
                    }
                };
                if slot.is_some() {
                    self.problems.push(
                        Problem::at(text.span, format!("\"{}\" is said twice of this wire", text.text))
                            .help("take one out"),
                    );
                    return;
                }
                *slot = Some(q.value);
                self.believable(text, q);
            }
            Err(QuantityError::NoNumber) => match self.colours.read(&text.text, text) {
                Ok(colour) if spec.colour.is_none() => spec.colour = Some(colour),
                Ok(_) => {
                    let says = format!("\"{}\" is a second colour", text.text);
                    self.problems.push(Problem::at(text.span, says).help("write a stripe behind a slash: black/white"));
                }
                Err(NoColour::Undeclared(problem)) => self.problems.push(problem),
                Err(NoColour::Stranger) => {
                    let says = format!("\"{}\" is no colour, size, length or proof mark", text.text);
                    let known: Vec<String> =
                        self.colours.words().map(str::to_owned).chain(PROOFS.iter().map(|p| (*p).to_owned())).collect();
                    let help = crate::text::words::nearest(&text.text, known.iter().map(String::as_str)).map_or_else(
                        || {
                            "after the ends come: colour, size (1.5 mm2), length (1.6 m), proof (?, paper, beep, ok)"
                                .to_owned()
                        },
                        |near| format!("nearest: {near}"),
                    );
                    self.problems.push(Problem::at(text.span, says).help(help));
                }
            },
            Err(error) => self.bad_quantity(text, &error, "1.6 m, 1.5 mm2, 16 AWG"),
        }
    }

    pub(super) fn colour(&mut self, text: &Text) -> Option<String> {
        match self.colours.read(&text.text, text) {
            Ok(colour) => Some(colour),
            Err(NoColour::Undeclared(problem)) => {
                self.problems.push(problem);
                None
            }
            Err(NoColour::Stranger) => {
                let problem = self.colours.stranger(text);
                self.problems.push(problem);
                None
            }
        }
    }

    pub(super) fn proof(&mut self, text: &Text) -> Option<Proof> {
        let proof = proof_word(&text.text);
        if proof.is_none() {
            let says = format!("\"{}\" is no proof mark", text.text);
            self.stranger(text, says, PROOFS.iter().copied(), "proof marks");
        }
        proof
    }
}

/// Joints at a wire's ends, as a row may name them.
pub(in crate::wiring) const JOINTS: &[&str] = &["crimp", "solder", "ring", "clamp", "crimp sleeve", "twist"];

/// Proof marks.
pub(in crate::wiring) const PROOFS: &[&str] = &["?", "paper", "beep", "ok", "not fitted", "capped"];

/// What a proof mark says, if it is one.
pub(in crate::wiring) fn proof_word(text: &str) -> Option<Proof> {
    Some(match text.to_lowercase().as_str() {
        "?" | "assumed" => Proof::Assumed,
        "paper" => Proof::Paper,
        "beep" | "beeped" => Proof::Beep,
        "ok" => Proof::Loaded,
        "not fitted" | "not-fitted" => Proof::NotFitted,
        "capped" => Proof::Capped,
        _ => return None,
    })
}

fn end_joint(text: &str) -> Option<Joint> {
    match text.to_lowercase().as_str() {
        "crimp" => Some(Joint::Crimp),
        "ring" => Some(Joint::Ring),
        "clamp" => Some(Joint::Clamp),
        "solder" | "soldered" => Some(Joint::Solder),
        other => super::parts::sleeve_joint(other),
    }
}

/// The catalogue's name of a joint.
fn joint_name(joint: Joint) -> &'static str {
    match joint {
        Joint::Crimp => "crimp",
        Joint::Solder => "solder",
        Joint::Ring => "ring",
        Joint::Clamp => "clamp",
        Joint::CrimpSleeve => "crimp-sleeve",
        Joint::Twist => "twist",
    }
}
