//! How far the answers to one test tell two suspects apart.
//!
//! Volts are squeezed, so that the spread which parts and meter give a reading is 1 wherever it lies. Each severity
//! point is then a bell at its place, and a suspect the sum of its bells with their shares: severities and nuisances are
//! marginalised. Every answer may be a wrong one, which bounds what a single test can tell.

/// Chance that a reading is wrong: anything on the display.
const WRONG: f64 = 0.03;
/// Half the display that a wrong reading is spread over, V.
const DISPLAY: f64 = 15.0;
/// Steps of the table that squeezes, V.
const STEP: f64 = 0.005;
/// Grid on which bells are summed, in spreads: sums of bells on a grid this fine are their integrals to 1e-8.
const GRID: f64 = 0.5;
/// Bells are summed as far as this many of their spreads.
const FAR: f64 = 4.5;

/// Volts into spreads: dz = dv / spread(v).
#[derive(Clone, Debug)]
pub struct Squeeze {
    table: Vec<f64>,
}

impl Squeeze {
    /// `spread`: how far a reading at so many volts may lie off.
    pub fn new(spread: impl Fn(f64) -> f64) -> Squeeze {
        let mut table = vec![0.0];
        let count = (2.0 * DISPLAY / STEP) as usize;
        for i in 0..count {
            let middle = (i as f64 + 0.5) * STEP;
            table.push(table[i] + STEP / spread(middle).max(1e-6));
        }
        Squeeze { table }
    }

    /// Where a reading lies, in spreads from zero.
    pub fn at(&self, volts: f64) -> f64 {
        let place = (volts.abs() / STEP).min((self.table.len() - 2) as f64);
        let index = place as usize;
        let z = self.table[index] + (place - index as f64) * (self.table[index + 1] - self.table[index]);
        z.copysign(volts)
    }

    /// The mass of a wrong answer on one cell of the grid.
    fn wrong(&self) -> f64 {
        WRONG * GRID / (2.0 * self.at(DISPLAY)).max(1.0)
    }
}

/// A bell: where a severity point reads, with its spread (1 or more) and its share of the suspect.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bell {
    /// Squeezed volts.
    pub at: f64,
    /// Standard deviation there.
    pub spread: f64,
    /// Share of the suspect.
    pub share: f64,
}

/// What a suspect answers to one test.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A reading: bells whose shares sum to one.
    Bells(Vec<Bell>),
    /// A word: its probabilities, in the order of the words that this test meets.
    Words(Vec<f64>),
}

/// The larger of the two expected log-ratios between two suspects' answers to one test.
///
/// Two suspects are ambiguous if no test *reaches* ln 20: a test that does so where either one is the truth does reach
/// it, so that the larger counts. (The smaller would join each joint that may be but slightly bad to "nothing is
/// broken", though most of what it may be is plain to see.)
pub fn tells(squeeze: &Squeeze, one: &Answer, other: &Answer) -> f64 {
    match (one, other) {
        (Answer::Bells(one), Answer::Bells(other)) => {
            if let Some(bound) = matched(one, other)
                && bound < 0.3
            {
                return bound;
            }
            let low = edge(one.iter().chain(other), -1.0).floor();
            let high = edge(one.iter().chain(other), 1.0).ceil();
            let (p, q) = (summed(one, low, high), summed(other, low, high));
            ratio(&p, &q, squeeze.wrong()).max(ratio(&q, &p, squeeze.wrong()))
        }
        (Answer::Words(p), Answer::Words(q)) => {
            let wrong = WRONG / p.len().max(2) as f64;
            ratio(p, q, wrong).max(ratio(q, p, wrong))
        }
        _ => 0.0,
    }
}

/// Bells matched one to one: a mixture is never further off than its parts are on the average.
fn matched(one: &[Bell], other: &[Bell]) -> Option<f64> {
    let same = one.len() == other.len() && one.iter().zip(other).all(|(a, b)| (a.share - b.share).abs() < 1e-9);
    let apart = |a: &Bell, b: &Bell| {
        let (va, vb, off) = (a.spread * a.spread, b.spread * b.spread, a.at - b.at);
        let to = |v: f64, w: f64| 0.5 * ((v + off * off) / w - 1.0 - (v / w).ln());
        to(va, vb).max(to(vb, va))
    };
    same.then(|| one.iter().zip(other).map(|(a, b)| a.share * apart(a, b)).sum())
}

fn edge<'a>(bells: impl Iterator<Item = &'a Bell>, sign: f64) -> f64 {
    sign * bells.map(|bell| sign * bell.at + FAR * bell.spread).fold(f64::NEG_INFINITY, f64::max)
}

/// Masses on the cells of the grid from `low` to `high`.
fn summed(bells: &[Bell], low: f64, high: f64) -> Vec<f64> {
    let mut out = vec![0.0; ((high - low) / GRID) as usize + 1];
    for bell in bells {
        let from = ((bell.at - FAR * bell.spread - low) / GRID).max(0.0) as usize;
        let to = ((bell.at + FAR * bell.spread - low) / GRID) as usize;
        let scale = bell.share * GRID / bell.spread / std::f64::consts::TAU.sqrt();
        for (index, cell) in out.iter_mut().enumerate().take(to + 1).skip(from) {
            let off = (low + index as f64 * GRID - bell.at) / bell.spread;
            *cell += scale * (-off * off / 2.0).exp();
        }
    }
    out
}

/// Expected ln(p/q) under p, with the chance of a wrong answer in both.
fn ratio(p: &[f64], q: &[f64], wrong: f64) -> f64 {
    let right = 1.0 - WRONG;
    p.iter()
        .zip(q)
        .map(|(p, q)| {
            let (p, q) = (right * p + wrong, right * q + wrong);
            p * (p / q).ln()
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bell(at: f64, spread: f64, share: f64) -> Bell {
        Bell { at, spread, share }
    }

    /// Two bells of spread 1 at a distance d: d²/2 nats (Kullback & Leibler 1951, the normal case; from memory,
    /// recomputed). A wrong answer's chance takes a little of it.
    #[test]
    fn two_bells_tell_half_their_distance_squared() {
        let squeeze = Squeeze::new(|_| 0.03);
        for d in [1.0, 2.0] {
            let told = tells(
                &squeeze,
                &Answer::Bells(vec![bell(3.0, 1.0, 1.0)]),
                &Answer::Bells(vec![bell(3.0 + d, 1.0, 1.0)]),
            );
            assert!(told < d * d / 2.0 && told > 0.85 * d * d / 2.0, "{d}: {told}");
        }
    }

    #[test]
    fn one_test_never_tells_more_than_a_wrong_answer_allows() {
        let squeeze = Squeeze::new(|_| 0.03);
        let told =
            tells(&squeeze, &Answer::Bells(vec![bell(0.0, 1.0, 1.0)]), &Answer::Bells(vec![bell(300.0, 1.0, 1.0)]));
        let most = (1.0 / (WRONG * 1.0 / 1000.0)).ln();
        assert!(told > 5.0 && told < most, "{told} {most}");
    }

    #[test]
    fn severities_are_marginalised() {
        let squeeze = Squeeze::new(|_| 0.03);
        let wide: Vec<Bell> = (0..10).map(|i| bell(f64::from(i) * 2.0, 1.0, 0.1)).collect();
        let shifted: Vec<Bell> = (0..10).map(|i| bell(f64::from(i) * 2.0 + 1.0, 1.0, 0.1)).collect();
        // Any reading of the one could as well be one of the other, though no two severities read the same.
        assert!(tells(&squeeze, &Answer::Bells(wide), &Answer::Bells(shifted)) < 0.3);
    }
}
