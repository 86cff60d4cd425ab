//! `ohmward draw`: the machine, or some circuits of it, on paper.

mod trail;

use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, load, store, testargs};
use clap::ValueHint;
use clap_complete::engine::ArgValueCompleter;
use ohmward::circuit::fault::Fault;
use ohmward::circuit::fault::site::{self, Site};
use ohmward::circuit::injury::{Injury, injure};
use ohmward::circuit::schematic::ElementId;
use ohmward::circuit::state::state_of;
use ohmward::circuit::test::{Instrument, Settings, Test};
use ohmward::diagnosis::machine::Machine;
use ohmward::drawing::circuits::Band;
use ohmward::drawing::page::{Drawn, Group, Wish, bands, draw, parted};
use ohmward::drawing::plugs::Rows;
use ohmward::drawing::state::{Solved, busiest};
use ohmward::drawing::svg::{MARK, svg};
use ohmward::drawing::{Marks, Suspected, charts, path};
use ohmward::netlist::Netlist;
use ohmward::text::problem::Problem;
use ohmward::text::words::nearest;
use serde_json::{Map, Value, json};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Draw the machine, some circuits, or plug charts, as SVG for a browser or paper
///
/// Height on the page is volts: feed at the top, ground as a bar at the foot with its rings below. Name parts to draw
/// their circuits only. Without --set it is drawn in the state in which most of it works. With --trail the circuits of a
/// chase, its suspects ringed by rank and its readings at their points. --path tells it in words for a terminal.
/// --charts prints each plug as seen from the wire side, for the tool box.
#[derive(clap::Args)]
pub struct Args {
    /// Parts whose circuits are drawn, or plugs with --charts; without any the whole machine
    #[arg(value_name = "NAME", add = ArgValueCompleter::new(offer::drawn))]
    names: Vec<String>,
    /// A control and its setting; several in the order done
    #[arg(long = "set", value_name = "CONTROL=SETTING", add = ArgValueCompleter::new(offer::settings))]
    set: Vec<String>,
    /// A plug unplugged, a wire end off (W7.a), a fuse or part taken out, or battery
    #[arg(long = "open", value_name = "WHAT", add = ArgValueCompleter::new(offer::openable))]
    open: Vec<String>,
    /// Draw it with this fault in it, for example G2:resistive(2)
    #[arg(long, value_name = "FAULT", add = ArgValueCompleter::new(offer::faults))]
    fault: Option<String>,
    /// The circuits of a chase; without a number the newest
    #[arg(long, value_name = "NUMBER", num_args = 0..=1, default_missing_value = "0", conflicts_with_all = ["fault", "charts"])]
    trail: Option<u32>,
    /// In words: each part's way from feed to ground with volts along it
    #[arg(long, visible_alias = "text", conflicts_with = "charts")]
    path: bool,
    /// Plug charts: each way where it is, seen from the wire side with the latch up
    #[arg(long, conflicts_with_all = ["set", "open", "fault"])]
    charts: bool,
    /// How many ways are in each row of a plug, from the top: P9=5,5
    #[arg(long = "rows", value_name = "PLUG=N,N", add = ArgValueCompleter::new(offer::plug_rows))]
    rows: Vec<String>,
    /// Write here, not to standard output
    #[arg(short = 'o', long = "output", value_name = "FILE", value_hint = ValueHint::FilePath)]
    output: Option<PathBuf>,
    /// Write over a file that is no drawing of this program
    #[arg(long, requires = "output")]
    force: bool,
}

/// A whole machine of more parts than this is no drawing that anybody finds anything in.
const PARTS: usize = 1000;
/// Nor of more wires.
const WIRES: usize = 5000;

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let told = args.trail.map(|number| trail::read(number, context)).transpose()?;
    let mut machine = load::machine(context)?;
    let mut problems = Vec::new();
    let rows = rows(&args.rows, &machine.netlist, &mut problems);
    if args.charts {
        let plugs = plugs(&args.names, &machine.netlist, &mut problems);
        refuse(&problems)?;
        return chart(&machine, &plugs, &rows, args, context);
    }
    let mut parts = parts(&args.names, &machine.netlist, &mut problems);
    let fault = fault(args.fault.as_deref(), &machine, &mut problems);
    let mut set = None;
    if !args.set.is_empty() || !args.open.is_empty() {
        match state(args) {
            Ok(test) => set = Some(test),
            Err(Failure::Plain { text, hint }) => {
                let problem = Problem::whole(text);
                problems.push(match hint {
                    Some(hint) => problem.help(hint),
                    None => problem,
                });
            }
            Err(other) => return Err(other),
        }
    }
    let mut marks = Marks::default();
    let mut about = Vec::new();
    if let Some(told) = &told {
        parts.extend(told.parts.iter().filter(|part| machine.netlist.parts.contains_key(*part)).cloned());
        parts.dedup();
        marks = told.marks(&machine.netlist);
        about.push(told.about.clone());
        about.push("volts as on a sound machine; what was read stands beside its point".into());
        if parts.is_empty() {
            problems.push(
                Problem::whole("the chase does not say yet which part it is about")
                    .help("name one: ohmward draw --trail horn"),
            );
        }
    }
    if let Some(test) = &set {
        problems.extend(state_of(machine.sim.schematic(), &machine.netlist, test).err().into_iter().flatten());
    }
    let (count, wires) = (machine.netlist.parts.len(), machine.netlist.wires.len());
    if parts.is_empty() && (count > PARTS || wires > WIRES) {
        problems.push(
            Problem::whole(format!(
                "{count} parts and {wires} wires are too many for one drawing: {PARTS} and {WIRES} are the most"
            ))
            .help(format!(
                "name what you are after: ohmward draw {}",
                machine.netlist.parts.keys().last().map_or("horn", String::as_str)
            )),
        );
    }
    refuse(&problems)?;
    let fixed = match (&set, &told) {
        (Some(test), _) if !test.set.is_empty() => Some(test.set.clone()),
        (_, Some(told)) if !told.set.is_empty() => Some(told.set.clone()),
        _ => None,
    };
    let settings = fixed.clone().unwrap_or_else(|| busiest(&mut machine, &parts));
    let solved = solve(&mut machine, set.as_ref(), settings, &fault.injury)?;
    let own = fixed.is_none() && parts.is_empty() && !args.path;
    if !own {
        about.push(stands(&solved.set));
    }
    about.extend(args.open.iter().map(|name| format!("{name} open")));
    if let Some(text) = &args.fault {
        about.push(format!("with this fault in it: {text}"));
        marks.suspects.push(Suspected { title: text.clone(), p: 1.0, elements: fault.elements });
    }
    let blown: Vec<&str> =
        solved.blown.iter().filter_map(|&id| machine.sim.schematic().elements.get(id)?.part.as_deref()).collect();
    if !blown.is_empty() {
        about.push(format!("blown: {}", blown.join(", ")));
    }
    if args.path {
        return words(&machine, &solved, &parts, &about, args, context);
    }
    let wish = Wish { parts, lines: about, marks, rows };
    // Without a word about the state each band of the whole machine is drawn at its own work; what is too wide is parted.
    let mut todo: Vec<Band> = bands(&machine, &solved, &wish);
    todo.reverse();
    let mut done: Vec<(Band, Option<Solved>)> = Vec::new();
    while let Some(band) = todo.pop() {
        let state = if own && !band.parts.is_empty() {
            let settings = busiest(&mut machine, &band.parts);
            Some(solve(&mut machine, set.as_ref(), settings, &fault.injury)?)
        } else {
            None
        };
        match parted(&machine, state.as_ref().unwrap_or(&solved), &band, &wish) {
            Some([one, other]) => todo.extend([other, one]),
            None => done.push((band, state)),
        }
    }
    let in_state = |(band, state): &(Band, Option<Solved>)| {
        (band.clone(), own.then(|| stands(&state.as_ref().unwrap_or(&solved).set)))
    };
    let lines: Vec<(Band, Option<String>)> = done.iter().map(in_state).collect();
    let bands: Vec<(Band, &Solved, String)> = lines
        .into_iter()
        .zip(&done)
        .map(|((band, line), (_, state))| (band, state.as_ref().unwrap_or(&solved), line.unwrap_or_default()))
        .collect();
    let drawn = draw(&machine, &bands, &wish);
    let text = svg(&drawn.page, &machine.catalogue.draw);
    let extra = json!({ "groups": groups(&machine, &drawn, &bands), "suspects": suspects(&wish) });
    put(&text, "svg", extra, args, context)
}

/// The machine in these settings, with what is open.
fn solve(machine: &mut Machine, test: Option<&Test>, set: Settings, injury: &Injury) -> Result<Solved, Failure> {
    let mut test = test.cloned().unwrap_or_else(|| Test::new(Instrument::VoltsDc, &set));
    test.set.clone_from(&set);
    let spec = state_of(machine.sim.schematic(), &machine.netlist, &test).map_err(|list| testargs::failure(&list))?;
    let id = machine.state(&spec);
    Ok(Solved::new(machine, set, id, injury))
}

/// Refuses with all that is wrong.
fn refuse(problems: &[Problem]) -> Result<(), Failure> {
    if problems.is_empty() { Ok(()) } else { Err(testargs::failure(problems)) }
}

/// The test whose state is drawn.
fn state(args: &Args) -> Result<Test, Failure> {
    let state = testargs::State { set: args.set.clone(), open: args.open.clone(), ..testargs::State::default() };
    let mut request = Map::new();
    request.insert("instrument".into(), json!("volts-dc"));
    request.insert("red".into(), json!("battery.pos"));
    request.insert("black".into(), json!("battery.neg"));
    testargs::state_into(&state, &mut request)?;
    Test::from_json(&Value::Object(request)).map_err(|problems| testargs::failure(&problems))
}

/// A fault that is drawn in.
#[derive(Default)]
struct Planted {
    injury: Injury,
    elements: Vec<ElementId>,
}

fn fault(text: Option<&str>, machine: &Machine, problems: &mut Vec<Problem>) -> Planted {
    let Some(text) = text else { return Planted::default() };
    let fault = match Fault::parse(text) {
        Ok(fault) => fault,
        Err(problem) => {
            problems.push(problem);
            return Planted::default();
        }
    };
    let injury = injure(machine.sim.schematic(), &machine.netlist, &machine.catalogue, &fault);
    let sites = fault.singles.iter().flat_map(|single| single.site.split('~'));
    let elements = sites.flat_map(|site| elements_of(machine, site)).collect();
    match injury {
        Ok(injury) => Planted { injury, elements },
        Err(problem) => {
            problems.push(problem);
            Planted::default()
        }
    }
}

/// The elements of a site.
fn elements_of(machine: &Machine, site: &str) -> Vec<ElementId> {
    match site::find(&machine.netlist, site) {
        Some(Site::Link(edge)) => vec![edge.index()],
        Some(Site::Part(part)) => machine.sim.schematic().by_part.get(&part).cloned().unwrap_or_default(),
        Some(Site::Plug(plug)) => machine.netlist.plugs[&plug].ways.values().map(|way| way.link.index()).collect(),
        Some(Site::Point(_)) | None => Vec::new(),
    }
}

/// `key on, horn-push pressed; all else at rest`.
fn stands(set: &Settings) -> String {
    if set.is_empty() {
        return "everything at rest".into();
    }
    let set = set.iter().map(|(control, setting)| format!("{control} {setting}")).collect::<Vec<_>>().join(", ");
    format!("{set}; all else at rest")
}

/// Parts by their names; those that are none are named.
fn parts(names: &[String], netlist: &Netlist, problems: &mut Vec<Problem>) -> Vec<String> {
    let known = |name: &String| netlist.parts.keys().find(|part| part.eq_ignore_ascii_case(name)).cloned();
    by_name(names, "part", known, netlist.parts.keys().map(String::as_str).collect(), problems)
}

fn plugs(names: &[String], netlist: &Netlist, problems: &mut Vec<Problem>) -> Vec<String> {
    let known = |name: &String| netlist.plugs.keys().find(|plug| plug.eq_ignore_ascii_case(name)).cloned();
    let out = by_name(names, "plug", known, netlist.plugs.keys().map(String::as_str).collect(), problems);
    if names.is_empty() { netlist.plugs.keys().cloned().collect() } else { out }
}

fn by_name(
    names: &[String],
    what: &str,
    known: impl Fn(&String) -> Option<String>,
    all: Vec<&str>,
    problems: &mut Vec<Problem>,
) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for name in names {
        match known(name) {
            Some(known) if !out.contains(&known) => out.push(known),
            Some(_) => {}
            None => {
                let problem = Problem::whole(format!("no {what} is called {name}"));
                problems.push(match nearest(name, all.iter().copied()) {
                    Some(near) => problem.help(format!("nearest: {near}")),
                    None => problem,
                });
            }
        }
    }
    out
}

/// `P9=5,5`.
fn rows(told: &[String], netlist: &Netlist, problems: &mut Vec<Problem>) -> Rows {
    let mut out = Rows::new();
    for text in told {
        let (name, counts) = text.split_once('=').unwrap_or((text, ""));
        let counts: Option<Vec<usize>> =
            counts.split(',').map(|n| n.trim().parse().ok().filter(|n| (1..=40).contains(n))).collect();
        match netlist.plugs.keys().find(|plug| plug.eq_ignore_ascii_case(name.trim())) {
            None => problems.push(Problem::whole(format!("--rows {text}: no plug is called {name}"))),
            Some(plug) => match counts {
                Some(counts) => drop(out.insert(plug.clone(), counts)),
                None => problems.push(
                    Problem::whole(format!("--rows {text}: no numbers of ways that can be read"))
                        .help(format!("two rows of five: --rows {plug}=5,5")),
                ),
            },
        }
    }
    out
}

fn chart(
    machine: &Machine,
    plugs: &[String],
    rows: &Rows,
    args: &Args,
    context: &mut Context,
) -> Result<Exit, Failure> {
    if plugs.is_empty() {
        return Err(Failure::hinted(
            "there are no plugs in the wiring file",
            "a plug is written under plugs:, a row a way",
        ));
    }
    let page = charts::charts(machine, plugs, rows);
    let text = svg(&page, &machine.catalogue.draw);
    put(&text, "svg", json!({ "plugs": plugs }), args, context)
}

fn words(
    machine: &Machine,
    solved: &Solved,
    parts: &[String],
    about: &[String],
    args: &Args,
    context: &mut Context,
) -> Result<Exit, Failure> {
    let ways = path::paths(machine, solved, parts);
    if context.json {
        let list: Vec<Value> = ways.iter().map(path::Way::to_json).collect();
        context.out.json(&json!({ "state": solved.set, "paths": list }))?;
        return Ok(Exit::Done);
    }
    let mut lines = about.to_vec();
    for way in &ways {
        lines.push(String::new());
        let paint = if args.output.is_some() { None } else { Some(context.out.paint) };
        lines.extend(path::lines(way, |ink, text| match (ink, paint) {
            (_, None) => text.to_string(),
            (path::Ink::Head, Some(paint)) => paint.head(text),
            (path::Ink::Volts, Some(paint)) => paint.value(text),
            (path::Ink::Lost, Some(paint)) => paint.fault(text),
            (path::Ink::Aside, Some(paint)) => paint.aside(text),
        }));
    }
    let text = lines.join("\n") + "\n";
    match &args.output {
        Some(file) => {
            write(file, &text, args.force)?;
            context.out.say(format!("Written: {}", file.display()));
        }
        None => context.out.page(text.trim_end_matches('\n'))?,
    }
    Ok(Exit::Done)
}

/// The drawing where it belongs.
fn put(text: &str, key: &str, mut extra: Value, args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    if let Some(file) = &args.output {
        write(file, text, args.force)?;
        if context.json {
            extra["file"] = json!(file.display().to_string());
            context.out.json(&extra)?;
        } else {
            context.out.say(format!("Written: {} (open it in a browser)", file.display()));
        }
    } else if context.json {
        extra[key] = json!(text);
        context.out.json(&extra)?;
    } else {
        context.out.text(text)?;
    }
    Ok(Exit::Done)
}

/// A file of this program's own is written over; another is left alone unless that is wished.
fn write(file: &Path, text: &str, force: bool) -> Result<(), Failure> {
    if !force && let Ok(mut old) = std::fs::File::open(file) {
        let mut head = vec![0; 400];
        let read = old.read(&mut head).unwrap_or(0);
        if read > 0 && !String::from_utf8_lossy(&head[..read]).contains(MARK) {
            let what = format!("{} is there already and is no drawing of this program", file.display());
            return Err(Failure::hinted(what, "another name, or --force to write over it"));
        }
    }
    store::replace(file, text.as_bytes())
}

/// Groups with the volts of their points, for scripts.
fn groups(machine: &Machine, drawn: &Drawn, bands: &[(Band, &Solved, String)]) -> Vec<Value> {
    let name = |node: usize| machine.sim.schematic().nodes[node].clone();
    let group = |(group, (_, solved, _)): (&Group, &(Band, &Solved, String))| {
        let points: Map<String, Value> = group
            .scene
            .hubs
            .iter()
            .map(|hub| (name(hub.node), json!(hub.volts.map(|v| (v * 1000.0).round() / 1000.0))))
            .collect();
        json!({ "title": group.title, "state": solved.set, "volts": points })
    };
    drawn.groups.iter().zip(bands).map(group).collect()
}

fn suspects(wish: &Wish) -> Vec<Value> {
    let one = |(at, suspect): (usize, &Suspected)| json!({"rank": at + 1, "title": suspect.title, "p": suspect.p});
    wish.marks.suspects.iter().enumerate().map(one).collect()
}
