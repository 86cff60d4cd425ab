//! Problems of an input: what, where, and a way out.

use super::hidden::visible;
use super::span::{Source, Span};

/// One problem of a file, with a way out.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Where, if it has a place.
    pub span: Option<Span>,
    /// What is wrong, in plain words, without the file's name and line.
    pub text: String,
    /// A way out: `nearest: ground`, or what to write instead.
    pub help: Option<String>,
}

impl Problem {
    /// A problem at a place.
    pub fn at(span: Span, text: impl Into<String>) -> Self {
        Problem { span: Some(span), text: text.into(), help: None }
    }

    /// A problem of the whole input.
    pub fn whole(text: impl Into<String>) -> Self {
        Problem { span: None, text: text.into(), help: None }
    }

    /// The same problem with a way out.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Plain text for people: `wiring.yaml, line 14: …`, the line, a mark under the word, the way out.
    pub fn render(&self, source: &Source) -> String {
        let mut out = match self.span {
            Some(span) => format!("{}, line {}: {}\n", source.name, source.line(span), self.text),
            None => format!("{}: {}\n", source.name, self.text),
        };
        if let Some(span) = self.span {
            let (line, column) = source.line_text(span);
            let width = source
                .text
                .get(span.start..span.end)
                .map_or(1, |s| s.lines().next().unwrap_or("").chars().count())
                .clamp(1, line.chars().count().saturating_sub(column).max(1));
            let pad: String = line.chars().take(column).map(|c| if c == '\t' { '\t' } else { ' ' }).collect();
            out.push_str(&format!("    {line}\n    {pad}{}\n", "^".repeat(width)));
        }
        if let Some(help) = &self.help {
            out.push_str(&format!("    {help}\n"));
        }
        visible(&out)
    }
}
