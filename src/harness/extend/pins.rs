//! The plan of a plug of which there is no more than a list of its pins.

use super::moving::{far, unknown};
use super::{Amps, Ask, Known, Plan, Strand, is_ground, plan, short, tell_amps};
use crate::catalogue::Catalogue;
use crate::catalogue::kind::{Measure, Rating};
use crate::text::problem::Problem;
use crate::text::quantity::Unit;
use crate::wiring::sheet::Pin;

/// What a list comes to: its pins, each moving so far unless it says its own.
///
/// # Errors
///
/// Everything that is wrong, pin by pin.
pub fn plan_pins(pins: &[Pin], by: Option<f64>, ask: &Ask, rules: &Catalogue) -> Result<Plan, Vec<Problem>> {
    let mut problems = Vec::new();
    let mut strands: Vec<Strand> = Vec::new();
    let mut without = Vec::new();
    if let Some(by) = by {
        problems.extend(far("it", by, rules));
    }
    for pin in pins {
        let name = format!("{}.{}", pin.plug, pin.way);
        let far_enough = match (pin.by, by) {
            (Some(own), _) => {
                problems.extend(far(&name, own, rules));
                own
            }
            (None, Some(by)) => by,
            (None, None) => {
                without.push(name.clone());
                0.0
            }
        };
        let amps = match pin.amps {
            Some(amps) => Amps { good: amps, peak: amps, known: Known::Told, fuse: pin.fuse },
            None => match usual(&pin.what, rules) {
                Some((kind, amps)) => Amps { good: amps, peak: amps, known: Known::Usual(kind), fuse: pin.fuse },
                None => unknown(pin.fuse, rules),
            },
        };
        strands.push(Strand {
            group: pin.plug.clone(),
            in_plug: true,
            way: pin.way.clone(),
            what: pin.what.clone(),
            kinds: Vec::new(),
            old: pin.colour.clone(),
            old_area: pin.area,
            old_length: pin.length,
            beside: Vec::new(),
            before: 0.0,
            by: far_enough,
            amps,
            air: rules.review.ampacity.air,
            may_lose: rules.extend.limit("added") * rules.review.limit("nominal"),
            site: None,
        });
    }
    if !without.is_empty() {
        let says = format!(
            "how far does it move? {} {} nothing of it",
            without.join(", "),
            if without.len() == 1 { "says" } else { "say" }
        );
        problems.push(Problem::whole(says).help("--by 1.2m, or a column \"by\""));
    }
    if pins.is_empty() {
        problems.push(Problem::whole("the list has no pins").help("a row a pin: way, colour, what it is for, amps"));
    }
    // One ground may be that of all the others; what somebody tells of them counts.
    let _ = tell_amps(&mut strands, ask);
    let sum: f64 = strands.iter().filter(|strand| !is_ground(strand, rules)).map(|strand| strand.amps.peak).sum();
    for strand in &mut strands {
        if is_ground(strand, rules) && !matches!(strand.amps.known, Known::Told) && sum > 0.0 {
            strand.amps = Amps { good: sum, peak: sum, known: Known::Sum, fuse: strand.amps.fuse };
        }
    }
    problems.extend(tell_amps(&mut strands, ask));
    if !problems.is_empty() {
        return Err(problems);
    }
    let mut plan = plan(&strands, ask, rules);
    let unknown_size: Vec<String> =
        plan.rows.iter().filter(|row| row.strand.old_area.is_none()).map(|row| row.strand.name()).collect();
    if !unknown_size.is_empty() {
        plan.notes.push(format!(
            "the old wire's size is not told: {}. Lay old and new side by side: the new one must not be the thinner (a column \"size\" says it)",
            short(&unknown_size)
        ));
    }
    Ok(plan)
}

/// The kind of load that the words of a pin name, and what it usually takes, A: `left head lamp`, `horn +`.
fn usual(what: &str, rules: &Catalogue) -> Option<(String, f64)> {
    let words: Vec<&str> = what.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    // The longest name that fits, the last of those: a switch named before its lamp is not what takes the amps.
    for count in (1..=words.len().min(3)).rev() {
        for at in (0..=words.len() - count).rev() {
            let Some(kind) = rules.kind(&words[at..at + count].join(" ")) else { continue };
            let driven = kind
                .showings
                .first()
                .is_some_and(|showing| matches!(showing.by, Measure::VoltsRatio { .. } | Measure::Level { .. }));
            let volts = rules.review.limit("nominal");
            let amps = |rating: &Rating| match rating.unit {
                Unit::Amp => Some(rating.default),
                Unit::Watt => Some(rating.default / volts),
                _ => None,
            };
            // Of two filaments the bigger one.
            let most = kind.ratings.values().filter_map(amps).max_by(f64::total_cmp);
            // Whoever switches a starter does not carry its amps.
            let starts = rules.review.lists("starting", &kind.name);
            if let Some(amps) = most.filter(|_| driven && !starts) {
                return Some((kind.name.clone(), amps));
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_that_name_a_load_tell_what_it_usually_takes() {
        let rules = Catalogue::builtin();
        let (kind, amps) = usual("horn +", &rules).unwrap();
        assert_eq!((kind.as_str(), amps), ("horn", rules.kind("horn").unwrap().ratings["amps"].default));
        assert!(usual("left headlamp", &rules).is_some_and(|(_, amps)| amps > 2.0));
        for nothing in ["", "starter button", "feed from fuse 3", "clutch switch", "sense", "???"] {
            assert_eq!(usual(nothing, &rules), None, "{nothing}");
        }
    }
}
