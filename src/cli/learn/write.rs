//! What was learnt put into the wiring file: a part with its table, or the table of a part that is there.

use super::talk::show;
use crate::cli::error::Failure;
use crate::cli::prompt::{Got, LineSource};
use crate::cli::wire::history::History;
use crate::cli::{Context, load};
use ohmward::netlist::Netlist;
use ohmward::session::learn::Table;
use ohmward::session::learn::guess::Words;
use ohmward::session::learn::table::Row;
use ohmward::text::span::Source;
use ohmward::wiring::edit::{Change, Draft};

/// The kind of a switch of which no more is known than its table.
const KIND: &str = "multi-way switch";

/// What is to be done.
struct Plan {
    text: String,
    /// In words, for the question.
    what: String,
    wiring: Source,
}

/// Offers to put it into the wiring file, if there is one.
pub fn offer(table: &Table, unasked: bool, lines: &mut dyn LineSource, context: &mut Context) -> Result<(), Failure> {
    if unasked {
        return put(table, context);
    }
    if !context.wiring.exists() {
        return show(&format!("There is no {} here; the rows are ready for yours.", context.wiring.display()), context);
    }
    let plan = match plan(table, context)? {
        Ok(plan) => plan,
        Err(why) => return show(&why, context),
    };
    loop {
        show(&format!("Put it into {} ({})? [yes]", context.wiring.display(), plan.what), context)?;
        lines.offer(["yes", "no"].map(String::from).to_vec());
        let Got::Line(line) = lines.line("> ")? else { return Ok(()) };
        match line.trim().to_lowercase().as_str() {
            "" | "y" | "yes" | "ok" => return write(&plan, context),
            "n" | "no" => return Ok(()),
            _ => show("yes or no", context)?,
        }
    }
}

/// Puts it into the wiring file.
pub fn put(table: &Table, context: &mut Context) -> Result<(), Failure> {
    match plan(table, context)? {
        Ok(plan) => write(&plan, context),
        Err(why) => Err(Failure::hinted(why, "the rows are printed: put them in by hand")),
    }
}

fn write(plan: &Plan, context: &mut Context) -> Result<(), Failure> {
    // A step like those of `wire`: it can be taken back.
    let history = History::beside(&context.wiring);
    let _lock = history.lock()?;
    if load::text(&context.wiring)?.text != plan.wiring.text {
        let text = format!("{} was changed meanwhile; it is left as it is", context.wiring.display());
        return Err(Failure::hinted(text, "the rows are printed: put them in by hand"));
    }
    history.step(&format!("learn: {}", plan.what), Some(&plan.wiring.text), &plan.text)?;
    context.out.say(format!("{}: {}", context.wiring.display(), plan.what));
    Ok(())
}

/// The changed file; or why it is left as it is.
fn plan(table: &Table, context: &Context) -> Result<Result<Plan, String>, Failure> {
    let wiring = load::text(&context.wiring)?;
    let catalogue = load::rules(&context.wiring)?;
    let draft = match Draft::new(wiring.clone(), &catalogue) {
        Ok(draft) => draft,
        Err(refusal) => return Ok(Err(refused(&refusal.source, &refusal.problems, "it does not check as it is"))),
    };
    let net = draft.netlist();
    let there = net.parts.values().find(|part| part.name.eq_ignore_ascii_case(&table.name));
    let mut changes = Vec::new();
    let what;
    match there {
        Some(part) => {
            if let Some(old) = &part.table {
                if same(table, old) {
                    return Ok(Err(format!(
                        "The table of {} in {} says the same.",
                        part.name,
                        context.wiring.display()
                    )));
                }
                changes.push(Change::Drop { section: "switches".into(), name: part.name.clone() });
            }
            what = match part.table {
                Some(_) => format!("the table of {} there is another one: it is replaced", part.name),
                None => format!("the table of {}", part.name),
            };
            let rows = table.rows().trim_end().replacen(&table.name, &part.name, 1);
            changes.push(Change::row("switches", rows));
        }
        None => {
            let own = catalogue.kinds.values().filter(|kind| kind.own_table);
            let kind =
                Words::kind(&table.name, own.map(|kind| (kind.name.as_str(), kind.also.as_slice()))).unwrap_or(KIND);
            what = format!("{}: {kind}, with its table", table.name);
            let rows = table.part_rows(kind, &|name| taken(net, name));
            changes.extend(rows.into_iter().map(|(section, row)| Change::row(section, row)));
        }
    }
    Ok(match draft.with(&changes) {
        Ok(changed) => Ok(Plan { text: changed.text().to_owned(), what, wiring }),
        Err(refusal) => Err(refused(&refusal.source, &refusal.problems, "with these rows it would not check")),
    })
}

fn refused(source: &Source, problems: &[ohmward::text::problem::Problem], why: &str) -> String {
    let told: Vec<String> = problems.iter().map(|problem| problem.render(source)).collect();
    format!("Not written: {why}.\n{}", told.join("\n"))
}

/// Is a name in use?
fn taken(net: &Netlist, name: &str) -> bool {
    net.parts.keys().chain(net.plugs.keys()).chain(net.wires.keys()).any(|other| other.eq_ignore_ascii_case(name))
}

/// Does the file's table join the same in every position?
fn same(table: &Table, old: &ohmward::netlist::SwitchTable) -> bool {
    let plain = |name: &str| name.replace(['/', ' '], "-").to_lowercase();
    let canon = |groups: Vec<Vec<String>>| {
        let mut groups: Vec<Vec<String>> = groups.into_iter().filter(|group| group.len() > 1).collect();
        groups.iter_mut().for_each(|group| group.sort());
        groups.sort();
        groups
    };
    let mut wires: Vec<String> = table.wires.iter().map(|wire| plain(wire)).collect();
    let mut theirs: Vec<String> = old.wires.iter().map(|wire| plain(wire)).collect();
    wires.sort();
    theirs.sort();
    let alike = |row: &Row| {
        let ours =
            row.joined.iter().flatten().map(|group| group.iter().map(|&wire| plain(&table.wires[wire])).collect());
        let there = old.settings.iter().find(|(setting, _)| setting.eq_ignore_ascii_case(&row.name));
        there.is_some_and(|(_, groups)| {
            let groups = groups.iter().map(|group| group.iter().map(|wire| plain(wire)).collect());
            canon(groups.collect()) == canon(ours.collect())
        })
    };
    wires == theirs && old.settings.len() == table.positions.len() && table.positions.iter().all(alike)
}
