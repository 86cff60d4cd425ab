//! `ringout`: a harness with crossed, dead and joined ways is told as it is, in no more placements than ways.

use assert_cmd::Command;
use ohmward::catalogue::Catalogue;
use ohmward::session::ringout::job::{self, Job};
use ohmward::session::ringout::{Ring, Stage, Wait, load};
use ohmward::text::span::Source;
use ohmward::wiring;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

/// A harness as it really is: where each way goes, and pairs that touch.
#[derive(Clone, Debug)]
struct Truth {
    goes: Vec<Option<usize>>,
    joined: BTreeSet<(usize, usize)>,
}

impl Truth {
    /// Ways that hang together with this one.
    fn net(&self, way: usize) -> BTreeSet<usize> {
        let mut net = BTreeSet::from([way]);
        loop {
            let more: Vec<usize> = self
                .joined
                .iter()
                .flat_map(|&(a, b)| [(a, b), (b, a)])
                .filter(|(a, b)| net.contains(a) && !net.contains(b))
                .map(|(_, b)| b)
                .collect();
            if more.is_empty() {
                return net;
            }
            net.extend(more);
        }
    }

    /// Does red on a way beep with black on a far end?
    fn beeps(&self, way: usize, far: usize) -> bool {
        self.net(way).iter().any(|&other| self.goes[other] == Some(far))
    }
}

/// Answers as somebody would who touches what he is told to; placements made, and far ends swept.
fn ring_out(ring: &mut Ring, truth: &Truth) -> usize {
    let name = |way: usize| (way + 1).to_string();
    let mut placements = 0;
    for _ in 0..10_000 {
        let told = ring.joined().clone();
        match ring.waiting() {
            Wait::Done => return placements,
            Wait::Safe => ring.take("y").unwrap(),
            Wait::Bunches([one, other]) => {
                placements += 1;
                let beeps = one.iter().any(|&a| other.iter().any(|&b| truth.net(a).contains(&b)));
                ring.take(if beeps { "y" } else { "n" }).unwrap();
            }
            Wait::Way { at, drag } => {
                let touching: Vec<usize> = drag.into_iter().filter(|&way| truth.net(at).contains(&way)).collect();
                let new = touching.into_iter().find(|&way| !told.contains(&(at.min(way), at.max(way))));
                if let Some(way) = new {
                    ring.take(&format!("{}+{}", name(at), name(way))).unwrap();
                    continue;
                }
                placements += 1;
                let own = ring.known().iter().flatten().any(|known| known.far == Some(at));
                ring.take(if truth.beeps(at, at) && !own { "y" } else { "n" }).unwrap();
            }
            Wait::Find { at, open } => match open.into_iter().find(|&far| truth.beeps(at, far)) {
                Some(far) => ring.take(&name(far)).unwrap(),
                None => ring.take("dead").unwrap(),
            },
            Wait::Load(_) | Wait::Pull => panic!("no load here"),
        }
    }
    panic!("no end");
}

fn truths() -> impl Strategy<Value = Truth> {
    (2..14_usize).prop_flat_map(|ways| {
        let order = Just((0..ways).collect::<Vec<usize>>()).prop_shuffle();
        let dead = proptest::collection::vec(proptest::bool::weighted(0.1), ways);
        let pair = (0..ways, 0..ways);
        (order, dead, proptest::collection::vec(pair, 0..3), 0..4_u8).prop_map(move |(order, dead, pairs, how)| {
            // Straight, but for a swap, all shuffled, or the mirror.
            let mut goes: Vec<usize> = (0..ways).collect();
            match how {
                0 => goes.swap(order[0], order[1]),
                1 => goes = order,
                2 => goes.reverse(),
                _ => {}
            }
            Truth {
                goes: goes.into_iter().zip(dead).map(|(far, dead)| (!dead).then_some(far)).collect(),
                joined: pairs.into_iter().filter(|(a, b)| a != b).map(|(a, b)| (a.min(b), a.max(b))).collect(),
            }
        })
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn a_harness_is_told_as_it_is_in_as_many_placements_as_ways(truth in truths(), ganged in proptest::bool::ANY) {
        let ways = truth.goes.len();
        let mut ring = Ring::new(Job::straight(ways), Stage::Beep { ganged });
        let placements = ring_out(&mut ring, &truth);
        // One a way; by bunches ceil(log2 q) more (Kautz 1974 has p - 1 + ceil(log2 q) for p ends and q nets, from memory:
        // here p = 2 ways, q = ways).
        let rounds = (ways as f64).log2().ceil() as usize;
        prop_assert!(placements <= ways + if ganged { rounds } else { 0 }, "{placements} placements for {ways} ways");
        prop_assert!(placements <= (2 * ways - 1 + rounds).max(1));
        if truth.joined.is_empty() {
            for (way, goes) in truth.goes.iter().enumerate() {
                let known = ring.known()[way].as_ref().unwrap();
                prop_assert_eq!(known.far, *goes);
                prop_assert_eq!(known.dead, goes.is_none());
            }
            let sound = truth.goes.iter().enumerate().all(|(way, goes)| *goes == Some(way));
            prop_assert_eq!(ring.findings().is_empty(), sound);
            prop_assert_eq!(ring.good().len() == ways, sound);
        } else {
            // What hangs together is told as hanging together, and nothing of it is called good.
            for &(a, b) in &truth.joined {
                let told = Truth { goes: Vec::new(), joined: ring.joined().clone() };
                prop_assert!(told.net(a).contains(&b), "{:?}", ring.joined());
                prop_assert!(!ring.good().contains(&a) && !ring.good().contains(&b));
            }
        }
        // Taking every answer back leads to the beginning, and giving them again to the end.
        let answers = ring.answers().to_vec();
        for _ in &answers {
            ring.take("back").unwrap();
        }
        prop_assert_eq!(ring.waiting(), Wait::Safe);
        for answer in &answers {
            ring.take(answer).unwrap();
        }
        prop_assert_eq!(ring.waiting(), Wait::Done);
    }
}

fn findings(ways: usize, answers: &[&str]) -> Vec<String> {
    let mut ring = Ring::new(Job::straight(ways), Stage::Beep { ganged: false });
    for answer in ["y"].iter().chain(answers) {
        ring.take(answer).unwrap_or_else(|why| panic!("{answer}: {why}"));
    }
    ring.findings().into_iter().map(|finding| finding.text).collect()
}

/// The slips of the trade (common practice, no source).
#[test]
fn a_slip_has_its_name() {
    let one = |ways, answers: &[&str], word: &str| {
        let found = findings(ways, answers);
        assert!(found.len() == 1 && found[0].contains(word), "{found:?}");
    };
    one(4, &["1=4", "2=3", "3=2", "4=1"], "mirror image");
    one(4, &["1=2", "2=3", "3=4", "4=1"], "one cavity off");
    one(4, &["y", "2=3", "3=2", "y"], "2 and 3 are crossed");
    one(4, &["y", "n", "dead", "y", "y"], "goes nowhere");
    one(4, &["2+4", "all good"], "2 and 4 are joined");
    assert!(findings(4, &["all good"]).is_empty());
    // Two ways of one colour are what one confuses.
    let netlist = cart();
    let plug = &netlist.plugs["P9"];
    let mut ring = Ring::new(Job::half(&netlist, plug, 'a'), Stage::Beep { ganged: false });
    for answer in ["y", "y", "2=3", "3=2"] {
        let _ = ring.take(answer);
    }
    let told = ring.findings();
    assert!(told.iter().any(|finding| finding.text.contains("both are white")), "{told:?}");
}

fn cart() -> ohmward::netlist::Netlist {
    let path = format!("{}/rules/machines/orchard-cart/wiring.yaml", env!("CARGO_MANIFEST_DIR"));
    let source = Source::new("wiring.yaml", fs::read_to_string(path).unwrap());
    wiring::read(&source, &Catalogue::builtin()).unwrap().netlist
}

/// What the wiring joins is not called joined: two ways that end in one sleeve.
#[test]
fn ways_of_one_net_are_not_dragged_over_each_other() {
    let text = "\
machine: M
chassis: frame
places: {dash: easy}
parts:
  a: lamp, 5 W, dash
  b: lamp, 5 W, dash
sleeves: {S1: {crimp sleeve, place: dash}}
wires: [\"S1 to a.feed, red, 1 m\", \"a.ground to frame, black, 1 m\", \"b.ground to frame, black, 1 m\"]
plugs:
  P1: {a: dash, b: dash, ways: [\"1, red, same, S1, a.ground\", \"2, blue, same, S1, b.ground\", \"3, green, same, b.feed, frame\"]}
";
    let text = text.replace("sleeves: {S1: {crimp sleeve, place: dash}}", "sleeves: {S1: \"crimp sleeve, dash\"}");
    let source = Source::new("wiring.yaml", text);
    let netlist = wiring::read(&source, &Catalogue::builtin())
        .unwrap_or_else(|list| panic!("{}", list.iter().map(|p| p.render(&source)).collect::<String>()))
        .netlist;
    let mut ring = Ring::new(Job::half(&netlist, &netlist.plugs["P1"], 'a'), Stage::Beep { ganged: false });
    ring.take("y").unwrap();
    assert_eq!(ring.waiting(), Wait::Way { at: 0, drag: vec![2] });
    assert!(ring.take("1+2").is_err());
}

/// Ohms of a way against the tables: 1.5 mm2 of copper has at most 13.3 ohm a km at 20 C (IEC 60228, class 5), so that 1.6 m
/// of it under 1.8 A lose at most 0.038 V, beside the old wire and the joints.
#[test]
fn volts_over_a_way_are_those_of_its_copper_and_joints() {
    let netlist = cart();
    assert_eq!(job::halves(&netlist, &netlist.plugs["P9"]), ['a', 'b']);
    let half = Job::half(&netlist, &netlist.plugs["P9"], 'a');
    let way = &half.ways[0];
    let wire = |name: &str| {
        let wire = &netlist.wires[name];
        netlist.graph[wire.links[1]].ohms
    };
    let most = 1.6 * 0.0133;
    assert!((0.85 * most..=most).contains(&wire("P9a-1-new")), "{}", wire("P9a-1-new"));
    assert!(way.ohms > wire("P9a-1-new") + wire("P9a-1-old") && way.ohms < 0.2, "{}", way.ohms);
    let whole = Job::whole(&netlist, &netlist.plugs["P9"]);
    assert_eq!((whole.ways[0].near.at.as_str(), whole.ways[0].far.at.as_str()), ("turn.in", "flasher.out"));
    assert!(whole.ways[0].ohms > way.ohms);
    let should = load::should(&whole.ways[0], 21.0);
    assert!((should.volts - load::amps(21.0) * whole.ways[0].ohms).abs() < 1e-9 && should.most > should.volts);
    assert_eq!(whole.ways.iter().filter(|way| !way.fitted).map(|way| way.name.as_str()).collect::<Vec<_>>(), ["3"]);
}

fn ohmward(folder: &Path, args: &[&str], input: &str) -> (String, String, i32) {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
    let out = command.args(args).current_dir(folder).env("TZ", "UTC").write_stdin(input).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    (text(&out.stdout), text(&out.stderr), out.status.code().unwrap())
}

#[test]
fn rung_out_marked_and_noted_from_the_command_line() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("wiring.yaml");
    let cart =
        fs::read_to_string(format!("{}/rules/machines/orchard-cart/wiring.yaml", env!("CARGO_MANIFEST_DIR"))).unwrap();
    fs::write(&file, &cart).unwrap();
    fs::write(folder.path().join("build-notes.md"), "mine\n").unwrap();
    // Broken off in the first half, gone on with, both halves, the mark written.
    let (out, err, code) = ohmward(folder.path(), &["ringout", "p9"], "y\ny\nn\n");
    assert!(code == 1 && err.contains("Go on with it: ohmward ringout P9"), "{out} {err}");
    let (out, err, code) = ohmward(folder.path(), &["ringout", "P9"], "2\nall good\ny\nall good\nyes\n");
    assert!(code == 0 && err.contains("going on"), "{out} {err}");
    let now = fs::read_to_string(&file).unwrap();
    for row in ["4, black/white, black, horn-push.a, horn.ground, beep", "3, violet, white, turn.right, S7, not fitted"]
    {
        assert!(now.contains(row), "{now}");
    }
    let (_, err, code) = ohmward(folder.path(), &["wire", "--undo"], "");
    assert_eq!(code, 0, "{err}");
    let notes = fs::read_to_string(folder.path().join("build-notes.md")).unwrap();
    assert!(notes.starts_with("mine\n") && notes.contains("P9a rung out") && notes.contains("P9b rung out"), "{notes}");
    // Under load, one joint is bad.
    let (out, _, code) = ohmward(
        folder.path(),
        &["ringout", "P9", "--load"],
        "y\n0.07\n0.9\nskip\n0.07\n70 mV\n0.06\n0.08\n0.09\n0.07\nnone\nno\n",
    );
    assert!(code == 1 && out.contains("mend     way 2 loses 0.90 V"), "{out}");
    assert_eq!(out.matches("mend").count(), 2, "named at once, and at the end: {out}");
}

#[test]
fn without_a_file_and_with_odd_answers() {
    let folder = tempfile::tempdir().unwrap();
    let (out, _, code) =
        ohmward(folder.path(), &["ringout", "--ways", "3"], "\nlots\ny\n5=5\n1=9\n1+1\n1=2\n2=1\nhelp\ny\n");
    assert!(code == 1 && out.contains("there is no way \"5\"") && out.contains("crossed"), "{out}");
    for (args, word) in [
        (vec!["ringout"], "PLUG"),
        (vec!["ringout", "--ways", "0"], "0"),
        (vec!["ringout", "P1"], "wiring.yaml"),
        (vec!["ringout", "--ways", "4", "--load"], "load"),
    ] {
        let (_, err, code) = ohmward(folder.path(), &args, "");
        assert!(code == 2 && err.contains(word), "{args:?}: {err}");
    }
    let lines = "{\"answer\":\"y\"}\n{\"answer\":\"n\"}\nx\n{\"answer\":\"dead\"}\n{\"answer\":\"all good\"}\n";
    let (out, _, _) = ohmward(folder.path(), &["ringout", "--ways", "2", "--jsonl", "--new"], lines);
    let events: Vec<Value> = out.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    let last = events.last().unwrap();
    assert_eq!((&last["event"], &last["good"]), (&json!("done"), &json!(["2"])), "{out}");
    assert!(
        events.iter().any(|event| event["event"] == "find") && events.iter().any(|event| event["event"] == "error")
    );
}
