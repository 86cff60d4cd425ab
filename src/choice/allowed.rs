//! What is never proposed, however informative, and what this bench cannot do.

use crate::circuit::test::{BridgeWith, Instrument, Settings, Test};
use crate::netlist::Netlist;

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
    if test.instrument != Instrument::Watch
        && test.instrument != Instrument::TestLamp
        && !bench.meter.iter().any(|m| m == test.instrument.name())
    {
        return Some(Refusal::Bench);
    }
    if test.instrument == Instrument::TestLamp && bench.test_lamp.is_none() {
        return Some(Refusal::Bench);
    }
    let battery_off = test.open.iter().any(|o| o.eq_ignore_ascii_case("battery"));
    for settings in std::iter::once(&test.set).chain(&test.then).chain(&test.after) {
        let engine = setting(settings, "engine").is_some_and(|s| s != "stopped");
        if engine && battery_off {
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

/// Control settings that need care at every step: cranking.
pub fn cranks(test: &Test) -> bool {
    std::iter::once(&test.set).chain(&test.then).flatten().any(|(_, setting)| setting == "start")
        || test.change.as_ref().is_some_and(|(_, [_, to])| to == "start")
}
