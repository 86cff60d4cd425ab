//! Layer 10: the command line. The only code that prints, reads files, the environment and the clock.
//!
//! One file a command: its arguments, whose documentation is the help text, and one function.

mod book;
mod build_notes;
mod chase;
mod check;
mod clock;
mod draw;
mod drill;
mod error;
mod exit;
mod expect;
mod export;
mod extend;
mod faults;
mod import;
mod journal;
mod kinds;
mod learn;
mod load;
mod machines;
mod new;
mod out;
mod paint;
mod powerup;
mod prompt;
mod rehearse;
mod ringout;
mod schema;
mod store;
mod testargs;
mod trail;
mod wire;

use clap::{Args, Parser, Subcommand};
use error::Failure;
use exit::Exit;
use ohmward::text::hidden::visible;
use out::Out;
use std::path::PathBuf;
use std::process::ExitCode;

/// Finds the wiring fault from a symptom and a few meter readings.
///
/// You give it the wiring as it really is (wiring.yaml) and the symptom in your own words. It computes what
/// every possible fault would do to every reading, asks for the reading that is worth most for its minutes,
/// names the fault and its repair, proves the repair, and leaves it all in build-notes.md.
#[derive(Parser)]
#[command(
    name = "ohmward",
    version,
    propagate_version = true,
    arg_required_else_help = true,
    after_help = "Begin here:\n  ohmward rehearse                      a drill on a built-in machine, no meter needed\n  ohmward new orchard-cart my-cart      a folder with a wiring file to change\n  ohmward chase \"the horn is dead\"       in the folder with your wiring.yaml\n\nExit codes: 0 done, 1 done and not met (a finding that hurts, a fault not isolated), 2 cannot be used."
)]
struct Cli {
    #[command(flatten)]
    common: Common,
    #[command(subcommand)]
    command: Command,
}

/// What every command takes.
#[derive(Args)]
struct Common {
    /// The wiring file; trails and build-notes.md stand beside it
    #[arg(long, global = true, value_name = "FILE", default_value = "wiring.yaml")]
    wiring: PathBuf,
    /// Results as JSON on standard output
    #[arg(long, global = true)]
    json: bool,
    /// When to colour
    #[arg(long, global = true, value_name = "WHEN", value_enum, default_value_t)]
    color: paint::Choice,
}

#[derive(Subcommand)]
enum Command {
    Chase(chase::Args),
    Rehearse(rehearse::Args),
    Drill(drill::Args),
    Check(check::Args),
    Draw(draw::Args),
    Expect(expect::Args),
    Faults(faults::Args),
    Kinds(kinds::Args),
    Export(export::Args),
    Trail(trail::Args),
    New(new::Args),
    Wire(wire::Args),
    Import(import::Args),
    Learn(learn::Args),
    Ringout(ringout::Args),
    Powerup(powerup::Args),
    Extend(extend::Args),
    Schema(schema::Args),
}

/// What a command works with.
struct Context {
    wiring: PathBuf,
    json: bool,
    out: Out,
}

/// Runs the program.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // Help goes to standard output and is success, a wrong word to standard error; a closed pipe is no failure.
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { Exit::UNUSABLE } else { Exit::DONE });
        }
    };
    let Common { wiring, json, color } = cli.common;
    let mut context = Context { wiring, json, out: Out::new(color) };
    let result = match &cli.command {
        Command::Chase(args) => chase::run(args, &mut context),
        Command::Rehearse(args) => rehearse::run(args, &mut context),
        Command::Drill(args) => drill::run(args, &mut context),
        Command::Check(args) => check::run(args, &mut context),
        Command::Draw(args) => draw::run(args, &mut context),
        Command::Expect(args) => expect::run(args, &mut context),
        Command::Export(args) => export::run(args, &mut context),
        Command::Faults(args) => faults::run(args, &mut context),
        Command::Kinds(args) => kinds::run(args, &mut context),
        Command::Trail(args) => trail::run(args, &mut context),
        Command::New(args) => new::run(args, &mut context),
        Command::Wire(args) => wire::run(args, &mut context),
        Command::Import(args) => import::run(args, &mut context),
        Command::Learn(args) => learn::run(args, &mut context),
        Command::Ringout(args) => ringout::run(args, &mut context),
        Command::Powerup(args) => powerup::run(args, &mut context),
        Command::Extend(args) => extend::run(args, &mut context),
        Command::Schema(args) => schema::run(args, &mut context),
    };
    result.unwrap_or_else(|failure| report(&failure, &mut context)).into()
}

/// Names every problem on standard error, and on standard output too where JSON is wanted.
fn report(failure: &Failure, context: &mut Context) -> Exit {
    let paint = context.out.paint_err;
    let problems: Vec<serde_json::Value> = match failure {
        Failure::BrokenPipe => return Exit::Done,
        Failure::Problems(list) => {
            for (source, problem) in list {
                context.out.say(problem.render(source));
            }
            list.iter().map(|(source, problem)| error::problem_json(source, problem)).collect()
        }
        Failure::Plain { text, hint } => {
            context.out.say(format!("{} {}", paint.fault("ohmward:"), visible(text)));
            if let Some(hint) = hint {
                context.out.say(format!("  {}", visible(hint)));
            }
            vec![serde_json::json!({"file": null, "line": null, "text": text, "help": hint})]
        }
    };
    if context.json && context.out.json(&serde_json::json!({ "problems": problems })).is_err() {
        return Exit::Done;
    }
    failure.exit()
}
