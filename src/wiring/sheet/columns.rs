//! Headings: which row they are, what separates cells, what each column holds and in which unit.

use super::ColumnTold;
use crate::catalogue::Catalogue;
use crate::text::csv::{self, Cell, Rows, SEPARATORS};
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::text::span::Source;

/// Rows of a sheet that may stand above its headings.
const TITLES: usize = 20;

/// A column that is used.
#[derive(Clone, Debug)]
pub(super) struct Column {
    /// Its place, from 0.
    pub at: usize,
    /// What it holds, by the key of the rules: `from`.
    pub holds: String,
    /// The unit of its heading: `mm2`.
    pub unit: Option<String>,
}

/// A sheet by its columns.
#[derive(Clone, Debug)]
pub(super) struct Heads {
    pub separator: char,
    pub columns: Vec<Column>,
    pub headings: Vec<Cell>,
    /// Rows below the headings.
    pub rows: Rows,
}

impl Heads {
    pub fn heading(&self, at: usize) -> &str {
        self.headings.get(at).map_or("", |cell| cell.text.as_str())
    }

    pub fn told(&self) -> Vec<ColumnTold> {
        let filled =
            |at: usize| self.rows.iter().filter(|(_, row)| row.get(at).is_some_and(|c| !c.text.is_empty())).count();
        let holds = |at: usize| {
            let column = self.columns.iter().find(|column| column.at == at)?;
            let unit = column.unit.as_ref().map_or(String::new(), |unit| format!(" in {unit}"));
            Some(format!("{}{unit}", column.holds))
        };
        let told = |(at, cell): (usize, &Cell)| ColumnTold {
            number: at + 1,
            heading: cell.text.clone(),
            holds: holds(at),
            cells: filled(at),
        };
        self.headings.iter().enumerate().map(told).filter(|told| told.cells > 0 || !told.heading.is_empty()).collect()
    }
}

/// The sheet by the separator with which most headings are known.
pub(super) fn find(sheet: &Source, catalogue: &Catalogue) -> Result<Heads, Problem> {
    let mut best: Option<Heads> = None;
    let mut broken = None;
    for separator in SEPARATORS {
        let rows = match csv::read(sheet, separator) {
            Ok(rows) => rows,
            Err(problem) => {
                broken = broken.or(Some(problem));
                continue;
            }
        };
        for (at, (_, row)) in rows.iter().enumerate().take(TITLES) {
            let columns = columns(row, catalogue);
            if columns.len() > best.as_ref().map_or(1, |best| best.columns.len()) {
                let rows = rows[at + 1..].to_vec();
                best = Some(Heads { separator, columns, headings: row.clone(), rows });
            }
        }
    }
    match (best, broken) {
        (Some(best), _) => Ok(best),
        (None, Some(problem)) => Err(problem),
        (None, None) => {
            let problem = Problem::whole("no row of headings is known here");
            Err(problem.help("name the columns in the first row: from, to, colour, size (mm2), length (m); for a plug: plug, way, old, new, from, to, proof"))
        }
    }
}

fn columns(row: &[Cell], catalogue: &Catalogue) -> Vec<Column> {
    let mut out: Vec<Column> = Vec::new();
    let all: Vec<Option<(String, Option<String>)>> = row.iter().map(|cell| heading(&cell.text, catalogue)).collect();
    let plug = all.iter().flatten().any(|(holds, _)| holds == "plug");
    for (at, found) in all.into_iter().enumerate() {
        let Some((mut holds, unit)) = found else { continue };
        // From, pin, to, pin: each pin belongs to what stands before it.
        let before = out.last().filter(|last| last.at + 1 == at).map(|last| last.holds.as_str());
        let both =
            row.iter().filter(|cell| heading(&cell.text, catalogue).is_some_and(|(h, _)| h == "way")).count() > 1;
        if holds == "way" && (both || !plug) && matches!(before, Some("from" | "to")) {
            holds = format!("{}-pin", before.unwrap_or_default());
        }
        if !out.iter().any(|column| column.holds == holds) {
            out.push(Column { at, holds, unit });
        }
    }
    out
}

/// What a heading says that its column holds, and its unit.
fn heading(text: &str, catalogue: &Catalogue) -> Option<(String, Option<String>)> {
    let words = |text: &str| {
        let clean: String =
            text.to_lowercase().chars().map(|c| if c.is_alphanumeric() || c == '²' { c } else { ' ' }).collect();
        clean.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let known = |text: &str| {
        let text = words(text).replace('²', "2");
        let headings = &catalogue.columns.headings;
        headings
            .iter()
            .find(|(key, also)| **key == text || also.iter().any(|a| words(a) == text))
            .map(|(key, _)| key.clone())
    };
    let unit = |text: &str| {
        let text = text.trim().trim_matches(['(', ')', '[', ']', '.']).trim();
        let awg = text.eq_ignore_ascii_case("awg");
        let real = !text.is_empty() && quantity::parse(&format!("1 {text}")).is_ok_and(|q| q.unit != Unit::One);
        (awg || real).then(|| if awg { "AWG".to_owned() } else { text.replace('²', "2") })
    };
    let spaced = text.replace('_', " ");
    let whole = spaced.trim();
    // Length (m), Length [m], Length in m, Length/m, Length m.
    let cuts = [whole.find('('), whole.find('['), whole.rfind(" in "), whole.rfind('/'), whole.rfind(' ')];
    for cut in cuts.into_iter().flatten() {
        let tail = whole[cut..].trim_start_matches([' ', '/']).trim_start_matches("in ");
        if let (Some(holds), Some(unit)) = (known(&whole[..cut]), unit(tail)) {
            return Some((holds, Some(unit)));
        }
    }
    if let Some(holds) = known(whole) {
        return Some((holds, unit(whole)));
    }
    let head = whole.split(['(', '[']).next().unwrap_or("");
    known(head).filter(|_| head.len() < whole.len()).map(|holds| (holds, None))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_in_peoples_spelling() {
        let rules = Catalogue::builtin();
        for (text, holds, unit) in [
            ("Wire Colour", "colour", None),
            ("COLOR", "colour", None),
            ("Size (mm²)", "size", Some("mm2")),
            ("Gauge [AWG]", "size", Some("AWG")),
            ("AWG", "size", Some("AWG")),
            ("mm2", "size", Some("mm2")),
            ("Length / m", "length", Some("m")),
            ("length in ft", "length", Some("ft")),
            ("Length_cm", "length", Some("cm")),
            ("Length cm", "length", Some("cm")),
            ("From (part)", "from", None),
            ("Pin No.", "way", None),
            ("Remarks", "note", None),
        ] {
            let found = heading(text, &rules);
            assert_eq!(found, Some((holds.to_owned(), unit.map(str::to_owned))), "{text}");
        }
        assert_eq!(heading("Price", &rules), None);
    }
}
