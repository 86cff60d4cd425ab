//! Source text and positions in it.

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
}

impl Source {
    /// A source of this name and text.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        Source { name: name.into(), text: text.into() }
    }

    /// The line a span starts in, counted from 1.
    pub fn line(&self, span: Span) -> usize {
        let end = span.start.min(self.text.len());
        self.text.as_bytes()[..end].iter().filter(|&&b| b == b'\n').count() + 1
    }

    /// The text of the line a span starts in, and the column (in characters, from 0) of its start.
    pub fn line_text(&self, span: Span) -> (&str, usize) {
        let at = span.start.min(self.text.len());
        let start = self.text.as_bytes()[..at].iter().rposition(|&b| b == b'\n').map_or(0, |i| i + 1);
        let end = self.text.as_bytes()[at..].iter().position(|&b| b == b'\n').map_or(self.text.len(), |i| at + i);
        let line = self.text.get(start..end).unwrap_or("").trim_end_matches('\r');
        let column = self.text.get(start..at).map_or(0, |s| s.chars().count());
        (line, column)
    }
}
