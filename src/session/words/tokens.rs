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

/// Words that are known, as written, each with its stem.
#[derive(Clone, Debug, Default)]
pub struct Vocabulary {
    words: BTreeSet<(String, String)>,
    stems: BTreeSet<String>,
    /// Small words that join others: a slip in three letters is mended towards these only.
    small: BTreeSet<String>,
    /// Other spellings.
    same: Vec<(String, String)>,
}

impl Vocabulary {
    /// Adds the words of a phrase.
    pub fn add(&mut self, phrase: &str, small: bool) {
        for token in tokens(phrase) {
            if small {
                self.small.insert(token.word.clone());
            }
            self.stems.insert(token.stem.clone());
            self.words.insert((token.word, token.stem));
        }
    }

    /// `said` is another spelling of `known`.
    pub fn same(&mut self, said: &str, known: &str) {
        self.same.push((stem(&said.to_lowercase()), stem(&known.to_lowercase())));
    }

    /// Mends words that are not known but nearly are.
    pub fn mend(&self, tokens: &mut [Token]) {
        for token in tokens {
            if let Some((_, known)) = self.same.iter().find(|(said, _)| *said == token.stem) {
                token.stem.clone_from(known);
            }
            if self.stems.contains(&token.stem) || token.stem.bytes().any(|b| b.is_ascii_digit()) {
                continue;
            }
            let length = token.word.chars().count();
            let allowed = match length {
                0..=2 => continue,
                3..=7 => 1,
                _ => 2,
            };
            // a slip in the first letter is rarer than one further on
            let first = token.word.chars().next();
            let best = self
                .words
                .iter()
                .filter(|(word, _)| {
                    let long = word.chars().count();
                    let enough = if length == 3 { long >= 3 && self.small.contains(word) } else { long >= 4 };
                    enough && long.abs_diff(length) <= allowed
                })
                .map(|(word, stem)| {
                    (strsim::osa_distance(&token.word, word), usize::from(word.chars().next() != first), stem)
                })
                .filter(|(distance, ..)| *distance <= allowed)
                .min();
            if let Some((.., stem)) = best {
                token.stem.clone_from(stem);
            }
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
        let mut vocabulary = Vocabulary::default();
        vocabulary.add("needle horn flickers temperature gauge", false);
        vocabulary.add("the when", true);
        vocabulary.same("gage", "gauge");
        let mut got = tokens("teh neddle flikers, tempreature gages wen hro");
        vocabulary.mend(&mut got);
        let stems: Vec<&str> = got.iter().map(|t| t.stem.as_str()).collect();
        assert_eq!(stems, ["the", "needl", "flicker", "temperatur", "gaug", "when", "hro"]);
    }
}
