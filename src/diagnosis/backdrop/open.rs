//! What was put right in vain, thought of as one of several faults.

use super::Backdrop;
use crate::catalogue::Weights;
use crate::circuit::fault::Single;
use crate::diagnosis::enumerate::Suspects;
use crate::diagnosis::runs::Runs;
use crate::diagnosis::suspect::{Point, Suspect, What};
use crate::netlist::Netlist;
use petgraph::graph::NodeIndex;
use std::collections::HashSet;

/// No more severity points than this in one chase: each backdrop is as many again as there are suspects' own.
const POINTS: usize = 150_000;
/// No more faults than this at once.
const DEEP: usize = 3;

/// Something that was put right in vain and may have been one of several faults.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Righted {
    /// The severity point.
    pub point: u32,
    /// From this step of the machine's memory on it is away.
    pub from: usize,
    /// The repair may have missed.
    pub missed: bool,
}

impl Runs {
    /// Thinks of what was put right in vain as one of several faults: opens the backdrops that it makes, those in which
    /// the repair missed with them. Each has all suspects before it; whose places or work are the same are likelier.
    pub fn open(&mut self, netlist: &Netlist, weights: &Weights, suspects: &Suspects, righted: Righted) {
        let Righted { point, from, missed } = righted;
        // Of two that were there all the time one is away now: the other is among those that are weighed before it.
        let (before, own) = self.split(point);
        let standing = before > 0 && self.backdrops[before].then.is_empty();
        let point = if standing { own } else { point };
        let Some((faults, shares)) = self.further(netlist, weights, suspects, point) else { return };
        let (before, own) = self.split(point);
        let history = self.backdrops[before].clone();
        // All of them, lasting: what it was until now, and what it is if the repair missed.
        if missed {
            let ln = second(weights, "missed").max(1e-300).ln();
            self.append(Backdrop { faults: faults.clone(), then: Vec::new() }, &shares, ln);
        } else {
            self.lasting(faults.clone());
        }
        // One after the other put right.
        let mut then = Vec::new();
        for &(step, backdrop) in &history.then {
            let mut left = self.backdrops[backdrop].faults.clone();
            left.push(own);
            then.push((step, self.lasting(left)));
        }
        let left = then.last().map_or(history.faults.clone(), |&(_, at)| self.backdrops[at].faults.clone());
        let left: Vec<u32> = left.into_iter().filter(|&at| at != own).collect();
        then.push((from, self.lasting(left)));
        self.append(Backdrop { faults, then }, &shares, 0.0);
    }

    /// Thinks of a fault that explains not all as one of several that are there all the time.
    pub fn beside_another(&mut self, netlist: &Netlist, weights: &Weights, suspects: &Suspects, point: u32) {
        let history = &self.backdrops[self.split(point).0];
        // (what ends at a repair is no part of it)
        if !history.then.is_empty() {
            return;
        }
        if let Some((faults, shares)) = self.further(netlist, weights, suspects, point) {
            self.append(Backdrop { faults, then: Vec::new() }, &shares, 0.0);
        }
    }

    /// A point's faults as a backdrop, and ln of what each suspect weighs before it beside its own prior; nothing if that
    /// would be too many.
    fn further(
        &self,
        netlist: &Netlist,
        weights: &Weights,
        suspects: &Suspects,
        point: u32,
    ) -> Option<(Vec<u32>, Vec<f64>)> {
        let (before, own) = self.split(point);
        let mut faults = self.backdrops[before].faults.clone();
        let many = (self.backdrops.len() + 2) * self.alone() > POINTS;
        if faults.len() + 2 > DEEP || many || faults.contains(&own) {
            return None;
        }
        let first = suspects.list.get(self.points[own as usize].suspect)?;
        let ln = first.prior.max(1e-300).ln() + self.points[point as usize].ln_share;
        let shares = shares(netlist, suspects, first, [second(weights, "anywhere"), second(weights, "beside")]);
        faults.push(own);
        let taken: HashSet<&str> =
            faults.iter().map(|&at| suspects.list[self.points[at as usize].suspect].class.as_str()).collect();
        let weigh = |(suspect, share): (&Suspect, f64)| {
            let barred = suspect.what == What::NothingBroken || taken.contains(suspect.class.as_str());
            if barred { f64::NEG_INFINITY } else { ln + share }
        };
        let shares = suspects.list.iter().zip(shares).map(weigh).collect();
        Some((faults, shares))
    }

    /// The backdrop of these faults that lasts; a new one is nothing that anybody thinks of yet.
    fn lasting(&mut self, faults: Vec<u32>) -> usize {
        let known = self.backdrops.iter().position(|b| b.faults == faults && b.then.is_empty());
        known.unwrap_or_else(|| {
            let none = vec![f64::NEG_INFINITY; self.range.len()];
            self.append(Backdrop { faults, then: Vec::new() }, &none, 0.0);
            self.backdrops.len() - 1
        })
    }

    /// All suspects before one more backdrop; `shares`: ln of what to weigh each with beside its own prior.
    fn append(&mut self, backdrop: Backdrop, shares: &[f64], ln: f64) {
        for own in 0..self.alone() {
            let at = self.points[own];
            // (fuses hold as long as their table says: the two other ways are left out, and their share is the one's)
            let first = self.points[self.range[at.suspect].0];
            let lasting = first.severity.is_none() && at.severity.is_none();
            let share = match (lasting, at.patience == 0.0) {
                (true, true) => 0.0,
                (true, false) => f64::NEG_INFINITY,
                (false, _) => at.ln_share,
            };
            self.points.push(Point { ln_share: share + shares[at.suspect] + ln, ..at });
        }
        self.backdrops.push(backdrop);
    }
}

/// How likely a second fault is, or a repair that misses where there are two.
fn second(weights: &Weights, key: &str) -> f64 {
    weights.second.get(key).copied().unwrap_or(0.0)
}

/// ln of how likely each suspect is the second fault, beside its own prior: anywhere, or more likely beside the first.
fn shares(netlist: &Netlist, suspects: &Suspects, first: &Suspect, [anywhere, beside]: [f64; 2]) -> Vec<f64> {
    let places = owners(netlist, first);
    let near: Vec<bool> =
        suspects.list.iter().map(|other| owners(netlist, other).iter().any(|owner| places.contains(owner))).collect();
    let all: f64 = suspects.list.iter().zip(&near).filter(|(_, near)| **near).map(|(suspect, _)| suspect.prior).sum();
    let more = if all > 0.0 { beside / all } else { 0.0 };
    near.into_iter().map(|near| (anywhere + if near { more } else { 0.0 }).max(1e-300).ln()).collect()
}

/// Plugs and ground points that a suspect is at: whoever worked there may have erred twice.
fn owners<'a>(netlist: &'a Netlist, suspect: &'a Suspect) -> HashSet<&'a str> {
    let mut out = HashSet::new();
    let mut add = |name: &'a str| {
        let head = name.split('.').next().unwrap_or(name);
        let plug = [head, head.strip_suffix(['a', 'b']).unwrap_or(head)];
        let known =
            plug.into_iter().find(|name| netlist.plugs.contains_key(*name) || netlist.grounds.contains_key(*name));
        out.extend(known);
    };
    let singles = suspect.members.iter().flat_map(|member| &member.fault.singles);
    for site in singles.flat_map(|single: &Single| single.site.split('~')) {
        add(site);
        let wire =
            site.rsplit_once('.').and_then(|(wire, _)| netlist.wires.get(wire)).or_else(|| netlist.wires.get(site));
        if let Some(wire) = wire {
            let point = |node: NodeIndex| netlist.graph[node].name.as_str();
            add(point(wire.from));
            add(point(wire.to));
        }
    }
    out
}
