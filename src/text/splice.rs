//! Changing a text by pieces: whole rows with their lines, items between commas, what stands around them kept.
//!
//! Works on the characters alone; knows nothing of what the rows mean.

use super::span::Span;

/// Puts `with` in the place of a span.
pub fn replace(text: &mut String, span: Span, with: &str) {
    let (start, end) = (span.start.min(text.len()), span.end.min(text.len()));
    if text.is_char_boundary(start) && text.is_char_boundary(end) && start <= end {
        text.replace_range(start..end, with);
    }
}

/// Takes out rows and items. A row that has its lines for itself goes with them, with a comment on them and with a
/// comment above that then heads nothing; an item between commas goes with one of them.
///
/// ```
/// use ohmward::text::{span::Span, splice::remove};
/// let mut text = "a:\n  # two\n  - one\n  - two  # it\nb: [x, y]\n".to_owned();
/// let (two, x) = (text.find("two  #").unwrap(), text.find('x').unwrap());
/// remove(&mut text, &[Span { start: two, end: two + 3 }, Span { start: x, end: x + 1 }]);
/// assert_eq!(text, "a:\n  # two\n  - one\nb: [y]\n");
/// ```
pub fn remove(text: &mut String, spans: &[Span]) {
    let mut spans: Vec<Span> = spans.to_vec();
    // From the back, so that the places of what is still to go do not move; a piece inside a larger one goes with it.
    spans.sort_by_key(|span| (span.start, std::cmp::Reverse(span.end)));
    let mut outer: Vec<Span> = Vec::new();
    for span in spans {
        if outer.last().is_none_or(|last| span.start >= last.end) {
            outer.push(span);
        }
    }
    for span in outer.into_iter().rev() {
        let extent = extent(text, span);
        replace(text, extent, "");
    }
}

/// What goes with a piece.
fn extent(text: &str, span: Span) -> Span {
    let (start, end) = (line_start(text, span.start), line_end(text, span.end));
    let (before, after) = (text[start..span.start].trim(), text[span.end..end].trim());
    if owns_line(before) && (after.is_empty() || after.starts_with('#')) {
        return lines(text, Span { start, end });
    }
    item(text, span)
}

/// Does what stands before a piece on its line belong to it: nothing, a dash, a name and a colon?
fn owns_line(before: &str) -> bool {
    let rest = before.strip_prefix('-').unwrap_or(before).trim();
    rest.is_empty() || rest.strip_suffix(':').is_some_and(|name| !name.contains([':', ',', '[', '{', ' ']))
}

/// Whole lines, with the comment above them if nothing is left that it heads, and one of two blank lines.
fn lines(text: &str, span: Span) -> Span {
    let mut start = span.start;
    let end = (span.end + 1).min(text.len());
    let indent = indent(&text[start..]);
    let next = text[end..].lines().next().unwrap_or("");
    let heads_nothing = next.trim().is_empty() || next.trim().starts_with('#') || self::indent(next) < indent;
    if heads_nothing {
        while start > 0 {
            let above = line_start(text, start - 1);
            let line = &text[above..start];
            if !line.trim().starts_with('#') || self::indent(line) != indent || indent == 0 {
                break;
            }
            start = above;
        }
    }
    if next.trim().is_empty() && start > 0 {
        let above = line_start(text, start - 1);
        if text[above..start].trim().is_empty() {
            start = above;
        }
    }
    Span { start, end }
}

fn indent(line: &str) -> usize {
    line.len() - line.trim_start_matches(' ').len()
}

/// An item between commas, with the comma before it, or behind it if it is the first; the only one of a list that
/// is the last field of a row takes the brackets with it.
fn item(text: &str, span: Span) -> Span {
    let head = text[..span.start].trim_end();
    if head.ends_with(',') {
        return Span { start: head.len() - 1, end: span.end };
    }
    let rest = &text[span.end..];
    let gap = rest.len() - rest.trim_start().len();
    if let Some(behind) = rest[gap..].strip_prefix(',') {
        let space = behind.len() - behind.trim_start_matches([' ', '\n', '\r']).len();
        return Span { start: span.start, end: span.end + gap + 1 + space };
    }
    let row = head.strip_suffix('[').map(str::trim_end).filter(|row| row.ends_with(','));
    match row {
        Some(row) if rest[gap..].starts_with(']') => Span { start: row.len() - 1, end: span.end + gap + 1 },
        _ => span,
    }
}

/// Where the line that holds this place begins.
pub fn line_start(text: &str, at: usize) -> usize {
    text[..at.min(text.len())].rfind('\n').map_or(0, |i| i + 1)
}

/// Where the line that holds this place ends: its newline, or the end of the text.
pub fn line_end(text: &str, at: usize) -> usize {
    let at = at.min(text.len());
    text[at..].find('\n').map_or(text.len(), |i| at + i)
}

/// The spaces that the line of this place begins with.
pub fn indentation(text: &str, at: usize) -> &str {
    let start = line_start(text, at);
    &text[start..start + indent(&text[start..])]
}

/// One past the bracket that closes the one at `open`; quotes and comments are passed over.
pub fn closing(text: &str, open: usize) -> Option<usize> {
    let mut depth = 0usize;
    let mut quote = None;
    let mut before = ' ';
    let mut chars = text.get(open..)?.char_indices();
    while let Some((at, c)) = chars.next() {
        match (quote, c) {
            (Some(q), c) if c == q => quote = None,
            (Some('"'), '\\') => _ = chars.next(),
            (Some(_), _) => {}
            // Inside a word an apostrophe is one.
            (None, '"' | '\'') if !before.is_alphanumeric() => quote = Some(c),
            (None, '#') if before.is_whitespace() => {
                for (_, c) in chars.by_ref() {
                    if c == '\n' {
                        break;
                    }
                }
            }
            (None, '[' | '{') => depth += 1,
            (None, ']' | '}') => {
                depth = depth.saturating_sub(1);
                if depth == 0 {
                    return Some(open + at + 1);
                }
            }
            (None, _) => {}
        }
        before = c;
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    fn without(text: &str, pieces: &[&str]) -> String {
        let spans: Vec<Span> = pieces
            .iter()
            .map(|piece| {
                let start = text.find(piece).unwrap_or_else(|| panic!("{piece} in {text}"));
                Span { start, end: start + piece.len() }
            })
            .collect();
        let mut text = text.to_owned();
        remove(&mut text, &spans);
        text
    }

    #[test]
    fn items_go_with_one_comma_each() {
        let row = "  G1: nose, on frame, [a.x, b.x, c.x]  # bolt\n";
        assert_eq!(without(row, &["a.x"]), "  G1: nose, on frame, [b.x, c.x]  # bolt\n");
        assert_eq!(without(row, &["b.x"]), "  G1: nose, on frame, [a.x, c.x]  # bolt\n");
        assert_eq!(without(row, &["a.x", "b.x"]), "  G1: nose, on frame, [c.x]  # bolt\n");
        assert_eq!(without(row, &["b.x", "c.x"]), "  G1: nose, on frame, [a.x]  # bolt\n");
        assert_eq!(without(row, &["a.x", "b.x", "c.x"]), "  G1: nose, on frame  # bolt\n");
        assert_eq!(without("recent: [P1]\n", &["P1"]), "recent: []\n");
        assert_eq!(without("recent: P1, P2\n", &["P1"]), "recent: P2\n");
        assert_eq!(without("recent: P1\nx: 1\n", &["P1"]), "x: 1\n");
        assert_eq!(without("l: [a,\n    b,\n    c]\n", &["b"]), "l: [a,\n    c]\n");
        assert_eq!(without("p: {dash: easy, nose: 3 min}\n", &["nose: 3 min"]), "p: {dash: easy}\n");
    }

    #[test]
    fn rows_go_with_their_lines_and_a_comment_that_heads_nothing() {
        let text = "wires:\n  # horn\n  - a to b  # thick\n  # lamps\n  - c to d\n  - W7: e to f\n\nx: 1\n";
        assert_eq!(without(text, &["a to b"]), "wires:\n  # lamps\n  - c to d\n  - W7: e to f\n\nx: 1\n");
        assert_eq!(
            without(text, &["e to f"]),
            "wires:\n  # horn\n  - a to b  # thick\n  # lamps\n  - c to d\n\nx: 1\n"
        );
        assert_eq!(without(text, &["c to d", "e to f"]), "wires:\n  # horn\n  - a to b  # thick\n\nx: 1\n");
        assert_eq!(without("a: 1\n\nb:\n  - c\n\nd: 2\n", &["b:\n  - c"]), "a: 1\n\nd: 2\n");
        assert_eq!(without("a: 1\nb: 2", &["b: 2"]), "a: 1\n");
    }

    #[test]
    fn brackets_close_where_they_do() {
        let text = "x: {a: \"]}\", b: [1, {c: it's}], # ] no\n d: 2} e";
        assert_eq!(closing(text, 3), Some(text.len() - 2));
        assert_eq!(closing("[a, b", 0), None);
    }
}
