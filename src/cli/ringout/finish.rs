//! What is left behind: a section of the build notes, and proof marks in the wiring file.

use super::{Context, Work, screen};
use crate::cli::book::Keeper;
use crate::cli::error::Failure;
use crate::cli::paint::Paint;
use crate::cli::prompt::{Got, LineSource};
use crate::cli::wire::desk::Desk;
use crate::cli::{build_notes, clock, load};
use ohmward::netlist::Proof;
use ohmward::notes;
use ohmward::session::ringout::{Ring, Stage};

/// Adds a section to build-notes.md.
pub fn note(ring: &Ring, keeper: &Keeper, work: &Work, context: &mut Context) -> Result<(), Failure> {
    let path = build_notes::beside(&context.wiring);
    let title = if work.title.is_empty() { "a harness" } else { &work.title };
    let section = notes::rung_out(ring, &screen::summary(ring, Paint::plain()), title, &clock::today());
    let trail = format!("ringout {}, {}", ring.job.name, keeper.started);
    if build_notes::add(&path, &trail, title, &section)? && !context.json {
        context.out.page(format!("Written: {}", path.display()))?;
    }
    Ok(())
}

/// Marks the rows of ways that are good at every end that was rung out.
pub fn prove(
    rings: &[Ring],
    work: &Work,
    unasked: bool,
    lines: Option<&mut (dyn LineSource + 'static)>,
    context: &mut Context,
) -> Result<(), Failure> {
    let Some(plug) = &work.plug else { return Ok(()) };
    let mark = if matches!(work.stage, Stage::Load { .. }) { "ok" } else { "beep" };
    let netlist = load::load(&context.wiring)?.netlist;
    let good = |way: &str| {
        rings.iter().all(|ring| ring.job.find(way).is_none_or(|at| ring.good().contains(&at)))
            && rings.iter().any(|ring| ring.job.find(way).is_some())
    };
    // What is proved better already, or waits for its load, keeps its mark.
    let better = |way: &str| {
        let prefix = [format!("{plug}a-{way}-"), format!("{plug}b-{way}-")];
        let mut own = netlist.wires.values().filter(|wire| prefix.iter().any(|start| wire.name.starts_with(start)));
        let kept = |proof: Proof| match proof {
            Proof::Assumed | Proof::Paper => false,
            Proof::Beep => mark == "beep",
            Proof::Loaded | Proof::NotFitted | Proof::Capped => true,
        };
        own.any(|wire| kept(wire.proof))
    };
    let Some(found) = netlist.plugs.get(plug) else { return Ok(()) };
    let ways: Vec<&String> = found.ways.keys().filter(|way| good(way) && !better(way)).collect();
    if ways.is_empty() {
        return Ok(());
    }
    let names = ways.iter().map(|way| way.as_str()).collect::<Vec<_>>().join(", ");
    let asked = format!("Mark {plug}, way {names}, as \"{mark}\" in {}? [yes]", context.wiring.display());
    let wanted = match lines {
        _ if unasked => true,
        None => false,
        Some(lines) => loop {
            context.out.say(&asked);
            match lines.line("> ")? {
                Got::End | Got::Interrupted => break false,
                Got::Line(line) => match line.trim().to_lowercase().as_str() {
                    "" | "y" | "yes" | "ok" => break true,
                    "n" | "no" => break false,
                    _ => context.out.say("yes or no"),
                },
            }
        },
    };
    if wanted {
        let rows: Vec<String> = ways.iter().map(|way| format!("change {plug}.{way}: {mark}")).collect();
        // One step: all of it is written, and taken back, or none.
        let told = Desk::at(&context.wiring)?.take(&rows.join("\n"))?;
        context.out.say(if told.refused {
            told.text
        } else {
            let file = context.wiring.display();
            format!("{file}: {plug}, way {names}: {mark} (take it back: ohmward wire --undo)")
        });
    }
    Ok(())
}
