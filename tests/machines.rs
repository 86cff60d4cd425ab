//! Every built-in machine: it reads, each function does when healthy what a person expects, each of its faults
//! solves, and a drill on it ends at the planted fault. What a person expects stands in the machine's own folder.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::Injury;
use ohmward::circuit::lower::lower;
use ohmward::circuit::meter::{How, Observed, observe};
use ohmward::circuit::test::{Instrument, Settings, Test};
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::machine::Machine;
use ohmward::diagnosis::predict;
use ohmward::netlist::Netlist;
use ohmward::session::VerdictReason;
use ohmward::session::drill::{Answering, Walk, walk};
use ohmward::session::twin::shared_ground;
use ohmward::text::span::Source;
use ohmward::text::yaml::{self, Node, Value};
use ohmward::wiring;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// A showing counts as sure from here.
const SURE: f64 = 0.9;

pub struct Built {
    pub name: String,
    pub wiring: Source,
    pub functions: Source,
    pub net: Netlist,
    pub catalogue: Catalogue,
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("rules/machines")
}

pub fn names() -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(folder()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

pub fn built(name: &str) -> Built {
    let text = |file: &str| {
        let path = folder().join(name).join(file);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        Source::new(format!("{name}/{file}"), text)
    };
    let (wiring, functions) = (text("wiring.yaml"), text("functions.yaml"));
    let catalogue = Catalogue::builtin();
    let net = match wiring::read(&wiring, &catalogue) {
        Ok(reading) => {
            let warnings: String = reading.warnings.iter().map(|p| p.render(&wiring)).collect();
            assert!(warnings.is_empty(), "{warnings}");
            reading.netlist
        }
        Err(problems) => panic!("{}", problems.iter().map(|p| p.render(&wiring)).collect::<String>()),
    };
    Built { name: name.to_owned(), wiring, functions, net, catalogue }
}

pub fn all() -> Vec<Built> {
    names().iter().map(|name| built(name)).collect()
}

fn map(node: &Node) -> Vec<(&str, &Node)> {
    match &node.value {
        Value::Map(pairs) => pairs.iter().map(|(key, node)| (key.text.as_str(), node)).collect(),
        Value::Null => Vec::new(),
        other => panic!("not a map: {other:?}"),
    }
}

fn text(node: &Node) -> String {
    match &node.value {
        Value::Scalar(text) => text.clone(),
        other => panic!("not a text: {other:?}"),
    }
}

/// A row of the table: line, settings in order, what is seen of each part.
pub type Expected = (usize, Settings, BTreeMap<String, String>);

/// The line that tells what the machine is, and its table.
pub fn table(built: &Built) -> (String, Vec<Expected>) {
    let tree = yaml::parse(&built.functions).unwrap_or_else(|p| panic!("{}", p.render(&built.functions)));
    let top: BTreeMap<&str, &Node> = map(&tree).into_iter().collect();
    let Value::List(rows) = &top["functions"].value else { panic!("{}: functions is a list", built.name) };
    let rows = rows.iter().map(|row| {
        let row_map: BTreeMap<&str, &Node> = map(row).into_iter().collect();
        let set = map(row_map["set"]).into_iter().map(|(c, s)| (c.to_owned(), text(s))).collect();
        let see = map(row_map["see"]).into_iter().map(|(p, s)| (p.to_owned(), text(s))).collect();
        (built.functions.line(row.span), set, see)
    });
    (text(top["about"]), rows.collect())
}

#[test]
fn there_are_machines_of_every_sort_and_each_says_in_one_line_what_it_is() {
    let all = all();
    assert!(all.len() >= 8, "{:?}", names());
    for built in &all {
        let (about, _) = table(built);
        assert!((25..=60).contains(&about.chars().count()) && !about.contains('\n'), "{}: {about}", built.name);
        let rows = built.wiring.text.lines().filter(|line| {
            let line = line.trim_start();
            line.starts_with("- ")
                || line.starts_with(['G', 'F']) && line[1..].starts_with(|c: char| c.is_ascii_digit())
        });
        let rows = rows.count();
        assert!((25..=70).contains(&rows), "{}: {rows} rows", built.name);
        assert!(built.net.grounds.len() >= 3 && !built.net.recent.is_empty(), "{}", built.name);
        let moved =
            built.net.plugs.values().any(|plug| {
                plug.ways.keys().any(|way| built.net.wires.contains_key(&format!("{}a-{way}-new", plug.name)))
            });
        assert!(moved, "{}: no plug was lengthened", built.name);
        let loose: Vec<&str> = built
            .net
            .sleeves
            .values()
            .filter(|sleeve| built.net.graph.edges(sleeve.point).count() < 2)
            .map(|sleeve| built.net.point_name(sleeve.point))
            .collect();
        assert!(loose.is_empty(), "{}: sleeves with less than two wires: {loose:?}", built.name);
    }
}

/// Rows of a table that this machine does not keep; those of parts and controls that it has not are passed over.
/// Also the parts that some row shows at work.
pub fn unmet(name: &str, net: &Netlist, catalogue: &Catalogue, rows: &[Expected]) -> (Vec<String>, BTreeSet<String>) {
    let mut machine = Machine::new(net.clone(), catalogue.clone());
    let (mut wrong, mut worked) = (Vec::new(), BTreeSet::new());
    for (line, set, see) in rows {
        let controls = &machine.sim.schematic().controls;
        if !set.iter().all(|(control, _)| controls.contains_key(control)) {
            continue;
        }
        for (part, word) in see.iter().filter(|(part, _)| net.parts.contains_key(*part)) {
            let mut test = Test::new(Instrument::Watch, set);
            test.part = Some(part.clone());
            let at = format!("{name}/functions.yaml, line {line}: {part}");
            let healthy = Fault { singles: Vec::new() };
            let seen = observe(&mut machine.sim, net, catalogue, &test, &healthy, How::Ports);
            let words = match seen {
                Ok(mut seen) => match seen.swap_remove(0).what {
                    Observed::Showing(words) => words,
                    other => panic!("{at}: {other:?}"),
                },
                Err(problems) => {
                    wrong.push(format!("{at}: {problems:?}"));
                    continue;
                }
            };
            if !words.iter().any(|(w, p)| w == word && *p >= SURE) {
                wrong.push(format!("{at}: {word} expected, {words:?} seen"));
            }
            let kind = catalogue.kind(&net.parts[part].kind).unwrap();
            if kind.showings.iter().any(|s| s.works.as_deref() == Some(word.as_str())) || word == "flashing" {
                worked.insert(part.clone());
            }
        }
    }
    (wrong, worked)
}

#[test]
fn every_function_does_when_healthy_what_a_person_expects() {
    let mut wrong = Vec::new();
    for built in all() {
        let (_, rows) = table(&built);
        let controls = lower(&built.net, &built.catalogue).controls;
        for (line, set, see) in &rows {
            let strange = set.iter().map(|(c, _)| c).filter(|c| !controls.contains_key(*c));
            let strange = strange.chain(see.keys().filter(|part| !built.net.parts.contains_key(*part)));
            wrong.extend(strange.map(|name| format!("{}/functions.yaml, line {line}: no \"{name}\"", built.name)));
        }
        let (unmet, worked) = unmet(&built.name, &built.net, &built.catalogue, &rows);
        wrong.extend(unmet);
        // A fuse is whole in every state.
        let idle = built.net.parts.values().filter(|part| {
            let kind = built.catalogue.kind(&part.kind).unwrap();
            let fuse = kind.showings.iter().any(|s| s.works.as_deref() == Some("whole"));
            part.fitted && !fuse && !kind.showings.is_empty() && !worked.contains(&part.name)
        });
        wrong.extend(idle.map(|part| format!("{}: no row shows {} at work", built.name, part.name)));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What stands near a threshold is solved as many machines: with nothing but its key on a sound one stands near none.
#[test]
fn a_sound_machine_with_its_key_on_stands_near_no_threshold() {
    for built in all() {
        let mut machine = Machine::new(built.net.clone(), built.catalogue.clone());
        let set = vec![("key".to_string(), "on".to_string())];
        if let Ok(state) = predict::state(&mut machine, &set) {
            let near = machine.sim.run(state, &Injury::default()).near;
            let names: Vec<&str> = near.iter().map(|n| machine.sim.schematic().elements[n.id].name.as_str()).collect();
            assert!(names.is_empty(), "{}, {set:?}: {names:?}", built.name);
        }
    }
}

/// Solves every `step`th fault of a machine in each of its table's states and looks at what the table looks at.
fn faults_solve(built: &Built, step: usize) -> usize {
    let mut machine = Machine::new(built.net.clone(), built.catalogue.clone());
    let suspects = enumerate(&machine, true);
    let members = suspects.list.iter().filter(|s| !s.special()).flat_map(|s| &s.members);
    let names: Vec<String> = members.map(|m| m.fault.to_string()).step_by(step).collect();
    let states: Vec<(Settings, String)> =
        table(built).1.into_iter().filter_map(|(_, set, see)| Some((set, see.keys().next()?.clone()))).collect();
    for (n, name) in names.iter().enumerate() {
        let fault = Fault::parse(name).unwrap_or_else(|p| panic!("{name}: {p:?}"));
        let (set, part) = &states[n % states.len()];
        let mut test = Test::new(Instrument::Watch, set);
        test.part = Some(part.clone());
        let seen = observe(&mut machine.sim, &machine.netlist, &machine.catalogue, &test, &fault, How::Ports)
            .unwrap_or_else(|problems| panic!("{}: {name}, {set:?}: {problems:?}", built.name));
        match &seen[0].what {
            Observed::Showing(words) => {
                let sum: f64 = words.iter().map(|(_, p)| p).sum();
                assert!((sum - 1.0).abs() < 1e-6, "{}: {name}, {set:?}: {words:?}", built.name);
            }
            other => panic!("{}: {name}: {other:?}", built.name),
        }
        let mut volts = Test::new(Instrument::VoltsDc, set);
        let battery = built.net.parts.values().find(|part| part.kind.contains("battery")).unwrap();
        volts.red = Some(format!("{}.pos", battery.name));
        volts.black = Some(format!("{}.neg", battery.name));
        let seen = observe(&mut machine.sim, &machine.netlist, &machine.catalogue, &volts, &fault, How::Ports)
            .unwrap_or_else(|problems| panic!("{}: {name}, {set:?}: {problems:?}", built.name));
        // Its own terminals: no less than flat, no more than what a charging system that is out of bounds gives.
        let met = match seen[0].what {
            Observed::Number { value, .. } => vec![value],
            Observed::Range { from, to, .. } => vec![from, to],
            ref other => panic!("{}: {name}, {set:?}: {other:?} at the battery", built.name),
        };
        for value in met {
            assert!((-0.5..=18.0).contains(&value), "{}: {name}, {set:?}: {value} V at the battery", built.name);
        }
    }
    names.len()
}

#[test]
fn faults_of_every_machine_solve() {
    for built in all() {
        assert!(faults_solve(&built, 9) > 40, "{}", built.name);
    }
}

#[test]
#[expect(clippy::print_stdout, reason = "its figures are what it is run for")]
#[ignore = "minutes; by hand after a change of a machine"]
fn every_fault_of_every_machine_solves() {
    for built in all() {
        println!("{}: {} faults", built.name, faults_solve(&built, 1));
    }
}

/// The drill ended rightly: one repair that cures, or a group of that repair's class.
fn right(walk: &Walk) -> bool {
    matches!(walk.reason, VerdictReason::Repair | VerdictReason::Group) && walk.found && walk.one_class
}

#[test]
fn a_drill_on_each_small_machine_ends_at_its_fault() {
    // The small ones only: a drill on a large one takes its seconds without optimisation.
    for built in all().iter().filter(|b| b.net.wires.len() < 80) {
        let fault = shared_ground(&built.net, &built.catalogue)
            .unwrap_or_else(|| panic!("{}: no ground point can be seen to fail", built.name));
        let walk = walk(&built.net, &built.catalogue, &fault, Answering { seed: 1, wrong: 0.0 })
            .unwrap()
            .expect("it was chosen because it shows");
        assert!(right(&walk), "{}: {fault}\n{}", built.name, walk.trail.join("\n"));
    }
}
