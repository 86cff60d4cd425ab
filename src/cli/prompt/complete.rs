//! Completion at the prompt: points, parts, settings and the prompt's own words.

/// What can be completed.
#[derive(Clone, Debug, Default)]
pub struct Offers {
    words: Vec<String>,
}

impl Offers {
    /// These words, sorted, each once.
    pub fn new(mut words: Vec<String>) -> Offers {
        words.sort_by_key(|word| word.to_lowercase());
        words.dedup();
        Offers { words }
    }
}

/// The words that continue what stands before the cursor, and where the piece to replace starts.
///
/// Case does not count. A point's dot is part of the word; blanks, commas and brackets end one.
pub fn at(offers: &Offers, line: &str, pos: usize) -> (usize, Vec<String>) {
    let head = line.get(..pos).unwrap_or(line);
    let start = head.rfind([' ', '\t', ',', '(', '[', '"']).map_or(0, |i| i + 1);
    let typed = head[start..].to_lowercase();
    let found = offers.words.iter().filter(|word| word.to_lowercase().starts_with(&typed)).cloned().collect();
    (start, found)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn completes_the_word_under_the_cursor_whatever_its_case() {
        let offers =
            Offers::new(["rev-gauge.ground", "rev-gauge.feed", "skip", "G1", "skip"].map(String::from).to_vec());
        assert_eq!(at(&offers, "read 8.1 V at rev-gauge.g", 25), (14, vec!["rev-gauge.ground".to_string()]));
        assert_eq!(at(&offers, "g", 1), (0, vec!["G1".to_string()]));
        assert_eq!(at(&offers, "sk", 2), (0, vec!["skip".to_string()]));
        assert_eq!(at(&offers, "é,s", 4).1, vec!["skip".to_string()]);
    }
}
