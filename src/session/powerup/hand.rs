//! What a chase is told of power brought on: all that was read and seen, in the order in which it was.

use super::{Ask, PowerUp, Taken};
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::session::event::{Input, SymptomInput};
use crate::session::hear::hear;

/// Inputs of a chase.
pub(super) fn known(power: &PowerUp) -> Vec<Input> {
    power.taken.iter().flat_map(|taken| told(power, taken)).collect()
}

fn told(power: &PowerUp, taken: &Taken) -> Vec<Input> {
    let Some(step) = power.plan.steps.get(taken.step) else { return Vec::new() };
    match (&step.ask, &taken.input) {
        (Ask::Read(test), Input::Reading(readings)) => {
            vec![Input::Measured { test: test.clone(), readings: readings.clone() }]
        }
        // Which of several words it was, nobody was asked.
        (Ask::Look { set, shows }, Input::Choice(_)) => shows
            .iter()
            .filter_map(|(part, words)| match words.as_slice() {
                [word] => Some(Input::Measured {
                    test: Box::new(Test { part: Some(part.clone()), ..Test::new(Instrument::Watch, set) }),
                    readings: vec![Reading::Showing(word.clone())],
                }),
                _ => None,
            })
            .collect(),
        (Ask::Look { set, .. }, Input::Saw(text)) => {
            let symptoms = seen(power, text, set);
            if symptoms.is_empty() {
                return vec![Input::Saw(text.clone())];
            }
            symptoms.into_iter().map(Input::Symptom).collect()
        }
        _ => Vec::new(),
    }
}

/// `horn silent`: a part and a word of its kind, and nothing else.
fn plain(power: &PowerUp, text: &str) -> Option<SymptomInput> {
    let machine = power.machine();
    let mut words = text.split_whitespace();
    let (part, word, None) = (words.next()?, words.next()?, words.next()) else { return None };
    let part = machine.netlist.parts.values().find(|known| known.name.eq_ignore_ascii_case(part))?;
    let kind = machine.catalogue.kind(&part.kind)?;
    let mut known = kind.showings.iter().flat_map(|showing| &showing.words);
    let word = known.find(|known| known.eq_ignore_ascii_case(word))?;
    Some(SymptomInput { part: part.name.clone(), showings: vec![word.clone()], ..SymptomInput::default() })
}

/// What was said of a look, in its settings.
fn seen(power: &PowerUp, text: &str, set: &Settings) -> Vec<SymptomInput> {
    if let Some(symptom) = plain(power, text) {
        return vec![SymptomInput { set: set.clone(), ..symptom }];
    }
    let mut symptoms = hear(power.machine(), &power.words, text).symptoms;
    for symptom in &mut symptoms {
        let own = std::mem::replace(&mut symptom.set, set.clone());
        for (control, setting) in own {
            symptom.set.retain(|(known, _)| *known != control);
            symptom.set.push((control, setting));
        }
    }
    symptoms
}

/// Can something be made of what was said of a look?
pub(super) fn is_understood(power: &PowerUp, text: &str) -> bool {
    if plain(power, text).is_some() {
        return true;
    }
    let heard = hear(power.machine(), &power.words, text);
    !heard.symptoms.is_empty() || heard.question.is_some()
}
