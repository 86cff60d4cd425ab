//! Complaints of what a sound machine does just so: nothing has to be broken, and that is asked before anything is measured.
//!
//! That an engine computer's pin only pulls down, so that a tach shows nothing until 10 kohm pull it up:
//! gtm.perkinsons.com, Tach pull-up resistor. The machine is an invention.

use ohmward::catalogue::Catalogue;
use ohmward::diagnosis::machine::Machine;
use ohmward::session::{Chase, Event, Input, VerdictReason};
use ohmward::text::span::Source;
use ohmward::wiring;

const KIT: &str = "\
parts:
  battery: lead-acid battery, 12 V, 50 Ah
  key: toggle switch
  fuse: fuse, 5 A
  computer: engine computer
  tach: pulse gauge
  lamp: lamp, 21 W
  lamp-switch: toggle switch
wires:
  - battery.pos to fuse.in, red, 1.5 mm2, 1 m
  - fuse.out to key.a, red, 1.5 mm2, 1 m
  - key.b to tach.feed, green, 1.5 mm2, 1 m
  - fuse.out to lamp-switch.a, red, 1.5 mm2, 1 m
  - lamp-switch.b to lamp.feed, yellow, 1.5 mm2, 1 m
  - lamp.ground to battery.neg, black, 1.5 mm2, 1 m
  - tach.signal to computer.signal, white, 1.5 mm2, 1 m
  - tach.ground to battery.neg, black, 1.5 mm2, 1 m
  - computer.ground to battery.neg, black, 1.5 mm2, 1 m
";

fn said(text: &str) -> (Chase, Vec<Event>) {
    let netlist = wiring::read(&Source::new("wiring.yaml", KIT), &Catalogue::builtin()).unwrap().netlist;
    let mut chase = Chase::new(Machine::new(netlist, Catalogue::builtin()));
    let events = chase.take(Input::Saw(text.into()));
    (chase, events)
}

fn nothing(chase: &Chase) -> f64 {
    let list = &chase.suspects().list;
    let at = list.iter().position(|suspect| suspect.class == "nothing-broken").unwrap();
    chase.chances().suspects[at]
}

#[test]
fn what_never_did_otherwise_is_wired_so() {
    let (mut chase, events) = said("the tach does nothing with the key on and the engine idling");
    let Some(Event::Question { text, choices, .. }) = events.last() else { panic!("{events:?}") };
    assert!(text.contains("sound machine") && choices.len() == 3, "{text}: {choices:?}");
    assert!(nothing(&chase) > 0.4, "{}", nothing(&chase));
    let never = choices[1].clone();
    let events = chase.take(Input::Choice(never));
    let Some(Event::Verdict { verdict, .. }) = events.last() else { panic!("{events:?}") };
    assert_eq!((&verdict.reason, verdict.class.as_str()), (&VerdictReason::NothingVisible, "nothing-broken"));
    let why = verdict.report.why.join("; ");
    assert!(why.contains("pulls computer.signal to ground") && why.contains("10 kohm"), "{why}");
}

#[test]
fn what_did_otherwise_once_is_sought() {
    let (mut chase, events) = said("the tach does nothing with the key on and the engine idling");
    let Some(Event::Question { choices, .. }) = events.last() else { panic!("{events:?}") };
    let did = choices[0].clone();
    let events = chase.take(Input::Choice(did));
    assert!(!matches!(events.last(), Some(Event::Question { .. })), "{events:?}");
    assert!(nothing(&chase) < 0.2, "{}", nothing(&chase));
    // Taken back it is asked again.
    let events = chase.take(Input::Back);
    assert!(matches!(events.last(), Some(Event::Question { .. })), "{events:?}");
}

#[test]
fn what_a_sound_machine_does_otherwise_is_measured_at_once() {
    let (chase, events) = said("the lamp is dark with the lamp-switch on");
    assert!(matches!(events.last(), Some(Event::Ask { .. })), "{events:?}");
    assert!(nothing(&chase) < 0.1, "{}", nothing(&chase));
}
