//! Readings nobody asked for.
