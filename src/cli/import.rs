//! `ohmward import`: rows of a spreadsheet into the wiring file.

use super::Context;
use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::wire::desk::{Desk, Taken};
use clap::ValueHint;
use clap_complete::engine::ArgValueCompleter;
use ohmward::text::span::Source;
use ohmward::wiring::sheet::{How, Options, separator_name};
use serde_json::json;
use std::path::{Path, PathBuf};

/// A larger sheet is no list of wires.
const LARGEST: u64 = 8 * 1024 * 1024;

/// Read wires and plugs from a spreadsheet (CSV) into the wiring file
///
/// Columns in any order and spelling: from, to, colour, size, length, plug, way, old, new, proof, note and others;
/// commas, semicolons or tabs; a decimal comma; units in the heading or the cell. What was understood is told column
/// by column and row by row; a sheet with a problem is refused as a whole. A part that is not in the file yet gets
/// the kind that its name says, else it becomes an unknown module. The file is begun if there is none; `ohmward wire
/// --undo` takes an import back.
#[derive(clap::Args)]
pub struct Args {
    /// The sheet, saved as CSV
    #[arg(value_name = "FILE.csv", value_hint = ValueHint::FilePath)]
    sheet: PathBuf,
    /// The wiring file to write into; default: that of --wiring
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    into: Option<PathBuf>,
    /// The plug whose ways these are, if the sheet has no column for it
    #[arg(long, value_name = "NAME", add = ArgValueCompleter::new(offer::plugs))]
    plug: Option<String>,
    /// What letters mean that differ from maker to maker: --code BL=black
    #[arg(long = "code", value_name = "LETTERS=COLOUR")]
    colours: Vec<String>,
    /// Only tell what would be read
    #[arg(long)]
    dry_run: bool,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let into = args.into.as_ref().unwrap_or(&context.wiring).clone();
    let colour = |text: &String| {
        let pair = text.split_once('=').map(|(code, word)| (code.trim().to_owned(), word.trim().to_owned()));
        pair.ok_or_else(|| Failure::hinted(format!("\"{text}\" says no colour"), "write it like this: --code BL=black"))
    };
    let options =
        Options { plug: args.plug.clone(), colours: args.colours.iter().map(colour).collect::<Result<_, _>>()? };
    let sheet = text(&args.sheet, context)?;
    let taken = Desk::at(&into)?.import(&sheet, &options, args.dry_run)?;
    if context.json {
        report_json(&taken, &into, context)?;
    } else {
        report(&taken, &sheet.name, &into, args.dry_run, context)?;
    }
    Ok(Exit::Done)
}

fn word(how: How) -> &'static str {
    match how {
        How::New => "new",
        How::Changed => "changed",
        How::There => "there already",
    }
}

fn report(taken: &Taken, name: &str, into: &Path, dry: bool, context: &mut Context) -> Result<(), Failure> {
    context.out.page(format!("{name}: {} between the cells", separator_name(taken.separator)))?;
    for column in &taken.columns {
        let holds = column.holds.as_deref().unwrap_or("passed over");
        let cells = match column.cells {
            1 => "1 cell".to_owned(),
            n => format!("{n} cells"),
        };
        context.out.page(format!(
            "  column {:<2} {:<22} {holds}, {cells}",
            column.number,
            format!("\"{}\"", column.heading)
        ))?;
    }
    for row in &taken.rows {
        let number = row.number.map_or_else(|| "part".to_owned(), |number| format!("row {number}"));
        let assumed =
            if row.assumed.is_empty() { String::new() } else { format!("  (taken: {})", row.assumed.join("; ")) };
        context.out.page(format!("  {number:<8} {:<14} {}{assumed}", word(row.how), row.row))?;
    }
    for note in &taken.notes {
        context.out.page(format!("note: {note}"))?;
    }
    let count = |how: How| taken.rows.iter().filter(|row| row.how == how).count();
    let (new, changed, there) = (count(How::New), count(How::Changed), count(How::There));
    let into = into.display();
    let end = match (dry, taken.written) {
        (true, _) => format!("Nothing is written; without --dry-run it goes into {into}."),
        (false, true) => format!("Written: {into} (ohmward wire --undo takes it back)."),
        (false, false) => format!("{into} is as it was."),
    };
    context.out.page(format!("{new} new, {changed} changed, {there} there already. {end}"))
}

fn report_json(taken: &Taken, into: &Path, context: &mut Context) -> Result<(), Failure> {
    let columns: Vec<_> = taken
        .columns
        .iter()
        .map(|c| json!({"column": c.number, "heading": c.heading, "holds": c.holds, "cells": c.cells}))
        .collect();
    let rows: Vec<_> = taken
        .rows
        .iter()
        .map(|r| json!({"row": r.number, "wiring": r.row, "how": word(r.how), "assumed": r.assumed}))
        .collect();
    context.out.json(&json!({
        "separator": taken.separator,
        "columns": columns,
        "rows": rows,
        "notes": taken.notes,
        "written": taken.written.then(|| into.display().to_string()),
    }))
}

/// The sheet as text. Spreadsheets also save in UTF-16 and in the one-byte code of old.
pub fn text(path: &Path, context: &mut Context) -> Result<Source, Failure> {
    let name = path.display().to_string();
    let failed = |error: &dyn std::fmt::Display| {
        Failure::hinted(format!("cannot read {name}: {error}"), "name the sheet, saved as CSV: ohmward import loom.csv")
    };
    let meta = std::fs::metadata(path).map_err(|error| failed(&error))?;
    if meta.len() > LARGEST {
        return Err(Failure::plain(format!("{name} is {} MB large: this is no list of wires", meta.len() >> 20)));
    }
    let bytes = std::fs::read(path).map_err(|error| failed(&error))?;
    let wide = |from: fn([u8; 2]) -> u16| {
        let units: Vec<u16> = bytes[2..].chunks_exact(2).map(|two| from([two[0], two[1]])).collect();
        String::from_utf16_lossy(&units)
    };
    let text = match bytes.as_slice() {
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes),
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes),
        _ => match String::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                context.out.say(format!("({name} is no UTF-8 text: its letters are read as Latin-1)"));
                error.into_bytes().into_iter().map(char::from).collect()
            }
        },
    };
    if text.contains('\0') {
        return Err(Failure::hinted(format!("{name} is no text"), "save the sheet as CSV"));
    }
    Ok(Source::new(name, text))
}
