//! Do chances come true as often as they are said? Of many chases, with what a perfect tool would have by chance.
//!
//! A chance is what was said of a repair when the last reading was in and nothing was tried yet. Of a tool whose
//! chances are right, the number that comes true among them is a sum of independent draws, each with its own chance
//! (the Poisson binomial distribution); what lies outside its middle nine tenths is more than luck. Repairs of one
//! chase exclude each other, which makes the true band a little narrower.

use super::Walk;

/// Bounds of the bands; what is called less likely than the first is not counted.
const BANDS: [f64; 7] = [0.01, 0.05, 0.2, 0.5, 0.8, 0.95, 1.0 + 1e-9];
/// Chance that a perfect tool is below the band, and above it.
const TAIL: f64 = 0.05;

/// Chances of one band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Band {
    /// How many chances.
    pub count: usize,
    /// What was said, mean, 0 to 1.
    pub said: f64,
    /// The share that came true, 0 to 1.
    pub came_true: f64,
    /// The middle nine tenths of what a perfect tool would have, 0 to 1.
    pub perfect: [f64; 2],
}

impl Band {
    /// Not more off than luck explains.
    pub fn fits(&self) -> bool {
        (self.perfect[0]..=self.perfect[1]).contains(&self.came_true)
    }

    fn of(said: &[(f64, bool)]) -> Option<Band> {
        if said.is_empty() {
            return None;
        }
        let count = said.len() as f64;
        let chances: Vec<f64> = said.iter().map(|(p, _)| *p).collect();
        Some(Band {
            count: said.len(),
            said: chances.iter().sum::<f64>() / count,
            came_true: said.iter().filter(|(_, truth)| *truth).count() as f64 / count,
            perfect: middle(&chances).map(|successes| successes as f64 / count),
        })
    }
}

/// Bands that have chances in them, from unlikely to sure. Only chases count whose fault was drawn by how likely it is:
/// of others no chance can be right.
pub fn bands(walks: &[Walk]) -> Vec<Band> {
    let said: Vec<(f64, bool)> =
        walks.iter().filter(|walk| walk.by_weight).flat_map(|walk| walk.said.clone()).collect();
    let inside = |bounds: &[f64]| -> Vec<(f64, bool)> {
        said.iter().filter(|(p, _)| (bounds[0]..bounds[1]).contains(p)).copied().collect()
    };
    BANDS.windows(2).filter_map(|bounds| Band::of(&inside(bounds))).collect()
}

/// Fewest and most successes in the middle of the Poisson binomial distribution.
fn middle(chances: &[f64]) -> [usize; 2] {
    let mut mass = vec![1.0];
    for &p in chances {
        mass.push(0.0);
        for at in (1..mass.len()).rev() {
            mass[at] = mass[at] * (1.0 - p) + mass[at - 1] * p;
        }
        mass[0] *= 1.0 - p;
    }
    let reach = |share: f64| {
        let mut sum = 0.0;
        let found = mass.iter().position(|mass| {
            sum += mass;
            sum >= share
        });
        found.unwrap_or(chances.len())
    };
    [reach(TAIL), reach(1.0 - TAIL)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Quantiles of the binomial distribution: sums of n over k times p^k (1 - p)^(n - k), worked out outside this program.
    #[test]
    fn of_equal_chances_it_is_the_binomial_distribution() {
        assert_eq!(middle(&[0.2; 100]), [14, 27]);
        assert_eq!(middle(&[0.5; 20]), [6, 14]);
    }

    #[test]
    fn chances_that_are_no_chances_are_what_they_are() {
        assert_eq!(middle(&[1.0, 1.0, 0.0]), [2, 2]);
        assert_eq!(middle(&[]), [0, 0]);
    }

    #[test]
    fn a_boaster_is_found_out_and_an_honest_tool_is_not() {
        let of = |truths: usize| {
            let said: Vec<(f64, bool)> = (0..100).map(|at| (0.9, at < truths)).collect();
            Band::of(&said).unwrap()
        };
        assert!(of(90).fits() && of(86).fits());
        assert!(!of(70).fits() && !of(99).fits());
        assert!((of(70).said - 0.9).abs() < 1e-12 && (of(70).came_true - 0.7).abs() < 1e-12);
    }
}
