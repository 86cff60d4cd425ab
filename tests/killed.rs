//! Killed at every system call that changes the disk, then begun again: wiring file and notes are whole, old or new; what
//! was acknowledged is kept; and it ends as it would have ended.
//!
//! `strace` sends the kill; a call it is sent at does not take place.

use std::collections::BTreeSet;
use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

/// Calls that change what is on disk, or show something.
const CALLS: [&str; 12] = [
    "write",
    "fsync",
    "fdatasync",
    "rename",
    "renameat",
    "renameat2",
    "link",
    "linkat",
    "unlink",
    "mkdir",
    "ftruncate",
    "fchmod",
];
const NOTES: &str = "my own words, no line end";
const CART: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/rules/machines/orchard-cart/wiring.yaml");
/// A machine small enough to be quick.
const LAMP: &str = "\
machine: Bench
bench: {meter: [volts, ohms, beep], leads: 2 m}
places: {nose: 3 min}
parts:
  battery: lead-acid battery, 12 V, 14 Ah, nose
  main-fuse: fuse, 20 A, nose
  switch: toggle switch, nose
  lamp: lamp, 21 W, nose
wires:
  - battery.pos to main-fuse.in, red, 4 mm2, 0.3 m
  - battery.neg to G1, black, 4 mm2, 0.3 m
  - main-fuse.out to switch.a, red, 1.5 mm2, 2 m
  - switch.b to lamp.feed, brown, 1.5 mm2, 2 m
  - lamp.ground to G1, black, 1.5 mm2, 0.5 m
chassis: frame
grounds: {G1: {place: nose, on: frame}}
";

/// A command with all that is said to it.
struct Job {
    args: Vec<&'static str>,
    /// How it is gone on with, if not by the same words; and how it is begun anew where not even those were kept.
    again: Option<[Vec<&'static str>; 2]>,
    lines: Vec<String>,
    wiring: Option<String>,
}

impl Job {
    fn new(args: &[&'static str], wiring: Option<&str>, lines: &[&str]) -> Job {
        let lines = lines.iter().map(|line| (*line).to_string()).collect();
        Job { args: args.to_vec(), again: None, lines, wiring: wiring.map(String::from) }
    }

    fn folder(&self) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        if let Some(wiring) = &self.wiring {
            fs::write(folder.path().join("wiring.yaml"), wiring).unwrap();
        }
        fs::write(folder.path().join("build-notes.md"), NOTES).unwrap();
        folder
    }

    /// Runs it; `kill`: at the so manieth call of this kind. Did it come to its end?
    fn run(&self, args: &[&str], folder: &Path, lines: &[String], kill: Option<(&str, usize)>) -> bool {
        let exe = assert_cmd::cargo::cargo_bin!("ohmward");
        let mut command = match kill {
            None => Command::new(exe),
            Some((call, at)) => {
                let mut strace = Command::new("strace");
                // A call that this system does not have is passed over.
                strace.args(["-qqq", "-o", "/dev/null", "-e", &format!("trace=?{call}")]);
                strace.args(["-e", &format!("inject=?{call}:signal=KILL:when={at}"), "--"]).arg(exe);
                strace
            }
        };
        command.args(args).current_dir(folder).env("TZ", "UTC");
        command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::null());
        let mut child = command.spawn().expect("strace is needed for this test");
        // One that was killed no longer reads.
        let _ = child.stdin.take().unwrap().write_all(lines.join("").as_bytes());
        child.wait().unwrap().code().is_some_and(|code| code < 2)
    }
}

/// A file without its dates and times.
fn undated(path: &Path) -> Option<String> {
    let text = String::from_utf8(fs::read(path).ok()?).expect("half a letter");
    let digits = |c: &str| c.bytes().all(|b| b.is_ascii_digit());
    let dated = |word: &str| {
        word.len() >= 10 && word.is_char_boundary(10) && {
            let day: Vec<&str> = word[..10].split('-').collect();
            matches!(day[..], [y, m, d] if y.len() == 4 && digits(y) && digits(m) && digits(d))
        }
    };
    Some(text.split_inclusive([' ', '\n', ',', ')']).map(|word| if dated(word) { "DATE\n" } else { word }).collect())
}

/// Answers kept in the trails.
fn kept(folder: &Path) -> usize {
    let trails = fs::read_dir(folder.join("trails")).into_iter().flatten().flatten();
    let mut answers = 0;
    for entry in trails.filter(|entry| entry.file_name().to_str().is_some_and(|name| name.ends_with(".jsonl"))) {
        let text = String::from_utf8(fs::read(entry.path()).unwrap()).unwrap();
        let whole = text.split_inclusive('\n').filter(|line| line.ends_with('\n'));
        answers += whole.skip(1).filter(|line| !line.contains("\"end\"") && !line.contains("\"stop\"")).count();
    }
    answers
}

/// Kills the job at every call and goes on.
fn killed_everywhere(job: &Job) {
    let files = |folder: &Path| ["wiring.yaml", "build-notes.md"].map(|name| undated(&folder.join(name)));
    // How far the trail is after each line, and what stands in the files by then.
    let mut after = Vec::new();
    let [mut versions, mut notes]: [BTreeSet<Option<String>>; 2] = Default::default();
    let mut end = Default::default();
    for said in 0..=job.lines.len() {
        let folder = job.folder();
        versions.insert(undated(&folder.path().join("wiring.yaml")));
        job.run(&job.args, folder.path(), &job.lines[..said], None);
        after.push(kept(folder.path()));
        end = files(folder.path());
        versions.insert(end[0].clone());
        notes.insert(end[1].clone());
    }
    assert!(notes.len() > 1 || versions.len() > 1, "nothing is written at all");
    each_call(|kill| {
        let folder = job.folder();
        let whole = job.run(&job.args, folder.path(), &job.lines, Some(kill));
        let now = files(folder.path());
        assert!(versions.contains(&now[0]), "killed at {kill:?}: {:?}", now[0]);
        assert!(now[1].as_deref() == Some(NOTES) || notes.contains(&now[1]), "killed at {kill:?}: {:?}", now[1]);
        if whole {
            assert_eq!(now, end);
            return true;
        }
        let answers = kept(folder.path());
        if now != end {
            let line = after.iter().rposition(|&so_many| so_many <= answers);
            let args = match (&job.again, line) {
                (Some([_, anew]), None) => anew,
                (Some([again, _]), Some(_)) => again,
                (None, _) => &job.args,
            };
            job.run(args, folder.path(), &job.lines[line.unwrap_or(0)..], None);
        }
        assert_eq!(files(folder.path()), end, "killed at {kill:?}, {answers} answers were kept, {after:?}");
        false
    });
}

/// Kills at every call of every kind; `killed` tells whether it came to its end before.
fn each_call(mut killed: impl FnMut((&str, usize)) -> bool) {
    let mut calls = 0;
    for call in CALLS {
        calls += (1..).take_while(|&at| !killed((call, at))).count();
    }
    assert!(calls > 8, "{calls} calls: is anything written?");
}

/// So many times the same.
fn times(line: &str, so_many: usize) -> impl Iterator<Item = &str> {
    std::iter::repeat_n(line, so_many)
}

const SKIP: &str = "{\"skip\":true}\n";
const STOP: &str = "{\"stop\":true}\n";

#[test]
fn a_chase() {
    let lines = ["{\"reading\":{\"value\":0,\"unit\":\"V\"}}\n", SKIP, "{\"note\":\"rain\"}\n", SKIP, STOP];
    killed_everywhere(&Job::new(&["chase", "--jsonl", "the lamp is dead"], Some(LAMP), &lines));
}

#[test]
fn a_chase_that_makes_its_wiring_file() {
    let lines: Vec<&str> = times("{\"choice\":\"don't know\"}\n", 4).chain([SKIP, SKIP, STOP]).collect();
    killed_everywhere(&Job::new(&["chase", "--jsonl", "the horn is dead"], None, &lines));
}

#[test]
fn power_brought_on() {
    let lines: Vec<&str> = ["{\"ok\":true}\n"].into_iter().chain(times(SKIP, 6)).collect();
    killed_everywhere(&Job::new(&["powerup", "--jsonl"], Some(LAMP), &lines));
}

#[test]
fn a_plug_rung_out_and_marked() {
    let cart = fs::read_to_string(CART).unwrap();
    let lines = ["y\n", "y\n", "all good\n", "y\n", "all good\n"];
    killed_everywhere(&Job::new(&["ringout", "P9", "--write"], Some(&cart), &lines));
}

#[test]
fn a_switch_learnt_and_written() {
    let lines = ["y\n", "y\n", "n\n", "y\n", "y\n"];
    let args = ["learn", "push", "--wires", "white, brown", "--positions", "off, on", "--write"];
    let mut job = Job::new(&args, Some(LAMP), &lines);
    let anew = [&args[..], &["--new"]].concat();
    job.again = Some([vec!["learn", "push", "--resume", "--write"], anew]);
    killed_everywhere(&job);
}

/// What is done at one stroke: old or new, and taken back to the old.
fn at_one_stroke(args: &[&'static str], wiring: &str, beside: &[(&str, &str)]) {
    let job = Job::new(args, Some(wiring), &[]);
    let make = || {
        let folder = job.folder();
        beside.iter().for_each(|(name, text)| fs::write(folder.path().join(name), text).unwrap());
        folder
    };
    let read = |folder: &Path| fs::read_to_string(folder.join("wiring.yaml")).unwrap();
    let folder = make();
    job.run(&job.args, folder.path(), &[], None);
    let new = read(folder.path());
    assert_ne!(new, wiring, "nothing is written");
    each_call(|kill| {
        let folder = make();
        let whole = job.run(&job.args, folder.path(), &[], Some(kill));
        let now = read(folder.path());
        assert!(now == wiring || now == new, "killed at {kill:?}: {now}");
        if now == wiring {
            assert!(!whole);
            job.run(&job.args, folder.path(), &[], None);
            assert_eq!(read(folder.path()), new, "killed at {kill:?}");
        }
        assert!(job.run(&["wire", "--undo"], folder.path(), &[], None));
        assert_eq!(read(folder.path()), wiring, "killed at {kill:?}, taken back");
        whole
    });
}

#[test]
fn rows_written_and_taken_back() {
    at_one_stroke(&["wire", "remove lamp-ground_G1", "lamp.ground to G1, black, 1.5 mm2, 1 m"], LAMP, &[]);
}

#[test]
fn a_sheet_read_in() {
    let sheet = "from,to,colour,size\nlamp.feed,horn.feed,brown,1.5 mm2\nhorn.ground,G1,black,1.5 mm2\n";
    at_one_stroke(&["import", "loom.csv"], LAMP, &[("loom.csv", sheet)]);
}

#[test]
fn wires_lengthened() {
    at_one_stroke(&["extend", "P9", "--by", "1.2m", "--write"], &fs::read_to_string(CART).unwrap(), &[]);
}
