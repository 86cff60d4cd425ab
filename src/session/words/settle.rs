//! What was said of a part, made into symptoms or a question.

use super::implied::{changed, implied, not_at_rest};
use super::lexicon::{Lexicon, Meaning};
use super::table::{Expected, ShowingWords};
use super::understand::{CureSaid, Saying};
use super::{Answer, Cure, Question, Symptom, Understood};
use crate::catalogue::ElementType;
use crate::circuit::heat;
use crate::circuit::lower::ENGINE;
use crate::circuit::test::Settings;

/// The words of a part's kind that a showing stands for; empty if it has none of them.
pub(super) fn means(lexicon: &Lexicon<'_>, part: &str, showing: &ShowingWords, only: &[String]) -> Vec<String> {
    let felt = |any: &&Vec<String>| any.iter().all(|word| heat::is_word(word));
    let Some(part) = lexicon.netlist.parts.get(part) else {
        return showing.means.iter().find(felt).cloned().unwrap_or_default();
    };
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
                || heat::is_word(word)
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

/// The answer that every question has; here it has a meaning of its own.
const UNKNOWN: &str = "don't know";

/// Controls that a question offers at most: a screen is ten lines.
const LOADS_ASKED: usize = 7;

/// One saying into symptoms or a question.
pub(super) fn settle(lexicon: &Lexicon<'_>, saying: &Saying, out: &mut Understood) {
    let unwanted = unwanted(lexicon, saying);
    let saying = unwanted.as_ref().unwrap_or(saying);
    let Some(showing) = lexicon.table.showings.get(&saying.showing) else { return };
    let can = |part: &str, showing: &ShowingWords| !means(lexicon, part, showing, &saying.parts.words).is_empty();
    // a starter without a solenoid cannot click, but what goes with a click it can
    let with = showing.with.as_ref().and_then(|name| lexicon.table.showings.get(name));
    let able = |part: &&String| can(part, showing) || with.is_some_and(|with| can(part, with));
    let able: Vec<&String> = saying.parts.any.iter().filter(able).collect();
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
    if let ([thing], true) = (&parts[..], settings.is_empty() && showing.felt)
        && !is_load(lexicon, thing)
    {
        let question = when_it_heats(lexicon, saying, thing, showing);
        if question.options.len() > 1 {
            if !out.questions.contains(&question) {
                out.questions.push(question);
            }
            return;
        }
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
        if showing.felt {
            // What is hot is hot in one place; who does not know where knows that it is.
            let symptoms = symptoms(lexicon, saying, heat::SOMEWHERE, showing, &ways[0]);
            options.push(Answer { label: UNKNOWN.into(), symptoms });
        } else if ways.len() == 1 {
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

/// "The horn sounds when I switch the lights on", "the charge light comes on with the key off": that it works with a
/// control that is none of its own, or with its own one at rest, is no praise, nor that the oil light is on with the
/// engine running. (That it is "fine" then is.)
fn unwanted(lexicon: &Lexicon<'_>, saying: &Saying) -> Option<Saying> {
    let works = lexicon.table.showings.get(&saying.showing).filter(|_| saying.showing == "works")?;
    let flat = |words: &str| super::tokens::stems(words).join(" ");
    if works.judged.iter().any(|say| flat(say) == flat(&saying.said_showing)) {
        return None;
    }
    let said: Vec<&(String, String)> = saying.when.iter().flat_map(|when| when.settings.iter().flatten()).collect();
    let at_rest = |control: &str, setting: &String| {
        lexicon.controls.get(control).and_then(|info| info.settings.first()) == Some(setting)
    };
    let odd = |part: &String| {
        let own = lexicon.paths.controls(part, saying.parts.feed.as_deref());
        let foreign =
            |control: &String| lexicon.netlist.parts.contains_key(control) && own.iter().all(|(c, _)| c != control);
        let idle = |(control, setting): &(String, String)| {
            at_rest(control, setting) && own.iter().any(|(c, needs)| c == control && needs != setting)
        };
        // the engine's own conditions: no oil pressure, an alternator that stands
        let running = said.iter().any(|(control, setting)| control == ENGINE && !at_rest(control, setting));
        let stands = |(c, needs): &(String, String)| !lexicon.netlist.parts.contains_key(c) && at_rest(c, needs);
        said.iter().all(|(control, _)| foreign(control))
            || said.iter().any(|set| idle(set))
            || (running && own.iter().any(stands))
    };
    let all = !said.is_empty() && !saying.parts.any.is_empty() && saying.parts.any.iter().all(odd);
    all.then(|| Saying { showing: "stuck-on".into(), ..saying.clone() })
}

/// Does it take current of its own, so that its being on says what flows? What only carries it, a key, a fuse, a plug,
/// gets hot by what is switched on behind it.
fn is_load(lexicon: &Lexicon<'_>, thing: &str) -> bool {
    let kind = lexicon.netlist.parts.get(thing).and_then(|part| lexicon.kind(part));
    kind.is_some_and(|kind| !kind.is_fuse() && kind.showings.iter().any(|showing| showing.works.is_some()))
}

/// Controls of the machine's loads but this one.
fn loads(lexicon: &Lexicon<'_>, part: &str) -> Vec<String> {
    let mut loads: Vec<String> = Vec::new();
    for (name, _) in lexicon.netlist.parts.iter().filter(|(name, p)| p.fitted && name.as_str() != part) {
        for (control, _) in lexicon.paths.controls(name, None) {
            let kind = lexicon.netlist.parts.get(&control).and_then(|part| lexicon.kind(part));
            // (a gear, a stand, a seat: nobody says of them what he has switched on)
            let lock = kind.is_some_and(|kind| lexicon.catalogue.review.lists("interlocks", &kind.name));
            let state = lexicon.is_key(&control) || kind.is_none() || lock;
            if !state && !loads.contains(&control) {
                loads.push(control);
            }
        }
    }
    loads.truncate(LOADS_ASKED);
    loads
}

/// Something gets hot, and nothing was said of when.
fn when_it_heats(lexicon: &Lexicon<'_>, saying: &Saying, thing: &str, showing: &ShowingWords) -> Question {
    let on = |control: &String| (control.clone(), super::operate::setting(lexicon, control, "on"));
    let keys: Vec<String> = lexicon.controls.keys().filter(|control| lexicon.is_key(control)).cloned().collect();
    let answer =
        |label: String, set: Settings| Answer { label, symptoms: symptoms(lexicon, saying, thing, showing, &set) };
    let key: Settings = keys.iter().map(on).collect();
    let mut options: Vec<Answer> = Vec::new();
    if !key.is_empty() {
        options.push(answer(format!("{} alone", spoken(&key)), key.clone()));
        let off =
            keys.iter().filter_map(|key| Some((key.clone(), lexicon.controls.get(key)?.settings.first()?.clone())));
        options.push(answer("everything off".into(), off.collect()));
    }
    for control in loads(lexicon, thing) {
        let (control, setting) = on(&control);
        options.push(answer(format!("{control} {setting}"), vec![(control, setting)]));
    }
    // (the key as a rule, where nobody knows)
    options.push(answer(UNKNOWN.into(), key));
    Question { text: format!("what is on while that happens at {thing}?"), options }
}

/// A needle moves, and nothing was said of what moves it: the controls of the machine's loads, or none of them.
fn when_it_moves(lexicon: &Lexicon<'_>, saying: &Saying, part: &str, showing: &ShowingWords) -> Question {
    let mut options: Vec<Answer> = loads(lexicon, part)
        .iter()
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
        lexicon
            .paths
            .controls(part, None)
            .iter()
            .any(|(control, _)| named.contains(&control) && !lexicon.is_key(control))
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
    if let Some(CureSaid::Set(settings)) = &saying.cure {
        for (control, setting) in ways(settings).into_iter().next().unwrap_or_default() {
            not_at_rest(lexicon, &mut set, change.as_ref(), &control, &setting);
        }
    }
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
        implied: implied(lexicon, (part, saying.parts.feed.as_deref()), showing, &set, change.as_ref()),
        change,
        set,
        cured_by,
        since: saying.since.clone(),
        comes_and_goes: showing.comes_and_goes || disturbed,
        works: saying.showing == "works",
    };
    let Some(with) = showing.with.as_ref().and_then(|name| lexicon.table.showings.get(name)) else { return vec![base] };
    // what goes with it shows on the part itself, or, of a starter's relay that clicks, on the starter behind it
    let words = |part: &str| means(lexicon, part, with, &[]);
    let starters = || {
        let all = lexicon.parts(&Meaning::Part("starter".into())).into_iter();
        all.filter(|starter| lexicon.paths.in_series(starter, None).iter().any(|other| other.name == part))
    };
    let own = means(lexicon, part, with, &saying.parts.words);
    let others: Vec<Symptom> = if own.is_empty() {
        let of = |starter: String| Symptom {
            showings: words(&starter),
            implied: implied(lexicon, (&starter, None), with, &base.set, base.change.as_ref()),
            part: starter,
            ..base.clone()
        };
        starters().map(of).collect()
    } else {
        vec![Symptom { showings: own, ..base.clone() }]
    };
    std::iter::once(base).chain(others).filter(|symptom| !symptom.showings.is_empty()).collect()
}
