//! `remove …`: what a name stands for goes, with what cannot be without it; what only lives by it stays and is told.

use super::super::hang::{self, Fallen, fallen};
use super::super::put::{Owner, owner};
use super::super::{Change, Draft, Refusal};
use super::{Taken, Written, section_of, stranger};
use crate::text::problem::Problem;
use crate::text::yaml;
use crate::wiring::raw;
use indexmap::IndexSet;

/// Said where a switch's wires are joined.
pub const JOINED: &str = "CAUTION: if it was an interlock (seat, gear, clutch, stand, blades) the machine can start or cut with nobody there. \
     Only where the machine never had one; its manual comes first.";

/// Parts left without use that are named; more are counted.
const NAMED: usize = 5;

/// Takes out what is named.
pub(super) fn remove<'c>(draft: &Draft<'c>, words: &str) -> Taken<'c> {
    let net = draft.netlist();
    let plain = |draft: Draft<'c>| Ok(Written { draft, notes: Vec::new() });
    if let Some((word, name)) = words.split_once(' ')
        && let Some(section) = section_of(word)
    {
        return match section {
            "wires" => remove(draft, name),
            "parts" | "grounds" | "sleeves" | "feeds" | "plugs" => remove(draft, name),
            _ => plain(draft.changed(&[Change::Drop { section: section.into(), name: name.trim().into() }])?),
        };
    }
    if let Some((from, to)) = words.split_once(" to ")
        && let (Some(a), Some(b)) = (net.point(from.trim()), net.point(to.trim()))
    {
        let between = net.wires.values().filter(|wire| [(a, b), (b, a)].contains(&(wire.from, wire.to)));
        let names: Vec<&str> = between.map(|wire| wire.name.as_str()).collect();
        return match names.as_slice() {
            [one] => wire(draft, one),
            [] => Err(refuse(draft, format!("no wire runs from {from} to {to}"), "show lists what there is")),
            many => Err(refuse(
                draft,
                format!("{} wires run from {from} to {to}", many.len()),
                &format!("name one: {}", many.join(", ")),
            )),
        };
    }
    let known = |names: Vec<&String>| names.into_iter().find(|known| known.eq_ignore_ascii_case(words)).cloned();
    if let Some(part) = known(net.parts.keys().collect()) {
        let gone = hang::alone(net, draft.catalogue(), Fallen { parts: [part.clone()].into(), ..Fallen::default() });
        return Ok(Written { draft: draft.cut(&gone)?, notes: idle(draft, &part, &gone) });
    }
    if let Some(name) = known(net.wires.keys().collect()) {
        return wire(draft, &name);
    }
    if let Some((plug, way)) = words.split_once('.')
        && let Some(plug) = net.plugs.values().find(|known| known.name.eq_ignore_ascii_case(plug))
    {
        let Some(way) = plug.ways.keys().find(|known| known.eq_ignore_ascii_case(way)) else {
            let ways: Vec<&str> = plug.ways.keys().map(String::as_str).collect();
            let says = format!("{} has no way {way}", plug.name);
            return Err(refuse(draft, says, &format!("ways: {}", ways.join(", "))));
        };
        return ways(draft, &plug.name, [way]);
    }
    if let Some(plug) = known(net.plugs.keys().collect()) {
        if net.plugs[&plug].ways.is_empty() {
            return plain(draft.changed(&[Change::Drop { section: "plugs".into(), name: plug }])?);
        }
        return ways(draft, &plug, net.plugs[&plug].ways.keys());
    }
    let joint = |gone: Fallen| draft.cut(&hang::alone(net, draft.catalogue(), gone)).and_then(plain);
    if let Some(name) = known(net.grounds.keys().collect()) {
        return joint(Fallen { grounds: [name].into(), ..Fallen::default() });
    }
    if let Some(name) = known(net.sleeves.keys().collect()) {
        if let Some((plug, way)) = made_by(draft, &name) {
            return Err(refuse(
                draft,
                format!("{name} is made by way {way} of {plug}"),
                &format!("remove {plug}.{way}"),
            ));
        }
        return joint(Fallen { sleeves: [name].into(), ..Fallen::default() });
    }
    for (section, names) in [("looms", net.looms.keys().collect()), ("places", net.places.keys().collect())] {
        if let Some(name) = known(names) {
            return plain(draft.changed(&[Change::Drop { section: section.into(), name }])?);
        }
    }
    if words.contains(" to ")
        && let Ok(done) = draft.changed(&[Change::Drop { section: "runs".into(), name: words.into() }])
    {
        return plain(done);
    }
    match draft.without_named(words) {
        Ok((rest, gone)) => {
            let joined = words.ends_with("joined");
            let gone = Vec::from_iter(gone.parts).join(", ");
            let notes = if joined { vec![JOINED.into()] } else { vec![format!("gone: {gone}")] };
            Ok(Written { draft: rest, notes })
        }
        Err(refusal) if refusal.problems.iter().any(|p| p.text.starts_with("nothing of this machine")) => {
            Err(stranger(draft, words))
        }
        Err(refusal) => Err(refusal),
    }
}

/// One wire, by its name.
fn wire<'c>(draft: &Draft<'c>, name: &str) -> Taken<'c> {
    let tree = yaml::parse(&draft.source).map_err(|problem| Refusal::one(&draft.source, problem))?;
    let (file, _) = raw::read(&draft.source, &tree);
    match owner(&file, &draft.netlist().wires[name]) {
        Owner::Row | Owner::Item(..) => {
            let draft = draft.changed(&[Change::DropWire(name.to_owned())])?;
            Ok(Written { draft, notes: Vec::new() })
        }
        Owner::Way(plug, way) => {
            Err(refuse(draft, format!("{name} is made by way {way} of {plug}"), &format!("remove {plug}.{way}")))
        }
        Owner::Strap => Err(refuse(draft, format!("{name} is a strap of the chassis"), "change chassis PIECE: alone")),
    }
}

fn ways<'c, 'n>(draft: &Draft<'c>, plug: &str, ways: impl IntoIterator<Item = &'n String>) -> Taken<'c> {
    let ways = ways.into_iter().map(|way| (plug.to_owned(), way.clone())).collect();
    let gone = Fallen { ways, ..Fallen::default() };
    let gone = hang::alone(draft.netlist(), draft.catalogue(), gone);
    Ok(Written { draft: draft.cut(&gone)?, notes: Vec::new() })
}

/// Plug and way that made a sleeve.
fn made_by(draft: &Draft, sleeve: &str) -> Option<(String, String)> {
    let span = draft.netlist().sleeves[sleeve].span;
    let plugs = draft.netlist().plugs.values();
    plugs
        .flat_map(|plug| plug.ways.iter().map(|(way, row)| (plug.name.clone(), way.clone(), row.span)))
        .find(|(_, _, row)| *row == span)
        .map(|(plug, way, _)| (plug, way))
}

/// Parts that had their use with the part and have none without it.
fn idle(draft: &Draft, part: &str, gone: &Fallen) -> Vec<String> {
    let named: IndexSet<String> = [part.to_owned()].into();
    let with = fallen(draft.netlist(), draft.catalogue(), &named);
    let left: Vec<String> = with.parts.into_iter().filter(|name| !gone.parts.contains(name)).collect();
    match left.as_slice() {
        [] => Vec::new(),
        [one] => vec![format!("{one} is left without use: remove {one}, if it is gone too")],
        many => {
            let more = many.len().saturating_sub(NAMED);
            let more = if more > 0 { format!(" and {more} more") } else { String::new() };
            let names = many.iter().take(NAMED).map(String::as_str).collect::<Vec<_>>().join(", ");
            vec![format!("left without use: {names}{more}; remove what is gone too")]
        }
    }
}

fn refuse(draft: &Draft, says: String, help: &str) -> Box<Refusal> {
    Refusal::one(&draft.source, Problem::whole(says).help(help))
}
