//! The terminal's line source. The one home of rustyline.

use super::complete::{self, Offers};
use super::{Got, LineSource};
use rustyline::completion::{Completer, Pair};
use rustyline::error::ReadlineError;
use rustyline::highlight::{CmdKind, Highlighter};
use rustyline::hint::Hinter;
use rustyline::history::FileHistory;
use rustyline::validate::Validator;
use rustyline::{ColorMode, CompletionType, Config, Context, Editor, Helper};
use std::borrow::Cow;
use std::io;
use std::path::PathBuf;

/// A terminal that says it is narrower than this does not know.
const NARROWEST: usize = 20;

/// Lines edited at a terminal, with history and completion of points, parts and words.
pub struct Terminal {
    editor: Editor<Help, FileHistory>,
    history: Option<PathBuf>,
}

/// What rustyline asks while a line is edited.
struct Help {
    offers: Offers,
    colour: bool,
}

impl Terminal {
    /// A terminal; `colour` is the program's one decision, `history` a file to keep lines in.
    pub fn new(colour: bool, history: Option<PathBuf>) -> io::Result<Terminal> {
        let mode = if colour { ColorMode::Forced } else { ColorMode::Disabled };
        let config = Config::builder()
            .completion_type(CompletionType::List)
            .color_mode(mode)
            .auto_add_history(true)
            .max_history_size(500)
            .map_err(into_io)?
            .build();
        let mut editor: Editor<Help, FileHistory> = Editor::with_config(config).map_err(into_io)?;
        editor.set_helper(Some(Help { offers: Offers::default(), colour }));
        if let Some(path) = &history {
            // No history yet is no problem.
            let _ = editor.load_history(path);
        }
        Ok(Terminal { editor, history })
    }
}

/// Columns of the terminal that standard output goes to; none if it goes elsewhere.
pub fn columns() -> Option<usize> {
    let mut editor: Editor<(), FileHistory> = Editor::new().ok()?;
    editor.dimensions().map(|(columns, _)| usize::from(columns)).filter(|&columns| columns >= NARROWEST)
}

impl LineSource for Terminal {
    fn leisurely(&self) -> bool {
        true
    }

    fn line(&mut self, prompt: &str) -> io::Result<Got> {
        match self.editor.readline(prompt) {
            Ok(line) => {
                if let Some(path) = &self.history {
                    // History is a convenience: a full disk must not end a chase here.
                    let _ = self.editor.append_history(path);
                }
                Ok(Got::Line(ohmward::text::hidden::visible(&line)))
            }
            Err(ReadlineError::Eof) => Ok(Got::End),
            Err(ReadlineError::Interrupted) => Ok(Got::Interrupted),
            Err(error) => Err(into_io(error)),
        }
    }

    fn offer(&mut self, words: Vec<String>) {
        if let Some(help) = self.editor.helper_mut() {
            help.offers = Offers::new(words);
        }
    }
}

fn into_io(error: ReadlineError) -> io::Error {
    match error {
        ReadlineError::Io(error) => error,
        other => io::Error::other(other.to_string()),
    }
}

impl Completer for Help {
    type Candidate = Pair;

    fn complete(&self, line: &str, pos: usize, _: &Context<'_>) -> rustyline::Result<(usize, Vec<Pair>)> {
        let (start, found) = complete::at(&self.offers, line, pos);
        Ok((start, found.into_iter().map(|word| Pair { display: word.clone(), replacement: word }).collect()))
    }
}

impl Highlighter for Help {
    fn highlight_prompt<'b, 's: 'b, 'p: 'b>(&'s self, prompt: &'p str, _default: bool) -> Cow<'b, str> {
        if self.colour { Cow::Owned(format!("\u{1b}[1m{prompt}\u{1b}[0m")) } else { Cow::Borrowed(prompt) }
    }

    fn highlight_char(&self, _line: &str, _pos: usize, _kind: CmdKind) -> bool {
        false
    }
}

impl Hinter for Help {
    type Hint = String;
}
impl Validator for Help {}
impl Helper for Help {}
