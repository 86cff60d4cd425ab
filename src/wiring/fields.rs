//! Rows: text with its place, split at commas, a list in brackets at the end.
//!
//! Knows nothing of wiring; it knows what YAML and commas do to a row.

use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::text::span::{Source, Span};

/// A piece of text and where it stands.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Text {
    pub text: String,
    pub span: Span,
}

impl Text {
    /// The piece `from..to` (bytes of `self.text`), trimmed, with its own span where the source shows it.
    pub fn part(&self, source: &Source, from: usize, to: usize) -> Text {
        let piece = self.text.get(from..to).unwrap_or("");
        let trimmed = piece.trim();
        let lead = piece.len() - piece.trim_start().len();
        let base = [0, 1].into_iter().find_map(|quote| {
            let at = self.span.start + quote;
            source.text.get(at..)?.starts_with(self.text.as_str()).then_some(at)
        });
        let span = base.map_or(self.span, |base| {
            let start = base + from + lead;
            Span { start, end: start + trimmed.len() }
        });
        Text { text: trimmed.to_owned(), span }
    }

    pub fn is(&self, word: &str) -> bool {
        self.text.eq_ignore_ascii_case(word)
    }

    pub fn lower(&self) -> String {
        self.text.to_lowercase()
    }
}

/// A row of fields.
#[derive(Clone, Debug, Default)]
pub(super) struct Row {
    pub fields: Vec<Text>,
    /// The list in brackets at its end.
    pub list: Option<Vec<Text>>,
}

/// Splits a row at its commas; what YAML or a comma has damaged is a problem.
pub(super) fn split(text: &Text, source: &Source, problems: &mut Vec<Problem>) -> Row {
    let eaten = eaten(text, source, problems);
    let mut row = Row::default();
    let mut body = text.text.len();
    if let Some(open) = text.text.find('[') {
        body = open;
        match text.text.find(']') {
            Some(close) if text.text[close + 1..].trim().is_empty() && close > open => {
                let inner = text.part(source, open + 1, close);
                row.list = Some(if inner.text.is_empty() { Vec::new() } else { commas(&inner, source, problems) });
            }
            Some(close) if close > open => problems.push(
                Problem::at(
                    text.part(source, open, close + 1).span,
                    "a list in brackets stands in the middle of the row",
                )
                .help("put the list last"),
            ),
            _ => problems.push(
                Problem::at(text.part(source, open, text.text.len()).span, "the bracket is not closed")
                    .help("write ] at the end"),
            ),
        }
    }
    let mut head = text.part(source, 0, body);
    if body < text.text.len() {
        // The comma before the list separates nothing.
        head.text.truncate(head.text.trim_end().trim_end_matches(',').len());
    }
    if !head.text.is_empty() {
        row.fields = commas(&head, source, problems);
    }
    if eaten && row.fields.last().is_some_and(|field| field.text.is_empty()) {
        // What stood behind that comma has just been told.
        row.fields.pop();
    }
    row
}

/// Pieces between commas. A comma between two bare digits is a decimal comma, which nothing here reads.
fn commas(text: &Text, source: &Source, problems: &mut Vec<Problem>) -> Vec<Text> {
    let bytes = text.text.as_bytes();
    let mut out: Vec<Text> = Vec::new();
    let mut from = 0;
    for at in text.text.match_indices(',').map(|(at, _)| at).chain([text.text.len()]) {
        if at < from {
            continue;
        }
        let piece = text.part(source, from, at);
        let whole_number = !piece.text.is_empty() && piece.text.bytes().all(|b| b.is_ascii_digit());
        if whole_number && from > 0 && bytes.get(at + 1).is_some_and(u8::is_ascii_digit) {
            let rest = text.text[at + 1..].split(',').next().unwrap_or("").trim();
            let end = at + 1 + text.text[at + 1..].find(',').unwrap_or(text.text.len() - at - 1);
            problems.push(
                Problem::at(text.part(source, from, end).span, "a decimal comma is read as two fields")
                    .help(format!("write {}.{rest}", piece.text)),
            );
            // Read on as if it were a point, so that the row yields no second problem.
            let mut joined = text.part(source, from, end);
            joined.text = format!("{}.{rest}", piece.text);
            out.push(joined);
            from = end + 1;
            continue;
        }
        out.push(piece);
        from = at + 1;
    }
    out
}

/// A ` #` after a row begins a comment for YAML. Most are meant; one that looks like more fields is not.
fn eaten(text: &Text, source: &Source, problems: &mut Vec<Problem>) -> bool {
    let Some(after) = source.text.get(text.span.end..) else { return false };
    if source.text.get(text.span.start..).is_some_and(|s| s.starts_with(['"', '\''])) {
        return false;
    }
    let line = after.lines().next().unwrap_or("");
    let gap = line.len() - line.trim_start().len();
    let Some(comment) = line[gap..].strip_prefix('#') else { return false };
    let glued = comment.starts_with(|c: char| !c.is_whitespace() && c != '#' && c != '-');
    let hanging = text.text.trim_end().ends_with(',') || text.text.ends_with(" to");
    let fields = comment.contains(',')
        && comment.split(',').skip(1).any(|piece| {
            quantity::parse(piece).is_ok_and(|q| matches!(q.unit, Unit::Metre | Unit::SquareMillimetre | Unit::Amp))
        });
    let eaten = gap > 0 && ((glued && gap == 1) || hanging || fields);
    if eaten {
        let start = text.span.end + gap;
        problems.push(
            Problem::at(
                Span { start, end: text.span.end + line.trim_end().len() },
                "YAML reads nothing after \" #\": the rest of this row is lost",
            )
            .help("put the row in quotes; for a comment leave two spaces before # and one behind it"),
        );
    }
    eaten
}

/// Is this a name: a letter or digit, then letters, digits, `_`, `-`?
pub(super) fn is_name(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphanumeric())
        && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(text: &str) -> (Row, Vec<Problem>) {
        let source = Source::new("t", format!("- {text}\n"));
        let end = text.find(" #").unwrap_or(text.len());
        let whole = Text { text: text[..end].to_owned(), span: Span { start: 2, end: 2 + end } };
        let mut problems = Vec::new();
        let row = split(&whole, &source, &mut problems);
        for field in row.fields.iter().chain(row.list.iter().flatten()) {
            if problems.is_empty() {
                assert_eq!(&source.text[field.span.start..field.span.end], field.text);
            }
        }
        (row, problems)
    }

    fn texts(fields: &[Text]) -> Vec<&str> {
        fields.iter().map(|f| f.text.as_str()).collect()
    }

    #[test]
    fn fields_and_the_list_behind_them() {
        let (row, problems) = row("nose, on frame, [lamp-left.ground, horn.ground]");
        assert_eq!(texts(&row.fields), ["nose", "on frame"]);
        assert_eq!(texts(row.list.as_deref().unwrap()), ["lamp-left.ground", "horn.ground"]);
        assert!(problems.is_empty(), "{problems:?}");
    }

    #[test]
    fn a_list_that_does_not_stand_last_is_named() {
        assert!(row("fuse 10 A, [horn.feed], nose").1[0].text.contains("middle of the row"));
        assert!(row("fuse 10 A, [horn.feed").1[0].text.contains("not closed"));
    }

    #[test]
    fn a_decimal_comma_is_named_once_and_read_as_a_point() {
        let (fields, problems) = row("a.b to c.d, red, 0,5 m");
        assert_eq!(texts(&fields.fields), ["a.b to c.d", "red", "0.5 m"]);
        assert_eq!(problems.len(), 1);
        assert_eq!(problems[0].help.as_deref(), Some("write 0.5 m"));
        assert!(row("1, orange, same").1.is_empty());
        assert!(row("1,2").1.is_empty(), "a way's number is no decimal");
    }

    #[test]
    fn an_eaten_tail_is_named_and_a_comment_is_not() {
        for eaten in ["a.b to c.d, red #2, 1 m", "a.b to c.d, # 2, 1.5 mm2", "a.b to c.d # red, 0.5 m"] {
            assert!(row(eaten).1.iter().any(|p| p.text.contains("lost")), "{eaten}");
        }
        for meant in ["a.b to c.d, red   # the long one", "a.b to c.d, red # runs behind the tank, tied twice"] {
            assert!(row(meant).1.is_empty(), "{meant}");
        }
    }
}
