//! `ohmward man`: manual pages, made of the same words as the help.

use super::complete::offer;
use super::error::Failure;
use super::exit::{self, Exit};
use super::{Context, examples, store};
use clap::{Command, ValueHint};
use clap_complete::engine::ArgValueCompleter;
use clap_mangen::Man;
use clap_mangen::roff::{Roff, bold, roman};
use ohmward::text::words::nearest;
use serde_json::json;
use std::io;
use std::path::{Path, PathBuf};

/// Write the manual page of a command, or all of them into a folder
///
/// Without COMMAND it is the page of ohmward itself. Where manual pages are kept depends on the system; usually
/// /usr/local/share/man/man1.
#[derive(clap::Args)]
pub struct Args {
    /// The command; `trail show` for one of its own
    #[arg(value_name = "COMMAND", add = ArgValueCompleter::new(offer::commands))]
    command: Vec<String>,
    /// Write here, a file a page, and all of them if no command is named
    #[arg(long, value_name = "FOLDER", value_hint = ValueHint::DirPath)]
    to: Option<PathBuf>,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let mut root = super::command().disable_help_subcommand(true);
    root.build();
    let mut command = &root;
    for name in &args.command {
        command = command.find_subcommand(name).ok_or_else(|| {
            let names = command.get_subcommands().map(Command::get_name);
            let hint =
                nearest(name, names).map_or("list them: ohmward --help".to_owned(), |near| format!("nearest: {near}"));
            Failure::hinted(format!("no command is called \"{name}\""), hint)
        })?;
    }
    let Some(folder) = &args.to else {
        let text = page(command)?;
        let put = if context.json { context.out.json(&json!({ "page": text })) } else { context.out.text(text) };
        return put.map(|()| Exit::Done);
    };
    std::fs::create_dir_all(folder)
        .map_err(|error| Failure::plain(format!("cannot make the folder {}: {error}", folder.display())))?;
    let mut written = Vec::new();
    write(command, folder, args.command.is_empty(), &mut written)?;
    if context.json {
        context.out.json(&json!({ "written": written }))?;
    } else {
        context.out.page(format!("{} pages are written into {}.", written.len(), folder.display()))?;
    }
    Ok(Exit::Done)
}

/// Writes a command's page, with those of its own commands.
fn write(command: &Command, folder: &Path, all: bool, written: &mut Vec<String>) -> Result<(), Failure> {
    let path = folder.join(Man::new(command.clone()).get_filename());
    store::replace(&path, page(command)?.as_bytes())?;
    written.push(path.display().to_string());
    let own = command.get_subcommands().filter(|own| all || own.get_name() != "help");
    own.filter(|own| !own.is_hide_set()).try_for_each(|own| write(own, folder, all, written))
}

/// The page of a command as roff text.
fn page(command: &Command) -> io::Result<String> {
    let source = format!("{} {}", env!("CARGO_PKG_NAME"), env!("CARGO_PKG_VERSION"));
    let man = Man::new(command.clone()).source(source);
    let mut out = Vec::new();
    man.render_title(&mut out)?;
    man.render_name_section(&mut out)?;
    man.render_synopsis_section(&mut out)?;
    man.render_description_section(&mut out)?;
    man.render_options_section(&mut out)?;
    if command.get_subcommands().any(|own| !own.is_hide_set()) {
        man.render_subcommands_section(&mut out)?;
    }
    let mut roff = Roff::default();
    let lines = examples::of(command.get_name());
    let lines = if lines.is_empty() { examples::FIRST } else { lines };
    roff.control("SH", ["EXAMPLES"]);
    for (line, what) in lines {
        roff.control("TP", []).text([bold(*line)]).text([roman(*what)]);
    }
    roff.control("SH", ["EXIT STATUS"]);
    for (code, what) in exit::CODES {
        roff.control("TP", []).text([bold(code.to_string())]).text([roman(what)]);
    }
    roff.to_writer(&mut out)?;
    let text = String::from_utf8_lossy(&out);
    // Each section brings the lines with it that make quotes look right; once is enough.
    let mut seen = 0;
    let lines = text.lines().filter(|line| {
        let quotes = line.starts_with(".ie ") || line.starts_with(".el ");
        seen += usize::from(quotes);
        !quotes || seen <= 2
    });
    Ok(lines.map(|line| format!("{line}\n")).collect())
}
