//! Solutions in port space.

/// Currents injected at ports.
#[derive(Clone, Debug, Default)]
pub struct Injected {}
