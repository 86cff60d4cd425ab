//! The program's one "did you mean".

/// The candidate nearest to a word somebody typed, if one is near enough to be worth saying.
///
/// Case does not count; a candidate that starts with the word is near, and so is one with a slip of the finger
/// (a letter missing, doubled, wrong, or two exchanged).
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    candidates
        .into_iter()
        .filter_map(|candidate| {
            let lower = candidate.to_lowercase();
            let slips = strsim::osa_distance(&word, &lower);
            let letters = word.chars().count().max(lower.chars().count()).max(1);
            let likeness = strsim::jaro_winkler(&word, &lower);
            let near = likeness.max(if slips <= letters / 3 { 1.0 - slips as f64 / letters as f64 / 2.0 } else { 0.0 });
            let prefix = word.chars().count() >= 3 && (lower.starts_with(&word) || word.starts_with(&lower));
            (near > 0.78 || prefix).then_some((near, candidate))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

/// A noun with its article: `a horn`, `an alternator`.
pub fn a(noun: &str) -> String {
    // Letters that are spoken with a vowel first, where a word begins with several capitals: an LED lamp.
    let spoken = noun.chars().take(2).filter(char::is_ascii_uppercase).count() == 2
        && noun.starts_with(['A', 'E', 'F', 'H', 'I', 'L', 'M', 'N', 'O', 'R', 'S', 'X']);
    let vowel = noun.to_lowercase().starts_with(['a', 'e', 'i', 'o', 'u']);
    format!("{} {noun}", if spoken || vowel { "an" } else { "a" })
}

/// One of what a word in the plural names; the word itself if it is none.
pub fn singular(word: &str) -> &str {
    word.strip_suffix('s').filter(|one| !one.ends_with('s')).unwrap_or(word)
}

#[cfg(test)]
mod tests {
    use super::{a, nearest, singular};

    #[test]
    fn articles_and_numbers() {
        assert_eq!(
            ["horn", "alternator", "LED lamp", "oil pressure switch"].map(a),
            ["a horn", "an alternator", "an LED lamp", "an oil pressure switch"]
        );
        assert_eq!(["lamps", "horn", "glass"].map(singular), ["lamp", "horn", "glass"]);
    }

    #[test]
    fn finds_the_misspelt_pin_and_leaves_strangers_alone() {
        assert_eq!(nearest("grnd", ["feed", "ground", "signal"]), Some("ground"));
        assert_eq!(nearest("xyzzy", ["feed", "ground"]), None);
        assert_eq!(nearest("rde", ["blue", "red", "grey"]), Some("red"));
        assert_eq!(nearest("purpel", ["pink", "purple"]), Some("purple"));
    }
}
