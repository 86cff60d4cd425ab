//! Newton's method among a few ports: what is left to solve once everything else is a factor.

use super::Port;
use crate::circuit::sim::full::line_search;
use crate::linear::Dense;

/// What holds two points by less than this, S, once a branch between them is taken away, is not known well enough: the
/// factored matrix has leaks of some 1e-12 S from rounding. What is left is the branch's own siemens times its pivot.
const LEAST_HOLD: f64 = 3e-8;
/// No pivot is known better than this part.
const LEAST_PIVOT: f64 = 1e-11;
/// A pivot above this part is good whatever the branch.
const MOST_LEAST: f64 = 1e-7;
/// Steps of Newton before port space gives up.
const STEPS: usize = 60;
/// A step smaller than this ends the search, V: what is left is of second order.
const SMALL: f64 = 1e-7;

/// Finds amps with `amps = flow(volts − Z amps)`, damped; slopes at the solution. `open` are the volts without amps.
pub(super) fn newton(
    ports: &[Port<'_>],
    open: Vec<f64>,
    ohms: &[Vec<f64>],
    lost: f64,
    (amps, slopes): (&mut [f64], &mut [f64]),
) -> Option<()> {
    let size = ports.len();
    if size == 0 {
        return Some(());
    }
    let straight = ports.iter().all(|port| !port.flow.now.bends());
    let mut volts: Vec<f64> = (0..size)
        .map(|row| open[row] - ohms[row].iter().zip(amps.iter()).map(|(ohms, amps)| ohms * amps).sum::<f64>())
        .collect();
    let flows = |volts: &dyn Fn(usize) -> f64| -> Vec<(f64, f64)> {
        ports.iter().enumerate().map(|(row, port)| port.flow.at(volts(row))).collect()
    };
    let mut here = flows(&|row| volts[row]);
    let mut step = vec![0.0; size];
    let mut rise = vec![0.0; size];
    for _ in 0..STEPS {
        for row in 0..size {
            let (now, slope) = here[row];
            step[row] = now - amps[row];
            slopes[row] = slope;
        }
        let mut cells = vec![0.0; size * size];
        for row in 0..size {
            for column in 0..size {
                cells[row * size + column] = slopes[row] * ohms[row][column];
            }
            cells[row * size + row] += 1.0;
        }
        let least = |port: usize| (LEAST_HOLD / slopes[port].abs()).clamp(LEAST_PIVOT, MOST_LEAST);
        let dense = Dense::eliminate(size, cells, least)?;
        dense.solve(&mut step);
        let mut most: f64 = 0.0;
        for row in 0..size {
            rise[row] = -ohms[row].iter().zip(&step).map(|(ohms, step)| ohms * step).sum::<f64>();
            most = most.max(rise[row].abs());
        }
        if !most.is_finite() {
            return None;
        }
        let mut part = 1.0;
        if !(straight || most < SMALL) {
            let slope = |part: f64, flows: &[(f64, f64)]| -> f64 {
                (0..size).map(|row| rise[row] * (flows[row].0 - amps[row] - part * step[row])).sum()
            };
            let at = |part: f64| flows(&|row| volts[row] + part * rise[row]);
            let whole = at(1.0);
            part = line_search(|part| {
                if part == 0.0 {
                    slope(part, &here)
                } else if part == 1.0 {
                    slope(part, &whole)
                } else {
                    slope(part, &at(part))
                }
            });
            here = if part == 1.0 { whole } else { at(part) };
        }
        for row in 0..size {
            amps[row] += part * step[row];
            volts[row] += part * rise[row];
        }
        if straight || most < SMALL {
            let off = f64::EPSILON * amps.iter().fold(0.0, |most: f64, amps| most.max(amps.abs()));
            // What was between the points conducted `-slope`; with it gone they see as many ohms more as the pivot is
            // below one.
            let left = |row: usize| {
                let pivot = dense.pivot(row);
                if pivot < 1.0 { pivot * -slopes[row] / (1.0 - pivot) } else { f64::INFINITY }
            };
            let held = |row: usize| slopes[row] >= 0.0 || off <= lost * left(row);
            return (0..size).all(held).then_some(());
        }
    }
    None
}
