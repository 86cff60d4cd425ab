//! `ohmward extend`: wires made longer because a control or a plug moves.

mod json;
mod page;
mod sheet;
mod typed;
mod write;

use super::complete::offer;
use super::error::Failure;
use super::exit::Exit;
use super::{Context, import, load};
use clap::{ValueEnum, ValueHint};
use clap_complete::engine::ArgValueCompleter;
use ohmward::catalogue::Catalogue;
use ohmward::harness::extend::machine::{NoPlan, plan_machine};
use ohmward::harness::extend::moving::{Move, far};
use ohmward::harness::extend::pins::plan_pins;
use ohmward::harness::extend::{Ask, Plan, Stock, stock};
use ohmward::netlist::{Joint, Plug};
use ohmward::text::problem::Problem;
use ohmward::text::quantity::{self, Unit};
use ohmward::text::span::Source;
use ohmward::wiring;
use ohmward::wiring::edit::Draft;
use ohmward::wiring::sheet::pins;
use std::path::{Path, PathBuf};

/// Plan longer wires for a control or plug that moves: sizes, colours, cut list, shopping list, order of work
///
/// With a wiring file: name the plug or part that moves; amps and volts lost are computed, before and after, and --write
/// puts the rows into the file, original colours kept (ohmward wire --undo takes them back). Without one a plain list of
/// pins will do: --pins FILE.csv, or typed: one pin a row, way, colour, what it is for, and amps, watts, fuse or size
/// where known. What nobody knows is taken for granted and said. Spools at hand are named with --spool or stand in
/// stock.yaml beside the wiring file.
#[derive(clap::Args)]
pub struct Args {
    /// What moves: a plug (P9, P9b), a part; P9=1.2m says how far in the same word
    #[arg(value_name = "WHAT", add = ArgValueCompleter::new(offer::movable))]
    what: Vec<String>,
    /// How far it moves: 1.2m, 40cm, 4ft
    #[arg(long, value_name = "LENGTH")]
    by: Option<String>,
    /// Which half of a plug gets the added wire
    #[arg(long, value_enum, default_value_t)]
    half: Half,
    /// A list of pins (CSV, with or without headings) instead of the wiring file; - reads what is typed
    #[arg(long, value_name = "FILE.csv", value_hint = ValueHint::FilePath)]
    pins: Option<PathBuf>,
    /// A pin as one types it: --pin "4, black/white, horn, 3.5 A"
    #[arg(long = "pin", value_name = "ROW", conflicts_with = "pins")]
    pin: Vec<String>,
    /// What the plug of a list is called
    #[arg(long, value_name = "NAME", default_value = "plug")]
    plug: String,
    /// A spool at hand: "red 1.5 mm2 10 m"
    #[arg(long = "spool", value_name = "SPOOL")]
    spools: Vec<String>,
    /// What is at hand; default: stock.yaml beside the wiring file, if it is there
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    stock: Option<PathBuf>,
    /// What joins new wire to old
    #[arg(long, value_enum, default_value_t)]
    sleeve: Sleeve,
    /// This size for every wire; one that is too thin is said
    #[arg(long, value_name = "SIZE")]
    size: Option<String>,
    /// Slack, in place of the usual
    #[arg(long, value_name = "PERCENT")]
    slack: Option<String>,
    /// What a wire carries: --amps 4=3.5
    #[arg(long = "amps", value_name = "WAY=AMPS")]
    amps: Vec<String>,
    /// What letters mean that differ from maker to maker: --code BL=black
    #[arg(long = "code", value_name = "LETTERS=COLOUR")]
    codes: Vec<String>,
    /// Write the rows into the wiring file
    #[arg(long, conflicts_with_all = ["pins", "pin"])]
    write: bool,
    /// Only what is needed at the bench: wires, cut list, terminals, order of work
    #[arg(long, conflicts_with = "csv")]
    bench: bool,
    /// The schedule as CSV
    #[arg(long, conflicts_with = "json")]
    csv: bool,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum Half {
    /// Half a
    #[default]
    A,
    /// Half b
    B,
}

#[derive(Clone, Copy, Default, ValueEnum)]
enum Sleeve {
    /// Crimp sleeves
    #[default]
    Crimp,
    /// Solder sleeves
    Solder,
}

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let rules = load::rules(&context.wiring)?;
    let mut problems: Vec<Problem> = Vec::new();
    let ask = ask(args, &rules, context, &mut problems)?;
    let by = args.by.as_deref().and_then(|text| length(text, "--by", &mut problems));
    let moves = moves(args, by, &mut problems);
    let codes = codes(&args.codes, &mut problems);
    let listed = args.pins.is_some() || !args.pin.is_empty();
    if listed && !args.what.is_empty() {
        let says = format!("{} and a list of pins: one of the two", args.what.join(", "));
        problems.push(Problem::whole(says).help("a list's plug is named with --plug"));
    }
    let has_file = context.wiring.exists();
    if args.what.is_empty() && !listed && has_file {
        problems.push(Problem::whole("what moves?").help(movable(&rules, context)?));
    }
    if !args.what.is_empty() && !listed && !has_file {
        let says = format!("there is no {} that tells what {} is", context.wiring.display(), args.what.join(", "));
        problems
            .push(Problem::whole(says).help("a list of its pins will do: ohmward extend --by 1.2m --pins pins.csv"));
    }
    if let Some(by) = by.filter(|_| args.what.is_empty()) {
        problems.extend(far("--by: it", by, &rules));
    }
    refuse(problems)?;
    if !args.what.is_empty() {
        return of_machine(args, &moves, &ask, &rules, context);
    }
    let (sheet, by) = match (&args.pins, args.pin.as_slice()) {
        (Some(path), _) if path.as_os_str() != "-" => (import::text(path, context)?, by),
        (None, [_, ..]) => (Source::new("--pin", args.pin.join("\n")), by),
        _ => typed::ask(by, &typed::How { plug: &args.plug, codes: &codes, rules: &rules }, context)?,
    };
    let volts = rules.review.limit("nominal");
    let list = pins(&sheet, &args.plug, volts, &codes, &rules).map_err(|problems| Failure::of(&sheet, problems))?;
    if !list.columns.is_empty() && !context.json && !args.csv {
        context.out.say(format!("({}: {})", sheet.name, list.columns.join("; ")));
    }
    let plan = plan_pins(&list.pins, by, &ask, &rules).map_err(|problems| Failure::of(&sheet, problems))?;
    show(&plan, &ask, &rules, None, args, context)
}

/// What the wiring file has to name.
fn movable(rules: &Catalogue, context: &Context) -> Result<String, Failure> {
    let source = load::text(&context.wiring)?;
    let reading = wiring::read(&source, rules).map_err(|problems| Failure::of(&source, problems))?;
    let plug = |plug: &Plug| match &plug.is {
        Some(is) => format!("{} ({is})", plug.name),
        None => plug.name.clone(),
    };
    let plugs: Vec<String> = reading.netlist.plugs.values().map(plug).collect();
    Ok(match plugs.first() {
        Some(_) => format!(
            "plugs: {}; or a part: ohmward extend {} --by 1.2m",
            plugs.join("; "),
            reading.netlist.plugs[0].name
        ),
        None => "name a part: ohmward extend horn --by 1.2m".into(),
    })
}

fn of_machine(
    args: &Args,
    moves: &[Move],
    ask: &Ask,
    rules: &Catalogue,
    context: &mut Context,
) -> Result<Exit, Failure> {
    let source = load::text(&context.wiring)?;
    let draft = Draft::new(source, rules).map_err(|refusal| Failure::of(&refusal.source, refusal.problems))?;
    let half = match args.half {
        Half::A => 0,
        Half::B => 1,
    };
    let planned = plan_machine(&draft, moves, half, ask).map_err(|no| match no {
        NoPlan::Problems(problems) => Failure::of(draft.source(), problems),
        NoPlan::Refused(refusal) => Failure::of(&refusal.source, refusal.problems),
    })?;
    let written = if args.write {
        write::put(&draft, &planned.draft, &args.what.join(", "), context)?;
        Some(context.wiring.display().to_string())
    } else {
        None
    };
    show(&planned.plan, ask, rules, written.as_deref(), args, context)
}

fn show(
    plan: &Plan,
    ask: &Ask,
    rules: &Catalogue,
    written: Option<&str>,
    args: &Args,
    context: &mut Context,
) -> Result<Exit, Failure> {
    if context.json {
        context.out.json(&json::of(plan, rules, written))?;
    } else if args.csv {
        context.out.text(sheet::of(plan))?;
    } else {
        page::show(plan, ask, rules, args.bench, context)?;
        let from_file = plan.rows.iter().any(|row| row.strand.site.is_some());
        match written {
            Some(file) => context.out.say(format!("Written: {file} (ohmward wire --undo takes it back).")),
            None if from_file => context.out.say("Nothing is written; --write puts the rows into the wiring file."),
            None => {}
        }
    }
    Ok(if plan.falls_short() { Exit::NotMet } else { Exit::Done })
}

/// What is wanted beside the wires; problems are gathered.
fn ask(args: &Args, rules: &Catalogue, context: &Context, problems: &mut Vec<Problem>) -> Result<Ask, Failure> {
    let beside = context.wiring.with_file_name("stock.yaml");
    let file = args.stock.clone().or_else(|| beside.is_file().then_some(beside));
    let mut at_hand = match &file {
        Some(path) => {
            let source = text(path)?;
            stock::read(&source, rules).map_err(|problems| Failure::of(&source, problems))?
        }
        None => Stock::default(),
    };
    for spool in &args.spools {
        match stock::spool(spool, rules) {
            Ok(spool) => at_hand.spools.push(spool),
            Err(problem) => problems.push(problem),
        }
    }
    let size = args.size.as_ref().and_then(|text| match quantity::parse(text) {
        Ok(q) if q.unit == Unit::SquareMillimetre && q.value > 0.0 => Some(q.value),
        _ => {
            problems.push(Problem::whole(format!("--size \"{text}\" is no size")).help("write 1.5mm2, or 16 AWG"));
            None
        }
    });
    let slack = args.slack.as_ref().and_then(|text| {
        let percent = text.trim().trim_end_matches('%').trim().parse::<f64>().ok();
        let fits = percent.filter(|percent| (0.0..=100.0).contains(percent));
        if fits.is_none() {
            problems.push(Problem::whole(format!("--slack \"{text}\" is no share")).help("write 5%"));
        }
        fits.map(|percent| percent / 100.0)
    });
    let mut amps = Vec::new();
    for text in &args.amps {
        let pair = text.split_once('=').and_then(|(way, amps)| {
            let amps = amps.trim();
            let figure = quantity::parse(amps).ok().filter(|q| matches!(q.unit, Unit::Amp | Unit::One))?;
            Some((way.trim().to_owned(), figure.value))
        });
        match pair {
            Some(pair) => amps.push(pair),
            None => {
                problems.push(Problem::whole(format!("--amps \"{text}\" is not understood")).help("write --amps 4=3.5"))
            }
        }
    }
    let joint = match args.sleeve {
        Sleeve::Crimp => Joint::CrimpSleeve,
        Sleeve::Solder => Joint::Solder,
    };
    Ok(Ask { joint, size, slack, amps, stock: at_hand })
}

/// A length in metres; a problem is gathered.
fn length(text: &str, what: &str, problems: &mut Vec<Problem>) -> Option<f64> {
    let help = "write 1.2m, 40cm, 4ft";
    match quantity::parse(text) {
        Ok(q) if q.unit == Unit::Metre => return Some(q.value),
        Ok(q) if q.unit == Unit::One => {
            problems.push(Problem::whole(format!("{what} \"{text}\" has no unit")).help(help));
        }
        Ok(q) => {
            let says = format!("{what} \"{text}\" is in {}, not a length", q.unit.symbol());
            problems.push(Problem::whole(says).help(help));
        }
        Err(error) => problems.push(Problem::whole(format!("{what} \"{text}\": {error}")).help(help)),
    }
    None
}

/// What moves and how far.
fn moves(args: &Args, by: Option<f64>, problems: &mut Vec<Problem>) -> Vec<Move> {
    let mut out = Vec::new();
    for what in &args.what {
        match what.split_once('=') {
            Some((name, far)) => {
                if let Some(by) = length(far, name, problems) {
                    out.push(Move { what: name.to_owned(), by });
                }
            }
            None => match by {
                Some(by) => out.push(Move { what: what.clone(), by }),
                None if args.by.is_none() => {
                    problems.push(Problem::whole(format!("how far does {what} move?")).help("--by 1.2m"));
                }
                None => {}
            },
        }
    }
    out
}

fn codes(list: &[String], problems: &mut Vec<Problem>) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for text in list {
        match text.split_once('=') {
            Some((code, word)) => out.push((code.trim().to_owned(), word.trim().to_owned())),
            None => problems
                .push(Problem::whole(format!("\"{text}\" says no colour")).help("write it like this: --code BL=black")),
        }
    }
    out
}

/// All problems of the command line at once.
fn refuse(problems: Vec<Problem>) -> Result<(), Failure> {
    if problems.is_empty() {
        return Ok(());
    }
    Err(Failure::of(&Source::new("extend", ""), problems))
}

fn text(path: &Path) -> Result<Source, Failure> {
    if !path.is_file() {
        let says = format!("there is no {}", path.display());
        return Err(Failure::hinted(says, "--spool \"red 1.5 mm2 10 m\" names a spool without a file"));
    }
    load::text(path)
}
