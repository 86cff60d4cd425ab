//! Two faults at once, chased against a simulated machine that has both.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::netlist::Netlist;
use ohmward::session::drill::{Answering, Walk, walk};
use ohmward::text::span::Source;
use ohmward::wiring;

const CART: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");
const MOWER: &str = include_str!("../rules/machines/verge-mower/wiring.yaml");

fn read(text: &str) -> Netlist {
    wiring::read(&Source::new("wiring.yaml", text), &Catalogue::builtin()).unwrap().netlist
}

fn walked(fault: &str, seed: u64) -> Walk {
    walked_on(CART, fault, seed)
}

fn walked_on(text: &str, fault: &str, seed: u64) -> Walk {
    let fault = Fault::parse(fault).unwrap();
    walk(&read(text), &Catalogue::builtin(), &fault, Answering { seed, wrong: 0.0 }).unwrap().expect("it can be seen")
}

/// Machine and faults are inventions; that who has mended one fault looks for the next with the first out of the way is
/// common practice, no source.
#[test]
fn the_second_of_two_faults_is_found_when_the_first_is_put_right() {
    for (fault, seed) in [("P10a-1-old:open + P10a-8-new.b:open", 1), ("P10b-3-new.a:open + P10b-8-old.b:open", 10)] {
        let walk = walked(fault, seed);
        let trail = walk.trail.join("\n");
        assert!(walk.found && walk.one_class, "{fault}: {:?}\n{trail}", walk.group);
        assert!(trail.contains(": not cured") && trail.contains(": cured"), "{trail}");
    }
}

/// One fault is not made two of by a repair that was tried in vain.
#[test]
fn one_fault_stays_one_after_a_repair_in_vain() {
    let walk = walked("P10b-1-old~P10b-7-old:touching", 177);
    let trail = walk.trail.join("\n");
    assert!(trail.contains(": not cured"), "nothing was tried in vain\n{trail}");
    assert!(walk.found && walk.one_class, "{:?}\n{trail}", walk.group);
}

/// What keeps the starter from turning, and what should stop the engine and does not, shows in settings that nobody is
/// asked for while one fault is looked for.
#[test]
fn a_second_fault_that_shows_only_while_it_cranks_or_should_stop_is_found() {
    let pairs = [
        ("P1a-2-new.b:open + P1a-4-old.a:open", 12, "look at starter, key start"),
        ("P1a-3-old.a:open + light-switch-b_S3.a:resistive(2)", 11, "look at magneto"),
    ];
    for (fault, seed, look) in pairs {
        let walk = walked_on(MOWER, fault, seed);
        let trail = walk.trail.join("\n");
        assert!(walk.found && walk.one_class, "{fault}: {:?}\n{trail}", walk.group);
        let (before, after) = trail.split_once(": not cured").expect("nothing was tried in vain");
        assert!(after.contains(look), "{trail}");
        assert!(!before.contains("key start"), "{trail}");
    }
}
