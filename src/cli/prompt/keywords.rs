//! The words of the prompt: what a typed line is, before anybody asks what it means.

/// A typed line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Typed {
    /// Nothing.
    Empty,
    /// The answer to what was asked: a reading, a choice, yes or no.
    Answer(String),
    /// Not this one now.
    Skip,
    /// Why this test, what each suspect predicts.
    Why,
    /// Take the last answer back.
    Back,
    /// Another thing seen.
    Saw(String),
    /// What makes it go away.
    CuredBy(String),
    /// So it was before the work.
    Was(String),
    /// For the notes.
    Note(String),
    /// The suspects now.
    Suspects {
        /// with figures
        figures: bool,
    },
    /// What has been put right.
    Fixed(Vec<String>),
    /// A reading nobody asked for.
    Read(String),
    /// A line for the wiring file.
    Wire(String),
    /// End the chase.
    Stop,
    /// The words of the prompt.
    Help,
    /// A word of the prompt that lacks what it needs: how it is used.
    Lacks(&'static str),
}

/// One row a word: the word, other spellings, how it is used, what it does.
pub const WORDS: [(&str, &[&str], &str, &str); 14] = [
    ("skip", &["s", "pass"], "skip", "not this one now, ask another"),
    ("why", &[], "why", "why this test, and what each suspect would read"),
    ("back", &["undo"], "back", "take the last answer back"),
    ("saw", &["see", "saw:"], "saw the lamp dims with the horn", "something else that you see, hear or smell"),
    ("cured by", &["cured"], "cured by switching the lights off", "what makes it go away"),
    ("was", &[], "was dim before too", "so it was before the work"),
    ("note", &["note:"], "note seat bolt is M8", "a line for the build notes"),
    ("suspects", &["list"], "suspects", "who is still suspected (suspects % for figures)"),
    ("fixed", &["mended", "replaced"], "fixed G1", "you have put something right"),
    ("read", &["measured"], "read 8.1 V at fuse-box.in, key on", "a reading nobody asked for"),
    ("wire", &[], "wire change W7: beep", "write the wiring file (wire help); the chase goes on with it"),
    ("stop", &["quit", "exit", "q"], "stop", "end the chase and write the notes"),
    ("help", &["?", "h", "words"], "help", "this list"),
    ("don't know", &["dont know", "dunno", "no idea"], "don't know", "always an answer to a question"),
];

/// What a typed line is. Case and blanks around it do not count.
pub fn typed(line: &str) -> Typed {
    let line = line.trim();
    if line.is_empty() {
        return Typed::Empty;
    }
    let lower = line.to_lowercase();
    let Some((word, rest)) = keyword(line, &lower) else { return Typed::Answer(line.to_string()) };
    match (word, rest.is_empty()) {
        ("skip", true) => Typed::Skip,
        ("why", true) => Typed::Why,
        ("back", true) => Typed::Back,
        ("stop", true) => Typed::Stop,
        ("help", true) => Typed::Help,
        ("suspects", _) => Typed::Suspects { figures: !rest.is_empty() },
        ("saw", false) => Typed::Saw(rest),
        ("cured by", false) => Typed::CuredBy(rest),
        ("was", false) => Typed::Was(rest),
        ("note", false) => Typed::Note(rest),
        ("read", false) => Typed::Read(rest),
        ("wire", false) => Typed::Wire(rest),
        ("fixed", false) => Typed::Fixed(rest.split([',', ' ']).filter(|w| !w.is_empty()).map(String::from).collect()),
        ("saw", true) => Typed::Lacks("say what you saw, for example: saw the lamp dims with the horn"),
        ("cured by", true) => Typed::Lacks("say what makes it go away, for example: cured by switching the lights off"),
        ("was", true) => Typed::Lacks("say how it was before the work, for example: was dim before too"),
        ("note", true) => Typed::Lacks("write the line for the notes after it, for example: note seat bolt is M8"),
        ("read", true) => Typed::Lacks("say value, point and state, for example: read 8.1 V at horn.feed, key on"),
        ("wire", true) => Typed::Lacks("write the row after it, for example: wire change W7: beep; or: wire help"),
        ("fixed", true) => Typed::Lacks("say what you have put right, for example: fixed G1"),
        // A word of the prompt followed by more is an answer in the person's own words.
        _ => Typed::Answer(line.to_string()),
    }
}

/// The prompt's word that a line starts with, and the rest of the line as typed.
fn keyword(line: &str, lower: &str) -> Option<(&'static str, String)> {
    let mut best: Option<(&'static str, usize)> = None;
    for (word, also, _, _) in WORDS {
        if word == "don't know" {
            continue;
        }
        for spelling in std::iter::once(&word).chain(also) {
            let whole = lower == *spelling;
            let starts = lower.strip_prefix(spelling).is_some_and(|rest| rest.starts_with([' ', ':']));
            if (whole || starts) && best.is_none_or(|(_, length)| spelling.len() > length) {
                best = Some((word, spelling.len()));
            }
        }
    }
    let (word, length) = best?;
    // Upper and lower case of these words have the same length in bytes: they are plain letters.
    let rest = line.get(length..).unwrap_or("").trim_start_matches([' ', ':']).trim();
    let rest = if word == "cured by" { rest.strip_prefix("by ").unwrap_or(rest) } else { rest };
    Some((word, rest.to_string()))
}

/// The list that `help` prints.
pub fn help() -> String {
    let mut out = String::from("Type the reading (0.35, 350 mV, OL, beep), or one of these words:\n");
    for (_, _, usage, what) in WORDS {
        out.push_str(&format!("  {usage:<36} {what}\n"));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_told_from_answers() {
        let cases = [
            ("", Typed::Empty),
            ("  0.35 ", Typed::Answer("0.35".into())),
            ("SKIP", Typed::Skip),
            ("s", Typed::Skip),
            ("?", Typed::Help),
            ("silent", Typed::Answer("silent".into())),
            ("saw the tail lamp glows", Typed::Saw("the tail lamp glows".into())),
            ("Saw: Smoke", Typed::Saw("Smoke".into())),
            ("cured by lights off", Typed::CuredBy("lights off".into())),
            ("was dim", Typed::Was("dim".into())),
            ("fixed G1, P9", Typed::Fixed(vec!["G1".into(), "P9".into()])),
            ("read 8.1 V at horn.feed, key on", Typed::Read("8.1 V at horn.feed, key on".into())),
            ("wire W7: a.b to c.d", Typed::Wire("W7: a.b to c.d".into())),
            ("suspects %", Typed::Suspects { figures: true }),
            ("stop", Typed::Stop),
            ("steady", Typed::Answer("steady".into())),
            ("back to zero", Typed::Answer("back to zero".into())),
            ("don't know", Typed::Answer("don't know".into())),
        ];
        for (line, expected) in cases {
            assert_eq!(typed(line), expected, "{line:?}");
        }
        assert!(matches!(typed("note"), Typed::Lacks(_)));
        assert!(matches!(typed("cured by"), Typed::Lacks(_)));
    }

    #[test]
    fn help_names_every_word() {
        let help = help();
        assert!(WORDS.iter().all(|(word, _, _, _)| help.contains(word)));
    }
}
