//! The next tests with every outcome, for who measures where no screen goes.

use super::ask;
use super::chase::Chase;
use super::event::Screen;
use super::name;
use crate::choice::choose::Choice;
use crate::circuit::test::{Settings, Test};
use crate::diagnosis::suspect::What;

/// Suspects less likely than this are not told.
const TOLD: f64 = 0.005;
/// Lines a test at most.
const LINES: usize = 7;
/// Severities of a suspect count while they are this likely beside its likeliest.
const COUNTS: f64 = 0.1;

/// A test to take along.
#[derive(Clone, Debug, PartialEq)]
pub struct Slip {
    /// The test.
    pub test: Test,
    /// Minutes from where the test before leaves one.
    pub minutes: f64,
    /// What to set and where the leads go.
    pub screen: Screen,
    /// What it would read with each suspect that is left, the likeliest first.
    pub outcomes: Vec<Outcome>,
}

/// What a test would read with some suspects.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// A value a placement: `0.02 V`, `0.4 V to 6.1 V`, `lit`.
    pub values: Vec<String>,
    /// The suspects, the likeliest first.
    pub titles: Vec<String>,
    /// How likely one of them is it now, in words.
    pub sure: &'static str,
}

/// The next tests in the order to take them, each chosen as if those before had told nothing yet.
pub fn slips(chase: &mut Chase, most: usize) -> Vec<Slip> {
    let tests = chase.next_tests(most);
    // Each sheet begins where the one before leaves the machine.
    let stand = chase.stand.clone();
    let mut out: Vec<Slip> = Vec::with_capacity(tests.len());
    for Choice { test, minutes, .. } in tests {
        out.push(slip(chase, test.clone(), minutes));
        chase.move_to(&test);
    }
    chase.stand = stand;
    out
}

fn slip(chase: &mut Chase, test: Test, minutes: f64) -> Slip {
    let mut order: Vec<usize> = (0..chase.suspects.list.len()).collect();
    order.sort_by(|&a, &b| chase.chances.suspects[b].total_cmp(&chase.chances.suspects[a]));
    let mut found: Vec<(Vec<String>, Vec<String>, f64)> = Vec::new();
    for index in order {
        let p = chase.chances.suspects[index];
        if p < TOLD {
            break;
        }
        // "Not in this file" may read anything.
        if chase.suspects.list[index].what == What::NotInFile {
            continue;
        }
        let title = name::suspect(&chase.machine, &chase.suspects, &chase.suspects.list[index]);
        let values: Vec<String> = test.placements().iter().map(|set| between(chase, &test, set, index)).collect();
        match found.iter_mut().find(|(known, ..)| *known == values) {
            Some((_, titles, sum)) => {
                *sum += p;
                if !titles.contains(&title) {
                    titles.push(title);
                }
            }
            None => found.push((values, vec![title], p)),
        }
    }
    found.sort_by(|a, b| b.2.total_cmp(&a.2));
    found.truncate(LINES);
    let outcome = |(values, titles, p)| Outcome { values, titles, sure: name::sure(p) };
    let outcomes = found.into_iter().map(outcome).collect();
    let mut screen = ask::screen(&chase.machine, &chase.stand, &test);
    screen.words = super::swing::with_flashes(chase, &test, &[], screen.words);
    Slip { test, minutes, screen, outcomes }
}

/// What one suspect would read over the severities that are left of it.
fn between(chase: &mut Chase, test: &Test, set: &Settings, suspect: usize) -> String {
    let (first, end) = chase.runs.span(chase.best_point(suspect) as usize);
    let p = |chase: &Chase, point: usize| chase.chances.points.get(point).copied().unwrap_or(0.0);
    let top = (first..end).map(|point| p(chase, point)).fold(0.0, f64::max);
    let counting: Vec<u32> =
        (first..end).filter(|&point| p(chase, point) >= COUNTS * top).map(|point| point as u32).collect();
    // Severities rise with their index, and readings with them or against them: the ends say all.
    let ends =
        [counting.first(), counting.last()].map(|point| point.map(|&point| ask::preview(chase, test, set, point)));
    // What flashes swings it, and a page has no room for both ends.
    if ends.iter().flatten().any(|value| value == ask::NO_NUMBER || value.contains(" to ")) {
        return "swings".into();
    }
    match ends {
        [Some(one), Some(other)] if one != other => format!("{one} to {other}"),
        [Some(one), _] | [None, Some(one)] => one,
        [None, None] => "?".into(),
    }
}
