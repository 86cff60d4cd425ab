//! Layer 8: one chase as a pure function of state and event. No files, no terminal, no clock.
//!
//! A chase is fed [`Input`]s and gives back [`Event`]s. The journal stores the inputs, one JSON line
//! each; resuming is feeding them again.

mod aftermath;
pub mod ask;
mod cautions;
pub mod chase;
pub mod drill;
pub mod event;
pub mod hear;
pub mod journal;
pub mod json;
pub mod learn;
pub mod name;
pub mod paper;
pub mod powerup;
pub mod report;
pub mod ringout;
mod sound;
pub mod start;
mod swing;
pub mod twin;
pub mod words;

pub use chase::{Chase, Told};
pub use event::{
    Event, Expected, Input, Report, ReportLine, Screen, SuspectLine, SymptomInput, Understanding, Verdict,
    VerdictReason,
};
