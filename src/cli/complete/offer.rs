//! What the Tab key offers for a value: names of the wiring file here, of the rules, of the built-in machines.
//!
//! Nothing is solved for it. What cannot be read offers nothing.

use crate::cli::guide;
use crate::cli::journal::Trails;
use crate::cli::load::{self, Loaded};
use crate::cli::machines;
use clap_complete::engine::CompletionCandidate;
use ohmward::catalogue::Catalogue;
use ohmward::circuit::test::Instrument;
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::machine::Machine;
use ohmward::netlist::Netlist;
use ohmward::text::span::Source;
use ohmward::wiring;
use ohmward::wiring::edit::VERBS;
use std::ffi::OsStr;
use std::path::PathBuf;

/// What is offered.
type Offered = Vec<CompletionCandidate>;

/// Words of the line so far, as the shell gives them behind `--`.
fn words() -> Vec<String> {
    let args = std::env::args_os().skip_while(|word| word != "--").skip(1);
    args.map(|word| word.to_string_lossy().into_owned()).collect()
}

/// The value of an option in the line so far.
fn option(name: &str) -> Option<String> {
    let words = words();
    let joined = words.iter().find_map(|word| word.strip_prefix(name)?.strip_prefix('=').map(str::to_owned));
    let at = words.iter().position(|word| word == name);
    joined.or_else(|| words.get(at? + 1).filter(|word| !word.is_empty()).cloned())
}

fn wiring_file() -> PathBuf {
    option("--wiring").map_or_else(|| PathBuf::from("wiring.yaml"), PathBuf::from)
}

/// The wiring that the line is about: a built-in machine where one is named, else the file.
fn loaded() -> Option<Loaded> {
    match option("--machine") {
        Some(name) => built_in(&name),
        None => load::load(&wiring_file()).ok(),
    }
}

fn built_in(name: &str) -> Option<Loaded> {
    load::read(Source::new("wiring.yaml", machines::wiring(name).ok()?), Catalogue::builtin()).ok()
}

/// Those that go on as what is typed; case does not count.
fn begun(current: &OsStr, names: impl IntoIterator<Item = String>) -> Offered {
    let Some(typed) = current.to_str().map(str::to_lowercase) else { return Vec::new() };
    let fits = |name: &String| name.to_lowercase().starts_with(&typed);
    names.into_iter().filter(fits).map(CompletionCandidate::new).collect()
}

/// Of a list joined by commas the last piece is completed.
fn last(current: &OsStr, names: impl FnOnce(&str) -> Vec<String>) -> Offered {
    let Some(typed) = current.to_str() else { return Vec::new() };
    let (before, piece) = typed.rsplit_once(',').map_or(("", typed), |(before, piece)| (before, piece));
    let before = if typed.contains(',') { format!("{before},") } else { String::new() };
    begun(current, names(piece).into_iter().map(|name| format!("{before}{name}")))
}

fn of_file(current: &OsStr, names: impl FnOnce(&Netlist) -> Vec<String>) -> Offered {
    loaded().map_or_else(Vec::new, |loaded| begun(current, names(&loaded.netlist)))
}

fn point_names(netlist: &Netlist) -> Vec<String> {
    wiring::points(netlist).into_iter().filter(|point| point.probeable).map(|point| point.name).collect()
}

/// Where a probe can go; a part, where the test watches one, or whatever a hand can be laid on.
pub fn points(current: &OsStr) -> Offered {
    let says = |name: &str| words().iter().any(|word| word.eq_ignore_ascii_case(name));
    of_file(current, |netlist| match (says("watch"), says("touch")) {
        (true, _) => netlist.parts.keys().cloned().collect(),
        (_, true) => {
            let things = netlist.parts.keys().chain(netlist.plugs.keys()).chain(netlist.wires.keys());
            things.chain(netlist.grounds.keys()).chain(netlist.places.keys()).cloned().collect()
        }
        _ => point_names(netlist),
    })
}

/// Points, the next one behind a comma.
pub fn bridges(current: &OsStr) -> Offered {
    let names = loaded().map_or_else(Vec::new, |loaded| point_names(&loaded.netlist));
    last(current, |_| names)
}

/// Parts; plugs, where charts of plugs are drawn.
pub fn drawn(current: &OsStr) -> Offered {
    of_file(current, |netlist| match words().iter().any(|word| word == "--charts") {
        true => netlist.plugs.keys().cloned().collect(),
        false => netlist.parts.keys().cloned().collect(),
    })
}

/// Plugs.
pub fn plugs(current: &OsStr) -> Offered {
    of_file(current, |netlist| netlist.plugs.keys().cloned().collect())
}

/// Plugs with the sign behind which their rows are told.
pub fn plug_rows(current: &OsStr) -> Offered {
    of_file(current, |netlist| netlist.plugs.keys().map(|plug| format!("{plug}=")).collect())
}

/// What can move: plugs and parts.
pub fn movable(current: &OsStr) -> Offered {
    of_file(current, |netlist| netlist.plugs.keys().chain(netlist.parts.keys()).cloned().collect())
}

/// What can be open: plugs, parts, wire ends, the battery.
pub fn openable(current: &OsStr) -> Offered {
    of_file(current, |netlist| {
        let ends = netlist.wires.keys().flat_map(|wire| [format!("{wire}.a"), format!("{wire}.b")]);
        netlist.plugs.keys().chain(netlist.parts.keys()).cloned().chain(ends).collect()
    })
}

/// `PART=good`.
pub fn fits(current: &OsStr) -> Offered {
    of_file(current, |netlist| netlist.parts.keys().map(|part| format!("{part}=good")).collect())
}

/// Names of rows and the words that begin a line of `wire`.
pub fn rows(current: &OsStr) -> Offered {
    of_file(current, |netlist| {
        let verbs = VERBS.iter().map(|row| row.0.to_owned());
        verbs.chain(wiring::points(netlist).into_iter().map(|p| p.name)).chain(netlist.parts.keys().cloned()).collect()
    })
}

/// Controls with their settings: `key=`, then `key=on`.
fn controls(loaded: Loaded, piece: &str, behind: impl Fn(&[String]) -> Vec<String>) -> Vec<String> {
    let machine = loaded.machine();
    let controls = &machine.sim.schematic().controls;
    match piece.split_once('=') {
        None => controls.keys().map(|name| format!("{name}=")).collect(),
        Some((typed, _)) => controls
            .iter()
            .filter(|(name, _)| name.eq_ignore_ascii_case(typed))
            .flat_map(|(name, control)| behind(&control.settings).into_iter().map(move |s| format!("{name}={s}")))
            .collect(),
    }
}

/// `CONTROL=SETTING`, several joined by commas.
pub fn settings(current: &OsStr) -> Offered {
    let Some(loaded) = loaded() else { return Vec::new() };
    last(current, |piece| controls(loaded, piece, <[String]>::to_vec))
}

/// `CONTROL=FROM,TO`.
pub fn changes(current: &OsStr) -> Offered {
    let Some(loaded) = loaded() else { return Vec::new() };
    let pairs = |all: &[String]| {
        let to = |from: &String| all.iter().filter(|to| *to != from).map(|to| format!("{from},{to}")).collect();
        all.iter().flat_map(|from| -> Vec<String> { to(from) }).collect()
    };
    begun(current, controls(loaded, current.to_str().unwrap_or_default(), pairs))
}

/// Faults, the likelier first.
pub fn faults(current: &OsStr) -> Offered {
    let rehearsed = || words().iter().any(|word| word == "rehearse").then(|| option("--machine").is_none());
    let loaded = if rehearsed() == Some(true) { built_in(machines::FIRST) } else { loaded() };
    let Some(loaded) = loaded else { return Vec::new() };
    let machine: Machine = loaded.machine();
    let mut suspects: Vec<_> =
        enumerate(&machine, true).list.into_iter().filter(|suspect| !suspect.special()).collect();
    suspects.sort_by(|a, b| b.prior.total_cmp(&a.prior));
    begun(current, suspects.into_iter().flat_map(|suspect| suspect.members).map(|member| member.name))
}

/// Part kinds, with what they are.
pub fn kinds(current: &OsStr) -> Offered {
    let Ok(catalogue) = load::rules(&wiring_file()) else { return Vec::new() };
    begun(current, catalogue.kinds.values().map(|kind| kind.name.clone()))
}

/// Pages of the handbook.
pub fn pages(current: &OsStr) -> Offered {
    begun(current, guide::ORDER.into_iter().map(str::to_owned))
}

/// Built-in machines.
pub fn machines(current: &OsStr) -> Offered {
    begun(current, machines::names().into_iter().map(str::to_owned))
}

/// What a folder can be begun from.
pub fn beginnings(current: &OsStr) -> Offered {
    begun(current, machines::names().into_iter().chain(["empty"]).map(str::to_owned))
}

/// Parts of the built-in machine that the line names.
pub fn left_out(current: &OsStr) -> Offered {
    let machine = words().into_iter().find_map(|word| built_in(&word));
    machine.map_or_else(Vec::new, |loaded| begun(current, loaded.netlist.parts.keys().cloned()))
}

/// Instruments.
pub fn instruments(current: &OsStr) -> Offered {
    begun(current, Instrument::ALL.map(|instrument| instrument.name().to_owned()))
}

/// Numbers of trails.
pub fn trails(current: &OsStr) -> Offered {
    let numbers = Trails::beside(&wiring_file()).numbers().unwrap_or_default();
    begun(current, numbers.into_iter().map(|number| number.to_string()))
}

/// Names of commands.
pub fn commands(current: &OsStr) -> Offered {
    begun(current, crate::cli::command().get_subcommands().map(|command| command.get_name().to_owned()))
}
