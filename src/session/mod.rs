//! Layer 8: one chase as a pure function of state and event. No files, no terminal, no clock.
//!
//! A chase is fed [`Input`]s and gives back [`Event`]s. The journal stores the inputs, one JSON line
//! each; resuming is feeding them again.

pub mod event;
pub mod journal;
pub mod json;
pub mod twin;
pub mod words;

pub use event::{
    Event, Expected, Input, Report, ReportLine, Screen, SuspectLine, SymptomInput, Understanding, Verdict,
    VerdictReason,
};
