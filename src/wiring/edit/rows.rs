//! Rows put into a text: at the end of a section, of a plug, of what is under a bolt.

use crate::text::problem::Problem;
use crate::text::span::{Source, Span};
use crate::text::splice::{closing, indentation, line_end, line_start, replace};
use crate::text::yaml::{Key, Node, Value};

/// Spaces before a row of a section, where no row shows how many.
const INDENT: &str = "  ";

/// A pair of a map, its key in any case.
pub(super) fn pair<'n>(node: &'n Node, key: &str) -> Option<(&'n Key, &'n Node)> {
    let Value::Map(pairs) = &node.value else { return None };
    pairs.iter().find(|(k, _)| k.text.trim().eq_ignore_ascii_case(key)).map(|(k, node)| (k, node))
}

/// From a key to the end of what it holds.
pub(super) fn whole(text: &str, key: &Key, node: &Node) -> Span {
    Span { start: key.span.start, end: end_of(text, node).max(key.span.end) }
}

/// Where a node ends, brackets included.
pub(super) fn end_of(text: &str, node: &Node) -> usize {
    if is_flow(text, node) {
        return closing(text, node.span.start).unwrap_or(node.span.end);
    }
    let last = match &node.value {
        Value::List(items) => items.last().map(|item| end_of(text, item)),
        Value::Map(pairs) => pairs.last().map(|(key, node)| end_of(text, node).max(key.span.end)),
        Value::Null | Value::Scalar(_) => None,
    };
    last.unwrap_or(node.span.end).max(node.span.end)
}

/// Is it a list or a map in brackets?
pub(super) fn is_flow(text: &str, node: &Node) -> bool {
    matches!(node.value, Value::List(_) | Value::Map(_))
        && text.get(node.span.start..).is_some_and(|rest| rest.starts_with(['[', '{']))
}

/// Adds a row at the end of a section, which is begun if the file has none of it.
pub(super) fn add_row(text: &mut String, tree: &Node, section: &str, row: &str) {
    if let Some((key, node)) = pair(tree, section) {
        return match &node.value {
            // Wires by name: one that has none gets the next number.
            Value::Map(wires) if section == "wires" && !wires.is_empty() => {
                let taken = |name: &String| wires.iter().any(|(key, _)| key.text.eq_ignore_ascii_case(name));
                let free = (1..).map(|n| format!("W{n}")).find(|name| !taken(name)).unwrap_or_default();
                let row = if row.contains(": ") { row.to_owned() } else { format!("{free}: {row}") };
                append(text, key, node, &row, false)
            }
            _ => append(text, key, node, row, section == "wires"),
        };
    }
    if !text.is_empty() && !text.ends_with('\n') {
        text.push('\n');
    }
    let dash = if section == "wires" { "- " } else { "" };
    text.push_str(&format!("\n{section}:\n{}", lined(row, INDENT, dash)));
}

/// Adds a way's row to a plug.
pub(super) fn add_way(text: &mut String, tree: &Node, plug: &str, row: &str) -> Result<(), Problem> {
    let (_, node) = named(tree, "plugs", plug)?;
    match pair(node, "ways") {
        Some((key, ways)) => append(text, key, ways, row, true),
        None => return Err(Problem::at(node.span, format!("{plug} has no ways to add to")).help("write ways: first")),
    }
    Ok(())
}

/// The row of this name in a section.
pub(super) fn named<'n>(tree: &'n Node, section: &str, name: &str) -> Result<(&'n Key, &'n Node), Problem> {
    let found = pair(tree, section).and_then(|(_, node)| pair(node, name));
    found.ok_or_else(|| Problem::whole(format!("there is no \"{name}\" under {section}")))
}

/// Adds to what a key holds, in the manner in which it is written.
pub(super) fn append(text: &mut String, key: &Key, node: &Node, row: &str, list: bool) {
    let dash = if list { "- " } else { "" };
    if is_flow(text, node) {
        let end = closing(text, node.span.start).map_or(node.span.end, |end| end - 1);
        let empty = matches!(&node.value, Value::List(i) if i.is_empty())
            || matches!(&node.value, Value::Map(p) if p.is_empty());
        let at = text[..end].trim_end().len();
        let comma = if empty || text[..at].ends_with(',') { "" } else { ", " };
        return replace(text, Span { start: at, end: at }, &format!("{comma}{}", quoted(row, list)));
    }
    let first = match &node.value {
        Value::List(items) => items.first().map(|item| item.span.start),
        Value::Map(pairs) => pairs.first().map(|(key, _)| key.span.start),
        Value::Null | Value::Scalar(_) => None,
    };
    let (indent, last) = match first {
        Some(first) => (indentation(text, first).to_owned(), end_of(text, node)),
        None => (format!("{}{INDENT}", indentation(text, key.span.start)), key.span.end),
    };
    let mut at = line_end(text, last);
    if at == text.len() {
        text.push('\n');
    }
    at += 1;
    replace(text, Span { start: at, end: at }, &lined(row, &indent, dash));
}

/// A row, perhaps of several lines, as lines of a block.
fn lined(row: &str, indent: &str, dash: &str) -> String {
    let dash = |line: &str| if line.starts_with('#') { "" } else { dash };
    row.lines().map(|line| format!("{indent}{}{line}\n", dash(line))).collect()
}

/// A row for a list or a map in brackets, where a comma would end it.
pub(super) fn quoted(row: &str, list: bool) -> String {
    let quote = |text: &str| {
        if text.contains([',', '[', ']', '{', '}']) {
            format!("\"{}\"", text.replace('"', "\\\""))
        } else {
            text.into()
        }
    };
    match row.split_once(": ").filter(|_| !list) {
        Some((name, value)) => format!("{name}: {}", quote(value)),
        None => quote(row),
    }
}

/// Adds an item to what is under a bolt, on a fuse, in a loom (`owner`), or to a section that is a plain list.
pub(super) fn add_item(
    text: &mut String,
    tree: &Node,
    section: &str,
    owner: Option<&str>,
    item: &str,
) -> Result<(), Problem> {
    let found = match owner {
        Some(owner) => Some(named(tree, section, owner)?),
        None => pair(tree, section),
    };
    let Some((key, node)) = found else {
        if !text.is_empty() && !text.ends_with('\n') {
            text.push('\n');
        }
        text.push_str(&format!("\n{section}: [{item}]\n"));
        return Ok(());
    };
    match &node.value {
        Value::Scalar(_) => scalar_item(text, node.span, owner.is_some() && section != "looms", item),
        Value::Map(_) => {
            let list = match section {
                "grounds" => "under",
                "feeds" => "out",
                _ => "wires",
            };
            match pair(node, list) {
                Some((key, node)) => match &node.value {
                    Value::Scalar(_) => scalar_item(text, node.span, false, item),
                    _ => append(text, key, node, item, true),
                },
                None => append(text, key, node, &format!("{list}: [{item}]"), false),
            }
        }
        Value::List(_) | Value::Null => append(text, key, node, item, true),
    }
    Ok(())
}

/// Adds to a row's list, in brackets at its end or (`plain`) between commas.
fn scalar_item(text: &mut String, span: Span, bracketed: bool, item: &str) {
    let quote = usize::from(text[span.start..].starts_with(['"', '\'']));
    let end = span.end - quote;
    let body = text[span.start..end].trim_end();
    let at = span.start + body.len();
    if let Some(open) = body.strip_suffix(']').filter(|_| bracketed) {
        let comma = if open.trim_end().ends_with('[') { "" } else { ", " };
        replace(text, Span { start: at - 1, end: at - 1 }, &format!("{comma}{item}"));
    } else if bracketed {
        replace(text, Span { start: at, end: at }, &format!(", [{item}]"));
    } else {
        replace(text, Span { start: at, end: at }, &format!(", {item}"));
    }
}

/// Takes out keys that hold nothing any more, since a row has gone: sections, and lists of long rows.
pub(super) fn tidy(source: &mut Source, tree: &Node) {
    let mut gone = Vec::new();
    let Value::Map(sections) = &tree.value else { return };
    for (key, node) in sections {
        match &node.value {
            Value::Null => gone.push(key.span),
            Value::Map(rows) if rows.is_empty() => gone.push(whole(&source.text, key, node)),
            Value::List(items) if items.is_empty() => gone.push(whole(&source.text, key, node)),
            Value::Map(rows) => {
                for (_, row) in rows {
                    let Value::Map(fields) = &row.value else { continue };
                    let lists = fields.iter().filter(|(key, _)| ["under", "out"].contains(&key.text.as_str()));
                    gone.extend(lists.filter(|(_, node)| node.value == Value::Null).map(|(key, _)| key.span));
                }
            }
            Value::List(_) | Value::Scalar(_) => {}
        }
    }
    // A key alone on its line ends with its colon.
    for span in &mut gone {
        let line = &source.text[line_start(&source.text, span.start)..line_end(&source.text, span.end)];
        if line.trim_end().ends_with(':') {
            span.end = line_end(&source.text, span.end);
        }
    }
    crate::text::splice::remove(&mut source.text, &gone);
}
