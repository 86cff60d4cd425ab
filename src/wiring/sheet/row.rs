//! One row of a sheet by what its columns hold, and small pieces that rows of the file are put together from.

use super::columns::Heads;
use crate::text::csv::Cell;
use crate::text::problem::Problem;
use crate::text::span::Span;
use crate::wiring::edit::Change;

/// Sections whose rows a sheet may carry, by the word in its section column.
const SECTIONS: [(&str, &str); 15] = [
    ("machine", "machine"),
    ("bench", "bench"),
    ("colour", "colours"),
    ("chassis", "chassis"),
    ("place", "places"),
    ("part", "parts"),
    ("sleeve", "sleeves"),
    ("switch", "switches"),
    ("ground", "grounds"),
    ("feed", "feeds"),
    ("run", "runs"),
    ("loom", "looms"),
    ("recent-work", "recent-work"),
    ("plug", "plugs"),
    ("wire", "wires"),
];

/// One row of the sheet.
pub(super) struct Row<'s> {
    pub number: usize,
    pub cells: &'s [Cell],
    pub heads: &'s Heads,
}

impl<'s> Row<'s> {
    fn column(&self, holds: &str) -> Option<usize> {
        self.heads.columns.iter().find(|column| column.holds == holds).map(|column| column.at)
    }

    pub fn cell(&self, holds: &str) -> Option<&'s Cell> {
        self.cells.get(self.column(holds)?).filter(|cell| !cell.text.is_empty())
    }

    pub fn text(&self, holds: &str) -> Option<String> {
        self.cell(holds).map(|cell| cell.text.clone())
    }

    pub fn unit(&self, holds: &str) -> Option<&'s str> {
        self.heads.columns.iter().find(|column| column.holds == holds)?.unit.as_deref()
    }

    pub fn start(&self) -> Span {
        self.cells.iter().find(|cell| !cell.text.is_empty()).map_or(Span::default(), |cell| cell.span)
    }

    /// The problem with its row and column before it.
    pub fn at(&self, holds: &str, mut problem: Problem) -> Problem {
        let column = self.column(holds).map_or(String::new(), |at| format!(", column \"{}\"", self.heads.heading(at)));
        problem.text = format!("row {}{column}: {}", self.number, problem.text);
        problem
    }

    pub fn section(&self) -> Result<Option<&'static str>, Problem> {
        let Some(cell) = self.cell("section") else { return Ok(None) };
        let is = |one: &str, many: &str| cell.text.eq_ignore_ascii_case(one) || cell.text.eq_ignore_ascii_case(many);
        if is("way", "ways") {
            return Ok(None);
        }
        let found = SECTIONS.iter().find(|(one, many)| is(one, many)).map(|(_, section)| *section);
        found.map(Some).ok_or_else(|| {
            let known: Vec<&str> = SECTIONS.iter().map(|(one, _)| *one).collect();
            let problem = Problem::at(cell.span, format!("\"{}\" is no section", cell.text));
            self.at("section", problem.help(format!("sections: way, {}", known.join(", "))))
        })
    }

    /// A note as the comment behind a row.
    pub fn note(&self) -> String {
        self.cell("note")
            .map_or(String::new(), |note| format!("  # {}", note.text.replace(|c: char| c.is_control(), " ")))
    }
}

/// Rows of one section that follow one another are put there together: every change reads the file anew.
pub(super) fn joined(changes: Vec<Change>) -> Vec<Change> {
    let mut out: Vec<Change> = Vec::new();
    for change in changes {
        match (&change, out.last_mut()) {
            (Change::Row { section, row }, Some(Change::Row { section: last, row: rows }))
                if section == last && section != "plugs" && (section != "wires" || !row.contains(": ")) =>
            {
                rows.push('\n');
                rows.push_str(row);
            }
            (Change::Way { plug, row }, Some(Change::Way { plug: last, row: rows })) if plug == last => {
                rows.push('\n');
                rows.push_str(row);
            }
            _ => out.push(change),
        }
    }
    out
}

/// A wire whose joints are told has to be written long.
pub(super) fn long(from: &str, to: &str, fields: &[Option<String>], joints: &str) -> String {
    let mut out = format!("{{from: {from}, to: {to}");
    for (key, field) in ["colour", "size", "length", "ohms", "proof"].into_iter().zip(fields) {
        if let Some(field) = field {
            out.push_str(&format!(", {key}: \"{field}\""));
        }
    }
    out.push_str(&format!(", ends: [{}]}}", joints.trim_matches(['[', ']']).replace(';', ",")));
    out
}

/// What stands behind a colon, in quotes if YAML would read it otherwise.
pub(super) fn plain(value: &str) -> String {
    let value = value.trim();
    let own = value.starts_with(['[', '{', '"', '\'']);
    let odd = value.contains(": ") || value.contains(" #") || value.ends_with(':');
    let sign = value.starts_with(['#', '&', '*', '!', '|', '>', '%', '@', '`', '-', '?', ':', ',', ']', '}']);
    if !own && (odd || sign) {
        format!("\"{}\"", value.replace('\\', "\\\\").replace('"', "\\\""))
    } else {
        value.to_owned()
    }
}
