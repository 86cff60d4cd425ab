//! `ohmward draw` as it is typed.

use assert_cmd::Command;
use std::path::Path;

fn draw(folder: &Path, args: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("ohmward").unwrap().current_dir(folder).arg("draw").args(args).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap_or(-1), text(&output.stdout), text(&output.stderr))
}

fn cart() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let text = crate::machines::built("orchard-cart").wiring.text;
    std::fs::write(folder.path().join("wiring.yaml"), text).unwrap();
    folder
}

#[test]
fn the_drawing_goes_to_standard_output_or_into_a_file() {
    let folder = cart();
    let (code, out, err) = draw(folder.path(), &["horn"]);
    assert!(code == 0 && out.starts_with("<svg ") && out.ends_with("</svg>\n") && err.is_empty(), "{code} {err}");
    let (code, none, err) = draw(folder.path(), &["horn", "-o", "horn.svg"]);
    assert!(code == 0 && none.is_empty() && err.contains("horn.svg"), "{code} {err}");
    assert_eq!(std::fs::read_to_string(folder.path().join("horn.svg")).unwrap(), out);
}

#[test]
fn a_file_that_is_no_drawing_is_left_alone() {
    let folder = cart();
    let notes = folder.path().join("notes.txt");
    std::fs::write(&notes, "mine").unwrap();
    let (code, _, err) = draw(folder.path(), &["horn", "-o", "notes.txt"]);
    assert!(code == 2 && err.contains("--force"), "{code} {err}");
    assert_eq!(std::fs::read_to_string(&notes).unwrap(), "mine");
    assert_eq!(draw(folder.path(), &["horn", "-o", "notes.txt", "--force"]).0, 0);
    // A drawing is drawn over without a word.
    assert_eq!(draw(folder.path(), &["rev-gauge", "-o", "notes.txt"]).0, 0);
}

#[test]
fn all_that_is_wrong_is_named_at_once() {
    let (code, _, err) = draw(
        cart().path(),
        &["horm", "fann", "--set", "kee=on", "--open", "P99", "--fault", "G77:resistive(2)", "--rows", "P5=x"],
    );
    assert_eq!(code, 2);
    for word in ["horm", "fann", "nearest: horn", "nearest: fan", "kee", "P99", "G77", "P5=5,5"] {
        assert!(err.contains(word), "{word} is not named:\n{err}");
    }
}

#[test]
fn the_path_fits_a_terminal_and_its_volts_fall_from_feed_to_ground() {
    let folder = cart();
    let (code, out, _) = draw(folder.path(), &["horn", "--path"]);
    assert_eq!(code, 0);
    assert!(out.lines().all(|line| line.chars().count() <= 80), "{out}");
    for word in ["horn (sounds), from feed to ground", "battery.pos", "plug P9 way 4", "bolt G2", "battery.neg"] {
        assert!(out.contains(word), "{word}:\n{out}");
    }
    let (_, json, _) = draw(folder.path(), &["horn", "--path", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let pieces = json["paths"][0]["pieces"].as_array().unwrap();
    let volts: Vec<f64> = pieces.iter().map(|piece| piece["volts"].as_f64().unwrap()).collect();
    assert!(
        volts.windows(2).all(|two| two[0] >= two[1]) && volts[0] > 12.0 && volts[volts.len() - 1] == 0.0,
        "{volts:?}"
    );
    let lost: f64 = pieces.iter().map(|piece| piece["lost"].as_f64().unwrap()).sum();
    let start = json["paths"][0]["volts"].as_f64().unwrap();
    assert!((lost - start).abs() < 0.02, "what is lost on the way is all that the battery gives: {lost} of {start}");
}

#[test]
fn a_fault_shows_where_the_volts_go() {
    let (_, out, _) = draw(cart().path(), &["horn", "--path", "--fault", "G2:resistive(2)"]);
    let bolt = out.lines().find(|line| line.contains("bolt G2")).unwrap();
    let lost: f64 = bolt.trim_end().trim_end_matches('V').split_whitespace().last().unwrap().parse().unwrap();
    assert!(lost > 2.0, "{bolt}");
}

/// A plug shows nothing and may get hot: then what hangs on it is drawn.
#[test]
fn a_chase_about_a_plug_is_drawn_by_what_hangs_on_it() {
    let folder = cart();
    let mut chase = Command::cargo_bin("ohmward").unwrap();
    chase.current_dir(folder.path()).args(["chase", "--jsonl"]);
    let line = "{\"symptom\":{\"part\":\"P9\",\"showing\":\"hot\",\"set\":{\"key\":\"on\",\"turn\":\"left\"}}}\n";
    chase.write_stdin(line).output().unwrap();
    let (code, out, err) = draw(folder.path(), &["--trail"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("P9") && out.contains("horn"), "{out}");
}

#[test]
fn the_circuits_of_a_chase_have_its_suspects_and_readings() {
    let folder = cart();
    let mut chase = Command::cargo_bin("ohmward").unwrap();
    chase.current_dir(folder.path()).args(["chase", "--jsonl"]);
    let lines = "{\"symptom\":{\"part\":\"rev-gauge\",\"showing\":\"zero\",\"set\":{\"key\":\"on\",\"engine\":\"idling\",\"horn-push\":\"pressed\"}}}\n\
                 {\"measured\":{\"test\":{\"instrument\":\"volts-dc\",\"red\":\"G2\",\"black\":\"battery.neg\",\"set\":{\"key\":\"on\",\"engine\":\"idling\",\"horn-push\":\"pressed\"}},\"reading\":{\"value\":6.80,\"unit\":\"V\"}}}\n";
    chase.write_stdin(lines).output().unwrap();
    let (code, out, err) = draw(folder.path(), &["--trail"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("met 6.80 V to battery.neg") && out.contains("ground point G2"), "{out}");
    let (_, json, _) = draw(folder.path(), &["--trail", "1", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let suspects = json["suspects"].as_array().unwrap();
    assert!(suspects[0]["title"].as_str().unwrap().contains("G2") && suspects[0]["rank"] == 1, "{suspects:?}");
    let chances: Vec<f64> = suspects.iter().map(|suspect| suspect["p"].as_f64().unwrap()).collect();
    assert!(chances.windows(2).all(|two| two[0] >= two[1]) && chances[0] > 0.1, "{chances:?}");
    assert_eq!(draw(cart().path(), &["--trail"]).0, 2);
}

#[test]
fn plug_charts_name_each_way() {
    let folder = cart();
    let (code, out, _) = draw(folder.path(), &["--charts", "P9", "--rows", "P9=5,4"]);
    assert_eq!(code, 0);
    for word in [
        "wire side, latch up",
        "P9a, tiller",
        "P9b, under-seat",
        "4 black<",
        "then black/white",
        "to horn-push.a (assumed)",
    ] {
        assert!(out.contains(word), "{word}");
    }
    assert!(!out.contains("P10a") && !out.contains("does not say how many rows"));
    assert_eq!(draw(folder.path(), &["--charts", "P77"]).0, 2);
}
