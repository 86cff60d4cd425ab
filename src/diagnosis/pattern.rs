//! Fault patterns in the trade's terms, earned by a test on the computed circuit.

use super::enumerate::Suspects;
use super::machine::Machine;
use super::predict::mean_volts;
use super::runs::Runs;
use super::suspect::What;
use crate::circuit::coupling::pickup;
use crate::circuit::fault::Fault;
use crate::circuit::injury::injure_canonical;
use crate::circuit::schematic::Law;
use crate::circuit::sim::{Outcome, StateId};

/// What the complaint is about, as far as a pattern's test needs it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scene {
    /// The part complained of.
    pub part: String,
    /// The state in which it shows.
    pub active: Option<StateId>,
    /// The state in which it does not, if a change was seen.
    pub passive: Option<StateId>,
}

/// A pattern with the figures that earned it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Figures {
    /// Name in `rules/patterns.yaml`.
    pub pattern: String,
    /// Other parts whose current matters.
    pub others: Vec<String>,
    /// Part through which current flows the wrong way.
    pub through: Option<String>,
    /// Volts that the pattern is about (lift, drop, at the part).
    pub volts: f64,
    /// The same in the healthy machine.
    pub healthy: f64,
    /// Amps through the site.
    pub amps: f64,
    /// Threshold of a counting input, V.
    pub threshold: Option<f64>,
}

/// The pattern of a suspect at a severity point, in the complaint's scene.
pub fn pattern(machine: &Machine, suspects: &Suspects, runs: &mut Runs, point: u32, scene: &Scene) -> Figures {
    let suspect = &suspects.list[runs.points[point as usize].suspect];
    let Some(state) = scene.active else {
        return Figures { pattern: plain(machine, suspect.what.clone()), ..Figures::default() };
    };
    let hurt = runs.outcome(machine, suspects, state, point);
    let well = runs.healthy(machine, state);
    let volts = mean_volts(&machine.sim, &hurt);
    let healthy = mean_volts(&machine.sim, &well);
    match &suspect.what {
        What::NothingBroken => shared_by_design(machine, runs, scene, &healthy),
        What::NotInFile => Figures { pattern: "not-in-file".into(), ..Figures::default() },
        What::Crossed => Figures { pattern: "crossed".into(), ..Figures::default() },
        What::Coupled => {
            let fault = suspect.fault_at(None);
            let (volts, amps) = kicked(machine, &fault, &hurt, &scene.part).unwrap_or_default();
            Figures {
                pattern: plain(machine, What::Coupled),
                others: choppers(machine),
                volts,
                amps,
                threshold: threshold(machine, &scene.part),
                ..Figures::default()
            }
        }
        What::Part(name) => Figures {
            pattern: plain(machine, What::Part(name.clone())),
            volts: part_volts(machine, name, &volts),
            healthy: part_volts(machine, name, &healthy),
            ..Figures::default()
        },
        What::Touching => {
            let (through, back) = backwards(machine, &hurt, &well);
            let fed = part_volts(machine, &scene.part, &volts) - part_volts(machine, &scene.part, &healthy);
            let name = if fed > above(machine, "back-feed") && hurt.blown.is_empty() { "back-feed" } else { "short" };
            Figures {
                pattern: name.into(),
                through,
                amps: back.max(extra_amps(machine, &hurt, &well)),
                volts: fed,
                ..Figures::default()
            }
        }
        What::Series(segment) => {
            let segment = &suspects.segments[*segment];
            let amps = segment.links.first().map_or(0.0, |link| mean_amps(machine, &hurt, link.index()));
            let [a, b] = segment.ends.map(|n| n.index());
            let drop = (volts[a] - volts[b]).abs();
            let drop_well = (healthy[a] - healthy[b]).abs();
            let lift = ground(machine, &scene.part).map_or(0.0, |g| volts[g] - healthy[g]);
            let own = part_amps(machine, &hurt, &scene.part);
            let mut figures = Figures { amps: amps.abs(), volts: drop, healthy: drop_well, ..Figures::default() };
            if let Some(signal) = signal(machine, &scene.part)
                && (a == signal || b == signal)
            {
                figures.pattern = "noise-on-signal".into();
                return figures;
            }
            let sharers = lifted(machine, &hurt, &volts, &healthy, &scene.part, lift);
            if lift.abs() > above(machine, "shared-ground") && (amps.abs() > 1.5 * own + 0.02 || !sharers.is_empty()) {
                let g = ground(machine, &scene.part).unwrap_or(0);
                return Figures {
                    pattern: "shared-ground".into(),
                    others: sharers,
                    volts: lift,
                    healthy: healthy[g],
                    ..figures
                };
            }
            let (through, back) = backwards(machine, &hurt, &well);
            if through.is_some() && back > above(machine, "back-feed") {
                return Figures { pattern: "back-feed".into(), through, amps: back, ..figures };
            }
            let open = suspect.members.first().is_some_and(|m| m.fault.singles.iter().any(|s| s.mode == "open"));
            figures.pattern = if open { "open" } else { "voltage-drop" }.into();
            figures
        }
    }
}

/// The pattern that a sort of suspect has where no circuit is asked.
fn plain(machine: &Machine, what: What) -> String {
    match what {
        What::Part(name) => {
            let has_source = machine
                .sim
                .schematic()
                .by_part
                .get(&name)
                .is_some_and(|elements| elements.iter().any(|&e| machine.sim.schematic().elements[e].law.feeds()));
            if has_source { "weak-source" } else { "failed-part" }.into()
        }
        What::Touching => "short".into(),
        What::Coupled => "noise-on-signal".into(),
        What::Crossed => "crossed".into(),
        What::Series(_) => "open".into(),
        What::NothingBroken => "nothing-broken".into(),
        What::NotInFile => "not-in-file".into(),
    }
}

/// Nothing is broken, but the part's ground moves with another load all the same: the wiring as drawn shares it.
fn shared_by_design(machine: &Machine, runs: &mut Runs, scene: &Scene, active: &[f64]) -> Figures {
    let figures = Figures { pattern: "nothing-broken".into(), ..Figures::default() };
    let (Some(passive), Some(g)) = (scene.passive, ground(machine, &scene.part)) else { return figures };
    let rest = runs.healthy(machine, passive);
    let before = mean_volts(&machine.sim, &rest);
    let lift = active[g] - before[g];
    if lift.abs() > above(machine, "shared-ground") {
        return Figures { pattern: "shared-ground".into(), volts: lift, healthy: lift, ..figures };
    }
    figures
}

/// Parts that chop fast.
fn choppers(machine: &Machine) -> Vec<String> {
    let elements = machine.sim.schematic().elements.iter();
    let fast = elements.filter(|element| matches!(element.law, Law::Interrupter { hertz, .. } if hertz >= 3.0));
    fast.filter_map(|element| element.part.clone()).collect()
}

/// Volts at which a part counts.
fn threshold(machine: &Machine, part: &str) -> Option<f64> {
    let schematic = machine.sim.schematic();
    schematic.by_part.get(part)?.iter().find_map(|&e| match schematic.elements[e].law {
        Law::PulseInput { upper, .. } => Some(upper),
        _ => None,
    })
}

/// Volts that a coupled pair puts on the signal of a part that counts, and amps that the one of it chops.
fn kicked(machine: &Machine, fault: &Fault, outcome: &Outcome, part: &str) -> Option<(f64, f64)> {
    let (sim, netlist) = (&machine.sim, &machine.netlist);
    let injury = injure_canonical(sim.schematic(), netlist, &machine.catalogue, fault, &[]).ok()?;
    let [signal, ground] = [signal(machine, part)?, ground(machine, part)?];
    let scene = pickup::Scene { sim, netlist, loom: &machine.catalogue.wire.loom, injury: &injury, outcome };
    let at = *scene.breaks().first()?;
    let amps = injury
        .coupled
        .iter()
        .flatten()
        .map(|&wire| (sim.element_amps(outcome, at.closed, wire) - sim.element_amps(outcome, at.open, wire)).abs());
    Some((scene.kick(at, signal, ground), amps.fold(0.0, f64::max)))
}

fn above(machine: &Machine, pattern: &str) -> f64 {
    machine.catalogue.patterns.get(pattern).map_or(0.05, |p| p.above)
}

/// Node of a part's pin called ground.
fn ground(machine: &Machine, part: &str) -> Option<usize> {
    machine.netlist.parts.get(part)?.pins.get("ground").map(|n| n.index())
}

/// Node of the signal pin of a part that counts pulses.
fn signal(machine: &Machine, part: &str) -> Option<usize> {
    let schematic = machine.sim.schematic();
    schematic.by_part.get(part)?.iter().find_map(|&e| match schematic.elements[e].law {
        Law::PulseInput { .. } => Some(schematic.elements[e].a),
        _ => None,
    })
}

/// Amps through an element, averaged over the levels.
fn mean_amps(machine: &Machine, outcome: &Outcome, element: usize) -> f64 {
    outcome
        .levels
        .iter()
        .enumerate()
        .map(|(level, l)| l.share * machine.sim.element_amps(outcome, level, element))
        .sum()
}

/// The largest current in any element of a part.
fn part_amps(machine: &Machine, outcome: &Outcome, part: &str) -> f64 {
    let Some(elements) = machine.sim.schematic().by_part.get(part) else { return 0.0 };
    elements.iter().map(|&e| mean_amps(machine, outcome, e).abs()).fold(0.0, f64::max)
}

/// The largest volts between two pins of a part.
fn part_volts(machine: &Machine, part: &str, volts: &[f64]) -> f64 {
    let Some(part) = machine.netlist.parts.get(part) else { return 0.0 };
    let at: Vec<f64> = part.pins.values().map(|n| volts[n.index()]).collect();
    let top = at.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let bottom = at.iter().copied().fold(f64::INFINITY, f64::min);
    if at.is_empty() { 0.0 } else { top - bottom }
}

/// Other parts with a working current whose ground is lifted along with the part's.
fn lifted(machine: &Machine, hurt: &Outcome, volts: &[f64], healthy: &[f64], part: &str, lift: f64) -> Vec<String> {
    machine
        .netlist
        .parts
        .values()
        .filter(|p| p.name != part)
        .filter(|p| {
            ground(machine, &p.name).is_some_and(|g| (volts[g] - healthy[g]) * lift.signum() > 0.6 * lift.abs())
                && part_amps(machine, hurt, &p.name) > 0.1
        })
        .map(|p| p.name.clone())
        .collect()
}

/// The part through which current flows against its healthy sense, and how much.
fn backwards(machine: &Machine, hurt: &Outcome, well: &Outcome) -> (Option<String>, f64) {
    let schematic = machine.sim.schematic();
    let mut worst: (Option<String>, f64) = (None, 0.0);
    for (id, element) in schematic.elements.iter().enumerate().skip(machine.netlist.graph.edge_count()) {
        let Some(part) = &element.part else { continue };
        // Only loads: a contact carries current either way.
        if matches!(element.law, Law::Contact { .. }) {
            continue;
        }
        let now = mean_amps(machine, hurt, id);
        let then = mean_amps(machine, well, id);
        // Loads are drawn from feed to ground: current from `to` to `from` is the wrong way.
        if now < -1e-3 && then > -1e-3 && now.abs() > worst.1 {
            worst = (Some(part.clone()), now.abs());
        }
    }
    worst
}

/// The largest growth of current in any wire.
fn extra_amps(machine: &Machine, hurt: &Outcome, well: &Outcome) -> f64 {
    (0..machine.netlist.graph.edge_count())
        .map(|e| mean_amps(machine, hurt, e).abs() - mean_amps(machine, well, e).abs())
        .fold(0.0, f64::max)
}
