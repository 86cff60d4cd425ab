//! Each section's rows, short and long.

use super::super::fields::{Text, is_name};
use super::super::shape::{Long, Shaper};
use super::plugs::{plug, switch};
use super::*;

/// Reads every section that stands in the file.
pub(super) fn all(top: &Long, file: &mut File, shaper: &mut Shaper) {
    // What stands under a misspelt section is named in the file all the same.
    let mut lost = Vec::new();
    for (_, node) in top.others(keys::SECTIONS) {
        if let Value::Map(pairs) = &node.value {
            lost.extend(pairs.iter().map(|(key, _)| Text { text: key.text.trim().to_owned(), span: key.span }));
        }
    }
    let lost = &mut lost;
    file.machine = top.text("machine", shaper);
    if let Some(node) = top.node("bench") {
        file.bench = bench(node, shaper);
    }
    if let Some(node) = top.node("colours") {
        for (key, node) in shaper.map(node, "colours") {
            if let Some(word) = shaper.text(node, &key.text) {
                file.colours.push((key, word));
            }
        }
    }
    file.pieces = top.node("chassis").map(|node| chassis(node, shaper));
    each(top, "places", shaper, (&mut file.places, lost), place);
    each(top, "parts", shaper, (&mut file.parts, lost), part);
    if let Some(node) = top.node("wires") {
        file.wires = wires(node, shaper);
    }
    each(top, "grounds", shaper, (&mut file.grounds, lost), ground);
    each(top, "feeds", shaper, (&mut file.feeds, lost), feed);
    each(top, "plugs", shaper, (&mut file.plugs, lost), plug);
    each(top, "switches", shaper, (&mut file.switches, lost), switch);
    each(top, "sleeves", shaper, (&mut file.sleeves, lost), sleeve);
    each(top, "runs", shaper, (&mut file.runs, lost), run);
    each(top, "looms", shaper, (&mut file.looms, lost), loom);
    file.recent = top.list("recent-work", shaper);
    file.lost.append(lost);
}

fn each<T>(
    top: &Long,
    section: &str,
    shaper: &mut Shaper,
    (out, lost): (&mut Vec<T>, &mut Vec<Text>),
    read: impl Fn(Text, &Node, &mut Shaper) -> Option<T>,
) {
    let Some(node) = top.node(section) else { return };
    for (key, value) in shaper.map(node, section) {
        // A run's key is two places, all others are names.
        if section == "runs" || shaper.name(&key) {
            let read = read(key.clone(), value, shaper);
            if read.is_none() {
                lost.push(key);
            }
            out.extend(read);
        }
    }
}

pub(super) fn any(texts: Vec<Text>) -> Vec<Attr> {
    texts.into_iter().map(|text| Attr { role: Role::Any, text }).collect()
}

/// Attributes of a long form.
pub(super) fn attrs(long: &Long, keys: &[(&str, Role)], shaper: &mut Shaper) -> Vec<Attr> {
    keys.iter().filter_map(|(key, role)| long.text(key, shaper).map(|text| Attr { role: *role, text })).collect()
}

fn bench(node: &Node, shaper: &mut Shaper) -> RawBench {
    let mut out = RawBench::default();
    let pairs = shaper.map(node, "bench");
    shaper.known(&pairs, "bench", keys::BENCH);
    for (key, node) in pairs {
        if key.is("meter") || key.is("cannot") {
            let list = shaper.texts(node, &key.text);
            out.lists.push((key, list));
        } else if keys::BENCH.iter().any(|k| key.is(k))
            && let Some(text) = shaper.text(node, &key.text)
        {
            out.values.push((key, text));
        }
    }
    out
}

fn chassis(node: &Node, shaper: &mut Shaper) -> Vec<RawPiece> {
    if !matches!(node.value, Value::Map(_)) {
        let names = shaper.texts(node, "chassis");
        return names
            .into_iter()
            .filter(|name| shaper.name(name))
            .map(|name| RawPiece { name, straps: Vec::new() })
            .collect();
    }
    let mut out = Vec::new();
    for (name, node) in shaper.map(node, "chassis") {
        if !shaper.name(&name) {
            continue;
        }
        let mut straps = Vec::new();
        let nodes: Vec<&Node> = match &node.value {
            Value::List(items) => items.iter().collect(),
            _ => vec![node],
        };
        for node in nodes {
            straps.extend(strap(&name, node, shaper));
        }
        out.push(RawPiece { name, straps });
    }
    out
}

/// `block by strap 10 AWG, 0.3 m`, `{to: block, size: 10 AWG, length: 0.3 m}`, or `alone`.
fn strap(piece: &Text, node: &Node, shaper: &mut Shaper) -> Option<RawWire> {
    if matches!(node.value, Value::Map(_)) {
        let long = shaper.long(node, &format!("the strap of {}", piece.text), keys::STRAP);
        let to = long.text("to", shaper);
        let roles = [("size", Role::Size), ("length", Role::Length), ("ohms", Role::Ohms), ("proof", Role::Proof)];
        let attrs = attrs(&long, &roles, shaper);
        let name = long.text("name", shaper);
        return Some(RawWire { name, from: Some(piece.clone()), to, attrs, ends: Vec::new(), span: node.span });
    }
    let row = shaper.row(node, &piece.text)?;
    let mut fields = row.fields.into_iter();
    let first = fields.next()?;
    if first.is("alone") || first.is("no strap") {
        return None;
    }
    // Only ASCII letters: other lower case may be longer, and places in it would not be places in the text.
    let lower = first.text.to_ascii_lowercase();
    let (to, size) = match lower.find(" by ") {
        Some(at) => {
            let rest = lower[at + 4..].trim_start_matches("strap").trim_start_matches("wire");
            let from = first.text.len() - rest.len();
            (first.part(shaper.source, 0, at), Some(first.part(shaper.source, from, first.text.len())))
        }
        None => (first, None),
    };
    let size = size.filter(|size| !size.text.is_empty());
    let attrs = any(size.into_iter().chain(fields).collect());
    Some(RawWire { name: None, from: Some(piece.clone()), to: Some(to), attrs, ends: Vec::new(), span: node.span })
}

fn place(name: Text, node: &Node, shaper: &mut Shaper) -> Option<RawPlace> {
    if matches!(node.value, Value::Map(_)) {
        let long = shaper.long(node, &format!("the place {}", name.text), keys::PLACE);
        let (reach, first) = (long.text("reach", shaper), long.text("first", shaper));
        let warm = long.text("warm", shaper);
        return Some(RawPlace { name, reach, first, warm });
    }
    // A place whose reach is missing is still the place that other rows name.
    let mut fields = shaper.row(node, &name.text).map(|row| row.fields).unwrap_or_default().into_iter();
    Some(RawPlace { reach: fields.next(), first: fields.next(), warm: None, name })
}

fn part(name: Text, node: &Node, shaper: &mut Shaper) -> Option<RawPart> {
    if matches!(node.value, Value::Map(_)) {
        return Some(long_part(name, node, &[], shaper).0);
    }
    let row = shaper.row(node, &name.text)?;
    if let Some(list) = row.list {
        let span = list.first().map_or(node.span, |t| t.span);
        shaper.problem(Problem::at(span, "a part's row takes no list").help("wires of a switch stand under switches:"));
    }
    Some(short_part(name, row.fields))
}

fn short_part(name: Text, fields: Vec<Text>) -> RawPart {
    let mut fields = fields.into_iter();
    let kind = fields.next();
    RawPart { name, kind, fields: fields.collect(), named: Vec::new(), place: None, fitted: true }
}

/// A part as a map; keys that are not its own are ratings. Also returns the map, for what else stands in it.
fn long_part<'n>(name: Text, node: &'n Node, also: &[&str], shaper: &mut Shaper) -> (RawPart, Long<'n>) {
    let long = shaper.open(node, &name.text);
    let mut known = keys::PART.to_vec();
    known.extend(also);
    let others: Vec<(Text, &Node)> = long.others(&known).cloned().collect();
    let mut named = Vec::new();
    for (key, node) in others {
        if let Some(value) = shaper.text(node, &key.text) {
            named.push((key, value));
        }
    }
    let fitted = match long.text("fitted", shaper) {
        Some(word) if ["no", "not", "false"].iter().any(|w| word.is(w)) => false,
        Some(word) if ["yes", "true"].iter().any(|w| word.is(w)) => true,
        Some(word) => {
            shaper.problem(
                Problem::at(word.span, format!("\"{}\" is neither yes nor no", word.text)).help("write yes or no"),
            );
            true
        }
        None => true,
    };
    let (kind, place) = (long.text("kind", shaper), long.text("place", shaper));
    (RawPart { name, kind, fields: Vec::new(), named, place, fitted }, long)
}

fn wires(node: &Node, shaper: &mut Shaper) -> Vec<RawWire> {
    match &node.value {
        Value::List(items) => items.iter().filter_map(|item| wire_item(item, shaper)).collect(),
        Value::Scalar(_) => {
            shaper
                .problem(Problem::at(node.span, "wires is a list of rows").help("- FROM to TO, colour, size, length"));
            Vec::new()
        }
        _ => shaper
            .map(node, "wires")
            .into_iter()
            .filter_map(|(name, node)| if shaper.name(&name) { wire(Some(name), node, shaper) } else { None })
            .collect(),
    }
}

fn wire_item(node: &Node, shaper: &mut Shaper) -> Option<RawWire> {
    let Value::Map(pairs) = &node.value else { return wire(None, node, shaper) };
    let (key, value) = pairs.first()?;
    let key = Text { text: key.text.trim().to_owned(), span: key.span };
    let long = pairs.iter().any(|(k, _)| k.text == "from" || k.text == "to");
    if pairs.len() == 1 && !long {
        if is_name(&key.text) {
            return wire(Some(key), value, shaper);
        }
        shaper.colon(&key);
        return None;
    }
    if !long {
        shaper.colon(&key);
        return None;
    }
    wire(None, node, shaper)
}

const WIRE_ROLES: &[(&str, Role)] = &[
    ("colour", Role::Colour),
    ("size", Role::Size),
    ("length", Role::Length),
    ("ohms", Role::Ohms),
    ("proof", Role::Proof),
];

fn wire(name: Option<Text>, node: &Node, shaper: &mut Shaper) -> Option<RawWire> {
    if matches!(node.value, Value::Map(_)) {
        let long = shaper.long(node, "a wire", keys::WIRE);
        let (from, to) = (long.text("from", shaper), long.text("to", shaper));
        let attrs = attrs(&long, WIRE_ROLES, shaper);
        let ends = long.list("ends", shaper);
        let name = name.or(long.text("name", shaper));
        if let Some(name) = &name {
            shaper.name(name);
        }
        return Some(RawWire { name, from, to, attrs, ends, span: node.span });
    }
    let row = shaper.row(node, "a wire's row")?;
    if let Some(item) = row.list.iter().flatten().next() {
        shaper.problem(
            Problem::at(item.span, "a wire's row takes no list").help("a wire has two ends; join more in a sleeve"),
        );
    }
    let mut fields = row.fields.into_iter();
    let ends = fields.next()?;
    let (from, to) = two_ends(&ends, shaper.source);
    Some(RawWire {
        name,
        from: Some(from).filter(filled),
        to,
        attrs: any(fields.collect()),
        ends: Vec::new(),
        span: node.span,
    })
}

pub(super) fn filled(text: &Text) -> bool {
    !text.text.is_empty()
}

/// `FROM to TO`.
fn two_ends(text: &Text, source: &Source) -> (Text, Option<Text>) {
    let all = &text.text;
    let cut = all.find(" to ").map(|at| (at, at + 4)).or_else(|| {
        let trailing = all.strip_suffix(" to").map(|head| (head.len(), all.len()));
        trailing.or_else(|| all.starts_with("to ").then_some((0, 3)))
    });
    match cut {
        Some((a, b)) => (text.part(source, 0, a), Some(text.part(source, b, all.len())).filter(filled)),
        None => (text.clone(), None),
    }
}

fn items(node: &Node, what: &str, shaper: &mut Shaper) -> Vec<RawItem> {
    match &node.value {
        Value::List(list) => list
            .iter()
            .filter_map(|node| {
                if let Value::Map(pairs) = &node.value {
                    let key = pairs.first().map(|(k, _)| Text { text: k.text.clone(), span: k.span })?;
                    shaper.colon(&key);
                    return None;
                }
                let mut fields = shaper.row(node, what)?.fields.into_iter();
                let point = fields.next()?;
                Some(RawItem { point, attrs: any(fields.collect()), span: node.span })
            })
            .collect(),
        _ => shaper.texts(node, what).into_iter().map(bare).collect(),
    }
}

fn bare(point: Text) -> RawItem {
    RawItem { span: point.span, point, attrs: Vec::new() }
}

fn ground(name: Text, node: &Node, shaper: &mut Shaper) -> Option<RawGround> {
    match &node.value {
        Value::Map(_) => {
            let long = shaper.long(node, &format!("the ground {}", name.text), keys::GROUND);
            let (place, on) = (long.text("place", shaper), long.text("on", shaper));
            let items = long.node("under").map_or_else(Vec::new, |n| items(n, "under", shaper));
            Some(RawGround { name, place, on, items })
        }
        Value::List(_) => Some(RawGround { items: items(node, &name.text, shaper), name, place: None, on: None }),
        _ => {
            let row = shaper.row(node, &name.text)?;
            let mut out = RawGround { name, place: None, on: None, items: Vec::new() };
            for field in row.fields {
                if let Some(at) =
                    field.text.to_ascii_lowercase().strip_prefix("on ").map(|rest| field.text.len() - rest.len())
                {
                    out.on = Some(field.part(shaper.source, at, field.text.len()));
                } else if out.place.is_none() {
                    out.place = Some(field);
                } else {
                    shaper.problem(
                        Problem::at(field.span, format!("a ground's row takes no \"{}\" here", field.text))
                            .help("it is: PLACE, on PIECE, [what is under the bolt]"),
                    );
                }
            }
            out.items = row.list.into_iter().flatten().map(bare).collect();
            Some(out)
        }
    }
}

fn feed(name: Text, node: &Node, shaper: &mut Shaper) -> Option<RawFeed> {
    match &node.value {
        Value::Map(_) => {
            let (mut part, long) = long_part(name, node, keys::FEED, shaper);
            if let Some(fuse) = long.text("fuse", shaper) {
                part.fields.push(fuse);
            }
            let items = long.node("out").map_or_else(Vec::new, |n| items(n, "out", shaper));
            Some(RawFeed { part, items })
        }
        Value::List(_) => {
            let items = items(node, &name.text, shaper);
            Some(RawFeed { part: short_part(name, Vec::new()), items })
        }
        _ => {
            let row = shaper.row(node, &name.text)?;
            let items = row.list.into_iter().flatten().map(bare).collect();
            Some(RawFeed { part: short_part(name, row.fields), items })
        }
    }
}

fn sleeve(name: Text, node: &Node, shaper: &mut Shaper) -> Option<RawSleeve> {
    let attrs = if matches!(node.value, Value::Map(_)) {
        let long = shaper.long(node, &format!("the sleeve {}", name.text), keys::SLEEVE);
        attrs(&long, &[("joint", Role::Joint), ("place", Role::Place)], shaper)
    } else {
        any(shaper.texts(node, &name.text))
    };
    Some(RawSleeve { name, attrs })
}

fn run(key: Text, node: &Node, shaper: &mut Shaper) -> Option<RawRun> {
    let (from, to) = two_ends(&key, shaper.source);
    let length = shaper.text(node, &key.text)?;
    let Some(to) = to.filter(|_| filled(&from)) else {
        shaper
            .problem(Problem::at(key.span, format!("\"{}\" is no run", key.text)).help("write PLACE to PLACE: 1.2 m"));
        return None;
    };
    Some(RawRun { from, to, length })
}

fn loom(name: Text, node: &Node, shaper: &mut Shaper) -> Option<RawLoom> {
    if matches!(node.value, Value::List(_) | Value::Scalar(_)) {
        let wires = shaper.texts(node, &name.text);
        return Some(RawLoom { name, wires, run: None, lies_on: None });
    }
    let long = shaper.long(node, &format!("the loom {}", name.text), keys::LOOM);
    let wires = long.list("wires", shaper);
    let (run, lies_on) = (long.text("run", shaper), long.text("lies-on", shaper));
    Some(RawLoom { name, wires, run, lies_on })
}
