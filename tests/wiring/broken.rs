//! Broken files under `broken/`: `NAME.yaml` is read, `NAME.txt` is what people are shown, word for word.
//! A file that has no `NAME.txt` fails and shows what was said; `BLESS=1 cargo test broken` writes it, to be read
//! over before it is kept.

use super::{catalogue, shown};
use ohmward::text::span::Source;
use ohmward::wiring::read;
use std::path::Path;

#[test]
fn every_problem_of_every_broken_file_is_named_with_its_line_and_a_way_out() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/wiring/broken");
    let mut files: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.retain(|path| path.extension().is_some_and(|e| e == "yaml"));
    files.sort();
    assert!(files.len() >= 10, "{files:?}");
    let mut wrong = String::new();
    for path in files {
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        let source = Source::new(name.as_str(), std::fs::read_to_string(&path).unwrap());
        let problems = read(&source, &catalogue()).expect_err(&name);
        for problem in &problems {
            assert!(problem.help.is_some(), "{name}: no way out: {problem:?}");
        }
        let said = shown(&source, &problems);
        let expected = std::fs::read_to_string(path.with_extension("txt")).unwrap_or_default();
        if std::env::var_os("BLESS").is_some() {
            std::fs::write(path.with_extension("txt"), &said).unwrap();
        } else if said != expected {
            wrong.push_str(&format!("===== {name}\n{said}"));
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
}
