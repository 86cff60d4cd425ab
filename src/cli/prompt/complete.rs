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
/// Case does not count. A point's dot is part of the word; commas, colons and brackets end one. A blank ends one too,
/// unless something offered has a blank there: `push sw` is a piece of `push switch`.
pub fn at(offers: &Offers, line: &str, pos: usize) -> (usize, Vec<String>) {
    let head = line.get(..pos).unwrap_or(line);
    let hard = head.rfind([',', '(', '[', '"']).map_or(0, |i| i + 1);
    let hard = head.rfind(": ").map_or(hard, |i| hard.max(i + 2));
    let piece = &head[hard..];
    let first = hard + piece.len() - piece.trim_start().len();
    let blanks = head[first..].match_indices([' ', '\t']).map(|(at, _)| first + at + 1);
    let starts: Vec<usize> = std::iter::once(first).chain(blanks).collect();
    for &start in &starts {
        let typed = head[start..].to_lowercase();
        let fits = |word: &&String| word.to_lowercase().starts_with(&typed);
        // With nothing typed all is offered, and only behind the last blank.
        if !typed.is_empty() || Some(&start) == starts.last() {
            let found: Vec<String> = offers.words.iter().filter(fits).cloned().collect();
            if !found.is_empty() {
                return (start, found);
            }
        }
    }
    (head.len(), Vec::new())
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
        assert_eq!(at(&offers, "wibble", 6), (6, Vec::new()));
    }

    #[test]
    fn a_word_of_two_words_is_completed_from_its_first() {
        let offers = Offers::new(["push switch", "switch", "horn.feed", "G1"].map(String::from).to_vec());
        assert_eq!(at(&offers, "x: push sw", 10), (3, vec!["push switch".to_string()]));
        assert_eq!(at(&offers, "x: sw", 5), (3, vec!["switch".to_string()]));
        assert_eq!(at(&offers, "horn.feed to g", 14), (13, vec!["G1".to_string()]));
        assert_eq!(at(&offers, "1, red,ho", 9), (7, vec!["horn.feed".to_string()]));
        assert_eq!(at(&offers, "remove ", 7).1.len(), 4);
    }
}
