//! Lines from a person: rustyline at a terminal, plain lines on a pipe.

pub mod complete;
pub mod dial;
pub mod keywords;
pub mod screen;
pub mod terminal;
pub mod wrap;

use ohmward::text::hidden::visible;
use std::io::{self, BufRead, Write};

/// What came of asking for a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Got {
    /// A line, without its line end.
    Line(String),
    /// End of input.
    End,
    /// Ctrl-C.
    Interrupted,
}

/// Where lines come from. Knows nothing of what they mean: answers are judged by the session.
pub trait LineSource {
    /// Asks for one line, showing the prompt where somebody can see it.
    fn line(&mut self, prompt: &str) -> io::Result<Got>;

    /// Sets the words that can be completed at the next line.
    fn offer(&mut self, words: Vec<String>);

    /// Does somebody read the screen first, so that there is time until the line comes?
    fn leisurely(&self) -> bool {
        false
    }
}

/// Plain lines from a pipe or a file.
///
/// The prompt goes to standard error, followed by what was read, so that a log reads like a conversation.
pub struct Plain<R> {
    input: R,
    echo: bool,
    typed: bool,
}

impl<R: BufRead> Plain<R> {
    /// Lines of this input; `echo` shows prompt and line on standard error.
    pub fn new(input: R, echo: bool) -> Self {
        Plain { input, echo, typed: false }
    }

    /// The same for somebody at a keyboard whose results go elsewhere: the prompt comes first, what is typed shows itself.
    pub fn typed(input: R) -> Self {
        Plain { input, echo: false, typed: true }
    }
}

impl<R: BufRead> LineSource for Plain<R> {
    fn line(&mut self, prompt: &str) -> io::Result<Got> {
        if self.typed {
            let mut stderr = io::stderr().lock();
            let _ = write!(stderr, "{prompt}").and_then(|()| stderr.flush());
        }
        let mut bytes = Vec::new();
        if self.input.read_until(b'\n', &mut bytes)? == 0 {
            return Ok(Got::End);
        }
        // A byte that is no UTF-8 becomes a mark: the line is then refused in words, not by a panic.
        let line = visible(String::from_utf8_lossy(&bytes).trim_end_matches(['\n', '\r']));
        if self.echo {
            let mut stderr = io::stderr().lock();
            let _ = writeln!(stderr, "{prompt}{line}");
        }
        Ok(Got::Line(line))
    }

    fn offer(&mut self, _words: Vec<String>) {}
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn plain_lines_survive_windows_line_ends_bad_bytes_and_a_missing_last_line_end() {
        let mut source = Plain::new(&b"0.35\r\nsk\xffip\nstop"[..], false);
        assert_eq!(source.line("> ").unwrap(), Got::Line("0.35".into()));
        assert_eq!(source.line("> ").unwrap(), Got::Line("sk\u{fffd}ip".into()));
        assert_eq!(source.line("> ").unwrap(), Got::Line("stop".into()));
        assert_eq!(source.line("> ").unwrap(), Got::End);
    }
}
