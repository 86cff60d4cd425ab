//! A circuit solved with a matrix of its own: islands, order, factor, damped Newton.

use super::config::Taps;
use crate::circuit::law::Branch;
use crate::linear::{Factor, Symbolic};
use std::sync::Arc;

/// Conductance that ties one node of each island; no current flows in it.
pub(super) const TIE: f64 = 1.0;

/// Steps of Newton before it is given up.
const STEPS: usize = 200;
/// A step smaller than this ends the search, V.
const SMALL: f64 = 1e-10;

/// From this step on it is asked whether what is left is rounding alone (a node held by a diode's leak, A that flow in
/// a loop beside it): no step is then ever small.
const PATIENT: usize = 12;
/// Rounding of so many terms in a sum.
const TERMS: f64 = 8.0;

/// A slope still so steep at the end of a step, as a part of what it was at the start, is followed further.
const STEEP: f64 = 0.05;
/// So many steps at most.
const FURTHEST: f64 = 1024.0;

/// A circuit solved.
#[derive(Clone, Debug)]
pub(super) struct Solved {
    pub volts: Vec<f64>,
    /// Island of each node.
    pub islands: Vec<u32>,
    /// The tied node of each island.
    pub ties: Vec<usize>,
    /// The line each branch was taken for: (siemens, amps at 0 V).
    pub lines: Vec<(f64, f64)>,
    pub symbolic: Arc<Symbolic>,
    pub factor: Arc<Factor>,
    /// Numeric factorisations made.
    pub factored: usize,
    /// The search ended on a small step (else at its limit).
    pub converged: bool,
}

/// Islands of nodes joined by present branches, and the tied node of each: `zero` in its own.
pub(super) fn islands<'a>(size: usize, zero: usize, present: impl Iterator<Item = &'a Taps>) -> (Vec<u32>, Vec<usize>) {
    let mut up: Vec<usize> = (0..size).collect();
    for taps in present {
        let mut nodes = taps.as_slice().iter().filter(|(_, weight)| *weight != 0.0);
        if let Some(&(first, _)) = nodes.next() {
            for &(node, _) in nodes {
                let (a, b) = (root(&mut up, first), root(&mut up, node));
                up[a.max(b)] = a.min(b);
            }
        }
    }
    let mut labels = vec![u32::MAX; size];
    let mut ties = Vec::new();
    for node in std::iter::once(zero).filter(|&zero| zero < size).chain(0..size) {
        let root = root(&mut up, node);
        if labels[root] == u32::MAX {
            labels[root] = u32::try_from(ties.len()).unwrap_or(u32::MAX);
            ties.push(node);
        }
        labels[node] = labels[root];
    }
    (labels, ties)
}

fn root(up: &mut [usize], mut node: usize) -> usize {
    while up[node] != node {
        up[node] = up[up[node]];
        node = up[node];
    }
    node
}

/// The pairs of unknowns that a set of branches may couple.
pub(super) fn edges<'a>(taps: impl Iterator<Item = &'a Taps>) -> Vec<(usize, usize)> {
    let mut edges = Vec::new();
    for taps in taps {
        let taps = taps.as_slice();
        for (at, &(a, _)) in taps.iter().enumerate() {
            for &(b, _) in &taps[at + 1..] {
                edges.push((a, b));
            }
        }
    }
    edges
}

/// Solves the branches between `size` nodes. With `symbolic` (made for the edges of these very taps) the order is not sought again;
/// `start` are volts to begin from.
pub(super) fn solve(
    size: usize,
    zero: usize,
    taps: &[Taps],
    branches: &[Branch],
    symbolic: Option<Arc<Symbolic>>,
    start: Option<&[f64]>,
) -> Solved {
    let (islands, ties) = islands(
        size,
        zero,
        taps.iter().zip(branches).filter(|(_, branch)| **branch != Branch::Open).map(|(taps, _)| taps),
    );
    let symbolic = symbolic.unwrap_or_else(|| Arc::new(Symbolic::analyse(size, &edges(taps.iter()))));
    let mut sums = vec![0.0; size];
    for &node in &ties {
        sums[node] = TIE;
    }
    let bends = branches.iter().any(Branch::bends);
    let mut volts = start.map_or_else(|| vec![0.0; size], <[f64]>::to_vec);
    let mut guessed = start.is_none();
    let mut lines = vec![(0.0, 0.0); branches.len()];
    let mut factor: Option<Arc<Factor>> = None;
    let mut factored = 0;
    let mut converged = false;
    for round in 0..STEPS {
        let mut residual = vec![0.0; size];
        for ((branch, line), taps) in branches.iter().zip(&mut lines).zip(taps) {
            let over = taps.volts(&volts);
            let (siemens, amps) = if guessed {
                let (siemens, amps) = branch.guess();
                *line = (siemens, amps);
                (siemens, siemens * over + amps)
            } else {
                let (amps, siemens) = branch.at(over);
                *line = (siemens, amps - siemens * over);
                (siemens, amps)
            };
            if siemens != 0.0 || amps != 0.0 {
                for &(node, weight) in taps.as_slice() {
                    residual[node] -= weight * amps;
                }
            }
        }
        for &node in &ties {
            residual[node] -= TIE * volts[node];
        }
        if bends || factor.is_none() {
            factored += 1;
            match Factor::new(&symbolic, &weights(taps, &lines), &sums) {
                Ok(made) => factor = Some(Arc::new(made)),
                Err(_) if factor.is_some() => break,
                Err(_) => {
                    // A branch without slope holds a node: give each a whisper of it and go on.
                    for line in lines.iter_mut().zip(branches).filter(|(_, branch)| **branch != Branch::Open) {
                        line.0.0 = line.0.0.max(1e-15);
                    }
                    match Factor::new(&symbolic, &weights(taps, &lines), &sums) {
                        Ok(made) => factor = Some(Arc::new(made)),
                        Err(_) => break,
                    }
                }
            }
        }
        let Some(made) = factor.as_ref() else { break };
        let step = made.solve(&symbolic, &residual);
        let part = if guessed || !bends { 1.0 } else { length(taps, branches, &volts, &step) };
        let mut most: f64 = 0.0;
        for (volt, step) in volts.iter_mut().zip(&step) {
            *volt += part * step;
            most = most.max(step.abs());
        }
        let by_guess = std::mem::take(&mut guessed);
        if most < SMALL && !(by_guess && bends) || round >= PATIENT && is_rounding(taps, &lines, &volts, &residual) {
            converged = true;
            break;
        }
    }
    let factor = factor.unwrap_or_else(|| {
        // Nothing could be factored: every unknown stands alone.
        let none = vec![0.0; symbolic.edges().len()];
        Arc::new(Factor::new(&symbolic, &none, &vec![TIE; size]).unwrap_or_default())
    });
    Solved { volts, islands, ties, lines, symbolic, factor, factored, converged }
}

/// Whether the sums of amps at the nodes are as near 0 as the volts' own digits allow.
fn is_rounding(taps: &[Taps], lines: &[(f64, f64)], volts: &[f64], residual: &[f64]) -> bool {
    let mut felt: Vec<f64> = volts.iter().map(|volts| TIE * volts.abs()).collect();
    for (taps, &(siemens, amps)) in taps.iter().zip(lines) {
        let taps = taps.as_slice();
        let through =
            siemens * taps.iter().map(|&(node, weight)| (weight * volts[node]).abs()).sum::<f64>() + amps.abs();
        for &(node, weight) in taps {
            felt[node] += (weight * through).abs();
        }
    }
    residual.iter().zip(&felt).all(|(residual, felt)| residual.abs() <= TERMS * f64::EPSILON * felt)
}

/// Off-diagonal entries, in the order of [`edges`].
fn weights(taps: &[Taps], lines: &[(f64, f64)]) -> Vec<f64> {
    let mut weights = Vec::new();
    for (taps, &(siemens, _)) in taps.iter().zip(lines) {
        let taps = taps.as_slice();
        for (at, &(_, one)) in taps.iter().enumerate() {
            for &(_, other) in &taps[at + 1..] {
                weights.push(siemens * one * other);
            }
        }
    }
    weights
}

/// How much of a Newton step to go: the laws are monotone, so that the currents are the gradient of a convex
/// function; its slope along the step must not have turned uphill by more than it fell at the start.
fn length(taps: &[Taps], branches: &[Branch], volts: &[f64], step: &[f64]) -> f64 {
    let over: Vec<(f64, f64)> = taps.iter().map(|taps| (taps.volts(volts), taps.volts(step))).collect();
    let slope = |part: f64| -> f64 {
        branches
            .iter()
            .zip(&over)
            .filter(|(branch, (_, step))| **branch != Branch::Open && *step != 0.0)
            .map(|(branch, &(volts, step))| step * branch.at(volts + part * step).0)
            .sum()
    };
    line_search(slope)
}

/// The part of a step at which `slope` (of a convex function along it, negative at 0) is no longer steep. More than the
/// whole where it still falls there: a diode that loses its current would come down by its thermal volts a step.
pub(super) fn line_search(slope: impl Fn(f64) -> f64) -> f64 {
    let at_start = slope(0.0);
    if at_start.is_nan() || at_start >= -1e-18 {
        return 1.0;
    }
    let limit = -0.5 * at_start;
    let whole = slope(1.0);
    if whole <= limit {
        let (mut part, mut here) = (1.0, whole);
        while here < STEEP * at_start && part < FURTHEST {
            let next = slope(2.0 * part);
            if next.abs() >= here.abs() {
                break;
            }
            (part, here) = (2.0 * part, next);
        }
        return part;
    }
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let here = slope(middle);
        if here > limit {
            high = middle;
        } else if here < -limit {
            low = middle;
        } else {
            return middle;
        }
    }
    0.5 * (low + high)
}
