//! `learn`: what is learnt is what is there, in few touches.

mod command;
mod drill;
mod laws;
mod optimum;
mod switches;

use ohmward::session::learn::{Ask, Heard, Learn, Start, Wait};
use switches::Switch;

/// Wires by number, positions by name; everything said, nothing touched yet.
pub fn begin(switch: &Switch, clips: usize, contacts_only: bool) -> Learn {
    let mut learn = Learn::new(Start { name: "unknown".into(), clips, contacts_only, ..Start::default() });
    let wires: Vec<String> = (0..switch.wires).map(|wire| format!("w{wire}")).collect();
    let positions: Vec<&str> = switch.positions.iter().map(|(name, _)| name.as_str()).collect();
    for (key, text) in [
        ("plug", "none".to_owned()),
        ("wires", wires.join(", ")),
        ("positions", positions.join(", ")),
        ("held", "none".to_owned()),
        ("safe", "yes".to_owned()),
        ("tips", "0".to_owned()),
    ] {
        learn.answer(key, &text).unwrap_or_else(|why| panic!("{key}: {why}"));
    }
    learn
}

/// Answers until nothing is asked any more.
pub fn drive(learn: &mut Learn, mut answer: impl FnMut(&Ask) -> Heard) {
    let mut asked = 0;
    while let Wait::Touch(ask) = learn.waiting().clone() {
        asked += 1;
        assert!(asked < 5000, "it asks for ever: {ask:?}");
        learn.take(answer(&ask)).unwrap();
    }
    assert_eq!(learn.waiting(), &Wait::Done);
}

/// What a person at the bench says: beep or silent, and the number where it is asked for or shown.
pub fn honest(switch: &Switch, ask: &Ask) -> Heard {
    match switch.hear(ask.position, &ask.touch) {
        Heard::Beep if ask.ohms && ask.touch.one().is_some() => Heard::Ohms(0.1),
        heard => heard,
    }
}

/// Does the table say of each position what is joined in it?
pub fn assert_true(learn: &Learn, switch: &Switch) {
    let table = learn.table();
    assert!(table.is_whole());
    for (at, row) in table.positions.iter().enumerate() {
        let groups = row.joined.as_ref().unwrap();
        let of = switch.group(at);
        for a in 0..switch.wires {
            for b in 0..a {
                let joined = groups.iter().any(|group| group.contains(&a) && group.contains(&b));
                assert_eq!(joined, of[a] == of[b], "w{a} and w{b} in {at} of {switch:?}: {}", table.rows());
            }
        }
    }
}

pub fn all_pairs(switch: &Switch) -> usize {
    switch.wires * (switch.wires - 1) / 2 * switch.positions.len()
}
