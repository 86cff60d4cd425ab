//! Weighing all readings at once.
//!
//! Evidence is a batch, not a filter: for each severity point of each suspect all readings are judged
//! together, sharing what they share (battery, loads, severity), once with every reading believed and
//! once with each one in turn taken for a wrong reading. Taking a reading back, or correcting one, is
//! weighing again without it.

use crate::linear::cholesky::Cholesky;

/// What a severity point predicts of one reading.
#[derive(Clone, Debug, PartialEq)]
pub enum Predicted {
    /// A number on a display.
    Number {
        /// mean, in the reading's unit
        mean: f64,
        /// standard deviation that belongs to this reading alone (the meter)
        own: f64,
        /// shared uncertainties: (which, change of the mean for one standard deviation)
        shared: Vec<(u32, f64)>,
        /// change of the mean for a unit of ln(severity), once it was asked for
        severity: Option<f64>,
        /// ln of the chance that it comes out so at all, 0 if it must: a contact that an ohmmeter finds sound may fail
        /// under load
        ln: f64,
    },
    /// The probability of exactly what was met (a showing, a beep, over range).
    Mass(f64),
}

/// What was met.
#[derive(Clone, Debug, PartialEq)]
pub struct Met {
    /// The value, if it is a number.
    pub value: f64,
    /// The display's step there: the mass of a number is density × step.
    pub step: f64,
    /// Probability of this very outcome if the reading is wrong.
    pub wrong: f64,
    /// Prior probability that this reading is wrong.
    pub doubt: f64,
    /// Readings of one placement share one doubt.
    pub placement: usize,
    /// Looks at one part: what a person calls dim does not scatter anew with every look.
    pub look: Option<u32>,
}

/// How well a point explains the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// ln P(all readings | point), wrong readings allowed for.
    pub ln: f64,
    /// The placement that the point needs to be wrong, if that is likelier than not.
    pub needs_wrong: Option<usize>,
}

/// ln of the sum of exponentials.
pub fn ln_sum(values: &[f64]) -> f64 {
    let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !top.is_finite() {
        return top;
    }
    top + values.iter().map(|v| (v - top).exp()).sum::<f64>().ln()
}

/// ln P(readings | point), at most one placement wrong.
///
/// `smear` is the standard deviation of ln(severity) that the point stands for.
pub fn fit(predicted: &[&Predicted], met: &[&Met], smear: f64) -> Fit {
    let placements = {
        let mut seen: Vec<usize> = met.iter().map(|m| m.placement).collect();
        seen.sort_unstable();
        seen.dedup();
        seen
    };
    let all: f64 = placements.iter().map(|&p| (1.0 - doubt(met, p)).ln()).sum();
    let joint = Joint::new(predicted, met, smear);
    let believed = all + joint.ln();
    let mut terms = vec![believed];
    let mut which = vec![None];
    for &placement in &placements {
        let wrong: f64 = predicted
            .iter()
            .zip(met)
            .filter(|(_, m)| m.placement == placement)
            .map(|(p, m)| slip(p, m).max(1e-300).ln())
            .sum();
        let doubt = doubt(met, placement);
        let ln = all - (1.0 - doubt).ln() + doubt.max(1e-300).ln() + wrong + joint.ln_without(placement);
        terms.push(ln);
        which.push(Some(placement));
    }
    let ln = ln_sum(&terms);
    let best = (0..terms.len()).max_by(|&a, &b| terms[a].total_cmp(&terms[b])).unwrap_or(0);
    Fit { ln, needs_wrong: which[best].filter(|_| terms[best] > ln + 0.5_f64.ln()) }
}

/// Mass of what was met if the reading is wrong: half flat over the display, half the commonest slip,
/// leads the wrong way round.
fn slip(predicted: &Predicted, met: &Met) -> f64 {
    match predicted {
        Predicted::Number { mean, own, shared, .. } => {
            let variance = own * own + met.step * met.step / 12.0 + dot(shared, shared);
            let off = met.value + mean;
            let density = (-off * off / variance / 2.0).exp() / (std::f64::consts::TAU * variance).sqrt();
            0.5 * met.wrong + 0.5 * (density * met.step).min(1.0)
        }
        Predicted::Mass(_) => met.wrong,
    }
}

/// ln of the mass of one reading by itself, a wrong one allowed for.
pub fn alone(predicted: &Predicted, met: &Met, smear: f64) -> f64 {
    let mass = match predicted {
        Predicted::Mass(mass) => *mass,
        Predicted::Number { mean, own, shared, severity, ln } => {
            let leans = severity.unwrap_or(0.0) * smear;
            let variance = own * own + met.step * met.step / 12.0 + dot(shared, shared) + leans * leans;
            let off = met.value - mean;
            let density = (-off * off / variance / 2.0).exp() / (std::f64::consts::TAU * variance).sqrt();
            (density * met.step).min(1.0) * ln.exp()
        }
    };
    ((1.0 - met.doubt) * mass + met.doubt * met.wrong).max(1e-300).ln()
}

fn doubt(met: &[&Met], placement: usize) -> f64 {
    met.iter().find(|m| m.placement == placement).map_or(0.0, |m| m.doubt).clamp(0.0, 0.5)
}

/// The joint mass of all readings, and of all but one placement's: numbers share uncertainties, so that leaving one
/// out is told from the inverse of their covariance, not from a covariance of its own.
struct Joint<'a> {
    predicted: &'a [&'a Predicted],
    met: &'a [&'a Met],
    /// Which of them are numbers.
    numbers: Vec<usize>,
    covariance: Vec<f64>,
    residual: Vec<f64>,
    /// ln of the numbers' steps.
    steps: Vec<f64>,
    factor: Option<Cholesky>,
    quadratic: f64,
    ln_det: f64,
    /// Of each number: what it adds to the quadratic form, given all others, and the inverse's diagonal entry.
    alone: std::cell::OnceCell<Vec<(f64, f64)>>,
}

impl<'a> Joint<'a> {
    fn new(predicted: &'a [&'a Predicted], met: &'a [&'a Met], smear: f64) -> Self {
        let number = |&i: &usize| matches!(predicted[i], Predicted::Number { .. });
        let numbers: Vec<usize> = (0..predicted.len().min(met.len())).filter(number).collect();
        let n = numbers.len();
        let mut covariance = vec![0.0; n * n];
        let mut residual = vec![0.0; n];
        let mut steps = vec![0.0; n];
        for i in 0..n {
            let met = met[numbers[i]];
            let Predicted::Number { mean, own, shared, severity, .. } = predicted[numbers[i]] else { continue };
            residual[i] = met.value - mean;
            steps[i] = met.step.max(1e-12).ln();
            for j in 0..=i {
                let Predicted::Number { shared: other, severity: other_severity, .. } = predicted[numbers[j]] else {
                    continue;
                };
                let leans = |severity: &Option<f64>| severity.unwrap_or(0.0);
                let mut c = leans(severity) * leans(other_severity) * smear * smear + dot(shared, other);
                if i == j {
                    // The step's own spread: a digit stands for a stretch of a uniform step.
                    c += own * own + met.step * met.step / 12.0;
                }
                covariance[i * n + j] = c;
                covariance[j * n + i] = c;
            }
        }
        let factor = Cholesky::new(&covariance, n);
        let (quadratic, ln_det) = factor.as_ref().map_or((0.0, 0.0), |f| (f.quadratic(&residual), f.ln_det()));
        let alone = std::cell::OnceCell::new();
        Joint { predicted, met, numbers, covariance, residual, steps, factor, quadratic, ln_det, alone }
    }

    /// ln of the mass of everything.
    fn ln(&self) -> f64 {
        self.masses(None) + self.all_numbers()
    }

    fn all_numbers(&self) -> f64 {
        mass(self.factor.is_some(), self.numbers.len(), self.steps.iter().sum(), self.quadratic, self.ln_det)
    }

    /// ln of the mass of all readings but those of one placement.
    fn ln_without(&self, placement: usize) -> f64 {
        let n = self.numbers.len();
        let stays = |i: &usize| self.met[self.numbers[*i]].placement != placement;
        let kept: Vec<usize> = (0..n).filter(stays).collect();
        let numbers = match (n - kept.len(), &self.factor) {
            (0, _) => self.all_numbers(),
            (1, Some(factor)) if n > 1 => {
                let gone = (0..n).find(|i| !stays(i)).unwrap_or(0);
                let (part, own) = self.alone.get_or_init(|| factor.alone(&self.residual))[gone];
                let steps = self.steps.iter().sum::<f64>() - self.steps[gone];
                mass(true, n - 1, steps, (self.quadratic - part).max(0.0), self.ln_det + own.ln())
            }
            _ => {
                let m = kept.len();
                let mut covariance = Vec::with_capacity(m * m);
                for &i in &kept {
                    covariance.extend(kept.iter().map(|&j| self.covariance[i * n + j]));
                }
                let residual: Vec<f64> = kept.iter().map(|&i| self.residual[i]).collect();
                let steps = kept.iter().map(|&i| self.steps[i]).sum();
                match Cholesky::new(&covariance, m) {
                    Some(factor) => mass(true, m, steps, factor.quadratic(&residual), factor.ln_det()),
                    None => mass(false, m, steps, 0.0, 0.0),
                }
            }
        };
        self.masses(Some(placement)) + numbers
    }

    /// ln of the masses of what are no numbers, and of the chances of those that are. Looks at one part hang on one threshold: together they weigh as the
    /// most telling one alone.
    fn masses(&self, without: Option<usize>) -> f64 {
        let mut ln = 0.0;
        let mut looks: Vec<(u32, f64)> = Vec::new();
        for (p, m) in self.predicted.iter().zip(self.met).filter(|(_, m)| Some(m.placement) != without) {
            let mass = match p {
                Predicted::Mass(mass) => mass,
                Predicted::Number { ln: chance, .. } => {
                    ln += chance;
                    continue;
                }
            };
            let mass = mass.max(1e-300).ln();
            let Some(part) = m.look else {
                ln += mass;
                continue;
            };
            match looks.iter_mut().find(|(other, _)| *other == part) {
                Some((_, least)) => *least = least.min(mass),
                None => looks.push((part, mass)),
            }
        }
        ln + looks.iter().map(|(_, mass)| mass).sum::<f64>()
    }
}

/// ln of the mass of so many numbers; a probability mass never exceeds one.
fn mass(definite: bool, n: usize, steps: f64, quadratic: f64, ln_det: f64) -> f64 {
    match (n, definite) {
        (0, _) => 0.0,
        (_, false) => -1e6,
        _ => (steps - 0.5 * (quadratic + ln_det + n as f64 * std::f64::consts::TAU.ln())).min(0.0),
    }
}

/// Sum over common entries of two sorted sparse rows.
fn dot(a: &[(u32, f64)], b: &[(u32, f64)]) -> f64 {
    let (mut i, mut j, mut sum) = (0, 0, 0.0);
    while i < a.len() && j < b.len() {
        match a[i].0.cmp(&b[j].0) {
            std::cmp::Ordering::Less => i += 1,
            std::cmp::Ordering::Greater => j += 1,
            std::cmp::Ordering::Equal => {
                sum += a[i].1 * b[j].1;
                i += 1;
                j += 1;
            }
        }
    }
    sum
}

/// ln weights into probabilities that sum to one (all equal to zero if none is finite).
pub fn normalise(ln: &[f64]) -> Vec<f64> {
    let total = ln_sum(ln);
    ln.iter().map(|l| if total.is_finite() { (l - total).exp() } else { 0.0 }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn met(value: f64, wrong: f64, doubt: f64, placement: usize) -> Met {
        Met { value, step: 0.01, wrong, doubt, placement, look: None }
    }

    fn number(mean: f64, own: f64) -> Predicted {
        Predicted::Number { mean, own, shared: Vec::new(), severity: None, ln: 0.0 }
    }

    /// Small diagnosis problem T7: priors .5 .3 .2, a reading that only 2 and 3 predict, 5 % wrong
    /// readings, gives .05 .57 .38 (recomputed by hand: .5·.05 : .3·.95 : .2·.95).
    #[test]
    fn a_wrong_reading_weighs_as_in_the_worked_problem() {
        let priors = [0.5_f64, 0.3, 0.2];
        let predicts = [0.0, 1.0, 1.0];
        let ln: Vec<f64> = priors
            .iter()
            .zip(predicts)
            .map(|(p, mass)| p.ln() + fit(&[&Predicted::Mass(mass)], &[&met(0.0, 1.0, 0.05, 0)], 0.0).ln)
            .collect();
        let p = normalise(&ln);
        for (got, want) in p.iter().zip([0.05, 0.57, 0.38]) {
            // With two outcomes a wrong reading of "predicted" is "not predicted": hypotheses 2 and 3 gain nothing from it.
            assert!((got - want).abs() < 0.011, "{p:?}");
        }
    }

    #[test]
    fn one_wild_reading_does_not_rule_the_truth_out() {
        let readings = [met(1.20, 0.001, 0.03, 0), met(1.22, 0.001, 0.03, 1), met(9.0, 0.001, 0.03, 2)];
        let truth = [number(1.21, 0.03), number(1.21, 0.03), number(1.21, 0.03)];
        let fit = fit(&truth.each_ref(), &readings.each_ref(), 0.0);
        assert_eq!(fit.needs_wrong, Some(2));
        assert!(fit.ln > -20.0, "{}", fit.ln);
    }

    #[test]
    fn shared_uncertainty_explains_readings_that_are_off_together() {
        let together = Predicted::Number { mean: 12.0, own: 0.02, shared: vec![(0, 0.3)], severity: None, ln: 0.0 };
        let apart = Predicted::Number { mean: 12.0, own: 0.3, shared: Vec::new(), severity: None, ln: 0.0 };
        let readings = [met(12.3, 1e-3, 1e-9, 0), met(12.31, 1e-3, 1e-9, 1)];
        let shared = fit(&[&together, &together], &readings.each_ref(), 0.0).ln;
        let independent = fit(&[&apart, &apart], &readings.each_ref(), 0.0).ln;
        assert!(shared > independent + 1.0, "{shared} {independent}");
    }

    #[test]
    fn probabilities_sum_to_one() {
        let p = normalise(&[-1000.0, -1001.0, f64::NEG_INFINITY, -1003.5]);
        assert!((p.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }
}
