//! Fuses against what they carry.

use super::reach::cranks;
use super::scene::{Scene, Seen};
use super::tell::{self, At};
use super::{Finding, Severity};
use crate::circuit::schematic::{ElementId, Law, When};

/// Every fuse: its contact, rating and curve.
fn fuses(scene: &Scene) -> Vec<(ElementId, f64, usize)> {
    let elements = scene.machine.sim.schematic().elements.iter().enumerate();
    let fuses = elements.filter_map(|(id, element)| match element.law {
        Law::Contact { when: When::Fuse { amps, curve }, .. } => Some((id, amps, curve)),
        _ => None,
    });
    fuses.collect()
}

fn part(scene: &Scene, id: ElementId) -> String {
    let element = &scene.machine.sim.schematic().elements[id];
    element.part.clone().unwrap_or_else(|| element.name.clone())
}

/// Is something held by hand in this state, or does the starter turn: does it last for seconds only?
fn brief(scene: &Scene, seen: &Seen) -> bool {
    let controls = &scene.machine.sim.schematic().controls;
    let held = seen.set.iter().any(|(control, setting)| {
        let own = controls.get(control).is_some_and(|info| info.held.contains(setting));
        own && scene.listed("brief", control)
    });
    held || cranks(scene, seen)
}

/// Fuses that the sound machine itself blows.
pub fn blows(scene: &Scene) -> Vec<Finding> {
    let curve_of = |curve| scene.machine.sim.fuses().numbered(curve);
    let holds = scene.limit("fuse-holds");
    let mut out = Vec::new();
    for (id, rating, curve) in fuses(scene) {
        let gone = scene.seen.iter().find(|seen| !seen.stalled && seen.outcome.blown.contains(&id));
        let lasting = scene.seen.iter().filter(|seen| !seen.stalled && !brief(scene, seen));
        let most = lasting.max_by(|a, b| a.heat[id].total_cmp(&b.heat[id]));
        let (seen, when, amps) = match (gone, most) {
            (Some(seen), _) => (seen, "at once".to_string(), None),
            (None, Some(seen)) if seen.heat[id] > holds * rating => {
                let seconds = curve_of(curve).seconds(seen.heat[id] / rating);
                (seen, format!("after {} at the latest", tell::time(seconds)), Some(seen.heat[id]))
            }
            _ => continue,
        };
        let at = At::part(&scene.machine.netlist, &part(scene, id));
        let load = amps.map_or_else(String::new, |amps| format!(": {} through it", tell::amps(amps)));
        out.push(scene.finding(
            Severity::Fails,
            "fuse-blows",
            at,
            &[
                ("fuse", part(scene, id)),
                ("rating", tell::amps(rating)),
                ("when", when),
                ("load", load),
                ("state", seen.told()),
            ],
        ));
    }
    out
}

/// Fuses that carry nearly all that they may for good.
pub fn full(scene: &Scene) -> Vec<Finding> {
    let (share, holds) = (scene.limit("fuse-full"), scene.limit("fuse-holds"));
    let mut out = Vec::new();
    for (id, rating, _) in fuses(scene) {
        let lasting = scene.seen.iter().filter(|seen| !seen.stalled && !brief(scene, seen));
        let Some(seen) = lasting.max_by(|a, b| a.heat[id].total_cmp(&b.heat[id])) else { continue };
        let amps = seen.heat[id];
        if amps > share * rating && amps <= holds * rating {
            out.push(scene.finding(
                Severity::Marginal,
                "fuse-full",
                At::part(&scene.machine.netlist, &part(scene, id)),
                &[
                    ("fuse", part(scene, id)),
                    ("rating", tell::amps(rating)),
                    ("amps", tell::amps(amps)),
                    ("share", tell::percent(amps / rating)),
                    ("most", tell::percent(share)),
                    ("state", seen.told()),
                ],
            ));
        }
    }
    out
}
