//! A record as a section of the build notes.

use super::record::{Record, Saying, Step, alike};
use super::sureness;
use crate::session::{Report, SuspectLine, Verdict, VerdictReason};
use std::fmt::Write;

/// The section: heading with the date as given (`24 November 2026`), finding, tests, suspects, repair, proof, open points.
pub fn section(record: &Record, machine: &str, date: &str, trail: &str) -> String {
    let mut out = String::new();
    let title = record.complaint().unwrap_or("a fault");
    let _ = writeln!(out, "## {date}: {}\n", one_line(title));
    let _ = writeln!(out, "{machine}, trail {trail}.");
    out.push('\n');
    if let Some(verdict) = &record.verdict {
        found(&mut out, verdict);
    } else {
        out.push_str("**Not finished.**\n\n");
    }
    tests(&mut out, record);
    said(&mut out, record);
    suspects(&mut out, record);
    if let Some(verdict) = &record.verdict {
        if !matches!(verdict.reason, VerdictReason::Stopped | VerdictReason::NothingVisible) {
            repair(&mut out, verdict, record);
        }
        open_points(&mut out, &verdict.report);
    }
    out
}

fn found(out: &mut String, verdict: &Verdict) {
    let report = &verdict.report;
    let head = match (verdict.reason, verdict.cured) {
        (VerdictReason::Repair, Some(true)) if report.comes_and_goes => "Cure seen, cause not proved",
        (VerdictReason::Repair, Some(true)) => "Found and cured",
        (VerdictReason::Repair, _) => "Found",
        (VerdictReason::Group, _) => "Narrowed down, not told apart",
        (VerdictReason::NothingAllowed, _) => "Not settled: no test at hand would change what to do",
        (VerdictReason::NothingVisible, _) => "Nothing wrong that can be seen",
        (VerdictReason::Stopped, _) => "Stopped before it was settled; leading",
    };
    let what = if report.what.is_empty() { &verdict.text } else { &report.what };
    let _ = write!(out, "**{head}:** {}", sentence(what));
    if !report.sure.is_empty() {
        let _ = write!(out, " How sure: {}.", report.sure);
    }
    if !report.pattern.is_empty() {
        let _ = write!(out, " In the trade's words: {}.", report.pattern);
    }
    out.push_str("\n\n");
    if !verdict.text.is_empty() && !report.what.is_empty() && !verdict.text.contains(&report.what) {
        let _ = writeln!(out, "{}\n", sentence(&verdict.text));
    }
    for line in &report.why {
        let _ = writeln!(out, "- {}", sentence(line));
    }
    if !report.why.is_empty() {
        out.push('\n');
    }
    if !report.harm.is_empty() {
        let _ = writeln!(out, "If left: {}", sentence(&report.harm));
    }
    if !report.drive.is_empty() {
        let _ = writeln!(out, "May it be driven: {}", sentence(&report.drive));
    }
    if !report.harm.is_empty() || !report.drive.is_empty() {
        out.push('\n');
    }
}

fn tests(out: &mut String, record: &Record) {
    if record.steps.is_empty() {
        return;
    }
    out.push_str("### Tests\n\n");
    let mut number = 0;
    for step in &record.steps {
        match step {
            Step::Read { test, expect, met } => {
                number += 1;
                let _ = writeln!(out, "{number}. {test}: met **{met}**");
                let predicted: Vec<String> = alike(expect)
                    .into_iter()
                    .map(|(value, titles)| format!("{value} if {}", titles.join(", or ")))
                    .collect();
                if !predicted.is_empty() {
                    let _ = writeln!(out, "   (predicted: {})", predicted.join("; "));
                }
            }
            Step::Measured { test, met } => {
                number += 1;
                let _ = writeln!(out, "{number}. {test}: met **{met}** (not asked for)");
            }
            Step::Answered { question, answer } => {
                number += 1;
                let _ = writeln!(out, "{number}. {} **{}**", one_line(question), one_line(answer));
            }
            Step::Skipped(what) => {
                number += 1;
                let _ = writeln!(out, "{number}. {}: skipped", one_line(what));
            }
            Step::Tried(tried) => {
                number += 1;
                let end = if tried.cured { "**cured**" } else { "**did not cure**" };
                let _ = write!(out, "{number}. Tried: {}: {end}", one_line(tried.text.trim_end_matches('.')));
                if !tried.blown.is_empty() {
                    let _ = write!(out, "; found blown: {}", tried.blown.join(", "));
                }
                out.push('\n');
            }
            Step::Said(..) | Step::Told { .. } => {}
        }
    }
    if number == 0 {
        out.push_str("None taken.\n");
    }
    out.push('\n');
    let report = record.verdict.as_ref().map(|verdict| &verdict.report);
    if let Some(report) = report.filter(|report| !report.readings.is_empty()) {
        out.push_str("| reading | this fault | sound machine | met |\n|---|---|---|---|\n");
        for line in &report.readings {
            let cells = [&line.test, &line.predicted, &line.healthy, &line.met].map(|cell| cell.replace('|', "/"));
            let _ = writeln!(out, "| {} |", cells.join(" | "));
        }
        out.push('\n');
    }
}

fn said(out: &mut String, record: &Record) {
    // The first thing seen is the heading.
    let heading = record.steps.iter().position(|step| matches!(step, Step::Said(Saying::Seen, _)));
    let lines: Vec<String> = record
        .steps
        .iter()
        .enumerate()
        .filter(|(i, _)| Some(*i) != heading)
        .filter_map(|(_, step)| match step {
            Step::Said(what, text) => Some(format!("- {}: {}", what.title(), one_line(text))),
            Step::Told { question, answer } => Some(format!("- {} **{}**", one_line(question), one_line(answer))),
            _ => None,
        })
        .collect();
    if !lines.is_empty() {
        let _ = writeln!(out, "### Said on the way\n\n{}\n", lines.join("\n"));
    }
}

fn suspects(out: &mut String, record: &Record) {
    if record.before.is_empty() && record.after.is_empty() {
        return;
    }
    out.push_str("### Suspects\n\n");
    let row = |list: &[SuspectLine]| -> String {
        let shown: Vec<String> =
            list.iter().take(5).map(|line| format!("{} ({})", line.title, sureness(line.p))).collect();
        if shown.is_empty() { "none".into() } else { shown.join("; ") }
    };
    let _ = writeln!(out, "- before the first reading: {}", row(&record.before));
    let _ = writeln!(out, "- at the end: {}\n", row(&record.after));
}

fn repair(out: &mut String, verdict: &Verdict, record: &Record) {
    let report = &verdict.report;
    if report.repair.is_empty() && report.proof.is_empty() && report.stopgap.is_none() {
        return;
    }
    let cured = record.steps.iter().any(|step| matches!(step, Step::Tried(tried) if tried.cured));
    out.push_str(if cured { "### Repair (done)\n\n" } else { "### Repair\n\n" });
    for line in &report.repair {
        let _ = writeln!(out, "- {}", sentence(line));
    }
    if let Some(stopgap) = &report.stopgap {
        let _ = writeln!(out, "- For tonight only: {}", sentence(stopgap));
    }
    for line in &report.cautions {
        let _ = writeln!(out, "- **Caution:** {}", sentence(line));
    }
    for line in &report.proof {
        let _ = writeln!(out, "- Proof: {}", sentence(line));
    }
    out.push('\n');
}

fn open_points(out: &mut String, report: &Report) {
    if report.open_points.is_empty() && report.others.is_empty() {
        return;
    }
    out.push_str("### Still open\n\n");
    for line in &report.open_points {
        let _ = writeln!(out, "- {}", sentence(line));
    }
    if !report.others.is_empty() {
        let _ = writeln!(out, "- Not ruled out: {}.", report.others.join("; "));
    }
    out.push('\n');
}

/// Text on one line, so that a person's words cannot become headings or rows.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The text with a full stop.
fn sentence(text: &str) -> String {
    let text = one_line(text);
    if text.is_empty() || text.ends_with(['.', '!', '?', ':']) { text } else { format!("{text}.") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::{Input, ReportLine};

    #[test]
    fn a_finished_chase_reads_from_symptom_to_open_points() {
        let mut record = Record::default();
        record.input(&Input::Saw("the rev needle jumps\nwhen I press the horn".into()));
        record.before =
            vec![SuspectLine { fault: "G1:resistive(2)".into(), title: "ground G1".into(), p: 0.3, ..line() }];
        record.after = vec![SuspectLine { p: 0.97, ..record.before[0].clone() }];
        record.input(&Input::Note("bolt was painted".into()));
        record.steps.push(Step::Read {
            test: "volts, rev-gauge.ground to battery.neg".into(),
            expect: Vec::new(),
            met: "2.10 V".into(),
        });
        record.verdict = Some(Verdict {
            reason: VerdictReason::Repair,
            class: "clean:G1".into(),
            pattern: "shared-ground".into(),
            faults: vec![("G1:resistive(2)".into(), 0.97)],
            text: "Clean G1".into(),
            cured: Some(true),
            report: Report {
                what: "bad seat of ground point G1".into(),
                sure: "near certain".into(),
                pattern: "shared ground".into(),
                readings: vec![ReportLine {
                    test: "a|b".into(),
                    predicted: "2.1 V".into(),
                    healthy: "0.03 V".into(),
                    met: "2.10 V".into(),
                }],
                harm: "annoyance".into(),
                repair: vec!["clean the seat, 10 min".into()],
                open_points: vec!["P9 is unproved".into()],
                ..Report::default()
            },
        });
        let text = section(&record, "Cart", "2 January 2026", "003");
        let order = [
            "## 2 January 2026: the rev needle jumps when I press the horn\n",
            "Cart, trail 003.",
            "**Found and cured:** bad seat of ground point G1. How sure: near certain.",
            "If left: annoyance.",
            "met **2.10 V**",
            "| a/b | 2.1 V | 0.03 V | 2.10 V |",
            "- note: bolt was painted",
            "before the first reading: ground G1 (could be)",
            "at the end: ground G1 (near certain)",
            "clean the seat, 10 min.",
            "- P9 is unproved.",
        ];
        let mut at = 0;
        for piece in order {
            let found = text[at..].find(piece).unwrap_or_else(|| panic!("{piece:?} after byte {at} of\n{text}"));
            at += found;
        }
    }

    fn line() -> SuspectLine {
        SuspectLine { fault: String::new(), title: String::new(), class: String::new(), pattern: String::new(), p: 0.0 }
    }
}
