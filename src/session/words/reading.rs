//! Readings as people say them: `12.6`, `0.02 0.35`, `350 mV`, `OL`, `1.`, `no beep`, `jumps 2 to 5`, `dim`.
//!
//! The digits typed are the resolution: `12` is 11.5 to 12.5. A minus is kept. A number with no unit is taken in
//! the range last named.

mod numbers;

use super::table::SymptomTable;
use super::tokens::{stem, stems};
use crate::circuit::test::{Instrument, Reading};
use crate::text::quantity::Unit;
use crate::text::words::nearest;
use numbers::Numbers;

/// What was asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked<'a> {
    /// The instrument.
    pub instrument: Instrument,
    /// How many readings are wanted, one for each setting.
    pub count: usize,
    /// The words that answer, where a showing is asked for, the lowest first.
    pub words: &'a [String],
    /// The word that "yes" stands for.
    pub works: Option<&'a str>,
    /// What a number with no unit is multiplied by: 0.001 on a range of millivolts.
    pub scale: f64,
}

/// What was said.
#[derive(Clone, Debug, PartialEq)]
pub struct Said {
    /// The readings in the order asked for.
    pub readings: Vec<Reading>,
    /// The range named last, as a factor, for numbers that follow.
    pub scale: f64,
}

impl Asked<'_> {
    /// One reading of an instrument, no words, base units.
    pub fn one(instrument: Instrument) -> Asked<'static> {
        Asked { instrument, count: 1, words: &[], works: None, scale: 1.0 }
    }

    fn unit(&self) -> Option<Unit> {
        match self.instrument {
            Instrument::VoltsDc | Instrument::VoltsAc | Instrument::VoltsLoz => Some(Unit::Volt),
            Instrument::Ohms => Some(Unit::Ohm),
            Instrument::AmpsDc => Some(Unit::Amp),
            Instrument::Beep | Instrument::TestLamp | Instrument::Watch | Instrument::Touch => None,
        }
    }

    fn wanted(&self) -> String {
        match self.instrument {
            Instrument::Beep => "beep or no beep".into(),
            _ => match self.unit() {
                Some(unit) => format!("a number in {}, or OL", unit.symbol()),
                None => format!("one of: {}", self.answers().join(", ")),
            },
        }
    }

    fn answers(&self) -> Vec<String> {
        if self.words.is_empty() && self.instrument == Instrument::TestLamp {
            return ["dark", "dim", "lit"].map(String::from).to_vec();
        }
        self.words.to_vec()
    }
}

/// Reads an answer; what cannot be used is said in plain words.
///
/// ```
/// use ohmward::circuit::test::{Instrument, Reading};
/// use ohmward::session::words::{reading::{self, Asked}, SymptomTable};
/// let said = reading::read("12", &Asked::one(Instrument::VoltsDc), &SymptomTable::default()).unwrap();
/// assert_eq!(said.readings, [Reading::Value { value: 12.0, step: Some(1.0) }]);
/// ```
pub fn read(text: &str, asked: &Asked<'_>, table: &SymptomTable) -> Result<Said, String> {
    let text = text.trim();
    if text.is_empty() {
        return Err(format!("nothing was typed; wanted is {}", asked.wanted()));
    }
    let mut said = match asked.unit() {
        Some(unit) => Numbers::new(text, asked, unit)?.all()?,
        None => Said { readings: words(text, asked, table)?, scale: asked.scale },
    };
    if said.readings.len() != asked.count {
        // the same word said once for all settings: "silent" when both are silent is not assumed
        return Err(format!(
            "{} reading{} wanted here, in the order shown; {} found in \"{text}\"",
            asked.count,
            if asked.count == 1 { " is" } else { "s are" },
            said.readings.len()
        ));
    }
    said.readings.truncate(asked.count);
    Ok(said)
}

/// Said of what shows the same while something is wiggled as before.
pub const UNCHANGED: &str = "unchanged";

/// Over range, as meters show it and people write it.
fn is_over(word: &str) -> bool {
    matches!(
        word.to_lowercase().as_str(),
        "ol" | "0l"
            | "o.l"
            | "0.l"
            | "o.l."
            | "0.l."
            | "ol."
            | ".ol"
            | "0.ol"
            | "1."
            | "overload"
            | "overrange"
            | "over-range"
            | "over"
            | "infinite"
            | "infinity"
            | "∞"
    )
}

/// Answers in words: beeps, showings, yes and no.
fn words(text: &str, asked: &Asked<'_>, table: &SymptomTable) -> Result<Vec<Reading>, String> {
    let pieces: Vec<&str> = if asked.count == 1 {
        vec![text]
    } else {
        let by_comma: Vec<&str> =
            text.split([',', ';', '/']).map(str::trim).filter(|piece| !piece.is_empty()).collect();
        if by_comma.len() > 1 { by_comma } else { words_in_a_row(text, asked) }
    };
    pieces.into_iter().map(|piece| word(piece, asked, table)).collect()
}

/// `dark lit`, `beep no beep`: one answer a word, "no" kept with what follows.
fn words_in_a_row<'t>(text: &'t str, asked: &Asked<'_>) -> Vec<&'t str> {
    let mut out: Vec<&str> = Vec::new();
    let mut start: Option<usize> = None;
    for word in text.split_whitespace() {
        let at = word.as_ptr() as usize - text.as_ptr() as usize;
        let lower = word.to_lowercase();
        let from = start.take().unwrap_or(at);
        if matches!(lower.as_str(), "then" | "and") {
            continue;
        }
        if matches!(lower.as_str(), "no" | "not") && asked.instrument == Instrument::Beep {
            let rest = text[at + word.len()..].trim_start().to_lowercase();
            if rest.starts_with("beep") || rest.starts_with("tone") || rest.starts_with("buzz") {
                start = Some(at);
                continue;
            }
        }
        out.push(&text[from..at + word.len()]);
    }
    out
}

fn word(piece: &str, asked: &Asked<'_>, table: &SymptomTable) -> Result<Reading, String> {
    let lower = piece.trim().trim_end_matches(['.', '!']).to_lowercase();
    if asked.instrument == Instrument::Beep {
        return beep(&lower, asked);
    }
    let answers = asked.answers();
    let still = ["nothing", "nothing changes", "no change", "no", "same", "the same", "it stays", "stays"];
    if answers.iter().any(|answer| answer == UNCHANGED) && still.contains(&lower.as_str()) {
        return Ok(Reading::Showing(UNCHANGED.into()));
    }
    if let Some(answer) = answers.iter().find(|answer| answer.to_lowercase() == lower) {
        return Ok(Reading::Showing(answer.clone()));
    }
    let flat = |s: &str| stems(s).join(" ");
    if let Some(answer) = answers.iter().find(|answer| flat(answer) == flat(&lower)) {
        return Ok(Reading::Showing(answer.clone()));
    }
    match lower.as_str() {
        "yes" | "y" | "yep" | "yeah" | "it does" => {
            let yes = asked.works.map(String::from).or_else(|| answers.last().cloned());
            return yes.map(Reading::Showing).ok_or_else(|| format!("wanted is {}", asked.wanted()));
        }
        "no" | "n" | "nope" | "it does not" | "it doesn't" => {
            let no = answers.first().cloned();
            return no.map(Reading::Showing).ok_or_else(|| format!("wanted is {}", asked.wanted()));
        }
        _ => {}
    }
    // "fine" is a dark warning lamp as well as a lit one
    if table.showings.values().flat_map(|showing| &showing.judged).any(|say| flat(say) == flat(&lower)) {
        return Err(format!("\"{piece}\": what do you see? {}", answers.join(", ")));
    }
    // by the phrases of the table: "nothing" is dark, silent or still
    let mut fits: Vec<String> = Vec::new();
    for showing in table.showings.values() {
        if showing.say.iter().any(|say| flat(say) == flat(&lower)) {
            let known =
                |any: &Vec<String>| -> Vec<String> { any.iter().filter(|w| answers.contains(w)).cloned().collect() };
            let found = showing.means.iter().map(known).find(|any| !any.is_empty()).unwrap_or_default();
            found.into_iter().filter(|w| !fits.contains(w)).collect::<Vec<_>>().into_iter().for_each(|w| fits.push(w));
        }
    }
    match fits.len() {
        1 => return Ok(Reading::Showing(fits.remove(0))),
        2.. => return Err(format!("\"{piece}\": {}?", fits.join(" or "))),
        _ => {}
    }
    let known_words: Vec<&str> =
        lower.split_whitespace().filter(|w| answers.iter().any(|a| stem(a) == stem(w))).collect();
    if let [only] = known_words[..]
        && !lower.split_whitespace().any(|w| matches!(w, "not" | "no" | "never"))
        && let Some(answer) = answers.iter().find(|a| stem(a) == stem(only))
    {
        return Ok(Reading::Showing(answer.clone()));
    }
    let near = nearest(&lower, answers.iter().map(String::as_str));
    let hint = near.map_or(String::new(), |near| format!("; nearest: {near}"));
    Err(format!("\"{piece}\" is not understood; wanted is {}{hint}", asked.wanted()))
}

fn beep(lower: &str, asked: &Asked<'_>) -> Result<Reading, String> {
    let words: Vec<String> = stems(lower);
    let has = |any: &[&str]| words.iter().any(|word| any.contains(&word.as_str()));
    let not = has(&["no", "not", "none", "never", "doesnt", "didnt", "dont", "without", "isnt"]);
    if has(&["liv"]) || lower == "live" {
        Ok(Reading::Live)
    } else if is_over(lower) || has(&["silent", "silenc", "quiet", "noth", "open", "nothing"]) {
        Ok(Reading::Beeps(not && has(&["silent", "quiet"])))
    } else if has(&["beep", "tone", "buzz", "yes", "y", "squeak", "continuity", "sound", "bleep", "yep", "peep"]) {
        Ok(Reading::Beeps(!not))
    } else if matches!(lower, "no" | "n" | "nope" | "none") {
        Ok(Reading::Beeps(false))
    } else {
        Err(format!("\"{lower}\" is not understood; wanted is {}", asked.wanted()))
    }
}
