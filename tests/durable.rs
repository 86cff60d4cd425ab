//! Nothing that was said is lost: a chase is killed at every step of its writing, and goes on where it was.
//!
//! A trail is only ever added to, line by line, so what a kill leaves on disk is a beginning of it. Each is made from the
//! trail of a chase that was not disturbed, with the notes as they stood then and the half of a file beside its place.

use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::Duration;

/// A machine small enough to be quick.
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
const NOTES: &str = "my own words, no line end";
const COMPLAINT: &str = "the horn is dead";
const SKIP: &str = r#"{"skip":true}"#;

/// A chase driven line by line, killed when it is dropped.
struct Chase {
    child: Child,
    input: Option<ChildStdin>,
    output: Receiver<String>,
}

impl Drop for Chase {
    fn drop(&mut self) {
        // SIGKILL: nothing can be tidied up.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Chase {
    fn start(folder: &Path, args: &[&str]) -> Chase {
        let mut child = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"))
            .args(["chase", "--jsonl"])
            .args(args)
            .current_dir(folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let input = child.stdin.take();
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let (send, output) = channel();
        thread::spawn(move || lines.map_while(Result::ok).try_for_each(|line| send.send(line)));
        Chase { child, input, output }
    }

    /// What waits next, or the verdict; without its running number.
    fn waits(&mut self) -> Value {
        loop {
            let line = self.output.recv_timeout(Duration::from_secs(100)).expect("it says nothing, or has ended");
            let mut event: Value = serde_json::from_str(&line).unwrap_or_else(|e| panic!("{line:?}: {e}"));
            if ["ask", "question", "try-repair", "verdict"].contains(&event["event"].as_str().unwrap()) {
                event.as_object_mut().unwrap().remove("id");
                return event;
            }
        }
    }

    fn say(&mut self, line: &str) {
        writeln!(self.input.as_mut().unwrap(), "{line}").unwrap();
    }

    /// Waits until the program has ended.
    fn ended(mut self) {
        self.input = None;
        assert!(self.child.wait().unwrap().code().is_some_and(|code| code < 2));
    }
}

/// An answer to what waits, enough to bring any chase to its end.
fn answer(event: &Value) -> &'static str {
    match event["event"].as_str().unwrap() {
        "ask" => r#"{"skip":true}"#,
        "question" => r#"{"choice":"don't know"}"#,
        _ => r#"{"cured":false}"#,
    }
}

fn folder(trail: &[u8], notes: &[u8]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), WIRING).unwrap();
    fs::write(folder.path().join("build-notes.md"), notes).unwrap();
    fs::create_dir(folder.path().join("trails")).unwrap();
    if !trail.is_empty() {
        fs::write(folder.path().join("trails/001.jsonl"), trail).unwrap();
    }
    folder
}

/// The answer to what waits as the so manieth: one reading, then skips, then the end.
fn reply(number: usize, event: &Value) -> &'static str {
    match event["test"]["instrument"].as_str() {
        Some("volts-dc") if number == 1 => r#"{"reading":{"value":0,"unit":"V"}}"#,
        _ if number > 6 => r#"{"stop":true}"#,
        _ => answer(event),
    }
}

/// A chase to its end: what waited after each line of the trail, the trail and the notes.
fn undisturbed() -> (Vec<Value>, Vec<u8>, Vec<u8>) {
    let folder = folder(b"", NOTES.as_bytes());
    let trail = folder.path().join("trails/001.jsonl");
    let mut chase = Chase::start(folder.path(), &[COMPLAINT]);
    let mut waited = Vec::new();
    for answers in 1.. {
        let event = chase.waits();
        // On disk before the question was shown: the first line, the complaint, and every answer.
        let lines = fs::read(&trail).unwrap().iter().filter(|&&b| b == b'\n').count();
        let ended = event["event"] == "verdict";
        assert!(lines > answers, "{answers} answers, {lines} lines");
        waited.push(event);
        if ended {
            break;
        }
        chase.say(reply(answers, waited.last().unwrap()));
    }
    chase.ended();
    let read = |name: &str| fs::read(folder.path().join(name)).unwrap();
    (waited, read("trails/001.jsonl"), read("build-notes.md"))
}

#[test]
fn a_chase_killed_at_any_write_goes_on_at_the_same_question_with_the_same_suspects() {
    let (waited, trail, notes) = undisturbed();
    let ends: Vec<usize> = (0..trail.len()).filter(|&at| trail[at] == b'\n').map(|at| at + 1).collect();
    // The first line, one for each event that waited, and the end.
    assert_eq!(ends.len(), waited.len() + 2, "{}", String::from_utf8_lossy(&trail));
    assert!(waited.len() > 3 && trail.windows(9).any(|text| text == b"\"reading\""), "too little to show anything");
    for (i, &whole) in ends[..ends.len() - 1].iter().enumerate() {
        // What is asked after i lines; the complaint stands in the first line already.
        let asked = &waited[i.saturating_sub(1)];
        let next = ends[i + 1];
        for cut in [whole, whole + 1, usize::midpoint(whole, next), next - 1] {
            // The next line is the end: the notes have been written by then.
            let notes_are = if i + 2 == ends.len() { &notes } else { NOTES.as_bytes() };
            let folder = folder(&trail[..cut], notes_are);
            fs::write(folder.path().join(".tmpAbC123"), &notes[..notes.len() / 2]).unwrap();
            let mut chase = Chase::start(folder.path(), &[]);
            assert_eq!(&chase.waits(), asked, "killed {} bytes into line {}", cut - whole, i + 2);
            let read = |name: &str| fs::read(folder.path().join(name)).unwrap();
            assert!(read("trails/001.jsonl").starts_with(&trail[..whole]), "an answer is gone");
            // The same questions to the same end. The notes tell every answer and how every suspect came to stand.
            for (number, event) in (1..).zip(&waited).skip(i.saturating_sub(1)) {
                if event["event"] == "verdict" {
                    break;
                }
                assert_eq!(read("build-notes.md"), NOTES.as_bytes());
                chase.say(reply(number, event));
                assert_eq!(chase.waits(), waited[number], "answer {number}");
            }
            chase.ended();
            assert_eq!(read("build-notes.md"), notes, "not whole, told twice, or other suspects");
            assert_eq!(fs::read_to_string(folder.path().join("wiring.yaml")).unwrap(), WIRING);
        }
    }
}

#[test]
fn a_clock_set_back_changes_nothing() {
    let folder = folder(b"", NOTES.as_bytes());
    let path = folder.path().join("trails/001.jsonl");
    let mut chase = Chase::start(folder.path(), &[COMPLAINT]);
    chase.waits();
    chase.say(SKIP);
    let asked = chase.waits();
    drop(chase);
    // All that was said was said in years to come.
    let trail = fs::read_to_string(&path).unwrap();
    let year = trail.split("\"started\":\"").nth(1).unwrap()[..5].to_string();
    fs::write(&path, trail.replace(&year, "2099-")).unwrap();
    let mut chase = Chase::start(folder.path(), &[]);
    assert_eq!(chase.waits(), asked);
    chase.say(r#"{"stop":true}"#);
    chase.waits();
    chase.ended();
    let notes = fs::read_to_string(folder.path().join("build-notes.md")).unwrap();
    assert!(notes.starts_with(NOTES) && notes.contains("trail 001"), "{notes}");
    let mut chase = Chase::start(folder.path(), &[COMPLAINT]);
    chase.waits();
    assert!(folder.path().join("trails/002.jsonl").exists());
}

#[test]
fn a_trail_of_a_later_version_is_left_alone_and_new_goes_past_it() {
    let later = b"{\"ohmward-trail\":9,\"number\":1}\n{\"unheard\":\"of\"}\n";
    let folder = folder(later, NOTES.as_bytes());
    let run = |args: &[&str]| {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
        let command = command.arg("chase").arg("--jsonl").args(args).current_dir(folder.path()).stdin(Stdio::null());
        let out = command.output().unwrap();
        (out.status.code(), String::from_utf8(out.stderr).unwrap())
    };
    let (code, said) = run(&[COMPLAINT]);
    assert!(code == Some(2) && said.contains("later version") && said.contains("--new"), "{said}");
    let (code, said) = run(&["--new", COMPLAINT]);
    assert!(code == Some(1) && said.contains("left as it is"), "{said}");
    assert_eq!(fs::read(folder.path().join("trails/001.jsonl")).unwrap(), later);
    assert!(folder.path().join("trails/002.jsonl").exists());
}

#[test]
fn a_chase_begun_without_a_wiring_file_and_killed_at_any_write_goes_on_at_the_same_question() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| fs::read(folder.path().join(name)).unwrap();
    let lines = |trail: &[u8]| trail.iter().filter(|&&b| b == b'\n').count();
    let mut chase = Chase::start(folder.path(), &[COMPLAINT]);
    // What waited, and how many lines were on disk by then.
    let mut waited: Vec<(usize, Value)> = Vec::new();
    loop {
        let event = chase.waits();
        waited.push((lines(&file("trails/001.jsonl")), event));
        let last = &waited.last().unwrap().1;
        if last["event"] == "ask" {
            break;
        }
        assert!(!folder.path().join("wiring.yaml").exists() && waited.len() < 20, "{last}");
        chase.say(answer(last));
    }
    drop(chase);
    let (trail, wiring) = (file("trails/001.jsonl"), file("wiring.yaml"));
    let ends: Vec<usize> = (0..trail.len()).filter(|&at| trail[at] == b'\n').map(|at| at + 1).collect();
    assert!(waited.len() > 1 && ends.len() == waited.last().unwrap().0);
    for (i, &whole) in ends.iter().enumerate() {
        let asked = &waited.iter().find(|(lines, _)| *lines > i).unwrap().1;
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("trails")).unwrap();
        let cut = ends.get(i + 1).map_or(whole, |next| usize::midpoint(whole, *next));
        fs::write(folder.path().join("trails/001.jsonl"), &trail[..cut]).unwrap();
        let mut chase = Chase::start(folder.path(), &[]);
        assert_eq!(&chase.waits(), asked, "killed after line {}", i + 1);
        if asked["event"] == "ask" {
            assert_eq!(fs::read(folder.path().join("wiring.yaml")).unwrap(), wiring);
        }
        drop(chase);
        assert!(fs::read(folder.path().join("trails/001.jsonl")).unwrap().starts_with(&trail[..whole]));
    }
}

#[test]
fn a_wiring_file_rewritten_in_mid_chase_is_asked_after_and_never_overwritten() {
    let folder = folder(b"", NOTES.as_bytes());
    let path = folder.path().join("wiring.yaml");
    let mut chase = Chase::start(folder.path(), &[COMPLAINT]);
    chase.waits();
    // A diode is put in, in an editor: it can be at fault from now on.
    let diode = WIRING.replace("  horn: horn", "  D1: diode, nose\n  horn: horn").replace(
        "  - W4: horn-push.b to horn.feed, brown, 1.5 mm2, 2 m",
        "  - W4: horn-push.b to D1.anode, brown, 1.5 mm2, 2 m\n  - W5: D1.cathode to horn.feed, brown, 1.5 mm2, 1 m",
    );
    fs::write(&path, &diode).unwrap();
    chase.say(SKIP);
    let asked = chase.waits();
    let expect = |event: &Value| event["expect"].to_string();
    let mut seen = expect(&asked);
    for _ in 0..4 {
        chase.say(SKIP);
        seen += &expect(&chase.waits());
    }
    assert!(seen.contains("D1") || seen.contains("W5"), "{seen}");
    // One that cannot be used is told once and changes nothing.
    fs::write(&path, "machine: [").unwrap();
    chase.say(SKIP);
    chase.waits();
    chase.say(r#"{"stop":true}"#);
    chase.waits();
    chase.ended();
    assert_eq!(fs::read(&path).unwrap(), b"machine: [");
    let trail = fs::read_to_string(folder.path().join("trails/001.jsonl")).unwrap();
    assert_eq!(trail.matches("changed by hand").count(), 1, "{trail}");
}

#[test]
fn a_wiring_file_that_is_gone_is_said_and_the_chase_waits_for_it() {
    let folder = folder(b"", NOTES.as_bytes());
    let mut chase = Chase::start(folder.path(), &[COMPLAINT]);
    chase.waits();
    chase.say(SKIP);
    let asked = chase.waits();
    drop(chase);
    fs::remove_file(folder.path().join("wiring.yaml")).unwrap();
    let (code, _, said) = run(folder.path(), &["chase", "--jsonl"]);
    assert!(code == Some(2) && said.contains("wiring.yaml is gone") && said.contains("--new"), "{said}");
    fs::write(folder.path().join("wiring.yaml"), WIRING).unwrap();
    assert_eq!(Chase::start(folder.path(), &[]).waits(), asked);
}

/// A folder that nothing can be written into: each command says so, with a way out, and what is there stays.
#[cfg(target_os = "linux")]
#[test]
fn in_a_folder_that_can_only_be_read_each_command_says_so() {
    use std::os::unix::fs::PermissionsExt;
    let folder = folder(b"", NOTES.as_bytes());
    fs::remove_dir(folder.path().join("trails")).unwrap();
    let mode = |mode| fs::set_permissions(folder.path(), fs::Permissions::from_mode(mode)).unwrap();
    mode(0o555);
    // Somebody who may write everywhere is not hindered by modes.
    if fs::write(folder.path().join("probe"), "").is_ok() {
        fs::remove_file(folder.path().join("probe")).unwrap();
        mode(0o755);
        fs::write(folder.path().join("trails"), "a file where a folder should be").unwrap();
    }
    for args in [
        &["chase", "--jsonl", COMPLAINT][..],
        &["powerup", "--jsonl"],
        &["ringout", "--ways", "3"],
        &["learn", "key", "--wires", "red, blue", "--positions", "off, on"],
    ] {
        let (code, out, said) = run(folder.path(), args);
        assert!(code == Some(2) && said.contains("trails"), "{args:?}: {out} {said}");
    }
    mode(0o755);
    let read = |name: &str| fs::read_to_string(folder.path().join(name)).unwrap();
    assert_eq!([read("wiring.yaml"), read("build-notes.md")], [WIRING, NOTES]);
}

fn run(folder: &Path, args: &[&str]) -> (Option<i32>, String, String) {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    let out = command.args(args).current_dir(folder).stdin(Stdio::null()).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code(), text(out.stdout), text(out.stderr))
}
