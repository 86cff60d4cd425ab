//! What is never proposed, however informative, and what this bench cannot do.

use crate::circuit::fault::site::ends_at;
use crate::circuit::schematic::ControlInfo;
use crate::circuit::test::{BridgeWith, Instrument, Settings, Test};
use crate::netlist::Netlist;
use indexmap::IndexMap;

/// Why a test is not proposed; the words stand in `rules/dangers.yaml` under the rule's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The bench has not this instrument, or cannot do this.
    Bench,
    /// `alternator-without-battery`
    AlternatorWithoutBattery,
    /// `ohms-on-live`
    OhmsOnLive,
    /// `amps-across-source`
    AmpsAcrossSource,
    /// `bare-bridge`
    BareBridge,
    /// `volts-on-signal`
    VoltsOnSignal,
}

fn setting<'a>(settings: &'a Settings, control: &str) -> Option<&'a str> {
    settings.iter().rev().find(|(c, _)| c.eq_ignore_ascii_case(control)).map(|(_, s)| s.as_str())
}

/// The refusal that meets a test, if any.
pub fn refusal(netlist: &Netlist, test: &Test) -> Option<Refusal> {
    let bench = &netlist.bench;
    if !test.instrument.is_sense()
        && test.instrument != Instrument::TestLamp
        && !bench.meter.iter().any(|m| m == test.instrument.name())
    {
        return Some(Refusal::Bench);
    }
    if test.instrument == Instrument::TestLamp && bench.test_lamp.is_none() {
        return Some(Refusal::Bench);
    }
    let battery_off = test.open.iter().any(|open| parts_battery(netlist, open));
    for settings in std::iter::once(&test.set).chain(&test.then).chain(&test.after) {
        let engine = setting(settings, "engine").is_some_and(|s| s != "stopped");
        // (A plug may hold the alternator to the battery; nobody parts one while the engine runs.)
        if engine && (battery_off || test.open.iter().any(|open| is_plug(netlist, open))) {
            return Some(Refusal::AlternatorWithoutBattery);
        }
        for cannot in &bench.cannot {
            let words = cannot.to_lowercase();
            if engine && words.contains("engine") && (words.contains("run") || words.contains("start")) {
                return Some(Refusal::Bench);
            }
            if settings.iter().any(|(c, s)| words == format!("{c} {s}").to_lowercase()) {
                return Some(Refusal::Bench);
            }
        }
    }
    match test.instrument {
        Instrument::Ohms | Instrument::Beep if !battery_off => return Some(Refusal::OhmsOnLive),
        Instrument::AmpsDc if test.open.is_empty() => return Some(Refusal::AmpsAcrossSource),
        _ => {}
    }
    for bridge in &test.bridge {
        let touches = |kind: &str| {
            [&bridge.a, &bridge.b].into_iter().any(|name| {
                let part = name.split('.').next().unwrap_or("");
                netlist.parts.get(part).is_some_and(|p| p.kind.contains(kind))
            })
        };
        if bridge.with == BridgeWith::Lead && (touches("battery") || touches("fuse")) {
            return Some(Refusal::BareBridge);
        }
        if ["module", "pulse gauge", "pickup", "magneto"].into_iter().any(touches) {
            return Some(Refusal::VoltsOnSignal);
        }
    }
    None
}

/// Would this test bring about again what has smoked, in one of these settings? With the battery off nothing does; what
/// was switched on feeds the same wires in its other positions.
pub fn burns(netlist: &Netlist, controls: &IndexMap<String, ControlInfo>, burnt: &[Settings], test: &Test) -> bool {
    if test.open.iter().any(|open| parts_battery(netlist, open)) {
        return false;
    }
    let rest = |control: &str| controls.get(control).and_then(|info| info.settings.first()).map(String::as_str);
    let at_rest = |set: &Settings, control: &str| setting(set, control).is_none_or(|now| Some(now) == rest(control));
    let stands = |set: &Settings, (control, wanted): &(String, String)| {
        Some(wanted.as_str()) == rest(control) || !at_rest(set, control)
    };
    let again = |set: &Settings| burnt.iter().any(|burnt| burnt.iter().all(|step| stands(set, step)));
    test.placements().iter().chain(&test.after).any(again)
}

fn is_plug(netlist: &Netlist, open: &str) -> bool {
    netlist.plugs.keys().any(|plug| plug.eq_ignore_ascii_case(open))
}

/// Does opening this part a battery from the rest: itself, a pin of it, a wire's end there?
fn parts_battery(netlist: &Netlist, open: &str) -> bool {
    if open.eq_ignore_ascii_case("battery") {
        return true;
    }
    // What sits in a battery's place: its pins are called so in every kind of them.
    let batteries = netlist.parts.values().filter(|part| ["pos", "neg"].iter().all(|pin| part.pins.contains_key(*pin)));
    batteries.into_iter().any(|part| {
        part.name.eq_ignore_ascii_case(open)
            || part.pins.iter().any(|(pin, node)| {
                open.eq_ignore_ascii_case(&format!("{}.{pin}", part.name))
                    || ends_at(netlist, *node)
                        .iter()
                        .any(|(wire, end)| open.eq_ignore_ascii_case(&format!("{wire}.{end}")))
            })
    })
}

/// Control settings that need care at every step: cranking.
pub fn cranks(test: &Test) -> bool {
    std::iter::once(&test.set).chain(&test.then).flatten().any(|(_, setting)| setting == "start")
        || test.change.as_ref().is_some_and(|(_, [_, to])| to == "start")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::text::span::Source;
    use crate::wiring;

    const CHARGED: &str = "\
machine: Charged
chassis: {frame: block by strap 6 AWG}
parts:
  battery: lead-acid battery
  alternator: alternator
  magneto: magneto
  horn: horn
wires:
  - W1: battery.pos to alternator.output, 4 mm2, 1 m
  - W2: battery.neg to frame, 4 mm2, 1 m
  - horn.feed to battery.pos, 1 mm2, 1 m
grounds:
  G1: on block, [alternator.ground, magneto.ground, horn.ground]
places: {nose: easy}
plugs:
  P1: {a: nose, b: nose, ways: [\"1, red, same, battery.pos, horn.feed\"]}
";

    #[test]
    fn no_alternator_turns_with_its_battery_off() {
        let reading = wiring::read(&Source::new("wiring.yaml", CHARGED), &Catalogue::builtin()).expect("a good file");
        let test = |open: &str, engine: &str| Test {
            red: Some("horn.feed".into()),
            black: Some("frame".into()),
            open: vec![open.to_owned()],
            ..Test::new(Instrument::VoltsDc, &vec![("engine".to_owned(), engine.to_owned())])
        };
        for open in ["battery", "battery.neg", "W1.a", "w2.A", "Battery.pos", "P1", "p1"] {
            let refused = refusal(&reading.netlist, &test(open, "idling"));
            assert_eq!(refused, Some(Refusal::AlternatorWithoutBattery), "{open}");
            assert_eq!(refusal(&reading.netlist, &test(open, "stopped")), None, "{open}");
        }
        assert_eq!(refusal(&reading.netlist, &test("horn", "idling")), None);
        // Nor is brought about again what smoked with the engine running, unless the battery is off.
        let set = |setting: &str| vec![("engine".to_owned(), setting.to_owned())];
        let settings = ["stopped", "idling", "revving"].map(String::from).to_vec();
        let engine = ControlInfo { settings, ..ControlInfo::default() };
        let controls = IndexMap::from([("engine".to_owned(), engine)]);
        let again = |now: &str, open: &str| burns(&reading.netlist, &controls, &[set("idling")], &test(open, now));
        assert!(again("idling", "horn") && again("revving", "horn"));
        assert!(!again("stopped", "horn") && !again("idling", "battery"));
        // What smoked with all at rest smokes whenever there is power.
        assert!(burns(&reading.netlist, &controls, &[set("stopped")], &test("horn", "stopped")));
        assert!(!burns(&reading.netlist, &controls, &[set("stopped")], &test("W2.a", "stopped")));
        // Nor is anything fed into a kill terminal.
        let mut bridged = test("horn", "stopped");
        bridged.bridge.push(crate::circuit::test::Bridge {
            a: "magneto.kill".into(),
            b: "battery.pos".into(),
            with: BridgeWith::Lamp(21.0),
        });
        assert_eq!(refusal(&reading.netlist, &bridged), Some(Refusal::VoltsOnSignal));
    }
}
