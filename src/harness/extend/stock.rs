//! What is at hand: spools, sleeves, terminals. From a file, or a spool a line as one says it: `red 1.5 mm2 10 m`.

use crate::catalogue::Catalogue;
use crate::text::problem::Problem;
use crate::text::quantity::{self, QuantityError, Unit};
use crate::text::span::{Source, Span};
use crate::text::words::nearest;
use crate::text::yaml::{self, Node, Value};
use crate::wiring;
use indexmap::IndexMap;

/// More of one wire than anybody has, m.
const LONGEST: f64 = 2000.0;

/// A spool of wire.
#[derive(Clone, Debug, PartialEq)]
pub struct Spool {
    /// The colour in plain words.
    pub colour: String,
    /// Its size, mm².
    pub area: f64,
    /// Metres on it.
    pub length: f64,
}

/// What is at hand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stock {
    /// Spools, in the order in which they were named.
    pub spools: Vec<Spool>,
    /// Sleeves by the name that the rules have for them.
    pub sleeves: IndexMap<String, usize>,
    /// Terminals by the name that the rules have for them.
    pub terminals: IndexMap<String, usize>,
}

/// Keys of the file.
const KEYS: [&str; 3] = ["spools", "sleeves", "terminals"];

/// What a spool's line says.
///
/// # Errors
///
/// What is missing or cannot be read, in one problem at the whole line.
pub fn spool(text: &str, rules: &Catalogue) -> Result<Spool, Problem> {
    let example = "write colour, size and length: red 1.5 mm2 10 m";
    let (mut colour, mut area, mut length) = (Vec::new(), None, None);
    for piece in pieces(text) {
        match quantity::parse(&piece) {
            Ok(q) if q.unit == Unit::SquareMillimetre && area.is_none() => area = Some(q.value),
            Ok(q) if q.unit == Unit::Metre && length.is_none() => length = Some(q.value),
            Ok(q) => {
                let says = match q.unit {
                    Unit::One => format!("\"{piece}\" has no unit"),
                    Unit::SquareMillimetre | Unit::Metre => format!("\"{piece}\" is a second {}", q.unit.symbol()),
                    unit => format!("\"{piece}\" is in {}", unit.symbol()),
                };
                return Err(Problem::whole(format!("spool \"{text}\": {says}")).help(example));
            }
            Err(QuantityError::NoNumber) => colour.push(piece),
            Err(error) => return Err(Problem::whole(format!("spool \"{text}\": \"{piece}\": {error}")).help(example)),
        }
    }
    let lacks: Vec<&str> = [(colour.is_empty(), "colour"), (area.is_none(), "size"), (length.is_none(), "length")]
        .iter()
        .filter(|(lacks, _)| *lacks)
        .map(|(_, what)| *what)
        .collect();
    let (Some(area), Some(length), []) = (area, length, lacks.as_slice()) else {
        return Err(Problem::whole(format!("spool \"{text}\" has no {}", lacks.join(" and no "))).help(example));
    };
    if area <= 0.0 || length <= 0.0 || length > LONGEST || area > 500.0 {
        let says = format!("spool \"{text}\": there is no such wire");
        return Err(Problem::whole(says).help("look at the figures: size in mm2 or AWG, length in m or ft"));
    }
    let colour = wiring::colour(&colour.join(" "), rules).map_err(|problem| {
        let help = problem
            .help
            .filter(|help| !help.contains("colours:"))
            .unwrap_or_else(|| "write the colour out: black, blue".into());
        Problem::whole(format!("spool \"{text}\": {}", problem.text)).help(help)
    })?;
    Ok(Spool { colour, area, length })
}

/// Words and figures of a line; a figure and its unit are one piece.
pub(super) fn pieces(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let digit = |at: usize| chars.get(at).is_some_and(char::is_ascii_digit);
    // A comma between two digits is a decimal comma, else it separates.
    let plain: String = (0..chars.len())
        .map(|at| if chars[at] == ',' && !(at > 0 && digit(at - 1) && digit(at + 1)) { ' ' } else { chars[at] })
        .map(|c| if c == ';' || c == '\t' { ' ' } else { c })
        .collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    let mut out = Vec::new();
    let mut at = 0;
    while at < words.len() {
        let (word, next) = (words[at], words.get(at + 1));
        let two = next.map(|next| format!("{word} {next}"));
        let number = word.starts_with(|c: char| c.is_ascii_digit() || matches!(c, '.' | '#'));
        let gauge =
            word.eq_ignore_ascii_case("awg") && next.is_some_and(|next| next.starts_with(|c: char| c.is_ascii_digit()));
        // `10 m`, `AWG 16`; but `1.5mm2 10` are two.
        let bare = quantity::parse(word).map_or(number, |q| q.unit == Unit::One);
        match two {
            Some(two) if (number && bare || gauge) && quantity::parse(&two).is_ok() => {
                out.push(two);
                at += 2;
            }
            _ => {
                out.push(word.to_owned());
                at += 1;
            }
        }
    }
    out
}

/// A stock file.
///
/// # Errors
///
/// Every problem of it, with its line.
pub fn read(source: &Source, rules: &Catalogue) -> Result<Stock, Vec<Problem>> {
    let tree = yaml::parse(source).map_err(|problem| vec![problem])?;
    let mut stock = Stock::default();
    let mut problems = Vec::new();
    let Value::Map(pairs) = &tree.value else {
        let help = "write spools: and a row for each: - red, 1.5 mm2, 10 m";
        return Err(vec![Problem::whole("nothing at hand is named in it").help(help)]);
    };
    for (at, (key, node)) in pairs.iter().enumerate() {
        let name = key.text.trim().to_lowercase();
        if pairs[..at].iter().any(|(before, _)| before.text.trim().eq_ignore_ascii_case(&name)) {
            problems.push(Problem::at(key.span, format!("{name} stands twice")).help("keep one of them"));
        }
        match name.as_str() {
            "spools" => spools(node, rules, &mut stock, &mut problems),
            "sleeves" => {
                let known: Vec<&str> = rules.extend.sleeves.iter().map(|takes| takes.name.as_str()).collect();
                counts(node, "sleeves", &known, &mut stock.sleeves, &mut problems);
            }
            "terminals" => {
                let known: Vec<&str> = rules.extend.terminals.iter().map(|takes| takes.name.as_str()).collect();
                counts(node, "terminals", &known, &mut stock.terminals, &mut problems);
            }
            _ => {
                let help = match nearest(&name, KEYS) {
                    Some(near) => format!("nearest: {near}"),
                    None => format!("possible: {}", KEYS.join(", ")),
                };
                problems
                    .push(Problem::at(key.span, format!("\"{}\" is nothing that is kept here", key.text)).help(help));
            }
        }
    }
    if problems.is_empty() { Ok(stock) } else { Err(problems) }
}

fn spools(node: &Node, rules: &Catalogue, stock: &mut Stock, problems: &mut Vec<Problem>) {
    let Value::List(items) = &node.value else {
        if node.value != Value::Null {
            problems.push(Problem::at(node.span, "spools is a list").help("- red, 1.5 mm2, 10 m"));
        }
        return;
    };
    for item in items {
        let text = match &item.value {
            Value::Scalar(text) => text.clone(),
            Value::List(fields) => {
                let texts = fields.iter().filter_map(|field| match &field.value {
                    Value::Scalar(text) => Some(text.as_str()),
                    _ => None,
                });
                texts.collect::<Vec<_>>().join(", ")
            }
            _ => {
                problems.push(Problem::at(item.span, "a spool is one row").help("- red, 1.5 mm2, 10 m"));
                continue;
            }
        };
        match spool(&text, rules) {
            Ok(spool) => stock.spools.push(spool),
            Err(problem) => problems.push(Problem { span: Some(item.span), ..problem }),
        }
    }
}

fn counts(node: &Node, what: &str, known: &[&str], to: &mut IndexMap<String, usize>, problems: &mut Vec<Problem>) {
    let Value::Map(pairs) = &node.value else {
        if node.value != Value::Null {
            problems.push(
                Problem::at(node.span, format!("{what} are counted by sort"))
                    .help(format!("{what}: {{{}: 20}}", known.first().unwrap_or(&""))),
            );
        }
        return;
    };
    for (key, node) in pairs {
        let Some(name) = known.iter().find(|name| name.eq_ignore_ascii_case(key.text.trim())) else {
            let says = format!("there are no {what} called \"{}\"", key.text);
            problems.push(Problem::at(key.span, says).help(format!("possible: {}", known.join(", "))));
            continue;
        };
        match &node.value {
            Value::Scalar(text) if text.trim().parse::<u32>().is_ok() => {
                *to.entry((*name).to_owned()).or_default() += text.trim().parse::<u32>().map_or(0, |n| n as usize);
            }
            _ => problems.push(
                Problem::at(
                    Span { start: key.span.start, end: node.span.end.max(key.span.end) },
                    format!("how many {name}?"),
                )
                .help("write a whole number"),
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spool_as_one_says_it() {
        let rules = Catalogue::builtin();
        for (text, colour, area, length) in [
            ("red 1.5 mm2 10 m", "red", 1.5, 10.0),
            ("10m 1.5mm2 red", "red", 1.5, 10.0),
            ("red, 1.5 mm2, 10 m", "red", 1.5, 10.0),
            ("black/white 16 AWG 33 ft", "black/white", 1.3088, 10.0584),
            ("AWG 16 BK 250 cm", "black", 1.3088, 2.5),
            ("light green 0.75 mm² 5 m", "light green", 0.75, 5.0),
        ] {
            let spool = spool(text, &rules).unwrap_or_else(|problem| panic!("{text}: {problem:?}"));
            assert_eq!(spool.colour, colour, "{text}");
            assert!((spool.area - area).abs() < 1e-3 && (spool.length - length).abs() < 1e-3, "{text}: {spool:?}");
        }
    }

    #[test]
    fn what_a_spool_lacks_is_named() {
        let rules = Catalogue::builtin();
        for (text, says) in [
            ("red 1.5 mm2", "has no length"),
            ("10 m", "has no colour and no size"),
            ("red 1,5 mm2 10 m", "decimal comma"),
            ("red 1.5 10 m", "has no unit"),
            ("redd 1.5 mm2 10 m", "redd"),
            ("BL 1.5 mm2 10 m", "BL"),
            ("red 1.5 mm2 0 m", "no such wire"),
            ("red 1.5 mm2 10 km", "km"),
            ("red 1.5 mm2 10 V", "in V"),
            ("", "no colour"),
        ] {
            let problem = spool(text, &rules).unwrap_err();
            assert!(problem.text.contains(says), "{text}: {problem:?}");
            assert!(problem.help.is_some(), "{text}");
        }
    }

    #[test]
    fn every_problem_of_a_stock_file_comes_with_its_line() {
        let rules = Catalogue::builtin();
        let text = "spools:\n  - red, 1.5 mm2, 10 m\n  - blu 1 mm2\nsleeves: {red: 20, green: 3}\nspool: []\nterminals: {lug: many}\n";
        let source = Source::new("stock.yaml", text);
        let problems = read(&source, &rules).unwrap_err();
        let lines: Vec<usize> = problems.iter().map(|p| source.line(p.span.unwrap())).collect();
        assert_eq!(lines, [3, 4, 5, 6], "{problems:#?}");
        let good = Source::new("stock.yaml", "spools: [\"red 1.5 mm2 10 m\"]\nsleeves: {blue: 4}\n");
        let stock = read(&good, &rules).unwrap();
        assert_eq!((stock.spools.len(), stock.sleeves["blue"]), (1, 4));
    }
}
