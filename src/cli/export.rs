//! `ohmward export`: the circuit, or the file's rows, for other programs.

use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, load, testargs};
use clap::ValueEnum;
use clap_complete::engine::ArgValueCompleter;
use ohmward::circuit::deck::{DeckLevel, deck};
use ohmward::circuit::fault::Fault;
use ohmward::circuit::injury::injure;
use ohmward::circuit::state::state_of;
use ohmward::circuit::test::Test;
use ohmward::wiring::sheet;
use serde_json::{Map, Value, json};

/// Write the circuit for a circuit simulator, or the wiring file's rows for a spreadsheet
///
/// `csv` writes every row of the wiring file as comma-separated values; `import` reads them in again. `spice` writes
/// the circuit in a state, with a fault if wanted, as a deck. Node 0 is battery minus, nodes are points in lower case; each element's line tells its site and tolerance.
#[derive(clap::Args)]
pub struct Args {
    /// The form: spice, csv
    form: Form,
    #[command(flatten)]
    state: testargs::State,
    /// The fault, for example G1:resistive(2); without it the healthy machine
    #[arg(long, value_name = "FAULT", add = ArgValueCompleter::new(offer::faults))]
    fault: Option<String>,
    /// What chops (horn, flasher) with its contacts closed, or open
    #[arg(long, value_enum, default_value_t)]
    level: Level,
}

#[derive(Clone, Copy, ValueEnum)]
enum Form {
    /// A deck for SPICE simulators
    Spice,
    /// The wiring file's rows, comma-separated
    Csv,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum Level {
    /// Closed
    #[default]
    Closed,
    /// Open
    Open,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    if let Form::Csv = args.form {
        return csv(context);
    }
    let mut machine = load::machine(context)?;
    // A state is asked for like a test's; the instrument plays no part.
    let mut request = Map::new();
    request.insert("instrument".into(), json!("volts-dc"));
    request.insert("red".into(), json!("battery.pos"));
    request.insert("black".into(), json!("battery.neg"));
    testargs::state_into(&args.state, &mut request)?;
    let test = Test::from_json(&Value::Object(request)).map_err(|problems| testargs::failure(&problems))?;
    let spec = state_of(machine.sim.schematic(), &machine.netlist, &test).map_err(|p| testargs::failure(&p))?;
    let fault = match &args.fault {
        Some(text) => Fault::parse(text).map_err(|problem| Failure::problem(&problem))?,
        None => Fault::healthy(),
    };
    let injury = injure(machine.sim.schematic(), &machine.netlist, &machine.catalogue, &fault)
        .map_err(|problem| Failure::problem(&problem))?;
    let state = machine.state(&spec);
    let level = match args.level {
        Level::Closed => DeckLevel::Closed,
        Level::Open => DeckLevel::Open,
    };
    let text = deck(&machine.sim, &machine.netlist, &spec, state, &injury, level);
    if context.json {
        context.out.json(&json!({ "deck": text }))?;
    } else {
        context.out.text(text)?;
    }
    Ok(Exit::Done)
}

/// The rows of a wiring file that checks.
fn csv(context: &mut Context) -> Result<Exit, Failure> {
    let loaded = load::load(&context.wiring)?;
    load::warn(&loaded, context);
    let text = sheet::export(&loaded.source).map_err(|problem| Failure::of(&loaded.source, vec![problem]))?;
    if context.json {
        context.out.json(&json!({ "csv": text }))?
    } else {
        context.out.text(text)?
    }
    Ok(Exit::Done)
}
