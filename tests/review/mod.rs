//! `check`: what is found, against published tables, exhaustive switching, and machines with one thing wrong each.

mod machines;
mod small;
mod sneaks;
mod tables;

use ohmward::catalogue::Catalogue;
use ohmward::diagnosis::machine::Machine;
use ohmward::review::{Finding, Severity, review};
use ohmward::text::span::Source;
use ohmward::wiring;

/// What is found in a wiring text.
pub fn found(text: &str) -> Vec<Finding> {
    found_under(text, Catalogue::builtin())
}

/// What is found in a wiring text under these rules.
pub fn found_under(text: &str, catalogue: Catalogue) -> Vec<Finding> {
    let source = Source::new("wiring.yaml", text);
    let reading = wiring::read(&source, &catalogue)
        .unwrap_or_else(|list| panic!("{}", list.iter().map(|p| p.render(&source)).collect::<String>()));
    review(&mut Machine::new(reading.netlist, catalogue))
}

/// The findings of one sort.
pub fn of<'f>(findings: &'f [Finding], sort: &str) -> Vec<&'f Finding> {
    findings.iter().filter(|finding| finding.sort == sort).collect()
}

/// The one finding of a sort.
#[track_caller]
pub fn one<'f>(findings: &'f [Finding], sort: &str) -> &'f Finding {
    let these = of(findings, sort);
    assert_eq!(these.len(), 1, "{sort} in {findings:#?}");
    these[0]
}

/// None of a sort.
#[track_caller]
pub fn none(findings: &[Finding], sort: &str) {
    let these = of(findings, sort);
    assert!(these.is_empty(), "{these:#?}");
}

/// Rows of a reference table, without its comments and its head.
pub fn rows(text: &str) -> Vec<Vec<String>> {
    let rows = text.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty()).skip(1);
    rows.map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

/// A figure of a table.
pub fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("{text} is no number"))
}

/// Every sentence of a finding is whole: no brace is left, nothing is empty, no list ends in the air.
pub fn whole(finding: &Finding) {
    for text in [&finding.text, &finding.cure] {
        assert!(!text.is_empty() && !text.contains(['{', '}']), "{finding:#?}");
        assert!(
            !text.contains("  ") && !text.contains(" ,") && !text.contains("NaN") && !text.contains("inf "),
            "{finding:#?}"
        );
    }
    assert!(!finding.site.is_empty(), "{finding:#?}");
    assert!(finding.severity <= Severity::Marginal);
}
