//! The cases as a table: `cargo test report_of_cases -- --ignored --nocapture`.

use super::*;
use ohmward::circuit::fault::Fault;
use ohmward::session::hear::{Heard, hear};
use ohmward::session::twin::Twin;
use ohmward::session::words::SymptomTable;

/// Seed of the simulated machine that answers what the source does not.
const SEED: u64 = 1;
/// A chase that asks more is given up.
const MOST: usize = 30;

/// Is what was said understood as it stands? That it is asked back what is meant is not yet understanding.
fn understood(case: &Case) -> &'static str {
    let (machine, table) = (case.machine(), SymptomTable::builtin());
    let said = case.list("/said");
    let texts = said.iter().filter_map(|said| said.as_str().or(said["text"].as_str()));
    let heard: Vec<Heard> = texts.map(|text| hear(&machine, &table, text)).collect();
    match () {
        () if heard.iter().any(|h| h.symptoms.is_empty() && h.question.is_none()) => "no",
        () if heard.iter().any(|h| h.question.is_some()) => "asks which",
        () => "yes",
    }
}

/// Where the first of the accepted suspects stands, from 1.
fn rank(case: &Case, chase: &mut Chase) -> Option<usize> {
    let [faults, classes, patterns] = ["faults", "classes", "patterns"].map(|w| case.texts(&format!("/accept/{w}")));
    let good = |line: &ohmward::session::event::SuspectLine| {
        faults.contains(&line.fault) || classes.contains(&line.class) || patterns.contains(&line.pattern)
    };
    chase.suspect_lines().iter().position(good).map(|at| at + 1)
}

fn placed(case: &Case, rank: Option<usize>) -> String {
    match rank {
        Some(rank) if rank <= FIRST => format!("yes, {rank}"),
        Some(rank) => format!("no, {rank}"),
        None if ["faults", "classes", "patterns"].iter().all(|w| case.texts(&format!("/accept/{w}")).is_empty()) => {
            "no cause stated".into()
        }
        None => "no".into(),
    }
}

/// What waits for an answer, in a few words.
fn waits(chase: &Chase) -> String {
    match chase.waiting() {
        Some(Event::Ask { test, .. }) => ohmward::session::ask::short_test(&test),
        Some(Event::TryRepair { class, .. }) => format!("try {class}"),
        Some(Event::Question { text, .. }) => text,
        _ => "nothing".into(),
    }
}

/// After what the source says, a simulated machine with the first accepted fault answers to the end: is the fault in the
/// final group, or cured?
fn ended(case: &Case) -> String {
    let Ok(mut chase) = case.chase() else { return "not begun".into() };
    let faults = case.texts("/accept/faults");
    let Some(planted) = faults.iter().find_map(|fault| Fault::parse(fault).ok()) else { return "none to plant".into() };
    let machine = case.machine();
    let Ok(mut twin) = Twin::new(&machine.netlist, &machine.catalogue, &planted, SEED) else {
        return "none to plant".into();
    };
    for asked in 0..MOST {
        let said = match chase.waiting() {
            Some(Event::Ask { test, .. }) => chase.take(twin.read(&test).map_or(Input::Skip, Input::Reading)),
            Some(Event::TryRepair { faults, .. }) => {
                let cured = twin.cured_by(&faults);
                chase.take(Input::Cured { cured, blown: Vec::new() })
            }
            Some(Event::Question { .. }) => chase.take(Input::Choice("don't know".into())),
            _ => chase.take(Input::Stop),
        };
        if let Some(Event::Verdict { verdict, .. }) = said.last() {
            let in_it = verdict.faults.iter().any(|(fault, _)| faults.contains(fault))
                || case.texts("/accept/classes").contains(&verdict.class);
            let how = verdict.reason.word();
            return format!("{}, {how} after {asked}", if in_it { "yes" } else { "no" });
        }
    }
    format!("no, open after {MOST}")
}

#[test]
#[ignore = "a table for people; the cases are judged by the tests beside it"]
#[expect(clippy::print_stdout, reason = "the table is what it is for")]
fn report_of_cases() {
    println!(
        "| case | words understood | cause in first three by words | after the readings | in final group | asked first | judged |"
    );
    println!("|---|---|---|---|---|---|---|");
    for case in all() {
        let mut by_words = Chase::new(case.machine());
        let heard = case.say(&mut by_words).is_ok();
        let first = placed(&case, rank(&case, &mut by_words).filter(|_| heard));
        let then = case.chase().map_or("not begun".into(), |mut chase| placed(&case, rank(&case, &mut chase)));
        let judged = match (case.judge(), case.open()) {
            (Ok(()), _) => "right".to_owned(),
            (Err(_), Some(_)) => "open".to_owned(),
            (Err(_), None) => "WRONG".to_owned(),
        };
        let [words, end, asks] = [understood(&case).to_owned(), ended(&case), waits(&by_words)];
        println!("| {} | {words} | {first} | {then} | {end} | {asks} | {judged} |", case.name);
    }
}
