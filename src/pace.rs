//! How far a long piece of work has come, for whoever waits for it: counted here, told elsewhere.
//!
//! Work that is done by several workers is counted by all of them. Nothing is decided by it.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What is being worked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Work {
    /// The circuit of one state after another, made ready.
    Circuits,
    /// The sound machine in one state after another.
    States,
    /// Sorts of findings, one after another.
    Findings,
    /// What each suspect does in a state.
    Suspects,
    /// What the possible next tests would tell.
    Tests,
    /// Steps of a work that is led, planned.
    Steps,
    /// Whole chases against a simulated machine.
    Chases,
}

const ALL: [Work; 7] =
    [Work::Circuits, Work::States, Work::Findings, Work::Suspects, Work::Tests, Work::Steps, Work::Chases];

/// A counter that many hands hold.
#[derive(Clone, Debug, Default)]
pub struct Pace(Arc<Counts>);

#[derive(Debug, Default)]
struct Counts {
    /// Stretches begun so far, and what the last one is at: `stretch * ALL.len() + work`.
    stretch: AtomicUsize,
    of: AtomicUsize,
    done: AtomicUsize,
}

/// How far it has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Seen {
    /// The stretch, counted from 1: each has a pace of its own.
    pub stretch: usize,
    /// What is being worked at.
    pub work: Work,
    /// Pieces done.
    pub done: usize,
    /// Pieces in all; never fewer than are done.
    pub of: usize,
}

impl Pace {
    /// A stretch of so many pieces begins; the one before is over.
    pub fn begin(&self, work: Work, of: usize) {
        let counts = &self.0;
        let at = ALL.iter().position(|other| *other == work).unwrap_or(0);
        counts.done.store(0, Ordering::Relaxed);
        counts.of.store(of, Ordering::Relaxed);
        let before = counts.stretch.load(Ordering::Relaxed) / ALL.len();
        counts.stretch.store((before + 1) * ALL.len() + at, Ordering::Relaxed);
    }

    /// A piece is done.
    pub fn step(&self) {
        self.steps(1);
    }

    /// So many are done.
    pub fn steps(&self, pieces: usize) {
        self.0.done.fetch_add(pieces, Ordering::Relaxed);
    }

    /// How far it has come; nothing before the first stretch.
    pub fn seen(&self) -> Option<Seen> {
        let stretch = self.0.stretch.load(Ordering::Relaxed);
        let done = self.0.done.load(Ordering::Relaxed);
        let of = self.0.of.load(Ordering::Relaxed).max(done);
        (stretch >= ALL.len()).then(|| Seen { stretch: stretch / ALL.len(), work: ALL[stretch % ALL.len()], done, of })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_hands_count_together_and_each_stretch_begins_at_nothing() {
        let pace = Pace::default();
        assert_eq!(pace.seen(), None);
        pace.begin(Work::States, 40);
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| (0..10).for_each(|_| pace.clone().step()));
            }
        });
        assert_eq!(pace.seen(), Some(Seen { stretch: 1, work: Work::States, done: 40, of: 40 }));
        pace.begin(Work::Tests, 2);
        assert_eq!(pace.seen(), Some(Seen { stretch: 2, work: Work::Tests, done: 0, of: 2 }));
        // More came of it than was thought.
        pace.steps(3);
        assert_eq!(pace.seen(), Some(Seen { stretch: 2, work: Work::Tests, done: 3, of: 3 }));
    }
}
