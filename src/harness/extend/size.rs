//! The size of a wire: what it carries for good, what its fuse lets through, what it may lose, what it is joined to.

use crate::catalogue::Catalogue;

/// What is asked of a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Need {
    /// What it carries for good, A; 0 for what runs for seconds only.
    pub amps: f64,
    /// What it carries at most, A.
    pub peak: f64,
    /// Its fuse, A.
    pub fuse: Option<f64>,
    /// The air around it, C.
    pub air: f64,
    /// Its length, m.
    pub length: f64,
    /// Volts that it may lose with its peak amps.
    pub may_lose: f64,
    /// The wire that it is joined to, mm².
    pub old: Option<f64>,
}

/// What a wire's size was decided by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Why {
    /// No wire is thinner.
    Thinnest,
    /// It is not thinner than what it is joined to.
    Old,
    /// What its fuse lets through.
    Fuse,
    /// What it carries for good.
    Amps,
    /// What it may lose.
    Drop,
    /// Somebody said so.
    Told,
}

impl Why {
    /// In a word.
    pub fn word(self) -> &'static str {
        match self {
            Why::Thinnest => "thinnest",
            Why::Old => "old wire",
            Why::Fuse => "fuse",
            Why::Amps => "amps",
            Why::Drop => "drop",
            Why::Told => "told",
        }
    }
}

/// Sizes may differ by so much and be one: AWG 16 is 1.31 mm², and is sold as 1.3.
const ALIKE: f64 = 0.97;

impl Need {
    /// What keeps a wire of this size (mm²) from being used; `None` if nothing does.
    ///
    /// Amps for good by the table of `rules/review.yaml` (33 CFR 183.425); a fuse of at most 150 % of them (33 CFR
    /// 183.455 (c)); volts lost are amps × resistivity × lay × length / size.
    pub fn against(&self, area: f64, rules: &Catalogue) -> Option<Why> {
        let may = rules.review.ampacity.amps(area, self.air);
        if may < self.amps {
            return Some(Why::Amps);
        }
        if self.fuse.is_some_and(|fuse| fuse > rules.review.limit("fuse-over-ampacity") * may) {
            return Some(Why::Fuse);
        }
        if self.peak * rules.wire.ohms(area, self.length) > self.may_lose {
            return Some(Why::Drop);
        }
        if self.old.is_some_and(|old| area < ALIKE * old) {
            return Some(Why::Old);
        }
        (area < ALIKE * rules.extend.limit("thinnest")).then_some(Why::Thinnest)
    }

    /// The thinnest of these sizes (mm², rising) that will do, and what the next thinner one lacks. `None` if none will.
    pub fn thinnest(&self, sizes: &[f64], rules: &Catalogue) -> Option<(f64, Why)> {
        let at = sizes.iter().position(|&area| self.against(area, rules).is_none())?;
        let why = at.checked_sub(1).and_then(|before| self.against(sizes[before], rules));
        Some((sizes[at], why.unwrap_or(Why::Thinnest)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const EASY: Need =
        Need { amps: 0.0, peak: 0.0, fuse: None, air: 30.0, length: 1.0, may_lose: f64::INFINITY, old: None };

    fn thinnest(need: Need) -> (f64, Why) {
        let rules = Catalogue::builtin();
        need.thinnest(&rules.extend.sizes, &rules).unwrap()
    }

    #[test]
    fn each_bound_decides_where_it_is_the_greatest() {
        assert_eq!(thinnest(EASY), (0.5, Why::Thinnest));
        assert_eq!(thinnest(Need { old: Some(1.5), ..EASY }), (1.5, Why::Old));
        // 16 AWG is sold as 1.3 mm²: 1.5 does, and 1.31 told exactly does too.
        assert_eq!(thinnest(Need { old: Some(1.309), ..EASY }), (1.5, Why::Old));
        // 25 A for good are 1.31 mm² of the table.
        assert_eq!(thinnest(Need { amps: 26.0, ..EASY }), (1.5, Why::Amps));
        // A fuse of 40 A is 150 % of 26.7 A.
        assert_eq!(thinnest(Need { fuse: Some(40.0), ..EASY }), (1.5, Why::Fuse));
        // 10 A through 4 m of 2.5 mm²: 0.29 V.
        assert_eq!(thinnest(Need { peak: 10.0, length: 4.0, may_lose: 0.3, ..EASY }), (2.5, Why::Drop));
        let rules = Catalogue::builtin();
        assert_eq!(Need { amps: 5000.0, ..EASY }.thinnest(&rules.extend.sizes, &rules), None);
    }

    proptest! {
        #[test]
        fn more_is_never_thinner(amps in 0.0..60.0f64, more in 1.0..3.0f64, length in 0.1..8.0f64, warm in 0.0..50.0f64) {
            let need = Need { amps, peak: amps, length, may_lose: 0.36, ..EASY };
            let (area, _) = thinnest(need);
            for harder in [
                Need { amps: amps * more, ..need },
                Need { peak: amps * more, ..need },
                Need { length: length * more, ..need },
                Need { may_lose: 0.36 / more, ..need },
                Need { air: 30.0 + warm, ..need },
                Need { fuse: Some(amps * 2.0), ..need },
            ] {
                prop_assert!(thinnest(harder).0 >= area);
            }
        }

        #[test]
        fn what_is_chosen_loses_no_more_than_it_may(amps in 0.0..60.0f64, length in 0.1..8.0f64) {
            let rules = Catalogue::builtin();
            let (area, why) = thinnest(Need { amps, peak: amps, length, may_lose: 0.18, ..EASY });
            let volts = amps * 0.0172414 * 1.05 * length / area;
            prop_assert!(volts <= 0.18 + 1e-12, "{volts}");
            prop_assert!(rules.review.ampacity.amps(area, 30.0) >= amps);
            prop_assert!(why != Why::Told);
        }
    }
}
