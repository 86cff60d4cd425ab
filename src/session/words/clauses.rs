//! A text into clauses: what shows, when it shows, what cures it, since when; and what a main clause is about.

use super::lexicon::{Lexicon, Meaning};
use super::operate::operated;
use super::tokens::Token;
use crate::circuit::lower::ENGINE;

/// What a clause is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Use {
    /// What shows.
    Main,
    /// In which settings.
    When,
    /// What makes it go away.
    Cure,
    /// Since when.
    Since,
}

/// A clause.
#[derive(Clone, Debug)]
pub struct Clause {
    /// What it is for.
    pub use_: Use,
    /// Its words, the joining word left out.
    pub tokens: Vec<Token>,
    /// "only when": and not otherwise.
    pub only: bool,
}

/// A piece of a main clause.
#[derive(Clone, Debug)]
pub enum Item {
    /// Parts that what was said can mean.
    Parts(Parts),
    /// A showing, its tokens.
    Showing {
        /// names in the table that the phrase can mean
        names: Vec<String>,
        /// first token, one past the last
        tokens: (usize, usize),
        /// after "not"
        negated: bool,
    },
    /// "no", "not" with nothing behind it yet.
    Not,
}

/// Parts that what was said can mean.
#[derive(Clone, Debug, Default)]
pub struct Parts {
    /// Candidates.
    pub any: Vec<String>,
    /// First token, one past the last.
    pub tokens: (usize, usize),
    /// Only these showings are meant.
    pub words: Vec<String>,
    /// Of a part with several feeds this one is meant.
    pub feed: Option<String>,
    /// Fuses are meant.
    pub fuse: bool,
    /// All of them are meant.
    pub all: bool,
    /// "no horn": it does nothing.
    pub none: bool,
    /// Met word by word, for a second try.
    pub met: Vec<(usize, usize)>,
}

/// Cuts a text into clauses.
pub fn clauses(lexicon: &Lexicon<'_>, tokens: &[Token]) -> Vec<Clause> {
    let wanted = |m: &Meaning| {
        matches!(m, Meaning::Showing(_) | Meaning::Part(_) | Meaning::Named(_) | Meaning::Kind(_) | Meaning::Doing(_))
            || matches!(m, Meaning::Join(join) if !["filler", "not", "every"].contains(&join.as_str()))
    };
    // `None`: a clause that goes on in the use of the one before, if it can
    let mut raw: Vec<(Option<Use>, Vec<Token>, bool)> = vec![(Some(Use::Main), Vec::new(), false)];
    // those that an "and" joins to the one before
    let mut joined: Vec<usize> = Vec::new();
    let mut at = 0;
    while at < tokens.len() {
        if tokens[at].pause && raw.last().is_some_and(|(_, words, _)| !words.is_empty()) {
            raw.push((None, Vec::new(), false));
        }
        let met = lexicon.at(tokens, at, &wanted);
        let (length, join) = match &met {
            Some(met) => {
                (met.length, met.means.iter().find_map(|m| if let Meaning::Join(j) = m { Some(j) } else { None }))
            }
            None => (1, None),
        };
        let join =
            join.filter(|_| met.as_ref().is_some_and(|met| met.means.iter().all(|m| matches!(m, Meaning::Join(_)))));
        // ("the plug at the headlight melted": where, not when)
        let where_ = lexicon.things && length == 1 && tokens[at].word == "at" && names_next(lexicon, tokens, at + 1);
        match join.filter(|_| !where_).map(String::as_str) {
            Some("when") => {
                let only = tokens[at..at + length].iter().any(|token| token.word == "only");
                raw.push((Some(Use::When), Vec::new(), only));
            }
            Some("cure") => raw.push((Some(Use::Cure), Vec::new(), false)),
            Some("since") => raw.push((Some(Use::Since), Vec::new(), false)),
            Some(_) => {
                joined.push(raw.len());
                raw.push((None, Vec::new(), false));
            }
            None => {
                if let Some((_, words, _)) = raw.last_mut() {
                    words.extend_from_slice(&tokens[at..at + length]);
                }
            }
        }
        at += length;
    }
    let mut out: Vec<Clause> = Vec::new();
    let count = raw.len();
    for (index, (use_, tokens, only)) in raw.into_iter().enumerate() {
        let before = out.last().map_or(Use::Main, |clause| clause.use_);
        // "key off: the tach dies"
        let use_ = use_.filter(|use_| *use_ != Use::Main || index + 1 == count || !setting_only(lexicon, &tokens));
        let use_ = use_.unwrap_or_else(|| match () {
            () if index + 1 < count && setting_only(lexicon, &tokens) => Use::When,
            () if !out.is_empty() && engine_only(lexicon, &tokens) => Use::When,
            // "when the horn is pressed and the fan is on"
            () if before != Use::Main && joined.contains(&index) && praise(lexicon, &tokens) => before,
            () if says_something(lexicon, &tokens) => Use::Main,
            () => before,
        });
        if tokens.is_empty() && use_ != Use::Cure {
            continue;
        }
        match (use_, main_start(lexicon, &tokens)) {
            (Use::When | Use::Cure, Some(start)) => {
                out.push(Clause { use_, tokens: tokens[..start].to_vec(), only });
                out.push(Clause { use_: Use::Main, tokens: tokens[start..].to_vec(), only: false });
            }
            _ => out.push(Clause { use_, tokens, only }),
        }
    }
    out
}

/// Does something that has a name follow, an article at most before it?
fn names_next(lexicon: &Lexicon<'_>, tokens: &[Token], at: usize) -> bool {
    let names = |m: &Meaning| {
        matches!(m, Meaning::Part(_) | Meaning::Named(_) | Meaning::Kind(_) | Meaning::Thing(_) | Meaning::Coloured(_))
    };
    (at..tokens.len()).take(2).any(|at| lexicon.at(tokens, at, &names).is_some())
}

/// Is there a showing of something that can show it?
fn says_something(lexicon: &Lexicon<'_>, tokens: &[Token]) -> bool {
    let (items, _) = items(lexicon, tokens);
    let visible = |name: &String| lexicon.netlist.parts.get(name).is_none_or(|part| lexicon.visible(part));
    let shows = items.iter().any(|item| matches!(item, Item::Showing { .. }));
    let parts: Vec<&Parts> = items.iter().filter_map(|i| if let Item::Parts(p) = i { Some(p) } else { None }).collect();
    let none = parts.iter().any(|parts| parts.none);
    (shows && (parts.is_empty() || parts.iter().any(|p| p.any.iter().any(visible)))) || none
}

/// Does it say no more than that something works?
fn praise(lexicon: &Lexicon<'_>, tokens: &[Token]) -> bool {
    let (items, _) = items(lexicon, tokens);
    items.iter().all(|item| match item {
        Item::Showing { names, negated, .. } => !negated && names == &["works"],
        Item::Parts(parts) => !parts.none,
        Item::Not => false,
    })
}

/// Is it a control and its setting, and not a word besides?
pub fn setting_only(lexicon: &Lexicon<'_>, tokens: &[Token]) -> bool {
    let sets = |m: &Meaning| matches!(m, Meaning::Verb(_) | Meaning::Said(..));
    let (items, _) = items(lexicon, tokens);
    let operated = operated(lexicon, tokens);
    items.iter().all(|item| matches!(item, Item::Parts(_)))
        && operated.settings.len() == 1
        && operated.disturbs.is_empty()
        && operated.lost.is_empty()
        && tokens.len() <= 4
        // "key off", and not "the right indicator"
        && (1..tokens.len()).any(|at| lexicon.at(tokens, at, &sets).is_some_and(|met| at + met.length == tokens.len()))
}

/// "… and the engine keeps running": what the engine does, where nothing of the machine could show it.
fn engine_only(lexicon: &Lexicon<'_>, tokens: &[Token]) -> bool {
    let (items, _) = items(lexicon, tokens);
    // (where heat is spoken of, the engine is a place as well)
    let part = |name: &String| lexicon.netlist.parts.contains_key(name);
    let other = items.iter().any(|item| match item {
        Item::Parts(parts) => parts.any.iter().any(part),
        Item::Not => true,
        Item::Showing { names, .. } => names.iter().any(|name| {
            let part = lexicon.table.showings.get(name).and_then(|words| words.part.clone());
            part.is_some_and(|part| !lexicon.parts(&Meaning::Part(part)).is_empty())
        }),
    });
    let set = operated(lexicon, tokens).settings;
    !other && !set.is_empty() && set.iter().flatten().all(|(control, _)| control == ENGINE)
}

/// Where "when I press the horn the needle jumps" turns into what shows.
fn main_start(lexicon: &Lexicon<'_>, tokens: &[Token]) -> Option<usize> {
    let (items, _) = items(lexicon, tokens);
    let shows = items.iter().rposition(|item| matches!(item, Item::Showing { .. }))?;
    let start = items[..shows].iter().rev().find_map(|item| match item {
        Item::Parts(parts) => Some(parts.tokens.0),
        _ => None,
    })?;
    let operates =
        |m: &Meaning| matches!(m, Meaning::Control(_) | Meaning::Doing(_) | Meaning::Named(_) | Meaning::Kind(_));
    let before = (0..start).any(|at| lexicon.at(&tokens[..start], at, &operates).is_some());
    before.then_some(start)
}

/// The pieces of a main clause, and the tokens that mean nothing here.
pub fn items(lexicon: &Lexicon<'_>, tokens: &[Token]) -> (Vec<Item>, Vec<usize>) {
    let wanted = |m: &Meaning| {
        matches!(
            m,
            Meaning::Showing(_)
                | Meaning::Part(_)
                | Meaning::Kind(_)
                | Meaning::Named(_)
                | Meaning::NameWord(_)
                | Meaning::Join(_)
                | Meaning::Thing(_)
                | Meaning::Coloured(_)
                | Meaning::Carrier
        )
    };
    let mut out: Vec<Item> = Vec::new();
    let mut lost = Vec::new();
    let mut at = 0;
    let mut not_at: Option<usize> = None;
    while at < tokens.len() {
        let Some(met) = lexicon.at(tokens, at, &wanted) else {
            lost.push(at);
            at += 1;
            continue;
        };
        let end = at + met.length;
        let names: Vec<String> = (met.means.iter())
            .filter_map(|m| if let Meaning::Showing(name) = m { Some(name.clone()) } else { None })
            .collect();
        let parts = candidates(lexicon, &met.means);
        let is_not = met.means.contains(&Meaning::Join("not".into()));
        // "light" is a part after nothing, and what it does after a part
        let after_part = matches!(out.last(), Some(Item::Parts(_))) || not_at.is_some();
        match parts {
            parts if !names.is_empty() && (parts.any.is_empty() || after_part) => {
                let negated = not_at.take().is_some_and(|before| at - before <= 4);
                if matches!(out.last(), Some(Item::Not)) {
                    out.pop();
                }
                // "runs slow": the second says how
                if matches!(out.last(), Some(Item::Showing { names, negated: false, .. }) if names == &["works"]) {
                    out.pop();
                }
                out.push(Item::Showing { names, tokens: (at, end), negated });
            }
            mut parts if !parts.any.is_empty() => {
                parts.tokens = (at, end);
                parts.met = vec![(at, end)];
                if not_at.take().is_some_and(|before| at - before <= 3) {
                    parts.none = true;
                    if matches!(out.last(), Some(Item::Not)) {
                        out.pop();
                    }
                }
                join_parts(lexicon, tokens, &mut out, parts);
            }
            _ if is_not => {
                not_at = Some(at);
                out.push(Item::Not);
            }
            _ => {}
        }
        at = end;
    }
    (out, lost)
}

/// Parts that some of these meanings name, the most exact sort of meaning first.
fn candidates(lexicon: &Lexicon<'_>, means: &[Meaning]) -> Parts {
    let mut out = Parts::default();
    let sorts: [fn(&Meaning) -> bool; 6] = [
        |m| matches!(m, Meaning::Named(_)),
        |m| matches!(m, Meaning::Part(_)),
        |m| matches!(m, Meaning::Kind(_)),
        |m| matches!(m, Meaning::NameWord(_)),
        |m| matches!(m, Meaning::Thing(_)),
        |m| matches!(m, Meaning::Coloured(_)),
    ];
    for sort in sorts {
        for meaning in means.iter().filter(|m| sort(m)) {
            for part in lexicon.parts(meaning) {
                if !out.any.contains(&part) {
                    out.any.push(part);
                }
            }
            if let Meaning::Part(name) = meaning
                && let Some(words) = lexicon.table.parts.get(name)
            {
                out.words.clone_from(&words.words);
                out.feed.clone_from(&words.feed);
                out.fuse |= words.fuse;
                out.all |= words.all;
            }
        }
        if !out.any.is_empty() {
            break;
        }
    }
    switched(lexicon, means, out)
}

/// "The lights are dead" where the light switch is called `lights`: the lamps behind it, for a switch shows nothing.
fn switched(lexicon: &Lexicon<'_>, means: &[Meaning], out: Parts) -> Parts {
    let visible = |name: &String| lexicon.netlist.parts.get(name).is_some_and(|part| lexicon.visible(part));
    let Some(switch) = out.any.first().filter(|_| out.any.len() == 1 && !out.any.iter().any(visible)) else {
        return out;
    };
    let behind = |part: &String| lexicon.paths.controls(part, None).iter().any(|(control, _)| control == switch);
    let words = means.iter().filter(|m| matches!(m, Meaning::Part(_)));
    let any: Vec<String> = words.flat_map(|m| lexicon.parts(m)).filter(|part| visible(part) && behind(part)).collect();
    if any.is_empty() { out } else { Parts { any, ..out } }
}

/// "left indicator" is one thing said with two phrases; "horn, lights" are two.
fn join_parts(lexicon: &Lexicon<'_>, tokens: &[Token], out: &mut Vec<Item>, new: Parts) {
    if let Some(Item::Parts(old)) = out.last_mut() {
        let both =
            |a: &[String], b: &[String]| -> Vec<String> { a.iter().filter(|p| b.contains(p)).cloned().collect() };
        let mut any = both(&old.any, &new.any);
        if any.is_empty() && (old.fuse || new.fuse) {
            let (fuses, others) = if old.fuse { (&old.any, &new.any) } else { (&new.any, &old.any) };
            let near: Vec<String> = others.iter().filter_map(|part| lexicon.paths.own_fuse(part)).collect();
            any = both(fuses, &near);
        }
        if any.is_empty() {
            // "rear light" may be the name of one lamp and, word by word, of others: "left rear light"
            let words = old.met.iter().chain(&new.met).flat_map(|(from, to)| *from..*to);
            let mut sets = words.map(|at| word_parts(lexicon, &tokens[at..=at])).filter(|set| !set.is_empty());
            let first = sets.next().unwrap_or_default();
            any = sets.fold(first, |left, right| both(&left, &right));
        }
        if !any.is_empty() {
            old.any = any;
            old.tokens.1 = new.tokens.1;
            old.met.extend(new.met);
            old.fuse |= new.fuse;
            old.none |= new.none;
            old.all &= new.all;
            if !new.words.is_empty() {
                old.words = new.words;
            }
            old.feed = new.feed.or(old.feed.take());
            return;
        }
    }
    out.push(Item::Parts(new));
}

fn word_parts(lexicon: &Lexicon<'_>, word: &[Token]) -> Vec<String> {
    let wanted =
        |m: &Meaning| matches!(m, Meaning::Part(_) | Meaning::Kind(_) | Meaning::NameWord(_) | Meaning::Named(_));
    let mut out: Vec<String> = Vec::new();
    for part in lexicon.at(word, 0, &wanted).iter().flat_map(|met| &met.means).flat_map(|m| lexicon.parts(m)) {
        if !out.contains(&part) {
            out.push(part);
        }
    }
    out
}
