//! Tables of what people say.

use super::*;

#[test]
fn the_built_in_table_reads() {
    let source = crate::text::span::Source::new("symptoms.yaml", include_str!("../../../rules/symptoms.yaml"));
    if let Err(problems) = SymptomTable::read(&source) {
        panic!("{}", problems.iter().map(|p| p.render(&source)).collect::<String>());
    }
    let table = SymptomTable::builtin();
    assert!(table.showings.len() > 20 && table.parts.len() > 15 && table.controls.len() > 8);
}

#[test]
fn a_bad_table_is_refused_with_every_problem() {
    let text = "showings:\n  dead: {say: [dead], means: [dark], not: alive, source: x}\n  dim: {says: [dim], means: [dim]}\n";
    let problems = SymptomTable::read(&crate::text::span::Source::new("t.yaml", text)).unwrap_err();
    let all: Vec<&str> = problems.iter().map(|p| p.text.as_str()).collect();
    assert!(all.iter().any(|t| t.contains("\"says\" is not known")), "{all:?}");
    assert!(all.iter().any(|t| t.contains("no source")), "{all:?}");
    assert!(all.iter().any(|t| t.contains("alive")), "{all:?}");
}
