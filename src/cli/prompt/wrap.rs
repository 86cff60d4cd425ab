//! Lines no wider than the screen, broken between words; what goes on hangs under where its text began.

/// Wraps each line to so many columns. Escapes of colour take no room. A word wider than the screen stands whole. A line
/// of a file that has a mark under it stays as it is, or the mark would point somewhere else.
pub fn wrap(text: &str, width: usize) -> String {
    let lines: Vec<&str> = text.split('\n').collect();
    let marks = |line: Option<&&str>| {
        line.is_some_and(|line| line.contains('^') && line.trim_matches([' ', '\t', '^']).is_empty())
    };
    let wrapped = |(at, line): (usize, &&str)| match marks(lines.get(at)) || marks(lines.get(at + 1)) {
        true => (*line).to_string(),
        false => one(line, width),
    };
    lines.iter().enumerate().map(wrapped).collect::<Vec<_>>().join("\n")
}

fn one(line: &str, width: usize) -> String {
    if columns(line) <= width {
        return line.to_string();
    }
    let hang = hang(line).min(width / 2);
    let indent = line.len() - line.trim_start_matches(' ').len();
    let mut out = line[..indent].to_string();
    let mut at = indent;
    let mut fresh = true;
    for word in line[indent..].split(' ') {
        let room = columns(word);
        if !fresh && at + 1 + room > width && room > 0 {
            out.truncate(out.trim_end_matches(' ').len());
            out.push('\n');
            out.push_str(&" ".repeat(hang));
            at = hang;
        } else if !fresh {
            out.push(' ');
            at += 1;
        }
        out.push_str(word);
        at += room;
        fresh = false;
    }
    out
}

/// Where the text of a line begins: after its dash, or its leading word and two blanks or more, else at its indent.
fn hang(line: &str) -> usize {
    if line.starts_with("- ") {
        return 2;
    }
    let mut column = 0;
    let mut blanks = 0;
    let mut word = false;
    let mut indent = 0;
    let mut escape = false;
    for c in line.chars() {
        match (escape, c) {
            (true, 'm') => escape = false,
            (true, _) => {}
            (false, '\u{1b}') => escape = true,
            (false, ' ') => {
                blanks += 1;
                column += 1;
            }
            (false, _) => {
                if word && blanks >= 2 {
                    return column;
                }
                if !word {
                    indent = column;
                }
                (word, blanks) = (true, 0);
                column += 1;
            }
        }
    }
    // A line far in has been hung already; a short indent is a list's.
    indent + if (1..=4).contains(&indent) { 2 } else { 0 }
}

/// Columns that a text takes, colour left out.
fn columns(text: &str) -> usize {
    let mut escape = false;
    let mut count = 0;
    for c in text.chars() {
        match (escape, c) {
            (true, 'm') => escape = false,
            (true, _) => {}
            (false, '\u{1b}') => escape = true,
            (false, _) => count += 1,
        }
    }
    count
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_between_words_and_hang_under_their_text() {
        let text = "Volts\n  set      engine idling, turn key on, hold it\n  red      horn";
        assert_eq!(
            wrap(text, 30),
            "Volts\n  set      engine idling, turn\n           key on, hold it\n  red      horn"
        );
        assert_eq!(wrap("- one two three", 10), "- one two\n  three");
    }

    #[test]
    fn colour_takes_no_room_and_nothing_is_lost() {
        let text = "  \u{1b}[1mred\u{1b}[0m  one two three four";
        let wrapped = wrap(text, 18);
        assert_eq!(wrapped, "  \u{1b}[1mred\u{1b}[0m  one two\n       three four");
        assert_eq!(wrapped.split_whitespace().collect::<Vec<_>>(), text.split_whitespace().collect::<Vec<_>>());
    }

    #[test]
    fn a_mark_stays_under_its_word() {
        let text =
            "wiring.yaml, line 3: no such pin\n    horn.grnd to frame, black\n         ^^^^\n    nearest: ground";
        let wrapped = wrap(text, 20);
        assert!(wrapped.contains("\n    horn.grnd to frame, black\n         ^^^^\n"), "{wrapped}");
        assert!(wrapped.starts_with("wiring.yaml, line 3:\nno such pin\n"), "{wrapped}");
    }

    #[test]
    fn a_word_wider_than_the_screen_stands_whole() {
        assert_eq!(wrap("abcdefghijkl mno", 5), "abcdefghijkl\nmno");
        assert_eq!(wrap("", 5), "");
    }
}
