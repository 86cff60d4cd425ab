//! Layer 6: suspects, what each would show, and what the evidence says of them.
//!
//! - [`machine`]: everything that a chase works on
//! - [`segment`]: links that no allowed probe can tell apart; [`net`]: points that copper joins
//! - [`suspect`], [`enumerate`]: suspects and their priors
//! - [`backdrop`]: several faults at once
//! - [`memory`]: blown fuses, which last from one step of a chase to the next
//! - [`predict`], `instrument`: what a suspect would read, from the circuit; `lean`: what its severity does to that; `felt`: what a
//!   hand would say of it
//! - [`threshold`]: machines drawn on both sides of where a relay or a flasher acts
//! - [`presence`]: faults that come and go
//! - [`entry`], [`evidence`], [`fits`], [`posterior`]: readings as probability masses, weighed as one batch; `needless`:
//!   complaints of what a sound machine does just so
//! - [`visible`]: what can be seen of a fault; [`groups`]: what no allowed test can tell apart
//! - [`kill`]: engines stopped by grounding a terminal, points that an ignition drives
//! - [`pattern`]: names in the trade's terms, earned on the computed circuit

mod ahead;
pub mod backdrop;
pub mod entry;
pub mod enumerate;
pub mod evidence;
mod felt;
mod fits;
pub mod groups;
mod instrument;
pub mod kill;
mod lean;
pub mod machine;
pub mod memory;
mod needless;
pub mod net;
pub mod pattern;
pub mod posterior;
pub mod predict;
mod prepare;
pub mod presence;
pub mod runs;
pub mod segment;
pub mod suspect;
mod threshold;
pub mod visible;
pub(crate) mod workers;
