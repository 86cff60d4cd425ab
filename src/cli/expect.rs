//! `ohmward expect`: what a reading would be, healthy or with a fault.

use super::error::Failure;
use super::exit::Exit;
use super::{Context, load, testargs};
use ohmward::circuit::test::Test;
use ohmward::circuit::test::json::error_json;
use ohmward::diagnosis::machine::Machine;
use serde_json::{Value, json};
use std::io::BufRead;

/// Say what a reading would be on the healthy machine, or with a fault
///
/// The meter is in the circuit: its 10 Mohm load what it measures. Controls not named are at rest.
///
/// Example: ohmward expect volts-dc horn.feed battery.neg --set key=on --set horn-push=pressed --fault 'G1:resistive(2)'
#[derive(clap::Args)]
pub struct Args {
    /// volts-dc, volts-ac, volts-loz, ohms, beep, amps-dc, test-lamp or watch
    #[arg(required_unless_present = "jsonl")]
    instrument: Option<String>,
    /// Where red goes; for watch: the part
    red: Option<String>,
    /// Where black goes
    black: Option<String>,
    #[command(flatten)]
    state: testargs::State,
    /// The fault, for example G1:resistive(2); without it the healthy machine
    #[arg(long, value_name = "FAULT")]
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
    let answers = machine.expect(&test, args.fault.as_deref().unwrap_or("")).map_err(|p| testargs::failure(&p))?;
    let paint = context.out.paint;
    if context.json {
        let list: Vec<Value> = answers.iter().map(|answer| answer.to_json(test.instrument)).collect();
        context.out.json(&one_or_list(list))?;
    } else {
        for answer in answers {
            context.out.line(paint.value(&answer.say(test.instrument)))?;
        }
    }
    Ok(Exit::Done)
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
    match machine.expect(&test, fault) {
        Ok(answers) => one_or_list(answers.iter().map(|answer| answer.to_json(test.instrument)).collect()),
        Err(problems) => error_json("unknown", &problems),
    }
}

fn one_or_list(mut list: Vec<Value>) -> Value {
    if list.len() == 1 { list.swap_remove(0) } else { Value::Array(list) }
}
