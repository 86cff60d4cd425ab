//! `ohmward extend` as a newcomer and as a script drive it.

use assert_cmd::Command;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Output;

fn ohmward(folder: &Path, args: &[&str], lines: &str) -> Output {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    command.current_dir(folder).env_remove("NO_COLOR").env("TZ", "UTC").args(args).write_stdin(lines);
    command.output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

fn code(out: &Output) -> i32 {
    out.status.code().unwrap()
}

const PINS: &str = "Pin;Colour;Circuit;Current (A);Fuse\n1;BLK/WHT;horn;3,5;10\n2;Red;feed;;15 A\n3;green;lamp;0,5;\n";

#[test]
fn a_plain_pin_list_is_enough() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("pins.csv"), PINS).unwrap();
    let args =
        ["extend", "--by", "1.2m", "--pins", "pins.csv", "--spool", "red 2.5 mm2 5 m", "--spool", "black 1 mm2 5 m"];
    let out = ohmward(folder.path(), &args, "");
    let page = text(&out.stdout);
    assert_eq!(code(&out), 0, "{page}{}", text(&out.stderr));
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
    for says in
        ["Battery minus off", "1.32 m  3 off", "amps of plug.2 not known: sized for 80 % of the fuse", "black/white"]
    {
        assert!(page.contains(says), "{says}\n{page}");
    }
    let out = ohmward(folder.path(), &[&args[..], &["--json"]].concat(), "");
    let plan: Value = serde_json::from_slice(&out.stdout).unwrap();
    let wires = plan["wires"].as_array().unwrap();
    assert_eq!(wires.len(), 3);
    for wire in wires {
        let (size, length, amps) = (&wire["size"], &wire["length"], &wire["amps"]);
        let [size, length, amps] = [size, length, amps].map(|value| value.as_f64().unwrap());
        // Copper with its lay, and a crimp sleeve's two joints (rules/wire.yaml, rules/joints.yaml).
        let copper = 0.0172414 * 1.05 * length / size;
        let ohms = wire["ohms"].as_f64().unwrap();
        assert!(ohms > copper && ohms < copper + 0.01, "{wire}");
        assert!((wire["volts"].as_f64().unwrap() - amps * ohms).abs() < 1e-5, "{wire}");
    }
    assert_eq!(wires[0]["new"], "black");
    assert_eq!(plan["order"][0]["text"], "Battery minus off. Rings and watch off. Key out.");
}

#[test]
fn pins_can_be_typed_in_an_empty_folder() {
    let folder = tempfile::tempdir().unwrap();
    let rows = "1, orange, turn left, 21 W\n2, orange, turn right, 21 W\n";
    let out = ohmward(folder.path(), &["extend", "--by", "4 ft", "--csv"], rows);
    assert_eq!(code(&out), 0, "{}", text(&out.stderr));
    let sheet = text(&out.stdout);
    assert_eq!(sheet.lines().count(), 3, "{sheet}");
    assert!(sheet.lines().nth(1).unwrap().starts_with("plug,1,turn left,orange,orange,yes,"), "{sheet}");
    let typed = ["extend", "--by", "1m", "--pin", "4, black/white, horn, 3.5 A"];
    assert_eq!(code(&ohmward(folder.path(), &typed, "")), 0);
    let out = ohmward(folder.path(), &["extend", "--by", "1m"], "");
    assert!(code(&out) == 2 && text(&out.stderr).contains("no pins were named"), "{}", text(&out.stderr));
}

#[test]
fn what_cannot_be_is_refused_as_a_whole_with_every_problem() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("pins.csv"), "pin,colour,amps\n1,red,3 V\n2,bluw,2\n").unwrap();
    let here = folder.path();
    let refused = |args: &[&str], says: &[&str]| {
        let out = ohmward(here, &[&["extend"], args].concat(), "");
        let err = text(&out.stderr);
        assert_eq!(code(&out), 2, "{args:?}: {err}");
        assert!(out.stdout.is_empty(), "{args:?}");
        for says in says {
            assert!(err.contains(says), "{args:?}: no \"{says}\" in {err}");
        }
    };
    refused(&["--by", "0m", "--pins", "pins.csv", "--spool", "red"], &["needs no wire", "no size and no length"]);
    refused(&["--by", "1km", "--pins", "pins.csv"], &["km"]);
    refused(&["--by", "1000m", "--pins", "pins.csv"], &["at most 60 m"]);
    refused(&["--by", "1,2 m", "--pins", "pins.csv"], &["1.2 m"]);
    refused(&["--by", "1.2", "--pins", "pins.csv"], &["no unit"]);
    refused(&["--by", "1m", "--pins", "pins.csv"], &["row 2", "row 3", "bluw"]);
    refused(&["--pins", "nothing.csv", "--by", "1m"], &["nothing.csv"]);
    refused(&["P9", "--by", "1m"], &["there is no wiring.yaml", "--pins"]);
    refused(&["--pin", "1, red"], &["how far"]);
    refused(&["--by", "1m", "--pin", "1, red", "--amps", "7=2", "--size", "big"], &["--size"]);
    refused(&["--by", "1m", "--pin", "1, red", "--amps", "7=2"], &["called \"7\""]);
    fs::write(here.join("stock.yaml"), "spools:\n  - red, 1 mm2\n  - blu, 5 m\n").unwrap();
    refused(&["--by", "1m", "--pin", "1, red"], &["stock.yaml, line 2", "stock.yaml, line 3"]);
}

#[test]
fn rows_are_written_and_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    assert_eq!(code(&ohmward(folder.path(), &["new", "orchard-cart", "cart"], "")), 0);
    let here = folder.path().join("cart");
    let before = fs::read_to_string(here.join("wiring.yaml")).unwrap();
    let out = ohmward(&here, &["extend", "P9", "--by", "1.2m"], "");
    assert_eq!(code(&out), 0, "{}", text(&out.stderr));
    assert_eq!(fs::read_to_string(here.join("wiring.yaml")).unwrap(), before);
    fs::write(here.join("stock.yaml"), "spools:\n  - red, 1.5 mm2, 40 m\n").unwrap();
    let out = ohmward(&here, &["extend", "P9", "--by", "1.2m", "--write", "--json"], "");
    assert_eq!(code(&out), 0, "{}", text(&out.stderr));
    let plan: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(plan["written"], "wiring.yaml");
    let after = fs::read_to_string(here.join("wiring.yaml")).unwrap();
    assert!(after.contains("    a: tiller, 2.92 m, "), "{after}");
    assert!(after.contains("- 2, grey, white, turn.left, S6, ?, a red\n"), "{after}");
    assert_eq!(code(&ohmward(&here, &["check"], "")), 0);
    assert_eq!(code(&ohmward(&here, &["wire", "--undo"], "")), 0);
    assert_eq!(fs::read_to_string(here.join("wiring.yaml")).unwrap(), before);
    // A sheet that goes out and comes in again says the same of each way.
    assert_eq!(code(&ohmward(&here, &["extend", "P9", "--by", "1.2m", "--write"], "")), 0);
    let sheet = ohmward(&here, &["export", "csv"], "").stdout;
    fs::write(here.join("all.csv"), &sheet).unwrap();
    let out = ohmward(&here, &["import", "all.csv", "--into", "again.yaml"], "");
    assert_eq!(code(&out), 0, "{}", text(&out.stderr));
    let points = |file: &str| {
        let out = ohmward(&here, &["check", "--json", "--wiring", file], "");
        let told: Value = serde_json::from_slice(&out.stdout).unwrap();
        (told["findings"].as_array().unwrap().len(), told["points"].as_array().unwrap().len())
    };
    assert_eq!(points("wiring.yaml"), points("again.yaml"));
}

#[test]
fn what_is_not_met_is_exit_code_1() {
    let folder = tempfile::tempdir().unwrap();
    let out = ohmward(
        folder.path(),
        &["extend", "--by", "1m", "--pin", "1, yellow, airbag", "--pin", "2, red, horn, 3 A"],
        "",
    );
    assert!(code(&out) == 1 && text(&out.stdout).contains("LEFT OUT: plug.1"), "{}", text(&out.stdout));
    let out =
        ohmward(folder.path(), &["extend", "--by", "3m", "--pin", "1, yellow, fan, 20 A", "--size", "0.5mm2"], "");
    assert!(code(&out) == 1 && text(&out.stdout).contains("TOO THIN"), "{}", text(&out.stdout));
}
