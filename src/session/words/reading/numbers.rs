//! Numbers with units in a line: over range, swings, decimal commas, ranges.

use super::{Asked, Said, is_over};
use crate::circuit::test::Reading;
use crate::text::quantity::{QuantityError, Unit, parse_signed};

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
pub(super) struct Numbers<'a> {
    words: Vec<String>,
    unit: Unit,
    scale: f64,
    asked: &'a Asked<'a>,
}

impl<'a> Numbers<'a> {
    /// The words of a line in which numbers are looked for.
    pub(super) fn new(text: &str, asked: &'a Asked<'a>, unit: Unit) -> Result<Numbers<'a>, String> {
        let tidy = text.replace(['−', '‒'], "-").replace(['–', '—', '…'], " to ").replace("..", " to ");
        let mut words: Vec<String> = Vec::new();
        for word in tidy.split(|c: char| c.is_whitespace() || matches!(c, ';' | '/' | '(' | ')')) {
            words.extend(commas(word, asked.count)?);
        }
        let words = words.into_iter().filter(|word| !word.is_empty()).collect();
        Ok(Numbers { words, unit, scale: asked.scale, asked })
    }

    /// Every number of the line, as readings.
    pub(super) fn all(mut self) -> Result<Said, String> {
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
