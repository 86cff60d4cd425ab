//! How warm things get: `rules/heat.yaml`.

use indexmap::IndexMap;

/// Figures of heat, by name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HeatRules {
    /// Kelvin, kelvin a watt, seconds.
    pub limits: IndexMap<String, f64>,
}

impl HeatRules {
    /// A figure by name; one that is not there is no heat.
    pub fn limit(&self, name: &str) -> f64 {
        self.limits.get(name).copied().unwrap_or(0.0)
    }

    /// What of its final warmth a thing has reached after the time for which such a setting stands: held by hand, or
    /// left on. Heat comes as it does and leaves with the degrees above the air, so `1 − e^(−t/settles)`.
    pub fn reached(&self, by_hand: bool) -> f64 {
        let seconds = self.limit(if by_hand { "brief" } else { "held" });
        1.0 - libm::exp(-seconds / self.limit("settles").max(1e-9))
    }
}
