//! What an answer is worth: the information that it gives about repair classes, in nats.
//!
//! Not about suspects: what one would do counts, not what one would know. The edge-cutting score of Golovin,
//! Krause & Ray (arXiv 1010.3091) was tried first; with likelihoods normalised by the largest it grows with
//! the size of a likelihood ratio where information grows with its square, so that it prefers many readings
//! that tell next to nothing.

/// A hypothesis as the score sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weight {
    /// Probability.
    pub p: f64,
    /// Class (what one would do about it).
    pub class: u32,
}

/// Sparse outcome distributions: for each hypothesis (outcome, probability) pairs.
pub type Outcomes = Vec<Vec<(u32, f64)>>;

/// Entropy of the classes, nats.
pub fn undecided(weights: &[Weight], classes: usize) -> f64 {
    let mut per_class = vec![0.0; classes];
    for w in weights {
        per_class[w.class as usize] += w.p;
    }
    per_class.iter().filter(|p| **p > 0.0).map(|p| -p * p.ln()).sum()
}

/// Scratch space, so that scoring a thousand tests allocates once.
#[derive(Debug, Default)]
pub struct Scorer {
    bins: Vec<Vec<(u32, f64)>>,
    per_class: Vec<f64>,
    before: Vec<f64>,
}

impl Scorer {
    /// Expected information of a test with these outcomes; `classes` is one more than the largest class.
    pub fn gain(&mut self, weights: &[Weight], outcomes: &Outcomes, classes: usize) -> f64 {
        let bins = outcomes.iter().flatten().map(|(o, _)| *o as usize + 1).max().unwrap_or(0);
        if self.bins.len() < bins {
            self.bins.resize(bins, Vec::new());
        }
        for bin in &mut self.bins[..bins] {
            bin.clear();
        }
        self.before.clear();
        self.before.resize(classes, 0.0);
        for (i, (row, weight)) in outcomes.iter().zip(weights).enumerate() {
            self.before[weight.class as usize] += weight.p;
            for &(o, p) in row {
                self.bins[o as usize].push((i as u32, p));
            }
        }
        self.per_class.clear();
        self.per_class.resize(classes, 0.0);
        let mut gain = 0.0;
        for bin in &self.bins[..bins] {
            let mut chance = 0.0;
            for &(i, p) in bin {
                let w = weights[i as usize];
                chance += w.p * p;
                self.per_class[w.class as usize] += w.p * p;
            }
            for &(i, _) in bin {
                let class = weights[i as usize].class as usize;
                let both = std::mem::take(&mut self.per_class[class]);
                if both > 0.0 {
                    gain += both * (both / (self.before[class] * chance)).ln();
                }
            }
        }
        gain.max(0.0)
    }
}

/// Display values squeezed so that the spread of a prediction is about one bin wherever it lies:
/// u = asinh(r·v/s)/r, with s the spread near zero and r the relative spread.
#[derive(Clone, Copy, Debug)]
pub struct Compander {
    /// Spread near zero.
    pub near_zero: f64,
    /// Relative spread.
    pub relative: f64,
}

/// Nodes of the table of the normal distribution, for each standard deviation, and how far it goes.
const NODES: f64 = 128.0;
const REACH: f64 = 8.0;

/// The standard normal's cumulative probability from a table, by cubic pieces: within 1e-11.
fn cumulative(z: f64) -> f64 {
    static TABLE: std::sync::OnceLock<Vec<(f64, f64)>> = std::sync::OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let node = |index: usize| {
            let z = index as f64 / NODES - REACH;
            let slope = (-z * z / 2.0).exp() / (std::f64::consts::TAU).sqrt() / NODES;
            (0.5 * libm::erfc(-z / std::f64::consts::SQRT_2), slope)
        };
        (0..=(2.0 * REACH * NODES) as usize).map(node).collect()
    });
    let at = (z + REACH) * NODES;
    if at <= 0.0 {
        return 0.0;
    }
    let index = at as usize;
    let (Some(&(from, rise)), Some(&(to, fall))) = (table.get(index), table.get(index + 1)) else { return 1.0 };
    let t = at - index as f64;
    let back = 1.0 - t;
    from * back * back * (1.0 + 2.0 * t) + to * t * t * (3.0 - 2.0 * t) + t * back * (rise * back - fall * t)
}

/// Bins are this many spreads wide.
const WIDTH: f64 = 1.5;
/// Bins on each side of zero.
const HALF: i64 = 200;

impl Compander {
    /// Outcome bins of a value whose own standard deviation is `sd`, over the compander's.
    pub fn spread(&self, value: f64, sd: f64) -> Vec<(u32, f64)> {
        let at = (self.relative * value / self.near_zero).asinh() / self.relative / WIDTH;
        let local = (self.near_zero.powi(2) + (self.relative * value).powi(2)).sqrt();
        let sd = (sd / local).max(0.7) / WIDTH;
        let lo = (at - 3.0 * sd).floor() as i64;
        let hi = (at + 3.0 * sd).ceil() as i64;
        let cdf = |x: f64| cumulative((x - at) / sd);
        let mut row: Vec<(u32, f64)> = Vec::with_capacity((hi - lo) as usize);
        let mut total = 0.0;
        let mut below = cdf(lo as f64);
        for bin in lo..hi {
            let upto = cdf((bin + 1) as f64);
            let mass = upto - below;
            below = upto;
            if mass > 1e-4 {
                let index = (bin.clamp(-HALF, HALF - 1) + HALF) as u32;
                match row.last_mut() {
                    Some(last) if last.0 == index => last.1 += mass,
                    _ => row.push((index, mass)),
                }
                total += mass;
            }
        }
        for (_, mass) in &mut row {
            *mass /= total;
        }
        row
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_the_normal_distribution() {
        for step in -3000..3000 {
            let z = f64::from(step) * 0.003_1;
            let want = 0.5 * libm::erfc(-z / std::f64::consts::SQRT_2);
            assert!((cumulative(z) - want).abs() < 1e-11, "{z}");
        }
    }

    fn weights(classes: &[u32]) -> Vec<Weight> {
        classes.iter().map(|&class| Weight { p: 1.0 / classes.len() as f64, class }).collect()
    }

    fn split(first: &[usize], n: usize) -> Outcomes {
        (0..n).map(|i| vec![(u32::from(!first.contains(&i)), 1.0)]).collect()
    }

    /// Small diagnosis problem T6: five hypotheses of .2, four in class A, one in class B. The test that
    /// splits the classes must win (information about classes .7219 against .1710 bits), though it tells less
    /// about hypotheses (.7219 against .9710). Values recomputed, see tests/reference.
    #[test]
    fn what_one_would_do_counts_not_what_one_would_know() {
        let w = weights(&[0, 0, 0, 0, 1]);
        let mut scorer = Scorer::default();
        let bits = std::f64::consts::LN_2;
        let first = scorer.gain(&w, &split(&[0, 1], 5), 2) / bits;
        let second = scorer.gain(&w, &split(&[4], 5), 2) / bits;
        assert!((first - 0.1710).abs() < 5e-5, "{first}");
        assert!((second - 0.7219).abs() < 5e-5, "{second}");
    }

    #[test]
    fn constant_and_coin_flip_tests_are_worth_nothing() {
        let w = weights(&[0, 1, 2]);
        let mut scorer = Scorer::default();
        assert!(scorer.gain(&w, &vec![vec![(0, 1.0)]; 3], 3).abs() < 1e-12);
        assert!(scorer.gain(&w, &vec![vec![(0, 0.5), (1, 0.5)]; 3], 3).abs() < 1e-12);
    }

    #[test]
    fn a_spread_value_keeps_its_mass_and_tells_far_values_apart() {
        let c = Compander { near_zero: 0.02, relative: 0.04 };
        let row = c.spread(1.2, 0.05);
        assert!((row.iter().map(|r| r.1).sum::<f64>() - 1.0).abs() < 1e-9);
        let far = c.spread(2.4, 0.05);
        assert!(row.iter().all(|(o, _)| far.iter().all(|(f, _)| f != o)));
    }
}
