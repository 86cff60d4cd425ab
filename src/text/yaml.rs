//! The one home of the YAML crate: text in, a tree with spans out.
//!
//! Every scalar keeps the characters that stand in the text (`no`, `007`, `12` stay as typed).
//! Duplicate keys are kept, so that whoever reads the tree can name them all.

use super::problem::Problem;
use super::span::{Source, Span};

/// A node of the tree.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Where it stands.
    pub span: Span,
    /// What it is.
    pub value: Value,
}

/// What a node holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing: an empty value or a null.
    Null,
    /// Text as it stands, quotes removed.
    Scalar(String),
    /// A list.
    List(Vec<Node>),
    /// Key, value pairs in order, duplicates included. Keys are always scalars.
    Map(Vec<(Key, Node)>),
}

/// A key of a map.
#[derive(Clone, Debug, PartialEq)]
pub struct Key {
    /// Where it stands.
    pub span: Span,
    /// Its text.
    pub text: String,
}

/// Reads one document. A syntax error is one problem, with its place, in plain words.
pub fn parse(_source: &Source) -> Result<Node, Problem> {
    Err(Problem::whole("not read yet"))
}
