//! What many chases say together.

use super::Walk;
use super::calibration::{Band, bands};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// The chases that went worst are named, so many of them.
const WORST: usize = 10;

/// Is the planted fault in the final group, and the group one repair?
pub fn isolated(walk: &Walk) -> bool {
    walk.found && walk.one_class
}

/// Figures of a drill, as contract and screen give them.
#[derive(Clone, Debug, PartialEq)]
pub struct Tally {
    /// Chases walked.
    pub chases: usize,
    /// Part of them that ended with the planted fault in a group that is one repair.
    pub isolated: f64,
    /// Part of them whose likeliest fault is the planted one.
    pub first: f64,
    /// Questions answered, mean.
    pub readings: f64,
    /// Minutes of the placements, mean.
    pub minutes: f64,
    /// Repairs tried in vain, mean.
    pub vain: f64,
    /// Chances said beside what came true.
    pub calibration: Vec<Band>,
    /// Chases by the number of faults in the final group.
    pub groups: BTreeMap<usize, usize>,
}

impl Tally {
    /// Of these chases; figures of none are 0.
    pub fn of(walks: &[Walk]) -> Tally {
        let count = walks.len().max(1) as f64;
        let share = |counts: fn(&Walk) -> bool| walks.iter().filter(|walk| counts(walk)).count() as f64 / count;
        let mean = |of: fn(&Walk) -> f64| walks.iter().map(of).sum::<f64>() / count;
        let mut groups = BTreeMap::new();
        for walk in walks {
            *groups.entry(walk.group.len()).or_insert(0) += 1;
        }
        Tally {
            chases: walks.len(),
            isolated: share(isolated),
            first: share(|walk| walk.first),
            readings: mean(|walk| walk.asked as f64),
            minutes: mean(|walk| walk.minutes),
            vain: mean(|walk| walk.vain as f64),
            calibration: bands(walks),
            groups,
        }
    }
}

/// The chases that went worst: not isolated first, then by questions.
pub fn worst(walks: &[Walk]) -> Vec<&Walk> {
    let mut order: Vec<&Walk> = walks.iter().collect();
    order.sort_by_key(|walk| (isolated(walk), std::cmp::Reverse(walk.asked)));
    order.truncate(WORST);
    order
}

/// The whole as JSON; shares 0 to 1.
pub fn json(walks: &[Walk]) -> Value {
    let tally = Tally::of(walks);
    let worst: Vec<Value> = worst(walks)
        .into_iter()
        .map(|walk| {
            json!({
                "fault": walk.fault, "seed": walk.seed, "isolated": isolated(walk), "readings": walk.asked,
                "wrong_readings": walk.slips, "repairs_in_vain": walk.vain, "reason": walk.reason.word(),
                "class": walk.class, "group": walk.group,
            })
        })
        .collect();
    let calibration: Vec<Value> = tally
        .calibration
        .iter()
        .map(|band| {
            json!({
                "said": band.said, "came_true": band.came_true, "count": band.count,
                "perfect_low": band.perfect[0], "perfect_high": band.perfect[1],
            })
        })
        .collect();
    json!({
        "chases": tally.chases, "isolated_share": tally.isolated, "first_share": tally.first,
        "readings_mean": tally.readings, "minutes_mean": tally.minutes, "repairs_in_vain_mean": tally.vain,
        "groups": tally.groups, "calibration": calibration, "worst": worst,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::session::event::VerdictReason;

    fn walk(asked: usize, found: bool, group: &[&str]) -> Walk {
        Walk {
            fault: "W1:open".into(),
            seed: 1,
            asked,
            slips: 0,
            vain: 1,
            minutes: 2.0 * asked as f64,
            reason: VerdictReason::Repair,
            class: "renew:W1".into(),
            group: group.iter().map(ToString::to_string).collect(),
            found,
            one_class: true,
            first: found,
            by_weight: false,
            said: Vec::new(),
            trail: Vec::new(),
        }
    }

    #[test]
    fn means_and_shares_are_of_all_chases_and_the_worst_come_first() {
        let walks = [walk(3, true, &["W1:open"]), walk(9, false, &["W2:open", "W3:open"]), walk(6, true, &["W1:open"])];
        let tally = Tally::of(&walks);
        assert!((tally.isolated - 2.0 / 3.0).abs() < 1e-12 && (tally.readings - 6.0).abs() < 1e-12, "{tally:?}");
        assert!((tally.minutes - 12.0).abs() < 1e-12 && (tally.vain - 1.0).abs() < 1e-12);
        assert_eq!(tally.groups, BTreeMap::from([(1, 2), (2, 1)]));
        assert_eq!(worst(&walks).iter().map(|walk| walk.asked).collect::<Vec<_>>(), [9, 6, 3]);
        assert_eq!(Tally::of(&[]).chases, 0);
    }
}
