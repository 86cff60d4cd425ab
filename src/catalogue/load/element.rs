//! Elements, their parameters, and what a mode does to them.

use super::fields::{Fields, Log, figure, text, texts};
use crate::catalogue::kind::{Action, BLOWS, Element, ElementType, Param};
use crate::text::quantity::Unit;
use crate::text::words::nearest;
use crate::text::yaml::{Node, Value};
use indexmap::IndexMap;

/// Name, type, and its parameters: name, unit, needed.
type Shape = (&'static str, ElementType, &'static [(&'static str, Unit, bool)]);

/// The closed set, as the rules write it.
const SHAPES: [Shape; 12] = [
    ("resistor", ElementType::Resistor, &[("ohms", Unit::Ohm, true)]),
    (
        "filament",
        ElementType::Filament,
        &[("volts", Unit::Volt, true), ("watts", Unit::Watt, true), ("cold", Unit::One, true)],
    ),
    (
        "diode",
        ElementType::Diode,
        &[("saturation", Unit::Amp, true), ("emission", Unit::One, true), ("series", Unit::Ohm, true)],
    ),
    ("contact", ElementType::Contact, &[("ohms", Unit::Ohm, true)]),
    (
        "source",
        ElementType::Source,
        &[("volts", Unit::Volt, true), ("ohms", Unit::Ohm, true), ("charge-ohms", Unit::Ohm, false)],
    ),
    (
        "motor",
        ElementType::Motor,
        &[("volts", Unit::Volt, true), ("amps", Unit::Amp, true), ("stall", Unit::Ohm, true)],
    ),
    (
        "interrupter",
        ElementType::Interrupter,
        &[
            ("volts", Unit::Volt, false),
            ("amps", Unit::Amp, false),
            ("ohms", Unit::Ohm, false),
            ("hertz", Unit::Hertz, true),
            ("duty", Unit::One, true),
            ("works-volts", Unit::Volt, false),
            ("works-amps", Unit::Amp, false),
        ],
    ),
    (
        "coil",
        ElementType::Coil,
        &[
            ("ohms", Unit::Ohm, true),
            ("pull-in", Unit::Volt, true),
            ("drop-out", Unit::Volt, true),
            ("turns", Unit::One, false),
        ],
    ),
    (
        "pulse-source",
        ElementType::PulseSource,
        &[
            ("low", Unit::Volt, true),
            ("high", Unit::Volt, false),
            ("ohms", Unit::Ohm, true),
            ("per-turn", Unit::One, true),
        ],
    ),
    (
        "pulse-input",
        ElementType::PulseInput,
        &[("ohms", Unit::Ohm, true), ("lower", Unit::Volt, true), ("upper", Unit::Volt, true)],
    ),
    ("capacitor", ElementType::Capacitor, &[("farads", Unit::One, true)]),
    ("mutual", ElementType::Mutual, &[("henries", Unit::One, true)]),
];

/// The name the rules use for a type.
pub(in crate::catalogue) fn type_name(what: ElementType) -> &'static str {
    SHAPES.iter().find(|shape| shape.1 == what).map_or("", |shape| shape.0)
}

/// The unit of a type's parameter.
pub(in crate::catalogue) fn param_unit(what: ElementType, param: &str) -> Option<Unit> {
    let (_, _, params) = SHAPES.iter().find(|shape| shape.1 == what)?;
    params.iter().find(|p| p.0 == param).map(|p| p.1)
}

/// Reads one element.
pub(super) fn read(node: &Node, name: &str, settings: &[String], log: &mut Log) -> Option<Element> {
    let what = format!("element {name}");
    let type_node =
        Fields::any(node, &what, &mut Log { problems: Vec::new(), strict: false }).and_then(|f| f.get("type"));
    let Some(type_node) = type_node else {
        // Says what is wrong with it: no map, or no type.
        Fields::any(node, &what, log)?.need("type", log);
        return None;
    };
    let type_text = text(type_node, "type", log)?;
    let Some((_, kind, params)) = SHAPES.iter().find(|shape| shape.0 == type_text) else {
        log.unknown(type_node.span, "type of element", type_text, SHAPES.iter().map(|s| s.0));
        return None;
    };
    let mut known = vec!["type", "from", "to"];
    known.extend(params.iter().map(|p| p.0));
    if *kind == ElementType::Contact {
        known.extend(["closed", "make", "break", BLOWS, "lasts"]);
    }
    if *kind == ElementType::Coil {
        known.push("helped-by");
    }
    known.push("spread");
    let fields = Fields::of(node, &what, &known, log)?;
    let mut element = Element {
        what: *kind,
        from: fields.need_text("from", log),
        to: fields.need_text("to", log),
        params: IndexMap::new(),
        spread: fields.figure("spread", Unit::One, log).unwrap_or(0.1),
        closed: fields.texts("closed", log),
        coil: None,
        helper: fields.text("helped-by", log),
        blows: fields.get(BLOWS).and_then(|n| param(n, BLOWS, Unit::Amp, settings, log)),
        lasts: fields.text("lasts", log),
    };
    for (name, unit, needed) in *params {
        let found = if *needed { fields.need(name, log) } else { fields.get(name) };
        if let Some(value) = found.and_then(|n| param(n, name, *unit, settings, log)) {
            element.params.insert((*name).to_owned(), value);
        }
    }
    for (key, make) in [("make", true), ("break", false)] {
        if let Some(coil) = fields.text(key, log) {
            element.coil = Some((coil, make));
        }
    }
    Some(element)
}

/// A parameter: a figure, a rating, a law of a rating, or figures by setting.
pub(super) fn param(node: &Node, name: &str, unit: Unit, settings: &[String], log: &mut Log) -> Option<Param> {
    if let Value::Map(_) = node.value {
        let fields = Fields::any(node, name, log)?;
        let mut by = IndexMap::new();
        for (key, value) in fields.iter() {
            if settings.contains(&key.text) {
                by.insert(key.text.clone(), figure(value, name, unit, log)?);
            } else {
                log.unknown(key.span, "setting", &key.text, settings.iter().map(String::as_str));
            }
        }
        for setting in settings.iter().filter(|s| !by.contains_key(*s)) {
            log.at(node.span, format!("{name} says nothing for the setting {setting}"));
        }
        return Some(Param::BySetting(by));
    }
    let text = text(node, name, log)?;
    if let Some(law) = law(text) {
        return Some(law);
    }
    if text.starts_with(|c: char| c.is_alphabetic()) {
        return Some(Param::Rating(text.to_owned()));
    }
    figure(node, name, unit, log).map(Param::Value)
}

/// `1.054 * volts`, `0.25 / capacity`, `0.1285 / amps^1.23`.
fn law(text: &str) -> Option<Param> {
    let (at, sign) = text.find('*').map(|i| (i, 1.0)).or_else(|| text.find('/').map(|i| (i, -1.0)))?;
    let times: f64 = text[..at].trim().parse().ok()?;
    let rest = text[at + 1..].trim();
    let (rating, power) = rest.split_once('^').unwrap_or((rest, "1"));
    let power: f64 = power.trim().parse().ok()?;
    (times.is_finite() && power.is_finite() && rating.trim().starts_with(|c: char| c.is_alphabetic()))
        .then(|| Param::Law { rating: rating.trim().to_owned(), times, power: sign * power })
}

/// `open`, `series`, `set volts`, `fix works-volts 1000`.
pub(super) fn action(node: &Node, log: &mut Log) -> Option<Action> {
    let text = text(node, "what a mode does", log)?;
    let words: Vec<&str> = text.split_whitespace().collect();
    let action = match words[..] {
        ["open"] => Action::Open,
        ["close"] => Action::Close,
        ["series"] => Action::Series,
        ["shunt"] => Action::Shunt,
        ["bridge"] => Action::Bridge,
        ["reverse"] => Action::Reverse,
        ["led"] => Action::Led,
        ["scale", name] => Action::Scale(name.to_owned()),
        ["set", name] => Action::Set(name.to_owned()),
        ["fix", name, value] => match value.parse::<f64>() {
            Ok(value) if value.is_finite() => Action::Fix(name.to_owned(), value),
            _ => {
                log.helped(node.span, format!("\"{value}\" is no number"), "write `fix works-volts 1000`");
                return None;
            }
        },
        _ => {
            const KNOWN: [&str; 10] =
                ["open", "close", "series", "shunt", "bridge", "reverse", "led", "scale", "set", "fix"];
            let word = words.first().copied().unwrap_or_default();
            let help = match nearest(word, KNOWN) {
                Some(near) => format!("nearest: {near}; write `set volts`, `scale ohms`, `fix works-volts 1000`"),
                None => format!("possible: {}", KNOWN.join(", ")),
            };
            log.helped(node.span, format!("a mode cannot do \"{text}\""), help);
            return None;
        }
    };
    Some(action)
}

/// Groups of joined pins: `[[a, b], [c, d]]`.
pub(super) fn groups(node: &Node, log: &mut Log) -> Vec<Vec<String>> {
    match &node.value {
        Value::List(items) => items.iter().map(|item| texts(item, "joined pins", log)).collect(),
        Value::Null => Vec::new(),
        _ => {
            log.helped(node.span, "a setting joins groups of pins", "write [[feed, lights], [start, ignition]]");
            Vec::new()
        }
    }
}
