//! What is never proposed, by any command, on any built-in machine (common practice, no source; the table is
//! `rules/dangers.yaml`). The choice of a chase's tests is held to it in `guards`, power brought on in `powerup`.

use assert_cmd::Command;
use ohmward::catalogue::Catalogue;
use ohmward::netlist::Netlist;
use ohmward::session::ringout::job::Job;
use ohmward::session::ringout::{Ring, Stage, Wait};
use ohmward::text::span::Source;
use ohmward::wiring;
use petgraph::visit::Bfs;
use std::fs;

fn machines() -> Vec<(String, Netlist)> {
    let folder = format!("{}/rules/machines", env!("CARGO_MANIFEST_DIR"));
    let mut out: Vec<(String, Netlist)> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let source = Source::new("wiring.yaml", fs::read_to_string(path.join("wiring.yaml")).unwrap());
            let netlist = wiring::read(&source, &Catalogue::builtin()).unwrap().netlist;
            (path.file_name().unwrap().to_str().unwrap().to_string(), netlist)
        })
        .collect();
    out.sort_by(|a, b| a.0.cmp(&b.0));
    assert!(out.len() >= 8);
    out
}

/// Pins that 12 V destroys or that carry an ignition's own volts, by name and kind: told apart from the code under test.
fn is_delicate(netlist: &Netlist, point: &str) -> bool {
    let Some((part, pin)) = point.split_once('.') else { return false };
    let Some(part) = netlist.parts.get(part) else { return false };
    let kind = part.kind.as_str();
    match kind {
        "magneto" | "ignition module" => pin == "kill" || pin == "stop" || pin == "signal",
        "pulse gauge" | "pickup coil" | "pickup gauge" => pin == "signal",
        _ => kind.contains("unknown module") && !matches!(pin, "feed" | "ground"),
    }
}

#[test]
fn no_lamp_is_put_onto_a_kill_signal_or_module_pin() {
    let (mut asked, mut barred) = (0, 0);
    for (name, netlist) in machines() {
        for plug in netlist.plugs.values() {
            let mut ring = Ring::new(Job::whole(&netlist, plug), Stage::Load { lamp: 21.0 });
            ring.take("y").unwrap();
            while let Wait::Load(at) = ring.waiting() {
                asked += 1;
                let way = &ring.job.ways[at];
                // All that copper joins with it.
                let mut walk = Bfs::new(&netlist.graph, plug.ways[&way.name].halves[0]);
                while let Some(node) = walk.next(&netlist.graph) {
                    let point = netlist.point_name(node);
                    assert!(!is_delicate(&netlist, point), "{name}: {} way {} leads to {point}", plug.name, way.name);
                }
                ring.take("skip").unwrap();
            }
            barred += ring.job.ways.iter().filter(|way| way.signal).count();
        }
    }
    assert!(asked > 60 && barred > 3, "{asked} asked, {barred} barred");
}

/// What a command says before anything is touched: battery off, loads off, a fuse in the feed, and who comes first.
#[test]
fn each_step_that_can_hurt_has_its_caution_on_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let cart = format!("{}/rules/machines/orchard-cart/wiring.yaml", env!("CARGO_MANIFEST_DIR"));
    fs::copy(cart, folder.path().join("wiring.yaml")).unwrap();
    let said = |args: &[&str]| {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("ohmward"));
        let out = command.args(args).current_dir(folder.path()).write_stdin("y\n").output().unwrap();
        String::from_utf8([out.stdout, out.stderr].concat()).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for (args, words) in [
        (vec!["ringout", "P9"], vec!["CAUTION", "battery minus off", "never the beeper on a live wire", "airbag"]),
        (
            vec!["ringout", "P9", "--load"],
            vec!["CAUTION", "through a fuse of", "never a bare lead", "kill wire", "airbag"],
        ),
        (vec!["powerup"], vec!["CAUTION", "manual comes first", "licensed", "battery minus off", "STOP"]),
        (
            vec!["powerup", "--paper"],
            vec!["hang it clear of skin", "5 s, then 20 s", "never take the battery off while it runs"],
        ),
        (vec!["learn", "key", "--wires", "red, blue", "--positions", "off, on"], vec!["battery"]),
        (vec!["chase", "the horn is dead"], vec!["CAUTION"]),
    ] {
        let text = said(&args);
        for word in words {
            assert!(text.contains(word), "{args:?} does not say \"{word}\": {text}");
        }
    }
}
