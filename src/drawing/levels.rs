//! Heights: volts to pixels, one scale for all that stands on it.
//!
//! The scale falls with volts and never rises. A volt is worth so many pixels, and wherever something has to be written
//! between two points it is stretched, for all columns alike, until that fits: the least such scale, found as the longest
//! way through what has to fit.

/// The scale of one drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scale {
    /// Keys, falling, each with its pixels from the top.
    rows: Vec<(f64, f64)>,
}

/// Between these two keys, the higher first, so many pixels are needed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Need {
    /// Upper key.
    pub high: f64,
    /// Lower key.
    pub low: f64,
    /// Pixels.
    pub gap: f64,
}

/// What nothing holds stands so many volts under all the rest (no volts: a key).
pub const UNHELD: f64 = -1e5;
/// Points of the same volts that would lie on each other are set apart by so much of a key.
pub const STEP: f64 = 1e-8;

impl Scale {
    /// The least scale that fits. `volt` pixels a volt, fewer if all would be taller than `tallest`.
    pub fn new(keys: impl IntoIterator<Item = f64>, needs: &[Need], volt: f64, tallest: f64) -> Scale {
        let mut keys: Vec<f64> = keys.into_iter().chain(needs.iter().flat_map(|need| [need.high, need.low])).collect();
        keys.sort_by(|a, b| b.total_cmp(a));
        keys.dedup();
        let held: Vec<f64> = keys.iter().copied().filter(|key| *key > UNHELD / 2.0).collect();
        let range = held.first().zip(held.last()).map_or(0.0, |(top, bottom)| top - bottom);
        let volt = if range * volt > tallest { tallest / range } else { volt };
        let at = |key: f64| keys.partition_point(|known| *known > key);
        let mut ending: Vec<Vec<(usize, f64)>> = vec![Vec::new(); keys.len()];
        for need in needs.iter().filter(|need| need.high > need.low) {
            ending[at(need.low)].push((at(need.high), need.gap));
        }
        let mut rows: Vec<(f64, f64)> = Vec::with_capacity(keys.len());
        for (index, &key) in keys.iter().enumerate() {
            let mut y = match rows.last() {
                Some(&(before, y)) if key > UNHELD / 2.0 => y + volt * (before - key),
                Some(&(_, y)) => y,
                None => 0.0,
            };
            for &(above, gap) in &ending[index] {
                y = y.max(rows[above].1 + gap);
            }
            rows.push((key, y));
        }
        Scale { rows }
    }

    /// Pixels from the top of a key; between two known ones in proportion.
    pub fn y(&self, key: f64) -> f64 {
        let at = self.rows.partition_point(|row| row.0 > key);
        match (at.checked_sub(1).and_then(|at| self.rows.get(at)), self.rows.get(at)) {
            (_, Some(row)) if row.0 == key => row.1,
            (Some(above), Some(below)) => {
                above.1 + (below.1 - above.1) * ((above.0 - key) / (above.0 - below.0)).clamp(0.0, 1.0)
            }
            (Some(row), None) | (None, Some(row)) => row.1,
            (None, None) => 0.0,
        }
    }

    /// Pixels of the lowest key.
    pub fn height(&self) -> f64 {
        self.rows.last().map_or(0.0, |row| row.1)
    }

    /// Volts to write at the side with their pixels: round figures, no two nearer than `apart` pixels.
    pub fn ticks(&self, apart: f64) -> Vec<(f64, f64)> {
        let held: Vec<f64> = self.rows.iter().map(|row| row.0).filter(|key| *key > UNHELD / 2.0).collect();
        let (Some(&top), Some(&bottom)) = (held.first(), held.last()) else { return Vec::new() };
        let mut out: Vec<(f64, f64)> = Vec::new();
        // Whole volts first, then finer where the scale is stretched.
        for step in [5.0, 1.0, 0.5, 0.1, 0.05, 0.01] {
            let (from, to) = (libm::ceil(bottom / step - 1e-9) as i64, libm::floor(top / step + 1e-9) as i64);
            if to - from > 4000 {
                break;
            }
            for n in (from..=to).rev() {
                let (volts, y) = (n as f64 * step, self.y(n as f64 * step));
                if out.iter().all(|(_, other)| (other - y).abs() >= apart) {
                    out.push((volts, y));
                }
            }
        }
        out.sort_by(|a, b| a.1.total_cmp(&b.1));
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_falls_with_volts_and_leaves_the_room_that_is_asked_for() {
        let needs = [Need { high: 12.6, low: 12.5, gap: 60.0 }, Need { high: 12.5, low: 0.0, gap: 10.0 }];
        let scale = Scale::new([12.6, 12.55, 12.5, 0.0], &needs, 20.0, 1000.0);
        assert!((scale.y(12.5) - scale.y(12.6) - 60.0).abs() < 1e-9);
        assert!((scale.y(0.0) - scale.y(12.5) - 250.0).abs() < 1e-9);
        assert!(scale.y(12.6) < scale.y(12.55) && scale.y(12.55) < scale.y(12.5));
        assert!(scale.y(6.0) > scale.y(7.0));
    }

    #[test]
    fn ticks_keep_apart() {
        let scale = Scale::new([12.6, 0.0], &[], 20.0, 1000.0);
        let ticks = scale.ticks(16.0);
        assert!(ticks.windows(2).all(|two| two[1].1 - two[0].1 >= 16.0 - 1e-9 && two[1].0 < two[0].0));
        assert!(ticks.iter().any(|tick| tick.0 == 0.0) && ticks.len() > 8);
    }
}
