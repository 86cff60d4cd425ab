//! Good files: what each form means in the netlist.

use super::{catalogue, whole};
use ohmward::netlist::{Joint, LinkKind, Netlist, Proof};
use ohmward::text::span::Source;
use ohmward::wiring::{points, read, sites};

fn short() -> Netlist {
    whole("short-forms.yaml", include_str!("good/short-forms.yaml")).netlist
}

fn long() -> Netlist {
    whole("long-forms.yaml", include_str!("good/long-forms.yaml")).netlist
}

#[track_caller]
fn ends(net: &Netlist, wire: &str) -> (String, String) {
    let wire = net.wires.get(wire).unwrap_or_else(|| panic!("no {wire} among {:?}", net.wires.keys()));
    (net.point_name(wire.from).to_owned(), net.point_name(wire.to).to_owned())
}

#[track_caller]
fn runs(net: &Netlist, wire: &str, from: &str, to: &str) {
    assert_eq!(ends(net, wire), (from.to_owned(), to.to_owned()), "{wire}");
}

#[test]
fn wires_are_named_by_their_ends() {
    let net = short();
    runs(&net, "battery-pos_main-fuse-in", "battery.pos", "main-fuse.in");
    runs(&net, "W7", "rev-gauge.ground", "G1");
    runs(&net, "lamp-left-ground_G1", "lamp-left.ground", "G1");
    runs(&net, "F3_horn-feed", "F3.out", "horn.feed");
    runs(&net, "frame_block", "frame", "block");
    runs(&net, "S4_rev-gauge-feed", "S4", "rev-gauge.feed");
    assert_eq!(net.point("turn.feed"), net.point("turn.in"), "a pin answers to its other names");
    let two = "chassis: [frame]\nparts: {battery: battery, horn: horn}\nwires:\n  - battery.neg to frame\n  - battery.neg to frame\n  - Battery.NEG to FRAME\n";
    let net = whole("two.yaml", two).netlist;
    assert_eq!(
        net.wires.keys().collect::<Vec<_>>(),
        ["battery-neg_frame", "battery-neg_frame-2", "Battery-NEG_FRAME-3"]
    );
}

#[test]
fn a_way_is_a_chain_of_sites() {
    let net = short();
    runs(&net, "P9a-4-old", "horn-push.a", "P9a-4-sleeve");
    runs(&net, "P9a-4-new", "P9a-4-sleeve", "P9a.4");
    runs(&net, "P9b-4-new", "P9b.4", "P9b-4-sleeve");
    runs(&net, "P9b-4-old", "P9b-4-sleeve", "horn.ground");
    let way = &net.plugs["P9"].ways["4"];
    assert_eq!(net.graph[way.link].site, "P9.4");
    assert_eq!(net.graph[way.link].what, LinkKind::Mated);
    assert_eq!(way.crimped, [Some(("P9a-4-new".into(), 'b')), Some(("P9b-4-new".into(), 'a'))]);
    assert_eq!(net.wires["P9a-4-new"].length, 1.6);
    assert_eq!(net.wires["P9a-4-new"].area, 1.5);
    assert_eq!(net.wires["P9a-4-old"].length, 0.3);
    assert!(!net.wires["P9a-4-old"].length_known);
    assert_eq!(net.wires["P9a-4-old"].colour.as_deref(), Some("black/white"));
    assert_eq!(net.wires["P9a-4-new"].colour.as_deref(), Some("black"));
    assert_eq!(net.wires["P9a-1-new"].colour.as_deref(), Some("orange"));
    assert_eq!(net.wires["P9a-4-old"].proof, Proof::Assumed);
    assert_eq!(net.wires["P9a-3-new"].proof, Proof::NotFitted);
    assert_eq!(net.plugs["P9"].ways["7"].crimped, [None, None]);
    assert_eq!(net.plugs["P9"].is.as_deref(), Some("turn signals, horn, clutch switch"));
    // From under-seat to nose there is a run; the stub at the tiller's side has none.
    assert_eq!(net.wires["P9b-4-old"].length, 2.4);
}

#[test]
fn a_half_with_no_added_length_has_the_old_wire_only() {
    let net = long();
    runs(&net, "P1a-1-old", "no.b", "P1a-1-sleeve");
    runs(&net, "P1a-1-new", "P1a-1-sleeve", "P1a.1");
    runs(&net, "P1b-1-old", "P1b.1", "S1");
    assert!(!net.wires.contains_key("P1b-1-new") && !net.sleeves.contains_key("P1b-1-sleeve"));
    assert_eq!(net.plugs["P1"].ways["1"].crimped[1], Some(("P1b-1-old".into(), 'a')));
    assert_eq!(net.wires["P1a-1-old"].length, 0.1);
    assert_eq!(net.sleeves["P1a-1-sleeve"].joint, Joint::Solder);
    // A row may end in another plug's way, which is crimped by it.
    runs(&net, "P1b-A2-old", "P1b.A2", "P2a.x");
    assert_eq!(net.plugs["P2"].ways["x"].crimped[0], Some(("P1b-A2-old".into(), 'b')));
}

#[test]
fn every_wire_is_a_conductor_between_two_joints() {
    for net in [short(), long()] {
        for wire in net.wires.values() {
            let sites = wire.links.map(|edge| net.graph[edge].site.clone());
            assert_eq!(sites, [format!("{}.a", wire.name), wire.name.clone(), format!("{}.b", wire.name)]);
            assert_eq!(net.graph.edge_endpoints(wire.links[0]), Some((wire.from, wire.ends[0])));
            assert_eq!(net.graph.edge_endpoints(wire.links[1]), Some((wire.ends[0], wire.ends[1])));
            assert_eq!(net.graph.edge_endpoints(wire.links[2]), Some((wire.to, wire.ends[1])));
            assert_eq!(net.point(&format!("{}.A", wire.name)), Some(wire.ends[0]));
        }
    }
}

#[test]
fn joints_follow_from_what_an_end_lands_on() {
    let (net, long) = (short(), long());
    let joint = |net: &Netlist, site: &str| net.graph[net.link(site).unwrap()].what;
    assert_eq!(joint(&net, "battery-pos_main-fuse-in.a"), LinkKind::Joint(Joint::Clamp));
    assert_eq!(joint(&net, "battery-pos_main-fuse-in.b"), LinkKind::Joint(Joint::Crimp));
    assert_eq!(joint(&net, "W7.b"), LinkKind::Joint(Joint::Ring));
    assert_eq!(joint(&net, "frame_block.a"), LinkKind::Joint(Joint::Ring));
    assert_eq!(joint(&net, "P9a-4-old.b"), LinkKind::Joint(Joint::CrimpSleeve));
    assert_eq!(joint(&net, "G1"), LinkKind::Seat);
    assert_eq!(joint(&long, "P1b-1-old.b"), LinkKind::Joint(Joint::Twist));
    assert_eq!(joint(&long, "W2.a"), LinkKind::Joint(Joint::Clamp));
}

#[test]
fn lengths_sizes_and_ohms() {
    let (net, long) = (short(), long());
    // 5.26 mm² is 10 AWG (ASTM B258); 0.5 m of it at 0.0172414 ohm mm²/m (IEC 60028) is 1.64 mohm before the lay.
    let main = &net.wires["battery-pos_main-fuse-in"];
    assert!((main.area - 5.26).abs() < 0.01 && main.length == 0.5 && main.length_known);
    let lay = catalogue().wire.lay;
    assert!((net.graph[main.links[1]].ohms / (1.639e-3 * lay) - 1.0).abs() < 2e-3, "{:?}", net.graph[main.links[1]]);
    assert!((net.wires["S4_rev-gauge-feed"].length - 0.9144).abs() < 1e-9);
    // Neither a length nor a run: guessed, and spread accordingly.
    let guessed = &net.wires["main-fuse-out_F3-in"];
    assert!(!guessed.length_known && guessed.length == 1.0);
    assert!(net.graph[guessed.links[1]].spread > net.graph[main.links[1]].spread);
    // W4 is known by its row, the loom's run holds for what says nothing.
    assert_eq!(long.wires["W4"].length, 2.0);
    assert_eq!(long.graph[long.wires["W3"].links[1]].ohms, 0.02);
    assert!((long.wires["W6"].length - 1.9812).abs() < 1e-9);
}

#[test]
fn colours_in_every_spelling() {
    let (net, long) = (short(), long());
    let colour = |net: &Netlist, wire: &str| net.wires[wire].colour.clone().unwrap();
    assert_eq!(colour(&net, "S4_turn-feed"), "blue/white");
    assert_eq!(colour(&long, "W2"), "black");
    assert_eq!(colour(&long, "W4"), "blue/red");
    assert_eq!(colour(&long, "W5"), "blue/red");
    assert_eq!(colour(&long, "W6"), "green/yellow");
    assert_eq!(colour(&long, "W7"), "black/white");
}

#[test]
fn parts_places_and_tables() {
    let (net, long) = (short(), long());
    assert_eq!(net.parts["horn"].ratings["amps"].value, 3.5);
    assert_eq!(net.parts["horn"].place.as_deref(), Some("nose"));
    assert!(net.parts["horn"].fitted && !net.parts["lamp-right"].fitted && !long.parts["horn"].fitted);
    assert_eq!(net.parts["F3"].kind, "fuse");
    assert_eq!(net.parts["F3"].ratings["amps"].value, 10.0);
    assert_eq!(long.parts["F2"].ratings["amps"].value, 5.0);
    assert_eq!(net.feeds, ["F3"]);
    let key = &net.parts["key"];
    assert_eq!(key.pins.keys().collect::<Vec<_>>(), ["white", "brown", "blue", "red"]);
    let table = key.table.as_ref().unwrap();
    assert_eq!(table.settings.keys().collect::<Vec<_>>(), ["off", "on"]);
    assert_eq!(table.settings["on"], [["white", "brown"], ["blue", "red"]]);
    assert!(table.settings["off"].is_empty());
    let multi = long.parts["multi"].table.as_ref().unwrap();
    assert_eq!(multi.settings["left"], [["black-white", "green"]]);
    assert_eq!(multi.settings["right"], [["black-white", "red"]]);
    assert_eq!(net.places["under-seat"].minutes, 6.0);
    assert_eq!(net.places["under-seat"].first.as_deref(), Some("seat off"));
    assert_eq!(long.places["rear"].minutes, 1.5);
    assert_eq!(long.places["tank-side"].minutes, 12.0);
    assert_eq!(net.pieces.keys().collect::<Vec<_>>(), ["frame", "block"]);
    assert_eq!(long.pieces.keys().collect::<Vec<_>>(), ["frame", "block", "tank"]);
    runs(&long, "tank-strap", "frame", "tank");
    assert_eq!(long.grounds["G2"].on, "frame");
    assert!(long.parts.contains_key("no"), "a switch called no is called no");
}

#[test]
fn bench_looms_and_recent_work() {
    let (net, long) = (short(), long());
    assert_eq!(net.bench.meter, ["volts-dc", "ohms", "beep"]);
    assert_eq!((net.bench.test_lamp, net.bench.helper, net.bench.clips), (Some(21.0), false, 2));
    assert_eq!(net.bench.cannot, ["engine running"]);
    assert_eq!((long.bench.volts_ohms, long.bench.beep_below, long.bench.helper), (1e6, 30.0, true));
    let loom = &net.looms["main"];
    assert!(loom.wires.contains(&"P9a-4-new".to_owned()) && loom.wires.contains(&"W7".to_owned()));
    assert_eq!(loom.lies_on.as_deref(), Some("frame"));
    assert_eq!(net.recent, ["P9", "tiller"]);
}

#[test]
fn what_a_probe_can_reach() {
    let net = short();
    let reach = |name: &str| net.graph[net.point(name).unwrap()].probeable;
    for point in
        ["horn.feed", "P9a.4", "P9b.4", "G1", "frame", "W7.b", "battery-pos_main-fuse-in.a", "P9a-4-new.b", "S4"]
    {
        assert!(reach(point), "{point}");
    }
    for point in ["P9a-4-sleeve", "P9a-4-old.b", "P9a-4-old.a", "W7.a"] {
        assert!(!reach(point), "{point}");
    }
}

#[test]
fn sites_and_points_are_listed_with_line_and_place() {
    let text = include_str!("good/short-forms.yaml");
    let source = Source::new("short-forms.yaml", text);
    let net = read(&source, &catalogue()).unwrap().netlist;
    let sites = sites(&net, &source);
    let line = |site: &str| sites.iter().find(|s| s.site == site).unwrap_or_else(|| panic!("{site}")).line;
    let row = |needle: &str| text.lines().position(|l| l.contains(needle)).unwrap() + 1;
    assert_eq!(line("W7"), row("W7: rev-gauge"));
    assert_eq!(line("P9.4"), row("- 4, black/white"));
    assert_eq!(line("P9a-4-old"), row("- 4, black/white"));
    assert_eq!(line("horn"), row("horn: horn"));
    assert_eq!(line("G1"), row("G1: nose"));
    assert_eq!(line("F3_horn-feed"), row("F3: fuse"));
    let points = points(&net);
    let horn = points.iter().find(|p| p.name == "horn.feed").unwrap();
    assert!(horn.probeable && horn.place.as_deref() == Some("nose"));
    let mut names: Vec<String> = points.iter().map(|p| p.name.to_lowercase()).collect();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), points.len(), "every point has a name of its own");
}

#[test]
fn windows_line_ends_and_a_byte_order_mark_change_nothing() {
    let text = include_str!("good/short-forms.yaml");
    let dressed = format!("\u{feff}{}", text.replace('\n', "\r\n"));
    let net = whole("dressed.yaml", &dressed).netlist;
    let plain = short();
    assert_eq!(net.wires.keys().collect::<Vec<_>>(), plain.wires.keys().collect::<Vec<_>>());
    assert_eq!(net.places["under-seat"], plain.places["under-seat"]);
}
