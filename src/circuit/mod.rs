//! Layer 5: the circuit. Netlist, state and fault in; volts, amps, showings and readings out.
//!
//! - [`schematic`]: elements between nodes, lowered once from netlist and catalogue ([`lower`])
//! - [`fault`]: the names of faults; [`injury`]: what a fault does to the elements
//! - [`state`]: controls and their settings, what is open, bridged or fitted in the state
//! - [`law`]: current against volts of each element
//! - [`coupling`]: what wires of one loom do to each other
//! - [`sim`]: a state is factored once, a fault is a low-rank change solved in port space
//! - [`test`]: a test and a reading as scripts write them
//! - [`meter`]: instruments in the circuit; [`showing`]: what a person sees
//! - [`deck`]: export for a general circuit simulator

pub mod coupling;
pub mod deck;
pub mod fault;
pub mod heat;
pub mod injury;
pub mod law;
pub mod lower;
pub mod meter;
pub mod schematic;
pub mod showing;
pub mod sim;
pub mod state;
pub mod test;
