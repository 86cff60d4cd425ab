//! Fuses that are named by what hangs on them: "its fuse", "the horn blows fuses".

use super::clauses::Parts;
use super::lexicon::Lexicon;
use super::operate::{Operated, switches};
use super::settle::means;
use super::table::ShowingWords;
use super::tokens::Token;
use crate::catalogue::Kind;

/// The fuses that are these parts' own.
fn own(lexicon: &Lexicon<'_>, parts: &Parts) -> Vec<String> {
    let mut own: Vec<String> = parts.any.iter().filter_map(|part| lexicon.paths.own_fuse(part)).collect();
    own.sort();
    own.dedup();
    own
}

/// "The horn is dead and blows its fuse": the horn's.
pub(super) fn its(lexicon: &Lexicon<'_>, tokens: &[Token], last: Option<&Parts>, parts: &mut Parts) {
    let its = parts.tokens.0.checked_sub(1).and_then(|at| tokens.get(at)).is_some_and(|token| token.word == "its");
    let Some(owner) = last.filter(|_| parts.fuse && its) else { return };
    let own = own(lexicon, owner);
    if !own.is_empty() {
        parts.any.retain(|fuse| own.contains(fuse));
    }
}

/// "The horn keeps blowing fuses": its own, while it is worked. `eater` stands before the word, `eaten` behind it.
pub(super) fn eaten_by(
    lexicon: &Lexicon<'_>,
    words: &ShowingWords,
    eater: &Parts,
    eaten: &Parts,
) -> Option<(Parts, Operated)> {
    let is_fuse = |part: &String| {
        let kind = lexicon.netlist.parts.get(part).and_then(|part| lexicon.catalogue.kind(&part.kind));
        kind.is_some_and(Kind::is_fuse)
    };
    let blows = |part: &String| is_fuse(part) && !means(lexicon, part, words, &eaten.words).is_empty();
    if eaten.any.is_empty() || !eaten.any.iter().all(blows) || eater.any.is_empty() || eater.any.iter().any(is_fuse) {
        return None;
    }
    let own = own(lexicon, eater);
    let any: Vec<String> = eaten.any.iter().filter(|fuse| own.contains(fuse)).cloned().collect();
    // (A fuse that is named is meant, whosever it is.)
    let parts = if any.is_empty() { eaten.clone() } else { Parts { any, ..eaten.clone() } };
    let worked = switches(lexicon, &eater.any).into_iter().filter(|(control, _)| !lexicon.is_key(control));
    let worked: Vec<(String, String)> = worked.filter_map(|(control, works)| Some((control, works?))).collect();
    let mut when = Operated::default();
    if !worked.is_empty() {
        when.settings.push(worked);
    }
    Some((parts, when))
}
