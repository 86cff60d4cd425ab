//! `ohmward faults`: everything that could be wrong with the machine.

use super::error::Failure;
use super::exit::Exit;
use super::progress::Progress;
use super::{Context, load};
use ohmward::choice::reference::bench;
use ohmward::circuit::injury::Injury;
use ohmward::diagnosis::enumerate::enumerate;
use ohmward::diagnosis::groups::groups;
use ohmward::diagnosis::machine::Machine;
use ohmward::diagnosis::runs::Runs;
use ohmward::diagnosis::suspect::{Cell, GAUSS_TWO, Suspect};
use ohmward::diagnosis::visible::{Watcher, states};
use ohmward::pace::Work;
use serde_json::{Value, json};

/// List every fault that is looked for, with its prior weight
///
/// One entry for each site and mode. `group` joins faults that no test this bench allows can tell apart; `visible`
/// says whether anything that a person can see changes in a state near rest.
#[derive(clap::Args)]
pub struct Args {
    /// Only how many there are
    #[arg(long)]
    count: bool,
}

/// Settings away from rest times elements: what of a larger machine would have to be kept is some gigabytes.
const WORK: usize = 1_200_000;

/// Runs the command.
pub fn run(args: &Args, context: &mut Context) -> Result<Exit, Failure> {
    let mut machine = load::machine(context)?;
    let suspects = enumerate(&machine, true);
    let count: usize = suspects.list.iter().map(|suspect| suspect.members.len()).sum();
    if args.count {
        if context.json {
            context.out.json(&json!({ "count": count }))?;
        } else {
            context.out.page(count.to_string())?;
        }
        return Ok(Exit::Done);
    }
    if !context.json {
        let paint = context.out.paint;
        let mut rows: Vec<(f64, &str, &str)> = suspects
            .list
            .iter()
            .flat_map(|suspect| {
                suspect.members.iter().map(|m| (suspect.prior * m.share, m.name.as_str(), suspect.class.as_str()))
            })
            .collect();
        rows.sort_by(|a, b| b.0.total_cmp(&a.0));
        let row = |(prior, name, class): (f64, &str, &str)| {
            format!("{:8.4} %  {}  {class}", prior * 100.0, paint.fault(&format!("{name:<44}")))
        };
        context.out.page(rows.into_iter().map(row).collect::<Vec<_>>().join("\n"))?;
        return Ok(Exit::Done);
    }
    load::manageable(&machine.netlist)?;
    let schematic = machine.sim.schematic();
    let settings: usize = schematic.controls.values().map(|info| info.settings.len().saturating_sub(1)).sum();
    if settings * schematic.elements.len() > WORK {
        return Err(Failure::hinted(
            format!("{settings} settings of {count} faults are too many to tell groups and what can be seen"),
            "ohmward faults lists them without; or write the harness that you are after into a file of its own",
        ));
    }
    let progress = Progress::of(&machine.pace);
    let near = states(&machine);
    let watcher = Watcher::new(&mut machine, near);
    let mut runs = Runs::by(&suspects, &GAUSS_TWO);
    let bench = bench(&mut machine, &mut runs);
    machine.pace.begin(Work::Suspects, (bench.looks.len() + watcher.looks()) * suspects.list.len());
    let injuries: Vec<Option<Injury>> =
        suspects.list.iter().map(|suspect| if suspect.special() { None } else { injury(&machine, suspect) }).collect();
    let (leaders, visible) = std::thread::scope(|scope| {
        let visible = scope.spawn(|| watcher.all_seen(&machine, &injuries));
        let leaders = groups(&machine, &suspects, &GAUSS_TWO, &bench);
        (leaders, visible.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    });
    drop(progress);
    if bench.left_out > 0 {
        let text = "(a very large machine: groups are told by some of the tests, and may be wider than they need be; what shows in \
                    few settings may be called not visible)";
        context.out.say(text);
    }
    let mut list = Vec::new();
    for (index, suspect) in suspects.list.iter().enumerate() {
        let group = suspects.list[leaders[index]].members.first().map(|member| member.name.as_str());
        for member in &suspect.members {
            list.push(json!({
                "fault": member.name,
                "aliases": member.aliases,
                "class": suspect.class,
                "group": group,
                "prior": suspect.prior * member.share,
                "visible": visible[index],
                "cells": suspect.cells.iter().map(cell).collect::<Vec<_>>(),
            }));
        }
    }
    context.out.json(&Value::Array(list))?;
    Ok(Exit::Done)
}

/// What the suspect does at its default argument.
fn injury(machine: &Machine, suspect: &Suspect) -> Option<Injury> {
    let fault = &suspect.members.first()?.fault;
    ohmward::circuit::injury::injure(machine.sim.schematic(), &machine.netlist, &machine.catalogue, fault).ok()
}

fn cell(cell: &Cell) -> Value {
    json!({"from": cell.from, "to": cell.to, "share": cell.share})
}
