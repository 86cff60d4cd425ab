//! The JSON Schema: what the reader takes it takes, what is misspelt in form it refuses.
//!
//! The validator here walks the part of draft 2020-12 that the schema is made of, and stops at a word it does not know.

use super::catalogue;
use crate::machines::all;
use ohmward::catalogue::Catalogue;
use ohmward::text::span::Source;
use ohmward::text::yaml::{Node, Value as Yaml, parse};
use ohmward::wiring::schema::schema;
use rexpect::reader::Regex;
use serde_json::{Map, Value};
use std::collections::HashMap;
use std::path::Path;

/// A document as an editor sees it. What it would take for numbers are texts here: the schema has to take both.
fn json(node: &Node) -> Value {
    match &node.value {
        Yaml::Null => Value::Null,
        Yaml::Scalar(text) => Value::String(text.clone()),
        Yaml::List(items) => Value::Array(items.iter().map(json).collect()),
        Yaml::Map(pairs) => Value::Object(pairs.iter().map(|(key, node)| (key.text.clone(), json(node))).collect()),
    }
}

struct Validator<'s> {
    root: &'s Value,
    patterns: HashMap<String, Regex>,
}

impl Validator<'_> {
    fn matches(&mut self, pattern: &str, text: &str) -> bool {
        let regex = self.patterns.entry(pattern.to_owned()).or_insert_with(|| Regex::new(pattern).unwrap());
        regex.is_match(text)
    }

    fn is(value: &Value, name: &str) -> bool {
        match name {
            "object" => value.is_object(),
            "array" => value.is_array(),
            "string" => value.is_string(),
            "number" => value.is_number(),
            "integer" => value.is_i64(),
            "boolean" => value.is_boolean(),
            "null" => value.is_null(),
            other => panic!("no type {other}"),
        }
    }

    /// Where and why the value is not as the schema says.
    fn check(&mut self, schema: &Value, value: &Value, at: &str) -> Result<(), String> {
        let rules = schema.as_object().unwrap_or_else(|| panic!("no schema: {schema}"));
        for (word, rule) in rules {
            let wrong = |why: String| Err(format!("{at}: {why}"));
            match word.as_str() {
                "$schema" | "$defs" | "title" | "description" | "examples" | "then" => {}
                "$ref" => {
                    let name = rule.as_str().unwrap().strip_prefix("#/$defs/").unwrap();
                    let target = self.root["$defs"].get(name).unwrap_or_else(|| panic!("no form {name}"));
                    self.check(target, value, at)?;
                }
                "type" => {
                    let names: Vec<&str> = match rule {
                        Value::Array(all) => all.iter().map(|name| name.as_str().unwrap()).collect(),
                        one => vec![one.as_str().unwrap()],
                    };
                    if !names.iter().any(|name| Self::is(value, name)) {
                        return wrong(format!("{value} is none of {names:?}"));
                    }
                }
                "enum" if !rule.as_array().unwrap().contains(value) => return wrong(format!("{value} is not offered")),
                "enum" => {}
                "pattern" => {
                    if let Some(text) = value.as_str()
                        && !self.matches(rule.as_str().unwrap(), text)
                    {
                        return wrong(format!("{text:?} does not look so"));
                    }
                }
                "minItems" | "maxItems" => {
                    let bound = usize::try_from(rule.as_u64().unwrap()).unwrap();
                    let items = value.as_array().map_or(bound, Vec::len);
                    if if word == "minItems" { items < bound } else { items > bound } {
                        return wrong(format!("{items} items"));
                    }
                }
                "minProperties" | "maxProperties" => {
                    let bound = usize::try_from(rule.as_u64().unwrap()).unwrap();
                    let keys = value.as_object().map_or(bound, Map::len);
                    if if word == "minProperties" { keys < bound } else { keys > bound } {
                        return wrong(format!("{keys} keys"));
                    }
                }
                "required" => {
                    if let Some(map) = value.as_object() {
                        let lacks =
                            rule.as_array().unwrap().iter().find(|key| !map.contains_key(key.as_str().unwrap()));
                        if let Some(key) = lacks {
                            return wrong(format!("{key} is missing"));
                        }
                    }
                }
                "items" => {
                    for (n, item) in value.as_array().into_iter().flatten().enumerate() {
                        self.check(rule, item, &format!("{at}[{n}]"))?;
                    }
                }
                "properties" => {
                    for (key, value) in value.as_object().into_iter().flatten() {
                        if let Some(rule) = rule.get(key) {
                            self.check(rule, value, &format!("{at}.{key}"))?;
                        }
                    }
                }
                "additionalProperties" => {
                    for (key, value) in value.as_object().into_iter().flatten() {
                        if rules.get("properties").is_some_and(|known| known.get(key).is_some()) {
                            continue;
                        }
                        match rule {
                            Value::Bool(false) => return wrong(format!("no key {key}")),
                            rule => self.check(rule, value, &format!("{at}.{key}"))?,
                        }
                    }
                }
                "propertyNames" => {
                    for key in value.as_object().into_iter().flat_map(Map::keys) {
                        self.check(rule, &Value::String(key.clone()), &format!("{at}, the key {key}"))?;
                    }
                }
                "anyOf" => {
                    let ways: Vec<String> =
                        rule.as_array().unwrap().iter().filter_map(|way| self.check(way, value, at).err()).collect();
                    if ways.len() == rule.as_array().unwrap().len() {
                        return wrong(format!("{value} fits none: {}", ways.join(" | ")));
                    }
                }
                "allOf" => {
                    for part in rule.as_array().unwrap() {
                        self.check(part, value, at)?;
                    }
                }
                "if" => {
                    if self.check(rule, value, at).is_ok()
                        && let Some(then) = rules.get("then")
                    {
                        self.check(then, value, at)?;
                    }
                }
                other => panic!("the walk does not know {other}"),
            }
        }
        Ok(())
    }
}

fn validate(schema: &Value, text: &str) -> Result<(), String> {
    let tree = parse(&Source::new("t.yaml", text)).unwrap_or_else(|p| panic!("{p:?}"));
    Validator { root: schema, patterns: HashMap::new() }.check(schema, &json(&tree), "")
}

#[test]
fn every_machine_of_ours_is_as_the_schema_says() {
    for built in all() {
        let schema = schema(&built.catalogue);
        validate(&schema, &built.wiring.text).unwrap_or_else(|why| panic!("{}{why}", built.name));
    }
}

#[test]
fn every_form_that_the_reader_takes_the_schema_takes() {
    let schema = schema(&catalogue());
    for text in [
        "machine: x\nparts: {horn: Horn, lamp: \"LED LAMP, 5 W\", f: fuse 10 A, box: {kind: unknown module, amps: 2 A, place: dash, fitted: no}}\n",
        "wires:\n  - a.b to c.d\n  - W1: a.b to c.d, red, 1 m\n  - {from: a.b, to: c.d, ends: [crimp, ring], proof: ok}\n  - from: a.b\n    to: c.d\n",
        "wires: {W1: \"a.b to c.d, red\"}\n",
        "grounds: {G1: {place: dash, on: frame, under: [a.b]}, G2: [a.b], G3: on frame}\n",
        "feeds: {F1: \"fuse 10 A, dash, [a.b]\", F2: \"10 A\", F3: {fuse: 10 A, out: [a.b]}, F4: [a.b]}\n",
        "plugs: {P1: {is: \"a, b\", a: {place: dash, length: 1 m, sleeves: solder sleeve}, ways: [\"1, red, same, a.b, c.d, ?\", [2, red, same, none, none], {way: 3, from: a.b}]}}\n",
        "chassis: frame\n",
        "chassis: [frame, block]\n",
        "chassis: {frame: block by strap 10 AWG, block: alone}\n",
        "switches: {key: {wires: [a, b], off: [., .], on: aa}}\nsleeves: {S1: \"crimp sleeve, dash\", S2: {joint: twist, place: dash}}\n",
        "runs: {a to b: 1 m}\nlooms: {l: [P1, W1], m: {wires: P1, run: 1 m}}\nrecent-work: [P1]\nbench: {meter: volts, helper: no}\n",
    ] {
        validate(&schema, text).unwrap_or_else(|why| panic!("{text}{why}"));
    }
}

#[test]
fn what_is_misspelt_in_form_is_refused() {
    let schema = schema(&catalogue());
    for text in [
        "wire: []\n",
        "parts: {horn: hron}\n",
        "parts: {horn: {kind: horn, wats: 5 W}}\n",
        "parts: {horn: {place: dash}}\n",
        "parts: {my horn: horn}\n",
        "wires: [a.b]\n",
        "wires: [\"a.b to c.d, [e]\"]\n",
        "wires: [{from: a.b}]\n",
        "grounds: {G1: {plaec: dash}}\n",
        "plugs: {P1: {a: dash}}\n",
        "plugs: {P1: {ways: [\"1, 2, 3, 4, 5, 6, 7\"]}}\n",
        "switches: {key: {off: [.]}}\n",
        "sleeves: {S1: {joint: glue}}\n",
        "looms: {l: {wire: [P1]}}\n",
        "bench: {leads: [1, 2], clip: 2}\n",
    ] {
        assert!(validate(&schema, text).is_err(), "{text}");
    }
    // Of the broken files those whose fault is one of form; a pin that is not there needs the whole file.
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/wiring/broken");
    let (mut refused, mut taken) = (Vec::new(), Vec::new());
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        if name.ends_with(".yaml") && parse(&Source::new("t", text.as_str())).is_ok() {
            let list = if validate(&schema, &text).is_err() { &mut refused } else { &mut taken };
            list.push(name);
        }
    }
    assert!(refused.len() > 2 * taken.len() && refused.len() >= 8, "refused {refused:?}, taken {taken:?}");
}

#[test]
fn a_users_own_kind_is_in_it() {
    let own = "kind: mirror heater\nabout: warms a mirror\npins: {feed: [], ground: []}\nratings: {watts: {default: 15 W, spread: 0.1, source: invented}}\nelements:\n  sheet: {type: resistor, from: feed, to: ground, ohms: 144 / watts, spread: 0.1}\nsource: invented\n";
    let rules = Catalogue::with(&[Source::new("kinds/mirror-heater.yaml", own)]).unwrap_or_else(|t| panic!("{t:?}"));
    let text = "parts: {mirror: \"mirror heater, 15 W\", left: {kind: mirror heater, watts: 10 W}}\n";
    validate(&schema(&rules), text).unwrap();
    assert!(validate(&schema(&catalogue()), text).is_err());
    assert!(validate(&schema(&rules), "parts: {left: {kind: mirror heater, amps: 1 A}}\n").is_err());
}
