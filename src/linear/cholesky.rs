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
}
