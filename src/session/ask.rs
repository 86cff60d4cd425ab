//! An ask for a person: what to set, where the leads go, what to expect.

use super::chase::Chase;
use super::event::{Expected, Screen};
use super::name;
use crate::choice::hands;
use crate::choice::minutes::Stand;
use crate::circuit::schematic::ControlInfo;
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::diagnosis::machine::Machine;
use crate::diagnosis::posterior::Predicted;
use crate::diagnosis::predict::{self, Sight};
use crate::netlist::Netlist;

/// Suspects whose predictions stand on the screen.
const SHOWN: usize = 4;

/// What each leading suspect would read at this placement.
pub fn expected(chase: &mut Chase, test: &Test) -> Vec<Expected> {
    let mut order: Vec<usize> = (0..chase.suspects.list.len()).collect();
    order.sort_by(|&a, &b| chase.chances.suspects[b].total_cmp(&chase.chances.suspects[a]));
    let mut out: Vec<Expected> = Vec::new();
    for index in order {
        if out.len() >= SHOWN || chase.chances.suspects[index] < 0.005 {
            break;
        }
        let suspect = &chase.suspects.list[index];
        let title = name::suspect(&chase.machine, &chase.suspects, suspect);
        let point = chase.best_point(index);
        let fault = suspect.fault_at(chase.runs.points[point as usize].severity.map(round)).to_string();
        let fault = if fault.is_empty() { suspect.class.clone() } else { fault };
        let values = test.placements().iter().map(|set| preview(chase, test, set, point)).collect();
        out.push(Expected { fault, title, values });
    }
    out
}

/// Two figures are enough for a severity.
fn round(severity: f64) -> f64 {
    let scale = 10f64.powf(severity.abs().max(1e-12).log10().floor() - 1.0);
    (severity / scale).round() * scale
}

/// Said where what is predicted is no one number.
pub(super) const NO_NUMBER: &str = "no number";

/// One predicted value in words.
pub(super) fn preview(chase: &mut Chase, test: &Test, set: &Settings, point: u32) -> String {
    let one = Test { set: set.clone(), then: Vec::new(), ..test.clone() };
    let machine = &mut chase.machine;
    let Ok(state) = predict::state(machine, set) else { return "?".into() };
    if test.instrument == Instrument::Watch {
        let outcome = chase.runs.outcome(machine, &chase.suspects, state, point);
        let injury = chase.runs.injury_of(machine, &chase.suspects, point);
        let words = predict::words(machine, state, &injury, &outcome, test.part.as_deref().unwrap_or(""));
        return words.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or_else(|| "?".into(), |(word, _)| word);
    }
    let unit = test.instrument.unit().unwrap_or("");
    let sight = match (predict::volts_ohms(machine, test.instrument), &test.red, &test.black) {
        (Some(ohms), Some(red), Some(black))
            if test.open.is_empty() && test.bridge.is_empty() && test.fit.is_empty() =>
        {
            let (Some(red), Some(black)) = (machine.netlist.point(red), machine.netlist.point(black)) else {
                return "?".into();
            };
            Sight::Volts { state, red: red.index(), black: black.index(), ohms, swing: None }
        }
        _ => Sight::Instrument(Box::new(one)),
    };
    let reading = Reading::Value { value: 0.0, step: None };
    match predict::predict(machine, &chase.suspects, &mut chase.runs, &sight, &reading, point) {
        Predicted::Number { mean, .. } => name::value(mean, unit),
        Predicted::Mass(_) => NO_NUMBER.into(),
    }
}

/// The screen of a test.
pub fn screen(chase: &Chase, test: &Test) -> Screen {
    let machine = &chase.machine;
    let netlist = &machine.netlist;
    let controls = &machine.sim.schematic().controls;
    let procedure = machine.catalogue.procedures.get(test.instrument.name());
    let mut out = Screen { unit: test.instrument.unit().unwrap_or("").into(), ..Screen::default() };
    let reach: Vec<String> = crate::choice::minutes::places(netlist, test)
        .into_iter()
        .filter(|p| !chase.stand.open_places.contains(p))
        .filter_map(|p| {
            let place = netlist.places.get(&p)?;
            let first = place.first.as_ref().map_or_else(|| format!("get at {p}"), |f| format!("{f} to get at {p}"));
            (place.minutes >= 1.0).then(|| format!("{first} ({:.0} min)", place.minutes))
        })
        .collect();
    out.reach = (!reach.is_empty()).then(|| reach.join(", "));
    out.set = test.set.iter().map(|(c, s)| say_setting(controls, c, s)).collect();
    if out.set.is_empty() {
        out.set.push("everything off, as when parked".into());
    }
    out.prepare = prepare(netlist, &chase.stand, test);
    let effort = hands::effort(netlist, controls, test);
    if let Some(metres) = effort.apart {
        out.prepare.push(format!("lengthen a lead with a spare wire: {metres} m from red to black"));
    }
    if effort.helper {
        out.prepare.push("a helper holds what has to be held".into());
    }
    if test.instrument == Instrument::Watch {
        out.watch.clone_from(&test.part);
        out.words = test.part.as_deref().map(|part| words_of(machine, part)).unwrap_or_default();
        if let Some((control, [_, to])) = &test.change {
            out.watch = Some(format!(
                "{} while you {}",
                test.part.clone().unwrap_or_default(),
                say_setting(controls, control, to)
            ));
            out.words = crate::diagnosis::entry::NEEDLE_WORDS.map(String::from).to_vec();
        }
    } else {
        out.meter = procedure.map(|p| p.set_up.clone());
        let say = |name: &Option<String>| {
            name.as_ref().and_then(|n| netlist.point(n)).map(|node| {
                let place = netlist.graph[node].place.as_ref().map_or_else(String::new, |p| format!(", {p}"));
                format!("{}{place}", name::point(netlist, node))
            })
        };
        out.red = say(&test.red);
        out.black = say(&test.black);
    }
    if !test.then.is_empty() {
        out.settings.push("as set".into());
        // What is done on top of the setting before.
        out.settings.extend(test.then.iter().map(|set| format!("then {}", settings_say(controls, set))));
    }
    out.cautions = cautions(chase, test);
    out
}

/// Words that a part can show.
fn words_of(machine: &Machine, part: &str) -> Vec<String> {
    machine
        .netlist
        .parts
        .get(part)
        .and_then(|p| machine.catalogue.kind(&p.kind))
        .map(|kind| kind.showings.iter().flat_map(|s| s.words.clone()).collect())
        .unwrap_or_default()
}

/// What is done before anything is set, from how things stand: put back first, then taken out and put in.
fn prepare(netlist: &Netlist, stand: &Stand, test: &Test) -> Vec<String> {
    let is_battery = |name: &str| name.eq_ignore_ascii_case("battery");
    let among = |list: &[String], name: &str| list.iter().any(|other| other.eq_ignore_ascii_case(name));
    let mut out = Vec::new();
    for bridge in stand.bridge.iter().filter(|bridge| !test.bridge.contains(bridge)) {
        out.push(format!("take the {} off {} and {} again", bridge.with.text(), bridge.a, bridge.b));
    }
    for name in stand.out.iter().filter(|name| !among(&test.open, name)) {
        out.push(if is_battery(name) {
            "put the battery's minus clamp back".into()
        } else if netlist.plugs.contains_key(name) {
            format!("plug {name} together again")
        } else {
            format!("put {name} back")
        });
    }
    for name in test.open.iter().filter(|name| !among(&stand.out, name)) {
        out.push(if netlist.plugs.contains_key(name) {
            format!("unplug {name}")
        } else if is_battery(name) {
            "take the battery's minus clamp off".into()
        } else if netlist.parts.contains_key(name) {
            format!("take {name} out")
        } else {
            format!("lift {name}")
        });
    }
    for bridge in test.bridge.iter().filter(|bridge| !stand.bridge.contains(bridge)) {
        out.push(format!("clip a {} from {} to {}", bridge.with.text(), bridge.a, bridge.b));
    }
    for (part, fit) in &test.fit {
        out.push(format!("in place of {part}: {}", fit.text()));
    }
    if let Some(first) = out.first_mut() {
        *first = format!("with everything off, {first}");
    }
    // What stays as it is for this test as well is said, so that nobody takes it for forgotten.
    let kept = test.open.iter().filter(|name| among(&stand.out, name)).map(|name| format!("leave {name} out"));
    out.extend(kept);
    let kept = test.bridge.iter().filter(|bridge| stand.bridge.contains(bridge));
    out.extend(kept.map(|bridge| format!("leave the {} from {} to {} in", bridge.with.text(), bridge.a, bridge.b)));
    out
}

/// What the last test has left clipped in or parted, to be put right before anything is mended.
pub(super) fn still_in(stand: &Stand) -> Vec<String> {
    let lamps =
        stand.bridge.iter().map(|b| format!("the {} from {} to {} is still in: take it off", b.with.text(), b.a, b.b));
    lamps.chain(stand.out.iter().map(|name| format!("{name} is still out: put it back"))).collect()
}

/// A setting as a person is told it: the kind's own words, else `key on`.
pub fn say_setting(controls: &indexmap::IndexMap<String, ControlInfo>, control: &str, setting: &str) -> String {
    match controls.get(control).and_then(|info| info.say.get(setting)) {
        Some(words) => words.replace("{}", control),
        None => format!("{control} {setting}"),
    }
}

pub(super) fn settings_say(controls: &indexmap::IndexMap<String, ControlInfo>, set: &Settings) -> String {
    if set.is_empty() {
        return "everything off".into();
    }
    set.iter().map(|(c, s)| say_setting(controls, c, s)).collect::<Vec<_>>().join(", ")
}

/// `key on, horn-push pressed`.
pub fn settings_words(set: &Settings) -> String {
    set.iter().map(|(c, s)| format!("{c} {s}")).collect::<Vec<_>>().join(", ")
}

/// A test in one line.
pub fn short_test(test: &Test) -> String {
    let what = match (&test.part, &test.red, &test.black) {
        (Some(part), _, _) => format!("look at {part}"),
        (_, Some(red), Some(black)) => format!("{} {red} to {black}", test.instrument.name()),
        _ => test.instrument.name().to_string(),
    };
    let mut out = what;
    let set = settings_words(&test.set);
    if !set.is_empty() {
        out.push_str(", ");
        out.push_str(&set);
    }
    if let Some((control, [from, to])) = &test.change {
        out.push_str(&format!(", {control} {from} to {to}"));
    }
    if !test.open.is_empty() {
        out.push_str(&format!(", {} out", test.open.join(" and ")));
    }
    for bridge in &test.bridge {
        out.push_str(&format!(", {} from {} to {}", bridge.with.text(), bridge.a, bridge.b));
    }
    out
}

/// A reading in words.
pub fn say_reading(reading: &Reading, unit: &str) -> String {
    match reading {
        Reading::Value { value, .. } => name::value(*value, unit),
        Reading::Range { from, to } => format!("{} to {}", name::value(*from, ""), name::value(*to, unit)),
        Reading::Over => "over range".into(),
        Reading::Beeps(true) => "beeps".into(),
        Reading::Beeps(false) => "no beep".into(),
        Reading::Showing(word) => word.replace('-', " "),
        Reading::Live => "live: refused".into(),
    }
}

/// Cautions at this step: the instrument's, and what the state brings with it.
fn cautions(chase: &Chase, test: &Test) -> Vec<String> {
    let machine = &chase.machine;
    let mut out = Vec::new();
    let mut add = |text: Option<&String>| {
        if let Some(text) = text
            && !out.contains(text)
        {
            out.push(text.clone());
        }
    };
    let danger =
        |rule: &str| machine.catalogue.dangers.iter().find(|d| d.rule == rule).and_then(|d| d.instead.as_ref());
    let cranks = crate::choice::allowed::cranks(test);
    if cranks {
        add(danger("moving-parts"));
        add(danger("crank-long"));
    }
    if !test.bridge.is_empty() {
        add(danger("hot-lamp"));
    }
    add(machine.catalogue.procedures.get(test.instrument.name()).and_then(|p| p.caution.as_ref()));
    let key_on = test.placements().iter().flatten().any(|(c, s)| c.contains("key") && s == "on");
    let running = test.placements().iter().flatten().any(|(c, s)| c == "engine" && s != "stopped");
    if key_on && !running {
        add(danger("key-on-long"));
    }
    if running {
        add(danger("moving-parts"));
    }
    out.truncate(if cranks { 3 } else { 2 });
    out
}
