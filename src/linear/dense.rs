//! Small dense systems, eliminated in the order given.

/// A small square matrix, eliminated without pivoting: the caller's order has a meaning (what is added before what
/// is taken away), and so has each pivot.
#[derive(Clone, Debug, Default)]
pub struct Dense {
    size: usize,
    cells: Vec<f64>,
}

impl Dense {
    /// Eliminates the matrix of these cells (by rows); `None` if a row's pivot is smaller than its `least`, or undefined.
    pub fn eliminate(size: usize, mut cells: Vec<f64>, least: impl Fn(usize) -> f64) -> Option<Dense> {
        for k in 0..size {
            let pivot = cells[k * size + k];
            if !(pivot.abs() >= least(k) && pivot.is_finite()) {
                return None;
            }
            for row in k + 1..size {
                let times = cells[row * size + k] / pivot;
                if times != 0.0 {
                    cells[row * size + k] = times;
                    for column in k + 1..size {
                        cells[row * size + column] -= times * cells[k * size + column];
                    }
                }
            }
        }
        Some(Dense { size, cells })
    }

    /// The pivot that a row was eliminated with.
    pub fn pivot(&self, row: usize) -> f64 {
        self.cells[row * self.size + row]
    }

    /// Solves in place.
    pub fn solve(&self, x: &mut [f64]) {
        let size = self.size;
        for row in 0..size {
            for column in 0..row {
                x[row] -= self.cells[row * size + column] * x[column];
            }
        }
        for row in (0..size).rev() {
            for column in row + 1..size {
                x[row] -= self.cells[row * size + column] * x[column];
            }
            x[row] /= self.cells[row * size + row];
        }
    }

    /// Solves the transposed system in place.
    pub fn solve_transposed(&self, x: &mut [f64]) {
        let size = self.size;
        for row in 0..size {
            for column in 0..row {
                x[row] -= self.cells[column * size + row] * x[column];
            }
            x[row] /= self.cells[row * size + row];
        }
        for row in (0..size).rev() {
            for column in row + 1..size {
                x[row] -= self.cells[column * size + row] * x[column];
            }
        }
    }
}
