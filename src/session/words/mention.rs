//! What a text mentions, whatever it says of it.

use super::clauses::{Item, items};
use super::lexicon::Lexicon;
use super::table::SymptomTable;
use super::tokens::{Token, stems, tokens};
use crate::catalogue::Catalogue;
use crate::circuit::schematic::ControlInfo;
use crate::netlist::Netlist;
use indexmap::IndexMap;

/// Parts that a text names, phrase by phrase: each with every part that it can mean.
pub fn mentioned(
    text: &str,
    netlist: &Netlist,
    catalogue: &Catalogue,
    controls: &IndexMap<String, ControlInfo>,
    table: &SymptomTable,
) -> Vec<Vec<String>> {
    let lexicon = Lexicon::new(netlist, catalogue, controls, table);
    let mut words = tokens(text);
    lexicon.mend(&mut words);
    let (items, _) = items(&lexicon, &words);
    let parts = items.into_iter().filter_map(|item| if let Item::Parts(parts) = item { Some(parts.any) } else { None });
    parts.collect()
}

/// A slip in a long word is no other word.
const LONG: usize = 6;

/// Does the text hold one of these phrases, in any ending, and no "no" right before it?
///
/// ```
/// use ohmward::session::words::says;
/// let smoke = ["smoke".to_string()];
/// assert!(says("it smokes!", &smoke) && !says("there is no smoke", &smoke));
/// assert!(says("does it work? no. smoke comes out", &smoke));
/// ```
pub fn says(text: &str, phrases: &[String]) -> bool {
    let words = tokens(text);
    let same = |token: &Token, stem: &String| {
        token.stem == *stem
            || (stem.len() >= LONG && token.stem.len() >= LONG && strsim::osa_distance(&token.stem, stem) <= 1)
    };
    phrases.iter().map(|phrase| stems(phrase)).filter(|phrase| !phrase.is_empty()).any(|phrase| {
        words.windows(phrase.len()).enumerate().any(|(at, part)| {
            // ("does it work? no. smoke comes out" denies no smoke)
            let denied = !words[at].pause
                && at
                    .checked_sub(1)
                    .is_some_and(|before| ["no", "not", "without"].contains(&words[before].word.as_str()));
            !denied && part.iter().zip(&phrase).all(|(token, stem)| same(token, stem))
        })
    })
}

/// What stands behind the first of these phrases, in any ending.
pub fn behind(text: &str, phrases: &[String]) -> Option<String> {
    let words = tokens(text);
    let ends = phrases.iter().map(|phrase| stems(phrase)).filter(|phrase| !phrase.is_empty()).filter_map(|phrase| {
        let at = words.windows(phrase.len()).position(|part| part.iter().zip(&phrase).all(|(t, s)| t.stem == *s))?;
        Some(at + phrase.len())
    });
    let from = ends.max()?;
    Some(words[from..].iter().map(|token| token.word.as_str()).collect::<Vec<_>>().join(" "))
}

/// The text without the words of these phrases.
pub fn without(text: &str, phrases: &[String]) -> String {
    let drop: Vec<String> = phrases.iter().flat_map(|phrase| stems(phrase)).collect();
    let kept = tokens(text).into_iter().filter(|token| !drop.contains(&token.stem));
    kept.map(|token| token.word).collect::<Vec<_>>().join(" ")
}
