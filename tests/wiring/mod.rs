//! The wiring file: every form is read, every damage is named, nothing panics.

mod broken;
mod edit;
mod forms;
mod fuzz;
mod pen;
mod schema;
mod sheet;

use ohmward::catalogue::Catalogue;
use ohmward::text::problem::Problem;
use ohmward::text::span::Source;
use ohmward::wiring::{Reading, read};

/// Reads a text that must be whole.
#[track_caller]
fn whole(name: &str, text: &str) -> Reading {
    let source = Source::new(name, text);
    read(&source, &catalogue()).unwrap_or_else(|problems| panic!("{}", shown(&source, &problems)))
}

fn shown(source: &Source, problems: &[Problem]) -> String {
    problems.iter().map(|problem| problem.render(source)).collect()
}

fn catalogue() -> Catalogue {
    Catalogue::builtin()
}
