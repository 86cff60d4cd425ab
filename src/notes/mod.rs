//! Layer 9: the build notes.
//!
//! A chase becomes a dated section of `build-notes.md`. The file belongs to the person who builds the
//! machine: what stands in it is never touched, a section is only added after it.
//!
//! - [`Record`]: what happened in a chase, collected from its inputs and events
//! - [`section`]: the record as text a person likes to read
//! - [`append`]: a section added to what stands in the notes

mod powered;
mod record;
mod rung;
mod section;

pub use powered::powered;
pub use record::{Record, Saying, Step, Tried, alike, complained, said, short};
pub use rung::rung_out;
pub use section::section;

/// How sure a chance is, in words: near certain, likely, could be, unlikely.
pub fn sureness(p: f64) -> &'static str {
    match p {
        p if p >= 0.95 => "near certain",
        p if p >= 0.6 => "likely",
        p if p >= 0.05 => "could be",
        _ => "unlikely",
    }
}

/// The mark that tells which trail a section is of; not shown when the notes are rendered.
pub fn mark(trail: &str) -> String {
    format!("<!-- ohmward trail {trail} -->")
}

/// The notes with a section after them; `None` if this trail's section stands there already.
///
/// Works on bytes: notes in another encoding stay as they are. `title` heads a file that is empty.
pub fn append(notes: &[u8], trail: &str, title: &str, section: &str) -> Option<Vec<u8>> {
    let mark = mark(trail);
    if notes.windows(mark.len()).any(|window| window == mark.as_bytes()) {
        return None;
    }
    // Line ends as the file has them.
    let windows = notes.windows(2).any(|pair| pair == b"\r\n");
    let mut text = String::new();
    if notes.is_empty() {
        text.push_str(&format!("# Build notes: {title}\n\n"));
    } else if notes.ends_with(b"\n\n") || notes.ends_with(b"\n\r\n") {
    } else if notes.ends_with(b"\n") {
        text.push('\n');
    } else {
        text.push_str("\n\n");
    }
    text.push_str(section.trim_end());
    text.push_str(&format!("\n\n{mark}\n"));
    if windows {
        text = text.replace('\n', "\r\n");
    }
    Some([notes, text.as_bytes()].concat())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_persons_text_stays_byte_for_byte_and_a_trail_is_added_once() {
        for notes in [&b"my notes"[..], b"my notes\n", b"a\r\nb\r\n", b"caf\xe9\n\n", b""] {
            let once = append(notes, "2026-01-02-1", "Cart", "## A\n\ntext\n").unwrap();
            assert!(once.starts_with(notes));
            assert!(once.ends_with(b"-->\n") || once.ends_with(b"-->\r\n"));
            assert_eq!(append(&once, "2026-01-02-1", "Cart", "## A"), None);
            let twice = append(&once, "2026-01-02-2", "Cart", "## B").unwrap();
            assert!(twice.starts_with(&once));
        }
        let windows = append(b"a\r\n", "1", "Cart", "x\ny").unwrap();
        assert_eq!(windows, b"a\r\n\r\nx\r\ny\r\n\r\n<!-- ohmward trail 1 -->\r\n");
    }

    #[test]
    fn words_follow_the_chance() {
        assert_eq!([0.99, 0.7, 0.2, 0.01].map(sureness), ["near certain", "likely", "could be", "unlikely"]);
    }
}
