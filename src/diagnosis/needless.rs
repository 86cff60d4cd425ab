//! Complaints of what a sound machine does just so.

use super::enumerate::Suspects;
use super::evidence::{Entry, Evidence};
use super::machine::Machine;
use super::posterior::Predicted;
use super::predict::predict;
use super::runs::Runs;
use super::suspect::{Suspect, What};

/// Priors are those of a machine with a complaint that something has to explain. What a sound machine does just so explains
/// itself, and a fault is there by chance only: so many times as seldom (common practice, no source).
const BACKGROUND: f64 = 0.02;
/// A sound machine shows it from this chance on.
const SOUND: f64 = 0.8;

impl Evidence {
    /// Asks whether a sound machine shows all that has been complained of; to be asked anew with each complaint.
    pub fn complained(&mut self, machine: &mut Machine, suspects: &Suspects, runs: &mut Runs) {
        let Some(whole) = suspects.list.iter().position(|s| s.what == What::NothingBroken) else { return };
        let point = runs.range[whole].0 as u32;
        let mut sound = |entry: &Entry| {
            let shown = predict(machine, suspects, runs, &entry.sight, &entry.reading, point);
            matches!(shown, Predicted::Mass(p) if p >= SOUND)
        };
        let mut complaints = self.entries.iter().filter(|entry| entry.complaint).peekable();
        let needless =
            !self.otherwise && !self.comes_and_goes && complaints.peek().is_some() && complaints.all(&mut sound);
        if needless != self.needless {
            self.needless = needless;
            self.forget_weights();
        }
    }

    /// Does a sound machine show all that was complained of?
    pub fn is_needless(&self) -> bool {
        self.needless
    }

    /// It was otherwise once, whatever the file has it do: a fault is wanted after all.
    pub fn did_otherwise(&mut self) {
        self.otherwise = true;
        self.needless = false;
        self.forget_weights();
    }

    /// ln of how likely a suspect was before anything was read.
    pub(super) fn ln_prior(&self, suspect: &Suspect) -> f64 {
        let background = if self.needless && !suspect.special() { BACKGROUND.ln() } else { 0.0 };
        suspect.prior.max(1e-300).ln() + background
    }
}
