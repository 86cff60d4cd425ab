//! The one error of the command line: a kind, its cause, and a way out.

use super::exit::Exit;
use ohmward::text::problem::Problem;
use ohmward::text::span::Source;
use std::io;
use std::path::Path;
use std::sync::Arc;

/// Why a command ended before its end.
#[derive(Debug)]
pub enum Failure {
    /// Whoever read our output has gone: success.
    BrokenPipe,
    /// Problems of inputs, each with the text it stands in.
    Problems(Vec<(Arc<Source>, Problem)>),
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

    /// A file or folder that cannot be read, written, made: with a way out where the system says enough.
    pub fn file(what: &str, path: &Path, error: &io::Error) -> Failure {
        use io::ErrorKind as Kind;
        let (why, hint) = match error.kind() {
            Kind::PermissionDenied => (
                "not allowed",
                Some("allow it, or copy wiring.yaml into a folder of your own and go on there; nothing was changed"),
            ),
            Kind::ReadOnlyFilesystem => {
                ("it can only be read", Some("copy wiring.yaml into a folder that can be written, and go on there"))
            }
            Kind::StorageFull | Kind::QuotaExceeded => {
                ("the disk is full", Some("make room, then say the same again; nothing was changed"))
            }
            Kind::NotFound => ("it is not there, or its folder is gone", None),
            Kind::IsADirectory => ("it is a folder", None),
            _ => return Failure::plain(format!("cannot {what} {}: {error}", path.display())),
        };
        Failure::Plain { text: format!("cannot {what} {}: {why}", path.display()), hint: hint.map(String::from) }
    }

    /// The same, with another way out where it has words.
    pub fn with_hint(self, hint: &str) -> Failure {
        match self {
            Failure::Plain { text, .. } => Failure::hinted(text, hint),
            other => other,
        }
    }

    /// Problems of one input.
    pub fn of(source: &Source, problems: Vec<Problem>) -> Failure {
        let source = Arc::new(source.clone());
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

/// More of them on one screen help nobody; scripts get all.
const SHOWN: usize = 100;

/// Problems as people read them, each with its line; past a hundred only their number.
pub fn told(problems: &[(Arc<Source>, Problem)]) -> String {
    let mut text: String = problems.iter().take(SHOWN).map(|(source, problem)| problem.render(source)).collect();
    if let more @ 1.. = problems.len().saturating_sub(SHOWN) {
        text.push_str(&format!("and {more} more (--json lists all)\n"));
    }
    text
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
