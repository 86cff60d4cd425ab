//! Tables as spreadsheets write them: any of four separators, quotes, line ends of any system, a mark at the start.

use super::hidden;
use super::problem::Problem;
use super::span::{Source, Span};

/// What may stand between two cells.
pub const SEPARATORS: [char; 4] = [',', ';', '\t', '|'];

/// A cell and its place in the text.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cell {
    /// What it says, quotes taken off, trimmed.
    pub text: String,
    /// Where it stands.
    pub span: Span,
}

/// Rows of cells; a row with nothing in it is left out, its number is not. Numbers count from 1, as spreadsheets do.
pub type Rows = Vec<(usize, Vec<Cell>)>;

/// Reads a table with this separator.
///
/// # Errors
///
/// A quote that is opened and never closed; a character that cannot be seen.
///
/// ```
/// use ohmward::text::{csv, span::Source};
/// let rows = csv::read(&Source::new("t.csv", "a;\"b;\"\"c\"\r\n\n1;2\n"), ';').unwrap();
/// assert_eq!((rows[0].1[1].text.as_str(), rows[1].0), ("b;\"c", 3));
/// ```
pub fn read(source: &Source, separator: char) -> Result<Rows, Problem> {
    let text = source.text.as_str();
    if let Some((at, c)) = hidden::first(text) {
        let span = Span { start: at, end: at + c.len_utf8() };
        let text = format!("there is a character that cannot be seen (U+{:04X}) in the table", u32::from(c));
        return Err(Problem::at(span, text).help("take it out, or save the table again"));
    }
    let mut rows = Rows::new();
    let mut row: Vec<Cell> = Vec::new();
    let mut number = 1;
    let mut at = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let mut flush = |row: &mut Vec<Cell>, number: &mut usize| {
        let cells = std::mem::take(row);
        if cells.iter().any(|cell| !cell.text.is_empty()) {
            rows.push((*number, cells));
        }
        *number += 1;
    };
    while at < text.len() {
        let (cell, end) = cell(text, at, separator)?;
        row.push(cell);
        at = end;
        match text[at..].chars().next() {
            Some(c) if c == separator => {
                at += c.len_utf8();
                if at == text.len() {
                    row.push(Cell { text: String::new(), span: Span { start: at, end: at } });
                }
            }
            Some('\r') => {
                at += if text[at..].starts_with("\r\n") { 2 } else { 1 };
                flush(&mut row, &mut number);
            }
            Some(_) => {
                at += 1;
                flush(&mut row, &mut number);
            }
            None => {}
        }
    }
    if !row.is_empty() {
        flush(&mut row, &mut number);
    }
    Ok(rows)
}

/// The cell that begins here, and where it ends.
fn cell(text: &str, from: usize, separator: char) -> Result<(Cell, usize), Problem> {
    let ends = |c: char| c == separator || c == '\n' || c == '\r';
    let lead = text[from..].len() - text[from..].trim_start_matches(' ').len();
    let start = from + lead;
    if !text[start..].starts_with('"') {
        let end = text[from..].find(ends).map_or(text.len(), |at| from + at);
        let trimmed = text[from..end].trim();
        let start = from + (text[from..end].len() - text[from..end].trim_start().len());
        return Ok((Cell { text: trimmed.to_owned(), span: Span { start, end: start + trimmed.len() } }, end));
    }
    let mut out = String::new();
    let mut chars = text[start + 1..].char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        if c != '"' {
            // A cell of several lines is one text.
            out.push(if c == '\n' || c == '\r' { ' ' } else { c });
            continue;
        }
        if chars.peek().is_some_and(|(_, next)| *next == '"') {
            chars.next();
            out.push('"');
            continue;
        }
        let close = start + 1 + at + 1;
        let end = text[close..].find(ends).map_or(text.len(), |at| close + at);
        // What stands behind the quote belongs to the cell all the same: 5" long.
        out.push_str(text[close..end].trim_end());
        return Ok((Cell { text: out.trim().to_owned(), span: Span { start, end } }, end));
    }
    let line = text[start..].lines().next().unwrap_or("").len();
    let problem = Problem::at(Span { start, end: start + line }, "a quote is opened here and never closed");
    Err(problem.help("close it, or take it out"))
}

/// A cell as it is written between commas.
pub fn quoted(text: &str) -> String {
    if text.contains([',', ';', '\t', '|', '"', '\n', '\r']) || text.trim() != text {
        return format!("\"{}\"", text.replace('"', "\"\""));
    }
    text.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn texts(text: &str, separator: char) -> Vec<Vec<String>> {
        let rows = read(&Source::new("t", text), separator).unwrap();
        rows.into_iter().map(|(_, row)| row.into_iter().map(|cell| cell.text).collect()).collect()
    }

    #[test]
    fn tables_of_every_sort() {
        assert_eq!(texts("\u{feff}a,b\r\n\"x, y\",\"5\"\" long\"\r\n", ','), [["a", "b"], ["x, y", "5\" long"]]);
        assert_eq!(texts("a;b\n1,5;\"two\nlines\"", ';'), [["a", "b"], ["1,5", "two lines"]]);
        assert_eq!(texts("a\tb\t\n , \tc", '\t'), [vec!["a", "b", ""], vec![",", "c"]]);
        assert_eq!(texts("a|b\r1|2\r\r3|4", '|'), [["a", "b"], ["1", "2"], ["3", "4"]]);
        assert!(texts("", ',').is_empty() && texts("\n\n", ',').is_empty());
        assert!(read(&Source::new("t", "a,\"b\nc,d\n"), ',').is_err());
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_again(cells in proptest::collection::vec("[ -~äµ²]{0,12}", 1..6)) {
            let line: Vec<String> = cells.iter().map(|cell| quoted(cell)).collect();
            let back = texts(&line.join(","), ',');
            let kept: Vec<String> = cells.iter().map(|cell| cell.trim().to_owned()).collect();
            prop_assert_eq!(back.into_iter().next().unwrap_or_else(|| vec![String::new(); kept.len()]), kept);
        }

        #[test]
        fn no_text_is_too_odd(text in ".{0,80}") {
            for separator in SEPARATORS {
                let source = Source::new("t", text.clone());
                if let Ok(rows) = read(&source, separator) {
                    for cell in rows.iter().flat_map(|(_, row)| row) {
                        prop_assert!(source.text.get(cell.span.start..cell.span.end).is_some());
                    }
                }
            }
        }
    }
}
