//! A plan for scripts.

use super::sheet::known;
use ohmward::catalogue::Catalogue;
use ohmward::harness::extend::{Plan, Row, Spool, ToBuy};
use serde_json::{Value, json};

/// All of it.
pub fn of(plan: &Plan, rules: &Catalogue, written: Option<&str>) -> Value {
    let spools: Vec<Value> = plan
        .spools
        .iter()
        .map(|used| {
            json!({"spool": spool(&used.spool), "cut": round(used.cut), "left": round(used.left), "waste": used.waste})
        })
        .collect();
    let cuts: Vec<Value> = plan
        .cuts
        .iter()
        .map(|cut| {
            let pieces = cut.pieces.iter().map(|pieces| {
                json!({
                    "spool": pieces.spool, "colour": pieces.colour, "size": round(pieces.area), "wires": pieces.wires,
                })
            });
            json!({"length": round(cut.length), "pieces": pieces.collect::<Vec<_>>()})
        })
        .collect();
    let counts = |list: &[(String, usize)]| {
        list.iter().map(|(name, count)| json!({"what": name, "count": count})).collect::<Vec<_>>()
    };
    let groups: Vec<Value> = plan
        .buy
        .groups
        .iter()
        .map(|group| {
            json!({
                "group": group.group, "terminals": counts(&group.terminals), "seals": group.seals,
                "sleeves": counts(&group.sleeves),
            })
        })
        .collect();
    let line =
        |line: &ToBuy| json!({"what": line.what, "needed": line.needed, "have": line.have, "buy": line.missing()});
    let wire: Vec<Value> = plan
        .buy
        .wire
        .iter()
        .map(|(colour, area, length, count)| {
            json!({"colour": colour, "size": round(*area), "length": round(*length), "wires": count})
        })
        .collect();
    let loads: Vec<Value> = plan
        .loads
        .iter()
        .map(|load| {
            json!({
                "part": load.part, "state": load.state, "before": round(load.before), "after": round(load.after),
                "allowed": round(load.allowed), "wires": load.wires,
            })
        })
        .collect();
    let warned: Vec<Value> = plan
        .warned
        .iter()
        .map(|warned| json!({"sort": warned.sort, "text": warned.text, "wires": warned.wires, "left-out": warned.stop}))
        .collect();
    let steps: Vec<Value> = plan.steps.iter().map(|step| json!({"text": step.text, "caution": step.caution})).collect();
    json!({
        "wires": plan.rows.iter().map(|row| self::row(row, rules)).collect::<Vec<_>>(),
        "cuts": cuts,
        "spools": spools,
        "needed": groups,
        "buy": {
            "wire": wire,
            "sleeves": plan.buy.sleeves.iter().map(line).collect::<Vec<_>>(),
            "terminals": plan.buy.terminals.iter().map(line).collect::<Vec<_>>(),
            "labels": plan.buy.labels,
            "odd-sleeves": plan.buy.misfits,
        },
        "loads": loads,
        "order": steps,
        "warned": warned,
        "notes": plan.notes,
        "written": written,
    })
}

fn row(row: &Row, rules: &Catalogue) -> Value {
    let strand = &row.strand;
    json!({
        "name": strand.name(), "group": strand.group, "way": strand.way, "what": strand.what,
        "old": strand.old, "new": row.new, "label": row.label,
        "moves": round(strand.by), "earlier": round(strand.before), "length": round(row.length),
        "strip-sleeve": rules.extend.length("strip-sleeve"), "strip-terminal": rules.extend.length("strip-terminal"),
        "size": round(row.area), "size-by": row.why.word(), "too-thin": row.lacks.map(|why| why.word()),
        "amps": round(strand.amps.peak), "amps-for-good": round(strand.amps.good),
        "amps-known": known(&strand.amps.known), "fuse": strand.amps.fuse,
        "old-size": strand.old_area.map(round), "old-length": strand.old_length.map(round), "air": strand.air,
        "spool": row.spool, "ohms": round(row.ohms), "volts": round(row.volts),
    })
}

fn spool(spool: &Spool) -> Value {
    json!({"colour": spool.colour, "size": round(spool.area), "length": round(spool.length)})
}

/// Micro is as fine as anything here is known.
fn round(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}
