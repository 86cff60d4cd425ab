//! The solver against published circuits, against itself the long way round, and against the laws of physics.

mod cart;
mod events;
mod idle;
mod ladder;
mod laws;
mod matrix;
mod published;
mod share;
mod suspects;
mod ways;

use ohmward::circuit::schematic::{Elem, Law, Node, Schematic};
use ohmward::circuit::sim::{FuseCurve, Sim, StateId, StateSpec};

/// An element without a part.
pub fn elem(name: &str, a: Node, b: Node, law: Law) -> Elem {
    Elem { name: name.into(), part: None, a, b, law, spread: 0.1 }
}

/// A resistor.
pub fn resistor(name: &str, a: Node, b: Node, ohms: f64) -> Elem {
    elem(name, a, b, Law::Resistor { ohms })
}

/// A simulation of elements between nodes 0, 1, …, in the one state that there is without controls.
pub fn sim(nodes: usize, elements: Vec<Elem>) -> (Sim, StateId) {
    let schematic =
        Schematic { nodes: (0..nodes).map(|n| format!("n{n}")).collect(), elements, ..Schematic::default() };
    let mut sim = Sim::new(schematic, FuseCurve::blade());
    let state = sim.state(&StateSpec { steps: vec![vec![]], changes: vec![] });
    (sim, state)
}
