//! `change NAME: …`: a row written anew, or only the fields that are said.

use super::super::line::{comment, fields, kind_and_figure, merged, named};
use super::super::put::{Owner, owner, way_of};
use super::super::rows::{self, pair};
use super::super::{Change, Draft, Refusal};
use super::{Taken, Written, section_of, stranger};
use crate::text::problem::Problem;
use crate::text::yaml::{self, Node, Value};
use crate::wiring::lower::proof_word;
use crate::wiring::raw;

/// Takes `NAME: fields`.
pub(super) fn change<'c>(draft: &Draft<'c>, words: &str) -> Taken<'c> {
    let Some((name, value)) = named(comment(words).0) else {
        let problem = Problem::whole("a change needs a name, a colon and what is to stand there");
        return Err(Refusal::one(&draft.source, problem.help("for example: change W7: horn.ground to G2, black")));
    };
    if value.is_empty() {
        let problem = Problem::whole(format!("nothing stands behind \"{name}:\""));
        return Err(Refusal::one(&draft.source, problem.help(format!("to take it out: remove {name}"))));
    }
    let tree = yaml::parse(&draft.source).map_err(|problem| Refusal::one(&draft.source, problem))?;
    let changes = meant(draft, &tree, name, value)?;
    // What stands behind the row in the file stays; two comments would be one too many.
    let lost = comment(words).1.trim();
    let notes =
        if lost.is_empty() { Vec::new() } else { vec![format!("a change takes no comment: {lost} is left out")] };
    Ok(Written { draft: draft.changed(&changes)?, notes })
}

fn meant(draft: &Draft, tree: &Node, name: &str, value: &str) -> Result<Vec<Change>, Box<Refusal>> {
    let net = draft.netlist();
    if let Some((word, rest)) = name.split_once(' ')
        && let Some(section) = section_of(word)
        && section != "wires"
    {
        return row(draft, tree, section, rest.trim(), value);
    }
    let name = name.strip_prefix("wire ").unwrap_or(name).trim();
    if let Some(wire) = net.wires.keys().find(|known| known.eq_ignore_ascii_case(name)) {
        return wire_row(draft, tree, wire, value);
    }
    if let Some((head, tail)) = name.split_once('.') {
        if let Some(plug) = net.plugs.keys().find(|known| known.eq_ignore_ascii_case(head)) {
            if ["is", "a", "b"].iter().any(|key| tail.eq_ignore_ascii_case(key)) {
                return Ok(vec![set("plugs", plug, &tail.to_lowercase(), value)]);
            }
            return way(draft, tree, plug, tail, value);
        }
        for section in ["parts", "feeds", "grounds", "places", "looms", "sleeves", "switches", "bench"] {
            if rows::named(tree, section, head).is_ok() {
                return Ok(vec![set(section, head, tail, value)]);
            }
        }
    }
    if name.eq_ignore_ascii_case("machine") {
        return Ok(vec![Change::Top { section: "machine".into(), value: value.into() }]);
    }
    for section in ["parts", "feeds", "grounds", "sleeves", "runs", "looms", "places", "chassis", "switches", "bench"] {
        if rows::named(tree, section, name).is_ok() {
            return row(draft, tree, section, name, value);
        }
    }
    Err(stranger(draft, name))
}

fn set(section: &str, name: &str, key: &str, value: &str) -> Change {
    Change::Set { section: section.into(), name: name.into(), key: key.into(), value: value.into() }
}

/// A row of a section by its name: whole, or some fields of it.
fn row(draft: &Draft, tree: &Node, section: &str, name: &str, value: &str) -> Result<Vec<Change>, Box<Refusal>> {
    let one = |problem: Problem| Refusal::one(&draft.source, problem);
    let (_, node) = rows::named(tree, section, name).map_err(one)?;
    let new = fields(value);
    let head = usize::from(section == "parts");
    let whole = match section {
        "parts" => new.first().is_some_and(|first| kind_and_figure(first, draft.catalogue()).is_some()),
        "feeds" | "grounds" => false,
        _ => true,
    };
    let old = match &node.value {
        Value::Scalar(old) => old.as_str(),
        Value::Map(_) if !value.starts_with('{') && !whole => {
            let problem = Problem::whole(format!("{name} is written long, key by key"));
            return Err(one(problem.help(format!("change {name}.KEY: …"))));
        }
        _ => "",
    };
    let put = |row: String| Change::Put { section: section.into(), name: name.into(), row };
    if whole || value.starts_with('{') || old.is_empty() {
        return Ok(vec![put(value.to_owned())]);
    }
    Ok(vec![put(merged(old, &new, head, draft.catalogue()))])
}

fn wire_row(draft: &Draft, tree: &Node, wire: &str, value: &str) -> Result<Vec<Change>, Box<Refusal>> {
    let new = fields(value);
    let put = |row: String| Change::PutWire { wire: wire.to_owned(), row };
    if new.first().is_some_and(|first| first.contains(" to ")) || value.starts_with('{') {
        return Ok(vec![put(value.to_owned())]);
    }
    let (file, _) = raw::read(&draft.source, tree);
    let known = &draft.netlist().wires[wire];
    let text = draft.source.text.get(known.span.start..known.span.end).unwrap_or("");
    let ends = || format!("{} to {}", draft.netlist().point_name(known.from), draft.netlist().point_name(known.to));
    let old = match owner(&file, known) {
        Owner::Row if text.contains(" to ") => text.trim_matches(['"', '\'']).to_owned(),
        // In the long form the ends are keys of their own: it becomes a short one with what is known of it.
        Owner::Row => long(&file, known.span).unwrap_or_else(ends),
        Owner::Item(..) => std::iter::once(ends())
            .chain(fields(text).into_iter().skip(1).map(str::to_owned))
            .collect::<Vec<_>>()
            .join(", "),
        Owner::Way(plug, way_name) => return way(draft, tree, &plug, &way_name, value),
        Owner::Strap => ends(),
    };
    Ok(vec![put(merged(&old, &new, 1, draft.catalogue()))])
}

/// A long row's fields as a short one; `None` where it says what a short one cannot.
fn long(file: &raw::File, span: crate::text::span::Span) -> Option<String> {
    let row = file.wires.iter().find(|row| row.span == span && row.ends.is_empty())?;
    let ends = format!("{} to {}", row.from.as_ref()?.text, row.to.as_ref()?.text);
    let rest = row.attrs.iter().map(|attr| attr.text.text.clone());
    Some(std::iter::once(ends).chain(rest).collect::<Vec<_>>().join(", "))
}

/// `a 2.5 mm2`.
fn of_half(field: &str) -> bool {
    let lower = field.to_ascii_lowercase();
    lower.starts_with("a ") || lower.starts_with("b ")
}

/// A plug's row: whole, without its way's name, or one proof mark.
fn way(draft: &Draft, tree: &Node, plug: &str, way: &str, value: &str) -> Result<Vec<Change>, Box<Refusal>> {
    let new = fields(value);
    let put = |row: String| vec![Change::PutWay { plug: plug.to_owned(), way: way.to_owned(), row }];
    if new.len() > 1 && new[0].eq_ignore_ascii_case(way) || value.starts_with('{') {
        return Ok(put(value.to_owned()));
    }
    let old = pair(tree, "plugs").and_then(|(_, plugs)| pair(plugs, plug)).and_then(|(_, node)| pair(node, "ways"));
    let rows = match old.map(|(_, ways)| &ways.value) {
        Some(Value::List(rows)) => rows.as_slice(),
        _ => &[],
    };
    let found = rows.iter().find(|node| way_of(node).is_some_and(|known| known.eq_ignore_ascii_case(way)));
    if let (Some(Node { value: Value::Scalar(old), .. }), [proof]) = (found, new.as_slice())
        && proof_word(proof).is_some()
    {
        let mut all: Vec<&str> = fields(old);
        // What only this way's added wire is stands behind the mark and stays.
        let behind = all.split_off(all.len().min(5));
        all.push(proof);
        all.extend(behind.into_iter().filter(|field| of_half(field)));
        return Ok(put(all.join(", ")));
    }
    if new.len() >= 4 {
        return Ok(put(format!("{way}, {value}")));
    }
    let problem = Problem::whole(format!("\"{value}\" is no row of a plug"));
    let help = format!("change {plug}.{way}: {way}, old colour, new colour, from, to, proof; or a proof mark alone");
    Err(Refusal::one(&draft.source, problem.help(help)))
}
