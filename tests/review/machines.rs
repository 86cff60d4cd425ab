//! The built-in machines are sound: what is found in them is marginal, whole, and in its place.

use super::{found, of, one, whole};
use ohmward::catalogue::Catalogue;
use ohmward::review::Severity;
use std::collections::BTreeSet;
use std::path::PathBuf;

fn machines() -> Vec<(String, String)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("rules/machines");
    let mut out: Vec<(String, String)> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read_to_string(path.join("wiring.yaml")).unwrap())
        })
        .collect();
    out.sort();
    out
}

#[test]
fn on_the_built_in_machines_nothing_hurts_or_fails_and_every_sentence_is_whole() {
    let machines = machines();
    assert!(machines.len() >= 8);
    for (name, text) in machines {
        let found = found(&text);
        found.iter().for_each(whole);
        let bad: Vec<_> = found.iter().filter(|finding| finding.severity != Severity::Marginal).collect();
        assert!(bad.is_empty(), "{name}: {bad:#?}");
        assert!(found.len() <= 10, "{name}: a person reads no more than ten lines: {found:#?}");
        let sorts: BTreeSet<&str> = found.iter().map(|finding| finding.sort).collect();
        assert!(found.len() - sorts.len() <= 2, "{name}: alike findings are one: {found:#?}");
    }
}

#[test]
fn on_the_cart_the_planted_oddities_are_named() {
    let (_, text) = machines().into_iter().find(|(name, _)| name == "orchard-cart").unwrap();
    let found = found(&text);
    let shared = one(&found, "shared-return");
    assert!(shared.site == "G2" && shared.text.contains("horn") && shared.text.contains("rev-gauge"), "{shared:?}");
    let end = one(&found, "live-end");
    assert!(end.text.contains("lamp-right-front.feed") && end.text.contains("turn right"), "{end:?}");
    // The other lamp's wire is marked `capped`.
    assert!(!end.text.contains("lamp-right-rear"), "{end:?}");
    let rows = one(&found, "unproved");
    assert!(["P5.5", "P9.4", "P9.8", "P10.6"].iter().all(|way| rows.text.contains(way)), "{rows:?}");
    assert!(one(&found, "colour-twice").text.contains("P9: white in 2, 3, 9"));
    let out = one(&found, "engine-no-plug");
    assert!(out.text.contains("unplug P10") && out.text.contains("stop-push-a_ignition-stop"), "{out:?}");
    assert!(of(&found, "unfused").is_empty() && of(&found, "sneak-both-ways").is_empty());
}

#[test]
fn every_entry_of_the_rules_is_used_and_every_sort_has_its_words() {
    let rules = Catalogue::builtin().review;
    let mut used = String::new();
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("src/review");
    for entry in std::fs::read_dir(folder).unwrap() {
        used.push_str(&std::fs::read_to_string(entry.unwrap().path()).unwrap());
    }
    let quoted = |word: &str| used.contains(&format!("\"{word}\""));
    let names = rules.findings.keys().chain(rules.limits.keys()).chain(rules.lists.keys());
    let idle: Vec<&String> = names.filter(|name| !quoted(name)).collect();
    assert!(idle.is_empty(), "nothing asks for {idle:?}");
    // Limits and lists that the code asks for are there.
    for (call, known) in
        [("limit(\"", rules.limits.keys().collect::<Vec<_>>()), ("listed(\"", rules.lists.keys().collect())]
    {
        for (at, _) in used.match_indices(call) {
            let word = used[at + call.len()..].split('"').next().unwrap();
            assert!(known.iter().any(|name| *name == word), "{call}{word}");
        }
    }
}
