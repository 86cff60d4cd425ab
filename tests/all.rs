//! One integration binary. Each file beside this one is a module of it (kept by `house`).
mod aftermath;
mod cases;
mod catalogue;
mod circuit;
mod contract;
mod deck;
mod gauge;
mod groups;
mod guards;
mod house;
mod machines;
mod orchard_cart;
mod solver;
mod start;
mod terminal;
mod wire;
mod wiring;
