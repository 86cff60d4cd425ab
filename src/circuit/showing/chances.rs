//! From a level to words with their chances: what is seen at a threshold scatters.

use super::{JUST_VISIBLE, Words};
use crate::catalogue::Showing;
use crate::catalogue::kind::Measure;
use crate::circuit::sim::Level;

/// Chances of up and down of a needle between two places on its scale; a third of its scatter is the eye's.
pub(super) fn moved(before: f64, after: f64) -> (f64, f64) {
    let step = after - before;
    let sigma = 0.15 * step.abs() + JUST_VISIBLE / 6.0;
    (normal((step - JUST_VISIBLE) / sigma), normal((-step - JUST_VISIBLE) / sigma))
}

/// Chances that the word is a higher or a lower one afterwards; `order` from the lowest up.
pub(super) fn word_moves(before: &Words, after: &Words, order: &[String]) -> (f64, f64) {
    let same: f64 =
        before.iter().map(|(word, p)| after.iter().find(|(w, _)| w == word).map_or(0.0, |(_, q)| p.min(*q))).sum();
    let rank = |words: &Words| -> f64 {
        words.iter().map(|(word, p)| p * order.iter().position(|w| w == word).unwrap_or(order.len()) as f64).sum()
    };
    let moves = (1.0 - same).max(0.0);
    if rank(after) >= rank(before) { (moves, 0.0) } else { (0.0, moves) }
}

/// Chance that a level lies above a threshold that scatters.
pub(in crate::circuit) fn above(level: f64, threshold: f64, spread: f64) -> f64 {
    if threshold <= 0.0 {
        return 1.0;
    }
    if level <= 0.0 {
        return 0.0;
    }
    normal((level / threshold).ln() / spread.max(1e-6))
}

/// How a lamp that is held to two points looks: its rated volts, where it turns dim and lit with their scatter.
pub(in crate::circuit) fn lamp_words(levels: &[Level], volts: &[f64], rated: f64, at: [(f64, f64); 2]) -> Words {
    let showing = Showing {
        by: Measure::VoltsRatio { of: String::new() },
        words: ["dark", "dim", "lit"].map(String::from).to_vec(),
        at: at.map(|(at, _)| at).to_vec(),
        spread: at.map(|(_, spread)| spread).to_vec(),
        works: None,
        needle: false,
    };
    let phase = |slow: Option<bool>| {
        let of = levels.iter().zip(volts).filter(|(level, _)| slow.is_none_or(|slow| level.slow_closed == slow));
        let (square, share) =
            of.fold((0.0, 0.0), |(sum, share), (level, v)| (sum + level.share * v * v, share + level.share));
        split(&showing, if share > 0.0 { (square / share).sqrt() / rated } else { 0.0 })
    };
    if levels.iter().all(|level| level.slow_closed) {
        return named(&showing, &phase(None));
    }
    let steady: Vec<f64> = phase(Some(true)).iter().zip(phase(Some(false))).map(|(a, b)| a.min(b)).collect();
    let flashing = 1.0 - steady.iter().sum::<f64>();
    let mut words = named(&showing, &steady);
    if flashing > 1e-9 {
        words.push(("flashing".to_string(), flashing));
    }
    words
}

/// Chance of each of a showing's words at a level, lowest first; zero words kept.
pub(in crate::circuit) fn split(showing: &Showing, level: f64) -> Vec<f64> {
    let mut over: Vec<f64> = vec![1.0];
    for (index, at) in showing.at.iter().enumerate() {
        let p = above(level, *at, showing.spread.get(index).copied().unwrap_or(0.1));
        // Thresholds scatter together: a higher one is never passed before a lower one.
        over.push(p.min(over[index]));
    }
    over.push(0.0);
    over.windows(2).map(|pair| pair[0] - pair[1]).collect()
}

/// Words with their chances, those that are none left out.
pub(in crate::circuit) fn named(showing: &Showing, chances: &[f64]) -> Words {
    showing.words.iter().zip(chances).filter(|(_, p)| **p > 1e-9).map(|(word, p)| (word.clone(), *p)).collect()
}

/// The words of levels that are as likely as each other.
pub(super) fn mixture(showing: &Showing, levels: &[f64]) -> Words {
    let mut sum = vec![0.0; showing.words.len()];
    for level in levels {
        for (total, p) in sum.iter_mut().zip(split(showing, *level)) {
            *total += p / levels.len() as f64;
        }
    }
    named(showing, &sum)
}

/// One of two words.
pub(super) fn two(showing: &Showing, upper: f64) -> Words {
    named(showing, &[1.0 - upper, upper])
}

/// The standard normal's cumulative probability.
pub(crate) fn normal(z: f64) -> f64 {
    0.5 * libm::erfc(-z / std::f64::consts::SQRT_2)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lamp() -> Showing {
        Showing {
            by: Measure::VoltsRatio { of: "filament".into() },
            words: ["dark", "dim", "lit"].map(String::from).to_vec(),
            at: vec![0.2, 0.72],
            spread: vec![0.25, 0.1],
            works: None,
            needle: false,
        }
    }

    #[test]
    fn words_share_one_and_follow_the_level() {
        for (level, word) in [(0.0, "dark"), (0.05, "dark"), (0.45, "dim"), (1.0, "lit")] {
            let words = named(&lamp(), &split(&lamp(), level));
            let total: f64 = words.iter().map(|w| w.1).sum();
            assert!((total - 1.0).abs() < 1e-9);
            let best = words.iter().max_by(|a, b| a.1.total_cmp(&b.1)).expect("words");
            assert_eq!(best.0, word, "{words:?}");
        }
        let even = split(&lamp(), 0.72);
        assert!((even[2] - 0.5).abs() < 1e-6, "a threshold is where the words are even: {even:?}");
    }

    #[test]
    fn a_needle_moves_from_three_per_cent_on() {
        assert!(moved(0.2, 0.2).0 < 1e-6);
        assert!((moved(0.2, 0.23).0 - 0.5).abs() < 1e-6);
        assert!(moved(0.2, 0.5).0 > 0.99);
        assert!(moved(0.5, 0.3).1 > 0.99);
    }
}
