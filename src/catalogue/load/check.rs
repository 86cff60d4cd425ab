//! What the fields of a kind say of each other: pins that elements end at, repairs that modes name, and the like.

use super::Trouble;
use super::fields::Log;
use crate::catalogue::Catalogue;
use crate::catalogue::kind::{ALL_CONTACTS, Action, BLOWS, Element, ElementType, Kind, Measure, Mode, Param};
use crate::catalogue::load::element::{param_unit, type_name};
use crate::text::problem::Problem;
use crate::text::quantity::Unit;
use crate::text::span::{Source, Span};
use crate::text::words::nearest;
use crate::text::yaml::{Node, Value};

/// Checks one kind, which stands in `root`.
pub(super) fn kind(kind: &Kind, root: &Node, log: &mut Log) {
    pins(kind, root, log);
    for (name, element) in &kind.elements {
        one_element(kind, name, element, span_of(root, &["elements", name]), log);
    }
    inner_nodes(kind, root, log);
    table(kind, root, log);
    for showing in &kind.showings {
        measure(kind, &showing.by, span_of(root, &["showings"]), log);
    }
    for (name, mode) in &kind.modes {
        one_mode(kind, mode, span_of(root, &["modes", name]), log);
    }
    for name in kind.repairs.keys().filter(|name| kind.modes.values().all(|mode| mode.repair != **name)) {
        log.at(span_of(root, &["repairs", name]), format!("no mode asks for the repair {name}"));
    }
}

/// The span of what stands at this path of keys; of the last key that is there.
fn span_of(root: &Node, path: &[&str]) -> Span {
    let mut node = root;
    let mut span = root.span;
    for key in path {
        let Value::Map(pairs) = &node.value else { break };
        let Some((at, value)) = pairs.iter().find(|(k, _)| k.text == *key) else { break };
        span = at.span;
        node = value;
    }
    span
}

fn pins(kind: &Kind, root: &Node, log: &mut Log) {
    let span = span_of(root, &["pins"]);
    if kind.pins.is_empty() {
        log.helped(span, "a kind needs pins", "write `feed: [other, names]` rows");
    }
    let mut seen: Vec<String> = Vec::new();
    for (pin, also) in &kind.pins {
        for name in std::iter::once(pin).chain(also) {
            let lower = name.to_lowercase();
            if seen.contains(&lower) {
                log.at(span_of(root, &["pins", pin]), format!("two pins are called {name}"));
            }
            seen.push(lower);
        }
        let good = pin.starts_with(|c: char| c.is_ascii_alphanumeric())
            && pin.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_'));
        if !good {
            log.helped(
                span_of(root, &["pins", pin]),
                format!("\"{pin}\" cannot be a pin's name"),
                "letters, digits, - and _; other names may hold more",
            );
        }
    }
}

/// Says that `word` is no pin of the kind; true if it is one.
fn is_pin(kind: &Kind, word: &str, span: Span, log: &mut Log) -> bool {
    let known = kind.pins.contains_key(word);
    if !known {
        log.unknown(span, "pin", word, kind.pins.keys().map(String::as_str));
    }
    known
}

fn is_setting(kind: &Kind, word: &str, span: Span, log: &mut Log) {
    let settings = kind.control.as_ref().map(|c| c.settings.as_slice()).unwrap_or_default();
    if !settings.iter().any(|s| s == word) {
        log.unknown(span, "setting", word, settings.iter().map(String::as_str));
    }
}

fn one_element(kind: &Kind, name: &str, element: &Element, span: Span, log: &mut Log) {
    for end in [&element.from, &element.to] {
        if !end.starts_with('.') {
            is_pin(kind, end, span, log);
        }
    }
    if element.from == element.to {
        log.at(span, format!("{name} begins and ends at {}", element.from));
    }
    if name == ALL_CONTACTS || name.contains('/') {
        log.at(span, format!("an element cannot be called {name}"));
    }
    if !(0.0..=3.0).contains(&element.spread) {
        log.helped(
            span,
            format!("the spread of {name} is out of reach"),
            "a spread is a standard deviation of ln(value), 0.1 is 10 %",
        );
    }
    let params = element.params.iter().map(|(n, p)| (n.as_str(), p));
    for (param_name, param) in params.chain(element.blows.iter().map(|p| (BLOWS, p))) {
        match param {
            Param::Rating(rating) | Param::Law { rating, .. } => match kind.ratings.get(rating) {
                None => log.unknown(span, "rating", rating, kind.ratings.keys().map(String::as_str)),
                Some(found) => {
                    let unit = if param_name == BLOWS { Some(Unit::Amp) } else { param_unit(element.what, param_name) };
                    if matches!(param, Param::Rating(_)) && unit != Some(found.unit) {
                        log.at(span, format!("{param_name} of {name} has another unit than the rating {rating}"));
                    }
                }
            },
            Param::BySetting(_) if by_setting(element.what) && param_name != BLOWS => {}
            Param::BySetting(_) => log.helped(
                span,
                format!("{param_name} of {name} may not go by setting"),
                "resistors, filaments, diodes, sources and motors may",
            ),
            Param::Value(_) => {}
        }
    }
    let moved = usize::from(!element.closed.is_empty())
        + usize::from(element.coil.is_some())
        + usize::from(element.blows.is_some());
    if element.lasts.is_some() && element.blows.is_none() {
        log.helped(span, format!("{name} lasts, but nothing says at how many amps it blows"), "add blows: amps");
    }
    if moved > 1 {
        log.at(span, format!("{name} is moved by more than one thing"));
    }
    for setting in &element.closed {
        is_setting(kind, setting, span, log);
    }
    if let Some((coil, _)) = &element.coil
        && kind.elements.get(coil).is_none_or(|e| e.what != ElementType::Coil)
    {
        let coils = kind.elements.iter().filter(|(_, e)| e.what == ElementType::Coil).map(|(n, _)| n.as_str());
        log.unknown(span, "coil", coil, coils);
    }
    if let Some(helper) = &element.helper {
        let winding = |e: &Element| matches!(e.what, ElementType::Coil | ElementType::Resistor);
        if helper == name || kind.elements.get(helper).is_none_or(|e| !winding(e)) {
            let windings = kind.elements.iter().filter(|(n, e)| *n != name && winding(e)).map(|(n, _)| n.as_str());
            log.unknown(span, "winding", helper, windings);
        }
    }
    physics(kind, name, element, span, log);
}

/// What may have other figures in every setting: whatever no event is judged by.
fn by_setting(what: ElementType) -> bool {
    use ElementType::{Diode, Filament, Motor, Resistor, Source};
    matches!(what, Resistor | Filament | Diode | Source | Motor)
}

/// Values that no such thing can have.
fn physics(kind: &Kind, name: &str, element: &Element, span: Span, log: &mut Log) {
    let value = |param: &str| {
        element.params.get(param).and_then(|p| p.value(|rating| kind.ratings.get(rating).map(|r| r.default)))
    };
    for (param, found) in &element.params {
        let values = match found {
            Param::BySetting(by) => by.values().copied().collect(),
            _ => value(param).into_iter().collect::<Vec<f64>>(),
        };
        let zero_is_fine = matches!(param.as_str(), "low" | "works-volts" | "works-amps");
        if values.iter().any(|&v| v < 0.0 || (v == 0.0 && !zero_is_fine)) {
            log.at(span, format!("{param} of {name} must be above zero"));
        }
    }
    let mut ask = |holds: bool, text: &str| {
        if !holds {
            log.at(span, format!("{name}: {text}"));
        }
    };
    let below = |a: Option<f64>, b: Option<f64>| a.zip(b).is_none_or(|(a, b)| a < b);
    match element.what {
        ElementType::Coil => ask(below(value("drop-out"), value("pull-in")), "a coil drops out below its pull-in"),
        ElementType::PulseInput => ask(below(value("lower"), value("upper")), "lower must be below upper"),
        ElementType::PulseSource => ask(below(value("low"), value("high")), "low must be below high"),
        ElementType::Filament => ask(below(value("cold"), Some(1.0)), "cold is a share of the hot ohms"),
        ElementType::Interrupter => {
            ask(below(value("duty"), Some(1.0)), "duty is a share of the time");
            let by_amps = element.params.contains_key("amps") && element.params.contains_key("volts");
            ask(by_amps || element.params.contains_key("ohms"), "an interrupter needs volts and amps, or ohms");
        }
        ElementType::Motor => {
            let stalled = value("volts").zip(value("stall")).map(|(v, r)| v / 5.0 / r);
            ask(
                stalled.zip(value("amps")).is_none_or(|(s, a)| s <= a * 1.000_001),
                "its stalled amps at a fifth of its volts are more than its running amps",
            );
        }
        _ => {}
    }
}

/// A node inside the part that one element alone ends at carries nothing.
fn inner_nodes(kind: &Kind, root: &Node, log: &mut Log) {
    let ends = || kind.elements.values().flat_map(|e| [&e.from, &e.to]);
    for (name, element) in &kind.elements {
        for end in [&element.from, &element.to] {
            if end.starts_with('.') && ends().filter(|e| *e == end).count() < 2 {
                log.at(span_of(root, &["elements", name]), format!("nothing but {name} ends at {end}"));
            }
        }
    }
}

fn table(kind: &Kind, root: &Node, log: &mut Log) {
    for (setting, groups) in &kind.table {
        let span = span_of(root, &["table", setting]);
        is_setting(kind, setting, span, log);
        for group in groups {
            if group.len() < 2 {
                log.helped(span, "a group joins at least two pins", "write [[feed, lights]]");
            }
            for pin in group {
                is_pin(kind, pin, span, log);
            }
        }
    }
    if !(kind.table_ohms.0 > 0.0 && kind.table_ohms.1 >= 0.0) {
        log.at(span_of(root, &["table-ohms"]), "table-ohms must be above zero");
    }
}

fn measure(kind: &Kind, by: &Measure, span: Span, log: &mut Log) {
    let mut of = |name: &str, types: &[ElementType]| match kind.elements.get(name) {
        None => log.unknown(span, "element", name, kind.elements.keys().map(String::as_str)),
        Some(e) if !types.is_empty() && !types.contains(&e.what) => {
            let wanted: Vec<&str> = types.iter().map(|t| type_name(*t)).collect();
            log.at(span, format!("{name} is a {}, the showing needs a {}", type_name(e.what), wanted.join(" or a ")));
        }
        Some(_) => {}
    };
    match by {
        Measure::VoltsRatio { of: name } => {
            of(name, &[ElementType::Filament, ElementType::Motor, ElementType::Interrupter, ElementType::Source])
        }
        Measure::Level { of: name, rated, .. } => {
            of(name, &[]);
            known_ratings(kind, rated.iter(), span, log);
        }
        Measure::Needle { of: name, zero, full, .. } => {
            of(name, &[]);
            known_ratings(kind, [zero, full].into_iter(), span, log);
            let at = |param: &Param| param.value(|rating| kind.ratings.get(rating).map(|r| r.default));
            if at(zero).zip(at(full)).is_some_and(|(zero, full)| zero >= full) {
                log.at(span, "zero must be below full");
            }
        }
        Measure::Flashes { of: name, rated, fast_below, fast } => {
            of(name, &[ElementType::Interrupter]);
            known_ratings(kind, rated.iter().chain(fast_below), span, log);
            if *fast <= 0.0 {
                log.at(span, "fast must be above zero");
            }
        }
        Measure::AmpsShare { of: [one, other], zero, full, .. } => {
            of(one, &[]);
            of(other, &[]);
            if zero >= full {
                log.at(span, "zero must be below full");
            }
        }
        Measure::Pulses { of: name, supply, full, per_turn, .. } => {
            of(name, &[ElementType::PulseInput]);
            for pin in supply {
                is_pin(kind, pin, span, log);
            }
            known_ratings(kind, [full, per_turn].into_iter(), span, log);
        }
        Measure::Pulled { of: name } => of(name, &[ElementType::Coil]),
        Measure::Contact { of: name } | Measure::Fuse { of: name } => of(name, &[ElementType::Contact]),
    }
}

/// Says which ratings the kind does not have.
fn known_ratings<'a>(kind: &Kind, params: impl Iterator<Item = &'a Param>, span: Span, log: &mut Log) {
    for param in params {
        if let Param::Rating(rating) | Param::Law { rating, .. } = param
            && !kind.ratings.contains_key(rating)
        {
            log.unknown(span, "rating", rating, kind.ratings.keys().map(String::as_str));
        }
    }
}

fn one_mode(kind: &Kind, mode: &Mode, span: Span, log: &mut Log) {
    if !kind.repairs.contains_key(&mode.repair) {
        log.unknown(span, "repair", &mode.repair, kind.repairs.keys().map(String::as_str));
    }
    if mode.argument.is_some() && mode.word.is_some() {
        log.at(span, "a mode has an argument or a word, not both");
    }
    if mode.does.is_empty() {
        log.at(span, "a mode must do something");
    }
    let takes = |action: &Action| {
        matches!(action, Action::Series | Action::Shunt | Action::Bridge | Action::Scale(_) | Action::Set(_))
    };
    if mode.argument.is_none() && mode.does.iter().any(|(_, action)| takes(action)) {
        log.helped(
            span,
            "what this mode does needs an argument",
            "argument: {name: ohms, default: 2 ohm, from: 0.2 ohm, to: 50 ohm}",
        );
    }
    if mode.argument.is_some() && !mode.does.iter().any(|(_, action)| takes(action)) {
        log.at(span, "nothing that this mode does uses its argument");
    }
    for (site, action) in &mode.does {
        does(kind, mode, site, action, span, log);
    }
}

fn does(kind: &Kind, mode: &Mode, site: &str, action: &Action, span: Span, log: &mut Log) {
    let unit = mode.argument.as_ref().map(|a| a.unit);
    if matches!(action, Action::Series | Action::Shunt | Action::Bridge) && unit.is_some_and(|u| u != Unit::Ohm) {
        log.at(span, "its argument must be in ohm");
    }
    if *action == Action::Bridge {
        match site.split_once('/') {
            Some((a, b)) => {
                is_pin(kind, a, span, log);
                is_pin(kind, b, span, log);
            }
            None => log.helped(span, "a bridge needs two pins", "write `feed/ground: bridge`"),
        }
        return;
    }
    if site == ALL_CONTACTS {
        if kind.table.is_empty() && !kind.own_table {
            log.at(span, "the kind has no table");
        }
        if !matches!(action, Action::Open | Action::Close | Action::Series | Action::Shunt) {
            log.at(span, "the contacts of a table can be open, close, series or shunt");
        }
        return;
    }
    let Some(element) = kind.elements.get(site) else {
        log.unknown(span, "element", site, kind.elements.keys().map(String::as_str));
        return;
    };
    match action {
        Action::Close if element.what != ElementType::Contact => {
            log.at(span, format!("{site} is no contact: it cannot close"))
        }
        Action::Led if element.what != ElementType::Filament => log.at(span, format!("{site} is no filament")),
        Action::Scale(name) | Action::Set(name) | Action::Fix(name, _) => {
            let there = element.params.contains_key(name) || (name == BLOWS && element.blows.is_some());
            let wanted = if name == BLOWS { Some(Unit::Amp) } else { param_unit(element.what, name) };
            if !there {
                let known = element.params.keys().map(String::as_str).chain(element.blows.iter().map(|_| BLOWS));
                log.unknown(span, "parameter", name, known);
            } else if matches!(action, Action::Set(_)) && unit != wanted {
                log.at(span, format!("its argument has another unit than {name} of {site}"));
            } else if matches!(action, Action::Scale(_)) && unit != Some(Unit::One) {
                log.at(span, "a factor is a bare number");
            }
        }
        _ => {}
    }
}

/// Two kinds must not answer to one name.
pub(super) fn nicknames(catalogue: &Catalogue, files: &[Source]) -> Vec<Trouble> {
    let mut owner: Vec<(String, &str)> = Vec::new();
    let mut troubles = Vec::new();
    for kind in catalogue.kinds.values() {
        for name in std::iter::once(&kind.name).chain(&kind.also) {
            let lower = name.to_lowercase();
            match owner.iter().find(|(other, _)| *other == lower) {
                Some((_, other)) if *other != kind.name => {
                    // Told at the file among these that holds one of the two.
                    let holds =
                        |k: &str| files.iter().find(|f| f.text.lines().any(|l| l.trim_end() == format!("kind: {k}")));
                    if let Some(source) = holds(&kind.name).or_else(|| holds(other)) {
                        let at = source.text.find(name.as_str()).unwrap_or_default();
                        let span = Span { start: at, end: at + name.len() };
                        let text = format!("both {other} and {} are called {name}", kind.name);
                        troubles.push((source.clone(), Problem::at(span, text).help("take it out of one `also`")));
                    }
                }
                Some(_) => {}
                None => owner.push((lower, &kind.name)),
            }
        }
    }
    troubles
}

/// A contact may last only as a curve says that there is.
pub(super) fn curves(catalogue: &Catalogue, files: &[Source]) -> Vec<Trouble> {
    let known = &catalogue.fuses.curves;
    let mut troubles = Vec::new();
    for kind in catalogue.kinds.values() {
        for name in kind
            .elements
            .values()
            .filter_map(|element| element.lasts.as_ref())
            .filter(|name| !known.contains_key(*name))
        {
            let holds = files.iter().find(|f| f.text.lines().any(|l| l.trim_end() == format!("kind: {}", kind.name)));
            if let Some(source) = holds {
                let start = source.text.find(&format!("lasts: {name}")).unwrap_or_default();
                let span = Span { start, end: start + "lasts: ".len() + name.len() };
                let help = match nearest(name, known.keys().map(String::as_str)) {
                    Some(near) => format!("nearest: {near}"),
                    None => format!("possible: {}", known.keys().map(String::as_str).collect::<Vec<_>>().join(", ")),
                };
                troubles.push((source.clone(), Problem::at(span, format!("no curve is called {name}")).help(help)));
            }
        }
    }
    troubles
}
