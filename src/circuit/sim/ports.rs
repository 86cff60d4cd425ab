//! Solutions in port space: an injury is a few ports of the factored state, and so is each curve that it moves.
//!
//! With node volts `v = v₀ − Y⁻¹ C x`, where `Y` is the state's matrix (curves as lines at the healthy solution), `C`
//! the ports' taps and `x` the amps by which each port's branch now differs from the line it was factored with, the
//! ports' volts are `u = u₀ − Z x` with `Z = Cᵀ Y⁻¹ C`, and what is left to solve is `x = h(u)`, as small as the ports are few.

mod newton;

use self::newton::newton;
use super::base::Base;
use super::config::{Overrides, Taps};
use super::full::{Solved, TIE};
use super::regions::follow;
use crate::circuit::law::Branch;
use crate::circuit::schematic::ElementId;
use crate::linear::solve::Path;
use std::sync::{Arc, OnceLock};

/// Amps taken off a branch are known to their rounding; what is left to hold its points must not make more of that than
/// so many volts (8,000 A off a short cable, its far end then held by a diode's leak alone: 40 µV).
pub(super) const LOST: f64 = 2e-5;
/// The same for what a meter reads: 40,000 A off a short cable, its far end then held by the meter's 10 Mohm alone, make
/// 90 µV, and no display has them.
pub(super) const LOST_READ: f64 = 2e-4;
/// A curve that has left its line by less than this at its place, V, is taken for its line. The injury may have left it
/// a place of more ohms than it had: these count as [`LEAST_PLACE`] at least, and see [`OWN`].
const STRAIGHT: f64 = 5e-8;
/// A curve within this of its place, V, is on its line in any case: what it is off is of second order.
const STILL: f64 = 1e-8;
/// See [`STRAIGHT`], ohm.
const LEAST_PLACE: f64 = 1.0;
/// What a curve taken for its line may be off by, V, whatever the injury has left around it: it never sees more ohms than its
/// own slope has, be it a diode that carries nothing and alone holds a node.
const OWN: f64 = 1e-6;
/// No curve has less slope than a diode's leak, S.
const LEAST_SLOPE: f64 = 1e-12;
/// A curve whose slope has changed by less than this part of the slope it was factored with is corrected by turns with the
/// others (a lamp on a supply that sags a little), not as a port in the small system. Whatever the injury leaves
/// around it, it sees no more ohms than its own factored slope has, so that the turns draw together.
const WEAK: f64 = 0.2;
/// Up to so many ports are solved as one small system without more ado. Where more curves are moved (a short makes the
/// whole supply sag), those that see few ohms are corrected by turns however much their slope has changed.
const FEW_PORTS: usize = 10;
/// So little (slope changed times ohms seen) is few ohms.
const SOFT: f64 = 0.03;
/// What a turn leaves of how far a curve is off, or it becomes a port after all.
const LEFT: f64 = 0.3;
/// More ports than this (an injury of the supply, which every curve feels) are dearer than a matrix of their own.
const MOST_PORTS: usize = 48;
/// Turns of such corrections before port space gives up.
const TURNS: usize = 40;
/// A slope changed by less than this part is not told to who asks for ohms and sensitivities.
const UNTOLD: f64 = 1e-4;
/// Current below which a bridge is taken to carry none, A (rounding of the healthy solution).
const NO_CURRENT: f64 = 1e-6;

/// Currents injected into a factored state.
#[derive(Clone, Debug, Default)]
pub(super) struct Injected {
    pub ports: Vec<InjectedPort>,
    /// Regions joined: islands by their number, then what each cut parts off.
    pub joins: Vec<(u32, u32)>,
    /// Ranges of [`Base::entered`] cut off.
    pub cuts: Vec<(u32, u32)>,
    /// Volts of all nodes, once somebody has asked for them all.
    pub whole: OnceLock<Arc<Vec<f64>>>,
    /// Something hangs on diodes alone that carry nothing: volts are known, but not what an amp would find.
    pub loose: bool,
    /// With a matrix of its own, once somebody has asked for what an amp would find.
    pub own: OnceLock<Arc<Solved>>,
}

/// A port and its current.
#[derive(Clone, Debug)]
pub(super) struct InjectedPort {
    pub at: Place,
    /// A that flow beside the line that was factored.
    pub amps: f64,
    /// Their slope, S.
    pub siemens: f64,
}

/// Where a port is.
#[derive(Clone, Debug)]
pub(super) enum Place {
    /// Over an element of the state.
    Element(ElementId),
    /// Between taps of its own.
    Taps(Taps),
    /// At the tied node of an island that is tied no more.
    Tie(usize),
}

impl Place {
    /// The taps, in a buffer if need be.
    pub fn taps<'a>(&'a self, base: &'a Base, buffer: &'a mut [(usize, f64); 1]) -> &'a [(usize, f64)] {
        match self {
            Place::Element(id) => base.laws.taps[*id].as_slice(),
            Place::Taps(taps) => taps.as_slice(),
            Place::Tie(node) => {
                buffer[0] = (*node, 1.0);
                buffer
            }
        }
    }
}

/// What flows at a port.
#[derive(Clone, Copy)]
struct Flow {
    now: Branch,
    line: (f64, f64),
}

impl Flow {
    fn at(&self, volts: f64) -> (f64, f64) {
        let (amps, siemens) = self.now.at(volts);
        (amps - (self.line.0 * volts + self.line.1), siemens - self.line.0)
    }

    /// Roughly by how much it conducts more than before, for the order of elimination.
    fn more(&self) -> f64 {
        let (siemens, _) = match self.now {
            Branch::Line { siemens, amps } => (siemens, amps),
            other => other.guess(),
        };
        siemens - self.line.0
    }
}

/// A port to be solved.
struct Port<'a> {
    at: Place,
    flow: Flow,
    path: std::borrow::Cow<'a, [(usize, f64)]>,
    volts: f64,
}

/// The currents that the overrides inject, and the volts of [`Base::watched`]; `None` where port space cannot say, or
/// not within `lost` V. `work` is zero and is left so.
pub(super) fn solve(base: &Base, set: &Overrides, lost: f64, work: &mut [f64]) -> Option<(Injected, Vec<f64>)> {
    let mut injected = Injected::default();
    let mut ports = gather(base, set, &mut injected, work)?;
    if ports.is_empty() {
        // Nothing is injected: what was solved stands.
        return Some((injected, base.watched_volts()));
    }
    ports.sort_by(|a, b| b.flow.more().total_cmp(&a.flow.more()));
    let mut curves: Vec<Curve> = base
        .bends()
        .iter()
        .map(|device| {
            let is_port = |port: &Port| matches!(port.at, Place::Element(id) if id == device.id);
            if set.elements.iter().any(|(id, _)| *id == device.id) || injected.loose && ports.iter().any(is_port) {
                Curve::Port
            } else {
                Curve::Weak(0.0, 0.0, 0.0)
            }
        })
        .collect();
    let mut ohms: Vec<Vec<f64>> = Vec::new();
    let mut amps: Vec<f64> = Vec::new();
    let mut slopes: Vec<f64> = Vec::new();
    for _ in 0..TURNS {
        if ports.len() > MOST_PORTS {
            return None;
        }
        for row in ohms.len()..ports.len() {
            let values: Vec<f64> =
                (0..=row).map(|column| base.factor.product(&ports[row].path, &ports[column].path)).collect();
            for (list, &value) in ohms.iter_mut().zip(&values) {
                list.push(value);
            }
            ohms.push(values);
        }
        amps.resize(ports.len(), 0.0);
        slopes.resize(ports.len(), 0.0);
        let mut boughs: Vec<usize> = Vec::new();
        let touch = |path: &[(usize, f64)], boughs: &mut Vec<usize>| {
            for &(k, _) in path {
                let bough = base.boughs()[k];
                if boughs.last() != Some(&bough) && !boughs.contains(&bough) {
                    boughs.push(bough);
                }
            }
        };
        for (device, curve) in base.bends().iter().zip(&curves) {
            if let Curve::Weak(amps, ..) = *curve
                && amps != 0.0
            {
                base.factor.spread(&device.path, amps, work);
                touch(&device.path[..1], &mut boughs);
            }
        }
        let volts: Vec<f64> =
            ports.iter().map(|port| port.volts - base.factor.product_dense(&port.path, work)).collect();
        let solved = newton(&ports, volts, &ohms, lost, (&mut amps, &mut slopes));
        for (port, &amps) in ports.iter().zip(&amps) {
            base.factor.spread(&port.path, amps, work);
            touch(&port.path, &mut boughs);
        }
        let settled = solved.is_some() && !correct(base, &mut curves, (&mut ports, &mut amps), &boughs, work);
        let watched: Vec<f64> = if settled {
            base.watched().iter().map(|device| device.volts - base.moves(device, &boughs, work)).collect()
        } else {
            Vec::new()
        };
        let touched = ports.iter().map(|port| &port.path[..]).chain(
            base.bends().iter().zip(&curves).filter(|(_, curve)| curve.moved()).map(|(device, _)| &device.path[..]),
        );
        for &(k, _) in touched.flatten() {
            work[k] = 0.0;
        }
        solved?;
        if settled {
            let strong = ports.into_iter().zip(amps.into_iter().zip(slopes));
            injected.ports =
                strong.map(|(port, (amps, siemens))| InjectedPort { at: port.at, amps, siemens }).collect();
            for (device, curve) in base.bends().iter().zip(&curves) {
                if let Curve::Weak(amps, slope, _) = *curve
                    && amps != 0.0
                {
                    let told = slope.abs() >= UNTOLD * base.lines[device.id].0;
                    let siemens = if told { slope } else { 0.0 };
                    injected.ports.push(InjectedPort { at: Place::Element(device.id), amps, siemens });
                }
            }
            return Some((injected, watched));
        }
    }
    None
}

/// How a curve of the state is taken.
#[derive(Clone, Copy)]
enum Curve {
    /// As one of the ports.
    Port,
    /// Corrected by turns: amps beside its line, their slope, and by how many it was off at the turn before.
    Weak(f64, f64, f64),
}

impl Curve {
    fn moved(&self) -> bool {
        matches!(self, Curve::Weak(amps, ..) if *amps != 0.0)
    }
}

/// Brings the curves that are no ports to the volts that `work` stands for, those too strong for it among the ports;
/// false if none had to move.
fn correct<'a>(
    base: &'a Base,
    curves: &mut [Curve],
    (ports, ports_amps): (&mut Vec<Port<'a>>, &mut Vec<f64>),
    boughs: &[usize],
    work: &mut [f64],
) -> bool {
    let mut moved: Vec<Moved> = Vec::new();
    let mut strong = ports.len();
    let most = base.most(work);
    let bunches = base.bunches().iter().filter(|bunch| most >= bunch.reach || boughs.contains(&bunch.bough));
    for at in bunches.flat_map(|bunch| bunch.curves.clone()) {
        let device = &base.bends()[at];
        let Curve::Weak(before, ..) = curves[at] else { continue };
        let moves = base.moves(device, boughs, work);
        if before == 0.0 && moves.abs() < device.reach {
            continue;
        }
        let volts = device.volts - moves;
        let flow = Flow { now: base.branches[device.id], line: base.lines[device.id] };
        let (amps, slope) = flow.at(volts);
        let off = amps - before;
        if off.abs() <= unfelt(device.ohms, flow.line.0) {
            continue;
        }
        // Both here and on the way here: a lamp at minus so many volts has the slope that it had at plus as many.
        let is_strong = slope.abs() > WEAK * flow.line.0 || amps.abs() > WEAK * flow.line.0 * moves.abs();
        strong += usize::from(is_strong);
        moved.push(Moved { at, flow, off, slope, is_strong });
    }
    for &Moved { at, flow, off, slope, is_strong } in &moved {
        let Curve::Weak(before, _, last) = curves[at] else { continue };
        let device = &base.bends()[at];
        let stays =
            strong > FEW_PORTS && slope.abs() * device.ohms < SOFT && (last == 0.0 || off.abs() < LEFT * last.abs());
        if is_strong && !stays {
            curves[at] = Curve::Port;
            let path = (&device.path[..]).into();
            ports.push(Port { at: Place::Element(device.id), flow, path, volts: device.volts });
            ports_amps.push(before);
        } else {
            // Newton for this curve alone: its neighbours feel it in the next turn.
            let next = before + off / (1.0 + slope * device.ohms);
            // Never quite 0: a curve that has moved once is known by its amps.
            curves[at] = Curve::Weak(if next == 0.0 { f64::MIN_POSITIVE } else { next }, slope, off);
        }
    }
    !moved.is_empty()
}

/// A curve off its line.
struct Moved {
    at: usize,
    flow: Flow,
    /// A.
    off: f64,
    slope: f64,
    is_strong: bool,
}

/// Amps off its line that nobody feels, of a curve of this slope that saw so many ohms.
fn unfelt(ohms: f64, siemens: f64) -> f64 {
    (STRAIGHT / ohms.max(LEAST_PLACE)).min(OWN * siemens.max(LEAST_SLOPE))
}

/// Within so many volts of its place a curve that has not left its line yet is on it, as far as anybody feels.
pub(super) fn reach(now: Branch, line: (f64, f64), volts: f64, ohms: f64) -> f64 {
    let flow = Flow { now, line };
    let limit = unfelt(ohms, line.0);
    let within = |reach: f64| [-1.0, -0.5, 0.5, 1.0].iter().all(|part| flow.at(volts + part * reach).0.abs() <= limit);
    let mut reach = 1.0;
    while reach > STILL && !within(reach) {
        reach *= 0.5;
    }
    reach
}

/// The ports of what differs; joins and cuts of islands with them.
///
/// What is left after the cuts (regions) is joined by what is added. The ties of islands and the bridges to be opened
/// then hold whatever nothing else holds, each region once: there they carry no current, and stay as they are in the
/// factored state. Every further one is taken away as a port.
fn gather<'a>(base: &'a Base, set: &Overrides, injected: &mut Injected, work: &mut [f64]) -> Option<Vec<Port<'a>>> {
    let mut ports = Vec::with_capacity(set.elements.len() + set.added.len() + 4);
    for &(id, now) in &set.elements {
        if let (Some(range), Branch::Open) = (base.bridge(id), now) {
            // A bridge carries no current.
            if base.branches[id].at(base.laws.taps[id].volts(&base.volts)).0.abs() > NO_CURRENT {
                return None;
            }
            injected.cuts.push(range);
        }
    }
    let mut port = |at: Place, flow: Flow, taps: &Taps| {
        let path: Path = base.factor.path(&base.symbolic, taps.as_slice(), work);
        ports.push(Port { at, flow, path: path.into(), volts: taps.volts(&base.volts) });
    };
    for &(id, now) in &set.elements {
        let taps = &base.laws.taps[id];
        if base.branches[id] == Branch::Open {
            injected.join(base, taps);
        } else if now == Branch::Open && base.bridge(id).is_some() {
            continue;
        }
        port(Place::Element(id), Flow { now, line: base.lines[id] }, taps);
    }
    for (taps, now) in &set.added {
        if *now != Branch::Open {
            injected.join(base, taps);
            port(Place::Taps(taps.clone()), Flow { now: *now, line: (0.0, 0.0) }, taps);
        }
    }
    for id in idle(base, set) {
        // At no amps a diode has no volts, whatever line it was factored as; and then it still holds what hangs on it.
        injected.loose = true;
        let line = base.lines[id];
        port(Place::Element(id), Flow { now: Branch::Line { siemens: line.0, amps: 0.0 }, line }, &base.laws.taps[id]);
    }
    let mut untied: Vec<usize> = Vec::new();
    if injected.cuts.is_empty() {
        untied.extend(injected.joins.iter().map(|&(gone, _)| base.ties[gone as usize]));
    } else if !injected.joins.is_empty() {
        // Who holds whom: joins first, then ties in the order of their islands, then bridges.
        let mut holds = injected.joins.clone();
        let mut grounded: Option<u32> = None;
        for &node in &base.ties {
            let region = follow(&holds, injected.region(base, node));
            match grounded.map(|ground| follow(&holds, ground)) {
                None => grounded = Some(region),
                Some(ground) if ground == region => untied.push(node),
                Some(ground) => holds.push((region, ground)),
            }
        }
        for &(id, now) in &set.elements {
            if now != Branch::Open || base.bridge(id).is_none() || base.branches[id] == Branch::Open {
                continue;
            }
            let taps = &base.laws.taps[id];
            let [(a, _), (b, _), ..] = *taps.as_slice() else { return None };
            let (a, b) = (follow(&holds, injected.region(base, a)), follow(&holds, injected.region(base, b)));
            if a == b {
                port(Place::Element(id), Flow { now, line: base.lines[id] }, taps);
            } else {
                holds.push((a, b));
            }
        }
    }
    for node in untied {
        let path = base.factor.path(&base.symbolic, &[(node, 1.0)], work);
        let flow = Flow { now: Branch::Open, line: (TIE, 0.0) };
        ports.push(Port { at: Place::Tie(node), flow, path: path.into(), volts: base.volts[node] });
    }
    Some(ports)
}

/// Diodes in which nothing flows any more because something in series with them is open. Where anything is added too the
/// series may be one no longer.
fn idle(base: &Base, set: &Overrides) -> Vec<ElementId> {
    let changed = |id: ElementId| set.elements.iter().any(|(other, _)| *other == id);
    let adds = !set.added.is_empty() || set.elements.iter().any(|(id, _)| base.branches[*id] == Branch::Open);
    let opened = set.elements.iter().filter(|(_, now)| !adds && *now == Branch::Open);
    let mut idle: Vec<ElementId> =
        opened.flat_map(|&(id, _)| base.diodes_behind(id)).filter(|&diode| !changed(diode)).collect();
    idle.sort_unstable();
    idle.dedup();
    idle
}
