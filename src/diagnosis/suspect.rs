//! Suspects: what could be wrong, how likely before any evidence, how bad it can be.

use crate::circuit::fault::Fault;

/// One site × mode, as `faults` lists them.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// The fault at its default argument.
    pub fault: Fault,
    /// Its canonical name at the default argument.
    pub name: String,
    /// Other names of the same.
    pub aliases: Vec<String>,
    /// Share of the suspect's prior that is this member's; members of a suspect sum to one.
    pub share: f64,
}

/// A severity cell: log-uniform between two ends, five points inside.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// Lower end.
    pub from: f64,
    /// Upper end.
    pub to: f64,
    /// Share of the suspect's prior; cells of a suspect sum to one.
    pub share: f64,
}

/// A suspect: site × modes that no reading can tell apart, computed as one.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// Its members; the first stands for all.
    pub members: Vec<Member>,
    /// Repair class: `remake:G1`.
    pub class: String,
    /// Prior probability.
    pub prior: f64,
    /// Severity cells; one of equal ends if it has no severity.
    pub cells: Vec<Cell>,
    /// What it is.
    pub what: What,
}

/// What sort of suspect it is; the special ones are not in the circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum What {
    /// Series break or resistance in a segment (its index).
    Series(usize),
    /// Two conductors, or a conductor and the chassis, touch.
    Touching,
    /// Two wires lie so close that one puts its kicks into the other.
    Coupled,
    /// Conductors exchanged or landed elsewhere.
    Crossed,
    /// A part itself.
    Part(String),
    /// The machine as drawn, all within tolerance.
    NothingBroken,
    /// Something that this list does not have.
    NotInFile,
}

/// A severity point: what is simulated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Index of the suspect.
    pub suspect: usize,
    /// Its argument (ohms for a resistive joint), if it has one.
    pub severity: Option<f64>,
    /// ln of its share of the suspect.
    pub ln_share: f64,
    /// Standard deviation of ln(severity) that this point stands for.
    pub smear: f64,
    /// ln of how many times as long as their table says fuses hold, see [`PATIENCE`].
    pub patience: f64,
}

/// Standard deviation of ln(time) until a fuse opens: 1.5 times for the fuse itself, and about as much again because
/// the current through it is known to a twentieth only and the time goes with some fifteenth power of it (slope of
/// ISO 8820-3 between 135 and 200 %; the spreads are common practice, no source).
const PATIENCE: f64 = 0.85;
/// Points and weights of the normal distribution, exact up to the fifth power (Gauss–Hermite, three points;
/// Abramowitz & Stegun table 25.10, from memory, checked by the test below).
const NORMAL: [(f64, f64); 3] =
    [(0.0, 2.0 / 3.0), (1.732_050_807_568_877, 1.0 / 6.0), (-1.732_050_807_568_877, 1.0 / 6.0)];

/// Gauss–Legendre points and weights on [0, 1] (five points; Abramowitz & Stegun table 25.4, from memory,
/// checked by the test below against the integrals that they must give exactly).
pub const GAUSS: [(f64, f64); 5] = [
    (0.046_910_077_030_668, 0.118_463_442_528_095),
    (0.230_765_344_947_158, 0.239_314_335_249_683),
    (0.5, 0.284_444_444_444_444),
    (0.769_234_655_052_842, 0.239_314_335_249_683),
    (0.953_089_922_969_332, 0.118_463_442_528_095),
];

/// The same with two points: where readings need only be told apart, not weighed.
pub const GAUSS_TWO: [(f64, f64); 2] = [(0.211_324_865_405_187, 0.5), (0.788_675_134_594_813, 0.5)];

/// Cells a factor 4 wide from `from` to `to`, log-uniform mass.
pub fn cells(from: f64, to: f64) -> Vec<Cell> {
    if !(to > from * 1.0001 && from > 0.0) {
        return vec![Cell { from, to: from, share: 1.0 }];
    }
    let width = (to / from).ln();
    let count = (width / 4.0_f64.ln()).ceil().max(1.0) as usize;
    let step = width / count as f64;
    (0..count)
        .map(|i| Cell {
            from: from * (step * i as f64).exp(),
            to: from * (step * (i + 1) as f64).exp(),
            share: 1.0 / count as f64,
        })
        .collect()
}

impl Suspect {
    /// The severity points of this suspect, whose index is `suspect`.
    pub fn points(&self, suspect: usize) -> Vec<Point> {
        self.points_by(suspect, &GAUSS)
    }

    /// The same with so many points a cell as the rule has: places on [0, 1] with their weights.
    pub fn points_by(&self, suspect: usize, rule: &[(f64, f64)]) -> Vec<Point> {
        let mut out = Vec::new();
        for cell in &self.cells {
            if cell.to <= cell.from {
                // What lets more current through may blow a fuse, or just not.
                let spread = if self.what == What::Touching { &NORMAL[..] } else { &[(0.0, 1.0)] };
                out.extend(spread.iter().map(|(z, share)| Point {
                    suspect,
                    severity: None,
                    ln_share: (cell.share * share).ln(),
                    smear: 0.0,
                    patience: PATIENCE * z,
                }));
                continue;
            }
            let width = (cell.to / cell.from).ln();
            for &(x, w) in rule {
                out.push(Point {
                    suspect,
                    severity: Some(cell.from * (width * x).exp()),
                    ln_share: (cell.share * w).ln(),
                    // A point stands for a stretch of its own weight; uniform over it.
                    smear: width * w / 12.0_f64.sqrt(),
                    patience: 0.0,
                });
            }
        }
        out
    }

    /// The fault of the member that stands for all, at this severity.
    pub fn fault_at(&self, severity: Option<f64>) -> Fault {
        let mut fault = self.members.first().map(|m| m.fault.clone()).unwrap_or_default();
        if let (Some(value), Some(single)) = (severity, fault.singles.first_mut()) {
            single.args = vec![format!("{value}")];
        }
        fault
    }

    /// Is it one of the special suspects, not a change to the circuit?
    pub fn special(&self) -> bool {
        matches!(self.what, What::NothingBroken | What::NotInFile)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gauss_points_integrate_powers_up_to_nine_exactly() {
        for power in 0..=9 {
            let sum: f64 = GAUSS.iter().map(|(x, w)| w * x.powi(power)).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-12, "x^{power}: {sum}");
        }
    }

    #[test]
    fn three_points_have_the_moments_of_the_normal_distribution() {
        for (power, moment) in [(0, 1.0), (1, 0.0), (2, 1.0), (3, 0.0), (4, 3.0), (5, 0.0)] {
            let sum: f64 = NORMAL.iter().map(|(z, w)| w * z.powi(power)).sum();
            assert!((sum - moment).abs() < 1e-12, "z^{power}: {sum}");
        }
    }

    #[test]
    fn two_points_integrate_powers_up_to_three_exactly() {
        for power in 0..=3 {
            let sum: f64 = GAUSS_TWO.iter().map(|(x, w)| w * x.powi(power)).sum();
            assert!((sum - 1.0 / f64::from(power + 1)).abs() < 1e-12, "x^{power}: {sum}");
        }
    }

    #[test]
    fn refining_a_range_leaves_the_mass_unchanged() {
        for (from, to) in [(0.2, 50.0), (0.05, 0.05), (1.0, 3.0)] {
            let total: f64 = cells(from, to).iter().map(|c| c.share).sum();
            assert!((total - 1.0).abs() < 1e-12);
            assert!(cells(from, to).iter().all(|c| c.to <= c.from * 4.0001));
        }
    }
}
