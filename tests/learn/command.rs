//! The command: scripts, a person at a pipe, broken off and gone on with, put into the wiring file.

use super::switches::{Dice, Switch, usual};
use assert_cmd::Command;
use ohmward::session::learn::{Heard, Touch};
use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::Stdio;

fn ohmward(folder: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    command.args(args).current_dir(folder).env("TZ", "UTC");
    command
}

/// A script that answers for a switch whose wires are called w0, w1 …; the last event, and the exit code. After
/// `most` answers it hangs up.
fn script(folder: &Path, switch: &Switch, args: &[&str], most: usize) -> (Value, i32) {
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin!("ohmward"))
        .args(args)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take();
    let mut last = Value::Null;
    let mut answers = 0;
    for line in BufReader::new(child.stdout.take().unwrap()).lines() {
        last = serde_json::from_str(&line.unwrap()).unwrap();
        let answer = match last["event"].as_str().unwrap() {
            "question" => json!({"answer": match last["key"].as_str().unwrap() {
                "safe" => "yes",
                "tips" => "0.2",
                key => panic!("{key} is asked"),
            }}),
            "ask" => {
                let side = |key: &str| {
                    let names = last[key].as_array().unwrap().iter();
                    names.map(|name| name.as_str().unwrap()[1..].parse().unwrap()).collect::<Vec<usize>>()
                };
                let position = switch.positions.iter().position(|(name, _)| last["position"] == name.as_str()).unwrap();
                let touch = Touch { red: side("red"), black: side("black") };
                json!({"reading": match switch.hear(position, &touch) {
                    Heard::Beep if last["ohms"] == true => json!({"value": 0.3, "unit": "ohm"}),
                    Heard::Beep => json!({"value": "beeps"}),
                    Heard::Ohms(ohms) => json!({"value": ohms + 0.2, "unit": "ohm"}),
                    _ => json!({"value": "silent"}),
                }})
            }
            "table" => break,
            other => panic!("{other}: {last}"),
        };
        answers += 1;
        if answers > most {
            input = None;
            continue;
        }
        writeln!(input.as_mut().unwrap(), "{answer}").unwrap();
    }
    drop(input);
    (last, child.wait().unwrap().code().unwrap())
}

fn told(switch: &Switch) -> (String, String) {
    let wires: Vec<String> = (0..switch.wires).map(|wire| format!("w{wire}")).collect();
    let positions: Vec<&str> = switch.positions.iter().map(|(name, _)| name.as_str()).collect();
    (wires.join(", "), positions.join(", "))
}

fn assert_table(event: &Value, switch: &Switch) {
    for (at, (name, _)) in switch.positions.iter().enumerate() {
        let row = &event["positions"][at];
        assert_eq!(row["position"], name.as_str());
        let letters: Vec<&str> = row["letters"].as_array().unwrap().iter().map(|l| l.as_str().unwrap()).collect();
        let of = switch.group(at);
        for a in 0..switch.wires {
            for b in 0..a {
                assert_eq!(letters[a] == letters[b] && letters[a] != ".", of[a] == of[b], "{event} {switch:?}");
            }
        }
    }
}

#[test]
fn scripts_learn_switches_and_what_was_broken_off_goes_on() {
    let mut dice = Dice::new(3);
    for round in 0..6 {
        let switch = usual(&mut dice);
        let folder = tempfile::tempdir().unwrap();
        let (wires, positions) = told(&switch);
        let args = ["learn", "s", "--wires", &wires, "--positions", &positions, "--jsonl"];
        let (event, code) = script(folder.path(), &switch, &args, if round % 2 == 0 { 1 + round } else { 1000 });
        if round % 2 == 1 {
            assert_eq!((code, event["whole"].as_bool()), (0, Some(true)));
            assert_table(&event, &switch);
            continue;
        }
        assert_eq!(code, 1, "{event}");
        // Unasked nothing is begun over it.
        let refused = ohmward(folder.path(), &args).assert().code(2);
        assert!(String::from_utf8_lossy(&refused.get_output().stderr).contains("--resume"));
        // A crash left half a line.
        let journal = folder.path().join("trails/learn-s.jsonl");
        let mut text = fs::read_to_string(&journal).unwrap();
        text.push_str("{\"at\":\"x\",\"posit");
        fs::write(&journal, text).unwrap();
        let (event, code) = script(folder.path(), &switch, &["learn", "s", "--resume", "--jsonl"], 1000);
        assert_eq!(code, 0, "{event}");
        assert_table(&event, &switch);
        // Done: it may be begun anew, and the old one is kept.
        let (_, code) = script(folder.path(), &switch, &args, 1000);
        assert_eq!(code, 0);
        assert!(folder.path().join("trails/learn-s.old-1.jsonl").exists());
    }
}

#[test]
fn what_was_learnt_is_put_into_the_wiring_file_with_its_diode_and_its_lamp() {
    let folder = tempfile::tempdir().unwrap();
    ohmward(folder.path(), &["new", "orchard-cart"]).assert().success();
    let before = fs::read_to_string(folder.path().join("wiring.yaml")).unwrap();
    let switch = Switch {
        wires: 5,
        positions: vec![("off".into(), vec![]), ("on".into(), vec![vec![0, 1]]), ("start".into(), vec![vec![0, 1, 2]])],
        diodes: vec![(2, 3)],
        loads: vec![(0, 4, 24.0)],
    };
    let (wires, positions) = told(&switch);
    let args =
        ["learn", "spare-key", "--wires", &wires, "--positions", &positions, "--jsonl", "--write", "--clips", "0"];
    let (event, code) = script(folder.path(), &switch, &args, 1000);
    assert_eq!(code, 0, "{event}");
    assert_table(&event, &switch);
    let after = fs::read_to_string(folder.path().join("wiring.yaml")).unwrap();
    let lost: Vec<&str> = before.lines().filter(|line| !after.contains(line)).collect();
    assert!(lost.is_empty(), "{lost:?}");
    for row in [
        "  spare-key: key switch\n",
        "  spare-key-diode-1: diode\n",
        "  spare-key-load-1: resistor, 24.0 ohm\n",
        "spare-key.w2 to spare-key-diode-1.anode, 0.05 m, beep",
        "  spare-key:   # beep\n",
        "    start: [a, a, a, ., .]   # held\n",
    ] {
        assert!(after.contains(row), "{row}\n{after}");
    }
    ohmward(folder.path(), &["check"]).assert().success();
    let out = ohmward(folder.path(), &["check", "--json"]).output().unwrap();
    let check: Value = serde_json::from_slice(&out.stdout).unwrap();
    let key = &check["controls"]["spare-key"];
    assert!(key.to_string().contains("start"), "{}", check["controls"]);
}

#[test]
fn a_person_answers_with_few_letters() {
    let folder = tempfile::tempdir().unwrap();
    ohmward(folder.path(), &["new", "empty"]).assert().success();
    // off: nothing joined (three wires); on: white and red.
    let lines = "2, 2\nsideways\nface down\nwhite, red, -, red\noff, on\nnone\nno\nyes\nnothing\n0.3\n\
                 all silent\nperhaps\n12 V\nback\nall silent\nwhite red 0.4\nn\nn\nn\nn\nn\nn\nn\nn\nn\nn\ny\n";
    let out = ohmward(folder.path(), &["learn", "lamp-switch"]).write_stdin(lines).assert().success();
    let text = String::from_utf8_lossy(&out.get_output().stdout).into_owned();
    for said in [
        "where the wires go in",
        "MIRROR",
        "never on a live wire",
        "every wire would seem open",
        "STOP, take it off the machine",
        "wire side, latch up: - | red-2",
        "    on: [",
    ] {
        assert!(text.contains(said), "{said}\n{text}");
    }
    let json: Vec<Value> = fs::read_to_string(folder.path().join("trails/learn-lamp-switch.jsonl"))
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert!(json.iter().any(|line| line["back"] == true) && json.last().unwrap()["end"] == "done");
}

#[test]
fn what_cannot_be_used_is_named_as_a_whole() {
    let folder = tempfile::tempdir().unwrap();
    let args = ["learn", "s", "--wires", "red, , %", "--positions", "wires, on, on", "--plug", "x", "--json"];
    let out = ohmward(folder.path(), &args).assert().code(2);
    let told: Value = serde_json::from_slice(&out.get_output().stdout).unwrap();
    let text = told["problems"][0]["text"].as_str().unwrap();
    for part in ["--wires", "wire 2", "%", "--positions", "\"wires\"", "twice", "--plug"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(!folder.path().join("trails").exists(), "nothing is left behind");
    ohmward(folder.path(), &["learn", "s", "--resume"]).assert().code(2);
    ohmward(folder.path(), &["learn", "a.b"]).assert().code(2);
    ohmward(folder.path(), &["learn", "s", "--clips", "99999"]).assert().code(2);
    let broken = folder.path().join("trails/learn-s.jsonl");
    fs::create_dir_all(broken.parent().unwrap()).unwrap();
    for bytes in [&b"\xff\xfe\n"[..], b"{}\n", b"{\"ohmward-learn\":9}\n", b""] {
        fs::write(&broken, bytes).unwrap();
        ohmward(folder.path(), &["learn", "s", "--resume"]).assert().code(2);
    }
}
