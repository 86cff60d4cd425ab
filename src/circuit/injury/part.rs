//! Modes of parts: what the catalogue says a mode does, done to the elements.

use super::Change;
use super::inflict::{Wound, size};
use crate::catalogue::Action;
use crate::catalogue::kind::{ALL_CONTACTS, BLOWS, Kind};
use crate::circuit::fault::Single;
use crate::circuit::lower::SEAT;
use crate::circuit::schematic::{ElementId, Law, Node, When};
use crate::netlist::Part;
use crate::text::problem::Problem;

/// An LED in a filament's socket takes this share of the filament's amps (common practice, no source) …
const LED_SHARE: f64 = 0.125;
/// … drops this share of the rated volts before it takes them …
const LED_KNEE: f64 = 0.75;
/// … with a string of junctions that together have this emission coefficient.
const LED_EMISSION: f64 = 10.0;
/// kT/q at 27 °C, V.
const THERMAL_VOLTS: f64 = 0.025_865;

pub(super) fn inflict(wound: &mut Wound<'_>, single: &Single) -> Result<(), Problem> {
    let lost = |what: &str| Problem::whole(format!("{single}: {what}"));
    let part = wound.netlist.parts.get(&single.site).ok_or_else(|| lost("no such part"))?;
    let kind = wound.catalogue.kind(&part.kind).ok_or_else(|| lost("its kind is not in the rules"))?;
    let mode = kind.modes.get(&single.mode).ok_or_else(|| lost("its kind has no such mode"))?;
    let argument = match (&mode.argument, &mode.word) {
        (Some(argument), None) => size(single)?.unwrap_or(argument.default),
        _ => 0.0,
    };
    let own = wound.schematic.by_part.get(&part.name).map_or(&[][..], Vec::as_slice);
    if !own.is_empty() && own.iter().all(|&id| wound.is_held(id)) {
        return Ok(());
    }
    for (target, action) in &mode.does {
        if matches!(action, Action::Bridge) {
            let (a, b) = target.split_once('/').ok_or_else(|| lost("its rule bridges no two pins"))?;
            let node = |pin: &str| node(wound, part, pin).ok_or_else(|| lost("its rule names a pin that is not there"));
            let (a, b) = (node(a.trim())?, node(b.trim())?);
            wound.add(a, b, Law::Resistor { ohms: argument });
            continue;
        }
        for element in elements(wound, part, kind, target) {
            act(wound, element, action, argument);
        }
    }
    Ok(())
}

fn node(wound: &Wound<'_>, part: &Part, pin: &str) -> Option<Node> {
    let inner = || format!("_{}.{}", part.name, pin.trim_start_matches('.')).to_lowercase();
    part.pins.get(pin).map(|n| n.index()).or_else(|| {
        let name = inner();
        wound.schematic.nodes.iter().position(|n| *n == name)
    })
}

fn elements(wound: &Wound<'_>, part: &Part, kind: &Kind, target: &str) -> Vec<ElementId> {
    let by_name = &wound.schematic.by_name;
    if target != ALL_CONTACTS || kind.elements.contains_key(ALL_CONTACTS) {
        return by_name.get(&format!("{}.{target}", part.name)).copied().into_iter().collect();
    }
    let own = |id: &&ElementId| {
        let name =
            wound.schematic.elements[**id].name.strip_prefix(part.name.as_str()).and_then(|n| n.strip_prefix('.'));
        name.is_some_and(|name| !kind.elements.contains_key(name.trim_end_matches(SEAT)))
    };
    wound.schematic.by_part.get(&part.name).into_iter().flatten().filter(own).copied().collect()
}

fn act(wound: &mut Wound<'_>, id: ElementId, action: &Action, argument: f64) {
    let (a, b) = (wound.schematic.elements[id].a, wound.schematic.elements[id].b);
    let law = wound.law(id).clone();
    if wound.is_held(id) {
        return;
    }
    match action {
        Action::Open => match law {
            Law::Contact { when: When::Fuse { .. }, .. } => wound.injury.blown.push(id),
            _ => wound.set(id, Law::Open),
        },
        Action::Close => {
            if let Law::Contact { ohms, .. } = law {
                wound.set(id, Law::Contact { ohms, when: When::Always });
            }
        }
        Action::Series if matches!(law, Law::Filament { .. } | Law::Motor { .. } | Law::Cell { .. }) => {
            seat(wound, id, argument);
        }
        Action::Series => wound.set(id, law.each(&|law| series(law, argument))),
        Action::Shunt => wound.add(a, b, Law::Resistor { ohms: argument }),
        Action::Reverse => wound.injury.changes.push(Change::Reverse(id)),
        Action::Led => wound.set(id, led(&law)),
        Action::Scale(name) => wound.set(id, law.each(&|law| parameter(law, name, |value| value * argument))),
        Action::Set(name) => wound.set(id, law.each(&|law| parameter(law, name, |_| argument))),
        Action::Fix(name, figure) => wound.set(id, law.each(&|law| parameter(law, name, |_| *figure))),
        // Between pins, not an element's own.
        Action::Bridge => {}
    }
}

/// Ohms in series, folded into the law; what the law compares with volts over the element grows alike.
fn series(law: Law, more: f64) -> Law {
    match law {
        Law::Resistor { ohms } => Law::Resistor { ohms: ohms + more },
        Law::Diode { saturation, emission, series } => Law::Diode { saturation, emission, series: series + more },
        Law::Contact { ohms, when } => Law::Contact { ohms: ohms + more, when },
        Law::Source { volts, ohms } => Law::Source { volts, ohms: ohms + more },
        Law::PulseSource { low, high, ohms, per_turn } => Law::PulseSource { low, high, ohms: ohms + more, per_turn },
        Law::Interrupter { ohms, hertz, duty, works_volts, works_amps, volts } => {
            let by = (ohms + more) / ohms;
            Law::Interrupter {
                ohms: ohms * by,
                hertz,
                duty,
                works_volts: works_volts * by,
                works_amps,
                volts: volts * by,
            }
        }
        Law::Coil { ohms, pull_in, drop_out } => {
            let by = (ohms + more) / ohms;
            Law::Coil { ohms: ohms * by, pull_in: pull_in * by, drop_out: drop_out * by }
        }
        Law::Solenoid { ohms, pull_in, drop_out, with, ratio } => {
            let by = (ohms + more) / ohms;
            Law::Solenoid { ohms: ohms * by, pull_in: pull_in * by, drop_out: drop_out * by, with, ratio: ratio * by }
        }
        Law::PulseInput { ohms, lower, upper } => {
            let by = (ohms + more) / ohms;
            Law::PulseInput { ohms: ohms * by, lower: lower * by, upper: upper * by }
        }
        // Their seats take it.
        Law::Filament { .. } | Law::Motor { .. } | Law::Cell { .. } | Law::Open | Law::By { .. } => law,
    }
}

/// Ohms in series with what has a seat of its own for them.
fn seat(wound: &mut Wound<'_>, id: ElementId, more: f64) {
    let seat = format!("{}{SEAT}", wound.schematic.elements[id].name);
    if let Some(&seat) = wound.schematic.by_name.get(&seat)
        && let Law::Resistor { ohms } = *wound.law(seat)
    {
        wound.set(seat, Law::Resistor { ohms: ohms + more });
    }
}

/// The law with one parameter changed, by the catalogue's name of it.
fn parameter(mut law: Law, name: &str, change: impl Fn(f64) -> f64) -> Law {
    let edit = |value: &mut f64| *value = change(*value);
    match (&mut law, name) {
        (Law::Contact { when: When::Fuse { amps, .. }, .. }, BLOWS) => edit(amps),
        (
            Law::Resistor { ohms }
            | Law::Contact { ohms, .. }
            | Law::Source { ohms, .. }
            | Law::Coil { ohms, .. }
            | Law::Solenoid { ohms, .. }
            | Law::Cell { ohms, .. }
            | Law::Interrupter { ohms, .. }
            | Law::PulseSource { ohms, .. }
            | Law::PulseInput { ohms, .. },
            "ohms",
        ) => edit(ohms),
        (Law::Filament { volts, amps, .. }, "volts") => {
            // Another bulb of the same watts.
            let watts = *volts * *amps;
            edit(volts);
            *amps = watts / *volts;
        }
        (Law::Filament { volts, amps, .. }, "watts") => {
            let mut watts = *volts * *amps;
            edit(&mut watts);
            *amps = watts / *volts;
        }
        (Law::Filament { amps, .. } | Law::Motor { amps, .. }, "amps") => edit(amps),
        (Law::Filament { cold, .. }, "cold") => edit(cold),
        (
            Law::Source { volts, .. }
            | Law::Cell { volts, .. }
            | Law::Motor { volts, .. }
            | Law::Interrupter { volts, .. },
            "volts",
        ) => edit(volts),
        (Law::Cell { charge, .. }, "charge-ohms") => edit(charge),
        (Law::Motor { stall, .. }, "stall") => edit(stall),
        (Law::Diode { saturation, .. }, "saturation") => edit(saturation),
        (Law::Diode { emission, .. }, "emission") => edit(emission),
        (Law::Diode { series, .. }, "series") => edit(series),
        (Law::Interrupter { hertz, .. }, "hertz") => edit(hertz),
        (Law::Interrupter { duty, .. }, "duty") => {
            edit(duty);
            *duty = duty.clamp(0.01, 0.99);
        }
        (Law::Interrupter { ohms, duty, volts, .. }, "amps") => {
            let mut amps = *duty * *volts / *ohms;
            edit(&mut amps);
            *ohms = *duty * *volts / amps;
        }
        (Law::Interrupter { works_volts, .. }, "works-volts") => edit(works_volts),
        (Law::Interrupter { works_amps, .. }, "works-amps") => edit(works_amps),
        (Law::Coil { pull_in, .. } | Law::Solenoid { pull_in, .. }, "pull-in") => edit(pull_in),
        (Law::Coil { drop_out, .. } | Law::Solenoid { drop_out, .. }, "drop-out") => edit(drop_out),
        (Law::PulseSource { low, .. }, "low") => edit(low),
        (Law::PulseSource { high: Some(high), .. }, "high") => edit(high),
        (Law::PulseSource { per_turn, .. }, "per-turn") => edit(per_turn),
        (Law::PulseInput { lower, .. }, "lower") => edit(lower),
        (Law::PulseInput { upper, .. }, "upper") => edit(upper),
        _ => {}
    }
    law
}

/// An LED bulb made for the filament's socket.
fn led(law: &Law) -> Law {
    let (volts, amps) = match *law {
        Law::Filament { volts, amps, .. } => (volts, amps * LED_SHARE),
        _ => (12.0, LED_SHARE),
    };
    let knee = LED_KNEE * volts;
    let saturation = amps * libm::exp(-knee / (LED_EMISSION * THERMAL_VOLTS));
    Law::Diode { saturation, emission: LED_EMISSION, series: (volts - knee) / amps }
}
