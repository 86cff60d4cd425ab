//! One kind file into a [`Kind`].

use super::check;
use super::element;
use super::fields::{Fields, Log, any_figure, figure, figures, text, texts};
use crate::catalogue::kind::{
    Action, Argument, Control, EngineMust, Kind, LevelOf, Measure, Mode, NeedleOf, Param, Rating, Repair, Showing,
};
use crate::text::quantity::Unit;
use crate::text::yaml::{Node, Value};
use indexmap::IndexMap;

const FIELDS: [&str; 15] = [
    "kind",
    "also",
    "about",
    "pins",
    "ratings",
    "control",
    "own-table",
    "table",
    "table-ohms",
    "elements",
    "showings",
    "modes",
    "repairs",
    "cautions",
    "source",
];

/// What a repair costs if it is left undone.
const HARMS: [&str; 4] = ["none", "annoyance", "stranded", "fire"];

/// Reads a kind; `None` if nothing of it can be used.
pub(super) fn read(root: &Node, log: &mut Log) -> Option<Kind> {
    let met = log.problems.len();
    let fields = Fields::of(root, "a kind", &FIELDS, log)?;
    let mut kind = Kind {
        name: fields.need_text("kind", log),
        also: fields.texts("also", log),
        about: fields.need_text("about", log),
        source: fields.need_text("source", log),
        cautions: fields.texts("cautions", log),
        table_ohms: (0.01, 0.5),
        ..Kind::default()
    };
    if let Some(pins) = fields.need("pins", log).and_then(|node| Fields::any(node, "pins", log)) {
        for (key, value) in pins.iter() {
            kind.pins.insert(key.text.clone(), texts(value, "other names of a pin", log));
        }
    }
    if let Some(ratings) = fields.get("ratings").and_then(|node| Fields::any(node, "ratings", log)) {
        for (key, value) in ratings.iter() {
            if let Some(rating) = rating(value, &key.text, log) {
                kind.ratings.insert(key.text.clone(), rating);
            }
        }
    }
    kind.control = fields.get("control").and_then(|node| control(node, log));
    let settings = kind.control.as_ref().map(|c| c.settings.clone()).unwrap_or_default();
    if let Some(node) = fields.get("own-table") {
        match text(node, "own-table", log) {
            Some("true" | "yes") => kind.own_table = true,
            Some("false" | "no") | None => {}
            Some(_) => log.helped(node.span, "own-table is true or false", "leave the row out for false"),
        }
    }
    if let Some(table) = fields.get("table").and_then(|node| Fields::any(node, "table", log)) {
        for (key, value) in table.iter() {
            kind.table.insert(key.text.clone(), element::groups(value, log));
        }
    }
    if let Some(f) = fields.get("table-ohms").and_then(|n| Fields::of(n, "table-ohms", &["ohms", "spread"], log)) {
        kind.table_ohms = (f.need_figure("ohms", Unit::Ohm, log), f.need_figure("spread", Unit::One, log));
    }
    if let Some(elements) = fields.get("elements").and_then(|node| Fields::any(node, "elements", log)) {
        for (key, value) in elements.iter() {
            if let Some(element) = element::read(value, &key.text, &settings, log) {
                kind.elements.insert(key.text.clone(), element);
            }
        }
    }
    match fields.get("showings").map(|node| (&node.value, node.span)) {
        Some((Value::List(items), _)) => kind.showings.extend(items.iter().filter_map(|item| showing(item, log))),
        Some((_, span)) => log.helped(span, "showings must be a list", "begin each with a dash"),
        None => {}
    }
    if let Some(modes) = fields.get("modes").and_then(|node| Fields::any(node, "modes", log)) {
        for (key, value) in modes.iter() {
            if let Some(mode) = mode(value, &key.text, log) {
                kind.modes.insert(key.text.clone(), mode);
            }
        }
    }
    kind.repairs = fields.get("repairs").map(|node| repairs(node, log)).unwrap_or_default();
    // References are looked into only where everything could be read: else one slip would be named twice.
    if log.problems.len() == met {
        check::kind(&kind, root, log);
    }
    Some(kind)
}

fn rating(node: &Node, name: &str, log: &mut Log) -> Option<Rating> {
    let what = format!("rating {name}");
    let fields = Fields::of(node, &what, &["default", "spread", "source"], log)?;
    let found = any_figure(fields.need("default", log)?, "default", log)?;
    Some(Rating {
        unit: found.unit,
        default: found.value,
        spread: fields.need_figure("spread", Unit::One, log),
        source: fields.text("source", log),
    })
}

fn control(node: &Node, log: &mut Log) -> Option<Control> {
    let fields = Fields::of(node, "control", &["shared", "settings", "held", "say", "engine"], log)?;
    let settings = texts(fields.need("settings", log)?, "settings", log);
    let mut say = IndexMap::new();
    if let Some(rows) = fields.get("say").and_then(|node| Fields::any(node, "say", log)) {
        for (key, value) in rows.iter() {
            if !settings.contains(&key.text) {
                log.unknown(key.span, "setting", &key.text, settings.iter().map(String::as_str));
            }
            say.insert(key.text.clone(), text(value, "say", log)?.to_owned());
        }
    }
    let held = fields.texts("held", log);
    for word in held.iter().filter(|word| !settings.contains(word)) {
        log.unknown(node.span, "setting", word, settings.iter().map(String::as_str));
    }
    let mut engine = IndexMap::new();
    if let Some(rows) = fields.get("engine").and_then(|node| Fields::any(node, "engine", log)) {
        for (key, value) in rows.iter() {
            if !settings.contains(&key.text) {
                log.unknown(key.span, "setting", &key.text, settings.iter().map(String::as_str));
            }
            match text(value, "engine", log)? {
                "stopped" => engine.insert(key.text.clone(), EngineMust::Stand),
                "running" => engine.insert(key.text.clone(), EngineMust::Run),
                other => {
                    log.unknown(value.span, "state of an engine", other, ["stopped", "running"]);
                    None
                }
            };
        }
    }
    Some(Control { shared: fields.text("shared", log), settings, held, say, engine })
}

/// The measures by the field that names them.
const MEASURES: [&str; 13] = [
    "volts-ratio",
    "volts",
    "amps",
    "watts",
    "amps-share",
    "needle-volts",
    "needle-amps",
    "needle-heat",
    "pulses",
    "flashes",
    "contact",
    "pulled",
    "fuse",
];

fn showing(node: &Node, log: &mut Log) -> Option<Showing> {
    const FIELDS: [&str; 26] = [
        "volts-ratio",
        "volts",
        "amps",
        "watts",
        "amps-share",
        "needle-volts",
        "needle-amps",
        "needle-heat",
        "pulses",
        "flashes",
        "contact",
        "pulled",
        "fuse",
        "rated",
        "fast-below",
        "fast",
        "supply",
        "zero",
        "needs",
        "full",
        "per-turn",
        "supply-exponent",
        "words",
        "at",
        "spread",
        "works",
    ];
    let fields = Fields::of(node, "a showing", &FIELDS, log)?;
    let named: Vec<&str> = MEASURES.into_iter().filter(|m| fields.get(m).is_some()).collect();
    let [measure] = named[..] else {
        log.helped(node.span, "a showing is judged by one thing", format!("one of {}", MEASURES.join(", ")));
        return None;
    };
    let by_node = fields.get(measure)?;
    let of = |log: &mut Log| text(by_node, measure, log).map(str::to_owned);
    let two = |node: &Node, log: &mut Log| -> Option<[String; 2]> {
        texts(node, measure, log)
            .try_into()
            .map_err(|_| log.helped(node.span, format!("{measure} needs two names"), "write [one, other]"))
            .ok()
    };
    let by = match measure {
        "volts-ratio" => Measure::VoltsRatio { of: of(log)? },
        "volts" => level(LevelOf::Volts, of(log)?, &fields, log),
        "amps" => level(LevelOf::Amps, of(log)?, &fields, log),
        "watts" => level(LevelOf::Watts, of(log)?, &fields, log),
        "needle-volts" => needle_of(NeedleOf::Volts, of(log)?, &fields, log)?,
        "needle-amps" => needle_of(NeedleOf::Amps, of(log)?, &fields, log)?,
        "needle-heat" => needle_of(NeedleOf::Heat, of(log)?, &fields, log)?,
        "flashes" => Measure::Flashes {
            of: of(log)?,
            rated: fields.get("rated").and_then(|node| element::param(node, "rated", Unit::Amp, &[], log)),
            fast_below: fields
                .get("fast-below")
                .and_then(|node| element::param(node, "fast-below", Unit::Amp, &[], log)),
            fast: fields.figure("fast", Unit::One, log).unwrap_or(1.0),
        },
        "amps-share" => Measure::AmpsShare {
            of: two(by_node, log)?,
            zero: fields.need_figure("zero", Unit::One, log),
            full: fields.need_figure("full", Unit::One, log),
            needs: fields.need_figure("needs", Unit::Amp, log),
        },
        "pulses" => Measure::Pulses {
            of: of(log)?,
            supply: two(fields.need("supply", log)?, log)?,
            needs: fields.need_figure("needs", Unit::Volt, log),
            full: bare_param(&fields, "full", log)?,
            per_turn: bare_param(&fields, "per-turn", log)?,
            supply_exponent: fields.need_figure("supply-exponent", Unit::One, log),
        },
        "contact" => Measure::Contact { of: of(log)? },
        "pulled" => Measure::Pulled { of: of(log)? },
        _ => Measure::Fuse { of: of(log)? },
    };
    let positional = matches!(by, Measure::Contact { .. } | Measure::Pulled { .. } | Measure::Fuse { .. });
    let needle = matches!(by, Measure::AmpsShare { .. } | Measure::Pulses { .. } | Measure::Needle { .. });
    // Nothing flashes, or nothing does but there is current: no threshold of a rate parts these.
    let unrated = if matches!(by, Measure::Flashes { .. }) { 2 } else { 0 };
    let words = texts(fields.need("words", log)?, "words", log);
    // A contact or a fuse is at 0 or 1: its one threshold needs no saying.
    let (at, spread) = if positional {
        (vec![0.5], vec![0.0])
    } else {
        (figures(fields.need("at", log)?, "at", log), figures(fields.need("spread", log)?, "spread", log))
    };
    if words.len() != at.len() + 1 + unrated {
        let wanted = words.len().saturating_sub(1 + unrated);
        log.at(node.span, format!("{} words need {wanted} thresholds in `at`", words.len()));
    }
    if spread.len() != at.len() {
        log.at(node.span, format!("{} thresholds need as many spreads", at.len()));
    }
    if at.windows(2).any(|pair| pair[0] >= pair[1]) || at.iter().any(|&a| a <= 0.0) {
        log.at(node.span, "thresholds must rise and be above zero");
    }
    let works = fields.text("works", log);
    if let Some(word) = works.as_ref().filter(|word| !words.contains(word)) {
        log.unknown(node.span, "word of the showing", word, words.iter().map(String::as_str));
    }
    Some(Showing { by, words, at, spread, works, needle })
}

fn level(what: LevelOf, of: String, fields: &Fields, log: &mut Log) -> Measure {
    let unit = match what {
        LevelOf::Volts => Unit::Volt,
        LevelOf::Amps => Unit::Amp,
        LevelOf::Watts => Unit::Watt,
    };
    let rated = fields.get("rated").and_then(|node| element::param(node, "rated", unit, &[], log));
    Measure::Level { what, of, rated }
}

fn needle_of(what: NeedleOf, of: String, fields: &Fields, log: &mut Log) -> Option<Measure> {
    let unit = if what == NeedleOf::Volts { Unit::Volt } else { Unit::Amp };
    let mut end = |name: &str| element::param(fields.need(name, log)?, name, unit, &[], log);
    let (zero, full) = (end("zero"), end("full"));
    Some(Measure::Needle { what, of, zero: zero?, full: full? })
}

fn bare_param(fields: &Fields, name: &str, log: &mut Log) -> Option<Param> {
    element::param(fields.need(name, log)?, name, Unit::One, &[], log)
}

fn mode(node: &Node, name: &str, log: &mut Log) -> Option<Mode> {
    let what = format!("mode {name}");
    let fields = Fields::of(node, &what, &["does", "argument", "word", "weight", "repair", "text", "source"], log)?;
    let mut does: Vec<(String, Action)> = Vec::new();
    if let Some(rows) = fields.need("does", log).and_then(|node| Fields::any(node, "does", log)) {
        for (key, value) in rows.iter() {
            does.push((key.text.clone(), element::action(value, log)?));
        }
    }
    Some(Mode {
        does,
        argument: fields.get("argument").and_then(|node| argument(node, log)),
        word: fields.text("word", log),
        weight: weight(&fields, log),
        repair: fields.need_text("repair", log),
        text: fields.need_text("text", log),
        source: fields.text("source", log),
    })
}

/// A prior weight: above zero.
pub(super) fn weight(fields: &Fields, log: &mut Log) -> f64 {
    let weight = fields.need_figure("weight", Unit::One, log);
    if let Some(node) = fields.get("weight").filter(|_| weight <= 0.0) {
        log.helped(node.span, "a weight must be above zero", "1 is an ordinary part's ordinary failure");
    }
    weight
}

/// The argument of a mode.
pub(super) fn argument(node: &Node, log: &mut Log) -> Option<Argument> {
    let fields = Fields::of(node, "argument", &["name", "default", "from", "to"], log)?;
    let found = match fields.need("default", log)? {
        // A factor has no unit.
        node if matches!(&node.value, Value::Scalar(s) if s.parse::<f64>().is_ok()) => {
            (figure(node, "default", Unit::One, log)?, Unit::One)
        }
        node => any_figure(node, "default", log).map(|q| (q.value, q.unit))?,
    };
    let (default, unit) = found;
    let from = fields.figure("from", unit, log).unwrap_or(default);
    let to = fields.figure("to", unit, log).unwrap_or(default);
    if !(from > 0.0 && from <= default && default <= to) {
        log.helped(
            node.span,
            "a severity runs from above zero, through its default, to its upper end",
            "from ≤ default ≤ to",
        );
    }
    Some(Argument { name: fields.need_text("name", log), unit, default, from, to })
}

/// Repairs by name.
pub(super) fn repairs(node: &Node, log: &mut Log) -> IndexMap<String, Repair> {
    let mut out = IndexMap::new();
    let Some(rows) = Fields::any(node, "repairs", log) else { return out };
    for (key, value) in rows.iter() {
        let what = format!("repair {}", key.text);
        let Some(f) = Fields::of(value, &what, &["text", "needs", "minutes", "harm", "caution", "proof"], log) else {
            continue;
        };
        let repair = Repair {
            text: f.need_text("text", log),
            needs: f.text("needs", log),
            minutes: f.need_figure("minutes", Unit::Minute, log),
            harm: f.need_text("harm", log),
            caution: f.text("caution", log),
            proof: f.text("proof", log),
        };
        if let Some(node) = f.get("harm").filter(|_| !HARMS.contains(&repair.harm.as_str())) {
            log.unknown(node.span, "harm", &repair.harm, HARMS);
        }
        if let Some(node) = f.get("minutes").filter(|_| repair.minutes <= 0.0) {
            log.at(node.span, "minutes must be above zero");
        }
        out.insert(key.text.clone(), repair);
    }
    out
}
