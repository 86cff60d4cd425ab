//! Where results go and lines come from: a reader that goes away, a full disk, no input, no terminal, colour or none.

use assert_cmd::Command;
use std::fs;
use std::path::Path;

const PROGRAM: &str = env!("CARGO_BIN_EXE_ohmward");

/// A machine small enough to be quick, with something to complain of.
const WIRING: &str = "\
machine: Bench
bench: {meter: [volts, ohms, beep], leads: 2 m}
places: {dash: easy, nose: 3 min}
chassis: frame
parts:
  battery: lead-acid battery, 12 V, 14 Ah, nose
  main-fuse: fuse, 60 A, nose
  horn-push: push switch, dash
  horn: horn, 3.5 A, nose
wires:
  - battery.pos to main-fuse.in, red, 4 mm2, 0.3 m
  - battery.neg to G1, black, 4 mm2, 0.3 m
  - main-fuse.out to horn-push.a, red, 0.5 mm2, 2 m
  - horn.ground to G1, black, 1.5 mm2, 0.5 m
grounds: {G1: {place: nose, on: frame}}
plugs:
  P1:
    a: dash, 1 m, 1.5 mm2, crimp sleeve
    b: nose
    ways:
      - 1, brown, same, horn-push.b, horn.feed
";

/// What prints, and what is typed into it: every command at least once, with and without JSON.
const PRINTS: &[(&[&str], &str)] = &[
    (&["--help"], ""),
    (&["--version"], ""),
    (&["check", "--help"], ""),
    (&["check"], ""),
    (&["check", "--json"], ""),
    (&["faults"], ""),
    (&["faults", "--json"], ""),
    (&["faults", "--count"], ""),
    (&["kinds"], ""),
    (&["kinds", "horn"], ""),
    (&["kinds", "--json"], ""),
    (&["expect", "volts-dc", "horn.feed", "battery.neg"], ""),
    (&["expect", "--jsonl"], "{\"test\":{\"instrument\":\"watch\",\"part\":\"horn\"}}\n"),
    (&["export", "spice"], ""),
    (&["export", "csv"], ""),
    (&["draw"], ""),
    (&["draw", "--path"], ""),
    (&["draw", "--charts"], ""),
    (&["extend", "P1", "--by", "1 m"], ""),
    (&["extend", "P1", "--by", "1 m", "--json"], ""),
    (&["new"], ""),
    (&["new", "--json"], ""),
    (&["new", "creek-launch", "boat"], ""),
    (&["schema"], ""),
    (&["guide"], ""),
    (&["guide", "words"], ""),
    (&["guide", "--json"], ""),
    (&["completions", "bash"], ""),
    (&["man"], ""),
    (&["man", "--to", "pages"], ""),
    (&["powerup", "--paper"], ""),
    (&["chase", "the horn is dead"], "skip\nwhy\n"),
    (&["chase", "--paper", "--new", "the horn is dead"], ""),
    (&["trail"], ""),
    (&["trail", "show"], ""),
    (&["trail", "--json"], ""),
    (&["chase", "--jsonl", "--new", "the horn is dead"], ""),
    (&["wire"], "check\nhelp\n"),
    (&["wire", "horn-push.a to horn.feed, red, 1 m"], ""),
    (&["wire", "--undo", "--json"], ""),
    (&["import", "loom.csv", "--dry-run"], ""),
    (&["learn", "--new"], ""),
    (&["learn", "--new", "--jsonl"], ""),
    (&["ringout", "P1", "--new"], ""),
    (&["ringout", "P1", "--new", "--jsonl"], ""),
    (&["powerup", "--new"], ""),
    (&["powerup", "--new", "--jsonl"], ""),
    (&["rehearse", "--machine", "field-trailer"], ""),
    (&["drill", "--faults", "1"], ""),
    (&["drill", "--faults", "1", "--json"], ""),
];

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), WIRING).unwrap();
    fs::write(folder.path().join("loom.csv"), "from,to,colour\nhorn.ground,G1,black\n").unwrap();
    folder
}

/// A line of bash with the program in `$OHMWARD`, its arguments in `$@`.
#[cfg(unix)]
fn bash(folder: &Path, line: &str, args: &[&str], typed: &str) -> std::process::Output {
    let mut shell = Command::new("bash");
    shell.arg("-c").arg(line).arg("bash").args(args).env("OHMWARD", PROGRAM).current_dir(folder);
    shell.env_remove("TERM").env_remove("NO_COLOR").env("TZ", "UTC").write_stdin(typed);
    shell.output().unwrap()
}

/// No panic, nothing about pipes, whatever happened to the streams.
fn calm(out: &std::process::Output, what: &str) {
    let said = text(&out.stderr);
    for word in ["panicked", "roken pipe", "os error 32", "RUST_BACKTRACE"] {
        assert!(!said.contains(word), "{what}: {said}");
    }
}

#[test]
fn every_command_is_among_those_tried() {
    let help = text(&Command::new(PROGRAM).arg("--help").output().unwrap().stdout);
    let list = help.split("Commands:\n").nth(1).unwrap().split("\n\n").next().unwrap();
    for line in list.lines().filter(|line| line.starts_with("  ") && !line.starts_with("   ")) {
        let name = line.split_whitespace().next().unwrap();
        assert!(name == "help" || PRINTS.iter().any(|(args, _)| args[0] == name), "{name}");
    }
}

#[test]
fn every_command_reports_as_json_and_as_nothing_else_where_that_is_wanted() {
    let folder = folder();
    let plain =
        |args: &&[&str]| !args[0].starts_with("--") && !args.iter().any(|arg| ["--help", "--json"].contains(arg));
    for (args, typed) in PRINTS.iter().filter(|(args, _)| plain(args)) {
        let mut command = Command::new(PROGRAM);
        command.current_dir(folder.path()).args(*args).env("TZ", "UTC").write_stdin(*typed);
        let out = command.arg("--json").output().unwrap();
        let told = text(&out.stdout);
        calm(&out, &args.join(" "));
        // One value, or one a line.
        let values: Vec<_> = serde_json::Deserializer::from_str(&told).into_iter::<serde_json::Value>().collect();
        assert!(values.iter().all(Result::is_ok), "{args:?}: {told}");
        // A prompt that nobody answers has learnt nothing to report.
        let silent = args[..] == ["learn", "--new"]
            || args[..] == ["ringout", "P1", "--new"]
            || args[..] == ["powerup", "--new"];
        assert!(silent || !values.is_empty(), "{args:?} reports nothing\n{}", text(&out.stderr));
        assert!(!told.contains('\u{1b}'), "{args:?}");
    }
}

#[test]
fn a_chase_and_a_drill_with_a_person_end_in_one_json_value() {
    let folder = folder();
    let run = |args: &[&str], typed: &str| {
        let mut command = Command::new(PROGRAM);
        let out = command.current_dir(folder.path()).args(args).env("TZ", "UTC").write_stdin(typed).output().unwrap();
        let told: serde_json::Value = serde_json::from_slice(&out.stdout).unwrap_or_else(|e| panic!("{e}: {out:?}"));
        (told, text(&out.stderr))
    };
    let (told, said) = run(&["chase", "--json", "--new", "the horn is dead"], "stop\n");
    assert_eq!(told["verdict"]["reason"], "stopped", "{told}");
    assert_eq!((&told["complaint"], told["trail"].is_u64()), (&"the horn is dead".into(), true));
    assert!(said.contains("main-fuse") || said.contains("horn"), "{said}");
    let (told, said) = run(&["rehearse", "--machine", "field-trailer", "--json"], &"\n".repeat(40));
    assert!(told["planted"].is_string() && told["verdict"]["reason"].is_string(), "{told}");
    assert!(said.contains("Drill:") && said.contains("the meter reads"), "{said}");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told_in_words_and_is_no_success() {
    let folder = folder();
    for (args, typed) in PRINTS {
        let out = bash(folder.path(), "exec \"$OHMWARD\" \"$@\" >/dev/full", args, typed);
        calm(&out, &args.join(" "));
        let (code, said) = (out.status.code(), text(&out.stderr));
        assert!(matches!(code, Some(1 | 2)), "{args:?}: {code:?}\n{said}");
        assert!(said.contains("cannot write the results") && said.contains("disk full"), "{args:?}: {said}");
        assert_eq!(said.matches("cannot write").count(), 1, "{args:?}: {said}");
        // What was asked for first is made by the commands further down.
        let _ = bash(folder.path(), "exec \"$OHMWARD\" \"$@\" >/dev/null", args, typed);
    }
}

#[cfg(unix)]
#[test]
fn a_reader_that_goes_away_ends_it_quietly() {
    let folder = folder();
    for (args, typed) in PRINTS {
        let out = bash(folder.path(), "\"$OHMWARD\" \"$@\" | true; exit ${PIPESTATUS[0]}", args, typed);
        calm(&out, &args.join(" "));
        assert!(matches!(out.status.code(), Some(0 | 1)), "{args:?}: {:?}\n{}", out.status, text(&out.stderr));
        let _ = fs::remove_dir_all(folder.path().join("boat"));
    }
    let out = bash(folder.path(), "\"$OHMWARD\" faults | head -1; exit ${PIPESTATUS[0]}", &[], "");
    assert_eq!((out.status.code(), text(&out.stderr).as_str()), (Some(0), ""));
    assert_eq!(text(&out.stdout).lines().count(), 1);
}

#[cfg(unix)]
#[test]
fn closed_streams_and_no_terminal_hinder_nothing() {
    let folder = folder();
    for streams in ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"] {
        for (args, _) in PRINTS.iter().filter(|(args, _)| !matches!(args[0], "drill" | "man" | "draw")) {
            let out = bash(folder.path(), &format!("exec \"$OHMWARD\" \"$@\" {streams}"), args, "");
            calm(&out, &format!("{} {streams}", args.join(" ")));
            // (a folder that stands there already, a step that is taken back already)
            let again = matches!(args[0], "new" | "wire");
            let fits = matches!(out.status.code(), Some(0 | 1)) || (again && out.status.code() == Some(2));
            assert!(fits, "{args:?} {streams}: {:?}\n{}", out.status, text(&out.stderr));
        }
    }
}

/// Escapes of colour taken out.
fn stripped(text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        out.push_str(before);
        rest = after.split_once('m').map_or("", |(_, after)| after);
    }
    out + rest
}

#[test]
fn colour_says_nothing_that_the_words_do_not_say() {
    let folder = folder();
    let run = |args: &[&str], colour: &str, typed: &str| {
        let mut command = Command::new(PROGRAM);
        command.current_dir(folder.path()).args(args).args(["--color", colour]).write_stdin(typed);
        let out = command.env_remove("NO_COLOR").env_remove("CLICOLOR_FORCE").env("TZ", "UTC").output().unwrap();
        (text(&out.stdout), text(&out.stderr))
    };
    let begun = run(&["chase", "the horn is dead"], "never", "skip\n");
    assert!(begun.0.contains("Volts") || begun.0.contains("Look"), "{begun:?}");
    fs::write(folder.path().join("bad.yaml"), WIRING.replace("horn.ground to", "horn.grnd to")).unwrap();
    let mut painted = 0;
    for (args, typed) in [
        (&["check"][..], ""),
        (&["faults"], ""),
        (&["kinds", "horn"], ""),
        (&["draw", "--path"], ""),
        (&["expect", "volts-dc", "horn.feed", "battery.neg"], ""),
        (&["trail", "show"], ""),
        (&["extend", "P1", "--by", "1 m"], ""),
        (&["powerup", "--paper"], ""),
        (&["rehearse", "--machine", "field-trailer"], "why\nsuspects %\nhelp\n\n"),
        (&["check", "--wiring", "bad.yaml"], ""),
        (&["kinds", "hron"], ""),
        (&["--help"], ""),
    ] {
        let (plain, dressed) = (run(args, "never", typed), run(args, "always", typed));
        assert!(!plain.0.contains('\u{1b}') && !plain.1.contains('\u{1b}'), "{args:?}");
        assert_eq!(stripped(&dressed.0), plain.0, "{args:?}");
        assert_eq!(stripped(&dressed.1), plain.1, "{args:?}");
        painted += usize::from(dressed.0.contains('\u{1b}') || dressed.1.contains('\u{1b}'));
    }
    assert!(painted >= 10, "{painted}");
    // How bad a finding is stands in words above it.
    assert!(run(&["check"], "never", "").0.contains("HURTS") || run(&["check"], "never", "").0.contains("FAILS"));
}

#[test]
fn the_environment_decides_where_no_flag_does() {
    let folder = folder();
    let coloured = |environment: &[(&str, &str)], args: &[&str]| {
        let mut command = Command::new(PROGRAM);
        for name in ["NO_COLOR", "CLICOLOR", "CLICOLOR_FORCE", "TERM"] {
            command.env_remove(name);
        }
        command.current_dir(folder.path()).args(args).envs(environment.iter().copied());
        text(&command.output().unwrap().stdout).contains('\u{1b}')
    };
    for args in [&["kinds", "horn"][..], &["kinds", "--help"]] {
        assert!(!coloured(&[("TERM", "xterm")], args));
        assert!(coloured(&[("CLICOLOR_FORCE", "1")], args));
        assert!(!coloured(&[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")], args));
        assert!(coloured(&[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "")], args));
        let always: Vec<&str> = args.iter().copied().chain(["--color", "always"]).collect();
        assert!(coloured(&[("NO_COLOR", "1")], &always));
        let never: Vec<&str> = args.iter().copied().chain(["--color=never"]).collect();
        assert!(!coloured(&[("CLICOLOR_FORCE", "1")], &never));
    }
}
