//! One integration binary. Each file beside this one is a module of it (kept by `house`).
mod wiring;
mod solver;

mod catalogue;
