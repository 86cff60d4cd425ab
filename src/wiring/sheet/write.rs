//! A wiring file as a table: the rows that are read in again give the same wiring.

use crate::text::csv;
use crate::text::problem::Problem;
use crate::text::quantity::{self, Unit};
use crate::text::span::Source;
use crate::text::yaml::{self, Node, Value};
use crate::wiring::fields::Text;
use crate::wiring::lower::proof_word;
use crate::wiring::raw::{self, RawWire, Role};

/// Columns, in order; what each section has is put under them.
const COLUMNS: [&str; 16] = [
    "section", "name", "plug", "way", "from", "to", "old", "new", "colour", "size", "length", "ohms", "ends", "proof",
    "added", "row",
];

/// A row by its columns.
type Row = Vec<(&'static str, String)>;

/// The file's rows as comma-separated values, one a line, the first the headings.
///
/// # Errors
///
/// What keeps the file from being read.
pub fn export(source: &Source) -> Result<String, Problem> {
    let tree = yaml::parse(source)?;
    let (file, _) = raw::read(source, &tree);
    let mut rows: Vec<Row> = Vec::new();
    let Value::Map(sections) = &tree.value else { return Ok(String::new()) };
    for (key, node) in sections {
        let section = one(key.text.trim());
        match (key.text.trim().to_lowercase().as_str(), &node.value) {
            ("wires", _) => rows.extend(file.wires.iter().map(wire)),
            ("plugs", Value::Map(plugs)) => {
                for (name, node) in plugs {
                    plug(name.text.trim(), node, &file, &mut rows);
                }
            }
            (_, Value::Map(pairs)) => rows.extend(pairs.iter().map(|(name, node)| {
                vec![("section", section.to_owned()), ("name", name.text.trim().to_owned()), ("row", shown(node))]
            })),
            (_, Value::Null) => {}
            (_, _) => rows.push(vec![("section", section.to_owned()), ("row", shown(node))]),
        }
    }
    let used = |column: &str| rows.iter().flatten().any(|(held, _)| *held == column);
    let columns: Vec<&str> = COLUMNS.iter().copied().filter(|column| used(column)).collect();
    let mut out = format!("{}\n", columns.join(","));
    for row in &rows {
        let cell = |column: &&str| {
            row.iter().find(|(held, _)| held == column).map_or(String::new(), |(_, text)| csv::quoted(text))
        };
        out.push_str(&columns.iter().map(cell).collect::<Vec<_>>().join(","));
        out.push('\n');
    }
    Ok(out)
}

/// What one row of a section is called.
fn one(section: &str) -> String {
    match section.to_lowercase().as_str() {
        "switches" => "switch".into(),
        "chassis" => "chassis".into(),
        other => other.strip_suffix('s').unwrap_or(other).to_owned(),
    }
}

fn wire(raw: &RawWire) -> Row {
    let mut row: Row = vec![("section", "wire".into())];
    row.extend(raw.name.iter().map(|name| ("name", name.text.clone())));
    row.extend(raw.from.iter().map(|from| ("from", from.text.clone())));
    row.extend(raw.to.iter().map(|to| ("to", to.text.clone())));
    row.extend(raw.attrs.iter().map(|attr| (column(attr.role, &attr.text), attr.text.text.clone())));
    if !raw.ends.is_empty() {
        let ends: Vec<&str> = raw.ends.iter().map(|end| end.text.as_str()).collect();
        row.push(("ends", ends.join("; ")));
    }
    row
}

/// The column of a field, by its content where the row does not say.
fn column(role: Role, text: &Text) -> &'static str {
    match role {
        Role::Size => "size",
        Role::Length | Role::Stub => "length",
        Role::Ohms => "ohms",
        Role::Proof => "proof",
        Role::Colour => "colour",
        Role::Any | Role::Place | Role::Joint => match quantity::parse(&text.text).map(|q| q.unit) {
            Ok(Unit::SquareMillimetre) => "size",
            Ok(Unit::Ohm) => "ohms",
            Ok(_) => "length",
            Err(_) if proof_word(&text.text).is_some() => "proof",
            Err(_) => "colour",
        },
    }
}

fn plug(name: &str, node: &Node, file: &raw::File, rows: &mut Vec<Row>) {
    let Value::Map(pairs) = &node.value else { return };
    for (key, node) in pairs.iter().filter(|(key, _)| ["is", "a", "b"].contains(&key.text.as_str())) {
        let named = format!("{name}.{}", key.text);
        rows.push(vec![("section", "plug".into()), ("name", named), ("row", shown(node))]);
    }
    let Some(plug) = file.plugs.iter().find(|plug| plug.name.is(name)) else { return };
    for way in &plug.ways {
        let mut row: Row = vec![("section", "way".into()), ("plug", name.to_owned()), ("way", way.way.text.clone())];
        let cells = [("old", &way.old), ("new", &way.new), ("from", &way.from), ("to", &way.to), ("proof", &way.proof)];
        row.extend(cells.into_iter().filter_map(|(column, text)| Some((column, text.as_ref()?.text.clone()))));
        let added = way.added.iter().zip(["a", "b"]);
        let added: Vec<String> =
            added.flat_map(|(list, half)| list.iter().map(move |attr| format!("{half} {}", attr.text.text))).collect();
        if !added.is_empty() {
            row.push(("added", added.join("; ")));
        }
        rows.push(row);
    }
}

/// What stands behind a name, as one line.
fn shown(node: &Node) -> String {
    match &node.value {
        // A text that looks like a list would be read as one.
        Value::Scalar(text) if text.starts_with(['[', '{', '"', '\'']) => quoted(text),
        Value::Scalar(text) => text.clone(),
        _ => flow(node),
    }
}

/// A node in brackets.
fn flow(node: &Node) -> String {
    match &node.value {
        Value::Null => String::new(),
        Value::Scalar(text) => {
            let odd = text.contains([',', '[', ']', '{', '}', '"', '\'', '#', ':']) || text.trim() != text;
            let sign = text.is_empty() || text.starts_with(['&', '*', '!', '|', '>', '%', '@', '`', '-', '?']);
            if odd || sign { quoted(text) } else { text.clone() }
        }
        Value::List(items) => format!("[{}]", items.iter().map(flow).collect::<Vec<_>>().join(", ")),
        Value::Map(pairs) => {
            let pair = |(key, node): &(yaml::Key, Node)| format!("{}: {}", key.text.trim(), flow(node));
            format!("{{{}}}", pairs.iter().map(pair).collect::<Vec<_>>().join(", "))
        }
    }
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
