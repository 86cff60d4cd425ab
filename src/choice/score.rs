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

/// A sparse distribution of outcomes.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// (outcome, probability) pairs.
    pub outcomes: Vec<(u32, f64)>,
    /// Sum of q ln q over them, nats: what most columns need of a row, and all the logarithms in it.
    order: f64,
}

impl Row {
    /// A distribution of these outcomes, each named once.
    pub fn new(outcomes: Vec<(u32, f64)>) -> Self {
        let order = outcomes.iter().filter(|(_, q)| *q > 0.0).map(|(_, q)| q * q.ln()).sum();
        Row { outcomes, order }
    }
}

/// Which distribution each hypothesis predicts, as an index into a list of rows: equal ones stand there once.
pub type Column = Vec<u32>;

/// Entropy of the classes, nats.
pub fn undecided(weights: &[Weight], classes: usize) -> f64 {
    let mut per_class = vec![0.0; classes];
    for w in weights {
        per_class[w.class as usize] += w.p;
    }
    per_class.iter().filter(|p| **p > 0.0).map(|p| -p * p.ln()).sum()
}

/// Hypotheses with scratch space, so that scoring a thousand tests allocates once.
#[derive(Clone, Debug)]
pub struct Scorer {
    /// Sorted by class; with the place that each had in the list given.
    weights: Vec<(Weight, usize)>,
    before: Vec<f64>,
    /// For each row: in which scoring it was met last, with which class, and where that pair stands in `pairs`.
    last: Vec<(u32, u32, u32)>,
    scoring: u32,
    pairs: Vec<(u32, u32, f64)>,
    both: Vec<f64>,
    chance: Vec<f64>,
    touched: Vec<u32>,
}

impl Scorer {
    /// A scorer of these hypotheses; `classes` is one more than the largest class.
    pub fn new(weights: &[Weight], classes: usize) -> Self {
        let mut sorted: Vec<(Weight, usize)> = weights.iter().copied().zip(0..).collect();
        sorted.sort_by_key(|(weight, _)| weight.class);
        let mut before = vec![0.0; classes];
        for weight in weights {
            before[weight.class as usize] += weight.p;
        }
        Scorer {
            weights: sorted,
            before,
            last: Vec::new(),
            scoring: 0,
            pairs: Vec::new(),
            both: Vec::new(),
            chance: Vec::new(),
            touched: Vec::new(),
        }
    }

    /// Expected information of a test, nats: the mutual information of its outcome and the class.
    pub fn gain(&mut self, column: &[u32], rows: &[Row]) -> f64 {
        let Scorer { weights, before, last, scoring, pairs, both, chance, touched } = self;
        *scoring += 1;
        if last.len() < rows.len() {
            last.resize(rows.len(), (0, 0, 0));
        }
        pairs.clear();
        // Hypotheses of one class that predict the same count as one.
        for (weight, at) in weights.iter() {
            let row = column[*at];
            match &mut last[row as usize] {
                (at, class, pair) if (*at, *class) == (*scoring, weight.class) => {
                    pairs[*pair as usize].2 += weight.p;
                }
                seen => {
                    *seen = (*scoring, weight.class, pairs.len() as u32);
                    pairs.push((row, weight.class, weight.p));
                }
            }
        }
        chance.clear();
        let mut gain = 0.0;
        let mut from = 0;
        while from < pairs.len() {
            let class = pairs[from].1;
            let upto = from + pairs[from..].iter().take_while(|pair| pair.1 == class).count();
            // Most classes predict one thing: p q of its outcomes, whose share of the class is q.
            if let [(row, _, p)] = pairs[from..upto] {
                let row = &rows[row as usize];
                gain += p * row.order;
                for &(outcome, q) in &row.outcomes {
                    let at = outcome as usize;
                    if at >= chance.len() {
                        chance.resize(at + 1, 0.0);
                    }
                    chance[at] += p * q;
                }
                from = upto;
                continue;
            }
            for &(row, _, p) in &pairs[from..upto] {
                for &(outcome, q) in &rows[row as usize].outcomes {
                    let at = outcome as usize;
                    if at >= both.len() {
                        both.resize(at + 1, 0.0);
                    }
                    if both[at] == 0.0 {
                        touched.push(outcome);
                    }
                    both[at] += p * q;
                }
            }
            for outcome in touched.drain(..) {
                let at = outcome as usize;
                let mass = std::mem::take(&mut both[at]);
                if at >= chance.len() {
                    chance.resize(at + 1, 0.0);
                }
                chance[at] += mass;
                if mass > 0.0 {
                    gain += mass * (mass / before[class as usize]).ln();
                }
            }
            from = upto;
        }
        let outcomes: f64 = chance.iter().filter(|c| **c > 0.0).map(|c| c * c.ln()).sum();
        (gain - outcomes).max(0.0)
    }
}

/// Two tests asked as one: the column of pairs with rows of its own. Outcomes are independent once the hypothesis is
/// given.
pub fn both(first: (&[u32], &[Row]), second: (&[u32], &[Row])) -> (Column, Vec<Row>) {
    let (one, other) = (Numbered::of(first), Numbered::of(second));
    // The row of each pair of rows, one past its index, 0 where there is none yet.
    let mut known = vec![0_u32; one.rows * other.rows];
    let mut rows: Vec<Row> = Vec::new();
    let mut column = Vec::with_capacity(first.0.len());
    for (&a, &b) in first.0.iter().zip(second.0) {
        let at = &mut known[one.row[a as usize] as usize * other.rows + other.row[b as usize] as usize];
        if *at == 0 {
            let (a, b) = (&first.1[a as usize], &second.1[b as usize]);
            let mut outcomes = Vec::with_capacity(a.outcomes.len() * b.outcomes.len());
            for (o, p) in &a.outcomes {
                let from = one.outcome[*o as usize] * other.outcomes;
                outcomes.extend(b.outcomes.iter().map(|(o, q)| (from + other.outcome[*o as usize], p * q)));
            }
            rows.push(Row { outcomes, order: a.order + b.order });
            *at = rows.len() as u32;
        }
        column.push(*at - 1);
    }
    (column, rows)
}

/// Rows that a column has, and the outcomes in them, numbered as they come.
struct Numbered {
    row: Vec<u32>,
    rows: usize,
    outcome: Vec<u32>,
    outcomes: u32,
}

impl Numbered {
    fn of((column, all): (&[u32], &[Row])) -> Self {
        const NONE: u32 = u32::MAX;
        let mut out = Numbered { row: vec![NONE; all.len()], rows: 0, outcome: Vec::new(), outcomes: 0 };
        for &row in column {
            if out.row[row as usize] != NONE {
                continue;
            }
            out.row[row as usize] = out.rows as u32;
            out.rows += 1;
            for &(outcome, _) in &all[row as usize].outcomes {
                let at = outcome as usize;
                if at >= out.outcome.len() {
                    out.outcome.resize(at + 1, NONE);
                }
                if out.outcome[at] == NONE {
                    out.outcome[at] = out.outcomes;
                    out.outcomes += 1;
                }
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn weights(classes: &[u32]) -> Vec<Weight> {
        classes.iter().map(|&class| Weight { p: 1.0 / classes.len() as f64, class }).collect()
    }

    /// Two sure outcomes: those named have the first.
    fn split(first: &[usize], n: usize) -> (Column, Vec<Row>) {
        let column = (0..n).map(|i| u32::from(!first.contains(&i))).collect();
        (column, vec![Row::new(vec![(0, 1.0)]), Row::new(vec![(1, 1.0)])])
    }

    fn gain(weights: &[Weight], classes: usize, (column, rows): &(Column, Vec<Row>)) -> f64 {
        Scorer::new(weights, classes).gain(column, rows)
    }

    /// Small diagnosis problem T6: five hypotheses of .2, four in class A, one in class B. The test that
    /// splits the classes must win (information about classes .7219 against .1710 bits), though it tells less
    /// about hypotheses (.7219 against .9710). Values recomputed, see tests/reference.
    #[test]
    fn what_one_would_do_counts_not_what_one_would_know() {
        let w = weights(&[0, 0, 0, 0, 1]);
        let bits = std::f64::consts::LN_2;
        let first = gain(&w, 2, &split(&[0, 1], 5)) / bits;
        let second = gain(&w, 2, &split(&[4], 5)) / bits;
        assert!((first - 0.1710).abs() < 5e-5, "{first}");
        assert!((second - 0.7219).abs() < 5e-5, "{second}");
    }

    #[test]
    fn constant_and_coin_flip_tests_are_worth_nothing() {
        let w = weights(&[0, 1, 2]);
        assert!(gain(&w, 3, &(vec![0; 3], vec![Row::new(vec![(0, 1.0)])])).abs() < 1e-12);
        assert!(gain(&w, 3, &(vec![0; 3], vec![Row::new(vec![(0, 0.5), (1, 0.5)])])).abs() < 1e-12);
    }

    /// Sure tests: the pair tells what its two parts tell together, and the same test twice no more than once.
    #[test]
    fn two_at_once_tell_what_both_tell() {
        let w = weights(&[0, 1, 2, 3]);
        let (first, rows) = split(&[0, 1], 4);
        let (second, _) = split(&[0, 2], 4);
        let (pair, pairs) = both((&first, &rows), (&second, &rows));
        let mut scorer = Scorer::new(&w, 4);
        assert!((scorer.gain(&pair, &pairs) - 4f64.ln()).abs() < 1e-12);
        let (twice, pairs) = both((&first, &rows), (&first, &rows));
        assert!((scorer.gain(&twice, &pairs) - 2f64.ln()).abs() < 1e-12);
    }

    /// Mutual information by its definition, over random columns with classes of one prediction and of several.
    #[test]
    fn the_gain_is_the_mutual_information_of_outcome_and_class() {
        let mut seed = 7_u32;
        let mut random = || {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(seed >> 8) / f64::from(1 << 24)
        };
        for _ in 0..200 {
            let (n, classes, outcomes) = (12, 5, 4);
            let raw: Vec<f64> = (0..n).map(|_| random() + 0.01).collect();
            let all: f64 = raw.iter().sum();
            let weights: Vec<Weight> =
                raw.iter().map(|p| Weight { p: p / all, class: (random() * f64::from(classes)) as u32 }).collect();
            let rows: Vec<Row> = (0..3)
                .map(|_| {
                    let q: Vec<f64> = (0..outcomes).map(|_| random()).collect();
                    let all: f64 = q.iter().sum();
                    Row::new((0..).zip(q.iter().map(|q| q / all)).collect())
                })
                .collect();
            let column: Column = (0..n).map(|_| (random() * 3.0) as u32).collect();
            let mut joint = vec![vec![0.0; outcomes]; classes as usize];
            for (weight, row) in weights.iter().zip(&column) {
                for (outcome, q) in &rows[*row as usize].outcomes {
                    joint[weight.class as usize][*outcome as usize] += weight.p * q;
                }
            }
            let mut information = 0.0;
            for class in &joint {
                let of_class: f64 = class.iter().sum();
                for (outcome, p) in class.iter().enumerate().filter(|(_, p)| **p > 0.0) {
                    let of_outcome: f64 = joint.iter().map(|class| class[outcome]).sum();
                    information += p * (p / (of_class * of_outcome)).ln();
                }
            }
            let gain = Scorer::new(&weights, classes as usize).gain(&column, &rows);
            assert!((gain - information).abs() < 1e-12, "{gain} {information}");
        }
    }
}
