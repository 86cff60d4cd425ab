//! Colour by meaning, from one table. Nothing is told by colour alone: every meaning has its word too.

use colored::{Color, Colorize, Styles};
use std::io::IsTerminal;

/// When to colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Choice {
    /// At a terminal, unless NO_COLOR is set
    #[default]
    Auto,
    /// Always
    Always,
    /// Never
    Never,
}

/// What a piece of text means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// A suspect, a site, what is wrong.
    Fault,
    /// A number with its unit, a reading.
    Value,
    /// Where something is, a point, a file and its line.
    Place,
    /// What may hurt or burn somebody.
    Caution,
    /// A heading.
    Head,
    /// Something beside the point.
    Aside,
    /// What can be typed.
    Key,
}

/// The one table: meaning, colour, style.
const TABLE: [(Meaning, Option<Color>, Styles); 7] = [
    (Meaning::Fault, Some(Color::Red), Styles::Clear),
    (Meaning::Value, Some(Color::Cyan), Styles::Clear),
    (Meaning::Place, Some(Color::Green), Styles::Clear),
    (Meaning::Caution, Some(Color::Yellow), Styles::Bold),
    (Meaning::Head, None, Styles::Bold),
    (Meaning::Aside, None, Styles::Dimmed),
    (Meaning::Key, None, Styles::Underline),
];

/// Colours or does not; decided once for each stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paint {
    on: bool,
}

impl Paint {
    /// The decision: the flag, then the environment, then the stream.
    pub fn decide(choice: Choice, stream: &impl IsTerminal) -> Paint {
        let on = match choice {
            Choice::Always => true,
            Choice::Never => false,
            Choice::Auto => {
                let no_color = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
                let dumb = std::env::var_os("TERM").is_some_and(|v| v == "dumb");
                !no_color && !dumb && stream.is_terminal()
            }
        };
        if on {
            // The crate looks at stdout only; this program has decided for itself.
            colored::control::set_override(true);
        }
        Paint { on }
    }

    /// No colour at all.
    pub fn plain() -> Paint {
        Paint { on: false }
    }

    /// Is it on?
    pub fn is_on(self) -> bool {
        self.on
    }

    /// The text in the colour of its meaning.
    pub fn as_(self, meaning: Meaning, text: &str) -> String {
        if !self.on {
            return text.to_string();
        }
        let Some((_, colour, style)) = TABLE.iter().find(|row| row.0 == meaning) else {
            return text.to_string();
        };
        let painted = match colour {
            Some(colour) => text.color(*colour),
            None => text.normal(),
        };
        match style {
            Styles::Bold => painted.bold(),
            Styles::Dimmed => painted.dimmed(),
            Styles::Underline => painted.underline(),
            _ => painted,
        }
        .to_string()
    }

    /// A suspect or what is wrong.
    pub fn fault(self, text: &str) -> String {
        self.as_(Meaning::Fault, text)
    }

    /// A number.
    pub fn value(self, text: &str) -> String {
        self.as_(Meaning::Value, text)
    }

    /// A place.
    pub fn place(self, text: &str) -> String {
        self.as_(Meaning::Place, text)
    }

    /// A caution.
    pub fn caution(self, text: &str) -> String {
        self.as_(Meaning::Caution, text)
    }

    /// A heading.
    pub fn head(self, text: &str) -> String {
        self.as_(Meaning::Head, text)
    }

    /// An aside.
    pub fn aside(self, text: &str) -> String {
        self.as_(Meaning::Aside, text)
    }

    /// What can be typed.
    pub fn key(self, text: &str) -> String {
        self.as_(Meaning::Key, text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_paint_leaves_text_alone_and_every_meaning_has_a_row() {
        assert_eq!(Paint::plain().fault("G1"), "G1");
        for meaning in [
            Meaning::Fault,
            Meaning::Value,
            Meaning::Place,
            Meaning::Caution,
            Meaning::Head,
            Meaning::Aside,
            Meaning::Key,
        ] {
            assert_eq!(TABLE.iter().filter(|row| row.0 == meaning).count(), 1);
        }
    }
}
