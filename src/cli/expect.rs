//! `ohmward expect`: what a reading would be, healthy or with a fault.

use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::paint::Paint;
use super::{Context, load, testargs};
use clap_complete::engine::ArgValueCompleter;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::meter::{How, Observation, Observed, observe};
use ohmward::circuit::test::json::error_json;
use ohmward::circuit::test::{Instrument, Reading, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::notes;
use ohmward::text::problem::Problem;
use serde_json::{Value, json};
use std::io::BufRead;

/// Say what a reading would be on the healthy machine, or with a fault
///
/// The meter is in the circuit: its 10 Mohm load what it measures. Controls not named are at rest.
#[derive(clap::Args)]
pub struct Args {
    /// volts-dc, volts-ac, volts-loz, ohms, beep, amps-dc, test-lamp, watch or touch
    #[arg(required_unless_present = "jsonl", add = ArgValueCompleter::new(offer::instruments))]
    instrument: Option<String>,
    /// Where red goes; for watch: the part; for touch: a part, plug, wire, ground point or place
    #[arg(add = ArgValueCompleter::new(offer::points))]
    red: Option<String>,
    /// Where black goes
    #[arg(add = ArgValueCompleter::new(offer::points))]
    black: Option<String>,
    #[command(flatten)]
    state: testargs::State,
    /// The fault, for example G1:resistive(2); without it the healthy machine
    #[arg(long, value_name = "FAULT", add = ArgValueCompleter::new(offer::faults))]
    fault: Option<String>,
    /// Tests as JSON lines on standard input, {"test":…,"fault":…} each; a line out for each
    #[arg(long, conflicts_with_all = ["instrument", "fault"])]
    jsonl: bool,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    if args.jsonl {
        context.json = true;
        return stream(context);
    }
    let mut machine = load::machine(context)?;
    let request = testargs::test(args.instrument.as_deref(), args.red.as_deref(), args.black.as_deref(), &args.state)?;
    let test = Test::from_json(&request).map_err(|problems| testargs::failure(&problems))?;
    let answers =
        expect(&mut machine, &test, args.fault.as_deref().unwrap_or("")).map_err(|p| testargs::failure(&p))?;
    let paint = context.out.paint;
    if context.json {
        let list: Vec<Value> = answers.iter().map(|answer| reading(answer, &test)).collect();
        context.out.json(&one_or_list(list))?;
    } else {
        for answer in answers {
            context.out.page(say(&answer, test.instrument, paint))?;
        }
    }
    Ok(Exit::Done)
}

/// The answers of a test, first placement first. An empty fault is the healthy machine.
fn expect(machine: &mut Machine, test: &Test, fault: &str) -> Result<Vec<Observation>, Vec<Problem>> {
    let fault = if fault.trim().is_empty() {
        Fault::healthy()
    } else {
        Fault::parse(fault).map_err(|problem| vec![problem])?
    };
    observe(&mut machine.sim, &machine.netlist, &machine.catalogue, test, &fault, How::Afresh)
}

/// An answer for people, with its band and what is odd about it.
fn say(answer: &Observation, instrument: Instrument, paint: Paint) -> String {
    let number = |value: f64, step: f64| notes::said(&Reading::Value { value, step: Some(step) }, instrument);
    let mut out = match &answer.what {
        Observed::Number { value, step, low, high } => {
            format!("{} ({} to {})", paint.value(&number(*value, *step)), number(*low, *step), number(*high, *step))
        }
        Observed::Range { from, to } => paint.value(&notes::said(&Reading::Range { from: *from, to: *to }, instrument)),
        Observed::Over => paint.value("OL"),
        Observed::Live => "refused: live; read volts there instead".into(),
        Observed::Beeps(p) => {
            let word = if *p >= 0.5 { "beeps" } else { "silent" };
            format!("{} ({:.0} %)", paint.value(word), p.max(1.0 - p) * 100.0)
        }
        Observed::Showing(words) => {
            let shown: Vec<String> = words
                .iter()
                .filter(|(_, p)| *p >= 0.005)
                .map(|(word, p)| format!("{} ({:.0} %)", paint.value(word), p * 100.0))
                .collect();
            shown.join(", ")
        }
    };
    if answer.floating {
        out.push_str("; floating: nothing but the meter joins the probes");
    }
    if !answer.blown.is_empty() {
        out.push_str(&format!("; blown: {}", paint.fault(&answer.blown.join(", "))));
    }
    if answer.chatters {
        out.push_str("; a contact chatters");
    }
    out
}

/// Each line starts afresh and is answered on one line; a bad line is answered with an error and the stream goes on.
fn stream(context: &mut Context) -> Result<Exit, Failure> {
    let mut machine = load::machine(context)?;
    for line in std::io::stdin().lock().split(b'\n') {
        let line = line?;
        let text = String::from_utf8_lossy(&line);
        if text.trim().is_empty() {
            continue;
        }
        let answer = answer(&mut machine, text.trim());
        context.out.json_line(&answer)?;
    }
    Ok(Exit::Done)
}

fn answer(machine: &mut Machine, text: &str) -> Value {
    let value: Value = match serde_json::from_str(text) {
        Ok(value) => value,
        Err(error) => {
            return json!({"error": {"code": "syntax", "text": format!("not JSON, column {}", error.column())}});
        }
    };
    let Some(test) = value.get("test") else {
        return json!({"error": {"code": "test", "text": "a line is {\"test\":…,\"fault\":…}; \"test\" is missing"}});
    };
    let test = match Test::from_json(test) {
        Ok(test) => test,
        Err(problems) => return error_json("test", &problems),
    };
    let fault = match value.get("fault") {
        None | Some(Value::Null) => "",
        Some(Value::String(fault)) => fault.as_str(),
        Some(_) => return json!({"error": {"code": "fault", "text": "\"fault\" is a text, G1:resistive(2)"}}),
    };
    match expect(machine, &test, fault) {
        Ok(answers) => one_or_list(answers.iter().map(|answer| reading(answer, &test)).collect()),
        Err(problems) => error_json("unknown", &problems),
    }
}

/// An answer, and where it was refused the volts that tell there what the ohms cannot.
fn reading(answer: &Observation, test: &Test) -> Value {
    let mut value = answer.to_json(test.instrument);
    if answer.what == Observed::Live {
        value["instead"] = Test { instrument: Instrument::VoltsDc, ..test.clone() }.to_json();
    }
    value
}

fn one_or_list(mut list: Vec<Value>) -> Value {
    if list.len() == 1 { list.swap_remove(0) } else { Value::Array(list) }
}
