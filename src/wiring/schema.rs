//! The JSON Schema of a wiring file, made of what the reader itself goes by: sections, keys, kinds, joints, colours,
//! proof marks. Draft 2020-12.
//!
//! It says no to what is misspelt in form; what needs the whole file (a pin that is not there, a name given twice) is
//! `check`'s.

use super::lower::{JOINTS, PROOFS, SLEEVES};
use super::raw::keys;
use crate::catalogue::{Catalogue, Kind};
use crate::text::quantity::Unit;
use serde_json::{Map, Value, json};

/// A name, as the contract has it.
const NAME: &str = "^[A-Za-z0-9][A-Za-z0-9_-]*$";

/// The schema under these rules.
///
/// ```
/// use ohmward::{catalogue::Catalogue, wiring::schema::schema};
/// let schema = schema(&Catalogue::builtin());
/// assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
/// assert!(schema["properties"]["plugs"].is_object());
/// ```
pub fn schema(catalogue: &Catalogue) -> Value {
    let mut sections = Map::new();
    for section in keys::SECTIONS {
        sections.insert((*section).to_owned(), self::section(section));
    }
    json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Wiring file",
        "description": "The wiring of one machine, one row for one thing on the bench.",
        "type": "object",
        "minProperties": 1,
        "properties": sections,
        "additionalProperties": false,
        "$defs": defs(catalogue),
    })
}

fn section(name: &str) -> Value {
    let (about, form) = match name {
        "machine" => ("the machine's name for people", of("text")),
        "bench" => ("what there is to measure with", of("bench")),
        "colours" => ("the maker's letters: {BL: black}", map(None, of("text"))),
        "chassis" => ("pieces of metal that carry ground current: {frame: block by strap 10 AWG}", of("chassis")),
        "places" => {
            ("what it takes to get there: easy, 3 min, {reach: 6 min, first: seat off}", map(Some(NAME), of("place")))
        }
        "parts" => ("kind, figures, place: horn, 3.5 A, nose", map(Some(NAME), of("part"))),
        "wires" => ("from to to, colour, size, length, proof", of("wires")),
        "grounds" => ("place, on piece, [what is under the bolt]", map(Some(NAME), of("ground"))),
        "feeds" => ("fuse, place, [what is on it]", map(Some(NAME), of("feed"))),
        "plugs" => ("a row a way: way, old colour, new colour, from, to, proof", map(Some(NAME), of("plug"))),
        "switches" => ("positions by wires, the same letter where joined", map(Some(NAME), of("switch"))),
        "sleeves" => ("joint, place: crimp sleeve, dash", map(Some(NAME), of("sleeve"))),
        "runs" => ("place to place: 1.2 m", map(Some("^.*\\S to \\S.*$"), of("text"))),
        "looms" => {
            ("wires that run together: {wires: [P9, W7], run: 1.6 m, lies-on: frame}", map(Some(NAME), of("loom")))
        }
        _ => ("names of what was worked on lately: [P9, tiller]", of("texts")),
    };
    let mut out = form;
    out["description"] = json!(about);
    out
}

/// A form by its name.
fn of(name: &str) -> Value {
    json!({"$ref": format!("#/$defs/{name}")})
}

/// Rows by name.
fn map(names: Option<&str>, row: Value) -> Value {
    let mut out = json!({"type": ["object", "null"], "additionalProperties": row});
    if let Some(pattern) = names {
        out["propertyNames"] = json!({"pattern": pattern});
    }
    out
}

/// A row in long form: these keys and no others.
fn long(keys: &[&str], required: &[&str], special: &[(&str, Value)]) -> Value {
    let form = |key: &str| special.iter().find(|(k, _)| *k == key).map_or_else(|| of("text"), |(_, form)| form.clone());
    let properties: Map<String, Value> = keys.iter().map(|key| ((*key).to_owned(), form(key))).collect();
    json!({"type": "object", "properties": properties, "required": required, "additionalProperties": false})
}

fn any(forms: &[Value]) -> Value {
    json!({ "anyOf": forms })
}

/// A text row: what it has to look like.
fn row(pattern: &str) -> Value {
    json!({"type": "string", "pattern": pattern})
}

fn defs(catalogue: &Catalogue) -> Value {
    let proof = words(PROOFS.iter().copied().chain(["assumed", "beeped", "not-fitted"]));
    let joints = words(JOINTS.iter().chain(SLEEVES).copied());
    let fields = "(\\s*,[^,\\[\\]]*)*";
    let list = "(\\s*,?\\s*\\[[^\\[\\]]*\\])?";
    let wire_row = row(&format!("^[^,\\[\\]]*\\S to \\S[^,\\[\\]]*{fields}$"));
    let wire_long = long(
        keys::WIRE,
        &["from", "to"],
        &[
            ("proof", proof.clone()),
            ("ends", any(&[row("."), json!({"type": "array", "minItems": 2, "maxItems": 2, "items": of("joint")})])),
            ("name", row(NAME)),
        ],
    );
    let named = json!({
        "type": "object", "minProperties": 1, "maxProperties": 1,
        "propertyNames": {"pattern": NAME}, "additionalProperties": any(&[wire_row.clone(), wire_long.clone()]),
    });
    let way = any(&[
        row("^\\s*[A-Za-z0-9][A-Za-z0-9_-]*(\\s*,[^,]*){0,5}(\\s*,\\s*[abAB] [^,]*)*$"),
        json!({"type": "array", "minItems": 1, "maxItems": 12, "items": of("text")}),
        json!({"type": "integer"}),
        long(keys::WAY, &["way"], &[("proof", proof), ("a", of("texts")), ("b", of("texts"))]),
    ]);
    let half = any(&[of("texts"), long(keys::HALF, &[], &[("sleeves", words(SLEEVES.iter().copied()))])]);
    let is = of("texts");
    let strap = any(&[row(&format!("^[^,]+{fields}$")), long(keys::STRAP, &["to"], &[("name", row(NAME))])]);
    let straps = json!({"type": "array", "items": strap});
    let ground_row = row(&format!("^[^\\[\\]]*{list}$"));
    let items = json!({"type": "array", "items": of("text")});
    json!({
        // What one types without quotes may be a number or a yes to the editor.
        "text": {"type": ["string", "number", "boolean"]},
        "texts": any(&[of("text"), items.clone()]),
        "joint": joints,
        "bench": long(keys::BENCH, &[], &[("meter", of("texts")), ("cannot", of("texts"))]),
        "chassis": any(&[of("texts"), map(Some(NAME), any(&[strap.clone(), straps]))]),
        "place": any(&[of("text"), long(keys::PLACE, &[], &[])]),
        "part": part(catalogue, &[], fields),
        "wires": any(&[
            json!({"type": "null"}),
            json!({"type": "array", "items": any(&[wire_row.clone(), named, wire_long.clone()])}),
            map(Some(NAME), any(&[wire_row, wire_long])),
        ]),
        "ground": any(&[ground_row, items.clone(), json!({"type": "null"}), long(keys::GROUND, &[], &[("under", of("texts"))])]),
        "feed": feed(catalogue, fields, list),
        "plug": long(keys::PLUG, &["ways"], &[
            ("is", is), ("a", half.clone()), ("b", half), ("ways", json!({"type": "array", "items": way})),
        ]),
        "switch": {
            "type": "object", "required": ["wires"], "minProperties": 2,
            "propertyNames": {"pattern": NAME}, "additionalProperties": of("texts"),
        },
        "sleeve": any(&[of("texts"), long(keys::SLEEVE, &[], &[("joint", words(SLEEVES.iter().copied()))])]),
        "loom": any(&[of("texts"), long(keys::LOOM, &[], &[("wires", of("texts"))])]),
    })
}

/// One of these words, in any case, which editors offer.
fn words<'w>(words: impl Iterator<Item = &'w str>) -> Value {
    let all: Vec<&str> = words.collect();
    let pattern: Vec<String> = all.iter().map(|word| any_case(word)).collect();
    any(&[json!({ "enum": all }), row(&format!("^({})$", pattern.join("|")))])
}

/// A part: a row that begins with a kind, or a map of one kind with that kind's ratings.
fn part(catalogue: &Catalogue, more: &[&str], fields: &str) -> Value {
    let short = row(&format!("^\\s*({})(\\s+[0-9.][^,\\[\\]]*)?{fields}$", kinds_pattern(catalogue)));
    let names: Vec<&str> = catalogue.kinds.values().flat_map(spellings).collect();
    let known: Vec<&str> = keys::PART.iter().copied().chain(more.iter().copied()).collect();
    let ratings: Vec<Value> = catalogue
        .kinds
        .values()
        .map(|kind| {
            let allowed: Vec<&str> = known.iter().copied().chain(kind.ratings.keys().map(String::as_str)).collect();
            let own: Vec<&str> = spellings(kind).collect();
            json!({
                "if": {"required": ["kind"], "properties": {"kind": {"enum": own}}},
                "then": {"propertyNames": {"enum": allowed}, "properties": rating_hints(kind)},
            })
        })
        .collect();
    let kind = any(&[json!({ "enum": names }), row(&format!("^({})$", kinds_pattern(catalogue)))]);
    let map = json!({
        "type": "object", "required": ["kind"],
        "properties": {"kind": kind, "place": of("text"), "fitted": of("text")},
        "additionalProperties": of("text"),
        "allOf": ratings,
    });
    let mut out = any(&[short, map]);
    let example = |kind: &Kind| {
        format!(
            "{}{}",
            kind.name,
            kind.ratings.values().next().map_or(String::new(), |r| format!(", {} {}", r.default, r.unit.symbol()))
        )
    };
    out["examples"] = catalogue.kinds.values().map(example).map(Value::from).collect();
    out
}

/// What a rating is without being told, for whoever hovers over it.
fn rating_hints(kind: &Kind) -> Map<String, Value> {
    let hint = |unit: Unit, default: f64| json!({"type": ["string", "number", "boolean"], "description": format!("{} {} unless told", default, unit.symbol()).replace("  ", " ")});
    kind.ratings.iter().map(|(name, rating)| (name.clone(), hint(rating.unit, rating.default))).collect()
}

/// A feed: a fuse, perhaps by its figure alone, and what is on it.
fn feed(catalogue: &Catalogue, fields: &str, list: &str) -> Value {
    let kinds = kinds_pattern(catalogue);
    let short = row(&format!("^\\s*(({kinds})(\\s+[0-9.][^,\\[\\]]*)?|[0-9.][^,\\[\\]]*)?{fields}{list}$"));
    let others = any(&[of("text"), json!({"type": "array", "items": of("text")})]);
    any(&[
        short,
        json!({"type": "number"}),
        json!({"type": "array", "items": of("text")}),
        json!({
            "type": "object",
            "properties": {"out": of("texts"), "fuse": of("text"), "kind": of("text"), "place": of("text")},
            "additionalProperties": others,
        }),
    ])
}

fn spellings(kind: &Kind) -> impl Iterator<Item = &str> {
    std::iter::once(&kind.name).chain(&kind.also).map(String::as_str)
}

/// Every kind's names, the longest first, in any case.
fn kinds_pattern(catalogue: &Catalogue) -> String {
    let mut all: Vec<&str> = catalogue.kinds.values().flat_map(spellings).collect();
    all.sort_by_key(|name| (std::cmp::Reverse(name.len()), *name));
    all.iter().map(|name| any_case(name)).collect::<Vec<_>>().join("|")
}

/// A word as a pattern that takes it in any case.
fn any_case(word: &str) -> String {
    let letter = |c: char| {
        if c.is_ascii_alphabetic() {
            format!("[{}{}]", c.to_ascii_uppercase(), c.to_ascii_lowercase())
        } else if c.is_ascii_alphanumeric() || matches!(c, ' ' | '-' | '_') {
            c.to_string()
        } else {
            format!("\\{c}")
        }
    };
    word.chars().map(letter).collect()
}
