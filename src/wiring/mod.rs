//! Layer 4: the wiring file read into a netlist; every problem of it at once.
//!
//! Two steps: [`raw`] mirrors the file row by row and knows only its shape; the lowering (`lower`) makes
//! points, links and parts of it and collects whatever makes no sense. Knows nothing of what parts do inside.

mod colour;
pub mod edit;
mod fields;
mod lower;
mod raw;
mod report;
pub mod schema;
mod shape;
pub mod sheet;

pub use report::{PointInfo, SiteInfo, points, sites};

use crate::catalogue::Catalogue;
use crate::netlist::Netlist;
use crate::text::problem::Problem;
use crate::text::span::{Source, Span};
use crate::text::yaml;

/// A wiring file that could be read.
#[derive(Clone, Debug)]
pub struct Reading {
    /// What stands in it.
    pub netlist: Netlist,
    /// What is odd in it and can be lived with.
    pub warnings: Vec<Problem>,
}

/// Reads a wiring file. A YAML syntax error comes alone; all else comes at once, in the order of the file.
///
/// ```
/// use ohmward::{catalogue::Catalogue, text::span::Source, wiring};
/// let source = Source::new("wiring.yaml", "machine: Cart\nplaces: {dash: easy}\nparts: {horn: hron}\n");
/// let problems = wiring::read(&source, &Catalogue::default()).unwrap_err();
/// assert_eq!(source.line(problems[0].span.unwrap()), 3);
/// ```
pub fn read(source: &Source, catalogue: &Catalogue) -> Result<Reading, Vec<Problem>> {
    let (reading, problems) = read_on(source, catalogue).map_err(|problem| vec![problem])?;
    if problems.is_empty() { Ok(reading) } else { Err(problems) }
}

/// A colour in plain words as people write it: `BK/WH`, `black with white stripe`.
///
/// # Errors
///
/// It is none, or its letters differ from maker to maker.
pub fn colour(text: &str, catalogue: &Catalogue) -> Result<String, Problem> {
    let at = fields::Text { text: text.trim().to_owned(), span: Span::default() };
    let colours = colour::Colours::new(catalogue, &[], &mut Vec::new());
    colours.read(&at.text, &at).map_err(|no| match no {
        colour::NoColour::Undeclared(problem) => problem,
        colour::NoColour::Stranger => colours.stranger(&at),
    })
}

/// What could be read of a file, and its problems in the order of the file; or the one that keeps it from being read.
fn read_on(source: &Source, catalogue: &Catalogue) -> Result<(Reading, Vec<Problem>), Problem> {
    let tree = yaml::parse(source)?;
    let (file, mut problems) = raw::read(source, &tree);
    let (netlist, mut found, warnings) = lower::lower(source, catalogue, &file);
    problems.append(&mut found);
    problems.sort_by_key(|p| p.span.map_or(0, |span| span.start));
    problems.dedup();
    Ok((Reading { netlist, warnings }, problems))
}
