//! What a chase came to, for scripts and for whoever looks at the exit code.

use super::driver::Driver;
use crate::cli::exit::Exit;
use ohmward::session::{Event, VerdictReason};
use serde_json::{Value, json};

/// The exit code of a chase: only a fault that was isolated is what was asked for.
pub fn exit_of(reason: Option<VerdictReason>) -> Exit {
    match reason {
        Some(VerdictReason::Repair | VerdictReason::Group) => Exit::Done,
        _ => Exit::NotMet,
    }
}

/// The verdict as its event; nothing where the chase was broken off.
pub fn verdict(driver: &Driver) -> Value {
    let verdict = driver.verdict().cloned();
    json!(verdict.map(|verdict| Event::Verdict { id: 0, verdict: Box::new(verdict) }.to_json()))
}
