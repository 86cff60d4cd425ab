//! The file as it stands: raw rows with their places, short and long forms made alike.
//!
//! Knows the shape of every section; knows no part kind, no name and no unit.

pub(super) mod keys;
mod plugs;
mod sections;

use super::fields::Text;
use super::shape::Shaper;
use crate::text::problem::Problem;
use crate::text::span::{Source, Span};
use crate::text::yaml::{Node, Value};

/// What an attribute of a row is meant to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A field of a short row: its content tells.
    Any,
    Place,
    Colour,
    Size,
    Length,
    Ohms,
    Proof,
    Joint,
    Stub,
}

/// A field and what it is meant to be.
#[derive(Clone, Debug)]
pub(super) struct Attr {
    pub role: Role,
    pub text: Text,
}

/// A wire's row.
#[derive(Clone, Debug, Default)]
pub(super) struct RawWire {
    pub name: Option<Text>,
    pub from: Option<Text>,
    pub to: Option<Text>,
    pub attrs: Vec<Attr>,
    pub ends: Vec<Text>,
    pub span: Span,
}

/// A part's row.
#[derive(Clone, Debug)]
pub(super) struct RawPart {
    pub name: Text,
    pub kind: Option<Text>,
    pub fields: Vec<Text>,
    /// Ratings by name.
    pub named: Vec<(Text, Text)>,
    pub place: Option<Text>,
    pub fitted: bool,
}

/// What is on a ground point or a fuse: a point and perhaps what its wire is.
#[derive(Clone, Debug)]
pub(super) struct RawItem {
    pub point: Text,
    pub attrs: Vec<Attr>,
    pub span: Span,
}

/// A ground point.
#[derive(Clone, Debug)]
pub(super) struct RawGround {
    pub name: Text,
    pub place: Option<Text>,
    pub on: Option<Text>,
    pub items: Vec<RawItem>,
}

/// A fuse and what is on it.
#[derive(Clone, Debug)]
pub(super) struct RawFeed {
    pub part: RawPart,
    pub items: Vec<RawItem>,
}

/// A row of a plug.
#[derive(Clone, Debug)]
pub(super) struct RawWay {
    pub way: Text,
    pub old: Option<Text>,
    pub new: Option<Text>,
    pub from: Option<Text>,
    pub to: Option<Text>,
    pub proof: Option<Text>,
    /// What only this way's added wire is, on half a and half b.
    pub added: [Vec<Attr>; 2],
    pub span: Span,
}

/// A plug.
#[derive(Clone, Debug)]
pub(super) struct RawPlug {
    pub name: Text,
    pub is: Option<Text>,
    pub halves: [Vec<Attr>; 2],
    pub ways: Vec<RawWay>,
}

/// A switch's table.
#[derive(Clone, Debug)]
pub(super) struct RawSwitch {
    pub part: Text,
    pub wires: Vec<Text>,
    pub settings: Vec<(Text, Vec<Text>)>,
}

/// A sleeve's row.
#[derive(Clone, Debug)]
pub(super) struct RawSleeve {
    pub name: Text,
    pub attrs: Vec<Attr>,
}

/// A chassis piece and the straps that begin at it.
#[derive(Clone, Debug)]
pub(super) struct RawPiece {
    pub name: Text,
    pub straps: Vec<RawWire>,
}

/// A place.
#[derive(Clone, Debug)]
pub(super) struct RawPlace {
    pub name: Text,
    pub reach: Option<Text>,
    pub first: Option<Text>,
    pub warm: Option<Text>,
}

/// A run between two places.
#[derive(Clone, Debug)]
pub(super) struct RawRun {
    pub from: Text,
    pub to: Text,
    pub length: Text,
}

/// A loom.
#[derive(Clone, Debug)]
pub(super) struct RawLoom {
    pub name: Text,
    pub wires: Vec<Text>,
    pub run: Option<Text>,
    pub lies_on: Option<Text>,
}

/// What is at hand, by key.
#[derive(Clone, Debug, Default)]
pub(super) struct RawBench {
    pub lists: Vec<(Text, Vec<Text>)>,
    pub values: Vec<(Text, Text)>,
}

/// A whole file.
#[derive(Clone, Debug, Default)]
pub(super) struct File {
    pub machine: Option<Text>,
    pub bench: RawBench,
    pub colours: Vec<(Text, Text)>,
    /// `None` where the file says nothing of its chassis.
    pub pieces: Option<Vec<RawPiece>>,
    pub places: Vec<RawPlace>,
    pub parts: Vec<RawPart>,
    pub wires: Vec<RawWire>,
    pub grounds: Vec<RawGround>,
    pub feeds: Vec<RawFeed>,
    pub plugs: Vec<RawPlug>,
    pub switches: Vec<RawSwitch>,
    pub sleeves: Vec<RawSleeve>,
    pub runs: Vec<RawRun>,
    pub looms: Vec<RawLoom>,
    pub recent: Vec<Text>,
    /// Names whose row could not be read, which was told: that nothing more is known of them is no news.
    pub lost: Vec<Text>,
}

/// Reads the shape of a file.
pub(super) fn read(source: &Source, tree: &Node) -> (File, Vec<Problem>) {
    let mut shaper = Shaper { source, problems: Vec::new() };
    let mut file = File::default();
    match &tree.value {
        Value::Null => shaper.problem(Problem::whole("the file is empty").help("begin with: machine: NAME")),
        Value::Map(_) => {
            let top = shaper.long(tree, "a wiring file", keys::SECTIONS);
            sections::all(&top, &mut file, &mut shaper);
        }
        Value::Scalar(_) | Value::List(_) => shaper.problem(
            Problem::at(tree.span, "a wiring file begins with the name of a section and a colon")
                .help("begin with: machine: NAME"),
        ),
    }
    (file, shaper.problems)
}
