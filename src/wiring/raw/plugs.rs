//! Rows of plugs and of switches.

use super::super::fields::{Row, Text};
use super::super::shape::Shaper;
use super::sections::{any, attrs, filled};
use super::*;

/// A plug with its halves and its ways.
pub(super) fn plug(name: Text, node: &Node, shaper: &mut Shaper) -> Option<RawPlug> {
    let long = shaper.long(node, &format!("the plug {}", name.text), keys::PLUG);
    let is = long.node("is").map(|node| shaper.texts(node, "is")).map(|list| {
        let words: Vec<&str> = list.iter().map(|t| t.text.as_str()).collect();
        Text { text: words.join(", "), span: list.first().map_or(Span::default(), |t| t.span) }
    });
    let halves = ["a", "b"].map(|half| long.node(half).map_or_else(Vec::new, |node| plug_half(half, node, shaper)));
    let mut ways = Vec::new();
    match long.node("ways").map(|node| &node.value) {
        Some(Value::List(items)) => {
            for item in items {
                ways.extend(way(item, shaper));
            }
        }
        Some(_) => shaper.problem(
            Problem::at(long.node("ways").map_or(name.span, |n| n.span), "ways is a list of rows")
                .help("- 1, orange, same, FROM, TO, proof"),
        ),
        None => shaper.problem(
            Problem::at(name.span, format!("{} has no ways", name.text))
                .help("write ways: and a row for each wire in the plug"),
        ),
    }
    Some(RawPlug { name, is, halves, ways })
}

fn plug_half(half: &str, node: &Node, shaper: &mut Shaper) -> Vec<Attr> {
    if matches!(node.value, Value::Map(_)) {
        let long = shaper.long(node, &format!("half {half}"), keys::HALF);
        let roles = [
            ("place", Role::Place),
            ("length", Role::Length),
            ("size", Role::Size),
            ("sleeves", Role::Joint),
            ("stub", Role::Stub),
        ];
        return attrs(&long, &roles, shaper);
    }
    any(shaper.texts(node, &format!("half {half}")))
}

fn way(node: &Node, shaper: &mut Shaper) -> Option<RawWay> {
    let span = node.span;
    if let Value::Map(pairs) = &node.value {
        if !pairs.iter().any(|(k, _)| k.text == "way") {
            let key = pairs.first().map(|(k, _)| Text { text: k.text.clone(), span: k.span })?;
            shaper.colon(&key);
            return None;
        }
        let long = shaper.long(node, "a plug's row", keys::WAY);
        let way = long.text("way", shaper)?;
        let [old, new, from, to, proof] = ["old", "new", "from", "to", "proof"].map(|key| long.text(key, shaper));
        let added = ["a", "b"].map(|half| long.node(half).map_or_else(Vec::new, |node| any(shaper.texts(node, half))));
        return Some(RawWay { way, old, new, from, to, proof, added, span });
    }
    let row = match &node.value {
        Value::List(_) => Row { fields: shaper.texts(node, "a plug's row"), list: None },
        _ => shaper.row(node, "a plug's row")?,
    };
    let mut fields = row.fields;
    let behind = fields.split_off(fields.len().min(5));
    let mut proof: Vec<Option<Text>> = Vec::new();
    let mut added = [Vec::new(), Vec::new()];
    let mut extra = row.list.into_iter().flatten().next();
    for field in behind {
        match of_half(&field, shaper) {
            Some((index, text)) => added[index].push(Attr { role: Role::Any, text }),
            None if proof.is_empty() => proof.push(Some(field).filter(filled)),
            None => extra = extra.or(Some(field)),
        }
    }
    if let Some(extra) = extra {
        shaper.problem(Problem::at(extra.span, format!("a plug's row ends before \"{}\"", extra.text)).help(
            "it is: way, old colour, new colour, from, to, proof; what only this way's added wire is: a 2.5 mm2, b red",
        ));
    }
    let mut fields = fields.into_iter().map(|f| Some(f).filter(filled));
    let way = fields.next().flatten()?;
    let mut next = || fields.next().flatten();
    let (old, new, from, to) = (next(), next(), next(), next());
    Some(RawWay { way, old, new, from, to, proof: proof.into_iter().flatten().next(), added, span })
}

/// `a 2.5 mm2`: what only this way's added wire is on that half.
fn of_half(field: &Text, shaper: &Shaper) -> Option<(usize, Text)> {
    let index = ["a ", "b "].iter().position(|half| field.text.to_ascii_lowercase().starts_with(half))?;
    Some((index, field.part(shaper.source, 2, field.text.len())))
}

/// A switch by its wires and its settings.
pub(super) fn switch(part: Text, node: &Node, shaper: &mut Shaper) -> Option<RawSwitch> {
    let pairs = shaper.map(node, &format!("the switch {}", part.text));
    let mut out = RawSwitch { part, wires: Vec::new(), settings: Vec::new() };
    for (key, node) in pairs {
        let texts = letters(node, &key.text, shaper);
        if key.is("wires") {
            out.wires = texts;
        } else if shaper.name(&key) {
            out.settings.push((key, texts));
        }
    }
    Some(out)
}

/// A list of letters; `a a . b` and `aa.b` are lists too.
fn letters(node: &Node, what: &str, shaper: &mut Shaper) -> Vec<Text> {
    let texts = shaper.texts(node, what);
    if matches!(node.value, Value::List(_)) || texts.len() != 1 {
        return texts;
    }
    let whole = &texts[0];
    if whole.text.contains(' ') {
        let mut at = 0;
        return whole
            .text
            .split(' ')
            .filter_map(|piece| {
                let from = at;
                at += piece.len() + 1;
                (!piece.is_empty()).then(|| whole.part(shaper.source, from, from + piece.len()))
            })
            .collect();
    }
    if what.eq_ignore_ascii_case("wires") {
        return texts;
    }
    whole.text.char_indices().map(|(i, c)| whole.part(shaper.source, i, i + c.len_utf8())).collect()
}
