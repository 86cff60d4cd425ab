//! `powerup`: what is asked before full power, what stops it, what a chase is told; against hand arithmetic, against a
//! simulated machine with its tolerances, and against the table of dangers.

use assert_cmd::Command;
use ohmward::catalogue::Catalogue;
use ohmward::choice::allowed::refusal;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::meter::Observed;
use ohmward::circuit::test::{Instrument, Reading, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::session::powerup::{Ask, CHASE, GO_ON, NONE, PowerUp, Stage, Wait, YES};
use ohmward::session::twin::Twin;
use ohmward::session::{Chase, Event, Input};
use ohmward::text::span::Source;
use ohmward::wiring;
use serde_json::{Value, json};
use std::fs;

const MACHINES: [&str; 8] = [
    "creek-launch",
    "field-trailer",
    "lane-motorcycle",
    "meadow-tractor",
    "moor-roadster",
    "orchard-cart",
    "quarry-buggy",
    "verge-mower",
];

/// Wires that touch metal or each other.
const SHORTS: [(&str, &str); 3] = [
    ("orchard-cart", "P5a-5-new~frame:touching(0.05)"),
    ("orchard-cart", "P10a-7-new~frame:touching(0.05)"),
    ("orchard-cart", "P5a-1-new~frame:touching(0.05)"),
];

/// A lamp through a switch and a fuse, on wires of next to no ohms.
const LAMP: &str = "\
machine: Bench lamp
chassis: frame
places: {bench: easy}
parts:
  battery: lead-acid battery, 12 V, 60 Ah, bench
  F1: fuse, 10 A, bench
  light: toggle switch, bench
  lamp: lamp, 21 W, bench
wires:
  - battery.pos to F1.in, red, 6 mm2, 0.2 m
  - F1.out to light.a, red, 6 mm2, 0.2 m
  - light.b to lamp.feed, white, 6 mm2, 0.2 m
  - lamp.ground to frame, black, 6 mm2, 0.2 m
  - battery.neg to frame, black, 6 mm2, 0.2 m
";

fn machine(text: &str) -> Machine {
    let catalogue = Catalogue::builtin();
    let source = Source::new("wiring.yaml", text);
    let reading = wiring::read(&source, &catalogue)
        .unwrap_or_else(|list| panic!("{}", list.iter().map(|p| p.render(&source)).collect::<String>()));
    Machine::new(reading.netlist, catalogue)
}

fn built_in(name: &str) -> String {
    fs::read_to_string(format!("{}/rules/machines/{name}/wiring.yaml", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

/// Tests of the steps of a stage.
fn tests(power: &PowerUp, stage: Stage) -> Vec<Test> {
    let of = |ask: &Ask| match ask {
        Ask::Read(test) => Some((**test).clone()),
        _ => None,
    };
    power.plan.steps.iter().filter(|step| step.stage == stage).filter_map(|step| of(&step.ask)).collect()
}

fn volts(answer: &Observed) -> f64 {
    let Observed::Number { value, .. } = answer else { panic!("{answer:?}") };
    *value
}

/// Takes every step as a simulated machine answers, until something is not as it should be; what is said then.
fn taken(power: &mut PowerUp, twin: &mut Twin) -> Option<String> {
    loop {
        let at = match power.waiting() {
            Wait::Done => return None,
            Wait::Wrong { text, .. } => return Some(text.clone()),
            Wait::Step(at) => *at,
        };
        let input = match power.plan.steps[at].ask.clone() {
            Ask::Do => Input::Choice(YES.into()),
            Ask::Feel(_) => Input::Choice(NONE.into()),
            Ask::Read(test) => Input::Reading(twin.read(&test).unwrap()),
            Ask::Look { set, shows } => {
                let looks = |part: &str| Test { part: Some(part.into()), ..Test::new(Instrument::Watch, &set) };
                let other = shows.iter().find_map(|(part, words)| {
                    let seen = twin.read(&looks(part)).unwrap().swap_remove(0);
                    let Reading::Showing(seen) = seen else { panic!("{seen:?}") };
                    (!words.contains(&seen)).then_some(format!("{part} {seen}"))
                });
                other.map_or(Input::Choice(YES.into()), Input::Saw)
            }
        };
        power.take(input.clone()).unwrap_or_else(|why| panic!("{input:?}: {why}"));
    }
}

/// Chases what power brought on has left, with the same simulated machine; the faults of the final group.
fn ends(text: &str, power: &PowerUp, twin: &mut Twin) -> Vec<String> {
    let mut chase = Chase::new(machine(text));
    let mut said = Vec::new();
    for input in power.known() {
        said = chase.take(input.clone());
        assert!(!said.iter().any(|event| matches!(event, Event::Error { .. })), "{input:?}: {said:?}");
    }
    for _ in 0..30 {
        said = match said.pop() {
            Some(Event::Ask { test, .. }) => chase.take(twin.read(&test).map_or(Input::Skip, Input::Reading)),
            Some(Event::Question { .. }) => chase.take(Input::Choice("don't know".into())),
            Some(Event::TryRepair { faults, .. }) => {
                chase.take(Input::Cured { cured: twin.cured_by(&faults), blown: Vec::new() })
            }
            Some(Event::Verdict { verdict, .. }) => {
                return verdict.faults.into_iter().map(|(fault, _)| fault).collect();
            }
            other => panic!("{other:?}"),
        };
    }
    panic!("no verdict in thirty answers");
}

/// Two lamps of one sort in series share the battery's volts (Ohm's law); a cold filament has 1/15 to 1/6 of its ohms
/// when lit (a 21 W lamp: 12 V x 12 V / 21 W = 6.9 ohm; the fraction from `tests/reference/parts.csv`'s source).
#[test]
fn a_lamp_in_the_minus_lead_reads_what_arithmetic_says() {
    let mut power = PowerUp::new(machine(LAMP), Some(21.0));
    let find = |power: &PowerUp, head: &str| power.plan.steps.iter().position(|step| step.head == head).unwrap();
    let dead = find(&power, "across the feed of battery");
    let expected = power.expected(dead);
    assert_eq!(expected[0].what, Observed::Over);
    let cold = volts(&expected[1].what);
    let hot = 12.0 * 12.0 / 21.0;
    assert!((hot / 15.0..hot / 6.0 + 0.1).contains(&cold), "{cold} ohm");
    let lamp = find(&power, "F1 in");
    let expected = power.expected(lamp);
    assert!(volts(&expected[0].what).abs() < 0.005, "nothing is on");
    // The battery of 12.65 V is shared by halves, but for the copper.
    assert!((volts(&expected[1].what) - 12.65 / 2.0).abs() < 0.1, "{:?}", expected[1].what);
    let steps: Vec<Stage> = power.plan.steps.iter().map(|step| step.stage).collect();
    assert!(steps.is_sorted_by_key(|stage| *stage as u8), "{steps:?}");
}

/// A sound machine whose parts are drawn from their spreads is let through: the steps are held to three standard
/// deviations, and four hundred of them may be beside that once in a way.
#[test]
fn sound_machines_with_their_tolerances_go_through() {
    let (mut steps, mut wrong) = (0, Vec::new());
    for name in MACHINES {
        let text = built_in(name);
        for seed in 1..=3 {
            let mut power = PowerUp::new(machine(&text), Some(21.0));
            let sound = machine(&text);
            let mut twin = Twin::new(&sound.netlist, &sound.catalogue, &Fault::healthy(), seed).unwrap();
            while let Some(text) = taken(&mut power, &mut twin) {
                wrong.push(format!("{name}, seed {seed}: {text}"));
                power.take(Input::Choice(GO_ON.into())).unwrap();
            }
            steps += power.plan.steps.len();
        }
    }
    assert!(steps > 400, "{steps}");
    assert!(wrong.len() * 100 <= steps, "{} of {steps}: {wrong:#?}", wrong.len());
}

/// A short to metal stops it while the lamp is still in, and the chase that it hands over to has the wire among the
/// likeliest.
#[test]
fn a_short_stops_it_before_full_power_and_the_chase_knows_all_of_it() {
    for (name, fault) in SHORTS {
        let text = built_in(name);
        let sound = machine(&text);
        let planted = Fault::parse(fault).unwrap();
        let mut twin = Twin::new(&sound.netlist, &sound.catalogue, &planted, 5).unwrap();
        let mut power = PowerUp::new(machine(&text), Some(21.0));
        let said = taken(&mut power, &mut twin).unwrap_or_else(|| panic!("{fault} went through"));
        let step = power.step().unwrap().clone();
        assert!(matches!(step.stage, Stage::Dead | Stage::Lamp), "{fault}: {step:?} {said}");
        assert!(matches!(power.waiting(), Wait::Wrong { stop: true, .. }));
        power.take(Input::Choice(CHASE.into())).unwrap();
        let group = ends(&text, &power, &mut twin);
        let planted = Fault::parse(fault).unwrap().singles.swap_remove(0).mode;
        assert!(group.iter().any(|name| name.contains(&planted)), "{fault}: {group:?}");
    }
}

/// The band that stands beside a prediction holds nineteen drawn machines in twenty, for volts and for ohms.
#[test]
fn bands_hold_what_drawn_machines_read() {
    const DRAWN: u64 = 20;
    let mut held = std::collections::BTreeMap::<&str, [usize; 2]>::new();
    for name in MACHINES {
        let text = built_in(name);
        let mut power = PowerUp::new(machine(&text), Some(21.0));
        let sound = machine(&text);
        let mut twins: Vec<Twin> = (1..=DRAWN)
            .map(|seed| Twin::new(&sound.netlist, &sound.catalogue, &Fault::healthy(), seed).unwrap())
            .collect();
        for at in 0..power.plan.steps.len() {
            let Ask::Read(test) = power.plan.steps[at].ask.clone() else { continue };
            let expected = power.expected(at);
            for twin in &mut twins {
                for (met, expected) in twin.read(&test).unwrap().iter().zip(&expected) {
                    let (Reading::Value { value, .. }, Observed::Number { low, high, .. }) = (met, &expected.what)
                    else {
                        continue;
                    };
                    let half = 0.5 * met.step(test.instrument);
                    let [inside, all] = held.entry(test.instrument.name()).or_default();
                    *inside += usize::from(*value + half >= *low && *value - half <= *high);
                    *all += 1;
                }
            }
        }
    }
    for (instrument, [inside, all]) in held {
        let share = inside as f64 / all as f64;
        assert!(all > 150 && share > 0.93, "{instrument}: {inside} of {all}");
    }
}

/// An open ground is met at a look or a reading in full power, whichever comes first; the chase ends at its ground.
#[test]
fn what_does_not_work_is_handed_to_a_chase_that_finds_it() {
    let text = built_in("orchard-cart");
    let sound = machine(&text);
    let planted = Fault::parse("G3:resistive(20)").unwrap();
    let mut twin = Twin::new(&sound.netlist, &sound.catalogue, &planted, 7).unwrap();
    let mut power = PowerUp::new(machine(&text), Some(21.0));
    let said = taken(&mut power, &mut twin).expect("it is seen");
    power.take(Input::Choice(CHASE.into())).unwrap();
    let group = ends(&text, &power, &mut twin);
    assert!(group.iter().any(|name| name.starts_with("G3:")), "{group:?} after {said}");
}

/// Every step of every machine keeps the table of dangers: nothing that it forbids, ohms only with every battery off,
/// nothing cranks before its stage, and each stage has its caution and when to stop.
#[test]
fn no_step_of_any_machine_is_dangerous() {
    let mut seen = 0;
    for name in MACHINES {
        for lamp in [Some(21.0), None] {
            let power = PowerUp::new(machine(&built_in(name)), lamp);
            let netlist = &power.machine().netlist;
            for step in &power.plan.steps {
                let words = &power.machine().catalogue.powerup.stages[step.stage.word()];
                assert!(!words.caution.is_empty() && !words.stop.is_empty());
                let sets = match &step.ask {
                    Ask::Read(test) => {
                        seen += 1;
                        assert_eq!(refusal(netlist, test), None, "{name}: {test:?}");
                        if step.stage == Stage::Dead {
                            assert_eq!(test.instrument, Instrument::Ohms);
                        } else {
                            assert_eq!(test.instrument, Instrument::VoltsDc);
                        }
                        test.placements()
                    }
                    Ask::Look { set, .. } => vec![set.clone()],
                    _ => Vec::new(),
                };
                let has =
                    |control: &str, setting: &str| sets.iter().flatten().any(|(c, s)| c == control && s == setting);
                assert!(
                    step.stage == Stage::Crank || !sets.iter().flatten().any(|(_, s)| s == "start"),
                    "{name}: {sets:?}"
                );
                assert!(step.stage == Stage::Running || !has("engine", "idling"), "{name}: {sets:?}");
            }
            // The lamp or the small fuse is in before anything is at full power.
            let limited = tests(&power, if lamp.is_some() { Stage::Lamp } else { Stage::Fuse });
            assert!(!limited.is_empty() && limited.iter().all(|test| !test.bridge.is_empty() && !test.open.is_empty()));
            assert!(tests(&power, Stage::Full).iter().all(|test| test.bridge.is_empty() && test.open.is_empty()));
        }
    }
    assert!(seen > 150, "{seen}");
}

fn ohmward(folder: &std::path::Path, args: &[&str], input: &str) -> (String, String, i32) {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    let out = command.args(args).current_dir(folder).env("TZ", "UTC").write_stdin(input).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (text(&out.stdout), text(&out.stderr), out.status.code().unwrap())
}

fn events(text: &str) -> Vec<Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|e| panic!("{line}: {e}"))).collect()
}

#[test]
fn broken_off_it_goes_on_at_the_same_step_and_ends_in_the_notes() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), LAMP).unwrap();
    fs::write(folder.path().join("build-notes.md"), "mine\n").unwrap();
    let answer = |event: &Value| -> Value {
        match (event["expect"].as_array(), event["shows"].is_object()) {
            (Some(expect), _) => {
                json!({"reading": expect.iter().map(|e| json!({"value": e["value"], "unit": e["unit"]})).collect::<Vec<_>>()})
            }
            _ => json!({"ok": true}),
        }
    };
    let mut said = Vec::new();
    let mut asked: Vec<Value> = Vec::new();
    // One answer a run: each goes on where the last was broken off.
    for _ in 0..40 {
        let (out, err, code) = ohmward(folder.path(), &["powerup", "--jsonl"], &said.drain(..).collect::<String>());
        let list = events(&out);
        let last = list.last().unwrap().clone();
        assert!(list.iter().all(|event| event["event"] != "error"), "{out}");
        if last["event"] == "done" {
            assert_eq!((code, last["wrong"].as_u64()), (0, Some(0)), "{out} {err}");
            break;
        }
        assert_eq!(last["event"], "step", "{out}");
        if let Some(before) = asked.last() {
            // What was asked when it was broken off is asked again first.
            assert_eq!(list[0]["step"], before["step"], "{err}");
        }
        asked.push(last.clone());
        said.push(format!("{}\n", answer(&last)));
    }
    let steps: Vec<u64> = asked.iter().map(|event| event["step"].as_u64().unwrap()).collect();
    assert_eq!(steps, (1..=steps.len() as u64).collect::<Vec<_>>(), "each step once");
    let notes = fs::read_to_string(folder.path().join("build-notes.md")).unwrap();
    assert!(notes.starts_with("mine\n") && notes.contains("power brought on") && notes.contains("F1 in"), "{notes}");
}

#[test]
fn lines_that_cannot_be_used_are_refused_and_nothing_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), LAMP).unwrap();
    let lines = "\nperhaps\ny\nlots\n12\nOL 0.6\nback\nOL 0.6\nnote the grey cable is loose\n0 0\nx\n9 9 9\nstop\n";
    let (out, err, code) = ohmward(folder.path(), &["powerup"], lines);
    assert_eq!(code, 1, "{out} {err}");
    assert!(out.contains("2 readings are wanted") && out.contains("F1 in"), "{out}");
    let kept = fs::read_to_string(folder.path().join("trails/powerup.jsonl")).unwrap();
    assert!(kept.contains("the grey cable is loose"), "{kept}");
    for (args, word) in
        [(["--lamp", "0"], "lamp"), (["--lamp", "nan"], "lamp"), (["--wiring", "none.yaml"], "none.yaml")]
    {
        let (_, err, code) = ohmward(folder.path(), &["powerup", args[0], args[1]], "");
        assert!(code == 2 && err.contains(word), "{args:?}: {err}");
    }
    let (out, _, code) = ohmward(folder.path(), &["powerup", "--paper"], "");
    assert!(code == 0 && out.contains("FIRST POWER") && out.contains("STOP"), "{out}");
}

/// What is not as it should be goes over to a chase in the same sitting, with what was read; the trail stands beside.
#[test]
fn a_wrong_reading_goes_over_to_a_chase_at_once() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("wiring.yaml"), LAMP).unwrap();
    let (out, err, code) = ohmward(folder.path(), &["powerup"], "y\nOL 0.6\n0 0\n0 12.5\n3\nstop\n");
    assert_eq!(code, 1, "{out} {err}");
    assert!(out.contains("Not as it should be: 12.5 V") && out.contains("Going on with"), "{out}");
    let trail = fs::read_to_string(folder.path().join("trails/001.jsonl")).unwrap();
    assert!(trail.contains("12.5") && trail.contains("OL"), "{trail}");
    // Mended, it goes on at the step that went wrong.
    let (out, err, _) = ohmward(folder.path(), &["powerup"], "stop\n");
    assert!(out.contains("F1 in") && err.contains("going on"), "{out} {err}");
}
