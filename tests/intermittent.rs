//! Faults that come and go, chased against a simulated machine on which they do.

use ohmward::catalogue::Catalogue;
use ohmward::circuit::fault::{Fault, Single};
use ohmward::circuit::meter::stirs;
use ohmward::circuit::test::{Instrument, Reading, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::netlist::Netlist;
use ohmward::session::twin::Twin;
use ohmward::session::{Chase, Event, Input, SymptomInput, Verdict};
use ohmward::text::span::Source;
use ohmward::wiring;

const CART: &str = include_str!("../rules/machines/orchard-cart/wiring.yaml");

fn cart() -> Netlist {
    wiring::read(&Source::new("wiring.yaml", CART), &Catalogue::builtin()).unwrap().netlist
}

/// A chase that the simulated machine answers; what was wiggled on the way, and how it ended.
fn chased(netlist: &Netlist, fault: &str, seed: u64) -> (Vec<Test>, Verdict, usize) {
    let fault = Fault::parse(fault).unwrap();
    let mut twin = Twin::new(netlist, &Catalogue::builtin(), &fault, seed).unwrap();
    let symptom = twin.symptom().expect("it can be seen");
    assert!(symptom.comes_and_goes);
    let mut chase = Chase::new(Machine::new(netlist.clone(), Catalogue::builtin()));
    let mut said = chase.take(Input::Symptom(symptom));
    let (mut wiggled, mut asked) = (Vec::new(), 0);
    for _ in 0..60 {
        let input = match said.pop() {
            Some(Event::Ask { test, .. }) => {
                asked += 1;
                if test.disturb.is_some() {
                    wiggled.push((*test).clone());
                }
                twin.read(&test).map_or(Input::Skip, Input::Reading)
            }
            Some(Event::TryRepair { faults, .. }) => Input::Cured { cured: twin.cured_by(&faults), blown: Vec::new() },
            Some(Event::Question { .. }) => Input::Choice("don't know".into()),
            Some(Event::Verdict { verdict, .. }) => return (wiggled, *verdict, asked),
            other => panic!("{other:?}"),
        };
        said = chase.take(input);
    }
    panic!("no end in sight");
}

/// Machine and faults are inventions; that such faults are told by what stirs them is common practice, no source.
#[test]
fn what_comes_and_goes_is_found_and_its_cure_called_unproved() {
    let cart = cart();
    let (mut wiggled, mut asked, mut found) = (0, 0, 0);
    let planted =
        [("P9.4:open", "reseat:P9.4"), ("F3:resistive(8)", "clean:F3"), ("P10.8:resistive(5)", "reseat:P10.8")];
    for (fault, class) in planted {
        for seed in [5, 9, 13] {
            let (stirred, verdict, questions) = chased(&cart, &format!("{fault}/intermittent(0.5)"), seed);
            wiggled += stirred.len();
            asked += questions;
            found += usize::from(verdict.class == class && verdict.cured == Some(true));
            assert!(verdict.report.comes_and_goes || verdict.class != class, "{fault}, seed {seed}: {verdict:?}");
            for test in stirred {
                assert_eq!((test.instrument, test.open.len()), (Instrument::Watch, 0), "{test:?}");
            }
        }
    }
    assert!(found >= 8, "{found} of 9 found");
    assert!(wiggled >= 1, "nothing was ever wiggled");
    // (half of them are away when one comes with a meter)
    assert!(asked <= 9 * 11, "{asked} questions");
}

/// The chances of suspects whose name begins so.
fn chance(chase: &Chase, site: &str) -> f64 {
    let named = chase.suspects().list.iter().zip(&chase.chances().suspects);
    let own = |s: &ohmward::diagnosis::suspect::Suspect| s.members.iter().any(|member| member.name.starts_with(site));
    named.filter(|(suspect, _)| own(suspect)).map(|(_, p)| p).sum()
}

/// A horn that is silent now and then, and sounds while one place is wiggled: that place, and no other that is as far
/// from what was touched as before.
#[test]
fn what_changes_while_a_place_is_wiggled_lies_there() {
    let set =
        |pairs: &[(&str, &str)]| pairs.iter().map(|(c, s)| ((*c).to_owned(), (*s).to_owned())).collect::<Vec<_>>();
    let pressed = set(&[("key", "on"), ("horn-push", "pressed")]);
    let after = |at: &str, word: &str| {
        let mut chase = Chase::new(Machine::new(cart(), Catalogue::builtin()));
        let symptom = SymptomInput {
            part: "horn".into(),
            showings: vec!["silent".into()],
            set: pressed.clone(),
            comes_and_goes: true,
            ..SymptomInput::default()
        };
        let said = chase.take(Input::Symptom(symptom));
        assert!(matches!(said.last(), Some(Event::Ask { .. })), "{said:?}");
        let before = [chance(&chase, "P9."), chance(&chase, "P10.")];
        let mut test = Test { part: Some("horn".into()), ..Test::new(Instrument::Watch, &pressed) };
        test.disturb = Some(("wiggle".into(), at.into()));
        let said = chase.take(Input::Measured { test: Box::new(test), readings: vec![Reading::Showing(word.into())] });
        assert!(!said.iter().any(|event| matches!(event, Event::Error { .. })), "{said:?}");
        let now = [chance(&chase, "P9."), chance(&chase, "P10.")];
        [now[0] / before[0], now[1] / before[1]]
    };
    let [own, other] = after("P9", "sounds");
    assert!(own > 3.0 * other, "wiggled at P9: {own} and {other} times as likely");
    let [other, own] = after("P10", "sounds");
    assert!(own > 3.0 * other, "wiggled at P10: {own} and {other} times as likely");
    let [own, other] = after("P9", "silent");
    assert!(own < other, "nothing changes at P9: {own} and {other} times as likely");
}

/// "Unchanged" is what it showed last.
#[test]
fn nothing_changed_is_an_answer_while_something_is_wiggled() {
    let mut chase = Chase::new(Machine::new(cart(), Catalogue::builtin()));
    let mut said = chase.take(Input::Saw("the horn is silent now and then when I press it".into()));
    let look = loop {
        match said.pop() {
            Some(Event::Ask { test, screen, .. }) => break (test, screen),
            Some(_) => {}
            None => panic!("nothing is asked"),
        }
    };
    assert_eq!((look.0.instrument, look.0.part.as_deref(), &look.0.disturb), (Instrument::Watch, Some("horn"), &None));
    let why = chase.why().join(" ");
    assert!(why.contains("looked at first"), "{why}");
    let mut said = chase.take(Input::Reading(vec![Reading::Showing("sounds".into())]));
    let Some(Event::Ask { test, screen, .. }) = said.pop() else { panic!("{said:?}") };
    assert!(test.disturb.is_some(), "while it is away nothing but wiggling tells: {test:?}");
    assert_eq!(screen.words.first().map(String::as_str), Some("unchanged"));
    let before = chase.chances().clone();
    let said = chase.take(Input::Reading(vec![Reading::Showing("unchanged".into())]));
    assert!(!said.iter().any(|event| matches!(event, Event::Error { .. })), "{said:?}");
    let entry = chase.told().last().cloned();
    let sounds = vec![Reading::Showing("sounds".into())];
    assert!(matches!(entry, Some(ohmward::session::Told::Readings(_, readings)) if readings == sounds));
    assert_ne!(before, *chase.chances());
}

/// By the names in the orchard cart's file: what one takes hold of moves what sits on it, and not what is only called
/// like it.
#[test]
fn what_is_wiggled_is_told_by_whole_names() {
    let (cart, rules) = (cart(), Catalogue::builtin());
    let moves = |at: &str, site: &str| stirs("wiggle", at, &Single::new(site, "open", &[]), &cart, &rules);
    for (at, site) in [("P9", "P9.4"), ("P9", "P9a-4-new.b"), ("p9a", "P9a-4-new.b"), ("battery", "battery")] {
        assert!(moves(at, site), "{at} holds {site}");
    }
    for (at, site) in [("P9b", "P9a-4-new.b"), ("P1", "P10.4"), ("battery", "battery-neg_G4.b")] {
        assert!(!moves(at, site), "{at} does not hold {site}");
    }
}
