//! Complaints in plain words to symptoms.

use super::clauses::{Clause, Item, Parts, Use, clauses, items};
use super::lexicon::{Lexicon, Meaning};
use super::operate::{Operated, operated};
use super::table::{Expected, ShowingWords, SymptomTable};
use super::tokens::{Token, tokens};
use super::{Answer, Cure, Question, Symptom, Understood};
use crate::catalogue::{Catalogue, ElementType};
use crate::circuit::schematic::ControlInfo;
use crate::circuit::test::Settings;
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
    let lexicon = Lexicon::new(netlist, catalogue, controls, table);
    let mut words = tokens(text);
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
struct Saying {
    clause: usize,
    /// All that fit are meant.
    every: bool,
    parts: Parts,
    said: String,
    showing: String,
    said_showing: String,
    when: Vec<Operated>,
    cure: Option<CureSaid>,
    since: Option<String>,
}

#[derive(Clone, Debug)]
enum CureSaid {
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
            for (parts, said) in about {
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
    let any = lexicon.parts(&Meaning::Part(name));
    (!any.is_empty()).then(|| (Parts { any, ..Parts::default() }, said.to_string()))
}

/// With no part named at all: whatever can show it.
fn any_that_shows(lexicon: &Lexicon<'_>, words: &ShowingWords) -> Parts {
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
            (0..sayings.len()).filter(|at| Some(sayings[*at].clause) == next).collect()
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

/// The words of a part's kind that a showing stands for; empty if it has none of them.
fn means(lexicon: &Lexicon<'_>, part: &str, showing: &ShowingWords, only: &[String]) -> Vec<String> {
    let Some(part) = lexicon.netlist.parts.get(part) else { return Vec::new() };
    let Some(kind) = lexicon.kind(part) else { return Vec::new() };
    if showing.needle && !lexicon.needle(part) {
        return Vec::new();
    }
    let movements = ["moves-up", "moves-down", "kicks", "steady"];
    // what any coil's contact and any lamp can show besides the kind's own words
    let coil = kind.elements.values().any(|element| element.what == ElementType::Coil);
    let lamp = kind.showings.iter().any(|s| s.words.iter().any(|w| w == "lit"));
    let known = |word: &str| {
        (only.is_empty() || only.iter().any(|w| w == word))
            && (kind.showings.iter().any(|s| s.words.iter().any(|w| w == word))
                || (movements.contains(&word) && lexicon.needle(part))
                || (word == "chatters" && coil)
                || (matches!(word, "flashing" | "slow-flash" | "fast-flash") && lamp))
    };
    let found = showing.means.iter().map(|any| any.iter().filter(|word| known(word)).cloned().collect::<Vec<_>>());
    found.into_iter().find(|any| !any.is_empty()).unwrap_or_default()
}

/// Every way in which settings with several controls each can be meant.
fn ways(settings: &[Vec<(String, String)>]) -> Vec<Settings> {
    let mut out: Vec<Settings> = vec![Vec::new()];
    for choices in settings {
        out = out
            .into_iter()
            .flat_map(|way| {
                choices.iter().map(move |choice| {
                    let mut way = way.clone();
                    way.push(choice.clone());
                    way
                })
            })
            .take(16)
            .collect();
    }
    out
}

/// Controls that a question offers at most: a screen is ten lines.
const LOADS_ASKED: usize = 7;

/// One saying into symptoms or a question.
fn settle(lexicon: &Lexicon<'_>, saying: &Saying, out: &mut Understood) {
    let unwanted = unwanted(lexicon, saying);
    let saying = unwanted.as_ref().unwrap_or(saying);
    let Some(showing) = lexicon.table.showings.get(&saying.showing) else { return };
    let able: Vec<&String> =
        saying.parts.any.iter().filter(|part| !means(lexicon, part, showing, &saying.parts.words).is_empty()).collect();
    let fitted: Vec<&String> =
        able.iter().copied().filter(|part| lexicon.netlist.parts.get(*part).is_some_and(|p| p.fitted)).collect();
    let mut parts = if fitted.is_empty() { able } else { fitted };
    let settings: Vec<Vec<(String, String)>> = saying.when.iter().flat_map(|when| when.settings.clone()).collect();
    if saying.parts.fuse && parts.len() > 1 {
        let near = fuses_of_controls(lexicon, &settings);
        let narrowed: Vec<&String> = parts.iter().copied().filter(|part| near.contains(part)).collect();
        if !narrowed.is_empty() {
            parts = narrowed;
        }
    }
    let mut options: Vec<Answer> = Vec::new();
    let ways = ways(&settings);
    for part in &parts {
        for way in &ways {
            let symptoms = symptoms(lexicon, saying, part, showing, way);
            let label = if ways.len() > 1 { format!("{part}, {}", spoken(way)) } else { (*part).clone() };
            options.push(Answer { label, symptoms });
        }
    }
    if let ([part], [only]) = (&parts[..], &options[..])
        && showing.needle
        && showing.state == Expected::Any
        && only.symptoms.iter().all(|symptom| symptom.change.is_none())
    {
        let question = when_it_moves(lexicon, saying, part, showing);
        if !out.questions.contains(&question) {
            out.questions.push(question);
        }
        return;
    }
    if parts.is_empty() {
        let said = [saying.said.as_str(), saying.said_showing.as_str()].join(" ");
        out.lost.push(said.trim().to_string());
    } else if options.len() == 1 || ((saying.parts.all || saying.every) && ways.len() == 1) {
        for symptom in options.into_iter().flat_map(|option| option.symptoms) {
            let same = |other: &Symptom| {
                (&other.part, &other.showings, &other.set, &other.change)
                    == (&symptom.part, &symptom.showings, &symptom.set, &symptom.change)
            };
            if !out.symptoms.iter().any(same) {
                out.symptoms.push(symptom);
            }
        }
    } else {
        if ways.len() == 1 {
            let all = options.iter().flat_map(|option| option.symptoms.clone()).collect();
            options.push(Answer { label: "all of them".into(), symptoms: all });
        }
        let said = if saying.said.is_empty() { &saying.said_showing } else { &saying.said };
        let question = Question { text: format!("\"{said}\": which one?"), options };
        if !out.questions.contains(&question) {
            out.questions.push(question);
        }
    }
}

/// "The horn sounds when I switch the lights on": that it works with a control that is none of its own is no praise.
/// (That it is "fine" then is.)
fn unwanted(lexicon: &Lexicon<'_>, saying: &Saying) -> Option<Saying> {
    let works = lexicon.table.showings.get(&saying.showing).filter(|_| saying.showing == "works")?;
    let flat = |words: &str| super::tokens::stems(words).join(" ");
    if works.judged.iter().any(|say| flat(say) == flat(&saying.said_showing)) {
        return None;
    }
    let said: Vec<&String> =
        saying.when.iter().flat_map(|when| when.settings.iter().flatten()).map(|(control, _)| control).collect();
    let foreign = |part: &String| {
        let own = lexicon.paths.controls(part);
        said.iter()
            .all(|control| lexicon.netlist.parts.contains_key(*control) && own.iter().all(|(c, _)| c != *control))
    };
    let all = !said.is_empty() && !saying.parts.any.is_empty() && saying.parts.any.iter().all(foreign);
    all.then(|| Saying { showing: "stuck-on".into(), ..saying.clone() })
}

/// A needle moves, and nothing was said of what moves it: the controls of the machine's loads, or none of them.
fn when_it_moves(lexicon: &Lexicon<'_>, saying: &Saying, part: &str, showing: &ShowingWords) -> Question {
    let mut loads: Vec<String> = Vec::new();
    for (name, _) in lexicon.netlist.parts.iter().filter(|(name, p)| p.fitted && name.as_str() != part) {
        for (control, _) in lexicon.paths.controls(name) {
            let state = lexicon.is_key(&control) || !lexicon.netlist.parts.contains_key(&control);
            if !state && !loads.contains(&control) {
                loads.push(control);
            }
        }
    }
    let mut options: Vec<Answer> = loads
        .iter()
        .take(LOADS_ASKED)
        .filter_map(|control| {
            let to = super::operate::setting(lexicon, control, "on");
            let symptoms = symptoms(lexicon, saying, part, showing, &vec![(control.clone(), to.clone())]);
            symptoms.iter().any(|s| s.change.is_some()).then(|| Answer { label: format!("{control} {to}"), symptoms })
        })
        .collect();
    // Moving by itself it stands now here, now there, and not where it should.
    let wrong = lexicon.netlist.parts.get(part).and_then(|p| lexicon.kind(p)).map(|kind| {
        let words = kind.showings.iter().flat_map(|s| s.words.iter());
        words.filter(|word| *word != "normal").cloned().collect::<Vec<_>>()
    });
    let by_itself = symptoms(lexicon, saying, part, showing, &Vec::new()).into_iter().map(|symptom| Symptom {
        showings: wrong.clone().unwrap_or_default(),
        comes_and_goes: true,
        ..symptom
    });
    options.push(Answer { label: "nothing, by itself".into(), symptoms: by_itself.collect() });
    Question { text: format!("what makes {part} move?"), options }
}

fn spoken(settings: &Settings) -> String {
    settings.iter().map(|(control, setting)| format!("{control} {setting}")).collect::<Vec<_>>().join(", ")
}

/// Fuses of the parts that hang on the controls named.
fn fuses_of_controls(lexicon: &Lexicon<'_>, settings: &[Vec<(String, String)>]) -> Vec<String> {
    let named: Vec<&String> = settings.iter().flatten().map(|(control, _)| control).collect();
    let hangs = |part: &&String| {
        lexicon.paths.controls(part).iter().any(|(control, _)| named.contains(&control) && !lexicon.is_key(control))
    };
    let parts = lexicon.netlist.parts.keys().filter(hangs);
    parts.flat_map(|part| lexicon.paths.fuses(part)).collect()
}

/// The symptoms of one part in one way of reading the settings.
fn symptoms(
    lexicon: &Lexicon<'_>,
    saying: &Saying,
    part: &str,
    showing: &ShowingWords,
    way: &Settings,
) -> Vec<Symptom> {
    let mut set = way.clone();
    set.sort_by_key(|(control, _)| !lexicon.is_key(control));
    let moves = showing.needle && showing.state == Expected::Any;
    let change = if moves { changed(lexicon, &mut set) } else { None };
    let cured_by = saying.cure.as_ref().map(|cure| match cure {
        CureSaid::Set(settings) => Cure::Set(ways(settings).into_iter().next().unwrap_or_default()),
        CureSaid::Disturb(how) => Cure::Disturb(how.clone()),
        CureSaid::Words(words) => Cure::Words(words.clone()),
    });
    let disturbed = saying.when.iter().any(|when| !when.disturbs.is_empty());
    let base = Symptom {
        part: part.to_string(),
        said: saying.said.clone(),
        showings: means(lexicon, part, showing, &saying.parts.words),
        said_showing: saying.said_showing.clone(),
        implied: implied(lexicon, part, showing, &set, change.as_ref()),
        change,
        set,
        cured_by,
        since: saying.since.clone(),
        comes_and_goes: showing.comes_and_goes || disturbed,
        works: saying.showing == "works",
    };
    let with = showing
        .with
        .as_ref()
        .and_then(|name| lexicon.table.showings.get(name))
        .map(|other| Symptom { showings: means(lexicon, part, other, &saying.parts.words), ..base.clone() });
    let with = with.filter(|symptom| !symptom.showings.is_empty());
    std::iter::once(base).chain(with).collect()
}

/// Takes the control that moves the needle out of the settings.
fn changed(lexicon: &Lexicon<'_>, set: &mut Settings) -> Option<(String, [String; 2])> {
    let state = |control: &str| lexicon.is_key(control) || !lexicon.netlist.parts.contains_key(control);
    let at = set.iter().rposition(|(control, _)| !state(control)).or_else(|| set.len().checked_sub(1))?;
    let (control, to) = set.remove(at);
    let settings = &lexicon.controls.get(&control)?.settings;
    let rest = settings.first()?.clone();
    let from = if to == rest { settings.get(1)?.clone() } else { rest };
    Some((control, [from, to]))
}

/// What must be so without being said.
fn implied(
    lexicon: &Lexicon<'_>,
    part: &str,
    showing: &ShowingWords,
    set: &Settings,
    change: Option<&(String, [String; 2])>,
) -> Settings {
    let mut out: Settings = Vec::new();
    let said = |control: &str| set.iter().any(|(c, _)| c == control) || change.is_some_and(|(c, _)| c == control);
    let add = |out: &mut Settings, control: String, setting: String| {
        let known = said(&control) || out.iter().any(|(c, _)| *c == control);
        let rest = lexicon.controls.get(&control).and_then(|info| info.settings.first()) == Some(&setting);
        if !known && !rest && lexicon.controls.contains_key(&control) {
            out.push((control, setting));
        }
    };
    let working = showing.state == Expected::Working || showing.needle;
    let on_its_way = lexicon.paths.controls(part);
    for control in lexicon.controls.keys().filter(|control| lexicon.is_key(control)) {
        let needed = on_its_way.iter().find(|(c, _)| c == control).map(|(_, setting)| setting.clone());
        let usual = super::operate::setting(lexicon, control, "on");
        let setting = match needed {
            Some(setting) if working && !lexicon.controls[control].settings.contains(&usual) => setting,
            Some(setting) if working && lexicon.controls[control].held.contains(&setting) => setting,
            _ => usual,
        };
        add(&mut out, control.clone(), setting);
    }
    let at_rest = |control: &str, setting: &String| {
        lexicon.controls.get(control).and_then(|info| info.settings.first()) == Some(setting)
    };
    let mut others = on_its_way.iter().filter(|(control, _)| !lexicon.is_key(control)).peekable();
    if showing.state == Expected::Rest && others.peek().is_some() && others.all(|(c, s)| at_rest(c, s)) {
        // "the oil light stays on": at rest it has to be on, so it is the other state that is meant
        for (control, setting) in lexicon.paths.opening(part) {
            if !lexicon.is_key(&control) {
                add(&mut out, control, setting);
            }
        }
    }
    if working {
        for (control, setting) in on_its_way {
            add(&mut out, control, setting);
        }
        if let Some(kind) = lexicon.netlist.parts.get(part).and_then(|part| lexicon.kind(part)) {
            for (control, setting) in lexicon.table.needs.get(&kind.name).into_iter().flatten() {
                add(&mut out, control.clone(), setting.clone());
            }
        }
    }
    out
}
