//! Rows of a sheet as changes of the file: sections first, then plugs, then wires.

use super::cells::{colour, figure, nothing, proof};
use super::columns::Heads;
use super::ends::{End, Ends, Side, slug};
use super::row::{Row, joined, long, plain};
use super::{How, Options, RowTold};
use crate::netlist::Wire;
use crate::text::csv::Cell;
use crate::text::problem::Problem;
use crate::text::quantity::Unit;
use crate::text::span::Span;
use crate::text::words::a;
use crate::text::yaml;
use crate::wiring::colour::Colours;
use crate::wiring::edit::{Change, Draft, merged};
use crate::wiring::fields::{Text, is_name};
use crate::wiring::raw;
use indexmap::IndexMap;

/// A row of the file and the cells that it was made of: column, what was written, where it stands.
#[derive(Clone, Debug)]
pub(super) struct Made {
    pub told: RowTold,
    pub cells: Vec<(usize, String, Span)>,
}

/// Reads all rows. Also returns every problem of every cell.
pub(super) fn changes(heads: &Heads, draft: &Draft, options: &Options) -> (Vec<Change>, Vec<Made>, Vec<Problem>) {
    let tree = yaml::parse(draft.source());
    let file = tree.map(|tree| raw::read(draft.source(), &tree).0).unwrap_or_default();
    let declared: Vec<(Text, Text)> = options.colours.iter().map(|(code, word)| (said(code), said(word))).collect();
    let mut problems = Vec::new();
    let mut declared_rows = file.colours.clone();
    declared_rows.extend(declared);
    let mut sheet = Sheet {
        heads,
        draft,
        changes: Vec::new(),
        made: Vec::new(),
        problems: Vec::new(),
        plugs: IndexMap::new(),
        matched: Vec::new(),
    };
    for (code, word) in &options.colours {
        sheet.changes.push(Change::row("colours", format!("{code}: {word}")));
    }
    let mut wires = Vec::new();
    let mut carried: Option<String> = options.plug.clone();
    let mut new_parts = IndexMap::new();
    for (number, row) in &heads.rows {
        let row = Row { number: *number, cells: row, heads };
        match row.section() {
            Ok(Some(section)) if section != "wires" && !(section == "plugs" && row.text("row").is_none()) => {
                sheet.section(&row, section);
                if let ("parts", Some(name), Some(kind)) = (section, row.text("name"), row.text("row")) {
                    let kind = kind.split(',').next().unwrap_or("").trim().trim_matches(['{', '"']).to_owned();
                    new_parts.insert(name, kind.strip_prefix("kind: ").map_or(kind.clone(), str::to_owned));
                }
                if let ("colours", Some(code), Some(word)) = (section, row.text("name"), row.text("row")) {
                    declared_rows.push((said(&code), said(&word)));
                }
            }
            Ok(section) => {
                let way = row.cell("way").is_some_and(|cell| !cell.text.is_empty());
                // A plug's name stands once, in the first of its rows.
                if let Some(plug) = row.text("plug") {
                    carried = Some(plug);
                }
                let plug = carried.clone().filter(|_| way && section != Some("wires"));
                if way && plug.is_none() && section != Some("wires") {
                    let problem = Problem::at(row.start(), "the ways of which plug?");
                    let problem = problem.help("name it in a column \"plug\", or beside the sheet: --plug P9");
                    sheet.problems.push(row.at("way", problem));
                    continue;
                }
                wires.push((row, plug));
            }
            Err(problem) => sheet.problems.push(problem),
        }
    }
    let colours = Colours::new(draft.catalogue(), &declared_rows, &mut problems);
    sheet.problems.append(&mut problems);
    // Sections of the sheet count before its wires: what they bring has its names then.
    let with = draft.changed_anyhow(&sheet.changes);
    let plugs = wires.iter().filter_map(|(_, plug)| plug.clone()).chain(sheet.plugs.keys().cloned()).collect();
    let net = with.as_ref().map_or_else(|| draft.netlist(), |with| with.netlist());
    let parts = new_parts.into_iter().filter(|(name, _)| !net.parts.contains_key(name)).collect();
    let mut ends = Ends { net, catalogue: draft.catalogue(), parts, plugs };
    let told_before = ends.parts.len();
    for (row, plug) in &wires {
        match plug {
            Some(plug) => sheet.way(row, plug, &colours, &mut ends),
            None => sheet.wire(row, &colours, &mut ends),
        }
    }
    let brought: Vec<(String, String)> = ends.parts.into_iter().skip(told_before).collect();
    sheet.finish(brought)
}

fn said(text: &str) -> Text {
    Text { text: text.to_owned(), span: Span::default() }
}

/// What is written of a plug that the file has not yet.
#[derive(Default)]
struct NewPlug {
    keys: Vec<String>,
    ways: Vec<String>,
}

struct Sheet<'s, 'd, 'c> {
    heads: &'s Heads,
    draft: &'d Draft<'c>,
    changes: Vec<Change>,
    made: Vec<Made>,
    problems: Vec<Problem>,
    plugs: IndexMap<String, NewPlug>,
    /// Wires of the file that a row has spoken of.
    matched: Vec<String>,
}

impl Sheet<'_, '_, '_> {
    fn tell(&mut self, row: &Row, text: String, how: How, assumed: Vec<String>) {
        let cells = self.heads.columns.iter().filter_map(|column| {
            let cell = row.cells.get(column.at).filter(|cell| !cell.text.is_empty())?;
            Some((column.at, cell.text.clone(), cell.span))
        });
        let cells = cells.collect();
        self.made.push(Made { told: RowTold { number: Some(row.number), row: text, how, assumed }, cells });
    }

    /// A row of a section in the file's own form.
    fn section(&mut self, row: &Row, section: &'static str) {
        let name = row.text("name").unwrap_or_default();
        let Some(value) = row.text("row").map(|value| plain(&value)) else {
            let problem = Problem::at(row.start(), "there is nothing in the column \"row\"");
            return self
                .problems
                .push(row.at("row", problem.help("write there what stands behind the name in the file")));
        };
        if name.is_empty() || matches!(section, "machine" | "recent-work") {
            if !matches!(section, "machine" | "recent-work" | "chassis") {
                let problem = Problem::at(row.start(), format!("a row of {section} needs a name"));
                return self.problems.push(row.at("name", problem.help("write it in the column \"name\"")));
            }
            self.changes.push(Change::Top { section: section.into(), value: value.clone() });
            return self.tell(row, format!("{section}: {value}"), How::Changed, Vec::new());
        }
        if let ("plugs", Some((plug, key))) = (section, name.split_once('.')) {
            return self.plug_key(row, plug, key, &value);
        }
        if section != "runs" && section != "bench" && !is_name(&name) {
            let problem = Problem::at(row.start(), format!("\"{name}\" is no name"));
            return self.problems.push(row.at("name", problem.help("letters, digits, - and _")));
        }
        let text = format!("{name}: {value}");
        let there =
            yaml::parse(self.draft.source()).is_ok_and(|tree| super::super::edit::has_row(&tree, section, &name));
        if there {
            self.changes.push(Change::Put { section: section.into(), name, row: value });
        } else {
            self.changes.push(Change::row(section, format!("{text}{}", row.note())));
        }
        self.tell(row, text, if there { How::Changed } else { How::New }, Vec::new());
    }

    fn plug_key(&mut self, row: &Row, plug: &str, key: &str, value: &str) {
        if !["is", "a", "b"].contains(&key) || !is_name(plug) {
            let problem = Problem::at(row.start(), format!("\"{plug}.{key}\" is nothing of a plug"));
            return self.problems.push(row.at("name", problem.help("write P9.a, P9.b or P9.is")));
        }
        let text = format!("{key}: {value}");
        let known = self.draft.netlist().plugs.keys().find(|known| known.eq_ignore_ascii_case(plug)).cloned();
        match &known {
            Some(name) => self.changes.push(Change::Set {
                section: "plugs".into(),
                name: name.clone(),
                key: key.into(),
                value: value.into(),
            }),
            None => self.plugs.entry(plug.to_owned()).or_default().keys.push(text.clone()),
        }
        self.tell(row, text, if known.is_some() { How::Changed } else { How::New }, Vec::new());
    }

    /// A cell made a field; its problem is told.
    fn field(&mut self, row: &Row, holds: &str, read: impl Fn(&Cell) -> Result<String, Problem>) -> Option<String> {
        let cell = row.cell(holds).filter(|cell| !nothing(&cell.text, &self.draft.catalogue().columns))?;
        match read(cell) {
            Ok(text) => Some(text),
            Err(problem) => {
                self.problems.push(row.at(holds, problem));
                None
            }
        }
    }

    fn proof(&mut self, row: &Row) -> Option<String> {
        let catalogue = self.draft.catalogue();
        // `no` and the like are marks here, though they say nothing elsewhere.
        let cell = row.cell("proof")?;
        match proof(cell, catalogue) {
            Ok(mark) => Some(mark),
            Err(_) if nothing(&cell.text, &catalogue.columns) => None,
            Err(problem) => {
                self.problems.push(row.at("proof", problem));
                None
            }
        }
    }

    /// Both ends of a row; a problem is told.
    fn ends(&mut self, row: &Row, ends: &mut Ends) -> Option<[Option<End>; 2]> {
        let ground = |holds: &str| {
            row.cell(holds).is_some_and(|cell| ends.is_ground(&cell.text))
                && row.cell(&format!("{holds}-pin")).is_none()
        };
        let grounded = [ground("to"), ground("from")];
        let mut out = [None, None];
        let mut fine = true;
        for (at, holds) in ["from", "to"].into_iter().enumerate() {
            let Some(cell) = row.cell(holds) else { continue };
            let side = Side { to: at == 1, grounded: grounded[at] };
            match ends.read(cell, row.cell(&format!("{holds}-pin")), side) {
                Ok(end) => out[at] = end,
                Err(problem) => {
                    fine = false;
                    self.problems.push(row.at(holds, problem));
                }
            }
        }
        fine.then_some(out)
    }

    fn way(&mut self, row: &Row, plug: &str, colours: &Colours, ends: &mut Ends) {
        let way = row.text("way").unwrap_or_default();
        let old = self
            .field(row, "old", |cell| colour(cell, colours))
            .or_else(|| self.field(row, "colour", |cell| colour(cell, colours)));
        let same = row.text("new").is_some_and(|new| new.eq_ignore_ascii_case("same"));
        let new = if same { Some("same".to_owned()) } else { self.field(row, "new", |cell| colour(cell, colours)) };
        let mark = self.proof(row);
        let Some([from, to]) = self.ends(row, ends) else { return };
        let plug = slug(plug);
        if !is_name(&way) || !is_name(&plug) {
            let problem = Problem::at(row.start(), format!("\"{plug}.{way}\" is no way of a plug"));
            return self
                .problems
                .push(row.at("way", problem.help("a plug and its way have names of letters and digits")));
        }
        let mut assumed: Vec<String> =
            [&from, &to].into_iter().flatten().filter_map(|end| end.assumed.clone()).collect();
        let point = |end: Option<End>| end.map_or_else(|| "none".to_owned(), |end| end.point);
        let mark = mark.or_else(|| (!assumed.is_empty()).then(|| "?".to_owned()));
        let blank = |colour: Option<String>, other: &str| colour.unwrap_or_else(|| other.to_owned());
        let mut fields = vec![way.clone(), blank(old, "none"), blank(new, "same"), point(from), point(to)];
        fields.extend(mark);
        // `a red; a 2.5 mm2`: what only this way's added wire is.
        let known = self.draft.netlist().plugs.values().find(|known| known.name.eq_ignore_ascii_case(&plug));
        let there = known.and_then(|known| known.ways.iter().find(|(name, _)| name.eq_ignore_ascii_case(&way)));
        let added = match (row.text("added"), there) {
            (Some(added), _) => added.replace(';', ","),
            // A sheet without that column says nothing of it.
            (None, Some((_, old))) => {
                let before = self.draft.text().get(old.span.start..old.span.end).unwrap_or("").trim_matches('"');
                let own = before
                    .split(',')
                    .skip(5)
                    .filter(|field| ["a ", "b "].iter().any(|half| field.trim_start().starts_with(half)));
                own.collect::<Vec<_>>().join(",")
            }
            (None, None) => String::new(),
        };
        fields.extend(added.split(',').map(str::trim).filter(|field| !field.is_empty()).map(str::to_owned));
        let text = fields.join(", ");
        let noted = format!("{text}{}", row.note());
        let how = match (known, there) {
            (Some(known), Some((name, old))) => {
                let before = self.draft.text().get(old.span.start..old.span.end).unwrap_or("");
                if before.trim_matches('"') == text {
                    assumed.clear();
                    How::There
                } else {
                    let (plug, way) = (known.name.clone(), name.clone());
                    self.changes.push(Change::PutWay { plug, way, row: text.clone() });
                    How::Changed
                }
            }
            (Some(known), None) => {
                self.changes.push(Change::Way { plug: known.name.clone(), row: noted });
                How::New
            }
            (None, _) => {
                self.plugs.entry(plug).or_default().ways.push(noted);
                How::New
            }
        };
        self.tell(row, text, how, assumed);
    }

    fn wire(&mut self, row: &Row, colours: &Colours, ends: &mut Ends) {
        let fields: Vec<Option<String>> = vec![
            self.field(row, "colour", |cell| colour(cell, colours)),
            self.field(row, "size", |cell| figure(cell, row.unit("size"), Unit::SquareMillimetre)),
            self.field(row, "length", |cell| figure(cell, row.unit("length"), Unit::Metre)),
            self.field(row, "ohms", |cell| figure(cell, row.unit("ohms"), Unit::Ohm)),
            self.proof(row),
        ];
        let name = row.text("name").map(|name| slug(&name)).filter(|name| is_name(name));
        let joints = row.text("ends");
        let Some([from, to]) = self.ends(row, ends) else { return };
        let (Some(from), Some(to)) = (from, to) else {
            let far = if row.cell("from").is_some() { "to" } else { "from" };
            let problem = Problem::at(row.start(), "a wire has two ends");
            return self.problems.push(row.at(far, problem.help("write PART.PIN, a sleeve or a ground point there")));
        };
        let assumed: Vec<String> = [&from, &to].into_iter().filter_map(|end| end.assumed.clone()).collect();
        let mut fields = fields;
        if fields[4].is_none() && !assumed.is_empty() {
            fields[4] = Some("?".into());
        }
        let head = format!("{} to {}", from.point, to.point);
        let said: Vec<&str> = fields.iter().flatten().map(String::as_str).collect();
        let body = std::iter::once(head.as_str()).chain(said.iter().copied()).collect::<Vec<_>>().join(", ");
        let body = match joints {
            Some(joints) => long(&from.point, &to.point, &fields, &joints),
            None => body,
        };
        let there = self.there(name.as_deref(), &from.point, &to.point).map(|wire| (wire.name.clone(), wire.span));
        if let Some((wire, span)) = there {
            let old = self.draft.text().get(span.start..span.end).unwrap_or("").trim_matches('"').to_owned();
            self.matched.push(wire.clone());
            let old = if old.contains(" to ") && !old.starts_with('{') { old } else { head.clone() };
            let now = if body.starts_with('{') { body } else { merged(&old, &said, 1, self.draft.catalogue()) };
            let now = match now.split_once(',') {
                Some((_, rest)) if !now.starts_with('{') => format!("{head},{rest}"),
                _ => now,
            };
            let how = if now == old { How::There } else { How::Changed };
            if how == How::Changed {
                self.changes.push(Change::PutWire { wire, row: now.clone() });
            }
            return self.tell(row, now, how, assumed);
        }
        let text = name.map_or_else(|| body.clone(), |name| format!("{name}: {body}"));
        self.changes.push(Change::row("wires", format!("{text}{}", row.note())));
        self.tell(row, text, How::New, assumed);
    }

    /// The wire of the file that a row speaks of: of its name, else with its ends.
    fn there(&self, name: Option<&str>, from: &str, to: &str) -> Option<&Wire> {
        let net = self.draft.netlist();
        let free = |wire: &&Wire| !self.matched.contains(&wire.name);
        if let Some(name) = name {
            return net.wires.values().filter(free).find(|wire| wire.name.eq_ignore_ascii_case(name));
        }
        let ends = (net.point(from)?, net.point(to)?);
        // Rows of plugs are told by their ways.
        let row = |wire: &&Wire| !net.plugs.values().any(|plug| plug.ways.values().any(|way| way.span == wire.span));
        net.wires.values().filter(free).filter(row).find(|wire| (wire.from, wire.to) == ends)
    }

    /// New plugs, parts that rows brought with them, and all changes in an order in which names come first.
    fn finish(mut self, brought: Vec<(String, String)>) -> (Vec<Change>, Vec<Made>, Vec<Problem>) {
        let mut out: Vec<Change> = Vec::new();
        let mut parts = Vec::new();
        for (name, kind) in brought {
            let row = format!("{name}: {kind}");
            out.push(Change::row("parts", format!("{row}  # from a sheet")));
            let told = RowTold { number: None, row, how: How::New, assumed: vec![format!("{name} is {}", a(&kind))] };
            parts.push(Made { told, cells: Vec::new() });
        }
        for (name, plug) in &self.plugs {
            let mut row = format!("{name}:");
            row.extend(plug.keys.iter().map(|key| format!("\n  {key}")));
            row.push_str(if plug.ways.is_empty() { "\n  ways: []" } else { "\n  ways:" });
            row.extend(plug.ways.iter().map(|way| format!("\n    - {way}")));
            out.push(Change::row("plugs", row));
        }
        out.append(&mut self.changes);
        parts.append(&mut self.made);
        (joined(out), parts, self.problems)
    }
}
