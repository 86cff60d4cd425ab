//! One integration binary. Each file beside this one is a module of it (kept by `house`).
mod circuit;
mod deck;
mod gauge;
mod solver;
mod wiring;
mod catalogue;
mod orchard_cart;
