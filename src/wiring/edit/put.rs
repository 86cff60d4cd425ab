//! Rows written anew in their places: what stands around them, and a comment behind them, stays.

use super::super::raw::{self, File};
use super::remove;
use super::renamed::{follow, names};
use super::rows::{add_item, add_row, append, end_of, is_flow, named, pair, quoted};
use crate::catalogue::Catalogue;
use crate::netlist::Wire;
use crate::text::problem::Problem;
use crate::text::span::{Source, Span};
use crate::text::splice::{closing, replace};
use crate::text::yaml::{self, Key, Node, Value};

/// Where a wire is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Owner {
    /// A row of `wires`.
    Row,
    /// An item under a ground point or on a fuse: section, whose.
    Item(&'static str, String),
    /// A plug's row: plug, way.
    Way(String, String),
    /// A strap between chassis pieces.
    Strap,
}

/// Where a wire is written.
pub(super) fn owner(file: &File, wire: &Wire) -> Owner {
    let here = |span: Span| span == wire.span;
    for plug in &file.plugs {
        if let Some(way) = plug.ways.iter().find(|way| here(way.span)) {
            return Owner::Way(plug.name.text.clone(), way.way.text.clone());
        }
    }
    if file.wires.iter().any(|row| here(row.span)) {
        return Owner::Row;
    }
    if let Some(ground) = file.grounds.iter().find(|ground| ground.items.iter().any(|item| here(item.span))) {
        return Owner::Item("grounds", ground.name.text.clone());
    }
    match file.feeds.iter().find(|feed| feed.items.iter().any(|item| here(item.span))) {
        Some(feed) => Owner::Item("feeds", feed.part.name.text.clone()),
        None => Owner::Strap,
    }
}

/// Writes a named row of a section anew.
pub(super) fn row(text: &mut String, tree: &Node, section: &str, name: &str, row: &str) -> Result<(), Problem> {
    let (_, rows) = pair(tree, section).ok_or_else(|| Problem::whole(format!("the file has no {section}")))?;
    let (key, node) = named(tree, section, name)?;
    let flow = is_flow(text, rows);
    behind(text, (key, node), flow, row)
}

/// Writes a key of a row in long form, or adds it.
pub(super) fn key(text: &mut String, tree: &Node, [section, name, key]: [&str; 3], value: &str) -> Result<(), Problem> {
    let (row_key, node) = named(tree, section, name)?;
    if !matches!(node.value, Value::Map(_) | Value::Null) {
        let says = format!("{name} is written as one row");
        return Err(Problem::whole(says).help(format!("write the whole row: change {name}: …")));
    }
    match pair(node, key) {
        Some(found) => behind(text, found, is_flow(text, node), value),
        None => {
            append(text, row_key, node, &format!("{key}: {value}"), false);
            Ok(())
        }
    }
}

/// Writes a section that is one text.
pub(super) fn top(text: &mut String, tree: &Node, section: &str, value: &str) {
    match pair(tree, section) {
        Some(found) => _ = behind(text, found, false, value),
        None => text.insert_str(0, &format!("{section}: {value}\n")),
    }
}

/// What stands behind a key.
fn behind(text: &mut String, (key, node): (&Key, &Node), flow: bool, row: &str) -> Result<(), Problem> {
    let quote = flow && !row.starts_with(['[', '{', '"', '\'']);
    let row = if quote { quoted(row, true) } else { row.to_owned() };
    match &node.value {
        Value::Scalar(_) => replace(text, node.span, &row),
        Value::Null => {
            let end = colon(text, key);
            replace(text, Span { start: end, end: end.max(node.span.end) }, &format!(" {row}"));
        }
        Value::List(_) | Value::Map(_) if is_flow(text, node) => {
            let end = closing(text, node.span.start).unwrap_or(node.span.end);
            replace(text, Span { start: node.span.start, end }, &row);
        }
        Value::List(_) | Value::Map(_) => {
            let span = Span { start: colon(text, key), end: end_of(text, node) };
            whole(text, span)?;
            replace(text, span, &format!(" {row}"));
        }
    }
    Ok(())
}

/// One past the colon behind a key.
fn colon(text: &str, key: &Key) -> usize {
    text[key.span.end..].find(':').map_or(key.span.end, |at| key.span.end + at + 1)
}

/// Several lines become one only where no comment stands in them: it would be lost.
fn whole(text: &str, span: Span) -> Result<(), Problem> {
    let commented =
        text[span.start..span.end].lines().any(|line| line.trim_start().starts_with('#') || line.contains(" #"));
    if commented {
        let says = "this row is written over several lines with comments in them, which would be lost";
        return Err(Problem::at(span, says).help("change one key of it: change NAME.KEY: …"));
    }
    Ok(())
}

/// Writes a wire's row anew. One that stood in a list becomes a row of its own, since a list has no room for more.
pub(super) fn wire(
    source: &mut Source,
    tree: &Node,
    catalogue: &Catalogue,
    name: &str,
    row: &str,
) -> Result<(), Problem> {
    let (file, _) = raw::read(source, tree);
    let (net, ..) = super::super::lower::lower(source, catalogue, &file);
    let Some(wire) = net.wires.values().find(|known| known.name.eq_ignore_ascii_case(name)) else {
        return Err(Problem::whole(format!("there is no wire \"{name}\"")));
    };
    let before = names(&net, |_| false);
    match owner(&file, wire) {
        Owner::Row => {
            let node = find(tree, wire.span).ok_or_else(|| Problem::whole(format!("{name} has no row")))?;
            let flow = pair(tree, "wires").is_some_and(|(_, rows)| is_flow(&source.text, rows));
            let long = matches!(node.value, Value::Map(_)) && !is_flow(&source.text, node);
            let end = if long { end_of(&source.text, node) } else { node.span.end };
            let end = closing(&source.text, node.span.start).filter(|_| is_flow(&source.text, node)).unwrap_or(end);
            let span = Span { start: node.span.start, end };
            whole(&source.text, span).or_else(|problem| if long { Err(problem) } else { Ok(()) })?;
            let row = if flow { quoted(row, true) } else { row.to_owned() };
            replace(&mut source.text, span, &row);
            follow(source, catalogue, &before)
        }
        Owner::Item(..) => {
            let name = wire.name.clone();
            let lists = super::remove::listed(&file, &name);
            remove::wire(source, tree, catalogue, &name)?;
            let tree = yaml::parse(source)?;
            add_row(&mut source.text, &tree, "wires", &format!("{name}: {row}"));
            for (section, owner) in lists {
                let tree = yaml::parse(source)?;
                add_item(&mut source.text, &tree, section, owner.as_deref(), &name)?;
            }
            Ok(())
        }
        Owner::Way(plug, way) => Err(Problem::whole(format!("{name} is made by way {way} of {plug}"))
            .help(format!("change {plug}.{way}: {way}, old colour, new colour, from, to, proof"))),
        Owner::Strap => Err(Problem::whole(format!("{name} is a strap of the chassis"))
            .help("change chassis PIECE: OTHER by strap 10 AWG")),
    }
}

/// Writes a plug's row anew.
pub(super) fn way(text: &mut String, tree: &Node, plug: &str, way: &str, row: &str) -> Result<(), Problem> {
    let (_, node) = named(tree, "plugs", plug)?;
    let ways = pair(node, "ways").map(|(_, ways)| ways);
    let Some(Value::List(rows)) = ways.map(|ways| &ways.value) else {
        return Err(Problem::at(node.span, format!("{plug} has no ways")));
    };
    let is = |node: &&Node| way_of(node).is_some_and(|known| known.eq_ignore_ascii_case(way));
    let Some(found) = rows.iter().find(is) else {
        let known: Vec<String> = rows.iter().filter_map(way_of).collect();
        return Err(Problem::whole(format!("{plug} has no way {way}")).help(format!("ways: {}", known.join(", "))));
    };
    let flow = ways.is_some_and(|ways| is_flow(text, ways));
    let long = matches!(found.value, Value::Map(_) | Value::List(_));
    let end = match long {
        true if is_flow(text, found) => closing(text, found.span.start).unwrap_or(found.span.end),
        true => end_of(text, found),
        false => found.span.end,
    };
    let span = Span { start: found.span.start, end };
    if long {
        whole(text, span)?;
    }
    let row = if flow { quoted(row, true) } else { row.to_owned() };
    replace(text, span, &row);
    Ok(())
}

/// What a plug's row calls its way.
pub(super) fn way_of(node: &Node) -> Option<String> {
    let text = match &node.value {
        Value::Scalar(row) => row.split(',').next().map(str::to_owned),
        Value::List(fields) => fields.first().and_then(scalar),
        Value::Map(_) => pair(node, "way").and_then(|(_, way)| scalar(way)),
        Value::Null => None,
    };
    text.map(|text| text.trim().to_owned())
}

fn scalar(node: &Node) -> Option<String> {
    match &node.value {
        Value::Scalar(text) => Some(text.clone()),
        _ => None,
    }
}

/// The node at this place.
fn find(node: &Node, span: Span) -> Option<&Node> {
    if node.span == span && !matches!(node.value, Value::Null) {
        // A list of one item may have its item's place.
        let inner = match &node.value {
            Value::List(items) => items.iter().find_map(|item| find(item, span)),
            _ => None,
        };
        return inner.or(Some(node));
    }
    match &node.value {
        Value::List(items) => items.iter().find_map(|item| find(item, span)),
        Value::Map(pairs) => pairs.iter().find_map(|(_, node)| find(node, span)),
        Value::Null | Value::Scalar(_) => None,
    }
}
