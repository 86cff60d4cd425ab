//! "when I press the horn", "with the lights on", "at idle": what is set to what.

use super::lexicon::{Lexicon, Meaning, Met};
use super::tokens::Token;

/// What a clause of this sort says.
#[derive(Clone, Debug, Default)]
pub struct Operated {
    /// Each setting said, with every control it can mean.
    pub settings: Vec<Vec<(String, String)>>,
    /// What is done to it.
    pub disturbs: Vec<String>,
    /// Tokens not used.
    pub lost: Vec<usize>,
}

/// Reads such a clause.
pub fn operated(lexicon: &Lexicon<'_>, tokens: &[Token]) -> Operated {
    let wanted = |meaning: &Meaning| {
        matches!(
            meaning,
            Meaning::Control(_)
                | Meaning::Doing(_)
                | Meaning::Said(..)
                | Meaning::Verb(_)
                | Meaning::Disturb(_)
                | Meaning::Named(_)
                | Meaning::NameWord(_)
                | Meaning::Part(_)
                | Meaning::Kind(_)
                | Meaning::Join(_)
        )
    };
    let mut met: Vec<Met> = Vec::new();
    let mut out = Operated::default();
    let mut at = 0;
    while at < tokens.len() {
        match lexicon.at(tokens, at, &wanted) {
            Some(found) => {
                at += found.length;
                met.push(found);
            }
            None => {
                out.lost.push(at);
                at += 1;
            }
        }
    }
    let mut used: Vec<usize> = Vec::new();
    let mut named: Option<usize> = None;
    for (index, item) in met.iter().enumerate() {
        if let Some(how) = item.means.iter().find_map(|m| if let Meaning::Disturb(how) = m { Some(how) } else { None })
        {
            if !out.disturbs.contains(how) {
                out.disturbs.push(how.clone());
            }
            continue;
        }
        // "the horn is pushed": a verb behind its noun is no noun, though a push switch be called after it
        let verb = item.means.iter().any(|m| matches!(m, Meaning::Verb(_)));
        if used.contains(&index) || (verb && named.is_some() && named == before(&met, index)) {
            continue;
        }
        let choices = thing(lexicon, tokens, &met, index, &mut used);
        let choices: Vec<(String, String)> = choices.into_iter().filter(|c| !c.1.is_empty()).collect();
        let known = choices.iter().any(|(control, _)| out.settings.iter().flatten().any(|(other, _)| other == control));
        if !choices.is_empty() {
            named = used.iter().copied().max().filter(|&last| last > index).or(Some(index));
            if !known {
                out.settings.push(choices);
            }
        }
    }
    out
}

/// The controls that the phrase at `index` names, each with its setting.
fn thing(
    lexicon: &Lexicon<'_>,
    tokens: &[Token],
    met: &[Met],
    index: usize,
    used: &mut Vec<usize>,
) -> Vec<(String, String)> {
    let item = &met[index];
    let verb = |means: &[Meaning]| {
        means.iter().find_map(|m| if let Meaning::Verb(verb) = m { Some(verb.clone()) } else { None })
    };
    // "turn the key on": a verb before a noun is no noun, though a part be called turn
    if verb(&item.means).is_some() && names_a_control(met, index + 1) {
        return Vec::new();
    }
    // an "off" beside it wins; else it is "on"
    let near = index.saturating_sub(3)..(index + 4).min(met.len());
    let off = near.clone().filter(|at| *at != index).any(|at| verb(&met[at].means).as_deref() == Some("off"));
    let not = negated(met, index);
    let off = off != not;
    let verb_name = if off { "off" } else { "on" };
    let mut found: Vec<(String, Option<String>)> = Vec::new();
    for meaning in &item.means {
        let (Meaning::Control(name) | Meaning::Doing(name) | Meaning::Named(name)) = meaning else { continue };
        found = match (meaning, lexicon.table.controls.get(name)) {
            (Meaning::Named(_), _) => lexicon.control(name).into_iter().map(|c| (c.clone(), None)).collect(),
            (_, Some(words)) => match &words.control {
                Some(control) => lexicon.control(control).into_iter().map(|c| (c.clone(), None)).collect(),
                None if words.near.is_empty() => {
                    lexicon.controls_of_kinds(&words.kinds).into_iter().map(|c| (c, None)).collect()
                }
                None => switches(lexicon, &lexicon.parts_of_kinds(&words.near)),
            },
            _ => Vec::new(),
        };
        if !found.is_empty() {
            break;
        }
    }
    if found.is_empty() {
        return loads(lexicon, met, index, used, off);
    }
    let mut out = Vec::new();
    for (control, works) in found {
        let said = near.clone().find_map(|at| {
            met[at].means.iter().find_map(|m| match m {
                Meaning::Said(of, setting) if lexicon.entry_means(of, &control) => Some((at, setting.clone())),
                _ => None,
            })
        });
        let said = match said {
            Some((at, setting)) => {
                used.push(at);
                Some(setting)
            }
            None => said_within(lexicon, &tokens[item.at..item.at + item.length], &control),
        };
        let chosen = match (said.filter(|setting| has(lexicon, &control, setting)), works) {
            (Some(said), _) if not => other(lexicon, &control, &said),
            (Some(said), _) => said,
            (None, Some(works)) if !off => works,
            _ => setting(lexicon, &control, verb_name),
        };
        out.push((control, chosen));
    }
    out
}

/// The item before this one that is more than a filler.
fn before(met: &[Met], index: usize) -> Option<usize> {
    (0..index).rev().find(|&at| !met[at].means.iter().all(|m| *m == Meaning::Join("filler".into())))
}

/// A "not" that belongs to this phrase: beside it, with nothing but verbs between.
fn negated(met: &[Met], index: usize) -> bool {
    let is_not = |at: &usize| met[*at].means.contains(&Meaning::Join("not".into()));
    let between = |at: &usize| {
        is_not(at)
            || met[*at].means.iter().any(|m| matches!(m, Meaning::Verb(_) | Meaning::Said(..)))
            || met[*at].means.contains(&Meaning::Join("filler".into()))
    };
    let after = (index + 1..met.len()).take_while(between).take(3).any(|at| is_not(&at));
    // "not A, B": what stands between a thing before and its own verb is that thing's
    let before = (0..index).rev().take_while(between).take(3).any(|at| is_not(&at) && !follows_a_thing(met, at));
    after || before
}

/// A thing stands right before this.
fn follows_a_thing(met: &[Met], at: usize) -> bool {
    at.checked_sub(1).is_some_and(|before| {
        let means = &met[before].means;
        means.iter().any(|m| matches!(m, Meaning::Control(_) | Meaning::Named(_) | Meaning::Part(_) | Meaning::Kind(_)))
    })
}

/// A setting that is not this one: at rest, or the first beside it.
fn other(lexicon: &Lexicon<'_>, control: &str, said: &str) -> String {
    let settings = lexicon.controls.get(control).map_or(&[][..], |info| &info.settings);
    settings.iter().find(|setting| *setting != said).cloned().unwrap_or_default()
}

/// A setting said by the phrase itself: "engine off".
fn said_within(lexicon: &Lexicon<'_>, phrase: &[Token], control: &str) -> Option<String> {
    let said = |m: &Meaning| matches!(m, Meaning::Said(of, _) if lexicon.entry_means(of, control));
    (0..phrase.len()).find_map(|at| {
        let met = lexicon.at(phrase, at, &said)?;
        met.means.into_iter().find_map(|m| if let Meaning::Said(_, setting) = m { Some(setting) } else { None })
    })
}

/// A load in such a clause ("when the fan runs") stands for the switch that it hangs on.
fn loads(lexicon: &Lexicon<'_>, met: &[Met], index: usize, used: &mut Vec<usize>, off: bool) -> Vec<(String, String)> {
    let parts_of = |item: &Met| -> Vec<String> {
        let mut parts: Vec<String> = Vec::new();
        for part in item.means.iter().flat_map(|meaning| lexicon.parts(meaning)) {
            if !parts.contains(&part) {
                parts.push(part);
            }
        }
        parts
    };
    let mut parts = parts_of(&met[index]);
    let mut next = index + 1;
    while next < met.len() && !parts.is_empty() {
        let more = parts_of(&met[next]);
        let both: Vec<String> = parts.iter().filter(|part| more.contains(part)).cloned().collect();
        if both.is_empty() {
            break;
        }
        parts = both;
        used.push(next);
        next += 1;
    }
    if parts.is_empty() {
        return Vec::new();
    }
    if let Some(control) = parts.iter().find_map(|part| lexicon.control(part)) {
        return vec![(control.clone(), setting(lexicon, control, if off { "off" } else { "on" }))];
    }
    let found = switches(lexicon, &parts);
    found
        .into_iter()
        .map(|(control, works)| {
            let chosen =
                works.filter(|_| !off).unwrap_or_else(|| setting(lexicon, &control, if off { "off" } else { "on" }));
            (control, chosen)
        })
        .collect()
}

fn names_a_control(met: &[Met], from: usize) -> bool {
    met.iter()
        .skip(from)
        .take(3)
        .any(|item| item.means.iter().any(|m| matches!(m, Meaning::Control(_) | Meaning::Named(_) | Meaning::Part(_))))
}

/// Switches by hand in series with these parts and the setting that lets current through; the key only if there is no other.
pub fn switches(lexicon: &Lexicon<'_>, parts: &[String]) -> Vec<(String, Option<String>)> {
    let mut hand: Vec<(String, Option<String>)> = Vec::new();
    let mut key: Vec<(String, Option<String>)> = Vec::new();
    for (control, setting) in parts.iter().flat_map(|part| lexicon.paths.controls(part, None)) {
        let Some(control) = lexicon.control(&control) else { continue };
        let into = if lexicon.is_key(control) { &mut key } else { &mut hand };
        if lexicon.netlist.parts.contains_key(control) && !into.iter().any(|(known, _)| known == control) {
            into.push((control.clone(), Some(setting)));
        }
    }
    if hand.is_empty() { key } else { hand }
}

fn has(lexicon: &Lexicon<'_>, control: &str, setting: &str) -> bool {
    lexicon.controls.get(control).is_some_and(|info| info.settings.iter().any(|s| s == setting))
}

/// The setting of a control that a verb stands for.
pub fn setting(lexicon: &Lexicon<'_>, control: &str, verb: &str) -> String {
    let Some(info) = lexicon.controls.get(control) else { return String::new() };
    let wanted = lexicon.table.verbs.get(verb).map_or(&[][..], |verb| &verb.settings);
    let found = wanted.iter().find(|setting| info.settings.contains(setting));
    let fallback = if verb == "off" { info.settings.first() } else { info.settings.get(1) };
    found.or(fallback).cloned().unwrap_or_default()
}
