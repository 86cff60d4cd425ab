//! Files that read well and mean nothing sensible, and files that are no text: every command ends with a word, in
//! bounded time and memory, without a panic, without NaN or endless numbers, and steers no terminal.

use assert_cmd::Command;
use ohmward::text::hidden::is_hidden;
use serde_json::Value;
use std::fmt::Write;
use std::fs;
use std::time::Duration;

const PARTS: &str = "  battery: lead-acid battery, 12 V, 14 Ah, nose
  F1: fuse, 10 A, nose
  push: push switch, dash
  horn: horn, 3.5 A, nose
";
const WIRES: &str = "  - battery.pos to F1.in, red, 4 mm2, 0.3 m
  - F1.out to push.a, red, 1.5 mm2, 2 m
  - push.b to horn.feed, brown, 1.5 mm2, 2 m
  - horn.ground to frame, black, 1.5 mm2, 0.5 m
  - battery.neg to frame, black, 4 mm2, 0.3 m
";

fn file(parts: &str, wires: &str) -> String {
    let places = "places: {dash: easy, nose: 3 min}\n";
    format!("machine: Absurd\n{places}chassis: frame\nparts:\n{parts}wires:\n{wires}")
}

fn rated(ampere: &str) -> String {
    file(&PARTS.replace("3.5 A", ampere), WIRES)
}

fn second_battery(volts: &str, plus: &str, minus: &str) -> String {
    let parts = format!("{PARTS}  b2: lead-acid battery, {volts}, 14 Ah, nose\n");
    file(
        &parts,
        &format!("{WIRES}  - b2.pos to {plus}, red, 4 mm2, 0.1 m\n  - b2.neg to {minus}, black, 4 mm2, 0.1 m\n"),
    )
}

/// Relays that each pull in the next, round in a ring.
fn relay_ring(count: usize) -> String {
    let (mut parts, mut wires) = (PARTS.to_string(), WIRES.to_string());
    for i in 0..count {
        let next = (i + 1) % count;
        writeln!(parts, "  r{i}: relay, nose").unwrap();
        writeln!(wires, "  - r{i}.87 to r{next}.86, red, 1 mm2, 0.2 m").unwrap();
        writeln!(wires, "  - r{i}.85 to frame, black, 1 mm2, 0.2 m\n  - F1.out to r{i}.30, red, 1 mm2, 0.1 m").unwrap();
    }
    file(&parts, &wires)
}

/// A plug of so many ways, a switch and a lamp on each.
fn wide_plug(ways: usize) -> String {
    let (mut parts, mut wires) = ("  battery: lead-acid battery, 12 V, 14 Ah, nose\n".to_string(), String::new());
    let mut plug =
        "plugs:\n  P9:\n    is: everything\n    a: dash, 1 m, 1.5 mm2, crimp sleeve\n    b: nose\n    ways:\n"
            .to_string();
    writeln!(wires, "  - battery.neg to frame, black, 4 mm2, 0.3 m").unwrap();
    for i in 1..=ways {
        writeln!(parts, "  sw{i}: toggle switch, dash\n  l{i}: lamp, 5 W, nose").unwrap();
        writeln!(wires, "  - battery.pos to sw{i}.a, red, 1 mm2, 1 m\n  - l{i}.ground to frame, black, 1 mm2, 1 m")
            .unwrap();
        writeln!(plug, "      - {i}, red, same, l{i}.feed, sw{i}.b, beep").unwrap();
    }
    file(&parts, &wires) + &plug
}

/// One wire more, so many times.
fn bundle(count: usize) -> String {
    let mut wires = WIRES.to_string();
    for i in 0..count {
        writeln!(wires, "  - X{i}: battery.pos to frame, red, 1 mm2, {} m", i % 7 + 1).unwrap();
    }
    file(PARTS, &wires)
}

fn bomb() -> String {
    let mut out = "a: &a [x, x, x, x, x, x, x, x, x]\n".to_string();
    for (name, of) in ('b'..='i').zip('a'..='h') {
        let list = vec![format!("*{of}"); 9].join(", ");
        writeln!(out, "{name}: &{name} [{list}]").unwrap();
    }
    out + "machine: Bomb\n"
}

fn cases() -> Vec<(&'static str, Vec<u8>)> {
    let long = "h".repeat(5000);
    let text: Vec<(&str, String)> = vec![
        (
            "no battery",
            file(
                &PARTS.replace("  battery: lead-acid battery, 12 V, 14 Ah, nose\n", ""),
                "  - F1.out to push.a, red, 2 m\n",
            ),
        ),
        ("nothing", "machine: Empty\n".into()),
        ("no name", "machine: \"\"\n".into()),
        ("one part", "machine: One\nparts:\n  horn: horn\n".into()),
        ("two batteries in opposition", second_battery("12 V", "frame", "battery.pos")),
        ("24 V beside 12 V", second_battery("24 V", "battery.pos", "frame")),
        ("wires of no length", file(PARTS, &WIRES.replace("2 m", "0 m"))),
        ("wires of 10 km", file(PARTS, &WIRES.replace("2 m\n", "10 km\n"))),
        ("hair", file(PARTS, &WIRES.replace("1.5 mm2", "0.0001 mm2"))),
        ("rails", file(PARTS, &WIRES.replace("1.5 mm2", "100000 mm2"))),
        (
            "everything shorted",
            file(
                PARTS,
                &format!(
                    "{WIRES}  - battery.pos to battery.neg, red, 10 mm2, 0.01 m\n  - horn.feed to horn.ground, red, 4 mm2, 0.1 m\n"
                ),
            ),
        ),
        (
            "a wire to where it came from",
            file(PARTS, &format!("{WIRES}  - horn.feed to horn.feed, red, 4 mm2, 0.1 m\n")),
        ),
        ("a battery of next to nothing", file(&PARTS.replace("12 V, 14 Ah", "0.001 V, 0.001 Ah"), WIRES)),
        ("a battery of thunder", file(&PARTS.replace("12 V, 14 Ah", "100000 V, 100000 Ah"), WIRES)),
        ("0 A", rated("0 A")),
        ("-3 A", rated("-3 A")),
        ("nan", rated("nan A")),
        ("inf", rated("inf A")),
        ("1e-300 A", rated("1e-300 A")),
        ("1e300 A", rated("1e300 A")),
        ("1e999 A", rated("1e999 A")),
        ("a fuse of a nanoampere", file(&PARTS.replace("10 A", "1e-9 A"), WIRES)),
        ("a ring of relays", relay_ring(12)),
        (
            "a buzzer",
            file(
                &format!("{PARTS}  r: changeover relay, nose\n"),
                &format!(
                    "{WIRES}  - F1.out to r.30, red, 1 mm2, 0.2 m\n  - r.87a to r.86, red, 1 mm2, 0.1 m\n  - r.85 to frame, black, 1 mm2, 0.1 m\n"
                ),
            ),
        ),
        ("a plug of thirty ways", wide_plug(30)),
        ("a bundle of 800", bundle(800)),
        (
            "a name of 5,000 letters",
            file(&PARTS.replace("horn:", &format!("{long}:")), &WIRES.replace("horn.", &format!("{long}."))),
        ),
        ("a place that colours", file(&PARTS.replace("nose", "\"\\e[31mred\\a\""), WIRES)),
        ("a title that steers", file(PARTS, WIRES).replace("machine: Absurd", "machine: \"\\e]0;x\\a\\u202Eevil\"")),
        ("a title that turns", file(PARTS, WIRES).replace("machine: Absurd", "machine: \u{202e}evil")),
        (
            "nothing fitted",
            file(&PARTS.replace(", nose", ", nose, not fitted").replace(", dash", ", dash, not fitted"), WIRES),
        ),
        ("tabs", "machine:\tTabs\nparts:\n\thorn: horn\n".into()),
        ("NUL", "machine: N\0ul\n".into()),
        ("mark and foreign line ends", format!("\u{feff}{}", file(PARTS, WIRES)).replace('\n', "\r\n")),
        ("depth", format!("machine: D\nparts: {}{}\n", "[".repeat(3000), "]".repeat(3000))),
        ("a bomb", bomb()),
        ("a snake", "machine: &a [*a]\n".into()),
    ];
    let mut out: Vec<(&str, Vec<u8>)> = text.into_iter().map(|(name, text)| (name, text.into_bytes())).collect();
    out.push(("another encoding", b"machine: Gr\xfcn\n".to_vec()));
    out.push(("no text", (0..=255).cycle().take(10_000).collect()));
    out
}

/// Numbers that are none, as JSON and as people would meet them. (What a file says itself may be quoted.)
fn endless(text: &str) -> Option<&str> {
    let said = |word: &&str| matches!(word.trim_matches(|c: char| "(),;:[]{}".contains(c)), "NaN" | "inf" | "-inf");
    text.split([' ', '\n', ',', ':', '=']).find(said)
}

#[test]
fn absurd_files_are_answered_in_words() {
    const COMMANDS: [&[&str]; 13] = [
        &["check"],
        &["check", "--json"],
        &["faults", "--count"],
        &["expect", "volts-dc", "horn.feed", "battery.neg", "--set", "push=pressed"],
        &["expect", "ohms", "horn.feed", "horn.ground", "--open", "battery"],
        &["export", "spice"],
        &["export", "csv"],
        &["powerup", "--paper"],
        &["draw"],
        &["ringout", "P9", "--load"],
        &["extend", "P9", "--by", "1.2m"],
        &["extend", "horn", "--by", "1.2m", "--json"],
        &["chase", "--jsonl", "the horn is dead"],
    ];
    let all = cases();
    let wrong = std::sync::Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for half in 0..2 {
            let (all, wrong) = (&all, &wrong);
            scope.spawn(move || {
                for (name, bytes) in all.iter().skip(half).step_by(2) {
                    for args in COMMANDS {
                        let folder = tempfile::tempdir().unwrap();
                        fs::write(folder.path().join("wiring.yaml"), bytes).unwrap();
                        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
                        let out = command
                            .args(args)
                            .current_dir(folder.path())
                            .timeout(Duration::from_secs(100))
                            .output()
                            .unwrap();
                        let (said, told) = (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
                        let complain = |what: String| wrong.lock().unwrap().push(format!("{name}, {args:?}: {what}"));
                        match out.status.code() {
                            Some(0 | 1) => {}
                            Some(2) if !told.trim().is_empty() => {}
                            other => complain(format!("exit {other:?}: {told:.300}")),
                        }
                        if told.contains("panicked") {
                            complain(format!("{told:.300}"));
                        }
                        if let Some(number) = endless(&said).filter(|_| *name != "nan" && *name != "inf") {
                            complain(format!("it says {number}"));
                        }
                        if let Some(c) = said.chars().chain(told.chars()).find(|c| is_hidden(*c)) {
                            complain(format!("it writes {c:?}"));
                        }
                        let json = args.iter().any(|arg| arg.starts_with("--json"));
                        if json && said.lines().any(|line| serde_json::from_str::<Value>(line).is_err()) {
                            complain(format!("no JSON: {said:.200}"));
                        }
                    }
                }
            });
        }
    });
    let wrong = wrong.into_inner().unwrap();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// Loads with a switch of their own.
fn switched(count: usize) -> String {
    let (mut parts, mut wires) = (PARTS.to_string(), WIRES.to_string());
    for i in 0..count {
        writeln!(parts, "  sw{i}: toggle switch, dash\n  l{i}: lamp, 5 W, nose").unwrap();
        writeln!(wires, "  - F1.out to sw{i}.a, red, 1 mm2, 1 m\n  - sw{i}.b to l{i}.feed, red, 1 mm2, 1 m").unwrap();
        writeln!(wires, "  - l{i}.ground to frame, black, 1 mm2, 1 m").unwrap();
    }
    file(&parts, &wires)
}

/// A wire of so many pieces, spliced.
fn chain(count: usize) -> String {
    let (mut sleeves, mut wires) = (String::from("sleeves:\n"), WIRES.to_string());
    for i in 0..count {
        writeln!(sleeves, "  S{i}: crimp sleeve, nose").unwrap();
        let from = i.checked_sub(1).map_or_else(|| "F1.out".to_string(), |before| format!("S{before}"));
        writeln!(wires, "  - {from} to S{i}, red, 1 mm2, 0.1 m").unwrap();
    }
    sleeves + &file(PARTS, &wires)
}

/// Fifty thousand wires in three arrangements, and as many problems: what may grow with the size grows no faster.
#[test]
fn fifty_thousand_wires_take_seconds() {
    let broken = chain(50_000).replace("crimp sleeve", "crmp sleve");
    let files = [bundle(50_000), chain(50_000), switched(1_500), broken];
    let wrong = std::sync::Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for text in &files {
            let wrong = &wrong;
            scope.spawn(move || {
                let folder = tempfile::tempdir().unwrap();
                fs::write(folder.path().join("wiring.yaml"), text).unwrap();
                let commands: [&[&str]; 7] = [
                    &["check"],
                    &["faults", "--count"],
                    &["expect", "volts-dc", "horn.feed", "battery.neg"],
                    &["export", "csv"],
                    &["draw"],
                    &["faults", "--json"],
                    &["chase", "the horn is dead"],
                ];
                for args in commands {
                    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
                    let run = command.args(args).current_dir(folder.path()).timeout(Duration::from_secs(120));
                    let out = run.write_stdin("stop\n").output().unwrap();
                    let told = String::from_utf8_lossy(&out.stderr);
                    if !matches!(out.status.code(), Some(0..=2)) || told.contains("panicked") || told.len() > 100_000 {
                        wrong.lock().unwrap().push(format!("{args:?}: {:?} {told:.300}", out.status));
                    }
                }
            });
        }
    });
    let wrong = wrong.into_inner().unwrap();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn what_is_typed_or_told_steers_no_terminal() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), file(PARTS, WIRES)).unwrap();
    let run = |args: &[&str], input: &str| {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
        let out = command.args(args).current_dir(folder.path()).write_stdin(input).output().unwrap();
        [out.stdout, out.stderr].concat()
    };
    let evil = "the \u{1b}]0;x\u{7}horn \u{202e}is dead";
    let out = run(&["chase", evil], "note \u{1b}[2Jx\u{9b}31m\nsaw \u{1b}[31mfoo\nstop\n");
    let jsonl = run(
        &["chase", "--new", "--jsonl"],
        "{\"saw\":\"the \\u001b[31mhorn is dead\"}\n{\"note\":\"\\u001b]0;x\\u0007\"}\n{\"stop\":true}\n",
    );
    let trail = run(&["trail"], "");
    let notes = fs::read(folder.path().join("build-notes.md")).unwrap();
    for bytes in [out, jsonl, trail, notes] {
        let text = String::from_utf8(bytes).unwrap();
        assert_eq!(text.chars().find(|c| is_hidden(*c)), None, "{text:?}");
    }
}
