//! Every sketch in every variant gives a wiring file that the loader takes.

use super::*;
use crate::catalogue::Catalogue;
use crate::wiring;

fn wiring_of(plan: &Plan, book: &Book) -> String {
    let text = plan.text(book);
    let source = Source::new("wiring.yaml", text.clone());
    match wiring::read(&source, &Catalogue::builtin()) {
        Ok(reading) => assert!(reading.warnings.is_empty(), "{}\n{text}", reading.warnings[0].render(&source)),
        Err(problems) => {
            let told: Vec<String> = problems.iter().map(|p| p.render(&source)).collect();
            panic!("{}\n{text}", told.join("\n"));
        }
    }
    text
}

#[test]
fn the_built_in_book_is_whole() {
    let book = Book::with(&[]).unwrap_or_else(|troubles| {
        let told: Vec<String> = troubles.iter().map(|(source, problem)| problem.render(source)).collect();
        panic!("{}", told.join("\n"))
    });
    assert!(book.circuits().count() >= 24);
    for (_, circuits) in &book.usual {
        circuits.iter().for_each(|name| assert!(book.sketches.contains_key(name), "{name}"));
    }
}

#[test]
fn every_variant_of_every_circuit_is_a_wiring_file() {
    let book = Book::builtin();
    let mut seen = 0;
    for sketch in book.circuits() {
        let mut plans = vec![Plan { circuits: vec![sketch.name.clone()], complaint: "x".into(), ..Plan::default() }];
        for (name, ask) in &sketch.asks {
            let key = Plan::key(&sketch.name, name, ask);
            plans = plans
                .iter()
                .flat_map(|plan| {
                    ask.choices.keys().map(|choice| plan.with(&key, choice, How::Said)).collect::<Vec<_>>()
                })
                .collect();
        }
        for plan in plans {
            let text = wiring_of(&plan, &book);
            assert!(!text.contains('<'), "{text}");
            assert_eq!(Plan::untouched(&book, &text).as_ref(), Some(&plan), "{text}");
            for part in &sketch.looks {
                assert!(text.contains(&format!("  {part}: ")), "{} shows by {part}\n{text}", sketch.name);
            }
            seen += 1;
        }
    }
    assert!(seen > 150, "{seen}");
}

#[test]
fn all_circuits_together_are_one_machine() {
    let book = Book::builtin();
    let plan = Plan { circuits: book.circuits().map(|s| s.name.clone()).collect(), ..Plan::default() };
    wiring_of(&plan, &book);
}

#[test]
fn a_file_that_somebody_changed_is_no_longer_ours() {
    let book = Book::builtin();
    let plan = Plan { circuits: vec!["horn".into()], complaint: "the horn is dead".into(), ..Plan::default() };
    let plan = plan.with("horn.button", "ground", How::Said);
    let text = plan.text(&book);
    assert!(text.contains("horn.ground to horn-push.a, ?\n") && text.contains("  horn: horn, 3.5 A, nose\n"), "{text}");
    let read = Plan::untouched(&book, &text).unwrap();
    assert_eq!((read.complaint.as_str(), &read.circuits[..]), ("the horn is dead", &["horn".to_string()][..]));
    assert_eq!(Plan::untouched(&book, &text.replace("3.5 A", "4 A")), None);
    assert_eq!(Plan::untouched(&book, "machine: Mine\n"), None);
}

#[test]
fn a_broken_sketch_is_refused_with_every_problem() {
    let text = "sketch: bell\nis: the bell\nlooks: [bell]\nasks: {feed: {like: fead}}\nrows:\n  - when: {sied: a}\n    prats: {bell: horn, nose}\n";
    let troubles = Book::with(&[Source::new("sketches/bell.yaml", text)]).unwrap_err();
    let told: Vec<String> = troubles.iter().map(|(_, p)| p.text.clone()).collect();
    for word in ["source", "fead", "sied", "prats"] {
        assert!(told.iter().any(|t| t.contains(word)), "{word}: {told:?}");
    }
}
