//! Colour by meaning, from one table. Nothing is told by colour alone: every meaning has its word too.
//!
//! When there is colour is decided here and nowhere else, for each stream by itself; what is named first wins:
//!
//! 1. `--color always` or `--color never`;
//! 2. `NO_COLOR`, not empty: none (no-color.org);
//! 3. `CLICOLOR_FORCE`, neither empty nor `0`: colour, wherever the stream goes (bixense.com/clicolors);
//! 4. the stream is no terminal: none;
//! 5. `TERM=dumb`, or no `TERM` where there should be one: none (common practice, no source);
//! 6. `CLICOLOR=0`: none (bixense.com/clicolors);
//! 7. else colour.

use colored::{Color, Colorize, Styles};
use std::ffi::OsString;
use std::io::IsTerminal;

/// When to colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum Choice {
    /// At a terminal, unless NO_COLOR or CLICOLOR=0 is set
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

/// What the environment says of colour.
#[derive(Clone, Debug, Default)]
struct Environment {
    no_color: Option<OsString>,
    clicolor_force: Option<OsString>,
    clicolor: Option<OsString>,
    term: Option<OsString>,
}

impl Environment {
    fn here() -> Environment {
        let of = |name: &str| std::env::var_os(name);
        Environment {
            no_color: of("NO_COLOR"),
            clicolor_force: of("CLICOLOR_FORCE"),
            clicolor: of("CLICOLOR"),
            term: of("TERM"),
        }
    }

    /// The rules at the top of this file, in their order.
    fn colours(&self, choice: Choice, terminal: bool) -> bool {
        let says = |value: &Option<OsString>| value.as_ref().is_some_and(|value| !value.is_empty());
        let zero = |value: &Option<OsString>| value.as_ref().is_some_and(|value| value == "0");
        // Windows has no TERM.
        let dumb = self.term.as_ref().map_or(cfg!(not(windows)), |term| term.is_empty() || term == "dumb");
        match choice {
            Choice::Always => true,
            Choice::Never => false,
            Choice::Auto if says(&self.no_color) => false,
            Choice::Auto if says(&self.clicolor_force) && !zero(&self.clicolor_force) => true,
            Choice::Auto => terminal && !dumb && !zero(&self.clicolor),
        }
    }
}

/// Colours or does not; decided once for each stream.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paint {
    on: bool,
}

impl Paint {
    /// The decision for a stream of this program.
    pub fn decide(choice: Choice, stream: &impl IsTerminal) -> Paint {
        let on = Environment::here().colours(choice, stream.is_terminal());
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

    /// `NAME=value` words, as before a command.
    fn environment(words: &str) -> Environment {
        let of = |name: &str| {
            words.split(' ').find_map(|word| word.strip_prefix(name)?.strip_prefix('=')).map(OsString::from)
        };
        Environment {
            no_color: of("NO_COLOR"),
            clicolor_force: of("CLICOLOR_FORCE"),
            clicolor: of("CLICOLOR"),
            term: of("TERM"),
        }
    }

    #[test]
    fn what_is_named_first_wins() {
        // With each: at a terminal, on a pipe. (no-color.org; bixense.com/clicolors)
        for (words, terminal, pipe) in [
            ("TERM=xterm", true, false),
            ("TERM=xterm NO_COLOR=1", false, false),
            ("TERM=xterm NO_COLOR=0", false, false),
            ("TERM=xterm NO_COLOR=", true, false),
            ("TERM=xterm CLICOLOR=0", false, false),
            ("TERM=xterm CLICOLOR=1", true, false),
            ("TERM=xterm CLICOLOR_FORCE=1", true, true),
            ("TERM=xterm CLICOLOR_FORCE=0", true, false),
            ("TERM=xterm CLICOLOR_FORCE=", true, false),
            ("TERM=dumb CLICOLOR_FORCE=1 CLICOLOR=0", true, true),
            ("TERM=xterm CLICOLOR_FORCE=1 NO_COLOR=1", false, false),
            ("TERM=dumb", false, false),
            ("TERM=dumb CLICOLOR=1", false, false),
        ] {
            let environment = environment(words);
            assert_eq!(environment.colours(Choice::Auto, true), terminal, "{words}, terminal");
            assert_eq!(environment.colours(Choice::Auto, false), pipe, "{words}, pipe");
            assert!(environment.colours(Choice::Always, false) && !environment.colours(Choice::Never, true), "{words}");
        }
        assert_eq!(Environment::default().colours(Choice::Auto, true), cfg!(windows));
    }

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
