//! `ohmward completions`: the Tab key of a shell knows commands, options and the names of the wiring file here.
//!
//! The shell asks the program itself, by an environment variable, at each Tab. Whatever goes wrong then offers nothing
//! and says nothing: somebody is in the middle of a line.

mod bash;
pub mod offer;

use super::Context;
use super::error::Failure;
use super::exit::Exit;
use bash::Bash;
use clap::ValueEnum;
use clap_complete::env::{CompleteEnv, Elvish, EnvCompleter, Fish, Powershell, Shells, Zsh};
use serde_json::json;

/// Set by the shell when it asks; holds the shell's name.
const ASKED: &str = "OHMWARD_COMPLETE";

/// What the program is called where the shell looks for it.
const PROGRAM: &str = "ohmward";

/// Print what makes the Tab key of your shell complete ohmward
///
/// It completes commands, options, and what the wiring file here names: points, parts, plugs, controls and their
/// settings, faults; and built-in machines. Put the line of your shell into the file that it reads at its start:
///
///   bash        source <(ohmward completions bash)
///   zsh         source <(ohmward completions zsh)
///   fish        ohmward completions fish | source
///   powershell  ohmward completions powershell | Out-String | Invoke-Expression
///   elvish      eval (ohmward completions elvish | slurp)
///
/// With a wiring file that cannot be read no names are offered.
#[derive(clap::Args)]
#[command(verbatim_doc_comment)]
pub struct Args {
    /// The shell
    shell: Shell,
}

/// Shells that can be told.
#[derive(Clone, Copy, ValueEnum)]
enum Shell {
    /// As on most Linux machines
    Bash,
    /// As on a Mac
    Zsh,
    /// The friendly one
    Fish,
    /// As on Windows
    Powershell,
    /// A shell of its own kind
    Elvish,
}

impl Shell {
    fn completer(self) -> &'static dyn EnvCompleter {
        match self {
            Shell::Bash => &Bash,
            Shell::Zsh => &Zsh,
            Shell::Fish => &Fish,
            Shell::Powershell => &Powershell,
            Shell::Elvish => &Elvish,
        }
    }
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let mut script = Vec::new();
    args.shell.completer().write_registration(ASKED, PROGRAM, PROGRAM, PROGRAM, &mut script)?;
    let script = String::from_utf8_lossy(&script);
    let script = format!("{}\n", script.trim());
    if context.json {
        context.out.json(&json!({ "script": script }))?;
    } else {
        context.out.text(script)?;
    }
    Ok(Exit::Done)
}

/// Answers a shell, if it is one that runs the program; false if it is a person or a script.
pub fn answered() -> bool {
    if std::env::var_os(ASKED).is_none_or(|shell| shell.is_empty()) {
        return false;
    }
    // Nothing may be said into somebody's half-typed line, not even by a panic.
    std::panic::set_hook(Box::new(|_| {}));
    let _ = std::panic::catch_unwind(|| {
        let shells: [&dyn EnvCompleter; 5] = [&Bash, &Zsh, &Fish, &Powershell, &Elvish];
        let here = std::env::current_dir().ok();
        let ask = CompleteEnv::with_factory(super::command).var(ASKED).bin(PROGRAM).completer(PROGRAM);
        let _ = ask.shells(Shells(&shells)).try_complete(std::env::args_os(), here.as_deref());
    });
    true
}
