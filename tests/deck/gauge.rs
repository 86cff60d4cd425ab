//! The needle that moves with the horn.
