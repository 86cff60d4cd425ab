//! The clock, read nowhere else.

use jiff::Zoned;
use std::time::Instant;

/// Now, for a journal: `2026-11-24T23:30:00+01:00`.
pub fn stamp() -> String {
    Zoned::now().strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
}

/// Today, for the notes: `24 November 2026`.
pub fn today() -> String {
    Zoned::now().strftime("%-d %B %Y").to_string()
}

/// Now, to measure how long something takes.
pub fn now() -> Instant {
    Instant::now()
}
