//! Layer 1: source text, spans, problems, words, quantities and YAML.
//!
//! Knows nothing of wiring: only of text and where in it something stands.

pub mod csv;
pub mod diff;
pub mod hidden;
pub mod problem;
pub mod quantity;
pub mod span;
pub mod splice;
pub mod words;
pub mod yaml;
