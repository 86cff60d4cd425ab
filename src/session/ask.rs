//! An ask for a person: what to set, where the leads go, what to expect.

use super::cautions;
use super::chase::Chase;
use super::event::{Expected, Screen};
use super::name;
use super::words::reading::UNCHANGED;
use crate::choice::hands;
use crate::choice::minutes::Stand;
use crate::circuit::fault::site::ends_at;
use crate::circuit::heat;
use crate::circuit::schematic::ControlInfo;
use crate::circuit::test::{Instrument, Reading, Settings, Test};
use crate::diagnosis::machine::Machine;
use crate::diagnosis::posterior::Predicted;
use crate::diagnosis::predict::{self, Sight};
use crate::diagnosis::presence;
use crate::netlist::{Netlist, PointKind};
use std::collections::BTreeSet;

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
    if let Some((how, at)) = &test.disturb {
        let suspect = chase.runs.points[point as usize].suspect;
        let goes = chase.evidence.presence(point as usize).is_some_and(|presence| presence.coming > 0.5);
        let reached = presence::reached(machine, &chase.suspects, suspect, how, at);
        return if goes && reached { "it changes, as likely as not" } else { "it stays as it is" }.into();
    }
    if test.instrument.is_sense() {
        let thing = test.part.as_deref().unwrap_or("");
        let words = if test.instrument == Instrument::Touch {
            chase.runs.felt(machine, &chase.suspects, state, point, thing)
        } else {
            let draw = chase.evidence.draw_of(point as usize);
            let (injury, outcome) = chase.runs.stand(machine, &chase.suspects, state, point, draw);
            predict::words(machine, state, &injury, &outcome, thing)
        };
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
    let near = chase.evidence.draw_of(point as usize).filter(|_| matches!(sight, Sight::Volts { .. }));
    if let Some(draw) = near {
        let (_, outcome) = chase.runs.stand(machine, &chase.suspects, state, point, Some(draw));
        return match predict::volts_met(machine, &outcome, &sight, &reading, None) {
            Some(Predicted::Number { mean, .. }) => name::value(mean, unit),
            _ => NO_NUMBER.into(),
        };
    }
    let mut seen = |sight: &Sight, reading: &Reading| match predict::predict(
        machine,
        &chase.suspects,
        &mut chase.runs,
        sight,
        reading,
        point,
    ) {
        Predicted::Number { mean, .. } => Some(mean),
        Predicted::Mass(_) => None,
    };
    if let Some(mean) = seen(&sight, &reading) {
        return name::value(mean, unit);
    }
    // What flashes swings between two.
    let Sight::Volts { state, red, black, ohms, .. } = sight else { return NO_NUMBER.into() };
    let range = Reading::Range { from: 0.0, to: 1.0 };
    let mut end = |high| seen(&Sight::Volts { state, red, black, ohms, swing: Some(high) }, &range);
    match (end(false), end(true)) {
        (Some(low), Some(high)) => format!("{} to {}", name::value(low, unit), name::value(high, unit)),
        _ => NO_NUMBER.into(),
    }
}

/// The screen of a test, for one who stands like this.
pub fn screen(machine: &Machine, stand: &Stand, test: &Test) -> Screen {
    let netlist = &machine.netlist;
    let controls = &machine.sim.schematic().controls;
    let procedure = machine.catalogue.procedures.get(test.instrument.name());
    let mut out = Screen { unit: test.instrument.unit().unwrap_or("").into(), ..Screen::default() };
    let reach: Vec<String> = crate::choice::minutes::places(netlist, test)
        .into_iter()
        .filter(|p| !stand.open_places.contains(p))
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
    out.prepare = prepare(netlist, stand, test);
    let effort = hands::effort(netlist, controls, test);
    if let Some(metres) = effort.apart {
        out.prepare.push(format!("lengthen a lead with a spare wire: {metres} m from red to black"));
    }
    if effort.helper {
        out.prepare.push("a helper holds what has to be held".into());
    }
    if test.instrument == Instrument::Touch {
        let thing = test.part.as_deref().unwrap_or_default();
        out.watch = Some(format!("{}, with the back of a hand", named(netlist, thing)));
        out.words = heat::WORDS.map(String::from).to_vec();
    } else if test.instrument == Instrument::Watch {
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
        if let Some((how, at)) = &test.disturb {
            let part = test.part.clone().unwrap_or_default();
            out.watch = Some(format!("{part} while you {}: what does it change to?", stirring(netlist, how, at)));
            out.words.insert(0, UNCHANGED.into());
        }
    } else {
        out.meter = procedure.map(|p| p.set_up.clone());
        let say = |name: &Option<String>| {
            name.as_ref().and_then(|n| netlist.point(n)).map(|node| {
                if name.as_ref().is_some_and(|name| loose(netlist, &test.open, name)) {
                    return "the loose minus clamp".into();
                }
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
    out.cautions = cautions::of(machine, test);
    out
}

/// What a hand is laid on, in words.
fn named(netlist: &Netlist, thing: &str) -> String {
    if netlist.plugs.contains_key(thing) {
        format!("plug {thing} and the wires into it")
    } else if netlist.grounds.contains_key(thing) {
        format!("the rings at ground point {thing}")
    } else if let Some(wire) = netlist.wires.get(thing) {
        let colour = wire.colour.as_ref().map_or_else(String::new, |colour| format!("{colour} "));
        format!("the {colour}wire {thing} and both its ends")
    } else if netlist.is_place(thing) {
        format!("all plugs and wires at {thing}")
    } else if thing == heat::SOMEWHERE {
        "all plugs and wires one can reach".into()
    } else {
        format!("{thing} and the wires at it")
    }
}

/// What is done to something while one reads.
fn stirring(netlist: &Netlist, how: &str, at: &str) -> String {
    let what = if netlist.plugs.contains_key(at) {
        format!("plug {at} and the wires into it")
    } else if netlist.grounds.contains_key(at) {
        format!("the wires at ground point {at}")
    } else if netlist.parts.contains_key(at) {
        format!("{at} and its wires")
    } else if netlist.is_place(at) {
        format!("all plugs and wires at {at}, one after the other")
    } else {
        at.to_string()
    };
    match how {
        "wiggle" => format!("wiggle {what}"),
        "heat" => format!("warm {what}"),
        "cool" => format!("cool {what}"),
        "remate" => format!("part {what} and join it again"),
        "steer" => "turn the steering from stop to stop".into(),
        _ => "bounce the machine".into(),
    }
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
    let among = |list: &[String], name: &str| list.iter().any(|other| other.eq_ignore_ascii_case(name));
    let is_part = |name: &String| netlist.parts.contains_key(name) && minus_clamp(netlist, name).is_none();
    let mut out = Vec::new();
    for bridge in stand.bridge.iter().filter(|bridge| !test.bridge.contains(bridge)) {
        let [a, b] = [&bridge.a, &bridge.b].map(|end| bridged(netlist, &stand.out, end));
        if a == b {
            continue;
        }
        out.push(format!("take the {} off {a} and {b} again", bridge.with.text()));
    }
    let (parts, others): (Vec<&String>, Vec<&String>) =
        stand.out.iter().filter(|name| !among(&test.open, name)).partition(|name| is_part(name));
    let (fuses, loads): (Vec<&String>, Vec<&String>) = parts.into_iter().partition(|name| is_fuse(netlist, name));
    out.extend((!fuses.is_empty()).then(|| format!("put {} back", and(&fuses))));
    out.extend((!loads.is_empty()).then(|| format!("plug {} in again", and(&loads))));
    for name in others {
        out.push(if let Some(battery) = minus_clamp(netlist, name) {
            format!("put {battery}'s minus clamp back")
        } else if netlist.plugs.contains_key(name) {
            format!("plug {name} together again")
        } else {
            format!("put {name} back")
        });
    }
    let (parts, others): (Vec<&String>, Vec<&String>) =
        test.open.iter().filter(|name| !among(&stand.out, name)).partition(|name| is_part(name));
    let (fuses, loads): (Vec<&String>, Vec<&String>) = parts.into_iter().partition(|name| is_fuse(netlist, name));
    out.extend((!fuses.is_empty()).then(|| format!("take {} out", and(&fuses))));
    out.extend((!loads.is_empty()).then(|| format!("unplug {}", and(&loads))));
    for name in others {
        out.push(if netlist.plugs.contains_key(name) {
            format!("unplug {name}")
        } else if let Some(battery) = minus_clamp(netlist, name) {
            format!("take {battery}'s minus clamp off")
        } else {
            format!("lift {name}")
        });
    }
    for bridge in test.bridge.iter().filter(|bridge| !stand.bridge.contains(bridge)) {
        let [a, b] = [&bridge.a, &bridge.b].map(|end| bridged(netlist, &test.open, end));
        // The cables of one clamp: they come off together.
        out.push(if a == b {
            format!("{a} keeps all its cables, or a lead joins them")
        } else {
            format!("clip a {} from {a} to {b}", bridge.with.text())
        });
    }
    for (part, fit) in &test.fit {
        out.push(format!("in place of {part}: {}", fit.text()));
    }
    once(&mut out);
    if let Some(first) = out.first_mut() {
        *first = format!("with everything off, {first}");
    }
    // What stays as it is for this test as well is said, so that nobody takes it for forgotten.
    let (clamps, kept): (Vec<&String>, Vec<&String>) =
        test.open.iter().filter(|name| among(&stand.out, name)).partition(|name| minus_clamp(netlist, name).is_some());
    out.extend((!kept.is_empty()).then(|| format!("leave {} out", and(&kept))));
    let kept = test.bridge.iter().filter(|bridge| stand.bridge.contains(bridge));
    let kept: Vec<String> = kept
        .map(|bridge| (bridge, [&bridge.a, &bridge.b].map(|end| bridged(netlist, &test.open, end))))
        .filter(|(_, [a, b])| a != b)
        .map(|(bridge, [a, b])| format!("leave the {} from {a} to {b} in", bridge.with.text()))
        .collect();
    // (what is clipped to a loose clamp keeps it off)
    let held =
        test.bridge.iter().any(|bridge| [&bridge.a, &bridge.b].iter().any(|end| loose(netlist, &test.open, end)));
    if !held {
        out.extend(
            clamps
                .iter()
                .filter_map(|name| minus_clamp(netlist, name))
                .map(|of| format!("{of}'s minus clamp stays off")),
        );
    }
    out.extend(kept);
    once(&mut out);
    out
}

/// Two cables of one clamp are one doing.
fn once(lines: &mut Vec<String>) {
    let mut said = BTreeSet::new();
    lines.retain(|line| said.insert(line.clone()));
}

/// Is it pulled out of its holder, where another part is unplugged?
fn is_fuse(netlist: &Netlist, part: &str) -> bool {
    netlist
        .parts
        .get(part)
        .is_some_and(|part| ["fuse", "fusible", "breaker"].iter().any(|word| part.kind.contains(word)))
}

/// `F1, F2 and F3`.
fn and(names: &[&String]) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).clone(),
        [first @ .., last] => {
            format!("{} and {last}", first.iter().map(|name| name.as_str()).collect::<Vec<_>>().join(", "))
        }
    }
}

/// Is a point the conductor of a wire's end that has been taken off a battery's minus post?
fn loose(netlist: &Netlist, open: &[String], point: &str) -> bool {
    let Some(PointKind::Conductor { wire, end }) = netlist.point(point).map(|node| &netlist.graph[node].what) else {
        return false;
    };
    let name = format!("{wire}.{end}");
    let at_battery = minus_clamp(netlist, &name).is_some();
    let off = |open: &String| open.eq_ignore_ascii_case(&name) || open.eq_ignore_ascii_case("battery");
    at_battery && open.iter().any(off)
}

/// An end of what is bridged, for people.
fn bridged(netlist: &Netlist, open: &[String], point: &str) -> String {
    let minus = netlist.parts.values().find(|part| {
        let neg = part.pins.get("neg").filter(|_| part.pins.contains_key("pos"));
        neg.is_some_and(|&neg| netlist.point(point) == Some(neg))
    });
    match minus {
        Some(battery) => format!("{}'s minus post", battery.name),
        None if loose(netlist, open, point) => "the loose minus clamp".into(),
        None => point.to_string(),
    }
}

/// The battery whose minus clamp this opens: `the battery`, or its name.
pub fn minus_clamp(netlist: &Netlist, open: &str) -> Option<String> {
    if open.eq_ignore_ascii_case("battery") {
        return Some("the battery".into());
    }
    let at = |pin| ends_at(netlist, pin).iter().any(|(wire, end)| open.eq_ignore_ascii_case(&format!("{wire}.{end}")));
    // What sits in a battery's place: its pins are called so in every kind of them.
    let battery = netlist
        .parts
        .values()
        .find(|part| part.pins.contains_key("pos") && part.pins.get("neg").is_some_and(|&pin| at(pin)));
    battery.map(|part| part.name.clone())
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
    if let Some((how, at)) = &test.disturb {
        out.push_str(&format!(", {how} {at}"));
    }
    for more in &test.then {
        out.push_str(&format!(", then with {}", settings_words(more)));
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
