//! Readings as people say them.
