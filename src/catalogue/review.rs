//! What a wiring is held against before the loom is closed, and the words of what is found.

use indexmap::IndexMap;

/// Rules of `rules/review.yaml`.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct ReviewRules {
    /// Amps that wire may carry for good.
    pub ampacity: Ampacity,
    /// Limits by name, in base units.
    pub limits: IndexMap<String, f64>,
    /// Kinds, places and words by what they are asked for.
    pub lists: IndexMap<String, Vec<String>>,
    /// The words of each sort of finding.
    pub findings: IndexMap<String, FindingWords>,
}

/// Amps that insulated copper may carry for good, by its size.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Ampacity {
    /// Copper, mm², rising.
    pub area: Vec<f64>,
    /// Amps at each.
    pub amps: Vec<f64>,
    /// Air for which they hold, C.
    pub air: f64,
    /// What the insulation stands for good, C.
    pub insulation: f64,
    /// Where the figures come from.
    pub source: String,
}

/// What is said of one sort of finding; `{…}` for what is computed.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct FindingWords {
    /// What, and what comes of it.
    pub text: String,
    /// The way out.
    pub cure: String,
    /// Its source.
    pub source: String,
}

impl ReviewRules {
    /// A limit by name; one that is not there limits nothing.
    pub fn limit(&self, name: &str) -> f64 {
        self.limits.get(name).copied().unwrap_or(f64::INFINITY)
    }

    /// Does a list have this word?
    pub fn lists(&self, list: &str, word: &str) -> bool {
        self.lists.get(list).is_some_and(|words| words.iter().any(|known| known.eq_ignore_ascii_case(word)))
    }
}

impl Ampacity {
    /// Amps for good of copper of this size (mm²) in air of so many degrees C.
    ///
    /// Between the sizes of the table, and beyond them, a straight line on log-log paper. Heat that leaves a wire goes
    /// with its degrees above the air and heat that comes with amps squared, so amps go with the root of the
    /// degrees that are left: `√((insulation − air) / (insulation − table's air))`.
    pub fn amps(&self, area: f64, celsius: f64) -> f64 {
        self.at_table_air(area) * self.derating(celsius)
    }

    /// What of the table's amps is left in air of so many degrees C.
    pub fn derating(&self, celsius: f64) -> f64 {
        let left = (self.insulation - celsius).max(0.0) / (self.insulation - self.air).max(1e-9);
        // Cooler air than the table's is nothing to count on.
        libm::sqrt(left.min(1.0))
    }

    /// How warm the copper gets, C, with so many amps for good.
    pub fn celsius(&self, area: f64, air: f64, amps: f64) -> f64 {
        let ratio = amps / self.at_table_air(area).max(1e-9);
        air + (self.insulation - self.air) * ratio * ratio
    }

    /// The smallest size of the table that carries so many amps, mm².
    pub fn size_for(&self, amps: f64, celsius: f64) -> Option<f64> {
        self.area.iter().copied().find(|&area| self.amps(area, celsius) >= amps)
    }

    fn at_table_air(&self, area: f64) -> f64 {
        let count = self.area.len().min(self.amps.len());
        if count < 2 || area <= 0.0 {
            return f64::INFINITY;
        }
        let upper = self.area[..count].partition_point(|&known| known < area).clamp(1, count - 1);
        let (x0, x1) = (libm::log(self.area[upper - 1]), libm::log(self.area[upper]));
        let (y0, y1) = (libm::log(self.amps[upper - 1]), libm::log(self.amps[upper]));
        libm::exp(y0 + (y1 - y0) * (libm::log(area) - x0) / (x1 - x0))
    }
}
