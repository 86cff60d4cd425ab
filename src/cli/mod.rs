//! Layer 10: the command line. The only code that prints, reads files, the environment and the clock.
//!
//! One file a command: its arguments, whose documentation is the help text, and one function.

mod book;
mod build_notes;
mod chase;
mod check;
mod clock;
mod complete;
mod draw;
mod drill;
mod error;
mod examples;
mod exit;
mod expect;
mod export;
mod extend;
mod faults;
mod guide;
mod import;
mod journal;
mod kinds;
mod learn;
mod load;
mod machines;
mod man;
mod new;
mod out;
mod paint;
mod powerup;
mod progress;
mod prompt;
mod rehearse;
mod ringout;
mod schema;
mod store;
mod testargs;
mod trail;
mod wire;

use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand, ValueHint};
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
#[command(name = "ohmward", version, propagate_version = true, arg_required_else_help = true)]
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
    #[arg(long, global = true, value_name = "FILE", default_value = "wiring.yaml", value_hint = ValueHint::FilePath)]
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
    Completions(complete::Args),
    Man(man::Args),
    Guide(guide::Args),
}

/// What a command works with.
struct Context {
    wiring: PathBuf,
    json: bool,
    out: Out,
}

/// All that can be typed, with an example to each command.
fn command() -> clap::Command {
    let command = Cli::command().after_help(examples::first());
    command.mut_subcommands(|command| {
        let help = examples::help(command.get_name());
        command.after_help(help)
    })
}

/// Runs the program.
pub fn main() -> ExitCode {
    if complete::answered() {
        return Exit::Done.into();
    }
    let cli = match command().try_get_matches().and_then(|matches| Cli::from_arg_matches(&matches)) {
        Ok(cli) => cli,
        Err(error) => return unparsed(&error).into(),
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
        Command::Completions(args) => complete::run(args, &mut context),
        Command::Man(args) => man::run(args, &mut context),
        Command::Guide(args) => guide::run(args, &mut context),
    };
    result.unwrap_or_else(|failure| report(&failure, &mut context)).into()
}

/// Help goes to standard output and is success, a wrong word to standard error.
fn unparsed(error: &clap::Error) -> Exit {
    let mut context = Context { wiring: PathBuf::new(), json: false, out: Out::new(wished_colour()) };
    let text = error.render();
    let dressed = |paint: paint::Paint| if paint.is_on() { text.ansi().to_string() } else { text.to_string() };
    if error.use_stderr() {
        let text = dressed(context.out.paint_err);
        context.out.say(text);
        return Exit::Unusable;
    }
    let text = dressed(context.out.paint);
    // The usage line is never wrapped by the crate.
    match context.out.page(text.trim_end()) {
        Ok(()) => Exit::Done,
        Err(failure) => report(&failure, &mut context),
    }
}

/// What `--color` says on a command line that is not taken as a whole.
fn wished_colour() -> paint::Choice {
    let words = std::env::args_os().map(|word| word.to_string_lossy().into_owned());
    let mut words = words.skip_while(|word| !word.starts_with("--color"));
    let said = words.next().and_then(|word| word.strip_prefix("--color=").map(str::to_owned).or_else(|| words.next()));
    said.and_then(|word| clap::ValueEnum::from_str(&word, true).ok()).unwrap_or_default()
}

/// Names every problem on standard error, and on standard output too where JSON is wanted.
fn report(failure: &Failure, context: &mut Context) -> Exit {
    let paint = context.out.paint_err;
    let problems: Vec<serde_json::Value> = match failure {
        Failure::BrokenPipe => return Exit::Done,
        Failure::Problems(list) => {
            context.out.say(error::told(list));
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
    if context.json
        && let Err(Failure::BrokenPipe) = context.out.json(&serde_json::json!({ "problems": problems }))
    {
        return Exit::Done;
    }
    failure.exit()
}
