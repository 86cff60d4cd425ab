//! Layer 7: what to ask next.
//!
//! - [`candidates`]: tests that could help, by rule
//! - [`allowed`]: what is never proposed, and what this bench cannot do
//! - [`minutes`]: what a test costs from where the person stands
//! - [`score`]: what its answer is worth, in information about repair classes
//! - [`compander`]: readings put into bins as wide as what is uncertain about them
//! - [`columns`]: what each suspect would answer to each test
//! - [`reference`]: what may be done whatever the complaint, for ambiguity groups
//! - `rig`: what is put in or taken out for a test; [`hands`]: what it takes of one person
//! - `unasked`: cranking, and what should stop the engine, looked at for a second fault
//! - `search`: every spot in every state, the best of them in more
//! - [`stir`]: what to wiggle; [`feel`]: what to lay a hand on
//! - [`choose`]: the best per minute on a digest of the suspects

pub mod allowed;
pub mod candidates;
pub mod choose;
pub mod columns;
pub mod compander;
pub mod feel;
pub mod hands;
pub mod minutes;
pub mod reference;
mod rig;
pub mod score;
mod search;
mod settings;
pub mod stir;
mod unasked;
