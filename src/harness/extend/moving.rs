//! What moves, as wires to be made longer: a plug's half, or the wires of a part, and what each carries.

use super::{Amps, Known, Strand, short};
use crate::catalogue::Catalogue;
use crate::netlist::{Netlist, PointKind, Wire};
use crate::review::carried::{Carried, Survey};
use crate::text::problem::Problem;
use crate::text::words::nearest;
use crate::wiring::edit::LongerSite;
use petgraph::graph::NodeIndex;

/// Less than this is nothing, A.
const NOTHING: f64 = 1e-6;
/// A screw's own metal is no wire, m.
const SCREWED: f64 = 0.05;

/// Something that moves.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// A plug, `P9`; a half of it, `P9b`; or a part.
    pub what: String,
    /// How far, m.
    pub by: f64,
}

/// What is to be made longer.
pub fn strands(
    net: &Netlist,
    moves: &[Move],
    half: usize,
    carried: &Survey,
    rules: &Catalogue,
    notes: &mut Vec<String>,
) -> Result<Vec<Strand>, Vec<Problem>> {
    let mut problems = Vec::new();
    let mut ends: Vec<(End, f64)> = Vec::new();
    for one in moves {
        problems.extend(far(&one.what, one.by, rules));
        let found = match target(net, &one.what, half) {
            Ok(Target::Half(plug, half)) => of_half(net, &plug, half),
            Ok(Target::Part(part)) => of_part(net, &part, notes),
            Err(problem) => {
                problems.push(problem);
                continue;
            }
        };
        if found.is_empty() {
            let says = format!("{} has no wires to make longer", one.what);
            problems.push(Problem::whole(says).help("look at its rows: ohmward wire \"show ...\""));
        }
        let twice = found.iter().any(|end| ends.iter().any(|(known, _)| known.site == end.site));
        if twice {
            let says = format!("wires of {} are named twice", one.what);
            problems.push(Problem::whole(says).help("name the plug or the part, not both"));
        }
        ends.extend(found.into_iter().map(|end| (end, one.by)));
    }
    if moves.is_empty() {
        problems.push(
            Problem::whole("nothing that moves is named").help("name a plug or a part: ohmward extend P9 --by 1.2m"),
        );
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    // Group by group as they were named, a plug's ways in its own order.
    let groups: Vec<String> = ends.iter().map(|(end, _)| end.group.clone()).collect();
    ends.sort_by_key(|(end, _)| (groups.iter().position(|group| *group == end.group), end.row));
    let mut out: Vec<Strand> = ends.iter().map(|(end, by)| strand(net, end, *by, carried, rules)).collect();
    let guessed: Vec<String> = ends
        .iter()
        .zip(&out)
        .filter(|((end, _), _)| !old_wire(net, end).area_known)
        .map(|(_, strand)| strand.name())
        .collect();
    if !guessed.is_empty() {
        let area = rules.wire.default_area;
        notes
            .push(format!("the old wire's size is not in the file: {}. {area} mm2 taken for granted", short(&guessed)));
    }
    for at in 0..out.len() {
        out[at].beside = beside(net, &out, &out[at]);
    }
    Ok(out)
}

/// Colours of a half's wires that stay as they are.
fn beside(net: &Netlist, all: &[Strand], strand: &Strand) -> Vec<String> {
    let Some(LongerSite::Way { plug, half, .. }) = &strand.site else { return Vec::new() };
    let moves = |way: &String| all.iter().any(|other| other.group == strand.group && other.way == *way);
    let stays = net.plugs[plug].ways.iter().filter(|(way, _)| !moves(way));
    stays.filter_map(|(_, row)| net.wires.get(&row.crimped[*half].as_ref()?.0)?.colour.clone()).collect()
}

/// What is wrong with how far something moves.
pub fn far(what: &str, by: f64, rules: &Catalogue) -> Option<Problem> {
    let (least, longest) = (rules.extend.length("least"), rules.extend.length("longest"));
    if by < least {
        let says = format!("{what} moves {by} m: that needs no wire");
        return Some(Problem::whole(says).help(format!("from {:.0} mm on wire is added", 1000.0 * least)));
    }
    (by > longest).then(|| {
        let says = format!("{what} moves {by} m: more than any small vehicle has");
        Problem::whole(says).help(format!("at most {longest} m; look at the unit: m, cm, mm, ft, in"))
    })
}

enum Target {
    Half(String, usize),
    Part(String),
}

/// A plug's half, or a part.
fn target(net: &Netlist, what: &str, half: usize) -> Result<Target, Problem> {
    let is = |name: &str, text: &str| name.eq_ignore_ascii_case(text);
    if let Some(plug) = net.plugs.keys().find(|name| is(name, what)) {
        return Ok(Target::Half(plug.clone(), half));
    }
    for plug in net.plugs.keys() {
        for (index, letter) in ["a", "b"].iter().enumerate() {
            if is(&format!("{plug}{letter}"), what) {
                return Ok(Target::Half(plug.clone(), index));
            }
        }
    }
    if let Some(part) = net.parts.keys().find(|name| is(name, what)) {
        return Ok(Target::Part(part.clone()));
    }
    let known = net.plugs.keys().chain(net.parts.keys()).map(String::as_str);
    let problem = Problem::whole(format!("there is no plug or part \"{what}\""));
    Err(match nearest(what, known) {
        Some(near) => problem.help(format!("nearest: {near}")),
        None => {
            let plugs: Vec<&str> = net.plugs.keys().map(String::as_str).collect();
            problem.help(format!(
                "plugs: {}; or the name of a part",
                if plugs.is_empty() { "none".into() } else { plugs.join(", ") }
            ))
        }
    })
}

/// An end of a wire that moves.
struct End {
    group: String,
    in_plug: bool,
    way: String,
    site: LongerSite,
    /// The wire that is there now.
    wire: String,
    /// Where the way stands in its plug.
    row: usize,
}

fn of_half(net: &Netlist, plug: &str, half: usize) -> Vec<End> {
    let group = format!("{plug}{}", ["a", "b"][half]);
    let ways = net.plugs[plug].ways.iter().enumerate();
    ways.filter_map(|(at, (way, row))| {
        let (wire, _) = row.crimped[half].as_ref()?;
        let site = LongerSite::Way { plug: plug.to_owned(), half, way: way.clone() };
        Some(End { group: group.clone(), in_plug: true, way: way.clone(), site, wire: wire.clone(), row: at })
    })
    .collect()
}

/// The wires of a part; those that run into a plug are made longer at its half.
fn of_part(net: &Netlist, part: &str, notes: &mut Vec<String>) -> Vec<End> {
    let mut out = Vec::new();
    let pin = |node: NodeIndex| match &net.graph[node].what {
        PointKind::Pin { part: owner, pin } if owner == part => Some(pin.clone()),
        _ => None,
    };
    for wire in net.wires.values() {
        let (from, to) = (pin(wire.from), pin(wire.to));
        let (Some(name), end) = (match (&from, &to) {
            (Some(_), Some(_)) => continue,
            (Some(pin), None) => (Some(pin.clone()), 0),
            (None, Some(pin)) => (Some(pin.clone()), 1),
            (None, None) => (None, 0),
        }) else {
            continue;
        };
        if wire.colour.as_deref() == Some("bare") && wire.length < SCREWED {
            notes.push(format!("{} is the screw itself: {part} needs a ground wire where it goes", wire.name));
            continue;
        }
        let way = net.plugs.values().find_map(|plug| {
            let found = plug.ways.iter().find(|(_, row)| row.span == wire.span)?;
            let half = (0..2).find(|&half| {
                found.1.crimped[half].as_ref().is_some_and(|(crimped, _)| same_row(crimped, &wire.name))
            })?;
            let at = plug.ways.get_index_of(found.0)?;
            Some((plug.name.clone(), half, found.0.clone(), found.1.crimped[half].clone()?.0, at))
        });
        out.push(match way {
            Some((plug, half, way, crimped, row)) => End {
                group: format!("{plug}{}", ["a", "b"][half]),
                in_plug: true,
                way: way.clone(),
                site: LongerSite::Way { plug, half, way },
                wire: crimped,
                row,
            },
            None => End {
                group: part.to_owned(),
                in_plug: false,
                way: name,
                site: LongerSite::Wire { wire: wire.name.clone(), end },
                wire: wire.name.clone(),
                row: out.len(),
            },
        });
    }
    out.sort_by_key(|end| !end.in_plug);
    out
}

/// `P9a-4-new` and `P9a-4-old` are of one row's half.
fn same_row(one: &str, other: &str) -> bool {
    let base = |name: &str| name.trim_end_matches("-new").trim_end_matches("-old").to_owned();
    base(one) == base(other)
}

/// Is the wire that is there now one that was added before?
fn is_added(end: &End) -> bool {
    end.in_plug && end.wire.ends_with("-new")
}

/// The old wire, whose colour stays and which is joined to.
fn old_wire<'n>(net: &'n Netlist, end: &End) -> &'n Wire {
    let base = end.wire.strip_suffix("-new").filter(|_| is_added(end));
    base.and_then(|base| net.wires.get(&format!("{base}-old"))).unwrap_or(&net.wires[&end.wire])
}

fn strand(net: &Netlist, end: &End, by: f64, survey: &Survey, rules: &Catalogue) -> Strand {
    let wire = &net.wires[&end.wire];
    let added = is_added(end);
    let old = old_wire(net, end);
    let ends = match &end.site {
        LongerSite::Way { plug, way, .. } => {
            let row = &net.plugs[plug].ways[way];
            let far = |half: usize| {
                let (crimped, _) = row.crimped[half].as_ref()?;
                let base = crimped.trim_end_matches("-new").trim_end_matches("-old");
                let old = net.wires.get(&format!("{base}-old"))?;
                Some(if half == 0 { old.from } else { old.to })
            };
            [far(0), far(1)]
        }
        LongerSite::Wire { .. } => [Some(wire.from), Some(wire.to)],
    };
    let names: Vec<&str> = ends.iter().flatten().map(|&node| net.point_name(node)).collect();
    let kinds = ends.iter().flatten().filter_map(|&node| match &net.graph[node].what {
        PointKind::Pin { part, .. } => net.parts.get(part).map(|part| part.kind.clone()),
        _ => None,
    });
    let carried = survey.wires.get(&end.wire).cloned().unwrap_or_default();
    Strand {
        group: end.group.clone(),
        in_plug: end.in_plug,
        way: end.way.clone(),
        what: names.join(" to "),
        kinds: kinds.collect(),
        old: old.colour.clone(),
        old_area: Some(old.area),
        old_length: old.length_known.then_some(old.length),
        beside: Vec::new(),
        before: if added { wire.length } else { 0.0 },
        by,
        air: carried.air.max(rules.review.ampacity.air),
        may_lose: rules.extend.limit("added") * rules.review.limit("nominal"),
        amps: amps(&carried, rules),
        site: Some(end.site.clone()),
    }
}

/// What a wire carries, or what has to be taken for it.
fn amps(carried: &Carried, rules: &Catalogue) -> Amps {
    let fuse = carried.fuse;
    if carried.peak > NOTHING {
        return Amps { good: carried.amps, peak: carried.peak, known: Known::Solved(carried.state.clone()), fuse };
    }
    unknown(fuse, rules)
}

/// What is taken for a wire of which nobody says what it carries.
pub fn unknown(fuse: Option<f64>, rules: &Catalogue) -> Amps {
    match fuse {
        Some(amps) => {
            let amps = rules.review.limit("fuse-full") * amps;
            Amps { good: amps, peak: amps, known: Known::Fuse, fuse }
        }
        None => {
            let amps = rules.extend.limit("amps");
            Amps { good: amps, peak: amps, known: Known::Assumed, fuse }
        }
    }
}
