//! The prompt at a real terminal, through a pty.

use rexpect::session::{PtySession, spawn_command};
use std::fs;
use std::path::Path;
use std::process::Command;

const WAIT: Option<u64> = Some(60_000);

fn terminal(folder: &Path, args: &[&str]) -> PtySession {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    command.args(args).current_dir(folder).env("TERM", "xterm").env("NO_COLOR", "1").env("TZ", "UTC");
    spawn_command(command, WAIT).unwrap()
}

#[test]
fn an_empty_folder_becomes_a_chase_with_one_key() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["chase"]);
    pty.exp_string("what is wrong> ").unwrap();
    pty.send_line("2").unwrap();
    pty.exp_string("in your own words").unwrap();
    pty.exp_string("> ").unwrap();
    pty.send_line("the horn is dead").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("why").unwrap();
    pty.exp_string("from where you stand").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("note the bolt is M8").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("stop").unwrap();
    pty.exp_string("build-notes.md").unwrap();
    pty.exp_eof().unwrap();
    let notes = fs::read_to_string(folder.path().join("build-notes.md")).unwrap();
    assert!(notes.contains("the horn is dead") && notes.contains("the bolt is M8"), "{notes}");
}

#[test]
fn a_complaint_in_an_empty_folder_becomes_a_first_reading_with_one_key_an_answer() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["chase", "the tach moves with the horn"]);
    pty.exp_string("share a ground").unwrap();
    pty.exp_string("answer> ").unwrap();
    pty.send_line("?").unwrap();
    pty.exp_string("2/6 ").unwrap();
    pty.exp_string("answer> ").unwrap();
    pty.send_line("back").unwrap();
    pty.exp_string("share a ground").unwrap();
    pty.exp_string("answer> ").unwrap();
    pty.send_line("1").unwrap();
    pty.exp_string("2/6 ").unwrap();
    // Ctrl-C: the questions go on where they were.
    pty.send_control('c').unwrap();
    pty.exp_string("stay open").unwrap();
    pty.exp_eof().unwrap();
    assert!(!folder.path().join("wiring.yaml").exists());
    let mut pty = terminal(folder.path(), &["chase"]);
    pty.exp_string("Going on with").unwrap();
    for question in 2..=6 {
        pty.exp_string(&format!("{question}/6 ")).unwrap();
        pty.exp_string("answer> ").unwrap();
        pty.send_line("").unwrap();
    }
    pty.exp_string("Written: wiring.yaml").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("stop").unwrap();
    pty.exp_string("build-notes.md").unwrap();
    pty.exp_eof().unwrap();
    let text = fs::read_to_string(folder.path().join("wiring.yaml")).unwrap();
    assert!(text.contains("ground=shared;"), "{text}");
    let notes = fs::read_to_string(folder.path().join("build-notes.md")).unwrap();
    assert!(notes.contains("the tach moves with the horn") && notes.contains("**yes, the same one**"), "{notes}");
}

#[test]
fn ctrl_c_leaves_the_chase_open_and_it_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["new", "empty"]);
    pty.exp_eof().unwrap();
    let mut pty = terminal(folder.path(), &["chase", "the horn is dead"]);
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_control('c').unwrap();
    pty.exp_string("stays open").unwrap();
    pty.exp_eof().unwrap();
    let mut pty = terminal(folder.path(), &["chase"]);
    pty.exp_string("Going on with \"the horn is dead\"").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    // The Tab key completes a word of the prompt.
    pty.send("suspe\t").unwrap();
    pty.flush().unwrap();
    pty.exp_string("suspects").unwrap();
    pty.send_line("").unwrap();
    pty.exp_string("1 ").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_control('d').unwrap();
    pty.exp_string("build-notes.md").unwrap();
    pty.exp_eof().unwrap();
}

#[test]
fn the_drill_takes_the_reading_with_enter() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["rehearse"]);
    pty.exp_string("Enter takes the reading").unwrap();
    pty.exp_regex(r"\[Enter\] or (reading|seen)s?> ").unwrap();
    pty.send_line("").unwrap();
    pty.exp_string("the meter reads").unwrap();
    pty.exp_regex(r"\[Enter\] or ").unwrap();
    pty.send_line("stop").unwrap();
    pty.exp_string("The end of the drill").unwrap();
    pty.exp_eof().unwrap();
    assert!(fs::read_dir(folder.path()).unwrap().next().is_none(), "a drill leaves nothing behind");
}

#[test]
fn rows_are_written_at_the_prompt_with_completion_a_paste_and_undo() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["new", "empty"]);
    pty.exp_eof().unwrap();
    let path = folder.path().join("wiring.yaml");
    let begun = fs::read_to_string(&path).unwrap();
    let mut pty = terminal(folder.path(), &["wire"]);
    pty.exp_string("wire> ").unwrap();
    // Tab: a kind of two words, then a place.
    pty.send("stop: pull-cord sw\t").unwrap();
    pty.flush().unwrap();
    pty.send_control('u').unwrap();
    pty.send("aux: toggle s\t").unwrap();
    pty.flush().unwrap();
    pty.exp_string("toggle switch").unwrap();
    pty.send(", engine-b\t").unwrap();
    pty.flush().unwrap();
    pty.exp_string("engine-bay").unwrap();
    pty.send_line("").unwrap();
    pty.exp_string("+ ").unwrap();
    pty.exp_string("aux: toggle switch, engine-bay").unwrap();
    pty.exp_string("wire> ").unwrap();
    pty.send_line("aux.c to horn.feed").unwrap();
    pty.exp_string("not taken").unwrap();
    pty.exp_string("wire> ").unwrap();
    // A whole plug in one paste, as a terminal sends it.
    pty.send("\x1b[200~P7:\n  a: dash, 1 m\n  b: engine-bay\n  ways:\n    - 1, red, same, aux.a, main-fuse.out\n    - 2, blue, same, aux.b, horn.feed, ?\x1b[201~").unwrap();
    pty.flush().unwrap();
    pty.send_line("").unwrap();
    pty.exp_string("2, blue, same, aux.b, horn.feed, ?").unwrap();
    pty.exp_string("P7> ").unwrap();
    assert!(fs::read_to_string(&path).unwrap().contains("\nplugs:\n  P7:\n    a: dash, 1 m\n"));
    for _ in 0..2 {
        pty.send_line("undo").unwrap();
        pty.exp_string("taken back").unwrap();
        pty.exp_string("wire> ").unwrap();
    }
    assert_eq!(fs::read_to_string(&path).unwrap(), begun);
    pty.send_control('d').unwrap();
    pty.exp_eof().unwrap();
}

#[test]
fn the_wiring_is_changed_in_a_chase_and_the_chase_goes_on_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["new", "empty"]);
    pty.exp_eof().unwrap();
    let mut pty = terminal(folder.path(), &["chase", "the horn is dead"]);
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("wire horn-push.b to horn.fed").unwrap();
    pty.exp_string("nearest: feed").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("wire change horn-ground_G1: ok").unwrap();
    pty.exp_string("horn.ground to G1, ok").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_control('c').unwrap();
    pty.exp_eof().unwrap();
    let mut pty = terminal(folder.path(), &["chase"]);
    pty.exp_string("Going on with").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("wire undo").unwrap();
    pty.exp_string("taken back").unwrap();
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_line("stop").unwrap();
    pty.exp_string("build-notes.md").unwrap();
    pty.exp_eof().unwrap();
    let notes = fs::read_to_string(folder.path().join("build-notes.md")).unwrap();
    assert!(
        notes.contains("the horn is dead") && notes.contains("the wiring file: change horn-ground_G1: ok"),
        "{notes}"
    );
}

#[test]
fn a_switch_is_learnt_with_one_key_a_touch_and_goes_on_after_ctrl_c() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["learn", "push"]);
    for (asked, line) in [
        ("Loose wires", ""),
        ("Colours", "red, blue"),
        ("positions", "released, pressed"),
        ("spring back", ""),
        ("CAUTION", "yes"),
        ("tips", ""),
    ] {
        pty.exp_string(asked).unwrap();
        pty.exp_string("> ").unwrap();
        pty.send_line(line).unwrap();
    }
    pty.exp_string("silent> ").unwrap();
    pty.send_line("n").unwrap();
    pty.exp_string("HOLD").unwrap();
    pty.exp_string("silent> ").unwrap();
    pty.send_control('c').unwrap();
    pty.exp_string("--resume").unwrap();
    pty.exp_eof().unwrap();
    let mut pty = terminal(folder.path(), &["learn", "push", "--resume"]);
    for _ in 0..2 {
        pty.exp_string("silent> ").unwrap();
        pty.send_line("y").unwrap();
    }
    pty.exp_string("pressed: [a, a]").unwrap();
    pty.exp_eof().unwrap();
}

#[test]
fn what_is_at_hand_is_asked_once_and_never_of_a_script() {
    let folder = tempfile::tempdir().unwrap();
    let mut pty = terminal(folder.path(), &["new", "empty"]);
    pty.exp_eof().unwrap();
    let path = folder.path().join("wiring.yaml");
    let text = fs::read_to_string(&path).unwrap();
    let without: String =
        text.lines().filter(|line| !line.starts_with("bench:")).map(|line| format!("{line}\n")).collect();
    assert_ne!(without, text);
    fs::write(&path, &without).unwrap();
    let mut script = terminal(folder.path(), &["chase", "--jsonl", "the horn is dead"]);
    script.exp_string("\"event\":").unwrap();
    script.send_line("{\"stop\":true}").unwrap();
    script.exp_eof().unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), without);
    let mut pty = terminal(folder.path(), &["chase", "the horn is dead"]);
    for (asked, line) in [
        ("1/5", "volts, scope"),
        ("no instrument \"scope\"", "volts beep"),
        ("2/5", "2 m, 4 clips"),
        ("3/5", ""),
        ("4/5", "y"),
        ("5/5", "engine running"),
    ] {
        pty.exp_string(asked).unwrap();
        pty.exp_string("at hand> ").unwrap();
        pty.send_line(line).unwrap();
    }
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_control('c').unwrap();
    pty.exp_eof().unwrap();
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.starts_with(&without), "{text}");
    for row in
        ["meter: [volts, beep]", "leads: 2 m", "clips: 4", "test-lamp: no", "helper: yes", "cannot: [engine running]"]
    {
        assert!(text.contains(row), "{row}\n{text}");
    }
    let mut pty = terminal(folder.path(), &["chase", "--new", "the horn is dead"]);
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_control('c').unwrap();
    pty.exp_eof().unwrap();
    assert_eq!(fs::read_to_string(&path).unwrap(), text);
}
