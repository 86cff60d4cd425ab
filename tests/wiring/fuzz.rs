//! No text makes the reading panic; a refused file always says why.

use super::catalogue;
use ohmward::catalogue::Catalogue;
use ohmward::text::span::Source;
use ohmward::wiring::{points, read, sites};
use proptest::prelude::*;
use std::sync::LazyLock;

static CATALOGUE: LazyLock<Catalogue> = LazyLock::new(catalogue);

const GOOD: [&str; 2] = [include_str!("good/short-forms.yaml"), include_str!("good/long-forms.yaml")];

/// Pieces that have a meaning somewhere in a wiring file.
const PIECES: &[&str] = &[
    "machine: ",
    "parts:\n",
    "wires:\n",
    "  - ",
    "plugs:\n",
    "  P9:\n",
    "    ways:\n",
    "    a: ",
    "horn",
    ".feed",
    " to ",
    "battery.pos",
    ", ",
    "red",
    "[",
    "]",
    "{",
    "}",
    ": ",
    " #",
    "\n",
    "\t",
    "'",
    "\"",
    "1,5 m",
    "10 AWG",
    "?",
    "&x ",
    "*x",
    "!!str ",
    "|\n",
    "---\n",
    "\u{feff}",
    "é",
    "P9a.4",
    "G1",
    "on frame",
    "switches:\n",
    "  key: ",
    "wires: ",
    ".",
    "a a",
    "null",
    "~",
    "grounds:\n",
    "feeds:\n",
    "  F1: ",
    "chassis: ",
    "by strap",
    "0/0 AWG",
    "1e999 m",
    "-",
    "same",
    "none",
    "\r\n",
];

fn survives(text: String) -> Result<(), TestCaseError> {
    let source = Source::new("wiring.yaml", text);
    match read(&source, &CATALOGUE) {
        Ok(reading) => {
            let n = &reading.netlist;
            prop_assert_eq!(points(n).len(), n.graph.node_count());
            for link in n.graph.edge_weights() {
                prop_assert!(link.ohms.is_finite() && link.ohms > 0.0, "{:?}", link);
            }
            for site in sites(n, &source) {
                prop_assert!(site.line >= 1);
            }
        }
        Err(problems) => {
            prop_assert!(!problems.is_empty());
            for problem in &problems {
                prop_assert!(!problem.render(&source).is_empty());
            }
        }
    }
    Ok(())
}

/// İ and ẞ change their length in lower case: a place in the one is no place in the other.
#[test]
fn letters_that_change_length_in_lower_case() {
    let grown = "İ".repeat(12);
    for row in [
        format!("chassis: {{frame: {grown} by strap {grown}}}\n"),
        format!("grounds:\n  G1: nose, on {grown}, [{grown}.x]\n"),
        format!("plugs:\n  P1:\n    a: stub {grown}\n    ways:\n      - 1, {grown}, same, {grown}.{grown}, {grown}\n"),
        format!("parts: {{horn: {grown} {grown} 3 A}}\nwires:\n  - {grown} to {grown}, {grown}\n"),
        "wires:\n  - ẞẞẞẞ.ẞ to ẞẞẞ, 1 ẞ, light ẞ\n".to_owned(),
    ] {
        survives(row).unwrap();
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_text(text in "\\PC{0,200}") {
        survives(text)?;
    }

    #[test]
    fn pieces_of_wiring_files(picks in proptest::collection::vec(0..PIECES.len(), 0..60)) {
        survives(picks.into_iter().map(|i| PIECES[i]).collect())?;
    }

    #[test]
    fn good_files_with_pieces_put_in_and_taken_out(
        which in 0..GOOD.len(),
        edits in proptest::collection::vec((0.0..1.0f64, 0usize..12, 0..PIECES.len()), 1..6),
    ) {
        let mut text = GOOD[which].to_owned();
        for (place, cut, piece) in edits {
            let mut from = (place * text.len() as f64) as usize;
            while !text.is_char_boundary(from) { from -= 1; }
            let mut to = (from + cut).min(text.len());
            while !text.is_char_boundary(to) { to += 1; }
            text.replace_range(from..to, PIECES[piece]);
        }
        survives(text)?;
    }
}
