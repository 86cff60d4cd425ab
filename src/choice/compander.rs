//! Readings put into bins of about the width of what the parts' spread makes uncertain.

use super::score::Row;

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
    pub fn spread(&self, value: f64, sd: f64) -> Row {
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
        Row::new(row)
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

    #[test]
    fn a_spread_value_keeps_its_mass_and_tells_far_values_apart() {
        let c = Compander { near_zero: 0.02, relative: 0.04 };
        let row = c.spread(1.2, 0.05).outcomes;
        assert!((row.iter().map(|r| r.1).sum::<f64>() - 1.0).abs() < 1e-9);
        let far = c.spread(2.4, 0.05).outcomes;
        assert!(row.iter().all(|(o, _)| far.iter().all(|(f, _)| f != o)));
    }
}
