//! Readings that nobody asked for: `read 8.1 V at fuse box, key on`; and what points and states words can mean.

use super::lexicon::{Lexicon, Meaning};
use super::operate::operated;
use super::reading::{self, Asked};
use super::table::SymptomTable;
use super::tokens::{stems, tokens};
use crate::catalogue::Catalogue;
use crate::circuit::schematic::ControlInfo;
use crate::circuit::test::{Instrument, Reading};
use crate::netlist::{Netlist, PointKind};
use indexmap::IndexMap;

/// A reading with where and when it was taken, still in the user's words.
#[derive(Clone, Debug, PartialEq)]
pub struct Unasked {
    /// By the unit.
    pub instrument: Instrument,
    /// What was read.
    pub reading: Reading,
    /// Where red was.
    pub red: String,
    /// Where black was, if said; else battery minus is usual and to be said back.
    pub black: Option<String>,
    /// The state, if said.
    pub state: String,
}

/// Takes such a line apart; the leading `read` may be left out.
///
/// ```
/// use ohmward::session::words::unasked::unasked;
/// let got = unasked("8.1 V at fuse box, key on").unwrap();
/// assert_eq!((got.red.as_str(), got.state.as_str()), ("fuse box", "key on"));
/// ```
pub fn unasked(text: &str) -> Result<Unasked, String> {
    let example = "for example: read 8.1 V at fuse box, key on";
    let lower = text.trim().to_lowercase();
    let skip = ["read ", "measured ", "i read ", "i get ", "i got ", "got ", "there is ", "there are ", "have "];
    let skipped = skip.iter().filter(|word| lower.starts_with(**word)).map(|word| word.len()).max().unwrap_or(0);
    let body = text.trim().get(skipped..).unwrap_or_default();
    let marks = [" at ", " on ", " from ", " between ", " across ", " over ", " in "];
    let padded = body.to_lowercase();
    let (mark, at) = marks
        .iter()
        .filter_map(|mark| padded.find(mark).map(|at| (*mark, at)))
        .min_by_key(|(_, at)| *at)
        .ok_or_else(|| format!("where was it read? {example}"))?;
    let value = body.get(..at).unwrap_or_default();
    let rest = body.get(at + mark.len()..).unwrap_or_default();
    let (instrument, reading) = value_of(value.trim(), example)?;
    let (place, state) = split_at_first(rest, &[", ", "; ", " with ", " when ", " while "]);
    let joins: &[&str] = if matches!(mark, " between " | " across " | " over " | " from ") {
        &[" to ", " and ", " against "]
    } else {
        &[" to ", " against ", " and "]
    };
    let (red, black) = split_at_first(place, joins);
    if red.trim().is_empty() {
        return Err(format!("where was it read? {example}"));
    }
    Ok(Unasked {
        instrument,
        reading,
        red: red.trim().to_string(),
        black: (!black.trim().is_empty()).then(|| black.trim().to_string()),
        state: state.trim().to_string(),
    })
}

fn split_at_first<'t>(text: &'t str, marks: &[&str]) -> (&'t str, &'t str) {
    let first = marks.iter().filter_map(|mark| text.find(mark).map(|at| (at, mark.len()))).min();
    match first {
        Some((at, length)) => (&text[..at], &text[at + length..]),
        None => (text, ""),
    }
}

fn value_of(text: &str, example: &str) -> Result<(Instrument, Reading), String> {
    let lower = text.to_lowercase();
    if lower.is_empty() {
        return Err(format!("what was read? {example}"));
    }
    if stems(text).iter().any(|word| matches!(word.as_str(), "beep" | "tone" | "buzz" | "silent")) {
        let said = reading::read(text, &Asked::one(Instrument::Beep), &SymptomTable::default())?;
        return said.readings.into_iter().next().map(|r| (Instrument::Beep, r)).ok_or_else(|| example.to_string());
    }
    let mut errors = Vec::new();
    // a number with no unit could be any of them: it must name its own
    let bare = lower.trim_start_matches(['-', '+']).bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b','));
    if bare {
        return Err(format!("{text} what? Name the unit: {text} V, {text} ohm or {text} A"));
    }
    let over = lower.contains("ol") || lower.contains("0.l");
    let order = if over {
        [Instrument::Ohms, Instrument::VoltsDc, Instrument::AmpsDc]
    } else {
        [Instrument::VoltsDc, Instrument::Ohms, Instrument::AmpsDc]
    };
    for instrument in order {
        match reading::read(text, &Asked::one(instrument), &SymptomTable::default()) {
            Ok(said) => {
                return said.readings.into_iter().next().map(|r| (instrument, r)).ok_or_else(|| example.to_string());
            }
            Err(error) => errors.push(error),
        }
    }
    Err(errors.into_iter().next().unwrap_or_else(|| example.to_string()))
}

/// Points that words can mean, the most exact sort first: a point's own name, a pin of a part by one of its
/// names, every pin of a part, every point at a place. Empty: nothing here is called that.
pub fn points(words: &str, netlist: &Netlist, catalogue: &Catalogue) -> Vec<String> {
    let said = words.trim().trim_start_matches("the ").trim();
    if let Some(node) = netlist.point(said) {
        return vec![netlist.point_name(node).to_string()];
    }
    let said = stems(said);
    if said.is_empty() {
        return Vec::new();
    }
    let mut best: (usize, Vec<String>) = (0, Vec::new());
    let mut offer = |score: usize, name: &str| {
        if score > best.0 {
            best = (score, vec![name.to_string()]);
        } else if score == best.0 && score > 0 && !best.1.iter().any(|known| known == name) {
            best.1.push(name.to_string());
        }
    };
    let all_said = |known: &[String]| said.iter().all(|word| known.contains(word));
    for node in netlist.graph.node_indices() {
        let point = &netlist.graph[node];
        let mut known = stems(&point.name);
        if all_said(&known) && known.len() == said.len() {
            offer(9, &point.name);
        }
        match &point.what {
            PointKind::Pin { part, pin } => {
                let kind = netlist.parts.get(part).and_then(|part| catalogue.kind(&part.kind));
                let pin_words: Vec<String> = kind
                    .and_then(|kind| kind.pins.get(pin))
                    .into_iter()
                    .flatten()
                    .flat_map(|name| stems(name))
                    .chain(stems(pin))
                    .collect();
                let part_words: Vec<String> = kind
                    .into_iter()
                    .flat_map(|kind| std::iter::once(&kind.name).chain(&kind.also))
                    .flat_map(|name| stems(name))
                    .chain(stems(part))
                    .collect();
                let names_pin = said.iter().any(|word| pin_words.contains(word));
                known = [pin_words, part_words.clone()].concat();
                if all_said(&known) && said.iter().any(|word| part_words.contains(word)) {
                    // a part's own name counts for more than a nickname of its kind
                    let own = stems(part);
                    let by_name = own.iter().all(|word| said.contains(word));
                    offer(3 + usize::from(names_pin) + if by_name { 2 } else { 0 }, &point.name);
                }
            }
            PointKind::Piece | PointKind::Stud | PointKind::Sleeve | PointKind::Way { .. } => {
                if all_said(&known) {
                    offer(3, &point.name);
                }
            }
            PointKind::Conductor { .. } => {}
        }
        let place = point.place.as_deref().map(stems).unwrap_or_default();
        if point.probeable && !place.is_empty() && all_said(&place) {
            offer(1, &point.name);
        }
    }
    best.1
}

/// The settings that words such as `key on, horn pressed` can mean, and the words that mean nothing here.
pub fn settings(
    words: &str,
    netlist: &Netlist,
    catalogue: &Catalogue,
    controls: &IndexMap<String, ControlInfo>,
    table: &SymptomTable,
) -> (Vec<Vec<(String, String)>>, Vec<String>) {
    let lexicon = Lexicon::new(netlist, catalogue, controls, table);
    let mut said = tokens(words);
    lexicon.mend(&mut said);
    let mut out = Vec::new();
    let mut lost = Vec::new();
    let join = |m: &Meaning| matches!(m, Meaning::Join(join) if join != "filler" && join != "not");
    let mut clause = Vec::new();
    let mut flush = |clause: &mut Vec<super::tokens::Token>| {
        let operated = operated(&lexicon, clause);
        out.extend(operated.settings);
        lost.extend(operated.lost.into_iter().map(|at| clause[at].word.clone()));
        clause.clear();
    };
    for (at, token) in said.iter().enumerate() {
        let joins = lexicon.at(&said, at, &join).is_some_and(|met| met.length == 1);
        if (token.pause || joins) && !clause.is_empty() {
            flush(&mut clause);
        }
        if !joins {
            clause.push(token.clone());
        }
    }
    if !clause.is_empty() {
        flush(&mut clause);
    }
    (out, lost)
}
