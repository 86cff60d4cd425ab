//! What is asked, in which order, and what becomes of it.

use super::*;
use crate::sketch::Answer;

fn start(complaint: &str) -> Start {
    let mut start = Start::new(Book::builtin(), Catalogue::builtin());
    start.complain(complaint);
    start
}

/// Answers by the beginning of a question; whatever is not named is not known. Gives the questions.
fn answer(start: &mut Start, answers: &[(&str, &str)]) -> Vec<String> {
    let mut asked = Vec::new();
    while let Some(question) = start.ask() {
        let known = answers.iter().find(|(key, _)| *key == question.key);
        start.answer(known.map_or(DONT_KNOW, |(_, choice)| choice)).unwrap();
        asked.push(question.key);
        assert!(asked.len() <= MOST, "{asked:?}");
    }
    asked
}

fn symptom(begun: &Begun) -> &SymptomInput {
    match &begun.inputs[0] {
        Input::Symptom(symptom) => symptom,
        other => panic!("{other:?}"),
    }
}

#[test]
fn one_moves_the_other_asks_first_what_they_share() {
    let mut start = start("the rev needle moves when I press the horn");
    let asked = answer(&mut start, &[("ground", "2"), ("how", "goes down and stays down meanwhile"), ("changed", "4")]);
    assert_eq!(asked[0], "ground");
    assert!(["changed", "how", "horn.button"].iter().all(|key| asked.contains(&key.to_string())), "{asked:?}");
    let begun = start.finish().unwrap();
    assert_eq!(begun.plan.circuits, ["rev-gauge", "horn"]);
    assert_eq!(begun.plan.answers["ground"], Answer { choice: "own".into(), how: How::Said });
    let symptom = symptom(&begun);
    assert_eq!((symptom.part.as_str(), &symptom.showings[..]), ("rev-gauge", &["moves-down".to_string()][..]));
    assert_eq!(symptom.change.as_ref().unwrap().0, "horn-push");
    assert!(begun.text.contains("G-horn: nose") && begun.text.contains("recent-work: ["), "{}", begun.text);
}

#[test]
fn what_the_complaint_says_is_not_asked() {
    let mut horn = start("horn is dead since the horn relay was changed, never worked");
    let asked = answer(&mut horn, &[]);
    assert!(!asked.contains(&"horn.relay".to_string()) && !asked.contains(&"changed".to_string()), "{asked:?}");
    let plan = horn.finish().unwrap().plan;
    assert_eq!(plan.answers["horn.relay"].choice, "relay");
    assert_eq!(plan.recent, ["circuits", "grounds"]);
}

#[test]
fn what_no_longer_matters_is_not_asked() {
    let side = "bilge-pump.float-side".to_string();
    assert!(answer(&mut start("the bilge pump is dead"), &[]).contains(&side));
    let by_hand = [("bilge-pump.switch", "only a switch by hand")];
    assert!(!answer(&mut start("the bilge pump is dead"), &by_hand).contains(&side));
}

#[test]
fn smoke_heat_fuel_and_water_come_first() {
    for complaint in
        ["smoke from the horn and it is dead", "petrol smell, fuel pump dead", "bilge pump dead, taking on water"]
    {
        let asked = start(complaint).ask().unwrap();
        assert!(asked.key.starts_with("safe."), "{complaint}: {}", asked.key);
        assert!(!asked.halts("yes, go on") && asked.halts("not yet") && asked.halts("don't know"));
        assert!(!asked.halts("1") && asked.halts("2") && !asked.halts("9"));
    }
    let horn = start("no smoke, the horn is dead").ask().unwrap();
    assert!(!horn.key.starts_with("safe.") && !horn.halts("don't know"));
    // In vapour no clamp is lifted: what fuel says takes the place of what smoke says.
    let mut both = start("the starter smokes and there is a fuel leak");
    assert_eq!(answer(&mut both, &[("safe.fuel", "yes, go on")])[0], "safe.fuel");
    assert!(!both.ask().is_some_and(|next| next.key.starts_with("safe.")));
    // Each danger is asked about by itself.
    let mut wet = start("taking on water");
    assert_eq!(wet.ask().unwrap().key, "safe.water");
    wet.answer("yes, go on").unwrap();
    wet.complain("and now it smokes");
    assert_eq!(wet.ask().unwrap().key, "safe.heat");
}

/// What each complaint makes the chase hear of heat: part and words; and of all else.
fn felt(complaint: &str, answers: &[(&str, &str)]) -> (Vec<String>, Vec<String>) {
    let mut start = start(complaint);
    answer(&mut start, &[&[("safe.heat", "yes, go on")], answers].concat());
    let inputs = start.finish().unwrap().inputs;
    let symptoms = inputs.into_iter().map(|input| match input {
        Input::Symptom(symptom) => symptom,
        other => panic!("{complaint}: {other:?}"),
    });
    let (felt, rest): (Vec<_>, Vec<_>) = symptoms.partition(SymptomInput::is_felt);
    let told = |list: Vec<SymptomInput>| list.iter().map(|s| format!("{} {}", s.part, s.showings.join("|"))).collect();
    (told(felt), told(rest))
}

#[test]
fn heat_and_smoke_stay_in_the_complaint() {
    let none: [String; 0] = [];
    let (hot, rest) = felt("smoke from the horn button wire and the horn is dead", &[]);
    assert_eq!((hot, rest), (vec!["horn-push smokes".to_string()], vec!["horn silent".to_string()]));
    let (hot, rest) = felt("main fuse gets very hot with the lights on", &[]);
    assert_eq!((&hot[..], &rest[..]), (&["main-fuse hot|smokes".to_string()][..], &none[..]));
    let (hot, rest) = felt("it smells burnt under the dash", &[("circuit", "the horn")]);
    assert_eq!((&hot[..], &rest[..]), (&["dash smokes".to_string()][..], &none[..]));
    let (hot, rest) = felt("plug at the hedlight melted", &[]);
    assert!(rest.is_empty() && hot.len() == 1 && hot[0].starts_with("head-lamp hot"), "{hot:?} {rest:?}");
    // No wire of this colour is on a machine that is only begun: somewhere it is.
    let (hot, rest) = felt("the orange wire melted", &[("circuit", "the horn")]);
    assert_eq!((&hot[..], &rest[..]), (&["somewhere hot|smokes".to_string()][..], &none[..]));
}

#[test]
fn an_engine_that_runs_on_with_the_key_off_is_stopped_by_the_key_and_turns() {
    let mut start = start("engine wont stop when i turn key off");
    let asked = answer(&mut start, &[]);
    assert!(!asked.contains(&"kill.stop".to_string()), "{asked:?}");
    let begun = start.finish().unwrap();
    let symptom = symptom(&begun);
    assert_eq!((symptom.part.as_str(), symptom.showings[0].as_str()), ("magneto", "sparks"));
    for wanted in [("stop-key", "off"), ("engine", "idling")] {
        assert!(symptom.set.contains(&(wanted.0.into(), wanted.1.into())), "{symptom:?}");
    }
}

#[test]
fn a_fuse_that_is_eaten_is_not_itself_the_fault() {
    let mut start = start("my garden tractor eats fuses");
    let asked = answer(&mut start, &[("fuse", "the lights"), ("when", "with: turn light-switch on")]);
    assert_eq!(asked[..2], ["fuse", "when"]);
    let begun = start.finish().unwrap();
    let symptom = symptom(&begun);
    assert_eq!((symptom.part.as_str(), symptom.showings[0].as_str()), ("F-lights", "blown"));
    assert!(symptom.set.contains(&("light-switch".into(), "on".into())), "{symptom:?}");
    assert_eq!(begun.inputs[1], Input::Fixed(vec!["F-lights".into()]));
}

#[test]
fn what_is_not_understood_is_asked_for_and_needs_no_answer() {
    let mut lost = start("xyzzy");
    assert!(!lost.understands("xyzzy") && lost.understands("horn"));
    assert_eq!(answer(&mut lost, &[])[0], "circuit");
    assert_eq!(lost.finish().unwrap().inputs, [Input::Unnamed]);
    let mut named = start("xyzzy");
    let asked = answer(
        &mut named,
        &[("circuit", "a gauge or a warning light"), ("which", "the fuel gauge"), ("what", "reads zero")],
    );
    assert_eq!(asked[..3], ["circuit", "which", "what"]);
    let begun = named.finish().unwrap();
    assert_eq!((symptom(&begun).part.as_str(), symptom(&begun).showings[0].as_str()), ("fuel-gauge", "zero"));
}

#[test]
fn back_asks_again_and_a_wrong_answer_is_refused() {
    let mut start = start("the horn is dead");
    let first = start.ask().unwrap();
    assert!(start.answer("perhaps").unwrap_err().contains("none of"));
    start.answer("1").unwrap();
    assert_ne!(start.ask().unwrap(), first);
    assert!(start.back() && !start.back());
    assert_eq!(start.ask().unwrap(), first);
}

#[test]
fn every_complaint_about_every_circuit_gives_a_file_that_can_be_read() {
    let book = Book::builtin();
    for sketch in book.circuits() {
        for part in &sketch.looks {
            // A magneto is not dead or alive: it sparks.
            let says =
                if part == "magneto" { "no spark".into() } else { format!("{} is dead", part.replace('-', " ")) };
            let mut start = start(&says);
            answer(&mut start, &[]);
            let begun = start.finish().unwrap();
            assert!(begun.plan.circuits.contains(&sketch.name), "{part}: {:?}", begun.plan);
            assert!(matches!(begun.inputs[0], Input::Symptom(_)), "{part}: {:?}", begun.inputs);
        }
    }
}
