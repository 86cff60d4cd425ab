//! A plug that was rung out, as a section of the build notes.

use crate::session::ringout::{Ring, Stage, load};
use std::fmt::Write;

/// The section: each way, what it goes to, what it lost; then the summary as it was shown.
pub fn rung_out(ring: &Ring, summary: &str, machine: &str, date: &str) -> String {
    let how = match ring.stage {
        Stage::Beep { .. } => "rung out by beeper",
        Stage::Load { .. } => "rung out under load",
    };
    let mut out = format!("## {date}: {} {how}\n\n{machine}.\n\n", ring.job.name);
    for (at, (way, known)) in ring.job.ways.iter().zip(ring.known()).enumerate() {
        let Some(known) = known else { continue };
        let met = match (known.far, known.volts) {
            _ if known.skipped => "left out".to_string(),
            _ if known.dead => "**goes nowhere**".to_string(),
            (Some(_), Some(volts)) => format!("{} lost", load::say(volts)),
            (Some(far), None) if far == at => format!("beeps at {}", way.far.at),
            (Some(far), None) => {
                format!("**beeps at the end of way {}** ({})", ring.job.ways[far].name, ring.job.ways[far].far.at)
            }
            (None, _) => "not known".to_string(),
        };
        let _ = writeln!(out, "- way {}: {met}", way.name);
    }
    let _ = writeln!(out, "\n{}", summary.lines().map(str::trim).collect::<Vec<_>>().join("\n\n"));
    if !ring.notes().is_empty() {
        let _ = writeln!(out);
        ring.notes().iter().for_each(|note| {
            let _ = writeln!(out, "- {note}");
        });
    }
    out
}
