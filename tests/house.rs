//! The house rules, read from the sources: layers, one home a crate, no test file left out.

use std::path::{Path, PathBuf};

/// Layers from the bottom up; a module may use its own layer and those below.
const LAYERS: &[&[&str]] = &[
    &["text", "pace"],
    &["linear"],
    &["netlist"],
    &["catalogue", "wiring"],
    &["sketch"],
    &["circuit"],
    &["diagnosis"],
    &["review"],
    &["choice", "harness"],
    &["session"],
    &["notes", "drawing"],
];

/// Third-party crates and where in `src` they may be named. The netlist's graph is petgraph's, so its index types
/// may be named wherever that graph is read.
const HOMES: &[(&str, &[&str])] = &[
    ("serde_yaml", &["text/yaml.rs"]),
    ("rustyline", &["cli/prompt"]),
    ("clap", &["cli", "main.rs"]),
    ("clap_complete", &["cli"]),
    ("clap_mangen", &["cli/man.rs"]),
    ("colored", &["cli"]),
    ("strsim", &["text/words.rs", "session/words"]),
    ("include_dir", &["catalogue", "sketch", "cli"]),
    ("tempfile", &["cli"]),
    ("fastrand", &["session", "cli", "circuit/sim/draws.rs"]),
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// All Rust files under a folder with their path from it, `/` between.
fn rust_files(folder: &Path) -> Vec<(String, String)> {
    let mut out = Vec::new();
    let mut todo = vec![folder.to_path_buf()];
    while let Some(next) = todo.pop() {
        for entry in std::fs::read_dir(&next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                todo.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let name = path.strip_prefix(folder).unwrap().to_str().unwrap().replace('\\', "/");
                out.push((name, std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    out.sort();
    out
}

/// The source without comments, so that a doc link to a higher layer is no use of it.
fn code(text: &str) -> String {
    text.lines().map(|line| line.find("//").map_or(line, |at| &line[..at])).collect::<Vec<_>>().join("\n")
}

fn layer(module: &str) -> Option<usize> {
    LAYERS.iter().position(|layer| layer.contains(&module))
}

/// Modules named behind `crate::`, those in braces included.
fn used(code: &str) -> Vec<String> {
    let word = |s: &str| s.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let mut out = Vec::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        match rest.strip_prefix('{') {
            None => out.push(word(rest)),
            Some(inner) => {
                let mut depth = 0;
                let mut fresh = true;
                for (i, c) in inner.char_indices() {
                    match c {
                        '{' => depth += 1,
                        '}' if depth == 0 => break,
                        '}' => depth -= 1,
                        ',' if depth == 0 => fresh = true,
                        c if depth == 0 && fresh && c.is_alphabetic() => {
                            out.push(word(&inner[i..]));
                            fresh = false;
                        }
                        _ => {}
                    }
                }
            }
        }
    }
    out
}

#[test]
fn lower_layers_know_nothing_of_higher_ones() {
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (file, text) in rust_files(&root().join("src")) {
        let module = file.split(['/', '.']).next().unwrap().to_owned();
        let Some(own) = layer(&module) else {
            assert!(
                ["lib", "main", "cli", "build"].contains(&module.as_str()),
                "src/{file}: give {module} a layer in this test"
            );
            continue;
        };
        for target in used(&code(&text)) {
            seen += 1;
            if layer(&target).is_some_and(|other| other > own) {
                wrong.push(format!("src/{file} uses {target}, which is above it"));
            }
        }
    }
    assert!(seen > 20, "the test reads no uses any more");
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_crate_has_one_home() {
    let mut wrong = Vec::new();
    for (file, text) in rust_files(&root().join("src")) {
        let code = code(&text);
        for (name, homes) in HOMES {
            let named = code
                .match_indices(&format!("{name}::"))
                .any(|(at, _)| !code[..at].ends_with(|c: char| c.is_alphanumeric() || c == '_' || c == ':'));
            if named && !homes.iter().any(|home| file.starts_with(home)) {
                wrong.push(format!("src/{file} names {name}, whose home is {homes:?}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_library_neither_prints_nor_looks_around() {
    let forbidden =
        ["println!", "eprintln!", "print!(", "dbg!(", "std::env::", "SystemTime::now", "Instant::now", "process::exit"];
    let mut wrong = Vec::new();
    for (file, text) in rust_files(&root().join("src")) {
        if file.starts_with("cli/") || file == "main.rs" || file == "build.rs" {
            continue;
        }
        let code = code(&text);
        wrong.extend(forbidden.iter().filter(|f| code.contains(**f)).map(|f| format!("src/{file}: {f}")));
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn every_test_file_is_a_module_of_the_one_test_binary() {
    let all = std::fs::read_to_string(root().join("tests/all.rs")).unwrap();
    let all = code(&all);
    let mut left_out = Vec::new();
    for entry in std::fs::read_dir(root().join("tests")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let module = path.extension().is_some_and(|e| e == "rs") || path.join("mod.rs").exists();
        if module && name != "all" && !all.contains(&format!("mod {name};")) {
            left_out.push(name);
        }
    }
    assert!(left_out.is_empty(), "add to tests/all.rs: {left_out:?}");
    for (file, _) in rust_files(&root().join("tests")) {
        let Some((folder, rest)) = file.rsplit_once('/') else { continue };
        let parent = root().join("tests").join(folder);
        let name = rest.trim_end_matches(".rs");
        let owner = [parent.join("mod.rs"), parent.with_extension("rs")].into_iter().find(|p| p.exists());
        // (benches and what a fuzzer starts from are programs of their own)
        if folder.starts_with("bench") || folder == "fuzz/targets" || name == "mod" {
            continue;
        }
        let owner = owner.unwrap_or_else(|| panic!("tests/{file} belongs to no module"));
        let text = code(&std::fs::read_to_string(&owner).unwrap());
        assert!(text.contains(&format!("mod {name};")), "tests/{file} is not a module of {}", owner.display());
    }
}
