//! Plugs: a row stands for stub, sleeve, new wire, crimp, mated contact and the same again on the other half.

use super::super::fields::{Text, is_name};
use super::super::raw::{Attr, File, RawPlug, RawWay, Role};
use super::Lower;
use super::names::What;
use super::parts::sleeve_joint;
use super::wires::{Spec, proof_word};
use crate::netlist::{Joint, LinkKind, Plug, PointKind, Way};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use indexmap::IndexMap;
use petgraph::graph::NodeIndex;

/// Metres of old wire left at a sleeve, unless told.
const STUB: f64 = 0.3;

/// What is known of a plug's half.
#[derive(Clone, Debug)]
struct Half {
    place: Option<String>,
    /// The wire added on this half.
    length: Option<f64>,
    area: Option<f64>,
    joint: Joint,
    /// Old wire left at the sleeve, and its size.
    stub: Option<f64>,
    stub_area: Option<f64>,
    /// The added wire's colour, where a way says it.
    colour: Option<String>,
}

impl Lower<'_> {
    /// Points of all ways, so that rows may name other plugs' ways.
    pub(super) fn plug_points(&mut self, file: &File) {
        for raw in &file.plugs {
            if self.names.what(&raw.name.text) != Some(What::Plug) || self.net.plugs.contains_key(&raw.name.text) {
                continue;
            }
            let name = raw.name.text.clone();
            let places = [0, 1].map(|i| self.half_place(raw, i));
            let (ohms, spread) = self.joint_data("mated");
            let mut ways: IndexMap<String, Way> = IndexMap::new();
            for row in &raw.ways {
                let way = row.way.text.clone();
                if !is_name(&way) {
                    let says = format!("\"{way}\" is no name for a way");
                    self.problems.push(
                        Problem::at(row.way.span, says)
                            .help("a row begins with the way's number: 1, orange, same, FROM, TO"),
                    );
                    continue;
                }
                if let Some((_, first)) = ways.iter().find(|(key, _)| key.eq_ignore_ascii_case(&way)) {
                    let line = self.source.line(first.span);
                    let says = format!("{name} has way {way} twice, first in line {line}");
                    self.problems.push(Problem::at(row.way.span, says).help("look at the number moulded on the plug"));
                    continue;
                }
                let halves = ['a', 'b'].map(|half| {
                    let what = PointKind::Way { plug: name.clone(), half, way: way.clone() };
                    let place = places[usize::from(half == 'b')].clone();
                    self.point(&format!("{name}{half}.{way}"), what, true, place)
                });
                let link = self.link(halves[0], halves[1], &format!("{name}.{way}"), LinkKind::Mated, ohms, spread);
                ways.insert(way, Way { halves, link, crimped: [None, None], span: row.span });
            }
            let is = raw.is.as_ref().map(|t| t.text.clone());
            self.net.plugs.insert(name.clone(), Plug { name, is, places, ways, span: raw.name.span });
        }
    }

    /// The wires and sleeves of all rows.
    pub(super) fn plug_wires(&mut self, file: &File) {
        let mut done: Vec<&str> = Vec::new();
        for raw in &file.plugs {
            if done.contains(&raw.name.text.as_str()) || !self.net.plugs.contains_key(&raw.name.text) {
                continue;
            }
            done.push(&raw.name.text);
            let halves = [self.half(raw, 0), self.half(raw, 1)];
            let mut seen: Vec<String> = Vec::new();
            for row in &raw.ways {
                let way = row.way.lower();
                if is_name(&way) && !seen.contains(&way) {
                    seen.push(way);
                    self.way_row(raw, row, &halves);
                }
            }
        }
    }

    /// The place of a half: the field that is neither a figure nor a joint. Its problems are told in [`Self::half`].
    fn half_place(&self, raw: &RawPlug, index: usize) -> Option<String> {
        raw.halves[index]
            .iter()
            .filter(|a| matches!(a.role, Role::Any | Role::Place))
            .find_map(|a| self.find_place(&a.text.text))
    }

    fn half(&mut self, raw: &RawPlug, index: usize) -> Half {
        let mut half = Half {
            place: None,
            length: None,
            area: None,
            joint: Joint::CrimpSleeve,
            stub: None,
            stub_area: None,
            colour: None,
        };
        for attr in &raw.halves[index] {
            let text = &attr.text;
            match attr.role {
                Role::Place => half.place = self.place(text),
                Role::Length => half.length = self.amount(text, Unit::Metre, "1.6 m"),
                Role::Stub => self.stub(text, &mut half),
                Role::Size => half.area = self.amount(text, Unit::SquareMillimetre, "1.5 mm2"),
                Role::Joint => match sleeve_joint(&text.text) {
                    Some(joint) => half.joint = joint,
                    None => self.no_joint(text),
                },
                _ => self.half_field(text, &mut half),
            }
        }
        // Unless somebody says otherwise the old wire is as thick as the one added.
        half.stub_area = half.stub_area.or(half.area);
        half
    }

    fn half_field(&mut self, text: &Text, half: &mut Half) {
        if let Some(joint) = sleeve_joint(&text.text) {
            half.joint = joint;
            return;
        }
        if let Some(rest) = text.text.to_ascii_lowercase().strip_prefix("stub ") {
            let stub = text.part(self.source, text.text.len() - rest.len(), text.text.len());
            self.stub(&stub, half);
            return;
        }
        if text.text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '#'))
            && self.find_place(&text.text).is_none()
        {
            let unit = quantity::parse(&text.text).map_or(Unit::Metre, |q| q.unit);
            if unit == Unit::SquareMillimetre {
                half.area = self.amount(text, unit, "1.5 mm2");
            } else {
                half.length = self.amount(text, Unit::Metre, "1.6 m");
            }
            return;
        }
        if quantity::parse(&text.text).is_ok_and(|q| q.unit == Unit::SquareMillimetre) {
            half.area = self.amount(text, Unit::SquareMillimetre, "16 AWG");
            return;
        }
        half.place = self.place(text);
    }

    /// Length or size of the old wire at the sleeve.
    fn stub(&mut self, text: &Text, half: &mut Half) {
        if quantity::parse(&text.text).is_ok_and(|q| q.unit == Unit::SquareMillimetre) {
            half.stub_area = self.amount(text, Unit::SquareMillimetre, "stub 1 mm2");
        } else {
            half.stub = self.amount(text, Unit::Metre, "stub 0.3 m");
        }
    }

    /// The half as one of its ways has it.
    fn of_way(&mut self, row: &RawWay, index: usize, half: &Half) -> Half {
        let mut own = half.clone();
        for Attr { text, .. } in &row.added[index] {
            if let Some(joint) = sleeve_joint(&text.text) {
                own.joint = joint;
            } else if let Some(rest) = text.text.to_ascii_lowercase().strip_prefix("stub ") {
                let stub = text.part(self.source, text.text.len() - rest.len(), text.text.len());
                self.stub(&stub, &mut own);
            } else if quantity::parse(&text.text).is_ok_and(|q| q.unit == Unit::SquareMillimetre) {
                own.area = self.amount(text, Unit::SquareMillimetre, "a 1.5 mm2");
            } else if text.text.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '-')) {
                own.length = self.amount(text, Unit::Metre, "a 1.6 m");
            } else {
                own.colour = self.colour(text);
            }
        }
        if own.length.is_none()
            && let Some(first) = row.added[index].first()
        {
            let half = ['a', 'b'][index];
            let says = format!("way {} has no wire added on half {half}: nobody says how long it is", row.way.text);
            self.problems.push(
                Problem::at(first.text.span, says).help(format!("write {half} 1.6 m too, or a length at the half")),
            );
        }
        own
    }

    fn way_row(&mut self, raw: &RawPlug, row: &RawWay, halves: &[Half; 2]) {
        let plug = &raw.name.text;
        let mut spec = Spec::default();
        let old = row.old.as_ref().filter(|t| !is_blank(t)).and_then(|text| self.colour(text));
        let new = match &row.new {
            Some(text) if text.is("same") => old.clone(),
            Some(text) if !is_blank(text) => self.colour(text),
            _ => old.clone(),
        };
        if let Some(proof) = row.proof.as_ref().and_then(|text| self.proof(text)) {
            spec.proof = proof;
        }
        // A proof mark where an end should be: an end was left out, and all behind it moved up.
        let gone = row.proof.is_none()
            && row.to.as_ref().is_some_and(|to| proof_word(&to.text).is_some() && self.names.what(&to.text).is_none());
        let to = if gone { &None } else { &row.to };
        for (index, end) in [&row.from, to].into_iter().enumerate() {
            let Some(end) = end else {
                let which = ["nothing at its from end (half a)", "nothing at its to end (half b)"][index];
                let says = format!("way {} of {plug} has {which}", row.way.text);
                self.problems.push(
                    Problem::at(row.span, says)
                        .help("a row is: way, old colour, new colour, from, to, proof; none where no wire is"),
                );
                continue;
            };
            if is_blank(end) || end.is("spare") {
                continue;
            }
            let Some(far) = self.resolve(end) else { continue };
            let Some(cavity) =
                self.net.plugs.get(plug).and_then(|p| p.ways.get(&row.way.text)).map(|way| way.halves[index])
            else {
                continue;
            };
            if far == cavity {
                let says = format!("way {} of {plug} leads to itself", row.way.text);
                self.problems.push(Problem::at(end.span, says).help("name the point at the wire's other end"));
                continue;
            }
            let half = self.of_way(row, index, &halves[index]);
            let new = half.colour.clone().or_else(|| new.clone());
            self.half_wires(
                &format!("{plug}{}-{}", ['a', 'b'][index], row.way.text),
                index,
                far,
                cavity,
                &half,
                (&old, &new),
                &spec,
                row,
            );
        }
    }

    /// The wires of one half of a way, always named and run from `from` to `to`.
    #[expect(clippy::too_many_arguments, reason = "one row's facts, used here only")]
    fn half_wires(
        &mut self,
        base: &str,
        index: usize,
        far: NodeIndex,
        cavity: NodeIndex,
        half: &Half,
        (old, new): (&Option<String>, &Option<String>),
        spec: &Spec,
        row: &RawWay,
    ) {
        let from_side = index == 0;
        let order = |a: NodeIndex, b: NodeIndex| if from_side { [a, b] } else { [b, a] };
        let old_spec = Spec { colour: old.clone(), area: half.stub_area, length: half.stub, ..spec.clone() };
        let Some(length) = half.length else {
            if let Some(name) = self.row_name(&format!("{base}-old"), row) {
                self.add_wire(&name, order(far, cavity), &old_spec, row.span);
            }
            return;
        };
        let sleeve = format!("{base}-sleeve");
        let names = [format!("{base}-old"), sleeve, format!("{base}-new")].map(|name| self.row_name(&name, row));
        let [Some(old_name), Some(sleeve), Some(new_name)] = names else { return };
        // Wrapped in the loom: no probe reaches it without cutting tape.
        let middle = self.add_sleeve(&sleeve, half.joint, half.place.clone(), false, row.span);
        let old_spec = Spec { guess: Some(STUB), ..old_spec };
        let new_spec = Spec { colour: new.clone(), area: half.area, length: Some(length), ..spec.clone() };
        if from_side {
            self.add_wire(&old_name, [far, middle], &old_spec, row.span);
            self.add_wire(&new_name, [middle, cavity], &new_spec, row.span);
        } else {
            self.add_wire(&new_name, [cavity, middle], &new_spec, row.span);
            self.add_wire(&old_name, [middle, far], &old_spec, row.span);
        }
    }

    /// A name that the row makes; if something else of the file has it, that is a problem.
    fn row_name(&mut self, name: &str, row: &RawWay) -> Option<String> {
        if self.names.what(name).is_some() {
            let says = format!("this row makes a wire or sleeve called {name}, and something else has that name");
            self.problems.push(Problem::at(row.span, says).help("rename the other one"));
            return None;
        }
        Some(self.names.made(name, row.span))
    }
}

/// Words for "no wire here", "no colour known".
fn is_blank(text: &Text) -> bool {
    matches!(text.lower().as_str(), "" | "none" | "-" | "." | "nothing" | "empty")
}
