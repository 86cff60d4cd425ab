//! Chassis pieces, parts, feeds' fuses, switch tables, grounds, sleeves: everything that is a point of its own.

use super::super::fields::Text;
use super::super::raw::{File, RawPart, RawSwitch, Role};
use super::Lower;
use super::names::What;
use crate::catalogue::Kind;
use crate::netlist::{Ground, Joint, LinkKind, Part, Piece, PointKind, Sleeve, SwitchTable};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Quantity, QuantityError, Unit};
use crate::text::span::Span;
use crate::text::words::a;
use indexmap::IndexMap;

impl Lower<'_> {
    pub(super) fn pieces(&mut self, file: &File) {
        let names: Vec<String> = self.names.of(&[What::Piece]).map(str::to_owned).collect();
        for name in names {
            let own = file.pieces.iter().flatten().find(|piece| piece.name.is(&name)).map(|piece| piece.name.span);
            let strap = file.pieces.iter().flatten().flat_map(|p| &p.straps);
            let span = own.or_else(|| strap.filter_map(|s| s.to.as_ref()).find(|to| to.is(&name)).map(|to| to.span));
            let point = self.point(&name, PointKind::Piece, true, None);
            self.net.pieces.insert(name, Piece { point, span: span.unwrap_or_default() });
        }
    }

    pub(super) fn parts(&mut self, file: &File) {
        let mut tables: IndexMap<String, &RawSwitch> = IndexMap::new();
        for switch in &file.switches {
            if self.names.what(&switch.part.text) == Some(What::Part) {
                tables.insert(switch.part.lower(), switch);
            } else if !self.dead.contains(&switch.part.lower()) {
                let known: Vec<String> = self.names.of(&[What::Part]).map(str::to_owned).collect();
                let says = format!("there is no part \"{}\" for this table", switch.part.text);
                self.stranger(&switch.part, says, known.iter().map(String::as_str), "parts");
            }
        }
        for raw in &file.parts {
            self.part_row(raw, tables.get(&raw.name.lower()).copied(), false);
        }
        for feed in &file.feeds {
            self.part_row(&feed.part, None, true);
            self.net.feeds.push(feed.part.name.text.clone());
        }
    }

    fn part_row(&mut self, raw: &RawPart, table: Option<&RawSwitch>, feed: bool) {
        if self.names.written(&raw.name.text) != Some(raw.name.text.as_str())
            || self.net.parts.contains_key(&raw.name.text)
        {
            // A duplicate, already told; the first one holds.
            return;
        }
        let mut fields: Vec<Text> = raw.fields.clone();
        let catalogue = self.catalogue;
        let Some(kind) = self.kind_of(raw, &mut fields, feed).and_then(|name| catalogue.kind(&name)) else {
            self.dead.insert(raw.name.lower());
            return;
        };
        let mut place = raw.place.as_ref().and_then(|text| self.place(text));
        let mut fitted = raw.fitted;
        let mut ratings = IndexMap::new();
        for (name, value) in &raw.named {
            self.named_rating(kind, name, value, &mut ratings);
        }
        for field in &fields {
            self.part_field(kind, field, &mut ratings, &mut place, &mut fitted);
        }
        let table = table.and_then(|raw_table| self.table(kind, raw_table));
        let pins: Vec<String> = match &table {
            Some(table) => table.wires.clone(),
            None => kind.pins.keys().cloned().collect(),
        };
        if feed && !["in", "out"].iter().all(|pin| pins.iter().any(|p| p == pin)) {
            let says =
                format!("a feed is a fuse or the like with pins in and out; {} has {}", kind.name, pins.join(", "));
            self.problems.push(Problem::at(raw.name.span, says).help("write it under parts:"));
            self.dead.insert(raw.name.lower());
            return;
        }
        let name = raw.name.text.clone();
        let mut nodes = IndexMap::new();
        for pin in pins {
            let what = PointKind::Pin { part: name.clone(), pin: pin.clone() };
            let node = self.point(&format!("{name}.{pin}"), what, true, place.clone());
            nodes.insert(pin, node);
        }
        if table.is_none() {
            // Points answer to the pins' other names too: horn.58 is horn.feed.
            for (pin, also) in &kind.pins {
                for nickname in also {
                    let key = format!("{name}.{nickname}").to_lowercase();
                    self.net.points.entry(key).or_insert(nodes[pin]);
                }
            }
        }
        let part = Part {
            name: name.clone(),
            kind: kind.name.clone(),
            ratings,
            place,
            pins: nodes,
            table,
            fitted,
            span: raw.name.span,
        };
        self.net.parts.insert(name, part);
    }

    /// The kind's name; `fuse 10 A` leaves its figure among the fields.
    fn kind_of(&mut self, raw: &RawPart, fields: &mut Vec<Text>, feed: bool) -> Option<String> {
        let mut word = raw.kind.clone().filter(|k| !k.text.is_empty());
        if feed && word.is_none() && !fields.is_empty() {
            word = Some(fields.remove(0));
        }
        let Some(word) = word else {
            if feed {
                return Some("fuse".to_owned());
            }
            self.problems.push(
                Problem::at(raw.name.span, format!("{} has no kind", raw.name.text))
                    .help("write what it is: horn, lamp, push switch"),
            );
            return None;
        };
        if self.catalogue.kind(&word.text).is_some() {
            return Some(word.text);
        }
        for (at, _) in word.text.match_indices(' ').collect::<Vec<_>>().into_iter().rev() {
            let head = word.text[..at].trim();
            let rest = word.part(self.source, at, word.text.len());
            if self.catalogue.kind(head).is_some()
                && rest.text.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == '-')
            {
                fields.insert(0, rest);
                return Some(head.to_owned());
            }
        }
        if feed && quantity::parse(&word.text).is_ok() {
            fields.insert(0, word);
            return Some("fuse".to_owned());
        }
        let known: Vec<String> = self
            .catalogue
            .kinds
            .values()
            .flat_map(|kind| std::iter::once(kind.name.clone()).chain(kind.also.iter().cloned()))
            .collect();
        let says = format!("there is no kind of part \"{}\"", word.text);
        let help = match crate::text::words::nearest(&word.text, known.iter().map(String::as_str)) {
            Some(near) => format!("nearest: {near}"),
            None => "look at the list of kinds, or use: unknown module".to_owned(),
        };
        self.problems.push(Problem::at(word.span, says).help(help));
        None
    }

    fn part_field(
        &mut self,
        kind: &Kind,
        field: &Text,
        ratings: &mut IndexMap<String, Quantity>,
        place: &mut Option<String>,
        fitted: &mut bool,
    ) {
        if field.is("not fitted") || field.is("not-fitted") {
            *fitted = false;
            return;
        }
        match quantity::parse(&field.text) {
            Ok(q) => {
                let free = kind.ratings.iter().find(|(name, r)| r.unit == q.unit && !ratings.contains_key(*name));
                match free {
                    Some((name, _)) => {
                        if self.believable(field, q).is_some() {
                            ratings.insert(name.clone(), q);
                        }
                    }
                    None => {
                        let help = ratings_help(kind);
                        let says = match q.unit {
                            Unit::One => format!("\"{}\" has no unit", field.text),
                            _ => format!("{} takes no \"{}\" here", a(&kind.name), field.text),
                        };
                        self.problems.push(Problem::at(field.span, says).help(help));
                    }
                }
                return;
            }
            Err(error @ (QuantityError::DecimalComma(_) | QuantityError::Negative | QuantityError::NotFinite)) => {
                return self.bad_quantity(field, &error, "12 V");
            }
            Err(error @ QuantityError::UnknownUnit(_)) if self.find_place(&field.text).is_none() => {
                return self.bad_quantity(field, &error, "12 V");
            }
            Err(_) => {}
        }
        if let Some((word, rest)) = field.text.split_once(' ')
            && let Some((name, _)) = kind.ratings.iter().find(|(name, _)| name.eq_ignore_ascii_case(word))
        {
            let at = field.text.len() - rest.len();
            let value = field.part(self.source, at, field.text.len());
            let name = Text { text: name.clone(), span: field.span };
            return self.named_rating(kind, &name, &value, ratings);
        }
        if place.is_some() {
            let says = format!("\"{}\" is neither a rating of {} nor the first place named", field.text, a(&kind.name));
            self.problems.push(Problem::at(field.span, says).help(ratings_help(kind)));
            return;
        }
        *place = self.place(field);
    }

    fn named_rating(&mut self, kind: &Kind, name: &Text, value: &Text, ratings: &mut IndexMap<String, Quantity>) {
        let Some((key, rating)) = kind.ratings.iter().find(|(key, _)| name.is(key)) else {
            let known: Vec<String> =
                kind.ratings.keys().cloned().chain(["kind", "place", "fitted"].map(String::from)).collect();
            let says = format!("{} has no rating \"{}\"", a(&kind.name), name.text);
            return self.stranger(name, says, known.iter().map(String::as_str), "it takes");
        };
        let example = format!("{} {}", rating.default, rating.unit.symbol());
        if let Some(amount) = self.amount(value, rating.unit, example.trim()) {
            ratings.insert(key.clone(), Quantity { value: amount, unit: rating.unit });
        }
    }

    fn table(&mut self, kind: &Kind, raw: &RawSwitch) -> Option<SwitchTable> {
        if !kind.own_table {
            let says = format!("{} is {}, which has no table of its own", raw.part.text, a(&kind.name));
            self.problems
                .push(Problem::at(raw.part.span, says).help("take the table out, or give the part a switch's kind"));
            return None;
        }
        if raw.wires.is_empty() {
            self.problems.push(
                Problem::at(raw.part.span, format!("the table of {} names no wires", raw.part.text))
                    .help("wires: [white, brown, red]"),
            );
            return None;
        }
        let mut wires: Vec<String> = Vec::new();
        for wire in &raw.wires {
            let clean = wire.text.replace(['/', ' '], "-");
            if !super::super::fields::is_name(&clean) {
                self.problems.push(
                    Problem::at(wire.span, format!("\"{}\" is no name for a wire of a switch", wire.text))
                        .help("use its colour"),
                );
            } else if wires.iter().any(|w| w.eq_ignore_ascii_case(&clean)) {
                self.problems.push(
                    Problem::at(wire.span, format!("\"{}\" stands twice in this table", wire.text))
                        .help("call the second one by what it does"),
                );
            }
            wires.push(clean);
        }
        let mut settings = IndexMap::new();
        for (setting, letters) in &raw.settings {
            if letters.len() != wires.len() {
                let says = format!("{} has {} letters for {} wires", setting.text, letters.len(), wires.len());
                self.problems.push(
                    Problem::at(setting.span, says)
                        .help("one letter a wire, the same letter where joined, . where not"),
                );
                continue;
            }
            let mut groups: IndexMap<String, Vec<String>> = IndexMap::new();
            for (letter, wire) in letters.iter().zip(&wires) {
                if !matches!(letter.text.as_str(), "." | "-" | "") {
                    groups.entry(letter.lower()).or_default().push(wire.clone());
                }
            }
            for (letter, group) in &groups {
                if group.len() < 2 {
                    let at = letters.iter().find(|l| l.lower() == *letter).map_or(setting.span, |l| l.span);
                    let says = format!("the letter {letter} stands alone in {}: it joins nothing", setting.text);
                    self.problems.push(Problem::at(at, says).help("write . there, or the letter of the wire it joins"));
                }
            }
            settings.insert(setting.text.clone(), groups.into_values().filter(|g| g.len() > 1).collect());
        }
        if settings.is_empty() && raw.settings.is_empty() {
            self.problems.push(
                Problem::at(raw.part.span, format!("the table of {} has no settings", raw.part.text))
                    .help("off: [., .]  on: [a, a]"),
            );
        }
        Some(SwitchTable { wires, settings })
    }

    pub(super) fn grounds(&mut self, file: &File) {
        for raw in &file.grounds {
            if self.net.grounds.contains_key(&raw.name.text) || self.names.what(&raw.name.text) != Some(What::Ground) {
                continue;
            }
            let place = raw.place.as_ref().and_then(|text| self.place(text));
            let Some(on) = self.piece(raw.on.as_ref(), &raw.name) else {
                self.dead.insert(raw.name.lower());
                continue;
            };
            let name = raw.name.text.clone();
            let point = self.point(&name, PointKind::Stud, true, place.clone());
            let (ohms, spread) = self.joint_data("seat");
            let piece = self.net.pieces[&on].point;
            let link = self.link(point, piece, &name, LinkKind::Seat, ohms, spread);
            self.net.grounds.insert(name, Ground { point, on, link, place, span: raw.name.span });
        }
    }

    fn piece(&mut self, on: Option<&Text>, ground: &Text) -> Option<String> {
        let known: Vec<String> = self.net.pieces.keys().cloned().collect();
        match on {
            Some(text) => {
                let found = known.iter().find(|name| text.is(name)).cloned();
                if found.is_none() {
                    let says = format!("there is no chassis piece \"{}\"", text.text);
                    self.stranger(text, says, known.iter().map(String::as_str), "chassis");
                }
                found
            }
            None if known.len() == 1 => known.into_iter().next(),
            None => {
                let says = format!("{} does not say which chassis piece it is on", ground.text);
                self.problems
                    .push(Problem::at(ground.span, says).help(format!("write: on {}", known.join(", or on "))));
                None
            }
        }
    }

    pub(super) fn sleeves(&mut self, file: &File) {
        for raw in &file.sleeves {
            if self.net.sleeves.contains_key(&raw.name.text) || self.names.what(&raw.name.text) != Some(What::Sleeve) {
                continue;
            }
            let (mut joint, mut place) = (Joint::CrimpSleeve, None);
            for attr in &raw.attrs {
                match sleeve_joint(&attr.text.text) {
                    Some(found) if attr.role != Role::Place => joint = found,
                    _ if attr.role == Role::Joint => self.no_joint(&attr.text),
                    _ => place = self.place(&attr.text),
                }
            }
            let probeable = place.is_some();
            self.add_sleeve(&raw.name.text, joint, place, probeable, raw.name.span);
        }
    }

    pub(super) fn add_sleeve(
        &mut self,
        name: &str,
        joint: Joint,
        place: Option<String>,
        probeable: bool,
        span: Span,
    ) -> petgraph::graph::NodeIndex {
        let point = self.point(name, PointKind::Sleeve, probeable, place.clone());
        self.net.sleeves.insert(name.to_owned(), Sleeve { point, joint, place, span });
        point
    }

    pub(super) fn no_joint(&mut self, text: &Text) {
        let says = format!("\"{}\" is no kind of sleeve", text.text);
        self.stranger(text, says, ["crimp sleeve", "solder sleeve", "twist and tape"].into_iter(), "sleeves");
    }
}

/// Sleeves as people call them.
pub(in crate::wiring) const SLEEVES: &[&str] = &[
    "crimp sleeve",
    "solder sleeve",
    "twist and tape",
    "crimp-sleeve",
    "crimp splice",
    "butt splice",
    "crimp",
    "solder-sleeve",
    "solder",
    "soldered",
    "solder splice",
    "twist",
    "twisted",
    "twist and taped",
    "twisted and taped",
];

/// A sleeve as people call it.
pub(in crate::wiring) fn sleeve_joint(text: &str) -> Option<Joint> {
    match text.to_lowercase().as_str() {
        "crimp sleeve" | "crimp-sleeve" | "crimp splice" | "butt splice" | "crimp" => Some(Joint::CrimpSleeve),
        "solder sleeve" | "solder-sleeve" | "solder" | "soldered" | "solder splice" => Some(Joint::Solder),
        "twist" | "twisted" | "twist and tape" | "twist and taped" | "twisted and taped" => Some(Joint::Twist),
        _ => None,
    }
}

fn ratings_help(kind: &Kind) -> String {
    let list: Vec<String> = kind
        .ratings
        .iter()
        .map(|(name, r)| format!("{name}, {} {}", r.default, r.unit.symbol()).trim_end().to_owned())
        .collect();
    if list.is_empty() {
        format!("{} has no ratings", a(&kind.name))
    } else {
        format!("ratings of {}: {}", a(&kind.name), list.join("; "))
    }
}
