//! Solutions with a matrix of their own.

/// All node volts.
#[derive(Clone, Debug, Default)]
pub struct Solved {}
