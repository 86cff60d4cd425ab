//! Source text and positions in it.

use super::problem::Problem;
use std::sync::OnceLock;

/// A piece of a source, as byte offsets `start..end`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Span {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

/// A named text, so that a [`Span`] can be shown as a line of a file.
#[derive(Clone, Debug)]
pub struct Source {
    /// The name people know it by, `wiring.yaml`.
    pub name: String,
    /// The whole text.
    pub text: String,
    /// Where its lines start, found when first asked: a file may have as many problems as lines.
    starts: OnceLock<Vec<usize>>,
}

impl Source {
    /// A source of this name and text.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        Source { name: name.into(), text: text.into(), starts: OnceLock::new() }
    }

    /// A source from the bytes of a file; bytes that are no UTF-8 text are one problem with its line.
    pub fn from_bytes(name: impl Into<String>, bytes: Vec<u8>) -> Result<Self, Box<(Self, Problem)>> {
        let name = name.into();
        match String::from_utf8(bytes) {
            Ok(text) => Ok(Source::new(name, text)),
            Err(error) => {
                let at = error.utf8_error().valid_up_to();
                let text = String::from_utf8_lossy(error.as_bytes()).into_owned();
                let problem = Problem::at(Span { start: at, end: at + 1 }, "this is no UTF-8 text")
                    .help("save the file as plain text in UTF-8");
                Err(Box::new((Source::new(name, text), problem)))
            }
        }
    }

    /// The line a span starts in, counted from 1.
    pub fn line(&self, span: Span) -> usize {
        self.starts().partition_point(|&start| start <= span.start.min(self.text.len()))
    }

    /// The text of the line a span starts in, and the column (in characters, from 0) of its start.
    pub fn line_text(&self, span: Span) -> (&str, usize) {
        let at = span.start.min(self.text.len());
        let line = self.line(span);
        let start = self.starts()[line - 1];
        let end = self.starts().get(line).map_or(self.text.len(), |next| next - 1);
        let text = self.text.get(start..end).unwrap_or("").trim_end_matches('\r');
        let column = self.text.get(start..at).map_or(0, |s| s.chars().count());
        (text, column)
    }

    fn starts(&self) -> &[usize] {
        self.starts
            .get_or_init(|| std::iter::once(0).chain(self.text.match_indices('\n').map(|(at, _)| at + 1)).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_that_are_no_text_are_shown_with_their_line() {
        let (source, problem) =
            Source::from_bytes("w.yaml", b"a: 1\nb: gr\xfcn\n".to_vec()).map_err(|wrong| *wrong).unwrap_err();
        let shown = problem.render(&source);
        assert!(shown.starts_with("w.yaml, line 2: this is no UTF-8 text"), "{shown}");
        assert!(Source::from_bytes("w.yaml", b"a: 1".to_vec()).is_ok());
    }

    #[test]
    fn lines_and_columns_also_at_the_edges() {
        let source = Source::new("w.yaml", "ab\r\n\nüx\n");
        let at =
            |start| (source.line(Span { start, end: start + 1 }), source.line_text(Span { start, end: start + 1 }));
        assert_eq!(at(0), (1, ("ab", 0)));
        assert_eq!(at(3), (1, ("ab", 3)), "a line's end belongs to it");
        assert_eq!(at(4), (2, ("", 0)));
        assert_eq!(at(7), (3, ("üx", 1)), "columns are characters");
        assert_eq!(at(99), (4, ("", 0)), "behind the end is the end");
        assert_eq!(Source::new("w.yaml", "").line(Span { start: 0, end: 0 }), 1);
    }
}
