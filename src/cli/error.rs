//! The one error of the command line: a kind, its cause, and a way out.

use super::exit::Exit;
use ohmward::text::problem::Problem;
use ohmward::text::span::Source;
use std::io;

/// Why a command ended before its end.
#[derive(Debug)]
pub enum Failure {
    /// Whoever read our output has gone: success.
    BrokenPipe,
    /// Problems of inputs, each with the text it stands in.
    Problems(Vec<(Source, Problem)>),
    /// Something else: what, and a way out.
    Plain {
        /// What cannot be done and why.
        text: String,
        /// A way out.
        hint: Option<String>,
    },
}

impl Failure {
    /// A failure in words.
    pub fn plain(text: impl Into<String>) -> Failure {
        Failure::Plain { text: text.into(), hint: None }
    }

    /// A failure in words, with a way out.
    pub fn hinted(text: impl Into<String>, hint: impl Into<String>) -> Failure {
        Failure::Plain { text: text.into(), hint: Some(hint.into()) }
    }

    /// Problems of one input.
    pub fn of(source: &Source, problems: Vec<Problem>) -> Failure {
        Failure::Problems(problems.into_iter().map(|problem| (source.clone(), problem)).collect())
    }

    /// A problem that has no place in a file.
    pub fn problem(problem: &Problem) -> Failure {
        Failure::Plain { text: problem.text.clone(), hint: problem.help.clone() }
    }

    /// The exit code.
    pub fn exit(&self) -> Exit {
        match self {
            Failure::BrokenPipe => Exit::Done,
            _ => Exit::Unusable,
        }
    }
}

impl From<io::Error> for Failure {
    fn from(error: io::Error) -> Failure {
        if error.kind() == io::ErrorKind::BrokenPipe { Failure::BrokenPipe } else { Failure::plain(error.to_string()) }
    }
}

/// A problem as scripts read it: `{"file","line","text","help"}`.
pub fn problem_json(source: &Source, problem: &Problem) -> serde_json::Value {
    serde_json::json!({
        "file": source.name,
        "line": problem.span.map(|span| source.line(span)),
        "text": problem.text,
        "help": problem.help,
    })
}
