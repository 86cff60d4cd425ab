//! Text into tokens: lower case, endings taken off, small slips of typing mended against a vocabulary.

use std::collections::BTreeSet;

/// A word of the text.
#[derive(Clone, Debug, PartialEq)]
pub struct Token {
    /// Lower case, apostrophes gone.
    pub word: String,
    /// Without its ending, after mending.
    pub stem: String,
    /// Bytes of the text it stands for.
    pub span: (usize, usize),
    /// True where a comma or a full stop stands before it.
    pub pause: bool,
}

/// Cuts a text into words. Hyphens and slashes part words; apostrophes are dropped.
pub fn tokens(text: &str) -> Vec<Token> {
    let mut out: Vec<Token> = Vec::new();
    let mut word = String::new();
    let mut start = 0;
    let mut end = 0;
    let mut pause = false;
    let mut flush = |word: &mut String, start: usize, end: usize, pause: &mut bool| {
        if !word.is_empty() {
            out.push(Token { stem: stem(word), word: std::mem::take(word), span: (start, end), pause: *pause });
            *pause = false;
        }
    };
    for (at, c) in text.char_indices() {
        if c.is_alphanumeric() || (c == '.' && word.ends_with(|d: char| d.is_ascii_digit())) {
            if word.is_empty() {
                start = at;
            }
            word.extend(c.to_lowercase());
            end = at + c.len_utf8();
        } else if !matches!(c, '\'' | '’' | '`') {
            flush(&mut word, start, end, &mut pause);
            pause |= matches!(c, ',' | '.' | ';' | ':' | '!' | '?' | '\n' | '(' | ')');
        }
    }
    flush(&mut word, start, end, &mut pause);
    for token in &mut out {
        while token.word.ends_with('.') {
            token.word.pop();
            token.stem = stem(&token.word);
        }
    }
    out
}

/// Words of a phrase of the rules, as stems.
pub fn stems(phrase: &str) -> Vec<String> {
    tokens(phrase).into_iter().map(|t| t.stem).collect()
}

/// A word without its ending, so that jump, jumps, jumped and jumping meet.
pub fn stem(word: &str) -> String {
    if word.chars().count() <= 3 || !word.is_ascii() {
        return word.to_string();
    }
    let mut base = word;
    let long = |s: &str| s.len() >= 3 && s.bytes().any(|b| b"aeiouy".contains(&b));
    if let Some(cut) = base.strip_suffix("ing").filter(|s| long(s)) {
        base = cut;
    } else if let Some(cut) = base.strip_suffix("ed").filter(|s| long(s)) {
        base = cut;
    } else if let Some(cut) =
        base.strip_suffix("es").filter(|s| ["ch", "sh", "x", "ss", "z"].iter().any(|end| s.ends_with(end)))
    {
        base = cut;
    } else if let Some(cut) = base.strip_suffix('s').filter(|s| !s.ends_with(['s', 'u', 'i'])) {
        base = cut;
    }
    let bytes = base.as_bytes();
    let double = bytes.len() > 3
        && bytes[bytes.len() - 1] == bytes[bytes.len() - 2]
        && base.len() < word.len()
        && !matches!(bytes[bytes.len() - 1], b'l' | b's' | b'z' | b'o' | b'e');
    if double {
        base = &base[..base.len() - 1];
    }
    if base.len() > 3 {
        base = base.strip_suffix('e').unwrap_or(base);
    }
    base.to_string()
}

/// Mends words that the vocabulary does not know but nearly knows.
pub fn mend(tokens: &mut [Token], vocabulary: &BTreeSet<String>) {
    for token in tokens {
        if vocabulary.contains(&token.stem) || token.stem.bytes().any(|b| b.is_ascii_digit()) {
            continue;
        }
        let length = token.stem.chars().count();
        let allowed = match length {
            0..=3 => continue,
            4..=7 => 1,
            _ => 2,
        };
        let first = token.stem.chars().next();
        // a slip in the first letter is rare: such a candidate must be the only one
        let best = vocabulary
            .iter()
            .filter(|known| known.chars().count() >= 4 && known.chars().count().abs_diff(length) <= allowed)
            .map(|known| {
                let distance = strsim::osa_distance(&token.stem, known);
                (distance, usize::from(known.chars().next() != first), known)
            })
            .filter(|(distance, ..)| *distance <= allowed)
            .min();
        if let Some((.., known)) = best {
            token.stem.clone_from(known);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn endings_meet() {
        for group in [
            &["jump", "jumps", "jumped", "jumping"][..],
            &["dim", "dims"],
            &["dance", "dances", "dancing", "danced"],
            &["twitch", "twitches", "twitching"],
            &["press", "pressed", "pressing", "presses"],
            &["blow", "blows", "blowing"],
            &["flash", "flashes", "flashing"],
            &["flicker", "flickers", "flickering"],
            &["pulse", "pulses", "pulsing"],
            &["wiggle", "wiggles", "wiggling"],
        ] {
            for word in group {
                assert_eq!(stem(word), stem(group[0]), "{word}");
            }
        }
        assert_eq!(stem("horn"), "horn");
        assert_eq!(stem("glass"), "glass");
    }

    #[test]
    fn punctuation_is_a_pause_and_apostrophes_are_nothing() {
        let got = tokens("It won’t blow, 12.5 V at rev-gauge.");
        let words: Vec<&str> = got.iter().map(|t| t.word.as_str()).collect();
        assert_eq!(words, ["it", "wont", "blow", "12.5", "v", "at", "rev", "gauge"]);
        assert!(got[3].pause && !got[4].pause);
    }

    #[test]
    fn slips_are_mended_towards_known_words() {
        let vocabulary: BTreeSet<String> = ["needl", "horn", "flicker", "temperatur"].map(String::from).into();
        let mut got = tokens("the neddle flikers, tempreature");
        mend(&mut got, &vocabulary);
        let stems: Vec<&str> = got.iter().map(|t| t.stem.as_str()).collect();
        assert_eq!(stems, ["the", "needl", "flicker", "temperatur"]);
    }
}
