//! What a person with busy hands types after a touch.

use super::touch::Heard;
use crate::text::quantity::{self, Unit};

/// A typed line.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// What came of the touch that was asked for.
    Heard(Heard),
    /// What came of another touch: red, black.
    Met(usize, usize, Heard),
    /// All that is still open in this position is silent.
    AllSilent,
    /// Not this one.
    Skip,
    /// Take the last answer back.
    Back,
    /// Break off.
    Stop,
    /// The words.
    Help,
    /// Nothing was typed.
    Nothing,
}

/// Volts above this were not put there by the meter.
const LIVE: f64 = 3.3;

/// Reads a line; `wires` are their names, `leads` the ohms of the leads themselves.
///
/// ```
/// use ohmward::session::learn::{Heard, said::{Said, read}};
/// let wires = ["red".to_string(), "blue".to_string()];
/// assert_eq!(read("y", &wires, 0.2), Ok(Said::Heard(Heard::Beep)));
/// assert_eq!(read("red blue silent", &wires, 0.2), Ok(Said::Met(0, 1, Heard::Silent)));
/// ```
pub fn read(line: &str, wires: &[String], leads: f64) -> Result<Said, String> {
    let lower = line.trim().to_lowercase();
    Ok(match lower.as_str() {
        "" => Said::Nothing,
        "skip" | "pass" | "?" | "don't know" | "dont know" => Said::Skip,
        "back" | "undo" => Said::Back,
        "stop" | "quit" | "exit" | "q" => Said::Stop,
        "help" | "h" => Said::Help,
        "all silent" | "rest silent" | "all n" | "all no" | "none" | "silent all" | "no more" => Said::AllSilent,
        "live" => return Err(LIVE_WORDS.into()),
        _ => match heard(&lower, leads)? {
            Some(heard) => Said::Heard(heard),
            None => met(&lower, wires, leads)?,
        },
    })
}

const LIVE_WORDS: &str = "volts on it: STOP, take it off the machine or battery minus off first; then answer again";

/// Beep, silent or a number; nothing if it is none of them.
fn heard(text: &str, leads: f64) -> Result<Option<Heard>, String> {
    let text = text.trim();
    match text {
        "y" | "yes" | "b" | "beep" | "beeps" | "joined" | "closed" => return Ok(Some(Heard::Beep)),
        "n" | "no" | "s" | "silent" | "silence" | "ol" | "0l" | "o.l" | "0.l" | "1." | "open" | "no beep"
        | "nothing" => {
            return Ok(Some(Heard::Silent));
        }
        _ => {}
    }
    let number = ["beeps", "beep", "silent", "y", "b", "n"]
        .iter()
        .find_map(|word| text.strip_prefix(word)?.strip_prefix([' ', ',', ':']))
        .unwrap_or(text)
        .trim();
    if !number.starts_with(|c: char| c.is_ascii_digit() || c == '.') {
        return Ok(None);
    }
    match quantity::parse(&number.replace(',', ".")) {
        Ok(quantity) => match quantity.unit {
            Unit::Ohm | Unit::One => Ok(Some(ohms(quantity.value, leads))),
            // The diode range shows volts; a milliamp or so flows.
            Unit::Volt if quantity.value > LIVE => Err(LIVE_WORDS.into()),
            Unit::Volt => Ok(Some(Heard::Ohms((quantity.value * 1000.0).max(super::touch::CONTACT * 2.0)))),
            _ => Err(format!("\"{text}\" is neither ohms nor a beep")),
        },
        // A number at the beginning may be a wire's name.
        Err(_) => Ok(None),
    }
}

/// Ohms with the leads' own taken off.
pub fn ohms(shown: f64, leads: f64) -> Heard {
    Heard::Ohms((shown - leads).max(0.0))
}

/// `red white beep`, `red to white: silent`.
fn met(text: &str, wires: &[String], leads: f64) -> Result<Said, String> {
    let unknown = || {
        format!(
            "\"{text}\": beep or silent (y, n), the ohms shown, or: back, skip, all silent, stop; or two wires first: {} {} beep",
            wires.first().map_or("red", String::as_str),
            wires.last().map_or("blue", String::as_str)
        )
    };
    let find = |name: &str| wires.iter().position(|wire| wire.eq_ignore_ascii_case(name.trim()));
    // The answer is the last word or two; before it stand two names.
    for (at, _) in text.match_indices([' ', ':']).rev().take(3) {
        let (names, answer) = (text[..at].trim_end_matches([':', ' ']), text[at + 1..].trim());
        let Ok(Some(heard)) = heard(answer, leads) else { continue };
        for separator in [" to ", " and ", " - ", "=", " ", "-"] {
            for (cut, _) in names.match_indices(separator) {
                if let (Some(red), Some(black)) = (find(&names[..cut]), find(&names[cut + separator.len()..])) {
                    if red == black {
                        return Err(format!("{} stands there twice: two wires are wanted", wires[red]));
                    }
                    return Ok(Said::Met(red, black, heard));
                }
            }
        }
    }
    Err(unknown())
}

/// The words, for `help`.
pub const HELP: &str = "\
y, beep        it beeps; better the ohms that the display shows: 0.3
n, silent, OL  it does not
12, 470        ohms shown (0.55 V on a diode range); beep or not
all silent     whatever is still open in this position was tried and is silent
red blue beep  another pair than was asked for
skip           this one cannot be tried
back           take the last answer back
stop           break off; go on later with --resume";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_busy_hands() {
        let wires = ["red", "brown/white", "3", "black-2"].map(String::from);
        let say = |line: &str| read(line, &wires, 0.2);
        for (line, said) in [
            ("Y", Said::Heard(Heard::Beep)),
            ("silent", Said::Heard(Heard::Silent)),
            ("OL", Said::Heard(Heard::Silent)),
            ("0.5", Said::Heard(Heard::Ohms(0.3))),
            ("0,2", Said::Heard(Heard::Ohms(0.0))),
            ("beep 12.2", Said::Heard(Heard::Ohms(12.0))),
            ("4k7", Said::Heard(Heard::Ohms(4699.8))),
            ("0.55 V", Said::Heard(Heard::Ohms(550.0))),
            ("all silent", Said::AllSilent),
            (" back ", Said::Back),
            ("", Said::Nothing),
            ("brown/white black-2 no beep", Said::Met(1, 3, Heard::Silent)),
            ("red to 3: beep", Said::Met(0, 2, Heard::Beep)),
            ("red-3 silent", Said::Met(0, 2, Heard::Silent)),
        ] {
            assert_eq!(say(line), Ok(said), "{line}");
        }
        for line in ["12.4 V", "live", "red red beep", "perhaps", "5 A", "red beep", "é", ": :", "red blue beep"] {
            assert!(say(line).is_err(), "{line}");
        }
        assert!(say("12 V").unwrap_err().contains("STOP"));
    }

    proptest::proptest! {
        #[test]
        fn never_panics(text in "[-a-zA-Z0-9 .,:=/éß\u{7f}]{0,30}") {
            let _ = read(&text, &["red".to_string(), "a-b".to_string()], 0.2);
        }
    }
}
