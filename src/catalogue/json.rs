//! The kinds as JSON, for scripts (`kinds --json`).

use super::Catalogue;
use super::kind::{Element, ElementType, Kind, Param, Showing};
use super::load::type_name;
use indexmap::IndexMap;
use serde_json::{Map, Value, json};

/// Key under which a kind's own control stands: in a machine it is called by its part.
pub const OWN_CONTROL: &str = "part";

/// A list with an object for every kind: `kind`, `also`, `about`, `pins`, `controls`, `showings` (the words that
/// `watch` answers), `modes`, `elements` (their figures at default ratings), `ratings`, `source`.
///
/// ```
/// let list = ohmward::catalogue::json::kinds(&ohmward::catalogue::Catalogue::builtin());
/// let horn = list.as_array().unwrap().iter().find(|kind| kind["kind"] == "horn").unwrap();
/// assert_eq!(horn["pins"][0], "feed");
/// ```
pub fn kinds(catalogue: &Catalogue) -> Value {
    catalogue.kinds.values().map(one).collect()
}

fn one(kind: &Kind) -> Value {
    let mut controls = Map::new();
    if let Some(control) = &kind.control {
        let name = control.shared.as_deref().unwrap_or(OWN_CONTROL);
        controls.insert(name.into(), json!(control.settings));
    }
    let pins: Map<String, Value> = kind.pins.iter().map(|(pin, also)| (pin.clone(), json!(also))).collect();
    let modes: Vec<Value> = kind
        .modes
        .iter()
        .map(|(name, mode)| {
            let argument = mode.argument.as_ref();
            json!({
                "mode": name,
                "argument": argument.map(|a| a.name.as_str()),
                "unit": argument.map(|a| a.unit.symbol()),
                "default": argument.map(|a| json!(a.default)).or_else(|| mode.word.as_ref().map(|w| json!(w))),
                "from": argument.map(|a| a.from),
                "to": argument.map(|a| a.to),
                "weight": mode.weight,
                "repair": mode.repair,
            })
        })
        .collect();
    let ratings: Map<String, Value> = kind
        .ratings
        .iter()
        .map(|(name, r)| {
            (
                name.clone(),
                json!({"unit": r.unit.symbol(), "default": r.default, "spread": r.spread, "source": r.source}),
            )
        })
        .collect();
    let elements: Vec<Value> =
        table_contacts(kind).into_iter().chain(kind.elements.iter().map(|(name, e)| element(kind, name, e))).collect();
    json!({
        "kind": kind.name,
        "also": kind.also,
        "about": kind.about,
        "pins": kind.pins.keys().collect::<Vec<_>>(),
        "pins-also": pins,
        "controls": controls,
        "showings": words(&kind.showings),
        "modes": modes,
        "elements": elements,
        "ratings": ratings,
        "source": kind.source,
    })
}

/// The words of all showings, each once.
fn words(showings: &[Showing]) -> Vec<&str> {
    let mut out: Vec<&str> = Vec::new();
    for word in showings.iter().flat_map(|showing| &showing.words) {
        if !out.contains(&word.as_str()) {
            out.push(word);
        }
    }
    out
}

/// The parameter that an element's spread is about.
fn main_param(what: ElementType) -> &'static str {
    match what {
        ElementType::Filament => "watts",
        ElementType::Diode => "saturation",
        ElementType::Source => "volts",
        ElementType::Motor => "amps",
        ElementType::PulseSource => "high",
        ElementType::Capacitor => "farads",
        ElementType::Mutual => "henries",
        ElementType::Resistor
        | ElementType::Contact
        | ElementType::Interrupter
        | ElementType::Coil
        | ElementType::PulseInput => "ohms",
    }
}

fn element(kind: &Kind, name: &str, element: &Element) -> Value {
    let default = |rating: &str| kind.ratings.get(rating).map(|r| r.default);
    let figure = |param: &Param| match param {
        Param::BySetting(by) => json!(by),
        param => json!(param.value(default)),
    };
    let get = |param: &str| element.params.get(param).and_then(|p| p.value(default));
    let main = element.params.get(main_param(element.what)).or_else(|| element.params.get("ohms"));
    let mut value = match main {
        // A control at rest stands in its first setting.
        Some(Param::BySetting(by)) => json!(by.values().next()),
        Some(param) => json!(param.value(default)),
        None => Value::Null,
    };
    if let (ElementType::Interrupter, Value::Null, Some(v), Some(a), Some(d)) =
        (element.what, &value, get("volts"), get("amps"), get("duty"))
    {
        value = json!(d * v / a);
    }
    let params: Map<String, Value> = element.params.iter().map(|(name, param)| (name.clone(), figure(param))).collect();
    let mut out = json!({
        "name": name,
        "type": type_name(element.what),
        "from": element.from,
        "to": element.to,
        "value": value,
        "spread": element.spread,
        "params": params,
    });
    if !element.closed.is_empty() {
        out["closed"] = json!(element.closed);
    }
    if let Some((coil, make)) = &element.coil {
        out[if *make { "make" } else { "break" }] = json!(coil);
    }
    if let Some(blows) = &element.blows {
        out["blows"] = figure(blows);
    }
    if let Some(lasts) = &element.lasts {
        out["lasts"] = json!(lasts);
    }
    out
}

/// The contacts that a switch's table stands for: pins joined in a setting are chained in the table's order.
fn table_contacts(kind: &Kind) -> Vec<Value> {
    let mut pairs: IndexMap<(&str, &str), Vec<&str>> = IndexMap::new();
    for (setting, groups) in &kind.table {
        for group in groups {
            let mut group: Vec<&str> = group.iter().map(String::as_str).collect();
            group.sort_by_key(|pin| kind.pins.get_index_of(*pin));
            for pair in group.windows(2) {
                pairs.entry((pair[0], pair[1])).or_default().push(setting);
            }
        }
    }
    let (ohms, spread) = kind.table_ohms;
    pairs
        .into_iter()
        .map(|((from, to), closed)| {
            let name = if from <= to { format!("{from}-{to}") } else { format!("{to}-{from}") };
            json!({"name": name, "type": "contact", "from": from, "to": to, "value": ohms, "spread": spread, "closed": closed})
        })
        .collect()
}
