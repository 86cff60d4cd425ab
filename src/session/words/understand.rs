//! Complaints in plain words to symptoms.

use super::Understood;
use super::clauses::{Clause, Item, Parts, Use, clauses, items, setting_only};
use super::fuses;
use super::lexicon::{Lexicon, Meaning};
use super::operate::{Operated, operated};
use super::settle::{means, settle};
use super::table::{ShowingWords, SymptomTable};
use super::tokens::{Token, tokens};
use crate::catalogue::Catalogue;
use crate::circuit::heat;
use crate::circuit::schematic::ControlInfo;
use crate::netlist::Netlist;
use indexmap::IndexMap;

/// Makes symptoms of a text. Nothing is guessed in silence: several that fit come back as a question.
///
/// ```
/// use ohmward::{catalogue::Catalogue, netlist::Netlist, session::words};
/// let nothing = words::understand(
///     "horn is dead",
///     &Netlist::default(),
///     &Catalogue::default(),
///     &Default::default(),
///     &words::SymptomTable::builtin(),
/// );
/// assert!(nothing.symptoms.is_empty() && !nothing.lost.is_empty()); // this machine has no horn
/// ```
pub fn understand(
    text: &str,
    netlist: &Netlist,
    catalogue: &Catalogue,
    controls: &IndexMap<String, ControlInfo>,
    table: &SymptomTable,
) -> Understood {
    let mut lexicon = Lexicon::new(netlist, catalogue, controls, table);
    let mut words = tokens(text);
    let mut mended = words.clone();
    lexicon.mend(&mut mended);
    if lexicon.is_heated(&mended) {
        lexicon.gather_things();
    }
    lexicon.mend(&mut words);
    let clauses = clauses(&lexicon, &words);
    let mut out = Understood::default();
    let mut sayings = sayings(&lexicon, text, &clauses, &mut out.lost);
    attach(&lexicon, text, &clauses, &mut sayings, &mut out.lost);
    for saying in &sayings {
        settle(&lexicon, saying, &mut out);
    }
    if sayings.is_empty() && out.lost.is_empty() && !text.trim().is_empty() {
        out.lost.push(text.trim().to_string());
    }
    out
}

/// One thing said of one part (or of parts that cannot be told apart yet).
#[derive(Clone, Debug)]
pub(super) struct Saying {
    pub clause: usize,
    /// All that fit are meant.
    pub every: bool,
    pub parts: Parts,
    pub said: String,
    pub showing: String,
    pub said_showing: String,
    pub when: Vec<Operated>,
    pub cure: Option<CureSaid>,
    pub since: Option<String>,
}

#[derive(Clone, Debug)]
pub(super) enum CureSaid {
    Set(Vec<Vec<(String, String)>>),
    Disturb(String),
    Words(String),
}

/// The user's own words from one token to another.
fn own_words(text: &str, tokens: &[Token], from: usize, to: usize) -> String {
    match (tokens.get(from), to.checked_sub(1).and_then(|last| tokens.get(last))) {
        (Some(first), Some(last)) => text.get(first.span.0..last.span.1).unwrap_or_default().to_string(),
        _ => String::new(),
    }
}

/// What the main clauses say.
fn sayings(lexicon: &Lexicon<'_>, text: &str, clauses: &[Clause], lost: &mut Vec<String>) -> Vec<Saying> {
    let mut out: Vec<Saying> = Vec::new();
    let mut pending: Vec<(Parts, String)> = Vec::new();
    let mut last: Option<(Parts, String)> = None;
    for (index, clause) in clauses.iter().enumerate() {
        if clause.use_ != Use::Main {
            // "horn works only when …": the horn does nothing otherwise
            if clause.use_ == Use::Cure {
                for (parts, said) in pending.drain(..) {
                    out.push(Saying::new(index, &parts, &said, "dead", ""));
                    last = Some((parts, said));
                }
            }
            continue;
        }
        let (items, unknown) = items(lexicon, &clause.tokens);
        lose(text, &clause.tokens, &unknown, lost);
        let groups: Vec<(usize, (Parts, String))> = items
            .iter()
            .enumerate()
            .filter_map(|(at, item)| match item {
                Item::Parts(parts) => {
                    let said = own_words(text, &clause.tokens, parts.tokens.0, parts.tokens.1);
                    Some((at, (parts.clone(), said)))
                }
                _ => None,
            })
            .collect();
        let mut used = vec![false; groups.len()];
        let mut shown = false;
        for (at, item) in items.iter().enumerate() {
            let Item::Showing { names, tokens: (from, to), negated } = item else { continue };
            let said_showing = own_words(text, &clause.tokens, *from, *to);
            let known = names.iter().filter_map(|name| lexicon.table.showings.get_key_value(name));
            let names: Vec<&String> =
                known.filter_map(|(name, words)| if *negated { words.not.as_ref() } else { Some(name) }).collect();
            let Some(words) = names.first().and_then(|name| lexicon.table.showings.get(*name)) else {
                lost.push(format!("not {said_showing}"));
                continue;
            };
            shown = true;
            let before = groups.iter().rposition(|(group, _)| *group < at);
            let after = groups.iter().position(|(group, _)| *group > at);
            let group =
                before.or(if last.is_some() && pending.is_empty() && words.part.is_some() { None } else { after });
            let eaten = before.zip(after).and_then(|(eater, eaten)| {
                let known = names.iter().filter_map(|name| Some((*name, lexicon.table.showings.get(*name)?)));
                let of = |words| fuses::eaten_by(lexicon, words, &groups[eater].1.0, &groups[eaten].1.0);
                known.filter_map(|(name, words)| Some((eaten, name, of(words)?))).next()
            });
            if let Some((eaten, name, (parts, when))) = eaten {
                used[..=eaten].fill(true);
                let said = groups[eaten].1.1.clone();
                out.push(Saying { when: vec![when], ..Saying::new(index, &parts, &said, name, &said_showing) });
                last = Some((parts, said));
                continue;
            }
            let mut about: Vec<(Parts, String)> = std::mem::take(&mut pending);
            if let Some(group) = group {
                // "horn lights dead": everything before it that has no showing of its own
                for at in (0..=group).filter(|at| *at == group || !used[*at]).collect::<Vec<_>>() {
                    used[at] = true;
                    about.push(groups[at].1.clone());
                }
            }
            if about.is_empty() {
                about.extend(by_itself(lexicon, words, &said_showing).or_else(|| last.clone()));
            }
            if about.is_empty() {
                about.push((any_that_shows(lexicon, words), String::new()));
            }
            for (mut parts, said) in about {
                fuses::its(lexicon, &clause.tokens, last.as_ref().map(|(parts, _)| parts), &mut parts);
                // the first sense that the part can show
                let able = |name: &&&String| {
                    let words = lexicon.table.showings.get(**name);
                    words
                        .is_some_and(|w| parts.any.iter().any(|part| !means(lexicon, part, w, &parts.words).is_empty()))
                };
                let name = names.iter().find(able).or(names.first()).map_or("", |name| name.as_str());
                out.push(Saying::new(index, &parts, &said, name, &said_showing));
                last = Some((parts, said));
            }
        }
        for (_, (_, group)) in groups.into_iter().enumerate().filter(|(at, _)| !used[*at]) {
            if group.0.none {
                out.push(Saying::new(index, &group.0, &group.1, "dead", ""));
                last = Some(group);
            } else if !shown {
                pending.push(group);
            }
        }
    }
    for (_, said) in pending {
        lost.push(said);
    }
    let all = Meaning::Join("every".into());
    for saying in &mut out {
        let tokens = &clauses[saying.clause].tokens;
        saying.every = (0..tokens.len()).any(|at| lexicon.at(tokens, at, &|meaning| *meaning == all).is_some());
    }
    out
}

impl Saying {
    fn new(clause: usize, parts: &Parts, said: &str, showing: &str, said_showing: &str) -> Saying {
        Saying {
            clause,
            every: false,
            parts: parts.clone(),
            said: said.to_string(),
            showing: showing.to_string(),
            said_showing: said_showing.to_string(),
            when: Vec::new(),
            cure: None,
            since: None,
        }
    }
}

/// The part that a showing names by itself: "no crank".
fn by_itself(lexicon: &Lexicon<'_>, words: &ShowingWords, said: &str) -> Option<(Parts, String)> {
    let name = words.part.clone()?;
    let all = lexicon.table.parts.get(&name).is_some_and(|words| words.all);
    let any = lexicon.parts(&Meaning::Part(name));
    (!any.is_empty()).then(|| (Parts { any, all, ..Parts::default() }, said.to_string()))
}

/// With no part named at all: whatever can show it.
fn any_that_shows(lexicon: &Lexicon<'_>, words: &ShowingWords) -> Parts {
    if words.felt {
        // Heat is where it is: a place, else nobody knows.
        let places: Vec<String> = lexicon.netlist.places.keys().cloned().collect();
        let any = if places.is_empty() { vec![heat::SOMEWHERE.to_string()] } else { places };
        return Parts { any, ..Parts::default() };
    }
    let parts = lexicon.netlist.parts.values().filter(|part| lexicon.visible(part) && part.fitted);
    let any = parts.map(|part| part.name.clone()).filter(|part| !means(lexicon, part, words, &[]).is_empty()).collect();
    Parts { any, ..Parts::default() }
}

/// When, cure and since clauses go to what was said before them (or, at the start, to what follows).
fn attach(lexicon: &Lexicon<'_>, text: &str, clauses: &[Clause], sayings: &mut [Saying], lost: &mut Vec<String>) {
    let mut open_from = 0;
    for (index, clause) in clauses.iter().enumerate() {
        if clause.use_ == Use::Main {
            continue;
        }
        let started: Vec<usize> =
            (0..sayings.len()).filter(|at| sayings[*at].clause <= index && *at >= open_from).collect();
        let followed_by_more = clauses.get(index + 1).is_none_or(|next| next.use_ == Use::Main);
        let targets: Vec<usize> = if started.is_empty() {
            let next = sayings.iter().map(|s| s.clause).filter(|c| *c > index).min();
            // "key off: the tach dies, the charge light comes on": both, up to what is said of another state
            let end = (index + 1..clauses.len()).find(|at| clauses[*at].use_ != Use::Main).unwrap_or(clauses.len());
            let end = if setting_only(lexicon, &clause.tokens) { end } else { 0 };
            let meant = |of: usize| Some(of) == next || (index + 1..end).contains(&of);
            (0..sayings.len()).filter(|at| meant(sayings[*at].clause)).collect()
        } else {
            if followed_by_more {
                open_from = started.last().map_or(0, |at| at + 1);
            }
            started
        };
        let words = own_words(text, &clause.tokens, 0, clause.tokens.len());
        if clause.use_ == Use::Since {
            targets.iter().for_each(|at| sayings[*at].since = Some(words.clone()));
            continue;
        }
        let mut operated = operated(lexicon, &clause.tokens);
        if operated.settings.is_empty() && operated.disturbs.is_empty() && clause.tokens.iter().any(|t| t.word == "it")
        {
            // "press it": the thing spoken of before that can be pressed
            let spoken = sayings.iter().filter(|s| s.clause < index && s.parts.any.len() == 1).rev();
            let switches = spoken.map(|s| super::operate::switches(lexicon, &s.parts.any[..1]));
            let first = switches.filter(|found| found.iter().any(|(c, _)| !lexicon.is_key(c))).last();
            let choices: Vec<(String, String)> =
                first.into_iter().flatten().filter_map(|(control, works)| Some((control, works?))).collect();
            if !choices.is_empty() {
                operated.settings.push(choices);
            }
        }
        if clause.use_ == Use::When {
            lose(text, &clause.tokens, &operated.lost, lost);
        }
        for at in targets {
            let saying = &mut sayings[at];
            match clause.use_ {
                // "it turns, but only when": it does not otherwise
                Use::When if clause.only && saying.showing == "works" && !operated.settings.is_empty() => {
                    let not = lexicon.table.showings.get("works").and_then(|words| words.not.clone());
                    saying.showing = not.unwrap_or_default();
                    saying.cure = Some(CureSaid::Set(operated.settings.clone()));
                }
                Use::Cure if !operated.settings.is_empty() => {
                    saying.cure = Some(CureSaid::Set(operated.settings.clone()))
                }
                Use::Cure => {
                    let disturb = operated.disturbs.first().cloned().map(CureSaid::Disturb);
                    saying.cure = Some(disturb.unwrap_or_else(|| CureSaid::Words(words.clone())));
                }
                _ => saying.when.push(operated.clone()),
            }
        }
    }
}

/// Unknown words, neighbours together, in the user's writing.
fn lose(text: &str, tokens: &[Token], unknown: &[usize], lost: &mut Vec<String>) {
    let mut at = 0;
    while at < unknown.len() {
        let mut end = at;
        while end + 1 < unknown.len() && unknown[end + 1] == unknown[end] + 1 {
            end += 1;
        }
        lost.push(own_words(text, tokens, unknown[at], unknown[end] + 1));
        at = end + 1;
    }
}
