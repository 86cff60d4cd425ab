//! Layer 2: sparse symmetric factorisation `A = L·D·Lᵀ`, made for networks of conductances.
//!
//! Verbs as in any direct solver, one file each: [`order`] (minimum degree), [`analyse`](Symbolic) (elimination
//! tree and pattern, once a pattern), [`factor`](Factor) (numbers, as often as wanted), [`solve`] (all unknowns, or
//! only along elimination-tree paths). A singular matrix is a result, [`Singular`].
//!
//! Diagonals are never given. A row is given by its off-diagonal entries and its row sum (in a network: the
//! conductance to the reference), and elimination keeps it so. A pivot is then a sum of conductances of one
//! sign and never the difference of two large numbers: a node behind 1e-12 S beside others behind 1e4 S keeps all its digits.
//!
//! Knows nothing of circuits.
//!
//! ```
//! use ohmward::linear::{Entries, Factor, Symbolic};
//! // Two nodes joined by 2 S, the first tied to the reference by 1 S.
//! let entries = Entries { size: 2, edges: vec![(0, 1)], weights: vec![-2.0], sums: vec![1.0, 0.0] };
//! let symbolic = Symbolic::analyse(entries.size, &entries.edges);
//! let factor = Factor::new(&symbolic, &entries.weights, &entries.sums).unwrap();
//! let volts = factor.solve(&symbolic, &[0.0, 3.0]);
//! assert!((volts[0] - 3.0).abs() < 1e-12 && (volts[1] - 4.5).abs() < 1e-12);
//! ```

pub mod cholesky;
mod dense;
mod factor;
pub mod order;
pub mod solve;
mod symbolic;

pub use dense::Dense;
pub use factor::{Factor, Singular};
pub use symbolic::Symbolic;

/// A symmetric matrix by its off-diagonal entries and its row sums.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Entries {
    /// Number of unknowns.
    pub size: usize,
    /// Pairs of different unknowns; repeats add up.
    pub edges: Vec<(usize, usize)>,
    /// The entry of each pair (minus the conductance, in a network).
    pub weights: Vec<f64>,
    /// Sum of each whole row.
    pub sums: Vec<f64>,
}
