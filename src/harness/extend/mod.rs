//! Wires made longer because a control or a plug moves: a plan as data.
//!
//! [`Strand`]s say what is to be made longer and what it carries: from a wiring file ([`machine`]) or from a plain list of
//! pins ([`pins`]). [`plan`] sizes each wire ([`size`]), gives it a colour ([`colours`]) and a spool ([`cut`]), and tells
//! what has to be bought ([`buy`]) and in which order to work ([`order`]). Words and figures are `rules/extend.yaml`'s.

pub mod buy;
pub mod colours;
pub mod cut;
mod data;
pub mod machine;
pub mod moving;
pub mod order;
pub mod pins;
pub mod size;
pub mod stock;

pub use buy::{Buy, Needed, ToBuy};
pub use data::{Amps, Ask, Cut, Known, Load, Pieces, Plan, Row, SpoolUse, Strand, Warned};
pub use order::Step;
pub use size::Why;
pub use stock::{Spool, Stock};

use crate::catalogue::Catalogue;
use crate::netlist::Joint;
use crate::text::problem::Problem;
use colours::{Plug, Want, Wires, assign};
use indexmap::{IndexMap, IndexSet};
use size::Need;

/// `P9a.1, 2, 7`: what names share at their start is said once.
pub fn short(names: &[String]) -> String {
    let mut group = "";
    let mut out: Vec<&str> = Vec::new();
    for name in names {
        match name.split_once('.') {
            Some((of, way)) if of == group => out.push(way),
            Some((of, _)) => {
                group = of;
                out.push(name);
            }
            None => out.push(name),
        }
    }
    out.join(", ")
}

/// Puts what was said of amps into the wires.
///
/// # Errors
///
/// Names that no wire has.
pub fn tell_amps(strands: &mut [Strand], ask: &Ask) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (name, amps) in &ask.amps {
        let is = |strand: &Strand| strand.way.eq_ignore_ascii_case(name) || strand.name().eq_ignore_ascii_case(name);
        let mut any = false;
        for strand in strands.iter_mut().filter(|strand| is(strand)) {
            any = true;
            strand.amps = Amps { good: *amps, peak: *amps, known: Known::Told, fuse: strand.amps.fuse };
        }
        if !any {
            let ways: Vec<String> = strands.iter().map(Strand::name).collect();
            let problem = Problem::whole(format!("no wire of the plan is called \"{name}\""));
            problems.push(problem.help(format!("wires: {}", ways.join(", "))));
        }
    }
    problems
}

/// The length to be cut for an end that moves so far.
///
/// `(moves · (1 + slack) + earlier + strip at the terminal + strip at the sleeve + once more)`, rounded up.
pub fn cut_length(by: f64, before: f64, slack: f64, rules: &Catalogue) -> f64 {
    let of = |name: &str| rules.extend.length(name);
    let exact = by * (1.0 + slack) + before + of("strip-terminal") + of("strip-sleeve") + of("again");
    let round = of("round").max(1e-4);
    let steps = libm::ceil(exact / round - 1e-9);
    // Whole tenths of a millimetre, so that what is printed is what is meant.
    (steps * round * 1e4).round() / 1e4
}

/// Plans these wires.
pub fn plan(strands: &[Strand], ask: &Ask, rules: &Catalogue) -> Plan {
    let mut out = Plan::default();
    let strands = defer(strands, rules, &mut out);
    let slack = ask.slack.unwrap_or_else(|| rules.extend.length("slack"));
    let mut sizes: Vec<f64> =
        rules.extend.sizes.iter().copied().chain(ask.stock.spools.iter().map(|spool| spool.area)).collect();
    sizes.sort_by(f64::total_cmp);
    sizes.dedup();
    let mut left: Vec<f64> = ask.stock.spools.iter().map(|spool| spool.length).collect();
    let mut groups: IndexMap<&str, Vec<&Strand>> = IndexMap::new();
    for strand in &strands {
        groups.entry(&strand.group).or_default().push(strand);
    }
    for (group, strands) in &groups {
        let sized: Vec<Sized> = strands.iter().map(|strand| sized(strand, ask, slack, &sizes, rules)).collect();
        let rows = coloured(group, strands, &sized, ask, &mut left, rules, &mut out.notes);
        out.rows.extend(rows);
    }
    for row in &mut out.rows {
        row.ohms = added_ohms(row, ask.joint, rules);
        row.volts = row.ohms * row.strand.amps.peak;
    }
    out.cuts = cuts(&out.rows);
    let offcut = rules.extend.length("offcut");
    let spools = ask.stock.spools.iter().zip(&left);
    out.spools = spools
        .map(|(spool, &left)| {
            let cut = spool.length - left;
            SpoolUse { spool: spool.clone(), cut, left, waste: cut > 1e-9 && left > 1e-9 && left < offcut - 1e-9 }
        })
        .collect();
    assumed(&mut out, rules);
    out.buy = buy::buy(&out.rows, ask, rules);
    out.steps = order::order(&out, ask, rules);
    out
}

/// Ohms of the added copper at 20 C and of both joints of its sleeve.
pub fn added_ohms(row: &Row, joint: Joint, rules: &Catalogue) -> f64 {
    let name = match joint {
        Joint::Solder => "solder",
        Joint::Twist => "twist",
        _ => "crimp-sleeve",
    };
    let joints = rules.joints.get(name).map_or(0.0, |joint| 2.0 * joint.ohms);
    rules.wire.ohms(row.area, row.length) + joints
}

/// Leaves out what is for others, and tells what needs care.
fn defer(strands: &[Strand], rules: &Catalogue, out: &mut Plan) -> Vec<Strand> {
    let mut kept = strands.to_vec();
    for (sort, deferred) in &rules.extend.defer {
        let hit: Vec<&Strand> =
            strands.iter().filter(|strand| is_one(strand, &deferred.words, &deferred.kinds)).collect();
        if hit.is_empty() {
            continue;
        }
        let wires = hit.iter().map(|strand| strand.name()).collect();
        out.warned.push(Warned { sort: sort.clone(), text: deferred.text.clone(), wires, stop: deferred.stop });
        if deferred.stop {
            kept.retain(|strand| !hit.contains(&strand));
        }
    }
    kept
}

/// Does it go to the metal, by its words?
pub fn is_ground(strand: &Strand, rules: &Catalogue) -> bool {
    is_one(strand, &rules.columns.ground, &[])
}

/// Does a word of what it is for, or a kind at its ends, say so?
fn is_one(strand: &Strand, words: &[String], kinds: &[String]) -> bool {
    let plain = |text: &str| {
        let text: String = text.to_lowercase().chars().map(|c| if c.is_alphanumeric() { c } else { ' ' }).collect();
        format!(" {} ", text.split_whitespace().collect::<Vec<_>>().join(" "))
    };
    let what = plain(&strand.what);
    words.iter().any(|word| what.contains(&plain(word)))
        || kinds.iter().any(|kind| strand.kinds.iter().any(|known| known.eq_ignore_ascii_case(kind)))
}

/// A wire's length and size.
struct Sized {
    length: f64,
    /// The least that will do of all sizes.
    least: f64,
    /// The least that will do of those on sale.
    on_sale: f64,
    why: Why,
    lacks: Option<Why>,
    need: Need,
}

fn sized(strand: &Strand, ask: &Ask, slack: f64, sizes: &[f64], rules: &Catalogue) -> Sized {
    let length = cut_length(strand.by, strand.before, slack, rules);
    let need = Need {
        amps: strand.amps.good,
        peak: strand.amps.peak,
        fuse: strand.amps.fuse,
        air: strand.air,
        length,
        may_lose: strand.may_lose,
        old: strand.old_area,
    };
    if let Some(size) = ask.size {
        let lacks = need.against(size, rules);
        return Sized { length, least: size, on_sale: size, why: Why::Told, lacks, need };
    }
    let thickest = sizes.last().copied().unwrap_or(0.0);
    let (least, why, lacks) = match need.thinnest(sizes, rules) {
        Some((area, why)) => (area, why, None),
        None => (thickest, Why::Amps, need.against(thickest, rules)),
    };
    let on_sale = need.thinnest(&rules.extend.sizes, rules).map_or(thickest, |(area, _)| area);
    Sized { length, least, on_sale, why, lacks, need }
}

/// Colours and spools for the wires of one group.
fn coloured(
    group: &str,
    strands: &[&Strand],
    sized: &[Sized],
    ask: &Ask,
    left: &mut [f64],
    rules: &Catalogue,
    notes: &mut Vec<String>,
) -> Vec<Row> {
    let mut classes: Vec<(Wires, Vec<usize>)> = Vec::new();
    for (at, spool) in ask.stock.spools.iter().enumerate() {
        match classes.iter_mut().find(|(class, _)| class.colour == spool.colour && class.area == spool.area) {
            Some((class, spools)) => {
                class.left.push(left[at]);
                spools.push(at);
            }
            None => {
                classes.push((Wires { colour: spool.colour.clone(), area: spool.area, left: vec![left[at]] }, vec![at]))
            }
        }
    }
    let wants: Vec<Want> = strands
        .iter()
        .zip(sized)
        .map(|(strand, sized)| Want {
            old: strand.old.clone(),
            ground: is_ground(strand, rules),
            least: sized.least,
            length: sized.length,
        })
        .collect();
    let wires: Vec<Wires> = classes.iter().map(|(class, _)| class.clone()).collect();
    let beside = strands.first().map_or(&[][..], |strand| strand.beside.as_slice());
    let costs = &rules.extend.colours;
    let found = assign(&Plug { wants: &wants, wires: &wires, beside, costs, sizes: &rules.extend.sizes });
    if !found.best {
        notes.push(format!("colours of {group}: the best of very many was looked for and not proved; look them over"));
    }
    let mut rows: Vec<Row> = strands
        .iter()
        .zip(sized)
        .zip(&found.choice)
        .map(|((strand, sized), chosen)| {
            let class = chosen.map(|class| &wires[class]);
            let area = class.map_or(sized.on_sale, |class| class.area);
            Row {
                strand: (*strand).clone(),
                length: sized.length,
                area,
                why: sized.why,
                lacks: sized.need.against(area, rules).filter(|_| sized.lacks.is_some()),
                new: class.map(|class| class.colour.clone()).or_else(|| strand.old.clone()),
                label: false,
                spool: None,
                ohms: 0.0,
                volts: 0.0,
            }
        })
        .collect();
    for (class, (wires, spools)) in classes.iter().enumerate() {
        let mine: Vec<usize> = (0..rows.len()).filter(|&at| found.choice[at] == Some(class)).collect();
        let pieces: Vec<f64> = mine.iter().map(|&at| rows[at].length).collect();
        let Some(packed) = cut::pack(&pieces, &wires.left, rules.extend.length("offcut")) else { continue };
        if !packed.best {
            notes.push(format!(
                "{} {} mm2: packed the longest first, {:.2} m wasted; at best none would be",
                wires.colour, wires.area, packed.waste
            ));
        }
        for (&at, &spool) in mine.iter().zip(&packed.from) {
            rows[at].spool = Some(spools[spool]);
        }
        for (&spool, &now) in spools.iter().zip(&packed.left) {
            left[spool] = now;
        }
    }
    let colours: Vec<Option<String>> = rows.iter().map(|row| row.new.clone()).collect();
    for row in &mut rows {
        let alike = |colour: &&Option<String>| colour.is_some() && **colour == row.new;
        let stays = row.new.as_ref().is_some_and(|colour| beside.contains(colour));
        row.label = row.new.is_none() || stays || colours.iter().filter(alike).count() > 1;
    }
    rows
}

/// Wires of one length together, the longest first.
fn cuts(rows: &[Row]) -> Vec<Cut> {
    let mut out: Vec<Cut> = Vec::new();
    let mut order: Vec<&Row> = rows.iter().collect();
    order.sort_by(|a, b| b.length.total_cmp(&a.length));
    for row in order {
        if out.last().is_none_or(|cut| (cut.length - row.length).abs() > 1e-6) {
            out.push(Cut { length: row.length, pieces: Vec::new() });
        }
        let Some(cut) = out.last_mut() else { continue };
        let same =
            |pieces: &&mut Pieces| pieces.spool == row.spool && pieces.colour == row.new && pieces.area == row.area;
        match cut.pieces.iter_mut().find(same) {
            Some(pieces) => pieces.wires.push(row.strand.name()),
            None => cut.pieces.push(Pieces {
                spool: row.spool,
                colour: row.new.clone(),
                area: row.area,
                wires: vec![row.strand.name()],
            }),
        }
    }
    out
}

/// What was taken for granted is said.
fn assumed(out: &mut Plan, rules: &Catalogue) {
    let of = |known: Known| -> Vec<String> {
        out.rows.iter().filter(|row| row.strand.amps.known == known).map(|row| row.strand.name()).collect()
    };
    let (by_fuse, by_nothing) = (of(Known::Fuse), of(Known::Assumed));
    let kinds = out.rows.iter().filter_map(|row| match &row.strand.amps.known {
        Known::Usual(kind) => Some((row.strand.name(), kind.clone())),
        _ => None,
    });
    let (by_kind, kinds): (Vec<String>, Vec<String>) = kinds.unzip();
    if !by_kind.is_empty() {
        let kinds: IndexSet<String> = kinds.into_iter().collect();
        out.notes.push(format!(
            "amps of {} not known: those usual for a part of that name ({}). Read what is printed on yours, and say so",
            short(&by_kind),
            kinds.into_iter().collect::<Vec<_>>().join(", ")
        ));
    }
    if !by_fuse.is_empty() {
        out.notes.push(format!(
            "amps of {} not known: sized for {:.0} % of the fuse",
            short(&by_fuse),
            100.0 * rules.review.limit("fuse-full")
        ));
    }
    if !by_nothing.is_empty() {
        out.notes.push(format!(
            "amps of {} not known, nor the fuse: {} A taken for granted. Read the amps, or the watts on the load, and say so",
            short(&by_nothing),
            rules.extend.limit("amps")
        ));
    }
    let again: Vec<String> =
        out.rows.iter().filter(|row| row.strand.before > 0.0).map(|row| row.strand.name()).collect();
    if !again.is_empty() {
        out.notes.push(format!(
            "made longer before: {}. The wire added then comes out and one longer piece takes its place, no second sleeve",
            short(&again)
        ));
    }
}
