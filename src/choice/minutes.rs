//! What a test costs, in minutes, from where the person stands: only what changes is charged.

use super::hands;
use crate::catalogue::Minutes;
use crate::circuit::test::{Bridge, Instrument, Settings, Test};
use crate::netlist::Netlist;
use std::collections::BTreeSet;

/// Where the person stands and how things are.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stand {
    /// Places already open.
    pub open_places: BTreeSet<String>,
    /// The place one is at.
    pub at: Option<String>,
    /// Settings as they are now.
    pub set: Settings,
    /// What is unplugged or lifted now.
    pub out: Vec<String>,
    /// What is clipped in now.
    pub bridge: Vec<Bridge>,
    /// Instrument in hand.
    pub instrument: Option<Instrument>,
    /// Where red and black sit now.
    pub probes: [Option<String>; 2],
}

impl Stand {
    /// How it stands once a test has been taken.
    pub fn move_to(&mut self, netlist: &Netlist, test: &Test) {
        for place in places(netlist, test) {
            self.open_places.insert(place.clone());
            self.at = Some(place);
        }
        self.set = test.set.clone();
        for (control, setting) in test.then.iter().flatten() {
            self.set.retain(|(c, _)| c != control);
            self.set.push((control.clone(), setting.clone()));
        }
        self.out = test.open.clone();
        self.bridge = test.bridge.clone();
        self.instrument = Some(test.instrument);
        self.probes = [test.red.clone(), test.black.clone()];
    }
}

/// Minutes of one doing, as `rules/minutes.yaml` names them; a doing that it does not know costs half a minute.
pub fn cost(minutes: &Minutes, doing: &str) -> f64 {
    minutes.by.get(doing).copied().unwrap_or(0.5)
}

/// The places a test needs.
pub fn places(netlist: &Netlist, test: &Test) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut add = |place: Option<&String>| {
        if let Some(place) = place
            && !out.contains(place)
        {
            out.push(place.clone());
        }
    };
    for name in [&test.red, &test.black].into_iter().flatten() {
        if let Some(node) = netlist.point(name) {
            add(netlist.graph[node].place.as_ref());
        }
    }
    let moved = test.disturb.iter().map(|(_, at)| at);
    for name in test.open.iter().chain(moved) {
        if let Some(plug) = netlist.plugs.get(name) {
            // A plug is parted where its halves meet: at the nearer place.
            add(plug.places[1].as_ref().or(plug.places[0].as_ref()));
        } else if let Some(part) = netlist.parts.get(name) {
            add(part.place.as_ref());
        } else if let Some(ground) = netlist.grounds.get(name) {
            add(netlist.graph[ground.point].place.as_ref());
        } else if netlist.is_place(name) {
            add(Some(name));
        } else {
            // A wire is got hold of at the end that is easier to reach.
            let minutes = |place: &&String| netlist.places.get(*place).map_or(0.0, |place| place.minutes);
            add(netlist.places_of(name).into_iter().min_by(|a, b| minutes(a).total_cmp(&minutes(b))));
        }
    }
    out
}

/// Minutes of a test from where the person stands.
pub fn minutes(netlist: &Netlist, table: &Minutes, stand: &Stand, test: &Test) -> f64 {
    let mut total = cost(table, "ask");
    let mut at = stand.at.clone();
    for place in places(netlist, test) {
        if !stand.open_places.contains(&place) {
            total += netlist.places.get(&place).map_or(0.0, |p| p.minutes);
        }
        if at.as_ref() != Some(&place) {
            total += cost(table, "walk");
            at = Some(place);
        }
    }
    if test.instrument.is_sense() {
        total += cost(table, "read");
    } else {
        total += cost(table, "read") * (1 + test.then.len()) as f64;
        if stand.instrument != Some(test.instrument) {
            total += cost(table, "range");
        }
        for (now, wanted) in stand.probes.iter().zip([&test.red, &test.black]) {
            if now != wanted {
                total += cost(table, "probe");
            }
        }
    }
    total += hands::minutes(netlist, cost(table, "extend"), stand, test);
    total += settings(netlist, table, &stand.set, test);
    let stirring = |at: &String| cost(table, if netlist.is_place(at) { "shake" } else { "disturb" });
    total += test.disturb.as_ref().map_or(0.0, |(_, at)| stirring(at));
    let among = |list: &[String], name: &str| list.iter().any(|o| o.eq_ignore_ascii_case(name));
    for name in test.open.iter().filter(|name| !among(&stand.out, name)) {
        total += cost(table, parting(netlist, name)[0]);
    }
    for name in stand.out.iter().filter(|name| !among(&test.open, name)) {
        total += cost(table, parting(netlist, name)[1]);
    }
    // Clipped in, or taken off again.
    let new = test.bridge.iter().filter(|bridge| !stand.bridge.contains(bridge)).count();
    let gone = stand.bridge.iter().filter(|bridge| !test.bridge.contains(bridge)).count();
    total + (new + gone + test.fit.len()) as f64 * cost(table, "bridge")
}

/// What parting and joining this is called in the minutes table.
fn parting(netlist: &Netlist, name: &str) -> [&'static str; 2] {
    if netlist.plugs.contains_key(name) {
        ["unplug", "plug"]
    } else if netlist.parts.contains_key(name) {
        ["take-out", "take-out"]
    } else {
        ["lift", "lift"]
    }
}

/// What stands as it does by itself once the engine is started or stopped.
const BY_THE_WAY: [&str; 2] = ["engine", "oil-pressure"];

fn settings(netlist: &Netlist, table: &Minutes, now: &Settings, test: &Test) -> f64 {
    let mut total = 0.0;
    let differs = |control: &str, setting: &str| !now.iter().any(|(c, s)| c == control && s == setting);
    for (control, setting) in test.set.iter().chain(test.then.iter().flatten()) {
        if differs(control, setting) {
            total += if control == "engine" && setting != "stopped" {
                cost(table, "start-engine")
            } else if !netlist.parts.contains_key(control) && !BY_THE_WAY.contains(&control.as_str()) {
                cost(table, "wait")
            } else {
                cost(table, "setting")
            };
        }
    }
    // What stands otherwise than at rest and is not wanted must be put back.
    total += now.iter().filter(|(c, _)| !test.set.iter().any(|(t, _)| t == c)).count() as f64 * cost(table, "setting");
    if test.change.is_some() {
        total += cost(table, "setting");
    }
    total
}
