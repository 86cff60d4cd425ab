//! The built-in files, and what becomes of files that are not right.

use super::*;

fn shown(troubles: &[Trouble]) -> String {
    troubles.iter().map(|(source, problem)| problem.render(source)).collect()
}

#[test]
fn every_built_in_file_loads_in_its_fixed_order() {
    let mut catalogue = Catalogue::default();
    let sources = builtin_sources();
    let troubles = lay_over(&mut catalogue, &sources, true);
    assert!(troubles.is_empty(), "\n{}", shown(&troubles));
    let kinds = sources.iter().filter(|s| s.name.starts_with("kinds/")).count();
    assert_eq!(catalogue.kinds.len(), kinds, "two files of one kind");
    for table in TABLES {
        assert!(sources.iter().any(|s| s.name == table), "{table} is missing");
    }
}
