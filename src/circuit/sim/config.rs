//! Which elements differ from the factored state.

/// Elements that differ from the factored state.
#[derive(Clone, Debug, Default)]
pub struct Overrides {}
