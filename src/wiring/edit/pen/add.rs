//! A row to add: which section it belongs to, told by its content.

use super::super::line::{comment, fields, kind_and_figure, named};
use super::super::{Change, Draft, Refusal};
use super::{Held, Pen, Taken, Written};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::wiring::fields::is_name;
use crate::wiring::lower::sleeve_joint;

/// How a row looks, for whoever wrote one that looks like none.
const FORMS: &str = "a part: horn: horn, 3.5 A, nose; a wire: horn.ground to G1, black, 1 m; a row of a plug: P9: 4, grey, white, turn.right, lamp.feed, ?";

impl Pen {
    /// A row in the section that was said, or the one that it looks like.
    pub(super) fn row<'c>(
        &mut self,
        draft: &Draft<'c>,
        said: Option<&'static str>,
        row: &str,
        dashed: bool,
    ) -> Taken<'c> {
        let refuse = |problem: Problem| Err(Refusal::one(&draft.source, problem));
        let (body, _) = comment(row);
        let name = named(body);
        if said.is_none()
            && let Some(done) = self.in_held(draft, row, name, dashed)
        {
            return done;
        }
        let Some((name, value)) = name else {
            self.held = None;
            if body.contains(" to ") || said == Some("wires") {
                return self.add(draft, "wires", row);
            }
            let problem = Problem::whole(format!("\"{body}\" is no row"));
            let first = fields(body).first().copied().unwrap_or("");
            if let Some((kind, _)) = kind_and_figure(first, draft.catalogue()) {
                let name = kind.to_lowercase().replace(' ', "-");
                return refuse(problem.help(format!("give it a name first: {name}: {body}")));
            }
            return refuse(problem.help(FORMS));
        };
        let guess = said.or_else(|| self.looks_like(draft, name, value)).or(self.heading).unwrap_or("parts");
        self.held = None;
        if value.is_empty() {
            // A name alone heads rows of its own: a switch's table, else a plug.
            let switch = draft.netlist().parts.keys().any(|part| part.eq_ignore_ascii_case(name));
            let section = if switch { "switches" } else { "plugs" };
            if [None, Some(section)].contains(&said.or(self.heading)) {
                self.begin(draft, section, name)?;
                return Ok(Written { draft: draft.clone(), notes: Vec::new() });
            }
            return refuse(Problem::whole(format!("nothing stands behind \"{name}:\"")).help(FORMS));
        }
        if guess == "plugs" && !value.starts_with('{') {
            self.begin(draft, "plugs", name)?;
            let value = &row[row.find(": ").map_or(0, |at| at + 2)..];
            return self.way(draft, value);
        }
        self.named_row(draft, guess, (name, value), row)
    }

    /// A row that has a name.
    fn named_row<'c>(
        &mut self,
        draft: &Draft<'c>,
        section: &'static str,
        (name, value): (&str, &str),
        row: &str,
    ) -> Taken<'c> {
        let tree = crate::text::yaml::parse(&draft.source).map_err(|p| Refusal::one(&draft.source, p))?;
        let there = super::super::rows::named(&tree, section, name).ok().map(|(key, _)| key.span);
        let list = value.strip_prefix('[').and_then(|list| list.strip_suffix(']'));
        if let (Some(_), Some(list), "grounds" | "feeds" | "looms") = (there, list, section) {
            let items: Vec<Change> = fields(list).into_iter().map(|item| Change::item(section, name, item)).collect();
            return Ok(Written { draft: draft.changed(&items)?, notes: Vec::new() });
        }
        if let Some(span) = there {
            let line = draft.source.line(span);
            let problem = Problem::whole(format!("{name} stands under {section} already, line {line}"))
                .help(format!("change {name}: …, or give it another name"));
            return Err(Refusal::one(&draft.source, problem));
        }
        self.add(draft, section, row)
    }

    fn add<'c>(&mut self, draft: &Draft<'c>, section: &str, row: &str) -> Taken<'c> {
        let mut rows = std::mem::take(&mut self.above);
        rows.push(row.to_owned());
        let draft = draft.changed(&[Change::row(section, rows.join("\n"))])?;
        Ok(Written { draft, notes: Vec::new() })
    }

    /// A line of the plug or switch that is being written, if it is one.
    fn in_held<'c>(
        &mut self,
        draft: &Draft<'c>,
        row: &str,
        name: Option<(&str, &str)>,
        dashed: bool,
    ) -> Option<Taken<'c>> {
        let held = self.held.as_ref()?;
        let same = || Some(Ok(Written { draft: draft.clone(), notes: Vec::new() }));
        match (held.section, name) {
            ("plugs", Some((key, value))) if ["is", "a", "b"].iter().any(|k| key.eq_ignore_ascii_case(k)) => {
                Some(self.key(draft, &key.to_lowercase(), value))
            }
            ("plugs", Some((key, ""))) if key.eq_ignore_ascii_case("ways") => same(),
            ("plugs", None) => {
                let first = fields(row).first().map_or("", |first| *first).to_owned();
                // A wire between rows of a plug ends the plug.
                (dashed || !first.contains(" to ")).then(|| self.way(draft, row))
            }
            ("switches", Some((key, value))) if self.looks_like(draft, key, value).is_none_or(|s| s == "switches") => {
                Some(self.key(draft, key, value))
            }
            _ => None,
        }
    }

    /// A key of what is being written.
    fn key<'c>(&mut self, draft: &Draft<'c>, key: &str, value: &str) -> Taken<'c> {
        let Some(held) = self.held.as_mut() else { return Ok(Written { draft: draft.clone(), notes: Vec::new() }) };
        if held.written {
            let change = Change::Set {
                section: held.section.into(),
                name: held.name.clone(),
                key: key.into(),
                value: value.into(),
            };
            return Ok(Written { draft: draft.changed(&[change])?, notes: Vec::new() });
        }
        held.lines.retain(|line| !line.starts_with(&format!("{key}:")));
        held.lines.push(format!("{key}: {value}"));
        let whole = held.section == "switches" && held.lines.len() > 1;
        self.put_held(draft, whole)
    }

    /// A row of the plug that is being written.
    fn way<'c>(&mut self, draft: &Draft<'c>, row: &str) -> Taken<'c> {
        let Some(held) = self.held.as_mut() else { return Ok(Written { draft: draft.clone(), notes: Vec::new() }) };
        let mut rows = std::mem::take(&mut self.above);
        rows.push(row.to_owned());
        if held.written {
            let change = Change::Way { plug: held.name.clone(), row: rows.join("\n") };
            return Ok(Written { draft: draft.changed(&[change])?, notes: Vec::new() });
        }
        held.lines.push("ways:".into());
        let dash = |row: &String| if row.starts_with('#') { format!("  {row}") } else { format!("  - {row}") };
        held.lines.extend(rows.iter().map(dash));
        self.put_held(draft, true)
    }

    fn put_held<'c>(&mut self, draft: &Draft<'c>, whole: bool) -> Taken<'c> {
        let Some(Held { section, name, lines, written }) = self.held.as_mut().filter(|_| whole) else {
            return Ok(Written { draft: draft.clone(), notes: Vec::new() });
        };
        let row: String = lines.iter().map(|line| format!("\n  {line}")).collect();
        let draft = draft.changed(&[Change::row(section, format!("{name}:{row}"))])?;
        *written = true;
        Ok(Written { draft, notes: Vec::new() })
    }

    /// The section that a named row looks like.
    fn looks_like(&self, draft: &Draft, name: &str, value: &str) -> Option<&'static str> {
        let (net, catalogue) = (draft.netlist(), draft.catalogue());
        let has = |key: &str| value.contains(&format!("{key}:"));
        if name.contains(" to ") {
            return Some("runs");
        }
        if value.starts_with('{') {
            let keys =
                [("ways", "plugs"), ("wires", "looms"), ("from", "wires"), ("reach", "places"), ("under", "grounds")];
            let keys = keys.into_iter().chain([("joint", "sleeves"), ("fuse", "feeds"), ("kind", "parts")]);
            let found = keys.into_iter().find(|(key, _)| has(key)).map(|(_, section)| section);
            let is_part = net.parts.keys().any(|n| n.eq_ignore_ascii_case(name));
            return found.map(|section| if section == "looms" && is_part { "switches" } else { section });
        }
        let all = fields(value);
        let first = *all.first().unwrap_or(&"");
        let listed = all.last().is_some_and(|last| last.starts_with('['));
        if net.plugs.keys().any(|n| n.eq_ignore_ascii_case(name)) && is_name(first) && !first.contains(" to ") {
            return Some("plugs");
        }
        if first.contains(" to ") {
            return Some("wires");
        }
        if listed && all.len() == 1 {
            let feed = net.feeds.iter().any(|n| n.eq_ignore_ascii_case(name));
            return Some(if feed {
                "feeds"
            } else if among_grounds(draft, name) {
                "grounds"
            } else {
                "looms"
            });
        }
        if kind_and_figure(first, catalogue).is_some() {
            return Some(if listed { "feeds" } else { "parts" });
        }
        // Five fields and a number before them: a row of a plug that is not there yet.
        if all.len() >= 5 && first.bytes().all(|b| b.is_ascii_digit()) {
            return Some("plugs");
        }
        if sleeve_joint(first).is_some() {
            return Some("sleeves");
        }
        let reach = quantity::parse(first).is_ok_and(|q| matches!(q.unit, Unit::Minute | Unit::Second));
        if first.eq_ignore_ascii_case("easy") || reach {
            return Some("places");
        }
        let on = all.iter().any(|field| field.to_ascii_lowercase().starts_with("on "));
        let place = net.places.keys().any(|n| n.eq_ignore_ascii_case(first));
        if on || (listed && place) {
            return Some("grounds");
        }
        None
    }
}

fn among_grounds(draft: &Draft, name: &str) -> bool {
    draft.netlist().grounds.keys().any(|known| known.eq_ignore_ascii_case(name))
}
