//! Chases that begin in an empty folder, driven line by line as scripts and people do; a simulated machine answers,
//! whose wiring may be another than the one that was assumed.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::test::Test;
use ohmward::session::twin::Twin;
use ohmward::sketch::{Book, How, Plan};
use ohmward::text::span::Source;
use ohmward::wiring;
use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// How a chase went.
#[derive(Debug, Default)]
struct Went {
    /// Questions before the first test.
    before: Vec<String>,
    /// Questions after it.
    after: Vec<String>,
    /// Tests asked.
    asked: usize,
    /// From the start to the first test.
    first: Duration,
    verdict: Value,
}

/// Drives a chase in a folder; `answer` gives one line for each event that waits.
fn drive(folder: &Path, complaint: &[&str], mut answer: impl FnMut(&Value) -> Value) -> Went {
    let mut child = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"))
        .args(["chase", "--jsonl"])
        .args(complaint)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let started = Instant::now();
    let mut input = child.stdin.take().unwrap();
    let mut went = Went::default();
    for line in BufReader::new(child.stdout.take().unwrap()).lines() {
        let line = line.unwrap();
        let event: Value = serde_json::from_str(&line).unwrap_or_else(|e| panic!("{line}: {e}"));
        match event["event"].as_str().unwrap() {
            "question" => {
                let choices = event["choices"].as_array().unwrap();
                assert_eq!(choices.last().unwrap(), "don't know", "{line}");
                assert!((2..=9).contains(&choices.len()), "{line}");
                let into = if went.asked == 0 { &mut went.before } else { &mut went.after };
                into.push(event["text"].as_str().unwrap().to_string());
            }
            "ask" => {
                if went.asked == 0 {
                    went.first = started.elapsed();
                }
                went.asked += 1;
            }
            "try-repair" => {}
            "verdict" => {
                went.verdict = event;
                break;
            }
            "suspects" => continue,
            other => panic!("{other}: {line}"),
        }
        writeln!(input, "{}", answer(&event)).unwrap();
    }
    assert!(child.wait().unwrap().code().is_some_and(|code| code < 2));
    went
}

/// The simulated machine's answer; questions are answered by `choose`, or not at all.
fn by_twin<'t>(
    twin: &'t mut Twin,
    mut choose: impl FnMut(&str) -> Option<&'t str> + 't,
) -> impl FnMut(&Value) -> Value + 't {
    move |event| match event["event"].as_str().unwrap() {
        "question" => {
            let text = event["text"].as_str().unwrap();
            let choices = event["choices"].as_array().unwrap();
            let wanted = choose(text).unwrap_or("don't know");
            let chosen = choices.iter().find(|c| c.as_str().unwrap().contains(wanted));
            json!({"choice": chosen.unwrap_or_else(|| panic!("{wanted} in {event}"))})
        }
        "ask" => {
            let test = Test::from_json(&event["test"]).unwrap();
            match twin.read(&test) {
                Ok(readings) => {
                    let list: Vec<Value> = readings.iter().map(|r| r.to_json(test.instrument)).collect();
                    json!({"reading": if list.len() == 1 { list[0].clone() } else { Value::Array(list) }})
                }
                Err(_) => json!({"skip": true}),
            }
        }
        _ => {
            let faults: Vec<String> =
                event["faults"].as_array().unwrap().iter().map(|f| f.as_str().unwrap().to_string()).collect();
            json!({"cured": twin.cured_by(&faults), "blown": []})
        }
    }
}

/// A machine of these circuits and answers with a fault in it.
fn machine(circuits: &[&str], answers: &[(&str, &str)], fault: &str) -> Twin {
    let mut plan = Plan { circuits: circuits.iter().map(|c| c.to_string()).collect(), ..Plan::default() };
    for (key, choice) in answers {
        plan = plan.with(key, choice, How::Said);
    }
    let source = Source::new("wiring.yaml", plan.text(&Book::builtin()));
    let catalogue = Catalogue::builtin();
    let netlist = wiring::read(&source, &catalogue).unwrap().netlist;
    Twin::new(&netlist, &catalogue, &Fault::parse(fault).unwrap(), 7).unwrap()
}

/// Complaints as they are typed, carelessly too; each with a circuit that has to be in the wiring file.
const COMPLAINTS: [(&str, &str); 14] = [
    ("the tach moves when I press the horn", "horn-push: "),
    ("tacho neddle jmups wen i hoot!!", "horn-push: "),
    ("my garden tractor eats fuses", "blade-clutch: "),
    ("ride on mower keeps blowin the fuse, no idea why", "blade-clutch: "),
    ("the temp gauge rises with the lights", "light-switch: "),
    ("when i turn the headlites on the fuel guage goes up. worked fine until i painted the dash", "light-switch: "),
    ("bilge pump is dead", "bilge-pump: "),
    ("bilgepump dosnt run", "bilge-pump: "),
    ("the starter only clicks", "starter: "),
    ("turn the key and it just clicks, wont crank", "starter: "),
    ("trailer lights all flash together", "trailer-left: "),
    ("trailor lamps flash al together when i indicate", "trailer-left: "),
    ("horn", "horn: "),
    ("gremlins, everything haunted", "battery: "),
];

#[test]
fn dont_know_to_everything_reaches_a_first_test_and_a_verdict_from_any_complaint() {
    for (complaint, row) in COMPLAINTS {
        let folder = tempfile::tempdir().unwrap();
        let mut skipped = 0;
        let went = drive(folder.path(), &[complaint], |event| match event["event"].as_str().unwrap() {
            "question" => json!({"choice": "don't know"}),
            "ask" if skipped < 3 => {
                skipped += 1;
                json!({"skip": true})
            }
            _ => json!({"stop": true}),
        });
        assert!(went.asked > 0, "{complaint}: {went:?}");
        assert!(went.before.len() <= 6, "{complaint}: {:?}", went.before);
        assert!(went.first < Duration::from_secs(60), "{complaint}: {:?}", went.first);
        assert_eq!(went.verdict["event"], "verdict", "{complaint}");
        let text = fs::read_to_string(folder.path().join("wiring.yaml")).unwrap();
        assert!(text.contains(row) && text.contains(complaint), "{complaint}:\n{text}");
    }
}

/// What was assumed is right: the chase ends with the repair, and the file says what is proved.
#[test]
fn an_assumption_that_holds_is_proved_by_the_readings() {
    for (complaint, circuits, answers, fault, class, proved) in [
        (
            "the tach moves when I press the horn",
            &["rev-gauge", "horn"][..],
            &[][..],
            "G2:resistive(2)",
            "remake:G2",
            "ground=shared!",
        ),
        (
            "trailer lights all flash together",
            &["trailer"],
            &[],
            "tow-socket:open",
            "clean:tow-socket",
            "trailer.white=wire!",
        ),
        (
            "temp gauge rises with the lights",
            &["coolant-gauge", "lights"],
            &[],
            "G2:resistive(2)",
            "remake:G2",
            "ground=shared!",
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let mut twin = machine(circuits, answers, fault);
        let went = drive(folder.path(), &[complaint], by_twin(&mut twin, |_| None));
        assert_eq!(
            (&went.verdict["class"], &went.verdict["cured"]),
            (&json!(class), &json!(true)),
            "{complaint}: {went:?}"
        );
        let text = fs::read_to_string(folder.path().join("wiring.yaml")).unwrap();
        assert!(text.contains(proved) && text.contains(", paper\n"), "{complaint}:\n{text}");
    }
}

/// The machine is wired otherwise than was assumed. The readings say so, the question is put again, the file is put
/// right, and the chase goes on with its readings; whoever cannot answer that either gets what fits better.
#[test]
fn readings_from_another_wiring_correct_the_assumption_and_the_chase_ends_well() {
    for (complaint, circuits, answer, fault, class, say) in [
        (
            "the tach moves when I press the horn",
            &["rev-gauge", "horn"][..],
            ("horn.button", "ground"),
            "G2:resistive(2)",
            "remake:G2",
            "ground side",
        ),
        ("the horn is dead", &["horn"], ("horn.button", "ground"), "horn:open", "replace:horn", "ground side"),
        (
            "the horn is dead",
            &["horn"],
            ("horn.relay", "relay"),
            "horn-relay:open",
            "replace:horn-relay",
            "yes, a relay",
        ),
        (
            "the bilge pump is dead",
            &["bilge-pump"],
            ("bilge-pump.float-side", "ground"),
            "bilge-float:stuck-open",
            "replace:bilge-float",
            "ground side",
        ),
        (
            "the starter only clicks",
            &["starter"],
            ("starter.solenoid", "apart"),
            "start-relay:stuck-open",
            "replace:start-relay",
            "apart from it",
        ),
        (
            "the horn is dead",
            &["horn"],
            ("horn.feed", "always"),
            "horn:open",
            "replace:horn",
            "with the key off too, through",
        ),
    ] {
        for told in [true, false] {
            let folder = tempfile::tempdir().unwrap();
            let mut twin = machine(circuits, &[answer], fault);
            let truth = |text: &str| (told && text.contains("speaks against") && text.contains(say)).then_some(say);
            let went = drive(folder.path(), &[complaint], by_twin(&mut twin, truth));
            let (key, choice) = answer;
            let text = fs::read_to_string(folder.path().join("wiring.yaml")).unwrap();
            let plan = text.lines().nth(1).unwrap();
            if told {
                assert_eq!(
                    (&went.verdict["class"], &went.verdict["cured"]),
                    (&json!(class), &json!(true)),
                    "{complaint}: {went:?}"
                );
                assert!(
                    plan.contains(&format!("{key}={choice};")) || plan.ends_with(&format!("{key}={choice}")),
                    "{plan}"
                );
            }
            assert!(went.asked < 25, "{complaint}: {went:?}");
        }
    }
}

#[test]
fn words_of_ones_own_are_understood_with_a_wiring_file_and_without() {
    let words = "showings:\n  rattles: {say: [clanks], means: [[weak, silent]], state: working, source: own}\n";
    let chase = |folder: &Path, complaint: &str| {
        let out = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"))
            .args(["chase", "--jsonl", complaint])
            .current_dir(folder)
            .stdin(Stdio::null())
            .output()
            .unwrap();
        (String::from_utf8(out.stdout).unwrap(), String::from_utf8(out.stderr).unwrap(), out.status.code())
    };
    let folder = || {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir(folder.path().join("rules")).unwrap();
        folder
    };
    let cart = concat!(env!("CARGO_MANIFEST_DIR"), "/rules/machines/orchard-cart/wiring.yaml");
    for with_file in [true, false] {
        let (own, plain) = (folder(), folder());
        for (folder, words) in [(&own, Some(words)), (&plain, None)] {
            if with_file {
                fs::copy(cart, folder.path().join("wiring.yaml")).unwrap();
            }
            if let Some(words) = words {
                fs::write(folder.path().join("rules/symptoms.yaml"), words).unwrap();
            }
        }
        let [own, plain] = [own, plain].map(|folder| chase(folder.path(), "the horn clanks").0);
        assert_ne!(own, plain, "with a wiring file: {with_file}");
        if with_file {
            let first = own.lines().next().unwrap_or("");
            assert!(first.contains("\"suspects\""), "{own}");
        }
    }
    let broken = folder();
    fs::copy(cart, broken.path().join("wiring.yaml")).unwrap();
    fs::write(broken.path().join("rules/symptoms.yaml"), "showings:\n  rattles: {sya: [clanks]}\n").unwrap();
    let (_, told, code) = chase(broken.path(), "the horn clanks");
    assert!(code == Some(2) && told.contains("symptoms.yaml, line 2") && told.contains("sya"), "{told}");
}
