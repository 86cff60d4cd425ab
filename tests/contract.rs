//! The program as scripts drive it: exit codes, streams, JSON lines, a chase that is killed.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Stdio};

/// A machine small enough to be quick and rich enough to be asked about.
const WIRING: &str = "\
machine: Bench
bench: {meter: [volts, ohms, beep], leads: 2 m}
places: {dash: easy, nose: 3 min}
parts:
  battery: lead-acid battery, 12 V, 14 Ah, nose
  main-fuse: fuse, 20 A, nose
  horn-push: push switch, dash
  horn: horn, 3.5 A, nose
wires:
  - battery.pos to main-fuse.in, red, 4 mm2, 0.3 m
  - battery.neg to G1, black, 4 mm2, 0.3 m
  - main-fuse.out to horn-push.a, red, 1.5 mm2, 2 m
  - W4: horn-push.b to horn.feed, brown, 1.5 mm2, 2 m
  - horn.ground to G1, black, 1.5 mm2, 0.5 m
chassis: frame
grounds: {G1: {place: nose, on: frame}}
";

/// The program in a folder, its environment as bare as it can be.
fn ohmward(folder: &Path) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    command.current_dir(folder).env_remove("NO_COLOR").env("TZ", "UTC");
    command
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), WIRING).unwrap();
    folder
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn lines(bytes: &[u8]) -> Vec<Value> {
    text(bytes).lines().map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{line}: {e}"))).collect()
}

#[test]
fn help_is_success_on_stdout_and_a_wrong_word_is_usage_on_stderr() {
    let folder = folder();
    for command in [
        "chase", "rehearse", "check", "expect", "faults", "kinds", "export", "trail", "new", "drill", "wire", "import",
        "schema",
    ] {
        let out = ohmward(folder.path()).args([command, "--help"]).assert().code(0).get_output().clone();
        assert!(text(&out.stdout).contains("Example: ohmward"), "{command} --help has no example");
        assert!(out.stderr.is_empty());
    }
    for args in [&["chsae"][..], &["check", "--no-such"], &["expect"], &["export", "cad"]] {
        let out = ohmward(folder.path()).args(args).assert().code(2).get_output().clone();
        assert!(out.stdout.is_empty() && !out.stderr.is_empty(), "{args:?}");
    }
}

#[test]
fn check_lists_sites_points_and_controls() {
    let folder = folder();
    let out = ohmward(folder.path()).args(["check", "--json"]).assert().code(0).get_output().clone();
    let check: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(check["problems"], serde_json::json!([]));
    let site = |name: &str| check["sites"].as_array().unwrap().iter().find(|s| s["site"] == name).cloned();
    assert_eq!(site("W4").unwrap()["line"], 13);
    assert!(site("W4.a").is_some() && site("G1").is_some() && site("horn").is_some());
    let points = check["points"].as_array().unwrap();
    let horn = points.iter().find(|p| p["point"] == "horn.feed").unwrap();
    assert_eq!((&horn["probeable"], &horn["place"]), (&Value::Bool(true), &Value::from("nose")));
    assert_eq!(check["controls"]["horn-push"], serde_json::json!(["released", "pressed"]));
}

#[test]
fn every_problem_of_a_broken_file_is_named_with_file_and_line() {
    let folder = folder();
    let broken = WIRING.replace("horn.feed", "horn.fed").replace("push switch", "pusch switch");
    fs::write(folder.path().join("wiring.yaml"), broken).unwrap();
    for args in [&["check"][..], &["faults"], &["chase", "x"], &["expect", "watch", "horn"]] {
        let out = ohmward(folder.path()).args(args).assert().code(2).get_output().clone();
        let said = text(&out.stderr);
        assert!(said.contains("wiring.yaml, line 7:") && said.contains("wiring.yaml, line 13:"), "{args:?}: {said}");
        assert!(out.stdout.is_empty(), "{args:?}");
    }
    let out = ohmward(folder.path()).args(["check", "--json"]).assert().code(2).get_output().clone();
    let check: Value = serde_json::from_slice(&out.stdout).unwrap();
    let lines: Vec<u64> = check["problems"].as_array().unwrap().iter().filter_map(|p| p["line"].as_u64()).collect();
    assert_eq!(lines, [7, 13]);
    assert!(text(&out.stderr).contains("line 13"));
}

#[test]
fn a_hand_is_laid_on_parts_wires_and_places_from_the_command_line() {
    let folder = folder();
    for thing in ["horn", "somewhere"] {
        let out =
            ohmward(folder.path()).args(["expect", "touch", thing, "--json"]).assert().code(0).get_output().clone();
        let told: Value = serde_json::from_slice(&out.stdout).unwrap();
        assert_eq!(told["showing"], "cool", "{thing}");
    }
    for (args, wanted) in [(&["touch", "nowhere"][..], "nowhere"), (&["touch", "horn", "battery.neg"], "too much")] {
        let out = ohmward(folder.path()).arg("expect").args(args).assert().code(2).get_output().clone();
        assert!(text(&out.stderr).contains(wanted), "{args:?}: {}", text(&out.stderr));
    }
}

#[test]
fn a_stream_of_expectations_goes_on_after_a_bad_line() {
    let folder = folder();
    let input = concat!(
        r#"{"test":{"instrument":"volts-dc","red":"horn.feed","black":"battery.neg","set":{"horn-push":"pressed"}}}"#,
        "\nnonsense\n",
        r#"{"test":{"instrument":"volts-dc","red":"horn.fed","black":"battery.neg"}}"#,
        "\n",
        r#"{"test":{"instrument":"watch","part":"horn","set":{"horn-push":"pressed"}},"fault":"horn-push:stuck-open"}"#,
        "\n",
        r#"{"test":{"instrument":"ohms","red":"main-fuse.in","black":"battery.neg"}}"#,
        "\n"
    );
    let out =
        ohmward(folder.path()).args(["expect", "--jsonl"]).write_stdin(input).assert().code(0).get_output().clone();
    let answers = lines(&out.stdout);
    assert_eq!(answers.len(), 5);
    let volts = answers[0]["value"].as_f64().unwrap();
    assert!((11.0..13.0).contains(&volts) && answers[0]["low"].as_f64().unwrap() < volts);
    assert!(
        answers[1]["error"]["code"].is_string() && answers[2]["error"]["text"].as_str().unwrap().contains("horn.fed")
    );
    assert_eq!(answers[3]["showing"], "silent");
    assert_eq!(answers[4]["refused"], "live");
    assert_eq!(answers[4]["instead"]["instrument"], "volts-dc");
}

#[test]
fn colour_is_told_by_flag_then_environment_then_stream() {
    let folder = folder();
    let coloured = |command: &mut Command| text(&command.assert().code(0).get_output().stdout).contains('\u{1b}');
    assert!(!coloured(ohmward(folder.path()).arg("check")));
    assert!(coloured(ohmward(folder.path()).args(["check", "--color", "always"])));
    assert!(coloured(ohmward(folder.path()).args(["check", "--color", "always"]).env("NO_COLOR", "1")));
    assert!(!coloured(ohmward(folder.path()).args(["check", "--color", "never"])));
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let folder = folder();
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("ohmward"))
        .args(["kinds", "--json"])
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let out = child.wait_with_output().unwrap();
    assert_eq!((out.status.code(), text(&out.stderr).as_str()), (Some(0), ""));
}

/// A chase driven line by line.
struct Chase {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

impl Chase {
    fn start(folder: &Path, args: &[&str]) -> Chase {
        let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("ohmward"))
            .args(["chase", "--jsonl"])
            .args(args)
            .current_dir(folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let input = child.stdin.take().unwrap();
        let output = BufReader::new(child.stdout.take().unwrap());
        Chase { child, input, output }
    }

    fn event(&mut self) -> Value {
        let mut line = String::new();
        self.output.read_line(&mut line).unwrap();
        serde_json::from_str(&line).unwrap_or_else(|e| panic!("{line:?}: {e}"))
    }

    /// Events up to the next one that waits or ends.
    fn until_waiting(&mut self) -> Value {
        loop {
            let event = self.event();
            if ["ask", "question", "try-repair", "verdict"].contains(&event["event"].as_str().unwrap()) {
                return event;
            }
        }
    }

    fn say(&mut self, line: &str) {
        writeln!(self.input, "{line}").unwrap();
    }

    fn kill(mut self) {
        // SIGKILL: nothing can be tidied up.
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }
}

#[test]
fn a_killed_chase_goes_on_at_the_same_question() {
    let folder = folder();
    let notes = folder.path().join("build-notes.md");
    fs::write(&notes, "my own words, no line end").unwrap();
    let mut chase = Chase::start(folder.path(), &["the horn is dead"]);
    let first = chase.until_waiting();
    assert_eq!(first["event"], "ask");
    chase.say(r#"{"skip":true}"#);
    let second = chase.until_waiting();
    assert_ne!(first["test"], second["test"]);
    chase.kill();

    let mut chase = Chase::start(folder.path(), &[]);
    let resumed = chase.event();
    assert_eq!((&resumed["event"], &resumed["complaint"]), (&Value::from("resumed"), &Value::from("the horn is dead")));
    let again = chase.until_waiting();
    assert_eq!((&again["event"], &again["test"]), (&second["event"], &second["test"]));

    // A line that cannot be used: an error, then the last event again, and nothing is kept of it.
    chase.say(r#"{"raeding":1}"#);
    let error = chase.event();
    assert_eq!(error["event"], "error");
    assert_eq!(chase.until_waiting()["test"], second["test"]);
    chase.say(r#"{"stop":true}"#);
    let verdict = chase.until_waiting();
    assert_eq!((&verdict["event"], &verdict["reason"]), (&Value::from("verdict"), &Value::from("stopped")));
    assert_eq!(chase.child.wait().unwrap().code(), Some(1));

    let written = fs::read_to_string(&notes).unwrap();
    assert!(written.starts_with("my own words, no line end\n"));
    assert_eq!(written.matches("the horn is dead").count(), 1);
}

#[test]
fn a_cut_line_of_the_trail_is_named_and_its_question_asked_again() {
    let folder = folder();
    let mut chase = Chase::start(folder.path(), &["the horn is dead"]);
    let first = chase.until_waiting();
    chase.kill();
    let trail = folder.path().join("trails/001.jsonl");
    let mut bytes = fs::read(&trail).unwrap();
    bytes.extend_from_slice(br#"{"at":"2026-01-01T00:00:00Z","input":{"ski"#);
    fs::write(&trail, bytes).unwrap();
    let out = ohmward(folder.path()).args(["chase", "--jsonl"]).write_stdin("").assert().code(1).get_output().clone();
    assert!(text(&out.stderr).contains("line 3"), "{}", text(&out.stderr));
    let events = lines(&out.stdout);
    assert_eq!(events[0]["event"], "resumed");
    assert_eq!(events[1]["test"], first["test"]);
    assert_eq!(events.last().unwrap()["event"], "verdict");
}

#[test]
fn a_second_program_only_reads_and_says_so() {
    let folder = folder();
    let mut chase = Chase::start(folder.path(), &["the horn is dead"]);
    chase.until_waiting();
    let before = fs::read(folder.path().join("trails/001.jsonl")).unwrap();
    for args in [&["chase", "another thing"][..], &["chase", "--new", "another"]] {
        let out = ohmward(folder.path()).args(args).write_stdin("0.35\n").assert().code(1).get_output().clone();
        assert!(text(&out.stderr).contains("only reads"), "{}", text(&out.stderr));
        assert!(text(&out.stdout).contains("the horn is dead"));
    }
    assert_eq!(fs::read(folder.path().join("trails/001.jsonl")).unwrap(), before);
    assert!(!folder.path().join("trails/002.jsonl").exists());
    chase.kill();
}

#[test]
fn new_begins_another_trail_and_closes_the_old_one() {
    let folder = folder();
    let mut chase = Chase::start(folder.path(), &["the horn is dead"]);
    chase.until_waiting();
    chase.kill();
    let out = ohmward(folder.path())
        .args(["chase", "--jsonl", "--new", "the horn is weak"])
        .write_stdin("")
        .assert()
        .code(1)
        .get_output()
        .clone();
    assert!(lines(&out.stdout).iter().all(|event| event["event"] != "resumed"));
    let out = ohmward(folder.path()).args(["trail", "--json"]).assert().code(0).get_output().clone();
    let trails: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(trails.as_array().unwrap().len(), 2);
    assert!(trails.as_array().unwrap().iter().all(|trail| trail["end"] == "stopped"));
}

#[test]
fn an_empty_folder_says_how_to_begin_and_offers_a_machine() {
    let folder = tempfile::tempdir().unwrap();
    let out = ohmward(folder.path()).args(["chase", "x"]).write_stdin("").assert().code(2).get_output().clone();
    assert!(text(&out.stdout).contains("orchard-cart") && text(&out.stderr).contains("ohmward new"));
    assert!(fs::read_dir(folder.path()).unwrap().next().is_none(), "something was written unasked");
    ohmward(folder.path()).args(["chase", "x"]).write_stdin("1\nthe horn is dead\n").assert().code(1);
    assert!(folder.path().join("wiring.yaml").exists());
    // What stands there is never overwritten.
    ohmward(folder.path()).args(["new", "empty"]).assert().code(2);
    let out = ohmward(folder.path())
        .args(["chase", "--jsonl", "x", "--wiring", "no.yaml"])
        .assert()
        .code(2)
        .get_output()
        .clone();
    assert_eq!(serde_json::from_slice::<Value>(&out.stdout).unwrap()["problems"].as_array().unwrap().len(), 1);
}

#[test]
fn every_starting_file_is_sound() {
    let folder = tempfile::tempdir().unwrap();
    let out = ohmward(folder.path()).args(["new", "--json"]).assert().code(0).get_output().clone();
    let names: Vec<String> = serde_json::from_slice(&out.stdout).unwrap();
    assert!(names.contains(&"orchard-cart".to_string()));
    for name in names {
        ohmward(folder.path()).args(["new", &name, &name]).assert().code(0);
        let wiring = folder.path().join(&name).join("wiring.yaml");
        ohmward(folder.path()).args(["check", "--wiring"]).arg(wiring).assert().code(0);
    }
}

#[test]
fn a_drill_says_in_figures_what_it_found_and_says_the_same_again() {
    let folder = folder();
    let drill = |more: &[&str]| {
        let args = [&["drill", "--seed", "3", "--json", "--faults"][..], more].concat();
        let out = ohmward(folder.path()).args(args).assert().get_output().clone();
        let figures: Value = serde_json::from_slice(&out.stdout).unwrap();
        // (1 where a fault was not isolated)
        let all = figures["isolated_share"] == 1.0;
        assert_eq!(out.status.code(), Some(i32::from(!all)), "{figures}");
        figures
    };
    let few = drill(&["4", "--pairs", "1"]);
    assert_eq!(few["chases"], 5);
    let counts = few["groups"].as_object().unwrap().values().map(|n| n.as_u64().unwrap());
    assert_eq!(counts.sum::<u64>(), 5);
    for key in ["isolated_share", "first_share", "readings_mean", "minutes_mean"] {
        assert!(few[key].as_f64().is_some_and(|figure| figure >= 0.0), "{key}: {few}");
    }
    let bands = few["calibration"].as_array().unwrap();
    assert!(!bands.is_empty(), "{few}");
    for band in bands {
        let of = |key: &str| band[key].as_f64().filter(|share| (0.0..=1.0).contains(share)).unwrap();
        assert!(of("perfect_low") <= of("perfect_high") && of("said") >= 0.01 && of("came_true") >= 0.0, "{few}");
    }
    let worst = few["worst"].as_array().unwrap();
    assert!(worst.iter().any(|walk| walk["fault"].as_str().unwrap().contains(" + ")), "no pair: {few}");
    assert_eq!(few, drill(&["4", "--pairs", "1"]));
    let misread = drill(&["4", "--wrong-readings", "1"]);
    let slips = |figures: &Value| -> u64 {
        figures["worst"].as_array().unwrap().iter().map(|walk| walk["wrong_readings"].as_u64().unwrap()).sum()
    };
    assert!(slips(&few) == 0 && slips(&misread) > 0, "{misread}");
    for bad in [&["--faults", "some"][..], &["--wrong-readings", "2"], &["--machine", "no-such"]] {
        ohmward(folder.path()).arg("drill").args(bad).assert().code(2);
    }
}

#[test]
fn a_deck_goes_to_stdout_and_ends() {
    let folder = folder();
    let out = ohmward(folder.path())
        .args(["export", "spice", "--set", "horn-push=pressed", "--fault", "W4:open"])
        .assert()
        .code(0)
        .get_output()
        .clone();
    let deck = text(&out.stdout);
    assert!(deck.contains("reltol=1e-6") && deck.contains("site=G1") && deck.trim_end().ends_with(".end"));
    ohmward(folder.path()).args(["export", "spice", "--fault", "W9:open"]).assert().code(2);
}

#[test]
fn every_phrase_that_does_not_fit_a_new_machine_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let args = [
        "new",
        "lane-motorcycle",
        "mine",
        "--without",
        "rudder",
        "--without",
        "horn",
        "--without",
        "sails",
        "--with",
        "keel",
    ];
    let out = ohmward(folder.path()).args(args).assert().code(2).get_output().clone();
    let said = text(&out.stderr);
    for word in ["--without \"rudder\"", "--without \"sails\"", "--with \"keel\""] {
        assert!(said.contains(word), "{word}: {said}");
    }
    assert!(!said.contains("horn\"") && !folder.path().join("mine").exists(), "{said}");
    let out = ohmward(folder.path()).args(args).arg("--json").assert().code(2).get_output().clone();
    let told: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(told["problems"].as_array().unwrap().len(), 3, "{told}");
}
