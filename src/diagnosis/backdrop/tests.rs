//! Pairs beside the same two faults solved by themselves.

use super::*;
use crate::catalogue::Catalogue;
use crate::circuit::meter::{How, Observed, observe};
use crate::circuit::test::{Instrument, Reading, Test};
use crate::diagnosis::backdrop::Righted;
use crate::diagnosis::entry;
use crate::diagnosis::enumerate::enumerate;
use crate::diagnosis::evidence::{Entry, Evidence};
use crate::diagnosis::memory::Happened;
use crate::diagnosis::posterior::Predicted;
use crate::text::span::Source;
use crate::wiring;

const CART: &str = include_str!("../../../rules/machines/orchard-cart/wiring.yaml");

/// The cart, its suspects and their points; what was put right in vain is the horn's feed at its plug, a few ohms.
fn opened() -> (Machine, Suspects, Runs, u32) {
    let rules = Catalogue::builtin();
    let cart = wiring::read(&Source::new("wiring.yaml", CART), &rules).unwrap().netlist;
    let machine = Machine::new(cart, rules);
    let suspects = enumerate(&machine, true);
    let mut runs = Runs::new(&suspects);
    let suspect = suspects.by_name("P10.8:resistive(2)").unwrap();
    let (first, end) = runs.range[suspect];
    let point = usize::midpoint(first, end) as u32;
    runs.memory.push(Happened::Mended);
    let righted = Righted { point, from: runs.memory.now(), missed: true };
    runs.open(&machine.netlist, &machine.catalogue.weights, &suspects, righted);
    (machine, suspects, runs, point)
}

fn volts(red: &str, black: &str) -> Test {
    let set = [("key", "on"), ("horn-push", "pressed")].map(|(c, s)| (c.to_string(), s.to_string()));
    let (red, black) = (Some(red.to_string()), Some(black.to_string()));
    Test { red, black, ..Test::new(Instrument::VoltsDc, &set.to_vec()) }
}

/// A reading of each of these tests before the repair, and one after it.
fn read(machine: &mut Machine, tests: &[Test]) -> Evidence {
    let mut evidence = Evidence::default();
    for epoch in 0..2 {
        for test in tests {
            let reading = match test.instrument {
                Instrument::Watch => Reading::Showing("weak".into()),
                _ => Reading::Value { value: 9.0, step: Some(0.01) },
            };
            let placement = evidence.next_placement();
            for entry in entry::readings(machine, test, &[reading], placement).unwrap() {
                evidence.push(Entry { epoch, ..entry });
            }
        }
    }
    evidence
}

#[test]
fn a_pair_reads_as_a_circuit_with_both_in_it_until_one_is_put_right() {
    let (mut machine, suspects, mut runs, righted) = opened();
    let tests = [
        volts("horn.feed", "frame"),
        volts("P10b.8", "horn-push.a"),
        volts("rev-gauge.feed", "rev-gauge.ground"),
        Test {
            instrument: Instrument::Ohms,
            set: Vec::new(),
            open: vec!["battery".into()],
            ..volts("P10a.8", "P10b.8")
        },
    ];
    let mut evidence = read(&mut machine, &tests);
    let mended = (0..runs.backdrops.len()).find(|&at| !runs.backdrops[at].then.is_empty()).unwrap();
    let first = runs.fault_at(&suspects, righted, runs.points[righted as usize].severity);
    let (mut worst, mut moved) = (0.0_f64, 0);
    for own in (0..runs.alone()).step_by(61) {
        let suspect = &suspects.list[runs.points[own].suspect];
        // (what was put right in vain is nothing twice, and what scatters is weighed in several ways)
        if suspect.special() || runs.points[own].patience != 0.0 || suspect.class == "reseat:P10.8" {
            continue;
        }
        let second = suspect.fault_at(runs.points[own].severity);
        let both = Fault { singles: first.singles.iter().chain(&second.singles).cloned().collect() };
        let point = mended * runs.alone() + own;
        for (at, test) in tests.iter().enumerate() {
            for (index, fault) in [(at, &both), (tests.len() + at, &second)] {
                evidence.predict(&mut machine, &suspects, &mut runs, index, point);
                let Some(&Predicted::Number { mean, own: spread, .. }) = evidence.predicted(index, point) else {
                    continue;
                };
                let Machine { netlist, catalogue, sim, .. } = &mut machine;
                let seen = observe(sim, netlist, catalogue, test, fault, How::Ports).unwrap();
                // (of poor contacts an ohmmeter may find any sound: another way is then what is predicted)
                let Observed::Number { value, .. } = seen[0].what else { continue };
                if test.instrument == Instrument::Ohms && mean < value {
                    continue;
                }
                worst = worst.max((mean - value).abs() / spread);
                moved += usize::from(index == at && (value - 9.0).abs() > 0.5);
            }
        }
    }
    assert!(worst < 0.05, "{worst} of the meter's spread apart");
    assert!(moved > 100, "{moved}");
}

#[test]
fn chances_of_second_faults_sum_to_what_the_rules_say() {
    let (machine, suspects, runs, righted) = opened();
    let weights = &machine.catalogue.weights.second;
    let at = runs.points[righted as usize];
    let one = suspects.list[at.suspect].prior * at.ln_share.exp();
    let total = |backdrop: usize| -> f64 {
        let points = &runs.points[backdrop * runs.alone()..(backdrop + 1) * runs.alone()];
        points.iter().map(|point| suspects.list[point.suspect].prior * point.ln_share.exp()).sum()
    };
    assert!((total(0) - 1.0).abs() < 1e-9);
    let all: Vec<f64> = (1..runs.backdrops.len()).map(total).collect();
    let mended: f64 = (1..runs.backdrops.len()).filter(|&at| !runs.backdrops[at].then.is_empty()).map(total).sum();
    // Anywhere but in nothing broken and in the first itself, and all of what lies beside but the first.
    let [anywhere, beside] = ["anywhere", "beside"].map(|key| weights[key]);
    let barred = machine.catalogue.weights.specials["nothing-broken"];
    assert!(mended < one * (anywhere * (1.0 - barred) + beside), "{mended} {one}");
    assert!(mended > one * (anywhere * (0.9 - barred) + 0.8 * beside), "{mended} {one}");
    let missed = all.iter().sum::<f64>() - mended;
    assert!((missed / mended - weights["missed"]).abs() < 1e-9);
}

#[test]
fn a_triple_lets_one_fault_after_the_other_go() {
    let (machine, suspects, mut runs, first) = opened();
    let mended = runs.backdrops.iter().position(|b| !b.then.is_empty()).unwrap();
    let suspect = suspects.by_name("G4:resistive(2)").unwrap();
    let own = runs.range[suspect].0 as u32;
    let second = runs.at(mended, own);
    runs.memory.push(Happened::Mended);
    let from = runs.memory.now();
    runs.open(&machine.netlist, &machine.catalogue.weights, &suspects, Righted { point: second, from, missed: true });
    let triple = runs.backdrops.iter().rposition(|b| !b.then.is_empty()).unwrap();
    let third = runs.at(triple, runs.range[suspects.by_name("F1:resistive(2)").unwrap()].0 as u32);
    let there: Vec<&[u32]> = (0..=2).map(|epoch| runs.besides_at(third, epoch)).collect();
    assert_eq!(there, [&[first, own][..], &[own][..], &[][..]]);
    // No fourth.
    let count = runs.backdrops.len();
    runs.open(
        &machine.netlist,
        &machine.catalogue.weights,
        &suspects,
        Righted { point: third, from: from + 1, missed: true },
    );
    assert_eq!(runs.backdrops.len(), count);
}

/// Across the contact that was put right an ohmmeter reads its ohms, whatever else is wrong elsewhere: by its severity, not
/// by that of the suspect.
#[test]
fn ohms_of_what_else_is_wrong_go_by_its_own_severity() {
    let (mut machine, suspects, mut runs, righted) = opened();
    let ohms = runs.points[righted as usize].severity.unwrap();
    let set = Test { instrument: Instrument::Ohms, set: Vec::new(), ..volts("P10a.8", "P10b.8") };
    let test = Test { open: vec!["battery".into()], ..set };
    let reading = [Reading::Value { value: (ohms * 10.0).round() / 10.0, step: Some(0.1) }];
    let mut evidence = Evidence::default();
    entry::readings(&mut machine, &test, &reading, 0).unwrap().into_iter().for_each(|entry| evidence.push(entry));
    let mended = runs.backdrops.iter().position(|b| !b.then.is_empty()).unwrap();
    let elsewhere = runs.range[suspects.by_name("G4:resistive(2)").unwrap()].0;
    let point = mended * runs.alone() + elsewhere;
    evidence.predict(&mut machine, &suspects, &mut runs, 0, point);
    let Some(Predicted::Number { mean, severity, shared, .. }) = evidence.predicted(0, point) else {
        panic!("no number")
    };
    assert!((mean - ohms).abs() < 0.1 * ohms, "{mean} for {ohms}");
    assert_eq!(*severity, Some(0.0));
    let smear = runs.points[righted as usize].smear;
    let moved = shared.iter().find(|(id, _)| *id == crate::diagnosis::lean::shared_by(0)).map_or(0.0, |(_, by)| *by);
    assert!((moved - ohms * smear).abs() < 0.05 * ohms * smear, "{moved} for {}", ohms * smear);
}
