//! One cell as a field of a row: figures with the unit of their heading, colours and proof marks in people's spelling.

use crate::catalogue::Catalogue;
use crate::catalogue::tables::Columns;
use crate::text::csv::Cell;
use crate::text::problem::Problem;
use crate::text::quantity::{self, QuantityError, Unit};
use crate::wiring::colour::{Colours, NoColour};
use crate::wiring::fields::Text;
use crate::wiring::lower::proof_word;

/// Does the cell say that there is nothing?
pub(super) fn nothing(text: &str, columns: &Columns) -> bool {
    text.is_empty() || columns.nothing.iter().any(|word| word.eq_ignore_ascii_case(text))
}

/// A figure, with the unit of its heading where it has none of its own; a decimal comma is a point.
pub(super) fn figure(cell: &Cell, unit: Option<&str>, wanted: Unit) -> Result<String, Problem> {
    let plain = cell.text.replace(['²', '\u{a0}'], "2").replace("sq. ", "sq ");
    let plain = if cell.text.contains('²') { plain } else { cell.text.replace('\u{a0}', " ") };
    let text = point(plain.trim().trim_start_matches(['~', '≈']).trim());
    let example = match wanted {
        Unit::SquareMillimetre => "1.5 mm2, 16 AWG",
        Unit::Metre => "1.6 m, 5 ft, 40 cm",
        _ => "1.5 ohm",
    };
    let full = match quantity::parse(&text) {
        Ok(q) if q.unit == Unit::One => match unit {
            Some(unit) => format!("{text} {unit}"),
            None => {
                let says = format!("\"{}\" has no unit, and its heading names none", cell.text);
                return Err(Problem::at(cell.span, says).help(format!("write {example}, or the unit in the heading")));
            }
        },
        _ => text.clone(),
    };
    match quantity::parse(&full) {
        Ok(q) if q.unit == wanted && full.bytes().all(|b| b.is_ascii_alphanumeric() || b" ./#".contains(&b)) => {
            // A sign before a gauge would be a comment to YAML.
            Ok(if full.starts_with('#') { format!("{} AWG", full.trim_start_matches('#').trim()) } else { full })
        }
        Ok(q) if q.unit == wanted => Ok(format!("{} {}", round(q.value), wanted.symbol())),
        Ok(q) => {
            let says = format!("\"{}\" is in {}, not in {}", cell.text, q.unit.symbol(), wanted.symbol());
            Err(Problem::at(cell.span, says).help(format!("write it like this: {example}")))
        }
        Err(error @ (QuantityError::Gauge | QuantityError::Negative | QuantityError::NotFinite)) => {
            Err(Problem::at(cell.span, format!("\"{}\": {error}", cell.text)).help("look at the figure"))
        }
        Err(error) => {
            let says = format!("\"{}\": {error}", cell.text);
            Err(Problem::at(cell.span, says).help(format!("write it like this: {example}")))
        }
    }
}

/// `1,5` as `1.5`.
fn point(text: &str) -> String {
    let chars: Vec<char> = text.chars().collect();
    let digit = |at: Option<usize>| at.and_then(|at| chars.get(at)).is_some_and(char::is_ascii_digit);
    let comma = |at: usize| chars[at] == ',' && digit(at.checked_sub(1)) && digit(Some(at + 1));
    (0..chars.len()).map(|at| if comma(at) { '.' } else { chars[at] }).collect()
}

fn round(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

/// A colour in plain words.
pub(super) fn colour(cell: &Cell, colours: &Colours) -> Result<String, Problem> {
    let text = Text { text: cell.text.clone(), span: cell.span };
    let mut spelt = cell.text.clone();
    for (from, to) in [
        (" w/ ", "/"),
        (" w/", "/"),
        (" & ", "/"),
        (" + ", "/"),
        ("+", "/"),
        ("&", "/"),
        ("\\", "/"),
        (", ", "/"),
        (",", "/"),
        (" / ", "/"),
        (" - ", "/"),
    ] {
        spelt = spelt.replace(from, to);
    }
    for word in [" striped", " stripe", " trace"] {
        spelt = spelt.strip_suffix(word).map_or(spelt.clone(), str::to_owned);
    }
    for (at, spelling) in [&cell.text, &spelt].into_iter().enumerate() {
        match colours.read(spelling, &text) {
            Ok(word) => return Ok(word),
            Err(NoColour::Undeclared(problem)) => {
                let code = problem.text.split_whitespace().nth(2).unwrap_or("BL").to_owned();
                return Err(problem.help(format!("say what it is here: --code {code}=black")));
            }
            Err(NoColour::Stranger) if at == 0 => {}
            Err(NoColour::Stranger) => break,
        }
    }
    Err(colours.stranger(&text))
}

/// A proof mark.
pub(super) fn proof(cell: &Cell, catalogue: &Catalogue) -> Result<String, Problem> {
    if proof_word(&cell.text).is_some() {
        return Ok(cell.text.to_lowercase());
    }
    let is = |words: &Vec<String>| words.iter().any(|word| word.eq_ignore_ascii_case(&cell.text));
    let marks = &catalogue.columns.proof;
    let found = marks.iter().find(|(_, words)| is(words)).map(|(mark, _)| mark.clone());
    found.ok_or_else(|| {
        let says = format!("\"{}\" is no proof mark", cell.text);
        Problem::at(cell.span, says).help("proof marks: ?, paper, beep, ok, not fitted, capped")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(text: &str) -> Cell {
        Cell { text: text.into(), ..Cell::default() }
    }

    #[test]
    fn figures_with_their_own_unit_or_the_headings() {
        for (text, unit, wanted, out) in [
            ("1,5", Some("mm2"), Unit::SquareMillimetre, "1.5 mm2"),
            ("1.5mm²", None, Unit::SquareMillimetre, "1.5mm2"),
            ("16", Some("AWG"), Unit::SquareMillimetre, "16 AWG"),
            ("16 AWG", Some("mm2"), Unit::SquareMillimetre, "16 AWG"),
            ("120", Some("cm"), Unit::Metre, "120 cm"),
            ("3'", None, Unit::Metre, "0.9144 m"),
            ("12\"", None, Unit::Metre, "0.3048 m"),
            ("~ 2 m", None, Unit::Metre, "2 m"),
        ] {
            assert_eq!(figure(&cell(text), unit, wanted).unwrap(), out, "{text}");
        }
        for (text, unit, wanted, says) in [
            ("1.5", None, Unit::SquareMillimetre, "no unit"),
            ("2 m", None, Unit::SquareMillimetre, "is in m"),
            ("thick", None, Unit::Metre, "no number"),
            ("-1 m", None, Unit::Metre, "below zero"),
        ] {
            assert!(figure(&cell(text), unit, wanted).unwrap_err().text.contains(says), "{text}");
        }
    }

    #[test]
    fn colours_in_peoples_spelling() {
        let rules = Catalogue::builtin();
        let mut problems = Vec::new();
        let colours = Colours::new(&rules, &[], &mut problems);
        for (text, word) in [
            ("BLK", "black"),
            ("Black / White", "black/white"),
            ("black w/ white stripe", "black/white"),
            ("RED+YEL", "red/yellow"),
            ("GNYE", "green/yellow"),
            ("Lt. nothing", ""),
            ("Light Green", "light green"),
            ("brown with white tracer", "brown/white"),
        ] {
            assert_eq!(colour(&cell(text), &colours).unwrap_or_default(), word, "{text}");
        }
        assert!(colour(&cell("BL"), &colours).unwrap_err().help.unwrap().contains("--code BL="));
        assert!(colour(&cell("blak"), &colours).unwrap_err().help.unwrap().contains("black"));
        assert_eq!(proof(&cell("Tested"), &rules).unwrap(), "ok");
        assert!(proof(&cell("perhaps"), &rules).is_err());
    }
}
