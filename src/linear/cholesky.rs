//! Small dense symmetric positive definite systems: covariance matrices of a handful of readings.

/// Lower triangular factor of a small symmetric positive definite matrix.
#[derive(Clone, Debug)]
pub struct Cholesky {
    lower: Vec<f64>,
    n: usize,
}

impl Cholesky {
    /// Factors the row-major n × n matrix; `None` if it is not positive definite.
    pub fn new(matrix: &[f64], n: usize) -> Option<Self> {
        let mut lower = matrix.to_vec();
        for i in 0..n {
            for j in 0..=i {
                let mut sum = lower[i * n + j];
                for k in 0..j {
                    sum -= lower[i * n + k] * lower[j * n + k];
                }
                if i == j {
                    if !(sum > 0.0 && sum.is_finite()) {
                        return None;
                    }
                    lower[i * n + i] = sum.sqrt();
                } else {
                    lower[i * n + j] = sum / lower[j * n + j];
                }
            }
        }
        Some(Cholesky { lower, n })
    }

    /// ln det of the matrix.
    pub fn ln_det(&self) -> f64 {
        (0..self.n).map(|i| 2.0 * self.lower[i * self.n + i].ln()).sum()
    }

    /// rᵀ A⁻¹ r.
    pub fn quadratic(&self, r: &[f64]) -> f64 {
        let n = self.n;
        let mut z = r.to_vec();
        for i in 0..n {
            for k in 0..i {
                z[i] -= self.lower[i * n + k] * z[k];
            }
            z[i] /= self.lower[i * n + i];
        }
        z.iter().map(|v| v * v).sum()
    }

    /// Of each unknown what it adds to rᵀ A⁻¹ r given all others, and its diagonal entry of A⁻¹: without it (its row and
    /// column left out) the quadratic form is less by the first, and ln det more by the ln of the second.
    pub fn alone(&self, r: &[f64]) -> Vec<(f64, f64)> {
        let n = self.n;
        let mut z = r.to_vec();
        for i in 0..n {
            for k in 0..i {
                z[i] -= self.lower[i * n + k] * z[k];
            }
            z[i] /= self.lower[i * n + i];
        }
        let mut column = vec![0.0; n];
        let mut out = Vec::with_capacity(n);
        for unknown in 0..n {
            // A column of L⁻¹: its products with itself and with L⁻¹ r are those of A⁻¹.
            let (mut own, mut with) = (0.0, 0.0);
            for i in unknown..n {
                let mut value = if i == unknown { 1.0 } else { 0.0 };
                let row = &self.lower[i * n..i * n + i];
                value -= row[unknown..].iter().zip(&column[unknown..]).map(|(l, c)| l * c).sum::<f64>();
                column[i] = value / self.lower[i * n + i];
                own += column[i] * column[i];
                with += column[i] * z[i];
            }
            out.push((with * with / own, own));
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_two_by_two_by_hand() {
        let factor = Cholesky::new(&[4.0, 2.0, 2.0, 3.0], 2).unwrap();
        assert!((factor.ln_det() - 8.0_f64.ln()).abs() < 1e-12);
        // inverse of [[4,2],[2,3]] is [[3,-2],[-2,4]]/8
        assert!((factor.quadratic(&[1.0, 1.0]) - 3.0 / 8.0).abs() < 1e-12);
        assert!(Cholesky::new(&[1.0, 2.0, 2.0, 1.0], 2).is_none());
    }

    #[test]
    fn what_is_left_out_is_told_from_the_whole() {
        let whole = [4.0, 2.0, 0.5, 2.0, 3.0, 1.0, 0.5, 1.0, 2.0];
        let r = [1.0, -2.0, 3.0];
        let factor = Cholesky::new(&whole, 3).unwrap();
        let alone = factor.alone(&r);
        assert_eq!(alone.len(), 3);
        for (gone, (adds, own)) in alone.into_iter().enumerate() {
            let kept: Vec<usize> = (0..3).filter(|&i| i != gone).collect();
            let part: Vec<f64> = kept.iter().flat_map(|&i| kept.iter().map(move |&j| whole[i * 3 + j])).collect();
            let less = Cholesky::new(&part, 2).unwrap();
            let want = less.quadratic(&kept.iter().map(|&i| r[i]).collect::<Vec<_>>());
            assert!((factor.quadratic(&r) - adds - want).abs() < 1e-12);
            assert!((factor.ln_det() + own.ln() - less.ln_det()).abs() < 1e-12);
        }
    }
}
