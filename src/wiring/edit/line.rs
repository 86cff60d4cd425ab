//! One typed line: is it sound text, what is its name, what are its fields, and what becomes of a row when only some of
//! its fields are said anew.

use super::super::lower::proof_word;
use crate::catalogue::Catalogue;
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};

/// Words that are fields of their own in some row.
const FITTED: [&str; 2] = ["not fitted", "fitted"];

/// What a field is, by its content.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Class {
    Proof,
    Fitted,
    Figure(Unit),
    /// `on frame`.
    On,
    /// `[horn.feed]`.
    List,
    Word,
}

/// A line that would do more to the file than add its own text is refused: what it opens it has to close.
pub(super) fn sound(line: &str) -> Result<(), Problem> {
    if let Some(odd) = line.chars().find(|c| c.is_control()) {
        let says = format!("a character that no row can hold ({})", odd.escape_unicode());
        return Err(Problem::whole(says).help("type the row anew"));
    }
    let mut open: Vec<char> = Vec::new();
    let mut quote = None;
    let mut before = ' ';
    let mut chars = line.chars();
    while let Some(c) = chars.next() {
        match (quote, c) {
            (Some(q), c) if c == q => quote = None,
            (Some('"'), '\\') => _ = chars.next(),
            (Some(_), _) => {}
            (None, '"' | '\'') if !before.is_alphanumeric() => quote = Some(c),
            (None, '#') if before.is_whitespace() => break,
            (None, '[' | '{') => open.push(c),
            (None, ']' | '}') => {
                let fits = matches!((open.pop(), c), (Some('['), ']') | (Some('{'), '}'));
                if !fits {
                    return Err(Problem::whole(format!("\"{c}\" closes nothing")).help("count the brackets"));
                }
            }
            (None, _) => {}
        }
        before = c;
    }
    if quote.is_some() {
        return Err(Problem::whole("a quote is opened and not closed").help("close it, or leave it out"));
    }
    match open.pop() {
        Some(open) => Err(Problem::whole(format!("\"{open}\" is not closed")).help("close it at the end of the row")),
        None => Ok(()),
    }
}

/// `NAME: rest`, the name being anything before the first colon that a blank or the end follows.
pub(super) fn named(line: &str) -> Option<(&str, &str)> {
    let at = line.match_indices(':').map(|(at, _)| at).find(|at| {
        let rest = &line[at + 1..];
        rest.is_empty() || rest.starts_with(' ')
    })?;
    let name = line[..at].trim();
    let plain = !name.is_empty() && !name.contains([',', '[', '{', '"', '#']);
    plain.then(|| (name, line[at + 1..].trim()))
}

/// The row without a comment behind it, and the comment with the blanks before it.
pub(super) fn comment(row: &str) -> (&str, &str) {
    match row.match_indices(" #").next() {
        Some((at, _)) => {
            let head = row[..at].trim_end();
            (head, &row[head.len()..])
        }
        None => (row, ""),
    }
}

/// Fields between commas; a list in brackets is one.
pub(super) fn fields(row: &str) -> Vec<&str> {
    let mut out = Vec::new();
    let (mut depth, mut from) = (0usize, 0);
    for (at, c) in row.char_indices() {
        match c {
            '[' | '{' => depth += 1,
            ']' | '}' => depth = depth.saturating_sub(1),
            ',' if depth == 0 => {
                out.push(row[from..at].trim());
                from = at + 1;
            }
            _ => {}
        }
    }
    out.push(row[from..].trim());
    if out.last().is_some_and(|last| last.is_empty()) {
        out.pop();
    }
    out
}

/// The kind that a field begins with, and the figure behind it: `fuse 10 A`.
pub(super) fn kind_and_figure<'f>(field: &'f str, catalogue: &Catalogue) -> Option<(&'f str, &'f str)> {
    if catalogue.kind(field).is_some() {
        return Some((field, ""));
    }
    let cuts = field.match_indices(' ').map(|(at, _)| at).collect::<Vec<_>>();
    let cut = cuts.into_iter().rev().find(|&at| {
        let figure = field[at..].trim_start();
        figure.starts_with(|c: char| c.is_ascii_digit() || c == '.') && catalogue.kind(field[..at].trim()).is_some()
    })?;
    Some((field[..cut].trim(), field[cut..].trim()))
}

fn class(field: &str, catalogue: &Catalogue) -> Class {
    if FITTED.iter().any(|word| field.eq_ignore_ascii_case(word)) {
        return Class::Fitted;
    }
    if proof_word(field).is_some() {
        return Class::Proof;
    }
    if field.starts_with('[') {
        return Class::List;
    }
    if field.len() > 3 && field.is_char_boundary(3) && field[..3].eq_ignore_ascii_case("on ") {
        return Class::On;
    }
    let figure = match kind_and_figure(field, catalogue) {
        Some((_, figure)) if !figure.is_empty() => figure,
        Some(_) => return Class::Word,
        None => field,
    };
    quantity::parse(figure).map_or(Class::Word, |q| Class::Figure(q.unit))
}

/// A row with some of its fields said anew: each takes the place of the one of its class, behind the first `head`
/// fields; what has none of its class is put before a list and a proof mark.
pub(in crate::wiring) fn merged(old: &str, new: &[&str], head: usize, catalogue: &Catalogue) -> String {
    let mut out: Vec<String> = fields(old).into_iter().map(str::to_owned).collect();
    let of = |field: &str| class(field, catalogue);
    let late = |class: Class| matches!(class, Class::Proof | Class::List | Class::Fitted);
    for field in new {
        let wanted = of(field);
        // For a wire `not fitted` is a proof mark like the others.
        let same =
            |known: Class| known == wanted || (head == 1 && late(known) && late(wanted) && wanted != Class::List);
        let bare = quantity::parse(field).is_ok();
        let first = if matches!(wanted, Class::Figure(_)) { 0 } else { head.min(out.len()) };
        let found = (first..out.len()).find(|&at| same(of(&out[at])));
        if field.eq_ignore_ascii_case("fitted") {
            if let Some(at) = found {
                out.remove(at);
            }
            continue;
        }
        match found {
            Some(at) => {
                let kind = kind_and_figure(&out[at], catalogue).filter(|(_, figure)| bare && !figure.is_empty());
                out[at] = kind.map_or_else(|| (*field).to_owned(), |(kind, _)| format!("{kind} {field}"));
            }
            None => {
                let at =
                    (head.min(out.len())..out.len()).find(|&at| late(of(&out[at]))).filter(|_| wanted != Class::List);
                out.insert(at.unwrap_or(out.len()), (*field).to_owned());
            }
        }
    }
    out.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_opens_and_does_not_close_is_refused() {
        for good in ["a: b", "it's, red", "G1: nose, [a.b, c.d]  # the \"left", "x: \"a # b\"", "x: {a: [1, 2]}"] {
            assert!(sound(good).is_ok(), "{good}");
        }
        for bad in ["a: \"b", "a: [b", "a: b]", "a: {b]", "a\u{7}b", "W1: a.b to c.d, 'red"] {
            assert!(sound(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn fields_said_anew_take_their_own_places() {
        let rules = Catalogue::builtin();
        let merged = |old: &str, new: &[&str], head| super::merged(old, new, head, &rules);
        assert_eq!(merged("a.b to c.d, red, 10 AWG, 0.5 m", &["ok"], 1), "a.b to c.d, red, 10 AWG, 0.5 m, ok");
        assert_eq!(
            merged("a.b to c.d, red, 0.5 m, ?", &["beep", "2.5 mm2", "blue"], 1),
            "a.b to c.d, blue, 0.5 m, 2.5 mm2, beep"
        );
        assert_eq!(merged("a.b to c.d, not fitted", &["ok"], 1), "a.b to c.d, ok");
        assert_eq!(merged("horn, 3.5 A, nose", &["4 A", "tail"], 1), "horn, 4 A, tail");
        assert_eq!(merged("fuse 10 A, dash, [a.b, c.d]", &["15 A"], 0), "fuse 15 A, dash, [a.b, c.d]");
        assert_eq!(merged("lamp, 5 W, dash, not fitted", &["fitted"], 1), "lamp, 5 W, dash");
        assert_eq!(merged("nose, on frame, [a.b]", &["on block"], 0), "nose, on block, [a.b]");
    }

    #[test]
    fn a_name_ends_at_its_colon() {
        assert_eq!(named("W7: a.b to c.d"), Some(("W7", "a.b to c.d")));
        assert_eq!(named("tiller to nose: 1.2 m"), Some(("tiller to nose", "1.2 m")));
        assert_eq!(named("ways:"), Some(("ways", "")));
        assert_eq!(named("a.b to c.d, red  # see: there"), None);
        assert_eq!(named("a:b"), None);
    }
}
