//! `ohmward wire` as scripts and hurried people drive it: lines in, the file changed or left, steps taken back.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Output;

const WIRING: &str = "\
# mine
machine: Bench   # the one on the left
places: {dash: easy}
parts:
  horn: horn, 3.5 A, dash  # loud
  fuse: fuse, 10 A, dash
wires:
  - fuse.out to horn.feed, red, 1 m
grounds:
  G1: dash, [horn.ground]
";

fn ohmward(folder: &Path, args: &[&str], lines: &str) -> Output {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    command.current_dir(folder).env_remove("NO_COLOR").env("TZ", "UTC").args(args).write_stdin(lines);
    command.output().unwrap()
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), WIRING).unwrap();
    folder
}

fn wiring(folder: &Path) -> String {
    fs::read_to_string(folder.join("wiring.yaml")).unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn code(out: &Output) -> i32 {
    out.status.code().unwrap()
}

#[test]
fn lines_are_taken_together_or_not_at_all_and_steps_go_back() {
    let folder = folder();
    let here = folder.path();
    let rows = ["wire", "lamp: lamp, 5 W, dash", "lamp.feed to fuse.out, blue, ?", "G1: [lamp.ground]"];
    let out = ohmward(here, &rows, "");
    assert_eq!(code(&out), 0, "{}", text(&out.stderr));
    let now = wiring(here);
    let expected = WIRING
        .replace("  fuse: fuse, 10 A, dash\n", "  fuse: fuse, 10 A, dash\n  lamp: lamp, 5 W, dash\n")
        .replace("red, 1 m\n", "red, 1 m\n  - lamp.feed to fuse.out, blue, ?\n")
        .replace("[horn.ground]", "[horn.ground, lamp.ground]");
    assert_eq!(now, expected);

    let out = ohmward(here, &["wire", "fan: fan, 2 A, dash", "fan.feed to fuse.uot", "fan.ground to G2"], "");
    assert_eq!(code(&out), 2);
    let said = text(&out.stderr);
    assert!(said.contains("\"uot\"") && said.contains("nearest: out") && said.contains("G2"), "{said}");
    assert_eq!(wiring(here), now, "what was refused changed something");

    assert_eq!(code(&ohmward(here, &["wire", "remove", "horn"], "")), 0);
    assert!(!wiring(here).contains("horn"));
    assert_eq!(code(&ohmward(here, &["wire", "--undo"], "")), 0);
    assert_eq!(wiring(here), now);
    assert_eq!(code(&ohmward(here, &["wire", "undo"], "")), 0);
    assert_eq!(wiring(here), WIRING);
    let out = ohmward(here, &["wire", "--undo"], "");
    assert!(code(&out) == 1 && text(&out.stderr).contains("nothing to take back"));
}

#[test]
fn what_was_written_by_hand_meanwhile_is_never_lost() {
    let folder = folder();
    let here = folder.path();
    assert_eq!(code(&ohmward(here, &["wire", "change horn: 4 A"], "")), 0);
    let by_hand = format!("{}# my own line\n", wiring(here));
    fs::write(here.join("wiring.yaml"), &by_hand).unwrap();
    let out = ohmward(here, &["wire", "--undo"], "");
    assert!(code(&out) == 1 && text(&out.stderr).contains("changed by hand"), "{}", text(&out.stderr));
    assert_eq!(wiring(here), by_hand);
    // A row written upon it goes back to it.
    assert_eq!(code(&ohmward(here, &["wire", "change horn: 5 A"], "")), 0);
    assert_eq!(code(&ohmward(here, &["wire", "--undo"], "")), 0);
    assert_eq!(wiring(here), by_hand);
    let out = ohmward(here, &["wire", "--undo", "--anyway"], "");
    assert_eq!(code(&out), 0);
    assert_eq!(wiring(here), WIRING);
    let said = text(&out.stdout);
    let kept = said.lines().find_map(|line| line.strip_prefix("what was changed by hand is kept in ")).unwrap();
    assert_eq!(fs::read_to_string(here.join(kept)).unwrap(), by_hand);
}

#[test]
fn on_a_pipe_each_line_stands_for_itself() {
    let folder = folder();
    let here = folder.path();
    let lines = "horn.grnd to G1\nplug P1\na: dash\n1, red, same, fuse.in, none\n2, red, blak, none, none\nchange P1.1: ok\nshow P1\ncheck\nwibble\n";
    let out = ohmward(here, &["wire"], lines);
    assert_eq!(code(&out), 1, "some lines were refused");
    assert!(wiring(here).ends_with("plugs:\n  P1:\n    a: dash\n    ways:\n      - 1, red, same, fuse.in, none, ok\n"));
    assert!(text(&out.stderr).contains("nearest: black") && text(&out.stdout).contains("no problems"));
    let out = ohmward(here, &["wire", "--json"], "F1: fuse 5 A, dash\nwibble\n");
    let lines: Vec<Value> = text(&out.stdout).lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert_eq!(lines[0]["lines"][0]["come"], "  F1: fuse 5 A, dash", "{}", lines[0]);
    assert!(lines[1]["problems"][0]["help"].as_str().unwrap().contains("a wire:"), "{}", lines[1]);
    assert_eq!(code(&ohmward(here, &["wire"], "check\n")), 0);
}

#[test]
fn an_empty_folder_is_begun_and_a_broken_file_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let here = folder.path();
    let out = ohmward(here, &["wire", "dash: easy", "horn: horn, 4 A, dash"], "");
    assert!(code(&out) == 0 && text(&out.stdout).contains("is new"), "{}", text(&out.stdout));
    assert_eq!(wiring(here), "machine: My machine\n\nplaces:\n  dash: easy\n\nparts:\n  horn: horn, 4 A, dash\n");
    assert_eq!(code(&ohmward(here, &["wire", "--undo"], "")), 0);
    assert!(!here.join("wiring.yaml").exists());
    fs::write(here.join("wiring.yaml"), "parts: [\n").unwrap();
    let out = ohmward(here, &["wire", "dash: easy", "nose: easy"], "");
    assert!(code(&out) == 2 && text(&out.stderr).contains("line 1"), "{}", text(&out.stderr));
    assert_eq!(wiring(here), "parts: [\n");
}

#[test]
fn a_sheet_comes_in_goes_out_and_is_taken_back() {
    let folder = folder();
    let here = folder.path();
    // As a spreadsheet of old saves it: one byte a letter, semicolons, a decimal comma.
    let sheet = b"From;To;Colour;Size (mm\xb2);Length (m);Price\r\nfuse.out;Work lamp +;BLU/WHT;1,5;0,8;2\r\nWork lamp;Ground;blk;1,5;;2\r\n";
    fs::write(here.join("loom.csv"), sheet).unwrap();
    let out = ohmward(here, &["import", "loom.csv", "--dry-run"], "");
    let said = text(&out.stdout);
    assert_eq!(code(&out), 0, "{said}{}", text(&out.stderr));
    for word in [
        "semicolons",
        "\"Price\"",
        "passed over",
        "size in mm2, 2 cells",
        "row 2    new",
        "Nothing is written",
        "Work-lamp is a",
    ] {
        assert!(said.contains(word), "{word}\n{said}");
    }
    assert!(text(&out.stderr).contains("Latin-1") && wiring(here) == WIRING);
    let out = ohmward(here, &["import", "loom.csv", "--json"], "");
    let told: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!((told["rows"].as_array().unwrap().len(), &told["written"]), (3, &Value::from("wiring.yaml")));
    assert!(wiring(here).contains("  - fuse.out to Work-lamp.feed, blue/white, 1.5 mm2, 0.8 m\n"), "{}", wiring(here));
    assert!(wiring(here).starts_with("# mine\nmachine: Bench   # the one on the left\n"));
    let now = wiring(here);

    let csv = ohmward(here, &["export", "csv"], "");
    fs::write(here.join("out.csv"), &csv.stdout).unwrap();
    assert_eq!(code(&ohmward(here, &["import", "out.csv", "--into", "copy.yaml"], "")), 0);
    let check = |file: &str| -> Value {
        serde_json::from_slice(&ohmward(here, &["check", "--json", "--wiring", file], "").stdout).unwrap()
    };
    let names = |checked: &Value| -> Vec<String> {
        checked["points"].as_array().unwrap().iter().map(|point| point["point"].to_string()).collect()
    };
    assert_eq!(names(&check("copy.yaml")), names(&check("wiring.yaml")));

    fs::write(here.join("bad.csv"), "from,to,colour\nfuse.uot,horn.feed,blak\nfuse.out,,red\n").unwrap();
    let out = ohmward(here, &["import", "bad.csv"], "");
    let said = text(&out.stderr);
    assert!(code(&out) == 2 && wiring(here) == now, "{said}");
    for word in
        ["bad.csv, line 2: row 2, column \"from\"", "nearest: out", "nearest: black", "line 3: row 3, column \"to\""]
    {
        assert!(said.contains(word), "{word}\n{said}");
    }
    assert_eq!(code(&ohmward(here, &["import", "no.csv"], "")), 2);
    assert_eq!(code(&ohmward(here, &["wire", "--undo"], "")), 0);
    assert_eq!(wiring(here), WIRING);
}

#[test]
fn the_schema_is_json_and_knows_a_users_own_kinds() {
    let folder = folder();
    let here = folder.path();
    let out = ohmward(here, &["schema"], "");
    let schema: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!((code(&out), &schema["$schema"]), (0, &Value::from("https://json-schema.org/draft/2020-12/schema")));
    assert!(!schema.to_string().contains("mirror heater"));
    fs::create_dir_all(here.join("rules/kinds")).unwrap();
    let kind = "kind: mirror heater\nabout: warms a mirror\npins: {feed: [], ground: []}\nelements:\n  sheet: {type: resistor, from: feed, to: ground, ohms: 10 ohm, spread: 0.1}\nsource: invented\n";
    fs::write(here.join("rules/kinds/mirror-heater.yaml"), kind).unwrap();
    let out = ohmward(here, &["schema"], "");
    assert!(text(&out.stdout).contains("mirror heater"), "{}", text(&out.stderr));
}
