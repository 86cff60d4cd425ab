//! What follows a finding: the stopgap, what has to be at hand, where else to look; and the sheet of tests on paper.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::Path;

fn ohmward(folder: &Path) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    command.current_dir(folder).env_remove("NO_COLOR").env("TZ", "UTC");
    command
}

/// What a drill on a built-in machine with this fault ends in.
fn report(machine: &str, fault: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let args = ["rehearse", "--machine", machine, "--fault", fault, "--auto", "--json", "--seed", "3"];
    let out = ohmward(folder.path()).args(args).output().unwrap();
    let told: Value = serde_json::from_slice(&out.stdout).unwrap_or_else(|e| panic!("{fault}: {e}: {out:?}"));
    assert!(told["verdict"]["report"].is_object(), "{fault}: {told}");
    told["verdict"]["report"].clone()
}

fn text<'a>(report: &'a Value, key: &str) -> &'a str {
    report[key].as_str().unwrap_or_else(|| panic!("no {key} in {report}"))
}

/// The number before a unit.
fn figure(text: &str, unit: &str) -> f64 {
    let before = text.split(&format!(" {unit}")).next().unwrap();
    before.rsplit(' ').next().unwrap().parse().unwrap_or_else(|_| panic!("no figure before {unit} in {text}"))
}

/// A bad ground is led round straight to battery minus, with no fuse; the lead carries what hangs on that ground.
#[test]
fn a_ground_is_led_round_to_battery_minus() {
    let report = report("orchard-cart", "G2:resistive(2)");
    let stopgap = text(&report, "stopgap");
    assert!(stopgap.contains("battery minus post") && !stopgap.contains("fuse in it"), "{stopgap}");
    assert!(text(&report, "parts").contains("toothed washer"), "{report}");
}

/// A feed is led round with a fuse that bears its load and is no bigger than the circuit's own.
#[test]
fn a_feed_is_led_round_with_a_fuse_no_bigger_than_its_own() {
    // The horn of the cart takes 3.5 A; its feed F3 is a fuse of 10 A.
    let report = report("orchard-cart", "P10a-8-new:open");
    let stopgap = text(&report, "stopgap");
    let fuse = figure(stopgap, "A fuse");
    assert!((3.5..=10.0).contains(&fuse), "{stopgap}");
    assert!(text(&report, "parts").contains("sleeve"), "{report}");
}

/// What touches metal goes on without its fuse, and what is dead then is named.
#[test]
fn what_touches_metal_is_left_without_its_fuse() {
    let report = report("orchard-cart", "P10a-8-new~frame:touching(0.05)");
    let stopgap = text(&report, "stopgap");
    assert!(stopgap.starts_with("F3 out") && stopgap.contains("horn"), "{stopgap}");
    // What a repair has cured is no "could be" any more.
    assert_eq!(text(&report, "sure"), "near certain", "{report}");
}

/// Nobody leads a lead round a starter's cable, or volts onto a signal.
#[test]
fn no_stopgap_for_a_starter_cable_or_a_signal() {
    for fault in ["battery-neg_G4:resistive(0.05)", "flasher:open"] {
        let report = report("orchard-cart", fault);
        assert!(report["stopgap"].is_null(), "{fault}: {report}");
    }
}

#[test]
fn a_sheet_holds_three_tests_with_their_outcomes_and_its_lines_are_taken_afterwards() {
    let folder = tempfile::tempdir().unwrap();
    ohmward(folder.path()).args(["new", "orchard-cart", "."]).assert().code(0);
    let complaint = "the rev needle jumps when I press the horn";
    let out = ohmward(folder.path()).args(["chase", complaint, "--paper"]).assert().code(0).get_output().clone();
    let sheet = String::from_utf8(out.stdout).unwrap();
    for piece in ["1. ", "2. ", "3. ", "met ", "______", "means", "near certain", "type"] {
        let optional = piece == "near certain";
        assert!(optional || sheet.contains(piece), "no {piece} in\n{sheet}");
    }
    // Asked again it is the same sheet: nothing was answered.
    let again = ohmward(folder.path()).args(["chase", "--paper", "--json"]).assert().code(0).get_output().clone();
    let json: Value = serde_json::from_slice(&again.stdout).unwrap();
    let tests = json["paper"].as_array().unwrap();
    assert_eq!(tests.len(), 3);
    assert!(tests.iter().all(|slip| slip["outcomes"].as_array().unwrap().len() >= 2), "{json}");
    let mut asked: Vec<String> = tests.iter().map(|slip| slip["test"].to_string()).collect();
    asked.dedup();
    assert_eq!(asked.len(), 3, "three different tests");
    // A line of the sheet with a number in it is taken.
    let line = sheet.lines().find(|line| line.trim_start().starts_with("type") && line.contains("read ____"));
    let line = line.unwrap_or_else(|| panic!("no reading to type in\n{sheet}"));
    let typed = line.trim_start().trim_start_matches("type").trim().replace("____", "0.03");
    let out = ohmward(folder.path()).arg("chase").write_stdin(format!("{typed}\nstop\n")).output().unwrap();
    let (page, said) = (String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap());
    assert!(!page.contains("not taken") && !said.contains("not taken"), "{typed}\n{page}\n{said}");
    let notes = fs::read_to_string(folder.path().join("build-notes.md")).unwrap();
    assert!(notes.contains("0.03 V"), "{notes}");
}
