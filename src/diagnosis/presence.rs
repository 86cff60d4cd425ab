//! Faults that come and go: a reading met while the fault was away is one of the sound machine.
//!
//! Whether such a fault is there is one bit that lasts: from one reading to the next it mostly stays, and what stirs its
//! place draws it anew. A suspect explains the readings as well as it does by being there all the time, or by the
//! likeliest course of coming and going, each by its chance (Viterbi, IEEE Transactions on Information Theory 13,
//! 1967: the likeliest course is found step by step).

use super::enumerate::Suspects;
use super::evidence::{Entry, Evidence};
use super::machine::Machine;
use super::posterior::ln_sum;
use super::suspect::What;
use crate::circuit::fault::Single;
use crate::circuit::meter::stirs;
use crate::circuit::test::Test;
use crate::netlist::Netlist;
use std::collections::HashMap;

/// P(a fault of the kind that can comes and goes), where nothing was said of that, and where it was. (16 of 95 collected
/// cases came and went, and nearly all of their owners said so; the rest is common practice, no source.)
const UNSAID: f64 = 0.03;
const SAID: f64 = 0.7;
/// P(it comes or goes) between two placements, by itself; with one that was said to do so (common practice, no source).
const BY_ITSELF: f64 = 0.05;
const RESTLESS: f64 = 0.1;
/// The same between a complaint that was said to come and go and the first reading: nobody knows (common practice, no
/// source).
const SINCE: f64 = 0.5;
/// The same between two settings of one placement, seconds apart.
const AT_ONCE: f64 = 0.02;
/// The same where its place is stirred meanwhile, and where its joint is parted or was (common practice, no source).
const STIRRED: f64 = 0.5;
/// The same of what lies at the place where something else is stirred.
const NEARBY: f64 = 0.15;
const REMATED: f64 = 0.2;
/// P(something that the file does not have changes while a thing of it is stirred) (common practice, no source).
const OUTSIDE: f64 = 0.2;
/// P(it is there at the first word of a complaint, or at the first reading).
const THERE: f64 = 0.95;

/// May a suspect's fault come and go? What has a contact, a break or a place to touch.
pub fn may_come_and_go(suspects: &Suspects, suspect: usize) -> bool {
    let suspect = &suspects.list[suspect];
    match &suspect.what {
        What::Series(_) | What::Touching => true,
        What::Part(_) => {
            let mode = suspect.members.first().and_then(|member| member.fault.singles.first()).map(|s| s.mode.as_str());
            matches!(mode, Some("open" | "resistive" | "stuck-open" | "stuck-closed"))
        }
        _ => false,
    }
}

/// The likeliest course of a fault.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Course {
    /// By reading: it was away.
    pub away: Vec<bool>,
    /// ln of the chance of that course, and of being there all the time.
    pub ln: [f64; 2],
}

/// The likeliest course from ln of the masses that each reading has with the fault there and away, and the chances that
/// it came or went before each.
pub(super) fn course(there: &[f64], away: &[f64], flips: &[f64]) -> Course {
    let n = there.len();
    let mut from: Vec<[bool; 2]> = Vec::with_capacity(n);
    let mut best = [THERE.ln(), (1.0 - THERE).ln()];
    let mut all = THERE.ln();
    for at in 0..n {
        if at > 0 {
            let (stay, flip) = ((1.0 - flips[at]).ln(), flips[at].max(1e-12).ln());
            let came = [best[1] + flip > best[0] + stay, best[0] + flip <= best[1] + stay];
            best = [
                if came[0] { best[1] + flip } else { best[0] + stay },
                if came[1] { best[1] + stay } else { best[0] + flip },
            ];
            from.push(came);
            all += stay;
        }
        best = [best[0] + there[at], best[1] + away[at]];
    }
    let mut gone = best[1] > best[0];
    let mut course = vec![false; n];
    for at in (0..n).rev() {
        course[at] = gone;
        if at > 0 {
            gone = from[at - 1][usize::from(gone)];
        }
    }
    let readings = |at: usize| if course[at] { away[at] } else { there[at] };
    let of_readings: f64 = (0..n).map(readings).sum();
    Course { ln: [best[0].max(best[1]) - of_readings, all], away: course }
}

/// How a point stands to its readings if its fault may come and go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Presence {
    /// P(it comes and goes).
    pub coming: f64,
    /// It is there now, as far as it comes and goes.
    pub there: bool,
    /// Something was read while it was away.
    pub missed: bool,
    /// The point that it reads as while away: the sound machine's, or that of the fuse it has blown.
    pub away: u32,
}

/// ln of how likely it is to be said of a fault that never comes and goes that it does so, beside one that may.
pub(super) fn steadily(said: bool) -> f64 {
    if said { (1.0 - SAID).ln() } else { 0.0 }
}

/// ln of how well a point explains everything, and how, from how well it does by being there all the time and in the
/// likeliest course.
pub(super) fn either(said: bool, away: usize, course: &Course, constant: f64, coming: f64) -> (f64, Presence) {
    let share: f64 = if said { SAID } else { UNSAID };
    let terms =
        [(1.0 - share).ln() + constant, share.ln() + course.ln[1] + constant, share.ln() + course.ln[0] + coming];
    let goes = course.away.iter().any(|away| *away);
    let ln = ln_sum(if goes { &terms } else { &terms[..2] });
    let presence = Presence {
        coming: (1.0 - (terms[0] - ln).exp()).clamp(0.0, 1.0),
        there: !course.away.last().is_some_and(|away| *away),
        missed: goes,
        away: away as u32,
    };
    (ln, presence)
}

/// Chances of coming or going before each reading.
pub(super) struct Flips {
    /// Where nothing stirs.
    pub calm: Vec<f64>,
    /// Of suspects that something stirred.
    pub stirred: HashMap<usize, Vec<f64>>,
}

impl Flips {
    pub fn of(&self, suspect: usize) -> &[f64] {
        self.stirred.get(&suspect).unwrap_or(&self.calm)
    }
}

/// What a test does to things as they lie: how, and where.
fn doings(test: &Test) -> impl Iterator<Item = (&str, &str)> {
    let parted = test.open.iter().map(|name| ("remate", name.as_str()));
    test.disturb.iter().map(|(how, at)| (how.as_str(), at.as_str())).chain(parted)
}

/// P(a suspect's fault comes or goes while this is done there): much if it sits there, some if it lies at the same place of
/// the machine.
pub fn stirring(machine: &Machine, suspects: &Suspects, suspect: usize, how: &str, at: &str) -> f64 {
    if !may_come_and_go(suspects, suspect) {
        return AT_ONCE;
    }
    if reached(machine, suspects, suspect, how, at) {
        return if how == "remate" { REMATED } else { STIRRED };
    }
    let netlist = &machine.netlist;
    let here = netlist.places_of(at);
    let singles = suspects.list[suspect].members.iter().flat_map(|member| &member.fault.singles);
    let near = singles
        .flat_map(|single| single.site.split('~'))
        .any(|site| here.iter().any(|place| netlist.is_at(site, place)));
    if near && how != "remate" { NEARBY } else { AT_ONCE }
}

/// Is a suspect's place reached by what is done there?
pub fn reached(machine: &Machine, suspects: &Suspects, suspect: usize, how: &str, at: &str) -> bool {
    let singles = suspects.list[suspect].members.iter().flat_map(|member| &member.fault.singles);
    let netlist = &machine.netlist;
    let reaches =
        |single: &Single| stirs(how, at, single, netlist, &machine.catalogue) || ends_at(netlist, &single.site, at);
    singles.into_iter().any(reaches)
}

/// P(what a suspect does changes while something is stirred).
pub fn changes(machine: &Machine, suspects: &Suspects, suspect: usize, how: &str, at: &str) -> f64 {
    match suspects.list[suspect].what {
        What::NotInFile => OUTSIDE,
        _ => stirring(machine, suspects, suspect, how, at),
    }
}

/// "Not in this file" while something else is stirred, from what the sound machine does then and what anything does: it
/// was there when it was complained of, and goes just then by chance.
pub(super) fn outside_stirred(sound: f64, flat: f64) -> f64 {
    AT_ONCE * sound + (1.0 - AT_ONCE) * flat
}

/// Does a site, an end of a wire, sit on this part or ground point? Who moves the one moves the other.
fn ends_at(netlist: &Netlist, site: &str, at: &str) -> bool {
    let Some((name, end)) = site.rsplit_once('.') else { return false };
    let Some(wire) = netlist.wires.get(name) else { return false };
    let terminal = match end {
        "a" => wire.from,
        "b" => wire.to,
        _ => return false,
    };
    let point = &netlist.graph[terminal].name;
    point.split('.').next().is_some_and(|owner| owner.eq_ignore_ascii_case(at))
}

impl Evidence {
    /// Chances that a fault came or went before each of the first `upto` entries, for these suspects.
    pub(super) fn flips(
        &mut self,
        machine: &Machine,
        suspects: &Suspects,
        wanted: impl Iterator<Item = usize>,
        upto: usize,
    ) -> Flips {
        let by_itself = if self.comes_and_goes { RESTLESS } else { BY_ITSELF };
        let entries: &[Entry] = &self.entries[..upto];
        let mut calm: Vec<f64> = vec![by_itself; upto];
        for at in 1..upto {
            // (what changes while one watches does so within seconds)
            let watched = entries[at].test.disturb.is_some();
            if watched || entries[at].met.placement == entries[at - 1].met.placement {
                calm[at] = AT_ONCE;
            }
            if self.comes_and_goes && entries[at - 1].complaint && !entries[at].complaint && !watched {
                calm[at] = SINCE;
            }
        }
        let mut stirred = HashMap::new();
        if entries.iter().all(|entry| doings(&entry.test).next().is_none()) {
            return Flips { calm, stirred };
        }
        for suspect in wanted {
            if !may_come_and_go(suspects, suspect) || stirred.contains_key(&suspect) {
                continue;
            }
            let mut flips = calm.clone();
            for at in 0..upto {
                // Who parts a joint may change it, and so may who puts it back for the next reading.
                let now = doings(&entries[at].test);
                let before = at.checked_sub(1).into_iter().flat_map(|before| doings(&entries[before].test));
                for (how, place) in now.chain(before.filter(|(how, _)| *how == "remate")) {
                    let key = (suspect, how.to_string(), place.to_string());
                    let flip = self.stirring.entry(key);
                    let flip = flip.or_insert_with(|| stirring(machine, suspects, suspect, how, place));
                    flips[at] = flips[at].max(*flip);
                }
            }
            stirred.insert(suspect, flips);
        }
        Flips { calm, stirred }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_that_was_there_all_the_time_has_that_course() {
        let found = course(&[-1.0, -1.0, -1.0], &[-2.0, -1.5, -9.0], &[0.05; 3]);
        assert_eq!(found.away, [false; 3]);
        assert!((found.ln[0] - found.ln[1]).abs() < 1e-12);
        assert!((found.ln[1] - (THERE.ln() + 2.0 * 0.95_f64.ln())).abs() < 1e-12);
    }

    /// All eight courses of three readings, tried one by one.
    #[test]
    fn the_likeliest_course_is_the_likeliest_of_all() {
        // (multiples of the golden section fill the unit evenly)
        let mut at = 0.0_f64;
        for _ in 0..300 {
            let mut draw = |low: f64| -> Vec<f64> {
                let mut next = || {
                    at = (at + 0.618_033_988_749_895).fract();
                    low * at
                };
                (0..3).map(|_| next()).collect()
            };
            let (there, away) = (draw(-6.0), draw(-6.0));
            let flips: Vec<f64> = draw(-1.0).iter().map(|f| 0.02 - 0.5 * f).collect();
            let chance = |course: &[bool]| -> f64 {
                let start = if course[0] { 1.0 - THERE } else { THERE };
                let steps = (1..3).map(|at| if course[at] == course[at - 1] { 1.0 - flips[at] } else { flips[at] });
                start.ln() + steps.map(f64::ln).sum::<f64>()
            };
            let whole = |course: &[bool]| -> f64 {
                chance(course) + (0..3).map(|at| if course[at] { away[at] } else { there[at] }).sum::<f64>()
            };
            let all = (0..8).map(|bits| [bits & 1 > 0, bits & 2 > 0, bits & 4 > 0]);
            let best = all.map(|course| whole(&course)).fold(f64::NEG_INFINITY, f64::max);
            let found = course(&there, &away, &flips);
            assert!((whole(&found.away) - best).abs() < 1e-9);
            assert!((found.ln[0] - chance(&found.away)).abs() < 1e-9);
        }
    }

    #[test]
    fn a_place_that_was_stirred_may_well_have_changed() {
        let stirred = course(&[-0.1, -9.0], &[-9.0, -0.1], &[0.05, STIRRED]);
        let calm = course(&[-0.1, -9.0], &[-9.0, -0.1], &[0.05, BY_ITSELF]);
        assert_eq!((&stirred.away, &calm.away), (&vec![false, true], &vec![false, true]));
        assert!(stirred.ln[0] > calm.ln[0] + 2.0);
        let (_, presence) = either(false, 0, &stirred, -9.1, -0.2);
        assert!(presence.coming > 0.8 && !presence.there, "{presence:?}");
    }
}
