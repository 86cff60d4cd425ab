//! Layer 7, beside the choice of tests: work on the loom itself, planned. Plans in, plans out; nothing is printed here.

pub mod extend;
