//! What is wrong, and what it usually comes of: mirror view, one off, two alike colours, a pin not seated, loads left in.

use super::load::{self, say};
use super::words::Words;
use super::{Finding, Ring, Stage};

/// Fewer ways than this tell no mirror and no shift from a crossing.
const FEW: usize = 3;

/// All that is known to be wrong.
pub(super) fn findings(ring: &Ring) -> Vec<Finding> {
    let mut out = Vec::new();
    if let Stage::Beep { .. } = ring.stage {
        out.extend(misplaced(ring));
    }
    let words = Words::builtin();
    let named = |at: usize| format!("way {}", ring.job.ways[at].name);
    for (at, known) in ring.known().iter().enumerate() {
        let Some(known) = known else { continue };
        if known.dead {
            let text = words.slip("dead", &[("one", &named(at))]);
            out.push(Finding { text, ways: vec![at] });
        }
        if let Some(volts) = known.volts {
            let should = load::should(&ring.job.ways[at], ring.lamp());
            if volts > should.most + 1e-9 {
                let (met, should) = (say(volts), format!("{} (up to {})", say(should.volts), say(should.most)));
                let text = words.slip("joint", &[("one", &named(at)), ("met", &met), ("should", &should)]);
                out.push(Finding { text, ways: vec![at] });
            }
        }
        if known.pulled {
            out.push(Finding { text: words.slip("pulled", &[("one", &named(at))]), ways: vec![at] });
        }
    }
    for &(a, b) in ring.joined() {
        let values = [("one", named(a)), ("other", ring.job.ways[b].name.clone())];
        let part = ring.job.ways[a].far.part.as_ref().filter(|part| ring.job.ways[b].far.part.as_ref() == Some(part));
        let mut values: Vec<(&str, &str)> = values.iter().map(|(key, value)| (*key, value.as_str())).collect();
        values.extend(part.map(|part| ("part", part.as_str())));
        let text = words.slip(if part.is_some() { "load" } else { "joined" }, &values);
        out.push(Finding { text, ways: vec![a, b] });
    }
    out
}

/// Ways that go to the far end of another.
fn misplaced(ring: &Ring) -> Vec<Finding> {
    let words = Words::builtin();
    let ways = &ring.job.ways;
    let count = ways.len();
    let goes: Vec<(usize, usize)> =
        ring.known().iter().enumerate().filter_map(|(at, known)| Some((at, known.as_ref()?.far?))).collect();
    let wrong: Vec<(usize, usize)> = goes.iter().copied().filter(|(at, far)| at != far).collect();
    if wrong.is_empty() {
        return Vec::new();
    }
    let all = |wrong: &[(usize, usize)]| wrong.iter().map(|(at, _)| *at).collect::<Vec<_>>();
    // (the middle one of an odd number stays where it is in a mirror)
    if goes.len() >= FEW && goes.iter().all(|&(at, far)| far == count - 1 - at) {
        return vec![Finding { text: words.slip("mirror", &[("plug", &ring.job.name)]), ways: all(&wrong) }];
    }
    let off = |&(at, far): &(usize, usize)| (far + count - at) % count;
    if goes.len() >= FEW && goes.iter().all(|way| off(way) == off(&goes[0])) {
        let by = off(&goes[0]).min(count - off(&goes[0])).to_string();
        return vec![Finding {
            text: words.slip("shift", &[("plug", &ring.job.name), ("by", &by)]),
            ways: all(&wrong),
        }];
    }
    let mut out = Vec::new();
    let named = |at: usize| format!("way {}", ways[at].name);
    for &(at, far) in &wrong {
        let back = wrong.contains(&(far, at));
        if back && far < at {
            continue;
        }
        if !back {
            out.push(Finding {
                text: words.slip("goes", &[("one", &named(at)), ("other", &ways[far].name)]),
                ways: vec![at],
            });
            continue;
        }
        let alike = [(&ways[at].near, &ways[far].near), (&ways[at].far, &ways[far].far)];
        let colour =
            alike.iter().find_map(|(a, b)| a.colour.as_ref().filter(|colour| b.colour.as_ref() == Some(colour)));
        let (one, other) = (named(at), ways[far].name.clone());
        let text = match colour {
            Some(colour) => words.slip("colours", &[("one", &one), ("other", &other), ("colour", colour)]),
            None => words.slip("crossed", &[("one", &one), ("other", &other)]),
        };
        out.push(Finding { text, ways: vec![at, far] });
    }
    out
}
