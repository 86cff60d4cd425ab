//! At a real terminal: narrow and wide ones, and ways of leaving a prompt.

use rexpect::session::{PtySession, spawn_command};
use std::fs;
use std::path::Path;
use std::process::Command;

const PROGRAM: &str = env!("CARGO_BIN_EXE_ohmward");
const WAIT: Option<u64> = Some(60_000);

/// A terminal so many columns wide.
fn terminal(folder: &Path, columns: usize, args: &[&str]) -> PtySession {
    let mut shell = Command::new("sh");
    shell.arg("-c").arg(format!("stty cols {columns} rows 24; exec \"$OHMWARD\" \"$@\"")).arg("sh").args(args);
    shell.env("OHMWARD", PROGRAM).env("TERM", "xterm").env("NO_COLOR", "1").env("TZ", "UTC").current_dir(folder);
    spawn_command(shell, WAIT).unwrap()
}

fn shed() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let made = Command::new(PROGRAM).args(["new", "orchard-cart", "."]).current_dir(folder.path()).output().unwrap();
    assert!(made.status.success());
    folder
}

/// What stands on a terminal of this width in the end.
fn screen(folder: &Path, columns: usize, args: &[&str]) -> String {
    let said = terminal(folder, columns, args).exp_eof().unwrap().replace("\r\n", "\n");
    // A line that is written anew stands as it was written last.
    said.split('\n').map(|line| line.rsplit('\r').next().unwrap_or_default()).collect::<Vec<_>>().join("\n")
}

#[test]
fn no_width_breaks_a_word_or_drops_one() {
    let shed = shed();
    // A chase to look at, left open.
    let mut pty = terminal(shed.path(), 80, &["chase", "the horn is dead"]);
    pty.exp_regex("(reading|seen)s?> ").unwrap();
    pty.send_control('c').unwrap();
    pty.exp_eof().unwrap();
    fs::write(shed.path().join("pins.csv"), "way,colour,for,amps\n1,red,horn,3.5\n2,black,lamp,2\n").unwrap();
    let broken =
        fs::read_to_string(shed.path().join("wiring.yaml")).unwrap().replace("horn-push.b to S1", "horn-push.x to S1");
    fs::write(shed.path().join("broken.yaml"), broken).unwrap();
    for args in [
        &["check"][..],
        &["kinds"],
        &["kinds", "horn"],
        &["new"],
        &["trail"],
        &["trail", "show"],
        &["expect", "volts-dc", "horn.feed", "battery.neg", "--set", "key=on,horn-push=pressed"],
        &["draw", "horn", "--path"],
        &["extend", "--pins", "pins.csv", "--by", "1 m"],
        &["powerup", "--paper"],
        &["chase", "--paper"],
        &["faults", "--help"],
        &["--help"],
        &["learn", "--help"],
        &["kinds", "no-such-kind"],
        &["check", "--wiring", "broken.yaml"],
    ] {
        // What is on no terminal is not wrapped: the words as they are.
        let mut shell = Command::new("sh");
        shell.arg("-c").arg("exec \"$OHMWARD\" \"$@\" 2>&1").arg("sh").args(args).env("OHMWARD", PROGRAM);
        let out = shell.current_dir(shed.path()).env("NO_COLOR", "1").env("TZ", "UTC").output().unwrap();
        let whole = String::from_utf8(out.stdout).unwrap();
        let words: Vec<&str> = whole.split_whitespace().collect();
        assert!(words.len() > 5, "{args:?}");
        for columns in [20, 300] {
            let seen = screen(shed.path(), columns, args);
            let got: Vec<&str> = seen.split_whitespace().collect();
            if let Some(at) = (0..words.len().max(got.len())).find(|&at| words.get(at) != got.get(at)) {
                let near = |list: &[&str]| list[at.saturating_sub(3)..list.len().min(at + 3)].join(" ");
                panic!("{args:?} at {columns}: \"{}\" for \"{}\"\n{seen}", near(&got), near(&words));
            }
            let lines: Vec<&str> = seen.lines().collect();
            for (at, line) in lines.iter().enumerate() {
                let marked = line.contains('^') || lines.get(at + 1).is_some_and(|next| next.contains('^'));
                let lone = line.split_whitespace().count() <= 1;
                assert!(line.chars().count() <= columns || lone || marked, "{args:?} at {columns}: {line}\n{seen}");
            }
        }
    }
}

/// What is typed before leaving, each behind its prompt.
struct Visit {
    args: &'static [&'static str],
    typed: &'static [(&'static str, &'static str)],
    prompt: &'static str,
    /// Said on Ctrl-C, and on Ctrl-D.
    says: [&'static str; 2],
}

const VISITS: &[Visit] = &[
    Visit {
        args: &["chase", "the horn is dead"],
        typed: &[],
        prompt: "(reading|seen)s?> ",
        says: ["stays open", "build-notes.md"],
    },
    Visit {
        args: &["wire"],
        typed: &[("wire> ", "bell: horn, 1 A, dash")],
        prompt: "wire> ",
        says: ["ohmward wire", ""],
    },
    Visit {
        args: &["learn", "sw"],
        typed: &[("> ", ""), ("> ", "red, blue"), ("> ", "off, on")],
        prompt: "> ",
        says: ["ohmward learn sw --resume", "ohmward learn sw --resume"],
    },
    Visit { args: &["ringout", "P9"], typed: &[], prompt: "> ", says: ["ohmward ringout P9", "ohmward ringout P9"] },
    Visit { args: &["powerup"], typed: &[], prompt: "> ", says: ["ohmward powerup", "ohmward powerup"] },
    Visit {
        args: &["extend", "--by", "1 m"],
        typed: &[("pin> ", "4, black/white, horn, 3.5 A")],
        prompt: "pin> ",
        says: ["black/white", "black/white"],
    },
    Visit {
        args: &["rehearse", "--machine", "field-trailer"],
        typed: &[],
        prompt: "(reading|seen)s?> ",
        says: ["The end of the drill", "The end of the drill"],
    },
];

#[test]
fn every_prompt_is_left_by_ctrl_c_and_ctrl_d_with_what_was_said_kept_and_a_way_back() {
    for visit in VISITS {
        for (key, says) in ['c', 'd'].into_iter().zip(visit.says) {
            let shed = shed();
            if visit.args[0] == "extend" {
                // A list is typed where there is no wiring file.
                fs::remove_file(shed.path().join("wiring.yaml")).unwrap();
            }
            let mut pty = terminal(shed.path(), 80, visit.args);
            for (prompt, line) in visit.typed {
                pty.exp_string(prompt).unwrap();
                pty.send_line(line).unwrap();
            }
            pty.exp_regex(visit.prompt).unwrap();
            pty.send_control(key).unwrap();
            let rest = pty.exp_eof().unwrap();
            assert!(rest.contains(says), "{:?}, Ctrl-{key}: {rest}", visit.args);
            assert!(!rest.contains("panicked"), "{rest}");
            if visit.args[0] == "wire" {
                let text = fs::read_to_string(shed.path().join("wiring.yaml")).unwrap();
                assert!(text.contains("bell: horn, 1 A, dash"), "{text}");
            }
        }
    }
}

#[test]
fn a_prompt_works_where_nobody_says_what_terminal_it_is() {
    let shed = shed();
    for term in [None, Some("dumb"), Some("nonsense-9000")] {
        let mut command = Command::new(PROGRAM);
        command.args(["rehearse", "--machine", "field-trailer"]);
        command.current_dir(shed.path()).env_remove("TERM").env_remove("NO_COLOR");
        if let Some(term) = term {
            command.env("TERM", term);
        }
        let mut pty = spawn_command(command, WAIT).unwrap();
        pty.exp_regex("(reading|seen)s?> ").unwrap();
        pty.send_line("stop").unwrap();
        pty.exp_string("The end of the drill").unwrap();
        pty.exp_eof().unwrap();
    }
}

#[test]
fn nothing_of_a_calm_line_is_left_when_the_work_is_done() {
    let folder = tempfile::tempdir().unwrap();
    let mut parts = String::from(
        "machine: Wide\nplaces: {dash: easy}\nchassis: frame\nparts:\n  battery: lead-acid battery, 12 V, 14 Ah, dash\n",
    );
    let mut wires = String::from("wires:\n  - battery.neg to frame, black, 4 mm2, 0.3 m\n");
    for i in 0..24 {
        parts += &format!("  push{i}: push switch, dash\n  lamp{i}: lamp, 5 W, dash\n");
        wires += &format!(
            "  - battery.pos to push{i}.a, red, 1 m\n  - push{i}.b to lamp{i}.feed, red, 1 m\n  - lamp{i}.ground to frame, black, 1 m\n"
        );
    }
    fs::write(folder.path().join("wiring.yaml"), parts + &wires).unwrap();
    // Standard output goes elsewhere: what is seen is standard error alone.
    let mut shell = Command::new("sh");
    shell.arg("-c").arg("exec \"$OHMWARD\" faults --json >faults.json").env("OHMWARD", PROGRAM).env("TERM", "xterm");
    shell.current_dir(folder.path());
    let seen = spawn_command(shell, WAIT).unwrap().exp_eof().unwrap();
    let list: serde_json::Value =
        serde_json::from_slice(&fs::read(folder.path().join("faults.json")).unwrap()).unwrap();
    assert!(list.as_array().unwrap().len() > 50);
    if seen.contains(" of ") {
        // Each was written over the one before, the last by blanks.
        assert!(!seen.contains('\n'), "{seen:?}");
        let last = seen.rsplit('\r').nth(1).unwrap();
        assert!(last.trim().is_empty() && seen.ends_with('\r'), "{seen:?}");
    } else {
        assert_eq!(seen.trim(), "");
    }
}
