//! Two faults at once, chased against a simulated machine that has both.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::Fault;
use ohmward::netlist::Netlist;
use ohmward::session::drill::{Answering, Walk, walk};
use ohmward::text::span::Source;
use ohmward::wiring;

const CART: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");

fn cart() -> Netlist {
    wiring::read(&Source::new("wiring.yaml", CART), &Catalogue::builtin()).unwrap().netlist
}

fn walked(fault: &str, seed: u64) -> Walk {
    let fault = Fault::parse(fault).unwrap();
    walk(&cart(), &Catalogue::builtin(), &fault, Answering { seed, wrong: 0.0 }).unwrap().expect("it can be seen")
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
