//! The plan of a machine with a wiring file: what moves, what its wires carry, what its loads lose before and after.

use super::moving::{Move, strands};
use super::{Ask, Known, Load, Plan, Strand, plan, tell_amps};
use crate::catalogue::Catalogue;
use crate::diagnosis::machine::Machine;
use crate::netlist::Netlist;
use crate::review::carried::{Survey, survey};
use crate::text::problem::Problem;
use crate::wiring::edit::{Draft, Longer, LongerSite, Refusal};

/// Rounds in which wires are made thicker for their circuit's sake.
const ROUNDS: usize = 8;
/// Added wires that lose less than this of what the rule allows are not what is wrong with a circuit.
const WORTH: f64 = 0.05;
/// A round lets a wire lose so much less.
const LESS: f64 = 0.7;

/// A plan and the file with it.
pub struct Planned<'c> {
    /// The plan.
    pub plan: Plan,
    /// The file with its rows.
    pub draft: Draft<'c>,
}

/// Why there is no plan.
pub enum NoPlan {
    /// What is wrong with what was asked for.
    Problems(Vec<Problem>),
    /// What would be wrong with the file.
    Refused(Box<Refusal>),
}

/// Plans these moves on this machine.
///
/// The machine is solved with all its loads fitted, once as it is and once with the wires added. Where a load then loses
/// more than the rule allows, the added wires on its way are made thicker as long as that helps.
///
/// # Errors
///
/// Everything that is wrong with the moves, or what the file would not check for.
pub fn plan_machine<'c>(draft: &Draft<'c>, moves: &[Move], half: usize, ask: &Ask) -> Result<Planned<'c>, NoPlan> {
    let rules = draft.catalogue();
    let mut notes = Vec::new();
    let before = surveyed(draft.netlist(), rules);
    let mut strands = strands(draft.netlist(), moves, half, &before, rules, &mut notes).map_err(NoPlan::Problems)?;
    let problems = tell_amps(&mut strands, ask);
    if !problems.is_empty() {
        return Err(NoPlan::Problems(problems));
    }
    let mut made = plan(&strands, ask, rules);
    let mut rounds = 0;
    loop {
        let longer: Vec<Longer> = made.rows.iter().filter_map(|row| longer(row, ask)).collect();
        let now = draft.lengthen(&longer).map_err(NoPlan::Refused)?;
        let after = surveyed(now.netlist(), rules);
        read(&mut made, &before, &after);
        let mut next = None;
        while ask.size.is_none() && next.is_none() && rounds < ROUNDS && thicker(&made, &mut strands) {
            rounds += 1;
            next = Some(plan(&strands, ask, rules)).filter(|next| sizes(next) != sizes(&made));
        }
        let Some(next) = next else {
            made.notes.extend(notes);
            if draft.netlist().parts.values().any(|part| !part.fitted) {
                made.notes.push("loads that are not fitted yet are counted as if they were".into());
            }
            return Ok(Planned { plan: made, draft: now });
        };
        made = next;
    }
}

fn sizes(plan: &Plan) -> Vec<f64> {
    plan.rows.iter().map(|row| row.area).collect()
}

/// The machine with all loads fitted, looked at in its states.
fn surveyed(netlist: &Netlist, rules: &Catalogue) -> Survey {
    let mut netlist = netlist.clone();
    netlist.parts.values_mut().for_each(|part| part.fitted = true);
    survey(&mut Machine::new(netlist, rules.clone()))
}

/// A row as the editor wants it.
fn longer(row: &super::Row, ask: &Ask) -> Option<Longer> {
    Some(Longer {
        site: row.strand.site.clone()?,
        length: row.length,
        area: row.area,
        colour: row.new.clone(),
        joint: ask.joint,
    })
}

/// The added wire's name in the file.
fn new_wire(site: &LongerSite, netlist: &Survey) -> Option<String> {
    let name = match site {
        LongerSite::Way { plug, half, way } => format!("{plug}{}-{way}-new", ["a", "b"][*half]),
        LongerSite::Wire { wire, .. } => {
            let first = format!("{wire}-new");
            let later = (2..9).map(|n| format!("{first}-{n}")).rfind(|name| netlist.wires.contains_key(name));
            later.unwrap_or(first)
        }
    };
    netlist.wires.contains_key(&name).then_some(name)
}

/// Volts in the added wires, and what loads lose before and after.
fn read(plan: &mut Plan, before: &Survey, after: &Survey) {
    let mut names: Vec<(String, String)> = Vec::new();
    for row in &mut plan.rows {
        let Some(site) = &row.strand.site else { continue };
        let Some(name) = new_wire(site, after) else { continue };
        if matches!(row.strand.amps.known, Known::Solved(_)) {
            row.volts = after.wires[&name].volts;
        }
        names.push((name, row.strand.name()));
    }
    plan.loads = after
        .loads
        .iter()
        .filter_map(|load| {
            let wires: Vec<String> =
                names.iter().filter(|(name, _)| load.wires.contains(name)).map(|(_, row)| row.clone()).collect();
            let was = before.loads.iter().find(|was| was.part == load.part)?;
            (!wires.is_empty()).then(|| Load {
                part: load.part.clone(),
                state: load.state.clone(),
                before: was.lost,
                after: load.lost,
                allowed: load.allowed,
                wires,
            })
        })
        .collect();
}

/// Lets the wires of circuits that lose too much lose less; false if there are none.
fn thicker(plan: &Plan, strands: &mut [Strand]) -> bool {
    let tight: Vec<&String> = plan
        .loads
        .iter()
        .filter(|load| load.after > load.allowed && load.after - load.before > WORTH * load.allowed)
        .flat_map(|load| &load.wires)
        .collect();
    let mut any = false;
    for strand in strands.iter_mut().filter(|strand| tight.iter().any(|name| **name == strand.name())) {
        strand.may_lose *= LESS;
        any = true;
    }
    any
}
