//! What is at hand: five short questions, once, where the wiring file does not say. Any of them may be left with Enter.

use crate::cli::error::Failure;
use crate::cli::prompt::{Got, LineSource};
use crate::cli::wire::history::History;
use crate::cli::{Context, load};
use ohmward::text::yaml::{self, Value};
use ohmward::wiring::edit::{Change, Draft};

/// A question: its text with an example, what stands for Enter, the rows of `bench` that an answer makes.
struct Question {
    text: &'static str,
    default: &'static str,
    rows: fn(&str) -> Vec<String>,
}

const QUESTIONS: [Question; 5] = [
    Question {
        text: "Which ranges has the meter? (volts, ohms, beep, amps, ac, loz)",
        default: "volts, ohms, beep",
        rows: meter,
    },
    Question {
        text: "How long are its leads, and how many clips are there? (1.5 m, 2 clips)",
        default: "1 m",
        rows: leads,
    },
    Question { text: "A test lamp? Of how many watts? (5 W)", default: "no", rows: lamp },
    Question { text: "Is there somebody to hold a switch or watch a lamp? (yes, no)", default: "no", rows: helper },
    Question { text: "What cannot be done? (engine running, key start)", default: "nothing", rows: cannot },
];

/// Asks what is at hand, if the wiring file says nothing of it, and writes it there.
/// False if somebody wants to get away now.
pub fn ask(lines: &mut dyn LineSource, context: &mut Context) -> Result<bool, Failure> {
    let source = load::text(&context.wiring)?;
    let catalogue = load::rules(&context.wiring)?;
    // A file that does not check is told of by whoever reads it next.
    let Ok(draft) = Draft::new(source.clone(), &catalogue) else { return Ok(true) };
    load::manageable(draft.netlist())?;
    let says = |tree: &yaml::Node| matches!(&tree.value, Value::Map(pairs) if pairs.iter().any(|(key, _)| key.text.eq_ignore_ascii_case("bench")));
    if yaml::parse(&source).is_ok_and(|tree| says(&tree)) {
        return Ok(true);
    }
    let paint = context.out.paint;
    context
        .out
        .page(paint.aside("What is at hand? Five short questions, asked once. Enter: what stands in brackets."))?;
    let mut rows: Vec<String> = Vec::new();
    for (at, question) in QUESTIONS.iter().enumerate() {
        loop {
            context.out.page(format!("{}/{} {} [{}]", at + 1, QUESTIONS.len(), question.text, question.default))?;
            lines.offer(question.default.split(", ").map(str::to_owned).collect());
            let line = match lines.line("at hand> ")? {
                Got::Line(line) => line,
                // Asked again another time.
                Got::End => return Ok(true),
                Got::Interrupted => {
                    context.out.say("Nothing is begun. These questions come again: ohmward chase");
                    return Ok(false);
                }
            };
            let typed = line.trim();
            let answer = if matches!(typed, "" | "?" | "skip") { question.default } else { typed };
            let own = (question.rows)(answer);
            match checked(&draft, &own) {
                Ok(()) => {
                    rows.extend(own);
                    break;
                }
                Err(why) => context.out.page(format!("not taken: {why}"))?,
            }
        }
    }
    let Ok(changed) = draft.with(&[Change::row("bench", rows.join("\n"))]) else { return Ok(true) };
    let history = History::beside(&context.wiring);
    let _lock = history.lock()?;
    if load::text(&context.wiring)?.text == source.text {
        history.step("what is at hand", Some(&source.text), changed.text())?;
        context.out.say(format!("{}: bench is written; change it there.", context.wiring.display()));
    }
    Ok(true)
}

/// Would the file check with these rows?
fn checked(draft: &Draft, rows: &[String]) -> Result<(), String> {
    if rows.is_empty() {
        return Ok(());
    }
    draft.with(&[Change::row("bench", rows.join("\n"))]).map(drop).map_err(|refusal| {
        let told = refusal.problems.iter().map(|p| match &p.help {
            Some(help) => format!("{}; {help}", p.text),
            None => p.text.clone(),
        });
        told.collect::<Vec<String>>().join("; ")
    })
}

/// A word as the file writes it, in quotes where it is not plain: it is the person's own.
fn word(text: &str) -> String {
    let clean = text.trim().replace(['"', '\\'], "").replace(|c: char| c.is_control(), " ");
    let plain = clean.starts_with(|c: char| c.is_ascii_alphanumeric())
        && clean.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b' ' | b'.' | b'-' | b'/'));
    if plain { clean } else { format!("\"{clean}\"") }
}

fn list<'a>(words: impl Iterator<Item = &'a str>) -> String {
    let words: Vec<String> = words.filter(|text| !text.trim().is_empty()).map(word).collect();
    format!("[{}]", words.join(", "))
}

fn meter(answer: &str) -> Vec<String> {
    match answer.to_lowercase().as_str() {
        "none" | "no" | "no meter" => vec!["meter: []".into()],
        "all" => vec!["meter: [volts, ohms, beep, amps, ac]".into()],
        words => {
            let words = words.split([',', ';', ' ']).filter(|word| !matches!(*word, "" | "and"));
            vec![format!("meter: {}", list(words))]
        }
    }
}

fn leads(answer: &str) -> Vec<String> {
    let mut rows = Vec::new();
    for piece in
        answer.split([',', ';']).flat_map(|piece| piece.split(" and ")).map(str::trim).filter(|p| !p.is_empty())
    {
        let lower = piece.to_lowercase();
        let bare = lower.trim_end_matches("clips").trim_end_matches("clip").trim();
        if bare.len() < lower.len() || bare.bytes().all(|b| b.is_ascii_digit()) {
            let bare = if bare == "no" { "0" } else { bare };
            rows.push(format!("clips: {}", word(bare)));
        } else {
            rows.push(format!("leads: {}", word(piece)));
        }
    }
    rows
}

fn lamp(answer: &str) -> Vec<String> {
    let answer = match answer.to_lowercase().as_str() {
        "none" | "n" => "no".into(),
        "yes" | "y" => "5 W".into(),
        number if number.bytes().all(|b| b.is_ascii_digit()) => format!("{number} W"),
        other => other.to_owned(),
    };
    vec![format!("test-lamp: {}", word(&answer))]
}

fn helper(answer: &str) -> Vec<String> {
    let answer = match answer.to_lowercase().as_str() {
        "y" => "yes".to_owned(),
        "n" | "none" | "nobody" => "no".into(),
        other => other.to_owned(),
    };
    vec![format!("helper: {}", word(&answer))]
}

fn cannot(answer: &str) -> Vec<String> {
    match answer.to_lowercase().as_str() {
        "nothing" | "none" | "no" | "-" => Vec::new(),
        _ => vec![format!("cannot: {}", list(answer.split([',', ';'])))],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ohmward::catalogue::Catalogue;
    use ohmward::text::span::Source;

    #[test]
    fn what_people_say_becomes_a_bench_that_checks_and_the_rest_of_the_file_stays() {
        let rules = Catalogue::builtin();
        let text = "machine: Cart   # mine\nplaces: {dash: easy}\nparts: {horn: \"horn, dash\"}\n";
        let draft = Draft::new(Source::new("w", text), &rules).unwrap();
        let answers = ["volts and ohms", "1.5 m; 4 clips", "21", "y", "engine running, the \"tank\" off"];
        let rows: Vec<String> = QUESTIONS.iter().zip(answers).flat_map(|(q, answer)| (q.rows)(answer)).collect();
        let with = draft.with(&[Change::row("bench", rows.join("\n"))]).unwrap();
        assert!(with.text().starts_with(text));
        let bench = &with.netlist().bench;
        assert_eq!((bench.leads, bench.clips, bench.test_lamp, bench.helper), (1.5, 4, Some(21.0), true));
        assert_eq!(bench.meter, ["volts-dc", "ohms"]);
        assert_eq!(bench.cannot, ["engine running", "the tank off"]);
        // Enter to all of them.
        let rows: Vec<String> = QUESTIONS.iter().flat_map(|q| (q.rows)(q.default)).collect();
        assert!(checked(&draft, &rows).is_ok(), "{rows:?}");
        for (question, wrong) in QUESTIONS.iter().zip(["scope", "long", "bright", "perhaps"]) {
            assert!(checked(&draft, &(question.rows)(wrong)).is_err(), "{wrong}");
        }
    }
}
