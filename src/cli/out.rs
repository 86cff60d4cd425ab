//! Standard output and standard error: results on the one, all else on the other.

use super::error::Failure;
use super::paint::{Choice, Paint};
use super::prompt::terminal;
use super::prompt::wrap::wrap;
use std::io::{self, IsTerminal, Write};

/// Where results go. Every write can fail; a broken pipe is success and ends the command (see [`Failure`]).
pub struct Out {
    stdout: io::Stdout,
    stderr: io::Stderr,
    /// Pages are talk, which goes to standard error: the result is JSON.
    aside: bool,
    /// Colours for standard output.
    pub paint: Paint,
    /// Colours for standard error.
    pub paint_err: Paint,
}

impl Out {
    /// Both streams, colour decided for each.
    pub fn new(choice: Choice) -> Out {
        let (stdout, stderr) = (io::stdout(), io::stderr());
        let (paint, paint_err) = (Paint::decide(choice, &stdout), Paint::decide(choice, &stderr));
        Out { stdout, stderr, aside: false, paint, paint_err }
    }

    /// From now on pages go to standard error, because standard output is for the JSON at the end.
    pub fn talk_aside(&mut self) {
        (self.aside, self.paint) = (true, self.paint_err);
    }

    /// A result, followed by a line end. Flushed, so that whoever reads a pipe sees it at once.
    pub fn line(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        self.put(&[text.as_ref().as_bytes(), b"\n"])
    }

    /// For people: as [`Out::line`], wrapped to the terminal's width if there is one.
    pub fn page(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        if self.aside {
            self.say(text);
            return Ok(());
        }
        match terminal::columns() {
            Some(width) => self.line(wrap(text.as_ref(), width)),
            None => self.line(text),
        }
    }

    /// A result as it stands.
    pub fn text(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        self.put(&[text.as_ref().as_bytes()])
    }

    fn put(&mut self, pieces: &[&[u8]]) -> Result<(), Failure> {
        let mut lock = self.stdout.lock();
        let put = pieces.iter().try_for_each(|piece| lock.write_all(piece)).and_then(|()| lock.flush());
        put.map_err(|error| match Failure::from(error) {
            Failure::Plain { text, .. } => Failure::hinted(
                format!("cannot write the results: {text}"),
                "is the disk full? send them somewhere else and try again",
            ),
            gone => gone,
        })
    }

    /// A JSON value on one line.
    pub fn json_line(&mut self, value: &serde_json::Value) -> Result<(), Failure> {
        self.line(value.to_string())
    }

    /// A JSON value for a command's whole answer, indented at a terminal only.
    pub fn json(&mut self, value: &serde_json::Value) -> Result<(), Failure> {
        if self.stdout.is_terminal() { self.line(format!("{value:#}")) } else { self.line(value.to_string()) }
    }

    /// Something that is not a result; at a terminal wrapped to its width. A closed standard error hinders nothing.
    pub fn say(&mut self, text: impl AsRef<str>) {
        let width = if self.stderr.is_terminal() { terminal::columns() } else { None };
        let text = width.map_or_else(|| text.as_ref().to_owned(), |width| wrap(text.as_ref(), width));
        let mut lock = self.stderr.lock();
        let _ = lock.write_all(text.as_bytes());
        if !text.ends_with('\n') {
            let _ = lock.write_all(b"\n");
        }
    }
}
