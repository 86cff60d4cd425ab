//! Readings as people say them: `12.6`, `0.02 0.35`, `350 mV`, `OL`, `1.`, `no beep`, `jumps 2 to 5`, `dim`.
//!
//! The digits typed are the resolution: `12` is 11.5 to 12.5. A minus is kept. A number with no unit is taken in
//! the range last named.

use super::table::SymptomTable;
use super::tokens::{stem, stems};
use crate::circuit::test::{Instrument, Reading};
use crate::text::quantity::{QuantityError, Unit, parse_signed};
use crate::text::words::nearest;

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
            Instrument::Beep | Instrument::TestLamp | Instrument::Watch => None,
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

/// Words that stand around a number and say nothing.
const AROUND: &[&str] = &[
    "about",
    "approx",
    "approximately",
    "roughly",
    "around",
    "reads",
    "read",
    "it",
    "is",
    "its",
    "it's",
    "shows",
    "get",
    "got",
    "i",
    "steady",
    "ca",
    "circa",
    "then",
    "and",
    "after",
    "that",
    "with",
    "=",
    "~",
    "the",
    "meter",
    "says",
    "a",
    "of",
    "range",
    "display",
];
/// Words that say that the display swings.
const SWINGS: &[&str] = &[
    "between",
    "from",
    "jumps",
    "jumping",
    "swings",
    "swinging",
    "bounces",
    "bouncing",
    "flickers",
    "varies",
    "varying",
    "moves",
    "dances",
    "wanders",
    "fluctuates",
    "jumpy",
    "goes",
];

/// Reads numbers with units from a line.
struct Numbers<'a> {
    words: Vec<String>,
    unit: Unit,
    scale: f64,
    asked: &'a Asked<'a>,
}

impl<'a> Numbers<'a> {
    fn new(text: &str, asked: &'a Asked<'a>, unit: Unit) -> Result<Numbers<'a>, String> {
        let tidy = text.replace(['−', '‒'], "-").replace(['–', '—', '…'], " to ").replace("..", " to ");
        let mut words: Vec<String> = Vec::new();
        for word in tidy.split(|c: char| c.is_whitespace() || matches!(c, ';' | '/' | '(' | ')')) {
            words.extend(commas(word, asked.count)?);
        }
        let words = words.into_iter().filter(|word| !word.is_empty()).collect();
        Ok(Numbers { words, unit, scale: asked.scale, asked })
    }

    fn all(mut self) -> Result<Said, String> {
        let mut readings: Vec<Reading> = Vec::new();
        let mut at = 0;
        let mut swings = false;
        while at < self.words.len() {
            let word = self.words[at].clone();
            let lower = word.to_lowercase();
            let one_point = word == "1" && self.words.get(at + 1).is_some_and(|next| next == ".");
            if SWINGS.contains(&lower.as_str()) {
                swings = true;
                at += 1;
            } else if lower == "live" {
                if self.unit != Unit::Ohm {
                    return Err("how many volts? A number is wanted here".into());
                }
                readings.push(Reading::Live);
                at += 1;
            } else if is_over(&word) || one_point {
                readings.push(Reading::Over);
                at += if one_point { 2 } else { 1 };
                if lower == "over" && self.words.get(at).is_some_and(|next| next.eq_ignore_ascii_case("range")) {
                    at += 1;
                }
                // a unit after it says nothing new
                if self.words.get(at).is_some_and(|next| unit_word(next).is_some()) {
                    at += 1;
                }
            } else if let Some((number, next)) = self.number(at)? {
                at = self.one(&mut readings, number, next, swings)?;
                swings = false;
            } else if AROUND.contains(&lower.as_str()) || word.chars().all(|c| !c.is_alphanumeric()) {
                at += 1;
            } else if matches!(lower.as_str(), "nothing" | "zero" | "none" | "nil" | "dead") {
                let unit = self.unit.symbol();
                return Err(format!("\"{word}\": does the display show 0 {unit} or OL? Type what it shows"));
            } else {
                return Err(format!("\"{word}\" is no reading; wanted is {}", self.asked.wanted()));
            }
        }
        if swings {
            return Err("it swings between what and what? For example: 2 to 5".into());
        }
        Ok(Said { readings, scale: self.scale })
    }

    /// A number has been met; a second one may follow that it swings to.
    fn one(&mut self, readings: &mut Vec<Reading>, first: Typed, next: usize, swings: bool) -> Result<usize, String> {
        let joins = |word: Option<&String>| match word.map(|w| w.to_lowercase()).as_deref() {
            Some("to" | "till" | "-") => true,
            Some("and" | "or") => swings,
            _ => false,
        };
        if joins(self.words.get(next)) {
            if let Some((second, after)) = self.number(next + 1)? {
                // "2 to 5 mV": a unit behind the second counts for both
                let first =
                    if first.named { self.scaled(&first, first.scale) } else { self.scaled(&first, second.scale) };
                let second = self.scaled(&second, second.scale);
                readings.push(Reading::Range { from: first.0, to: second.0 });
                return Ok(after);
            }
            return Err("it goes to what? For example: 2 to 5".into());
        }
        if swings {
            return Err("it swings between what and what? For example: 2 to 5".into());
        }
        let (value, step) = self.scaled(&first, first.scale);
        readings.push(Reading::Value { value, step: Some(step) });
        Ok(next)
    }

    fn scaled(&mut self, typed: &Typed, scale: f64) -> (f64, f64) {
        self.scale = scale;
        // through decimal text, so that 350 mV is 0.35 and not 0.35000000000000003
        let exact = |value: f64| format!("{:.9e}", value * scale).parse::<f64>().unwrap_or(value * scale);
        (exact(typed.value), exact(typed.step))
    }

    /// A number at a place, with its unit in the same word or in the next.
    fn number(&self, at: usize) -> Result<Option<(Typed, usize)>, String> {
        let Some(word) = self.words.get(at) else { return Ok(None) };
        let (mut sign, mut body, mut next) = (1.0, word.as_str(), at + 1);
        if let Some(rest) = body.strip_prefix(['~', '≈', '=']) {
            body = rest;
        }
        if let Some(rest) = body.strip_prefix('-') {
            (sign, body) = (-1.0, rest);
        } else if let Some(rest) = body.strip_prefix('+') {
            body = rest;
        }
        if (word == "-" || word.eq_ignore_ascii_case("minus")) && at + 1 < self.words.len() {
            (sign, body, next) = (-1.0, self.words[at + 1].as_str(), at + 2);
        }
        if body.starts_with(['<', '>']) {
            return Err(format!("\"{body}\": type what the display shows, digit for digit"));
        }
        let digits: usize = body.bytes().take_while(|b| b.is_ascii_digit() || *b == b'.').count();
        let number = &body[..digits];
        if !number.bytes().any(|b| b.is_ascii_digit()) {
            return Ok(None);
        }
        if is_over(body) {
            return Ok(None);
        }
        let mut suffix = body[digits..].to_string();
        if suffix.is_empty() && self.words.get(next).is_some_and(|word| unit_word(word).is_some()) {
            suffix.clone_from(&self.words[next]);
            next += 1;
        }
        if let Some((low, high)) = suffix.strip_prefix('-').map(|high| (number, high)) {
            return Err(format!("\"{low}-{high}\": a swing is written {low} to {high}, two readings {low} {high}"));
        }
        let typed = self.typed(sign, number, &suffix)?;
        Ok(Some((typed, next)))
    }

    fn typed(&self, sign: f64, number: &str, suffix: &str) -> Result<Typed, String> {
        if number.matches('.').count() > 1 {
            return Err(format!("\"{number}\" has two points in it"));
        }
        let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        if number.len() > 12 {
            return Err(format!("\"{number}\" has more digits than a meter shows"));
        }
        let value: f64 = number.parse().map_err(|_| format!("\"{number}\" is no number"))?;
        let step = libm::pow(10.0, -(decimals as f64));
        if suffix.is_empty() {
            return Ok(Typed { value: sign * value, step, scale: self.scale, named: false });
        }
        // 4k7: the letter stands for the point
        if let Some(infix) = suffix.get(1..).filter(|d| !d.is_empty() && d.bytes().all(|b| b.is_ascii_digit())) {
            let quantity = parse_signed(&format!("{number}{suffix}")).map_err(|error| error.to_string())?;
            self.same_unit(quantity.unit, &format!("{number}{suffix}"))?;
            let scale = quantity.value / format!("{number}.{infix}").parse::<f64>().unwrap_or(1.0);
            let step = libm::pow(10.0, -(infix.len() as f64));
            let scale = if scale.is_finite() && scale > 0.0 { libm::round(scale) } else { 1.0 };
            return Ok(Typed { value: sign * quantity.value / scale, step, scale, named: true });
        }
        let (unit, scale) =
            unit_word(suffix).ok_or_else(|| QuantityError::UnknownUnit(suffix.to_string()).to_string())?;
        if let Some(unit) = unit {
            self.same_unit(unit, &format!("{number} {suffix}"))?;
        }
        Ok(Typed { value: sign * value, step, scale, named: true })
    }

    fn same_unit(&self, unit: Unit, said: &str) -> Result<(), String> {
        if unit == self.unit {
            return Ok(());
        }
        Err(format!("\"{said}\" is in {}, but what is asked for is in {}", name(unit), name(self.unit)))
    }
}

/// A number as typed.
struct Typed {
    value: f64,
    step: f64,
    scale: f64,
    named: bool,
}

fn name(unit: Unit) -> &'static str {
    match unit {
        Unit::Volt => "volts",
        Unit::Amp => "amps",
        Unit::Ohm => "ohms",
        other => other.symbol(),
    }
}

/// A unit as a word: what it measures (nothing for a bare `m`, milli), and its factor.
fn unit_word(word: &str) -> Option<(Option<Unit>, f64)> {
    if word == "m" {
        return Some((None, 1e-3));
    }
    if !word.starts_with(|c: char| c.is_alphabetic()) && !word.starts_with('°') {
        return None;
    }
    let quantity = parse_signed(&format!("1 {}", word.trim_end_matches('.'))).ok()?;
    (quantity.unit != Unit::One).then_some((Some(quantity.unit), quantity.value))
}

/// A comma between digits is a decimal comma where one reading is wanted, else it parts two readings.
fn commas(word: &str, count: usize) -> Result<Vec<String>, String> {
    let split = || word.split(',').map(String::from).collect::<Vec<_>>();
    let Some((left, right)) = word.split_once(',') else { return Ok(vec![word.to_string()]) };
    let digits = left.ends_with(|c: char| c.is_ascii_digit()) && right.starts_with(|c: char| c.is_ascii_digit());
    if !digits || word.contains('.') || word.matches(',').count() > 1 {
        return Ok(split());
    }
    if count > 1 && left.len() <= 3 && right.bytes().all(|b| b.is_ascii_digit()) {
        return Err(format!(
            "\"{word}\": is it {left}.{right}, or {left} and {right}? Write {left}.{right} or {left} {right}"
        ));
    }
    Ok(vec![format!("{left}.{right}")])
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
