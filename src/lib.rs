//! Ohmward: from a symptom and a few meter readings to the wiring fault.
//!
//! The library is a pure function of what it is given: it never prints, reads no environment,
//! no home folder and no clock. The command line under `src/cli` (part of the binary) does that.
//!
//! Layers, lower ones know nothing of higher ones (kept by `tests/house.rs`):
//!
//! 1. [`text`]: source text, spans, problems, quantities, YAML; [`pace`]: how far long work has come
//! 2. [`linear`]: sparse symmetric factorisation
//! 3. [`netlist`]: points, links, parts, plugs as a graph
//! 4. [`catalogue`]: part kinds and tables of the trade; [`wiring`]: the wiring file read into a netlist; above them
//!    [`sketch`]: circuits from which a wiring file is begun
//! 5. [`circuit`]: the netlist under a state and a fault, solved; the meter in it
//! 6. [`diagnosis`]: suspects, predictions, posterior, explanation
//!    [`review`]: what in a sound wiring should be seen to before the loom is closed
//! 7. [`choice`]: what to ask next; beside it [`harness`]: work on the loom itself, planned
//! 8. [`session`]: one chase as a pure function of state and event
//! 9. [`notes`]: the build notes; [`drawing`]: the machine on paper

#![forbid(unsafe_code)]
#![warn(missing_docs)]

pub mod catalogue;
pub mod choice;
pub mod circuit;
pub mod diagnosis;
pub mod drawing;
pub mod harness;
pub mod linear;
pub mod netlist;
pub mod notes;
pub mod pace;
pub mod review;
pub mod session;
pub mod sketch;
pub mod text;
pub mod wiring;
