//! Pins typed at a prompt, or read from a pipe.

use crate::cli::Context;
use crate::cli::chase::source;
use crate::cli::error::Failure;
use crate::cli::prompt::Got;
use ohmward::catalogue::Catalogue;
use ohmward::text::problem::Problem;
use ohmward::text::quantity::{self, QuantityError, Unit};
use ohmward::text::span::Source;
use ohmward::wiring::sheet::{Pin, pins};
use std::io::IsTerminal;

/// What a list of pins is read with.
pub struct How<'r> {
    /// What the plug is called.
    pub plug: &'r str,
    /// Letters for colours.
    pub codes: &'r [(String, String)],
    /// The rules.
    pub rules: &'r Catalogue,
}

/// Asks how far, if that is not said, and for the pins; an empty line ends the list. At a terminal each row is taken, or
/// refused and asked for again.
pub fn ask(by: Option<f64>, how: &How, context: &mut Context) -> Result<(Source, Option<f64>), Failure> {
    let person = std::io::stdin().is_terminal();
    let mut lines = source(context, None)?;
    let mut by = by;
    while person && by.is_none() {
        context.out.page("How far does the plug or control move? 1.2 m, 40 cm, 4 ft; Enter: each pin says it.")?;
        match lines.line("far> ")? {
            Got::Line(line) if line.trim().is_empty() => break,
            Got::Line(line) => match quantity::parse(&line) {
                Ok(q) if q.unit == Unit::Metre => by = Some(q.value),
                Ok(q) if q.unit == Unit::One => {
                    context.out.page(format!("{} of what? {0} cm, {0} m, {0} ft", line.trim()))?;
                }
                Err(QuantityError::DecimalComma(fixed)) => context.out.page(format!("with a point: {fixed}"))?,
                _ => context.out.page(format!("\"{}\" is no length", line.trim()))?,
            },
            Got::End | Got::Interrupted => return Err(none()),
        }
    }
    if person {
        context.out.page(
            "One pin a row: way, colour, what it is for, and what you know: amps, watts, fuse 10 A, 1.5 mm2. \
             An empty row ends the list.\nFor example: 4, black/white, horn, 3.5 A",
        )?;
    }
    let mut rows = String::new();
    loop {
        match lines.line("pin> ")? {
            Got::Line(line) if line.trim().is_empty() && person => break,
            Got::Line(line) => {
                let more = format!("{rows}{line}\n");
                match person.then(|| read(&more, how)) {
                    Some(Err(problems)) => {
                        for problem in problems {
                            let help = problem.help.map_or_else(String::new, |help| format!("\n    {help}"));
                            context.out.page(format!("not taken: {}{help}", problem.text))?;
                        }
                    }
                    Some(Ok(pin)) => {
                        if let Some(pin) = pin {
                            context.out.page(format!("  {}", told(&pin)))?;
                        }
                        rows = more;
                    }
                    None => rows = more,
                }
            }
            Got::End | Got::Interrupted => break,
        }
    }
    if rows.trim().is_empty() { Err(none()) } else { Ok((Source::new("pins", rows), by)) }
}

fn none() -> Failure {
    Failure::hinted("no pins were named", "a row a pin: ohmward extend --by 1.2m --pin \"4, black/white, horn, 3.5 A\"")
}

/// The last pin of these rows.
fn read(rows: &str, how: &How) -> Result<Option<Pin>, Vec<Problem>> {
    let volts = how.rules.review.limit("nominal");
    let list = pins(&Source::new("pins", rows), how.plug, volts, how.codes, how.rules)?;
    Ok(list.pins.into_iter().last())
}

/// What was understood.
fn told(pin: &Pin) -> String {
    let figure =
        |value: Option<f64>, unit: &str| value.map(|value| format!("{:.4} {unit}", value).replace(".0000", ""));
    let trimmed = |text: String| match text.split_once(' ') {
        Some((number, unit)) if number.contains('.') => {
            format!("{} {unit}", number.trim_end_matches('0').trim_end_matches('.'))
        }
        _ => text,
    };
    let fields = [
        Some(pin.colour.clone().unwrap_or_else(|| "no colour".into())),
        Some(pin.what.clone()).filter(|what| !what.is_empty()),
        figure(pin.amps, "A").map(trimmed),
        figure(pin.fuse, "A").map(|fuse| format!("fuse {}", trimmed(fuse))),
        figure(pin.area, "mm2").map(trimmed),
        figure(pin.by, "m").map(|by| format!("moves {}", trimmed(by))),
    ];
    format!("way {}: {}", pin.way, fields.into_iter().flatten().collect::<Vec<_>>().join(", "))
}
