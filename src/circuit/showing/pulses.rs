//! The gauge that counts pulses, and what else it counts.
//!
//! u is volts from the signal pin to the gauge's own ground pin, for each level of pulses and of interrupters. The
//! engine's pulses are counted if u crosses both thresholds between low and high pulse; an interrupter's edges are,
//! if u does so between its open and closed phase while the pulses stand still, the kicks that the line picks up from
//! its loom laid over both ([`crate::circuit::coupling`]).

use super::View;
use crate::catalogue::Kind;
use crate::catalogue::kind::Measure;
use crate::circuit::coupling::pickup::Break;
use crate::circuit::lower::{ENGINE, rating};
use crate::circuit::schematic::Law;
use crate::netlist::Part;

/// Volts at which an unregulated gauge is true.
const TRUE_VOLTS: f64 = 13.5;
/// Turns a minute by the engine's setting: stopped, idling, revving (common practice, no source).
const TURNS: [f64; 3] = [0.0, 1500.0, 3000.0];
/// Scatter of a counting input's thresholds that its element does not name.
const THRESHOLD_SPREAD: f64 = 0.1;

/// A counting gauge in a solved state.
#[derive(Debug)]
pub(super) struct Gauge {
    /// Lowest and highest u over the engine's pulses, an interrupter's phase held; one pair each.
    engine: Vec<(f64, f64)>,
    engine_hertz: f64,
    /// The same over an interrupter's phases, the pulse held, with the kick that the line picks up besides.
    edges: Vec<(f64, f64, f64)>,
    /// Standard deviation of ln(kick).
    kick_spread: f64,
    edges_hertz: f64,
    lower: f64,
    upper: f64,
    spread: f64,
    /// Deflection for each pulse a second.
    scale: f64,
}

impl Gauge {
    pub(super) fn of(view: &View<'_>, part: &Part, kind: &Kind, by: &Measure) -> Option<Gauge> {
        let Measure::Pulses { of, supply, needs, full, per_turn, supply_exponent } = by else { return None };
        let id = view.element(part, of)?;
        let Law::PulseInput { lower, upper, .. } = *view.law(id) else { return None };
        let spread = view.sim.schematic().elements[id].spread;
        let pin = |name: &String| part.pins.get(name).map(|node| node.index());
        let (plus, minus) = (pin(&supply[0])?, pin(&supply[1])?);
        let volts = view.mean(|_| true, |level| view.sim.volts(view.outcome, level, plus, minus))?;
        let figure = |param: &crate::catalogue::Param| param.value(|name| rating(part, kind, name));
        let (full, per_turn) = (figure(full)?, figure(per_turn)?);
        let scale =
            if volts < *needs { 0.0 } else { 60.0 / per_turn / full * libm::pow(volts / TRUE_VOLTS, *supply_exponent) };
        let levels = &view.outcome.levels;
        let u: Vec<f64> = (0..levels.len()).map(|level| view.sim.element_volts(view.outcome, level, id)).collect();
        let mut gauge = Gauge {
            engine: Vec::new(),
            engine_hertz: engine_hertz(view),
            edges: Vec::new(),
            kick_spread: view.catalogue.wire.loom.scatter,
            edges_hertz: interrupter_hertz(view),
            lower,
            upper,
            spread: if spread > 0.0 { spread } else { THRESHOLD_SPREAD },
            scale,
        };
        let scene = view.pickup();
        let element = &view.sim.schematic().elements[id];
        for (i, a) in levels.iter().enumerate() {
            for (j, b) in levels.iter().enumerate().skip(i + 1) {
                let span = (u[i].min(u[j]), u[i].max(u[j]));
                if a.slow_closed != b.slow_closed {
                    continue;
                }
                if a.fast_closed == b.fast_closed && a.pulse_high != b.pulse_high {
                    gauge.engine.push(span);
                }
                if a.fast_closed != b.fast_closed && a.pulse_high == b.pulse_high {
                    let (closed, open) = if a.fast_closed { (i, j) } else { (j, i) };
                    let kick = scene.kick(Break { closed, open }, element.a, element.b);
                    gauge.edges.push((span.0, span.1, kick));
                }
            }
        }
        Some(gauge)
    }

    /// Where the needle stands with thresholds `z` standard deviations up.
    pub(super) fn deflection(&self, z: f64) -> f64 {
        let factor = libm::exp(self.spread * z);
        let counted = |spans: &[(f64, f64)]| {
            spans.iter().any(|(low, high)| *high > self.upper * factor && *low < self.lower * factor)
        };
        let engine = if counted(&self.engine) { self.engine_hertz } else { 0.0 };
        // Low thresholds and strong kicks count alike: the scatter of both is put on one axis.
        let kick = libm::exp(-self.kick_spread * z);
        let kicked: Vec<(f64, f64)> =
            self.edges.iter().map(|(low, high, k)| (low - k * kick, high + k * kick)).collect();
        let edges = if counted(&kicked) { self.edges_hertz } else { 0.0 };
        (engine + edges) * self.scale
    }
}

/// Pulses a second of the engine at its setting.
fn engine_hertz(view: &View<'_>) -> f64 {
    let schematic = view.sim.schematic();
    let engine = schematic.controls.get_index_of(ENGINE);
    let setting = engine.and_then(|id| view.spec.steps.last()?.get(id).copied()).unwrap_or(0);
    let turns = TURNS[setting.min(TURNS.len() - 1)];
    let sources = view.elements_that(|law| matches!(law, Law::PulseSource { .. }));
    let per_turn = sources.filter_map(|id| match view.law(id) {
        Law::PulseSource { per_turn, .. } => Some(*per_turn),
        _ => None,
    });
    turns / 60.0 * per_turn.fold(0.0, f64::max)
}

/// Edges a second of the fast interrupter that carries most.
fn interrupter_hertz(view: &View<'_>) -> f64 {
    let ids = view.elements_that(|law| matches!(law, Law::Interrupter { .. }));
    let fast = ids.filter_map(|id| match view.law(id) {
        Law::Interrupter { hertz, .. } if *hertz >= 3.0 => Some((view.closed_phase(id).1, *hertz)),
        _ => None,
    });
    fast.max_by(|a, b| a.0.total_cmp(&b.0)).map_or(0.0, |(_, hertz)| hertz)
}
