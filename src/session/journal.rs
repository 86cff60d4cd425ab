//! A chase on disk, as data: what the lines of a journal are and how they are read.
//!
//! The first line names the version and the chase; then one line an accepted input; the last line of a
//! finished chase says how it ended. Pure text: whoever holds the file writes and syncs it.

use super::event::Input;
use crate::circuit::test::Test;
use crate::text::hidden::visible;
use serde_json::{Value, json};

/// The version written; a file of a later version is left alone.
pub const VERSION: u64 = 1;

/// The first line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Header {
    /// Running number of the trail.
    pub number: u32,
    /// The machine's name.
    pub machine: String,
    /// Fingerprint of the wiring file when the chase began, see [`fingerprint`].
    pub wiring: String,
    /// When it began, as written.
    pub started: String,
    /// The complaint in the person's own words; empty if the first input tells it.
    pub complaint: String,
}

/// One accepted input.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// When, as written.
    pub at: String,
    /// The input.
    pub input: Input,
    /// The test that it answered, if it is a reading.
    pub asked: Option<Test>,
}

/// A journal as read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Journal {
    /// The first line.
    pub header: Header,
    /// Accepted inputs in order.
    pub entries: Vec<Entry>,
    /// How it ended, if it has.
    pub end: Option<String>,
    /// A last line that was cut short: its number (from 1).
    pub damaged: Option<usize>,
    /// Lines that cannot be read, by number (from 1): left out, the rest is used.
    pub skipped: Vec<usize>,
    /// Bytes that are whole: a damaged last line begins here.
    pub whole: usize,
}

impl Header {
    /// The line, without its line end.
    pub fn line(&self) -> String {
        json!({
            "ohmward-trail": VERSION,
            "number": self.number,
            "machine": self.machine,
            "wiring": self.wiring,
            "started": self.started,
            "complaint": self.complaint,
        })
        .to_string()
    }
}

impl Entry {
    /// The line, without its line end.
    pub fn line(&self) -> String {
        let mut value = json!({"at": self.at, "input": self.input.to_json(self.asked.as_ref())});
        if let (Some(test), Value::Object(map)) = (&self.asked, &mut value) {
            map.insert("asked".into(), test.to_json());
        }
        value.to_string()
    }
}

/// The line that ends a journal.
pub fn end_line(at: &str, reason: &str) -> String {
    json!({"at": at, "end": reason}).to_string()
}

/// How far a journal can be read.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Whole {
    /// Bytes of whole lines.
    pub bytes: usize,
    /// The number of a last line that was cut short.
    pub damaged: Option<usize>,
}

/// Takes a journal line by line, each with its number. A damaged last line is what a crash leaves: it is named and
/// skipped.
///
/// # Errors
///
/// Anything else that cannot be read, with its line.
pub fn lines(bytes: &[u8], mut take: impl FnMut(&[u8], usize) -> Result<(), String>) -> Result<Whole, String> {
    let mut whole = Whole::default();
    let mut number = 0;
    while whole.bytes < bytes.len() {
        number += 1;
        let rest = &bytes[whole.bytes..];
        let end = rest.iter().position(|&b| b == b'\n');
        let next = end.map_or(bytes.len(), |end| whole.bytes + end + 1);
        // A line without its end was cut short, even if it happens to read well.
        match end.map_or_else(|| Err("cut short".to_string()), |end| take(&rest[..end], number)) {
            Ok(()) => whole.bytes = next,
            Err(_) if next == bytes.len() && number > 1 => {
                whole.damaged = Some(number);
                break;
            }
            Err(why) => return Err(format!("line {number}: {why}")),
        }
    }
    if number == 0 { Err("the file is empty".into()) } else { Ok(whole) }
}

/// Reads a journal. A line that cannot be read is left out and named; the rest is used.
///
/// # Errors
///
/// A first line that cannot be read, or one of a later version.
pub fn read(bytes: &[u8]) -> Result<Journal, String> {
    let mut journal = Journal::default();
    let whole = lines(bytes, |raw, number| match journal.take(raw, number) {
        Err(_) if number > 1 => {
            journal.skipped.push(number);
            Ok(())
        }
        taken => taken,
    })?;
    (journal.whole, journal.damaged) = (whole.bytes, whole.damaged);
    Ok(journal)
}

impl Journal {
    fn take(&mut self, raw: &[u8], number: usize) -> Result<(), String> {
        let text = std::str::from_utf8(raw).map_err(|_| "not text".to_string())?;
        let value: Value = serde_json::from_str(text).map_err(|_| "not a line of a trail".to_string())?;
        if number == 1 {
            let version = value.get("ohmward-trail").and_then(Value::as_u64).ok_or("not the first line of a trail")?;
            if version > VERSION {
                return Err(format!("written by a later version ({version}); this one reads up to {VERSION}"));
            }
            let text = |key: &str| visible(value.get(key).and_then(Value::as_str).unwrap_or(""));
            self.header = Header {
                number: value.get("number").and_then(Value::as_u64).and_then(|n| u32::try_from(n).ok()).unwrap_or(0),
                machine: text("machine"),
                wiring: text("wiring"),
                started: text("started"),
                complaint: text("complaint"),
            };
            return Ok(());
        }
        if let Some(end) = value.get("end").and_then(Value::as_str) {
            self.end = Some(end.to_string());
            return Ok(());
        }
        let at = value.get("at").and_then(Value::as_str).unwrap_or("").to_string();
        let asked = match value.get("asked") {
            None => None,
            Some(test) => Some(Test::from_json(test).map_err(|_| "the test in it is none".to_string())?),
        };
        let input = value.get("input").ok_or("no input in it")?;
        let input = Input::from_json(input, asked.as_ref())?;
        self.entries.push(Entry { at, input, asked });
        Ok(())
    }
}

/// A short fingerprint of a text (FNV-1a, 64 bits), to tell that a wiring file has changed. No protection.
pub fn fingerprint(text: &str) -> String {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for byte in text.bytes() {
        hash ^= u64::from(byte);
        hash = hash.wrapping_mul(0x0000_0100_0000_01b3);
    }
    format!("{hash:016x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sample() -> String {
        let header = Header {
            number: 3,
            machine: "Cart".into(),
            wiring: fingerprint("x"),
            started: "2026-01-02T03:04:05Z".into(),
            complaint: "the \"needle\" jumps".into(),
        };
        let entry = |input| Entry { at: "t".into(), input, asked: None };
        [header.line(), entry(Input::Skip).line(), entry(Input::Note("a\nb".into())).line()].join("\n") + "\n"
    }

    #[test]
    fn what_is_written_is_read() {
        let journal = read(sample().as_bytes()).unwrap();
        assert_eq!(journal.header.number, 3);
        assert_eq!(journal.header.complaint, "the \"needle\" jumps");
        assert_eq!(journal.entries.len(), 2);
        assert_eq!(journal.entries[1].input, Input::Note("a\nb".into()));
        assert_eq!((journal.end, journal.damaged, journal.whole), (None, None, sample().len()));
        let ended = format!("{}{}\n", sample(), end_line("t", "repair"));
        assert_eq!(read(ended.as_bytes()).unwrap().end.as_deref(), Some("repair"));
    }

    #[test]
    fn a_cut_last_line_is_named_and_skipped_wherever_it_is_cut() {
        let text = sample();
        let first = text.find('\n').unwrap();
        let last = text[..text.len() - 1].rfind('\n').unwrap() + 1;
        for cut in last + 1..text.len() {
            let journal = read(&text.as_bytes()[..cut]).unwrap();
            assert_eq!((journal.entries.len(), journal.damaged, journal.whole), (1, Some(3), last), "cut at {cut}");
        }
        let mut bad = text.clone().into_bytes();
        bad.extend_from_slice(b"\xff\xfe garbage\n");
        let journal = read(&bad).unwrap();
        assert_eq!((journal.entries.len(), journal.skipped, journal.whole), (2, vec![4], bad.len()));
        assert!(read(&text.as_bytes()[..first - 3]).is_err());
        assert!(read(b"").is_err());
    }

    #[test]
    fn damage_in_the_middle_is_named_and_skipped_and_a_later_version_is_refused() {
        let broken = sample().replacen("{\"at\"", "{at", 1);
        let journal = read(broken.as_bytes()).unwrap();
        assert_eq!((journal.entries.len(), journal.skipped), (1, vec![2]));
        assert_eq!(journal.entries[0].input, Input::Note("a\nb".into()));
        let later = sample().replacen("\"ohmward-trail\":1", "\"ohmward-trail\":9", 1);
        assert!(read(later.as_bytes()).unwrap_err().contains("later version"));
    }
}
