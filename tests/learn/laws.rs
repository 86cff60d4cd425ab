//! Properties that hold for every switch there could be.

use super::switches::{self, Dice, Switch};
use super::{all_pairs, assert_true, begin, drive, honest};
use ohmward::session::learn::element::What;
use ohmward::session::learn::{Heard, Learn, Start, Wait, Why, journal, said};
use proptest::prelude::*;

fn odd(seed: u64) -> (Switch, Dice) {
    let mut dice = Dice::new(seed);
    let wires = 2 + dice.below(8);
    (switches::any(&mut dice, wires), dice)
}

/// Diodes and loads between wires that no position joins and no other of them touches in a ring.
fn with_elements(switch: &mut Switch, dice: &mut Dice, diodes: bool) {
    for at in 0..switch.positions.len() {
        if dice.chance(0.4) {
            switch.positions[at].1.clear();
        }
    }
    let (u, v) = (dice.below(switch.wires), dice.below(switch.wires));
    if u != v && diodes {
        switch.diodes.push((u, v));
    } else if u != v {
        switch.loads.push((u, v, [3.0, 6.0, 24.0, 220.0, 4700.0][dice.below(5)]));
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_is_learnt_is_what_is_there_and_never_takes_more_than_all_pairs(seed: u64, clips in 0usize..8) {
        let (switch, _) = odd(seed);
        let mut learn = begin(&switch, clips, true);
        drive(&mut learn, |ask| honest(&switch, ask));
        assert_true(&learn, &switch);
        prop_assert!(learn.touches() <= all_pairs(&switch), "{} touches: {switch:?}", learn.touches());
    }

    #[test]
    fn proving_both_ways_takes_no_more_than_all_pairs_with_the_leads_swapped_where_they_beep(seed: u64) {
        let (switch, _) = odd(seed);
        let mut learn = begin(&switch, 0, false);
        drive(&mut learn, |ask| honest(&switch, ask));
        assert_true(&learn, &switch);
        let groups: usize = switch.positions.iter().map(|(_, groups)| groups.len()).sum();
        prop_assert!(learn.touches() <= all_pairs(&switch) + groups, "{} touches: {switch:?}", learn.touches());
    }

    #[test]
    fn a_diode_is_no_contact(seed: u64, clips in 0usize..5) {
        let (mut switch, mut dice) = odd(seed);
        with_elements(&mut switch, &mut dice, true);
        let mut learn = begin(&switch, clips, false);
        drive(&mut learn, |ask| honest(&switch, ask));
        assert_true(&learn, &switch);
        for element in &learn.table().elements {
            let fits = |end: &(usize, usize)| element.ends.contains(end);
            prop_assert!(element.what == What::Diode && switch.diodes.iter().any(fits), "{element:?} {switch:?}");
        }
    }

    #[test]
    fn a_load_is_no_contact_and_its_ohms_are_kept(seed: u64, clips in 0usize..5) {
        let (mut switch, mut dice) = odd(seed);
        with_elements(&mut switch, &mut dice, false);
        let mut learn = begin(&switch, clips, false);
        drive(&mut learn, |ask| honest(&switch, ask));
        assert_true(&learn, &switch);
        let table = learn.table();
        let parted = |&(u, v, _): &(usize, usize, f64)| (0..switch.positions.len()).any(|p| { let of = switch.group(p); of[u] != of[v] });
        let met: Vec<_> = switch.loads.iter().filter(|load| parted(load)).collect();
        prop_assert_eq!(table.elements.len(), met.len(), "{:?} {:?}", table.elements, switch);
        for (element, (u, v, ohms)) in table.elements.iter().zip(met) {
            let ends = element.ends.contains(&(*u, *v)) || element.ends.contains(&(*v, *u));
            let What::Load(met) = element.what else { panic!("{element:?}") };
            prop_assert!(ends && (met / ohms - 1.0).abs() < 0.01 && element.always, "{element:?} {switch:?}");
        }
    }

    #[test]
    fn one_wrong_answer_is_named_or_stays_where_it_was_given(seed: u64, which in 0usize..40) {
        let (switch, _) = odd(seed);
        let mut learn = begin(&switch, 0, false);
        let (mut count, mut named, mut wrong) = (0, false, None);
        drive(&mut learn, |ask| {
            named |= matches!(ask.why, Why::Again(_));
            count += 1;
            let heard = honest(&switch, ask);
            if count == which {
                wrong = Some(ask.position);
                return if heard.is_contact() { Heard::Silent } else { Heard::Beep };
            }
            heard
        });
        if named || wrong.is_none() {
            // The truth is said at the second time of asking.
            assert_true(&learn, &switch);
        }
        for at in (0..switch.positions.len()).filter(|at| Some(*at) != wrong) {
            let of = switch.group(at);
            let known = learn.known(at);
            prop_assert!((0..switch.wires).all(|a| (0..a).all(|b| known.are_joined(a, b) == (of[a] == of[b]))));
        }
    }

    #[test]
    fn answers_at_random_come_to_an_end(seed: u64, clips in 0usize..6, contacts_only: bool) {
        let (switch, mut dice) = odd(seed);
        let mut learn = begin(&switch, clips, contacts_only);
        drive(&mut learn, |_| match dice.below(6) {
            0 | 1 => Heard::Beep,
            2 | 3 => Heard::Silent,
            4 => Heard::Ohms([0.0, 0.3, 5.0, 60.0, 5e7][dice.below(5)]),
            _ => Heard::Skipped,
        });
        let table = learn.table();
        prop_assert!(table.is_whole() && !table.rows().is_empty());
    }

    #[test]
    fn whoever_skips_or_tells_always_the_same_is_let_go(seed: u64, clips in 0usize..6, which in 0usize..4) {
        let (switch, mut dice) = odd(seed);
        let mut learn = begin(&switch, clips, false);
        let stubborn = [Heard::Skipped, Heard::Beep, Heard::Silent, Heard::Ohms(7.0)][which];
        // A gang that beeps and of which nothing is tried any more; all else as it is said.
        drive(&mut learn, |ask| match ask.touch.one() {
            None if dice.chance(0.7) => Heard::Beep,
            _ => stubborn,
        });
        prop_assert!(learn.table().is_whole());
    }

    #[test]
    fn any_words_in_any_order_are_taken_or_refused(lines in prop::collection::vec("[-a-z0-9 ,.*/()é]{0,24}", 0..40)) {
        let mut learn = Learn::new(Start { name: "x".into(), ..Start::default() });
        for line in lines {
            match learn.waiting().clone() {
                Wait::Question(question) => {
                    let word = if line.len() % 3 == 0 { question.default.unwrap_or("red, blue, grey".into()) } else { line };
                    let _ = learn.answer(question.key.word(), &word);
                    let _ = learn.answer(question.key.word(), "yes, wire side");
                }
                Wait::Touch(_) => {
                    let wires = learn.setup().wires.clone();
                    if let Ok(said::Said::Heard(heard)) = said::read(&line, &wires, 0.2) {
                        let _ = learn.take(heard);
                    } else if line.len() % 5 == 0 {
                        let _ = learn.back();
                    } else {
                        let _ = learn.met(line.len() % 4, line.len() % 3, Heard::Beep);
                    }
                }
                Wait::Done => drop(learn.all_silent()),
            }
        }
        let _ = learn.table().rows();
    }

    #[test]
    fn a_journal_cut_anywhere_goes_on_with_what_is_whole(seed: u64, cut in 0.0f64..1.0) {
        let (switch, _) = odd(seed);
        let mut learn = begin(&switch, 0, false);
        drive(&mut learn, |ask| honest(&switch, ask));
        let mut text = journal::header(learn.start(), "t") + "\n";
        let head = text.len();
        for step in learn.steps() {
            text += &(journal::line(step, "t") + "\n");
        }
        let at = head + ((text.len() - head) as f64 * cut) as usize;
        let kept = journal::read(&text.as_bytes()[..at]).unwrap();
        prop_assert_eq!(&learn.steps()[..kept.steps.len()], &kept.steps[..]);
        prop_assert!(text.as_bytes()[..kept.whole].ends_with(b"\n") && kept.damaged.is_some() == (kept.whole < at));
        let mut again = Learn::again(kept.start, kept.steps);
        while let Wait::Question(question) = again.waiting().clone() {
            let said = learn.steps().iter().find_map(|step| match step {
                ohmward::session::learn::Step::Said(key, text) if *key == question.key => Some(text.clone()),
                _ => None,
            });
            again.answer(question.key.word(), &said.unwrap()).unwrap();
        }
        drive(&mut again, |ask| honest(&switch, ask));
        prop_assert_eq!(again.table(), learn.table());
    }

    #[test]
    fn a_journal_of_any_bytes_is_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..200), head: bool) {
        let mut text = if head { (journal::header(&Start::default(), "t") + "\n").into_bytes() } else { Vec::new() };
        text.extend(bytes);
        let _ = journal::read(&text);
    }
}

#[test]
fn taking_back_asks_the_same_again() {
    let (switch, _) = odd(5);
    let mut learn = begin(&switch, 2, false);
    for _ in 0..200 {
        let Wait::Touch(ask) = learn.waiting().clone() else { break };
        let before = learn.waiting().clone();
        learn.take(Heard::Beep).unwrap();
        learn.back().unwrap();
        assert_eq!(learn.waiting(), &before);
        learn.take(honest(&switch, &ask)).unwrap();
    }
    assert_true(&learn, &switch);
}

#[test]
fn a_beep_that_does_not_fit_is_named_and_what_is_doubtful_is_asked_again() {
    let switch = Switch { wires: 4, positions: vec![("on".into(), vec![vec![0, 1, 2]])], ..Switch::default() };
    let mut learn = begin(&switch, 0, true);
    learn.met(0, 1, Heard::Beep).unwrap();
    learn.met(1, 2, Heard::Beep).unwrap();
    learn.met(0, 2, Heard::Silent).unwrap();
    let Wait::Touch(ask) = learn.waiting().clone() else { panic!() };
    let Why::Again(doubt) = &ask.why else { panic!("{ask:?}") };
    assert_eq!((doubt.silent, doubt.chain.as_slice()), ((0, 2), &[0, 1, 2][..]));
    assert_eq!(ask.touch.one(), Some((0, 2)));
    learn.take(Heard::Beep).unwrap();
    drive(&mut learn, |ask| honest(&switch, ask));
    assert_true(&learn, &switch);
    assert!(learn.table().notes.is_empty());
    // Said twice it is believed, and told as what it may be.
    let mut learn = begin(&switch, 0, true);
    learn.met(0, 1, Heard::Beep).unwrap();
    learn.met(1, 2, Heard::Beep).unwrap();
    learn.met(0, 2, Heard::Silent).unwrap();
    drive(&mut learn, |ask| if ask.touch.one() == Some((0, 2)) { Heard::Silent } else { Heard::Beep });
    assert!(learn.table().notes.iter().any(|note| note.contains("worn")), "{:?}", learn.table());
}

#[test]
fn a_diode_that_beeps_one_way_is_found_and_what_it_hid_is_asked_again() {
    // 0 -|>|- 1 and 1 joined to 2: from 0 everything beeps.
    let switch = Switch {
        wires: 4,
        positions: vec![("on".into(), vec![vec![1, 2]]), ("off".into(), vec![])],
        diodes: vec![(0, 1)],
        ..Switch::default()
    };
    let mut learn = begin(&switch, 0, false);
    drive(&mut learn, |ask| honest(&switch, ask));
    assert_true(&learn, &switch);
    let table = learn.table();
    assert_eq!(table.met_elements(), ["diode: passes from w0 (red lead) to w1"]);
    let rows = table.part_rows("multi-way switch", &|_| false);
    assert!(rows.contains(&("parts", "unknown-diode-1: diode".into())));
    assert!(rows.contains(&("wires", "unknown.w0 to unknown-diode-1.anode, 0.05 m, beep".into())), "{rows:?}");
}

/// A diode from one group to another in one position, and within a group of another. Of wires held together the one
/// left over is not what beeped, if it was the diode that made a silence look like two groups apart.
#[test]
fn a_diode_between_two_groups_is_told_from_a_contact() {
    let groups = |list: &[&[usize]]| list.iter().map(|group| group.to_vec()).collect();
    let switch = Switch {
        wires: 8,
        positions: vec![
            ("p0".into(), groups(&[&[4, 5, 6], &[1, 2, 7], &[0, 3]])),
            ("p1".into(), groups(&[&[1, 2], &[5, 6]])),
            ("p2".into(), groups(&[])),
            ("p3".into(), groups(&[&[3, 6, 7], &[1, 2], &[0, 4, 5]])),
        ],
        diodes: vec![(5, 6)],
        loads: Vec::new(),
    };
    for clips in 0..8 {
        let mut learn = begin(&switch, clips, false);
        drive(&mut learn, |ask| honest(&switch, ask));
        assert_true(&learn, &switch);
    }
}
