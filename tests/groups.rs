//! Reference ambiguity groups of a small machine (an invention).

use ohmward::catalogue::Catalogue;
use ohmward::choice::reference::bench;
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::groups::groups;
use ohmward::diagnosis::machine::Machine;
use ohmward::diagnosis::runs::Runs;
use ohmward::diagnosis::suspect::GAUSS_TWO;
use ohmward::text::span::Source;
use ohmward::wiring;

/// Names of the faults in the group of this one, the first of each suspect.
fn group_of(fault: &str, meter: &str, sleeve: &str) -> Vec<String> {
    let text = format!(
        "machine: Small machine\n\
         bench: {{meter: [{meter}], leads: 3 m}}\n\
         chassis: {{frame: bare}}\n\
         places: {{box: easy, nose: easy}}\n\
         parts:\n  battery: lead-acid battery, 12 V, 14 Ah, box\n  key: toggle switch, box\n  horn: horn, 3.5 A, nose\n  \
         lamp: lamp, 12 V, 5 W, nose\n\
         wires:\n  - WB: battery.pos to key.a, red, 2.5 mm2, 0.5 m\n  - W1: key.b to S4, brown, 1 mm2, 1 m\n  \
         - W2: S4 to horn.feed, brown, 1 mm2, 1 m\n  - W3: key.b to lamp.feed, white, 1 mm2, 1 m\n  \
         - horn.ground to frame, black, 1 mm2, 0.5 m\n  - lamp.ground to frame, black, 1 mm2, 0.5 m\n  \
         - battery.neg to frame, black, 6 mm2, 0.5 m\n\
         sleeves:\n  S4: {sleeve}\n"
    );
    let catalogue = Catalogue::builtin();
    let read = match wiring::read(&Source::new("wiring.yaml", text.clone()), &catalogue) {
        Ok(read) => read,
        Err(problems) => panic!("{:?}\n{text}", problems.iter().map(|p| &p.text).collect::<Vec<_>>()),
    };
    let mut machine = Machine::new(read.netlist, catalogue);
    let suspects = enumerate(&machine, true);
    let mut runs = Runs::by(&suspects, &GAUSS_TWO);
    let bench = bench(&mut machine, &mut runs);
    let leaders = groups(&machine, &suspects, &GAUSS_TWO, &bench);
    let own = suspects.by_name(fault).unwrap_or_else(|| panic!("no suspect {fault}"));
    (0..leaders.len())
        .filter(|&other| leaders[other] == leaders[own])
        .flat_map(|other| suspects.list[other].members.iter().map(|member| member.name.clone()))
        .collect()
}

#[test]
fn two_joints_in_series_are_one_group_until_a_probe_comes_between_them() {
    let inside = group_of("W1:open", "volts", "crimp sleeve");
    assert!(inside.contains(&"W2:open".to_string()), "{inside:?}");
    let bare = group_of("W1:open", "volts", "crimp sleeve, nose");
    assert!(!bare.contains(&"W2:open".to_string()), "{bare:?}");
    assert!(bare.contains(&"W1:open".to_string()));
}

#[test]
fn what_the_bench_cannot_do_tells_nothing_apart() {
    // Without a volt meter a silent horn is all that there is.
    let blind = group_of("W1:open", "beep", "crimp sleeve, nose");
    assert!(blind.contains(&"W2:open".to_string()), "{blind:?}");
    // The lamp's own wire shows at the lamp.
    assert!(!blind.contains(&"W3:open".to_string()), "{blind:?}");
}
