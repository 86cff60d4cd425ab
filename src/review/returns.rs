//! Loads that share a return with a gauge or a sender, and by how many volts each lifts it.

use super::scene::{Scene, Seen};
use super::tell::{self, At};
use super::walk::{Walks, ends};
use super::{Finding, Severity};
use crate::catalogue::kind::Measure;
use crate::circuit::injury::{Change, Injury};
use crate::circuit::schematic::{ElementId, Law, Node};
use crate::circuit::showing::JUST_VISIBLE;
use crate::netlist::{LinkKind, PointKind};
use indexmap::IndexMap;
use petgraph::graph::{EdgeIndex, NodeIndex};

/// A lift of less is none, V.
const LEAST: f64 = 0.002;

/// A gauge, and where its return leaves it.
struct Gauge<'s> {
    part: &'s str,
    ground: Node,
}

/// What one load does to one gauge.
struct Lift<'s> {
    gauge: &'s str,
    load: &'s str,
    seen: &'s Seen,
    /// V
    lift: f64,
    /// Share of the scale that the needle moves by.
    moves: f64,
    /// The joint, wire or seat that both go through and that loses most.
    shared: ElementId,
}

/// One line for each place where loads and gauges share a return.
pub fn find(scene: &Scene) -> Vec<Finding> {
    let walks = Walks::new(scene);
    let mut by_place: IndexMap<ElementId, Vec<Lift>> = IndexMap::new();
    for gauge in gauges(scene) {
        for load in scene.shown.iter().filter(|load| *load != gauge.part) {
            if let Some(lift) = lift(scene, &walks, &gauge, load) {
                by_place.entry(lift.shared).or_default().push(lift);
            }
        }
    }
    let mut out: Vec<Finding> = by_place.values().filter_map(|lifts| line(scene, lifts)).collect();
    out.sort_by_key(|finding| finding.severity);
    out
}

/// Parts with a needle, and the pins by which they are grounded.
fn gauges<'s>(scene: &'s Scene) -> Vec<Gauge<'s>> {
    let mut out = Vec::new();
    for part in &scene.shown {
        let Some(found) = scene.machine.netlist.parts.get(part) else { continue };
        let Some(kind) = scene.machine.catalogue.kind(&found.kind) else { continue };
        if kind.showings.first().is_some_and(|showing| showing.needle)
            && let Some(ground) = found.pins.get("ground")
        {
            out.push(Gauge { part, ground: ground.index() });
        }
    }
    out
}

/// Does a showing tell of a load: something that is driven by volts and takes amps for it?
fn is_load(scene: &Scene, part: &str) -> bool {
    let kind = scene.machine.netlist.parts.get(part).and_then(|part| scene.machine.catalogue.kind(&part.kind));
    let showing = kind.and_then(|kind| kind.showings.first());
    showing.is_some_and(|showing| matches!(showing.by, Measure::VoltsRatio { .. } | Measure::Level { .. }))
}

/// What a load does to a gauge, in the state in which both work; `None` where it takes little, or they share only
/// metal and straps and it lifts the gauge by less than the limit.
fn lift<'s>(scene: &'s Scene, walks: &Walks, gauge: &Gauge<'s>, load: &'s str) -> Option<Lift<'s>> {
    if !is_load(scene, load) || scene.listed("starting", load) {
        return None;
    }
    let both = || scene.seen.iter().filter(|seen| !seen.stalled && scene.works(seen, load));
    let seen = both()
        .find(|seen| scene.works(seen, gauge.part))
        .or_else(|| both().find(|seen| scene.alive(seen, gauge.part)))
        .or_else(|| both().find(|seen| ends(scene, seen, gauge.part).is_some()))?;
    let sim = &scene.machine.sim;
    let elements = &sim.schematic().elements;
    let amps = scene.elements(load).iter().map(|&id| seen.amps[id].abs()).fold(0.0, f64::max);
    if amps < scene.limit("shares-from") {
        return None;
    }
    let (_, _, minus) = scene.battery(seen)?;
    let way = walks.steps(seen, &seen.volts, gauge.ground, false, gauge.part);
    let off = Scene::without(scene.elements(load).iter().copied());
    let (outcome, _) = scene.hurt(seen, &off);
    let closed = outcome.levels.iter().position(|level| level.closed && !level.pulse_high).unwrap_or(0);
    let without = sim.all_volts(&outcome, closed);
    let over = |volts: &[f64]| volts[gauge.ground] - volts[minus];
    let lift = over(&seen.volts) - over(&without);
    let carries = |id: ElementId| match elements[id].law {
        Law::Resistor { ohms } => {
            let volts = |v: &[f64]| v[elements[id].a] - v[elements[id].b];
            ((volts(&seen.volts) - volts(&without)) / ohms.max(1e-9)).abs()
        }
        _ => 0.0,
    };
    // What everything returns through is told only where it lifts too much.
    let told = |id: ElementId| lift >= scene.limit("lift") || !is_common(scene, id);
    let both_go = way.iter().map(|step| step.0).filter(|&id| carries(id) > 0.5 * amps && told(id));
    let both_go: Vec<ElementId> = both_go.collect();
    let lost = |id: ElementId| carries(id) * if let Law::Resistor { ohms } = elements[id].law { ohms } else { 0.0 };
    let shared = both_go.iter().copied().max_by(|&a, &b| lost(a).total_cmp(&lost(b)))?;
    if lift < LEAST {
        return None;
    }
    // What the shared pieces alone do: the same with perfect ones. (Volts of the feed sag besides.)
    let changes = both_go.iter().map(|&id| Change::Law(id, Law::Resistor { ohms: 1e-6 })).collect();
    let moves = needle(scene, gauge.part, seen, &Injury { changes, ..Injury::default() });
    Some(Lift { gauge: gauge.part, load, seen, lift, moves, shared })
}

/// By how much of its scale a needle moves when an injury is there.
fn needle(scene: &Scene, part: &str, seen: &Seen, injury: &Injury) -> f64 {
    let healthy = Injury::default();
    let at = |injury: &Injury| {
        let outcome = scene.machine.sim.run(seen.id, injury);
        scene.machine.view(seen.id, injury, &outcome)?.deflection(part).ok().flatten()
    };
    at(&healthy).zip(at(injury)).map_or(0.0, |(with, without)| (with - without).abs())
}

/// Metal, a strap or the battery's own cable: everything returns through these.
fn is_common(scene: &Scene, id: ElementId) -> bool {
    let netlist = &scene.machine.netlist;
    let edge = EdgeIndex::new(id);
    let Some(link) = netlist.graph.edge_weight(edge) else { return false };
    let wire = link.site.rsplit_once('.').map_or(link.site.as_str(), |(wire, _)| wire);
    // (an alternator's ground is a post too, while the engine runs)
    let sources = scene.machine.sim.schematic().elements.iter().filter(|element| element.law.feeds());
    let minus: Vec<Node> = sources.map(|element| element.b).collect();
    let metal = |end: NodeIndex| {
        matches!(netlist.graph[end].what, PointKind::Piece | PointKind::Stud) || minus.contains(&end.index())
    };
    match link.what {
        LinkKind::Seat => {
            let (a, b) = netlist.graph.edge_endpoints(edge).unwrap_or_default();
            let stud = if netlist.graph[a].what == PointKind::Stud { a } else { b };
            // Everything comes back to the stud that the battery's own cable lands on.
            netlist.wires.values().any(|w| (w.from == stud || w.to == stud) && metal(w.from) && metal(w.to))
        }
        _ => netlist
            .wires
            .get(wire)
            .or_else(|| netlist.wires.get(&link.site))
            .is_some_and(|w| metal(w.from) && metal(w.to)),
    }
}

/// What is told of one place; nothing where the lift is small and a bad joint there would make little of it, because most
/// of the current has another way.
fn line(scene: &Scene, lifts: &[Lift]) -> Option<Finding> {
    let netlist = &scene.machine.netlist;
    let worst = lifts.iter().max_by(|a, b| a.lift.total_cmp(&b.lift)).expect("a place is made by a lift");
    let moves = lifts.iter().map(|lift| lift.moves).fold(0.0, f64::max);
    let (limit, bad) = (scene.limit("lift"), worst.lift >= scene.limit("lift"));
    let mut gauges: Vec<String> = Vec::new();
    let mut loads: Vec<(String, f64)> = Vec::new();
    for lift in lifts {
        if !gauges.iter().any(|known| known == lift.gauge) {
            gauges.push(lift.gauge.to_string());
        }
        match loads.iter_mut().find(|(known, _)| known == lift.load) {
            Some((_, most)) => *most = most.max(lift.lift),
            None => loads.push((lift.load.to_string(), lift.lift)),
        }
    }
    loads.sort_by(|a, b| b.1.total_cmp(&a.1));
    let told: Vec<String> =
        loads.iter().map(|(load, lift)| format!("{load} lifts them by {}", tell::volts(*lift))).collect();
    // What a joint that has become bad would make of it.
    let more = scene.limit("worn-joint");
    let (worn, worn_moves) = lifts
        .iter()
        .map(|lift| worn(scene, lift, more))
        .fold((0.0, 0.0), |most: (f64, f64), now| (most.0.max(now.0), most.1.max(now.1)));
    if !bad && worn < limit {
        return None;
    }
    let edge = EdgeIndex::new(worst.shared);
    let site = netlist.graph.edge_weight(edge).map_or_else(String::new, |link| link.site.clone());
    let at = netlist.graph.edge_endpoints(edge).map_or_else(At::default, |(a, b)| {
        let near = [a, b].into_iter().find(|&end| netlist.graph[end].place.is_some()).unwrap_or(a);
        At::point(netlist, near)
    });
    let severity = if bad && moves >= 3.0 * JUST_VISIBLE { Severity::Fails } else { Severity::Marginal };
    let needle = if moves >= JUST_VISIBLE {
        format!("the needle moves by {}", tell::percent(moves))
    } else {
        "no needle shows it yet".to_string()
    };
    let values = [
        ("gauges", tell::list(&gauges)),
        ("loads", tell::list(&loads.iter().map(|(load, _)| load.clone()).collect::<Vec<_>>())),
        ("lifts", tell::list(&told)),
        ("site", site.clone()),
        ("needle", needle),
        ("more", format!("{more} ohm")),
        ("worn", tell::volts(worn)),
        ("worn-moves", tell::percent(worn_moves)),
    ];
    Some(scene.finding(severity, "shared-return", At { site, ..at }, &values))
}

/// Lift and needle with so many ohms more in what is shared.
fn worn(scene: &Scene, lift: &Lift, more: f64) -> (f64, f64) {
    let sim = &scene.machine.sim;
    let Law::Resistor { ohms } = sim.schematic().elements[lift.shared].law else { return (lift.lift, lift.moves) };
    let bad = Change::Law(lift.shared, Law::Resistor { ohms: ohms + more });
    let on = Injury { changes: vec![bad.clone()], ..Injury::default() };
    let mut off = Scene::without(scene.elements(lift.load).iter().copied());
    off.changes.push(bad);
    let Some(ground) = scene.machine.netlist.parts.get(lift.gauge).and_then(|part| part.pins.get("ground")) else {
        return (lift.lift, lift.moves);
    };
    let Some((_, _, minus)) = scene.battery(lift.seen) else { return (lift.lift, lift.moves) };
    let volts = |injury: &Injury| {
        let outcome = sim.run(lift.seen.id, injury);
        let closed = outcome.levels.iter().position(|level| level.closed && !level.pulse_high).unwrap_or(0);
        sim.volts(&outcome, closed, ground.index(), minus)
    };
    let place = |injury: &Injury| {
        let outcome = sim.run(lift.seen.id, injury);
        scene.machine.view(lift.seen.id, injury, &outcome)?.deflection(lift.gauge).ok().flatten()
    };
    let moves = place(&on).zip(place(&off)).map_or(0.0, |(on, off)| (on - off).abs());
    (volts(&on) - volts(&off), moves)
}
