//! Spreadsheets in and out: rows of wires, of plugs and of all else, in any order of columns and in people's spelling.
//!
//! Reading goes from headings (`columns`) over cells (`cells`) and ends (`ends`) to rows of the wiring file (`rows`), which
//! are then added to a [`Draft`]; what is wrong is told by row and column of the sheet. Knows no files.
//!
//! ```
//! use ohmward::{catalogue::Catalogue, text::span::Source, wiring::{edit::Draft, sheet}};
//! let rules = Catalogue::builtin();
//! let text = "machine: Cart\nparts:\n  horn: horn\n  lamp: lamp\n";
//! let draft = Draft::open(Source::new("wiring.yaml", text), &rules).unwrap();
//! let csv = Source::new("t.csv", "Length (cm);From;To;Colour\n120;horn.feed;Lamp +;BLK/WHT\n");
//! let taken = sheet::import(&csv, &draft, &Default::default()).unwrap();
//! assert!(taken.draft.text().contains("- horn.feed to lamp.feed, black/white, 120 cm, ?\n"), "{}", taken.draft.text());
//! ```

mod cells;
mod columns;
mod ends;
mod pins;
mod row;
mod rows;
mod write;

pub use pins::{Pin, PinList, pins};
pub use write::export;

use super::edit::{Draft, Refusal};
use crate::text::problem::Problem;
use crate::text::span::Source;

/// What the person says beside the sheet.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// The plug whose ways these are, where the sheet does not name it.
    pub plug: Option<String>,
    /// What letters for colours mean: `BL`, `blue`.
    pub colours: Vec<(String, String)>,
}

/// A column and what was made of it.
#[derive(Clone, Debug, PartialEq)]
pub struct ColumnTold {
    /// Its number from 1.
    pub number: usize,
    /// Its heading.
    pub heading: String,
    /// What it holds; none where it was passed over.
    pub holds: Option<String>,
    /// Cells with something in them.
    pub cells: usize,
}

/// How a row stands to the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum How {
    /// It was not there.
    New,
    /// It was there and says something else now.
    Changed,
    /// It was there.
    There,
}

/// A row and what was made of it.
#[derive(Clone, Debug, PartialEq)]
pub struct RowTold {
    /// Its number in the sheet, from 1; none for a part that rows only speak of.
    pub number: Option<usize>,
    /// The row of the wiring file.
    pub row: String,
    /// Is it new there?
    pub how: How,
    /// What was taken for granted.
    pub assumed: Vec<String>,
}

/// A sheet taken into a wiring file.
#[derive(Clone, Debug)]
pub struct Import<'c> {
    /// The file now.
    pub draft: Draft<'c>,
    /// What stands between the sheet's cells.
    pub separator: char,
    /// Every column.
    pub columns: Vec<ColumnTold>,
    /// Every row.
    pub rows: Vec<RowTold>,
}

/// Takes a sheet into a file: all of it, or nothing.
///
/// # Errors
///
/// Every problem, with its row and column.
pub fn import<'c>(sheet: &Source, draft: &Draft<'c>, options: &Options) -> Result<Import<'c>, Vec<Problem>> {
    let heads = columns::find(sheet, draft.catalogue()).map_err(|problem| vec![problem])?;
    let columns = heads.told();
    let (changes, rows, mut problems) = rows::changes(&heads, draft, options);
    if !problems.is_empty() {
        problems.sort_by_key(|problem| problem.span.map_or(0, |span| span.start));
        return Err(problems);
    }
    match draft.with(&changes) {
        Ok(draft) => Ok(Import {
            draft,
            separator: heads.separator,
            columns,
            rows: rows.into_iter().map(|row| row.told).collect(),
        }),
        Err(refusal) => Err(placed(&refusal, &heads, &rows)),
    }
}

/// Problems of the file as it would be, put where they stand in the sheet.
fn placed(refusal: &Refusal, heads: &columns::Heads, rows: &[rows::Made]) -> Vec<Problem> {
    let place = |problem: &Problem| {
        let Some(span) = problem.span else { return problem.clone() };
        let (line, _) = refusal.source.line_text(span);
        let word = refusal.source.text.get(span.start..span.end).unwrap_or("");
        let line = line.trim().trim_start_matches("- ");
        let Some(made) = rows.iter().find(|made| line.starts_with(made.told.row.as_str())) else {
            let mut problem = problem.clone();
            problem.text = format!("\"{line}\": {}", problem.text);
            problem.span = None;
            return problem;
        };
        let cell = made.cells.iter().find(|(_, cell, _)| cell.eq_ignore_ascii_case(word)).or(made.cells.first());
        let column = cell.map_or(String::new(), |(column, _, _)| format!(", column \"{}\"", heads.heading(*column)));
        let mut out = problem.clone();
        out.text = format!("row {}{column}: {}", made.told.number.unwrap_or(0), problem.text);
        out.span = cell.map(|(_, _, span)| *span);
        out
    };
    refusal.problems.iter().map(place).collect()
}

/// The name of a separator.
pub fn separator_name(separator: char) -> &'static str {
    match separator {
        ',' => "commas",
        ';' => "semicolons",
        '\t' => "tabs",
        _ => "bars",
    }
}
