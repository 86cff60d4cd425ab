//! No command prints a number that is none, on any drawn machine, and each ends with a word in bounded time.

use assert_cmd::Command;
use std::fs;
use std::time::Duration;

const COMMANDS: [&[&str]; 9] = [
    &["check", "--json"],
    &["check"],
    &["faults", "--json"],
    &["export", "spice"],
    &["powerup", "--paper"],
    &["draw"],
    &["expect", "volts-dc", "battery.pos", "G0", "--json"],
    &["expect", "ohms", "battery.pos", "G0", "--open", "battery"],
    &["chase", "--jsonl", "a fuse is blown"],
];
/// Said to the chase: readings as odd as the machine.
const SAID: &str = "{\"skip\":true}\n{\"reading\":{\"value\":0.1,\"unit\":\"V\"}}\n{\"reading\":{\"value\":-99,\"unit\":\"V\"}}\n{\"reading\":{\"value\":\"OL\"}}\n{\"skip\":true}\n";

/// A number that is none.
fn endless(text: &str) -> Option<&str> {
    let said = |word: &&str| matches!(word.trim_matches(|c: char| "(),;:[]{}".contains(c)), "NaN" | "inf" | "-inf");
    text.split([' ', '\n', ',', ':', '=', '"']).find(said)
}

/// What goes wrong on machines of these seeds.
fn wrong(seeds: impl Iterator<Item = u64>) -> Vec<String> {
    let mut out = Vec::new();
    for seed in seeds {
        for (sort, text) in [("wild", super::wild(seed)), ("sensible", super::sensible(seed))] {
            let folder = tempfile::tempdir().unwrap();
            fs::write(folder.path().join("wiring.yaml"), &text).unwrap();
            for args in COMMANDS {
                let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
                let command = command.args(args).current_dir(folder.path()).timeout(Duration::from_secs(60));
                let ran = command.write_stdin(SAID).output().unwrap();
                let (said, told) = (String::from_utf8_lossy(&ran.stdout), String::from_utf8_lossy(&ran.stderr));
                let mut complain = |what: String| out.push(format!("{sort} {seed}, {args:?}: {what}"));
                match ran.status.code() {
                    Some(0 | 1) => {}
                    // A drawn machine reads; what is asked of it may not be there.
                    Some(2) if sort == "wild" && !told.trim().is_empty() => {}
                    other => complain(format!("exit {other:?}: {told:.600}")),
                }
                if told.contains("panicked") {
                    complain(format!("{told:.600}"));
                }
                if let Some(number) = endless(&said).or(endless(&told)) {
                    complain(format!("it says {number}"));
                }
            }
        }
    }
    out
}

#[test]
fn drawn_machines_give_numbers_that_are_numbers() {
    let (even, odd) = std::thread::scope(|scope| {
        let [even, odd] = [0, 1].map(|first| scope.spawn(move || wrong((first..14).step_by(2))));
        (even.join().unwrap(), odd.join().unwrap())
    });
    assert!(even.is_empty() && odd.is_empty(), "{even:#?} {odd:#?}");
}

/// Many more: `cargo test --release hundreds_of_drawn -- --ignored`.
#[test]
#[ignore = "takes many minutes"]
fn hundreds_of_drawn_machines() {
    let wrong = wrong(1_000..1_250);
    assert!(wrong.is_empty(), "{wrong:#?}");
}
