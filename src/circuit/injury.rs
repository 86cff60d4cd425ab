//! What a fault does to the elements.

mod inflict;
mod part;

pub use inflict::{injure, injure_canonical, injure_in};

use super::schematic::{ElementId, Law, Node};

/// One change of the circuit.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// The element's law becomes this ([`Law::Open`]: absent).
    Law(ElementId, Law),
    /// From and to of the element exchanged.
    Reverse(ElementId),
    /// A resistor between two weighted taps; the weights of each side sum to 1.
    Tie {
        /// Nodes of one side with their weights.
        from: Vec<(Node, f64)>,
        /// Nodes of the other side with their weights.
        to: Vec<(Node, f64)>,
        /// ohm
        ohms: f64,
    },
    /// An element that is not in the machine (meter, lamp, substituted load).
    Add {
        /// From.
        a: Node,
        /// To.
        b: Node,
        /// Current against volts.
        law: Law,
    },
}

/// What a fault does to the elements.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Injury {
    /// Changes, applied in order; of two laws for one element the later holds.
    pub changes: Vec<Change>,
    /// Wires that lie so close that one puts its kicks into the other: no change of any DC solution, see
    /// [`crate::circuit::coupling`].
    pub coupled: Vec<[ElementId; 2]>,
    /// Fuses open from the start.
    pub blown: Vec<ElementId>,
    /// ln of how many times as long as the table says the fuses of this machine hold.
    pub patience: f64,
    /// Which of the machines drawn this is, by where its coils pull in and drop out and what its interrupters work at
    /// (see [`crate::circuit::sim::DRAWS`]); `None` where that is not known, and what is seen scatters with it.
    pub draw: Option<u8>,
}

/// The law that changes leave an element: the last that names it, else its own.
pub fn law_after<'a>(changes: impl DoubleEndedIterator<Item = &'a Change>, id: ElementId, own: &'a Law) -> &'a Law {
    let changed = changes.rev().find_map(|change| match change {
        Change::Law(element, law) if *element == id => Some(law),
        _ => None,
    });
    changed.unwrap_or(own)
}
