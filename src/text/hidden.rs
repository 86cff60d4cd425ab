//! Characters that are not seen but steer a terminal, or turn the order of what is read.

/// A control character other than a line end or a tab, or one that changes the direction of text.
///
/// ```
/// use ohmward::text::hidden::is_hidden;
/// assert!(is_hidden('\u{1b}') && is_hidden('\u{202e}') && !is_hidden('\n') && !is_hidden('é'));
/// ```
pub fn is_hidden(c: char) -> bool {
    let turns = matches!(c, '\u{200e}' | '\u{200f}' | '\u{061c}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    turns || c.is_control() && !matches!(c, '\n' | '\r' | '\t')
}

/// The text with a mark in the place of every hidden character.
pub fn visible(text: &str) -> String {
    text.chars().map(|c| if is_hidden(c) { char::REPLACEMENT_CHARACTER } else { c }).collect()
}

/// The first hidden character: its byte and itself.
pub fn first(text: &str) -> Option<(usize, char)> {
    text.char_indices().find(|(_, c)| is_hidden(*c))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_is_not_steered_by_a_name() {
        assert_eq!(visible("a\u{1b}]0;b\u{7}\u{202e}c\td"), "a\u{fffd}]0;b\u{fffd}\u{fffd}c\td");
        assert_eq!(first("ab\u{9b}"), Some((2, '\u{9b}')));
        assert_eq!(first("ordinary, with an é and a → in it\r\n"), None);
    }
}
