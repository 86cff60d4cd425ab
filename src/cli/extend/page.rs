//! The plan as one page for the bench, no wider than 80 columns where nobody says otherwise.

use crate::cli::Context;
use crate::cli::error::Failure;
use crate::cli::prompt::terminal;
use crate::cli::prompt::wrap::wrap;
use ohmward::catalogue::Catalogue;
use ohmward::harness::extend::{Ask, Known, Pieces, Plan, Row, Spool, short};
use std::collections::BTreeMap;

/// Columns of a sheet of paper.
const PAPER: usize = 80;

/// Shows it all, in the order in which one needs it; for the bench only what one needs there.
pub fn show(plan: &Plan, ask: &Ask, rules: &Catalogue, bench: bool, context: &mut Context) -> Result<(), Failure> {
    let paint = context.out.paint;
    let mut page = Page { context, width: terminal::columns().unwrap_or(PAPER) };
    for line in title(plan, ask, rules) {
        page.line(line)?;
    }
    for warned in plan.warned.iter().filter(|warned| warned.stop) {
        page.line(paint.caution(&format!("- LEFT OUT: {}: {}", short(&warned.wires), warned.text)))?;
    }
    if !plan.rows.is_empty() {
        page.head("WIRES (tape label where *)")?;
        page.line(format!(
            "  {:<6} {:<13} {:<14} {:>4} {:>7} {:>7} {:>9} {:>8}",
            "way", "old", "new", "mm2", "cut", "carries", "added", "lost"
        ))?;
        let mut group = "";
        for row in &plan.rows {
            if groups(plan) > 1 && row.strand.group != group {
                page.line(format!("  {}", row.strand.group))?;
            }
            group = &row.strand.group;
            page.line(wire(row))?;
        }
    }
    if !plan.rows.is_empty() && !bench {
        page.head("WHAT THEY CARRY, AND WHY THAT SIZE")?;
        for row in &plan.rows {
            page.line(carries(row, groups(plan) > 1, rules))?;
        }
    }
    if !plan.loads.is_empty() && !bench {
        page.head("LOST ON THE WHOLE WAY, OUT AND BACK")?;
        page.line(format!("  {:<24} {:>8} {:>8} {:>8}", "", "before", "after", "may be"))?;
        for load in &plan.loads {
            let over = load.after > load.allowed;
            let mark = if over { paint.fault("  too much") } else { String::new() };
            page.line(format!(
                "  {:<24} {:>8} {:>8} {:>8}{mark}",
                load.part,
                volts(load.before),
                volts(load.after),
                volts(load.allowed)
            ))?;
        }
    }
    cut_list(plan, bench, &mut page)?;
    needed(plan, bench, &mut page)?;
    let mind: Vec<_> = plan.warned.iter().filter(|warned| !warned.stop).collect();
    if !mind.is_empty() {
        page.head("MIND")?;
        for warned in mind {
            page.line(format!("- {}: {}", short(&warned.wires), warned.text))?;
        }
    }
    if !plan.notes.is_empty() && !bench {
        page.head("NOT CERTAIN")?;
        for note in &plan.notes {
            page.line(format!("- {note}"))?;
        }
    }
    if !plan.steps.is_empty() {
        page.head("ORDER OF WORK")?;
        for (at, step) in plan.steps.iter().enumerate() {
            page.line(format!("{:>2}  {}", at + 1, step.text))?;
            if let Some(caution) = &step.caution {
                page.line(format!("    {}  {caution}", paint.caution("CAUTION")))?;
            }
        }
        page.line("The machine's manual, the leaflets of sleeves and terminals, and local rules come first.")?;
    }
    Ok(())
}

struct Page<'c> {
    context: &'c mut Context,
    width: usize,
}

impl Page<'_> {
    fn line(&mut self, text: impl AsRef<str>) -> Result<(), Failure> {
        self.context.out.line(wrap(text.as_ref(), self.width))
    }

    fn head(&mut self, text: &str) -> Result<(), Failure> {
        self.context.out.line("")?;
        let head = self.context.out.paint.head(text);
        self.line(head)
    }
}

/// Plugs' halves and parts in the plan.
fn groups(plan: &Plan) -> usize {
    plan.buy.groups.len()
}

fn title(plan: &Plan, ask: &Ask, rules: &Catalogue) -> Vec<String> {
    let mut by: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for row in &plan.rows {
        let names = by.entry(metres(row.strand.by)).or_default();
        if !names.contains(&row.strand.group) {
            names.push(row.strand.group.clone());
        }
    }
    let moves: Vec<String> = by.iter().map(|(far, names)| format!("{} by {far}", names.join(", "))).collect();
    let count = match plan.rows.len() {
        1 => "one wire".to_owned(),
        n => format!("{n} wires"),
    };
    if plan.rows.is_empty() {
        return vec!["Nothing to make longer is left.".into()];
    }
    let mm = |name: &str| format!("{:.0} mm", 1000.0 * rules.extend.length(name));
    let slack = 100.0 * ask.slack.unwrap_or_else(|| rules.extend.length("slack"));
    vec![
        format!("Longer: {}. {count}.", moves.join("; ")),
        format!(
            "Cut length: the way, {slack:.0} % slack, strip {} at the terminal and {} at the sleeve, {} for a second crimp.",
            mm("strip-terminal"),
            mm("strip-sleeve"),
            mm("again")
        ),
    ]
}

fn wire(row: &Row) -> String {
    let colour = |colour: &Option<String>| colour.clone().unwrap_or_else(|| "?".into());
    let label = if row.label { " *" } else { "" };
    format!(
        "  {:<6} {:<13} {:<14} {:>4} {:>7} {:>7} {:>9} {:>8}",
        row.strand.way,
        colour(&row.strand.old),
        format!("{}{label}", colour(&row.new)),
        figure(row.area),
        metres(row.length),
        amps(row.strand.amps.peak),
        mohm(row.ohms),
        volts(row.volts)
    )
}

fn carries(row: &Row, many: bool, rules: &Catalogue) -> String {
    let strand = &row.strand;
    let name = if many { strand.name() } else { strand.way.clone() };
    let what = if strand.what.is_empty() { String::new() } else { format!("{}; ", strand.what) };
    let known = match &strand.amps.known {
        Known::Solved(state) => format!("{} with {state}", amps(strand.amps.peak)),
        Known::Told => format!("{}, as told", amps(strand.amps.peak)),
        Known::Usual(kind) => format!("{}, usual for a {kind}", amps(strand.amps.peak)),
        Known::Sum => format!("{}, all others of the list together", amps(strand.amps.peak)),
        Known::Fuse => format!("{} for its fuse, amps not known", amps(strand.amps.peak)),
        Known::Assumed => format!("{} taken for granted, amps not known", amps(strand.amps.peak)),
    };
    let old = match (strand.site.is_none(), strand.old_area, strand.old_length) {
        (true, Some(area), Some(length)) => {
            let lost = strand.amps.peak * rules.wire.ohms(area, length);
            format!("; old wire loses {}, old and new {}", volts(lost), volts(lost + row.volts))
        }
        _ => String::new(),
    };
    let fuse = strand.amps.fuse.map_or_else(String::new, |fuse| format!(", fuse {}", amps(fuse)));
    let thin = row.lacks.map_or_else(String::new, |why| format!("; TOO THIN, by its {}", why.word()));
    format!("  {name:<6}  {what}{known}{fuse}{old}; size by {}{thin}", row.why.word())
}

fn cut_list(plan: &Plan, bench: bool, page: &mut Page) -> Result<(), Failure> {
    if plan.cuts.is_empty() {
        return Ok(());
    }
    page.head("CUT, the longest first; one length is pulled and cut together")?;
    for cut in &plan.cuts {
        let count: usize = cut.pieces.iter().map(|pieces| pieces.wires.len()).sum();
        page.line(format!("  {}  {count} off", metres(cut.length)))?;
        for pieces in &cut.pieces {
            page.line(format!("    {} off  {}: {}", pieces.wires.len(), from(pieces, plan), short(&pieces.wires)))?;
        }
    }
    if bench {
        return Ok(());
    }
    if plan.spools.iter().any(|used| used.cut > 0.0) {
        page.head("SPOOLS")?;
    }
    for used in plan.spools.iter().filter(|used| used.cut > 0.0) {
        let rest = if used.waste { "left, too short for anything: waste" } else { "left" };
        page.line(format!("  {}: {} cut, {} {rest}", spool(&used.spool), metres(used.cut), metres(used.left)))?;
    }
    let idle: Vec<String> = plan.spools.iter().filter(|used| used.cut <= 0.0).map(|used| spool(&used.spool)).collect();
    if !idle.is_empty() {
        page.line(format!("  not needed: {}", idle.join("; ")))?;
    }
    Ok(())
}

fn needed(plan: &Plan, bench: bool, page: &mut Page) -> Result<(), Failure> {
    if plan.buy.groups.is_empty() {
        return Ok(());
    }
    page.head("NEEDED, by plug")?;
    for group in &plan.buy.groups {
        let many = |count: usize, what: &str| if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") };
        let of = |list: &[(String, usize)], what: &str| {
            list.iter().map(|(name, count)| format!("{} ({name})", many(*count, what))).collect::<Vec<_>>()
        };
        let mut all = of(&group.terminals, "terminal");
        all.extend(of(&group.sleeves, "sleeve"));
        if group.seals > 0 {
            all.push(format!("{} if the plug has them", many(group.seals, "seal")));
        }
        page.line(format!("  {}: {}", group.group, all.join(", ")))?;
    }
    if bench {
        return Ok(());
    }
    page.head("TO BUY, spare ones included")?;
    for (colour, area, length, count) in &plan.buy.wire {
        let colour = colour.clone().unwrap_or_else(|| "any colour".into());
        page.line(format!("  wire, {colour}, {} mm2: {} ({count} off)", figure(*area), metres(*length)))?;
    }
    for line in plan.buy.sleeves.iter().chain(&plan.buy.terminals) {
        let have = if line.have > 0 { format!(", {} at hand", line.have) } else { String::new() };
        let missing = match line.missing() {
            0 => "enough at hand".to_owned(),
            n => n.to_string(),
        };
        page.line(format!("  {}: {missing} (needed {}{have})", line.what, line.needed))?;
    }
    if plan.buy.labels > 0 {
        page.line(format!("  tape labels: {}", plan.buy.labels))?;
    }
    if !plan.buy.misfits.is_empty() {
        page.line(format!(
            "  old and new wire differ more than one sleeve takes: {}. A step-down sleeve, or the thin end folded back double",
            short(&plan.buy.misfits)
        ))?;
    }
    Ok(())
}

fn from(pieces: &Pieces, plan: &Plan) -> String {
    match pieces.spool {
        Some(at) => format!("{} off the spool of {}", colour(pieces), spool(&plan.spools[at].spool)),
        None => format!("{} {} mm2, to buy", colour(pieces), figure(pieces.area)),
    }
}

fn colour(pieces: &Pieces) -> String {
    pieces.colour.clone().unwrap_or_else(|| "any colour".into())
}

fn spool(spool: &Spool) -> String {
    format!("{} {} mm2, {}", spool.colour, figure(spool.area), metres(spool.length))
}

fn metres(value: f64) -> String {
    let text = format!("{value:.2}");
    format!("{text} m")
}

fn volts(value: f64) -> String {
    if value.abs() < 0.0995 { format!("{:.0} mV", 1000.0 * value) } else { format!("{value:.2} V") }
}

fn mohm(ohms: f64) -> String {
    if ohms < 0.0095 { format!("{:.1} mohm", 1000.0 * ohms) } else { format!("{:.0} mohm", 1000.0 * ohms) }
}

fn amps(value: f64) -> String {
    match value {
        v if v < 5e-5 => "0 mA".into(),
        v if v < 0.0095 => format!("{:.1} mA", 1000.0 * v),
        v if v < 0.995 => format!("{:.0} mA", 1000.0 * v),
        v if v < 19.95 => format!("{} A", figure(v)),
        v => format!("{v:.0} A"),
    }
}

/// Two decimals at most, none without need.
fn figure(value: f64) -> String {
    let text = if value >= 19.95 { format!("{value:.0}") } else { format!("{value:.2}") };
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}
