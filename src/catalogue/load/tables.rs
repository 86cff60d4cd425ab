//! The tables beside the kinds.

use super::fields::{Fields, Log, figures, text, texts};
use super::kind::{argument, repairs, weight};
use crate::catalogue::Catalogue;
use crate::catalogue::kind::Repair;
use crate::catalogue::tables::{
    After, Circuit, Colour, Danger, FuseTable, JointData, LinkMode, LoomData, Pattern, Procedure,
};
use crate::text::quantity::Unit;
use crate::text::yaml::Node;
use indexmap::IndexMap;

/// Sorts of findings that the session tells apart.
const AFTER: [&str; 4] = ["ground-run", "feed-run", "touching", "crossed"];

/// Lays one table over the catalogue; false if the rules know no file of this name.
pub(super) fn read(name: &str, root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> bool {
    match name {
        "aftermath.yaml" => aftermath(root, catalogue, log),
        "joints.yaml" => joints(root, catalogue, log),
        "wire.yaml" => wire(root, catalogue, log),
        "colours.yaml" => colours(root, catalogue, log),
        "weights.yaml" => weights(root, catalogue, log),
        "minutes.yaml" => minutes(root, catalogue, log),
        "patterns.yaml" => patterns(root, catalogue, log),
        "procedures.yaml" => procedures(root, catalogue, log),
        "dangers.yaml" => dangers(root, catalogue, log),
        "fuses.yaml" => fuses(root, catalogue, log),
        "circuits.yaml" => circuits(root, catalogue, log),
        "columns.yaml" => columns(root, catalogue, log),
        "extend.yaml" => super::extend::read(root, &mut catalogue.extend, log),
        "heat.yaml" => super::heat::read(root, &mut catalogue.heat, log),
        "review.yaml" => super::review::read(root, &mut catalogue.review, log),
        "powerup.yaml" => super::powerup::read(root, &mut catalogue.powerup, log),
        "draw.yaml" => super::draw::read(root, &mut catalogue.draw, log),
        _ => return false,
    }
    .unwrap_or(());
    true
}

fn joints(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    for (key, node) in Fields::any(root, "joints", log)?.iter() {
        let what = format!("joint {}", key.text);
        let known = ["ohms", "spread", "probeable", "modes", "repairs", "source"];
        let Some(f) = Fields::of(node, &what, &known, log) else { continue };
        let repairs = f.get("repairs").map(|n| repairs(n, log)).unwrap_or_default();
        let joint = JointData {
            ohms: f.need_figure("ohms", Unit::Ohm, log),
            spread: f.need_figure("spread", Unit::One, log),
            probeable: f.get("probeable").is_some_and(|n| yes(n, log)),
            modes: f.need("modes", log).map(|n| link_modes(n, &repairs, log)).unwrap_or_default(),
            repairs,
            source: f.need_text("source", log),
        };
        if let Some(ohms) = f.get("ohms").filter(|_| joint.ohms <= 0.0) {
            log.at(ohms.span, "the ohms of a joint must be above zero");
        }
        catalogue.joints.insert(key.text.clone(), joint);
    }
    Some(())
}

fn yes(node: &Node, log: &mut Log) -> bool {
    match text(node, "this", log) {
        Some("true" | "yes") => true,
        Some("false" | "no") | None => false,
        Some(other) => {
            log.unknown(node.span, "answer", other, ["true", "false"]);
            false
        }
    }
}

fn link_modes(node: &Node, repairs: &IndexMap<String, Repair>, log: &mut Log) -> IndexMap<String, LinkMode> {
    let mut out = IndexMap::new();
    let Some(rows) = Fields::any(node, "modes", log) else { return out };
    for (key, value) in rows.iter() {
        let what = format!("mode {}", key.text);
        let Some(f) = Fields::of(value, &what, &["argument", "weight", "repair", "text"], log) else { continue };
        let mode = LinkMode {
            weight: weight(&f, log),
            argument: f.get("argument").and_then(|n| argument(n, log)),
            repair: f.need_text("repair", log),
            text: f.need_text("text", log),
        };
        if let Some(node) = f.get("repair").filter(|_| !repairs.contains_key(&mode.repair)) {
            log.unknown(node.span, "repair", &mode.repair, repairs.keys().map(String::as_str));
        }
        out.insert(key.text.clone(), mode);
    }
    out
}

fn wire(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    let known = [
        "resistivity",
        "per-kelvin",
        "lay",
        "default-area",
        "default-length",
        "spread",
        "guessed-spread",
        "modes",
        "plug-modes",
        "looms",
        "repairs",
        "source",
    ];
    let f = Fields::of(root, "wire", &known, log)?;
    let wire = &mut catalogue.wire;
    let set = |to: &mut f64, key: &str, unit: Unit, log: &mut Log| {
        if let Some(value) = f.figure(key, unit, log) {
            *to = value;
        }
    };
    set(&mut wire.resistivity, "resistivity", Unit::One, log);
    set(&mut wire.per_kelvin, "per-kelvin", Unit::One, log);
    set(&mut wire.lay, "lay", Unit::One, log);
    set(&mut wire.default_area, "default-area", Unit::SquareMillimetre, log);
    set(&mut wire.default_length, "default-length", Unit::Metre, log);
    set(&mut wire.spread, "spread", Unit::One, log);
    set(&mut wire.guessed_spread, "guessed-spread", Unit::One, log);
    if let Some(node) = f.get("repairs") {
        wire.repairs.extend(repairs(node, log));
    }
    for (key, to) in [("modes", &mut wire.modes), ("plug-modes", &mut wire.plug_modes)] {
        if let Some(node) = f.get(key) {
            to.extend(link_modes(node, &wire.repairs, log));
        }
    }
    if let Some(node) = f.get("looms") {
        looms(node, &mut wire.loom, log);
    }
    wire.source = f.need_text("source", log);
    for (name, value) in [("resistivity", wire.resistivity), ("lay", wire.lay), ("default-area", wire.default_area)] {
        if value <= 0.0 {
            log.at(root.span, format!("{name} must be above zero"));
        }
    }
    Some(())
}

/// How wires lie beside each other; what a file leaves out stays.
fn looms(node: &Node, loom: &mut LoomData, log: &mut Log) -> Option<()> {
    let known = [
        "apart",
        "height",
        "return-apart",
        "permittivity",
        "kick",
        "edge",
        "scatter",
        "floats-above",
        "bandwidth",
        "source",
    ];
    let f = Fields::of(node, "looms", &known, log)?;
    let rows: [(&mut f64, Unit); 9] = [
        (&mut loom.apart, Unit::Metre),
        (&mut loom.height, Unit::Metre),
        (&mut loom.return_apart, Unit::Metre),
        (&mut loom.permittivity, Unit::One),
        (&mut loom.kick, Unit::Volt),
        (&mut loom.edge, Unit::Second),
        (&mut loom.scatter, Unit::One),
        (&mut loom.floats_above, Unit::Ohm),
        (&mut loom.bandwidth, Unit::Hertz),
    ];
    for (key, (to, unit)) in known.iter().zip(rows) {
        match f.figure(key, unit, log) {
            Some(value) if value > 0.0 => *to = value,
            Some(_) => log.at(node.span, format!("{key} must be above zero")),
            None => {}
        }
    }
    loom.source = f.need_text("source", log);
    Some(())
}

fn colours(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "colours", &["colours", "source"], log)?;
    f.need_text("source", log);
    for (key, node) in Fields::any(f.need("colours", log)?, "colours", log)?.iter() {
        let colour = Colour { name: key.text.clone(), also: texts(node, "codes of a colour", log) };
        match catalogue.colours.iter_mut().find(|c| c.name == colour.name) {
            Some(old) => *old = colour,
            None => catalogue.colours.push(colour),
        }
    }
    Some(())
}

fn weights(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    let known = ["specials", "special-minutes", "second", "proof", "recent", "cap", "source"];
    let f = Fields::of(root, "weights", &known, log)?;
    f.need_text("source", log);
    let weights = &mut catalogue.weights;
    numbers(&f, "specials", Unit::One, &mut weights.specials, log);
    numbers(&f, "special-minutes", Unit::Minute, &mut weights.special_minutes, log);
    numbers(&f, "second", Unit::One, &mut weights.second, log);
    numbers(&f, "proof", Unit::One, &mut weights.proof, log);
    for (key, to) in [("recent", &mut weights.recent), ("cap", &mut weights.cap)] {
        if let Some(value) = f.figure(key, Unit::One, log) {
            *to = value;
        }
    }
    if weights.specials.values().sum::<f64>() >= 0.5 {
        log.at(root.span, "the specials together must stay below a half: else nothing is left for the faults");
    }
    Some(())
}

fn numbers(fields: &Fields, key: &str, unit: Unit, to: &mut IndexMap<String, f64>, log: &mut Log) {
    let Some(rows) = fields.get(key).and_then(|node| Fields::any(node, key, log)) else { return };
    for (name, node) in rows.iter() {
        if let Some(value) = super::fields::figure(node, &name.text, unit, log) {
            if value < 0.0 {
                log.at(node.span, format!("{} must not be below zero", name.text));
            }
            to.insert(name.text.clone(), value);
        }
    }
}

fn minutes(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "minutes", &["minutes", "source"], log)?;
    numbers(&f, "minutes", Unit::Minute, &mut catalogue.minutes.by, log);
    catalogue.minutes.source = f.need_text("source", log);
    Some(())
}

fn patterns(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    for (key, node) in Fields::any(root, "patterns", log)?.iter() {
        let what = format!("pattern {}", key.text);
        let Some(f) = Fields::of(node, &what, &["title", "test", "above", "text", "quiet", "source"], log) else {
            continue;
        };
        let pattern = Pattern {
            name: key.text.clone(),
            title: f.need_text("title", log),
            test: f.need_text("test", log),
            above: f.need_figure("above", Unit::One, log),
            text: f.need_text("text", log),
            quiet: f.text("quiet", log),
            source: f.need_text("source", log),
        };
        catalogue.patterns.insert(key.text.clone(), pattern);
    }
    Some(())
}

fn procedures(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    for (key, node) in Fields::any(root, "procedures", log)?.iter() {
        let what = format!("procedure {}", key.text);
        let Some(f) = Fields::of(node, &what, &["set-up", "hint", "caution", "source"], log) else { continue };
        let procedure = Procedure {
            set_up: f.need_text("set-up", log),
            hint: f.need_text("hint", log),
            caution: f.text("caution", log),
            source: f.need_text("source", log),
        };
        catalogue.procedures.insert(key.text.clone(), procedure);
    }
    Some(())
}

fn circuits(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    for (key, node) in Fields::any(root, "circuits", log)?.iter() {
        let what = format!("circuit {}", key.text);
        let Some(f) = Fields::of(node, &what, &["say", "kinds", "named", "switches", "source"], log) else { continue };
        let circuit = Circuit {
            say: f.texts("say", log),
            kinds: f.texts("kinds", log),
            named: f.texts("named", log),
            switches: f.texts("switches", log),
            source: f.need_text("source", log),
        };
        catalogue.circuits.insert(key.text.clone(), circuit);
    }
    Some(())
}

fn aftermath(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    for (key, node) in Fields::any(root, "aftermath", log)?.iter() {
        let what = format!("aftermath {}", key.text);
        if key.text == "fuses" {
            let Some(f) = Fields::of(node, &what, &["amps", "source"], log) else { continue };
            f.need_text("source", log);
            let amps = f.need("amps", log).map(|n| figures(n, "amps", log)).unwrap_or_default();
            if amps.is_empty() || amps.windows(2).any(|pair| pair[0] >= pair[1]) || amps[0] <= 0.0 {
                log.helped(node.span, "ratings must rise from above zero", "amps: [5, 10, 15]");
            } else {
                catalogue.aftermath.fuses = amps;
            }
            continue;
        }
        let Some(f) = Fields::of(node, &what, &["tonight", "elsewhere", "source"], log) else { continue };
        let after = After {
            tonight: f.text("tonight", log),
            elsewhere: f.text("elsewhere", log),
            source: f.need_text("source", log),
        };
        if !AFTER.contains(&key.text.as_str()) {
            log.unknown(key.span, "sort of finding", &key.text, AFTER);
        }
        catalogue.aftermath.after.insert(key.text.clone(), after);
    }
    Some(())
}

/// A user's words are added to those that are there.
fn columns(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "columns", &["columns", "proof", "ground", "nothing", "source"], log)?;
    let columns = &mut catalogue.columns;
    for (key, to) in [("columns", &mut columns.headings), ("proof", &mut columns.proof)] {
        let Some(rows) = f.get(key).and_then(|node| Fields::any(node, key, log)) else { continue };
        for (name, node) in rows.iter() {
            to.entry(name.text.clone()).or_default().extend(texts(node, key, log));
        }
    }
    columns.ground.extend(f.texts("ground", log));
    columns.nothing.extend(f.texts("nothing", log));
    f.need_text("source", log);
    Some(())
}

/// Dangers are only ever added: a user's file must not take a warning away.
fn dangers(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    for (key, node) in Fields::any(root, "dangers", log)?.iter() {
        let what = format!("danger {}", key.text);
        let Some(f) = Fields::of(node, &what, &["why", "instead", "source"], log) else { continue };
        let danger = Danger {
            rule: key.text.clone(),
            why: f.need_text("why", log),
            instead: f.text("instead", log),
            source: f.need_text("source", log),
        };
        match catalogue.dangers.iter_mut().find(|d| d.rule == danger.rule) {
            Some(old) => *old = danger,
            None => catalogue.dangers.push(danger),
        }
    }
    Some(())
}

fn fuses(root: &Node, catalogue: &mut Catalogue, log: &mut Log) -> Option<()> {
    let f = Fields::of(root, "fuses", &["percent", "seconds", "factor", "curves", "source"], log)?;
    let (percent, seconds) = curve(&f, root, log)?;
    catalogue.fuses.factor = f.need_figure("factor", Unit::One, log);
    catalogue.fuses.source = f.need_text("source", log);
    (catalogue.fuses.percent, catalogue.fuses.seconds) = (percent, seconds);
    if let Some(node) = f.get("curves") {
        for (key, node) in Fields::any(node, "curves", log)?.iter() {
            let what = format!("curve {}", key.text);
            let Some(f) = Fields::of(node, &what, &["percent", "seconds", "source"], log) else { continue };
            let source = f.need_text("source", log);
            if let Some((percent, seconds)) = curve(&f, node, log) {
                let table =
                    FuseTable { percent, seconds, factor: catalogue.fuses.factor, source, ..Default::default() };
                catalogue.fuses.curves.insert(key.text.clone(), table);
            }
        }
    }
    Some(())
}

/// Seconds by per cent of the rating.
fn curve(f: &Fields<'_>, root: &Node, log: &mut Log) -> Option<(Vec<f64>, Vec<f64>)> {
    let percent = figures(f.need("percent", log)?, "percent", log);
    let seconds = figures(f.need("seconds", log)?, "seconds", log);
    let rising = percent.windows(2).all(|p| p[0] < p[1]) && percent.first().is_some_and(|&p| p >= 100.0);
    let falling = seconds.windows(2).all(|s| s[0] > s[1]) && seconds.last().is_some_and(|&s| s > 0.0);
    if percent.len() != seconds.len() || percent.len() < 2 || !rising || !falling {
        log.helped(
            root.span,
            "percent must rise from 100 or more, seconds must fall, and there are as many of both",
            "percent: [135, 200], seconds: [1800, 5]",
        );
        return None;
    }
    Some((percent, seconds))
}
