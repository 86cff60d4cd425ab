//! `chase --paper`: the next tests with every outcome, to take under the machine.

use crate::cli::Context;
use crate::cli::error::Failure;
use crate::cli::exit::Exit;
use crate::cli::progress::shown;
use crate::cli::prompt::screen;
use ohmward::circuit::test::{Instrument, Test};
use ohmward::session::paper::{Slip, slips};
use ohmward::session::{Chase, Event};
use serde_json::{Value, json};

/// Tests on one sheet.
const TESTS: usize = 3;
/// Suspects named a line.
const NAMED: usize = 2;

/// Prints the sheet for what waits; the chase stays as it is.
pub fn print(chase: &mut Chase, waiting: Option<&Event>, context: &mut Context) -> Result<Exit, Failure> {
    match waiting {
        Some(Event::Ask { .. } | Event::TryRepair { .. }) => {}
        Some(question) => {
            context.out.say("ohmward: one question comes before the first test: answer it in ohmward chase");
            context.out.say(screen::screen(question, context.out.paint_err).unwrap_or_default());
            return Ok(Exit::NotMet);
        }
        None => {
            context.out.say("ohmward: nothing shows yet. Say what does: ohmward chase --paper \"the horn is dead\"");
            return Ok(Exit::NotMet);
        }
    }
    let pace = chase.machine().pace.clone();
    let sheet = shown(&pace, || slips(chase, TESTS));
    if context.json {
        let list: Vec<Value> = sheet.iter().map(slip_json).collect();
        context.out.json(&json!({ "paper": list }))?;
        return Ok(Exit::Done);
    }
    let paint = context.out.paint;
    let mut lines: Vec<String> = Vec::new();
    if let Some(repair) = waiting.filter(|event| matches!(event, Event::TryRepair { .. })) {
        lines.extend(screen::screen(repair, paint));
        lines.push(String::new());
    }
    for (number, slip) in (1..).zip(&sheet) {
        let mut rows = screen::doing(&slip.test, slip.minutes, &slip.screen, paint);
        if let Some(head) = rows.first_mut() {
            *head = format!("{number}. {head}");
        }
        lines.extend(rows);
        let blanks = vec!["______"; slip.test.placements().len()].join("   ");
        lines.push(format!("  {:<9}{blanks}", "met"));
        let wide = slip.outcomes.iter().map(|outcome| outcome.values.join(", ").len()).max().unwrap_or(0);
        for (at, outcome) in slip.outcomes.iter().enumerate() {
            let lead = if at == 0 { "means" } else { "" };
            let values = format!("{:<wide$}", outcome.values.join(", "));
            let more = outcome.titles.len().saturating_sub(NAMED);
            let mut titles: Vec<String> = outcome
                .titles
                .iter()
                .take(NAMED)
                .map(|title| paint.fault(&title.replacen("the run from ", "", 1)))
                .collect();
            if more > 0 {
                titles.push(format!("{more} more"));
            }
            let titles = titles.join(" or ");
            lines.push(format!("  {lead:<9}{}  {titles} ({})", paint.value(&values), outcome.sure));
        }
        if !slip.screen.cautions.is_empty() {
            lines.push(format!("  {:<9}{}", "CAUTION", paint.caution(&slip.screen.cautions.join("; "))));
        }
        if number > 1 {
            lines.push(format!("  {:<9}{}", "type", typed(&slip.test)));
        }
        lines.push(String::new());
    }
    lines.push("Another reading than any of these is worth as much: write it down as it is.".into());
    lines.push("Back at the machine's folder: ohmward chase, and type them in.".into());
    context.out.page(lines.join("\n"))?;
    Ok(Exit::Done)
}

/// How a reading is told that is not the one asked for just then.
fn typed(test: &Test) -> String {
    let set = |set: &[(String, String)]| set.iter().map(|(c, s)| format!(", {c} {s}")).collect::<String>();
    match (test.instrument, &test.part, &test.red, &test.black) {
        (Instrument::Watch | Instrument::Touch, Some(part), ..) => format!("saw {part} ____{}", set(&test.set)),
        (instrument, _, Some(red), Some(black)) => {
            let unit = instrument.unit().unwrap_or("");
            format!("read ____ {unit} at {red} to {black}{}", set(&test.set))
        }
        _ => "skip".into(),
    }
}

fn slip_json(slip: &Slip) -> Value {
    let outcomes: Vec<Value> = slip
        .outcomes
        .iter()
        .map(|outcome| json!({"values": outcome.values, "titles": outcome.titles, "sure": outcome.sure}))
        .collect();
    json!({"test": slip.test.to_json(), "minutes": (slip.minutes * 10.0).round() / 10.0, "outcomes": outcomes})
}
