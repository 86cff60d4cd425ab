//! Ringing out a plug: which way goes where and what is joined that should not be, by beeper; then, joined and under
//! load, what each way loses. Pure: answers in, the next placement out.
//!
//! [`job`] says what goes where by the file, [`said`] reads busy hands, [`slips`] names what is wrong and what it usually
//! comes of, [`gang`] parts shorts by halves where ways can be held together, [`load`] what a way may lose.
//!
//! One person with two probes touches every way once: red stays on a way, black goes to its far end and is then dragged
//! over the ways that have not been touched yet. Fewer placements than ways cannot be: each way has to be touched.
//!
//! ```
//! use ohmward::session::ringout::{Ring, Stage, Wait, job::Job};
//! let mut ring = Ring::new(Job::straight(3), Stage::Beep { ganged: false });
//! for answer in ["y", "1=2", "n", "1", "y"] {
//!     if ring.take(answer).is_err() { break }
//! }
//! assert!(ring.findings().iter().any(|finding| finding.text.contains("1 and 2 are crossed")));
//! ```

pub mod gang;
pub mod job;
pub mod load;
pub mod said;
pub mod slips;
pub mod words;

use job::Job;
use said::Said;
use std::collections::BTreeSet;
use words::Words;

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stage {
    /// By beeper, both ends unplugged.
    Beep {
        /// Ways can be held together in bunches.
        ganged: bool,
    },
    /// A lamp through every way, joined; W.
    Load {
        /// W
        lamp: f64,
    },
}

/// What is waited for.
#[derive(Clone, Debug, PartialEq)]
pub enum Wait {
    /// That all is safe.
    Safe,
    /// Two bunches of ways against each other: silent?
    Bunches([Vec<usize>; 2]),
    /// A way: red on it, black on its far end; then black dragged over these.
    Way {
        /// the way
        at: usize,
        /// ways that must stay silent
        drag: Vec<usize>,
    },
    /// Red stays on a silent way, black goes over these far ends.
    Find {
        /// the way
        at: usize,
        /// far ends that nobody has claimed
        open: Vec<usize>,
    },
    /// Volts over a way with the lamp in it.
    Load(usize),
    /// Pull at every end: did one come out?
    Pull,
    /// Nothing.
    Done,
}

/// What is known of a way.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// Its far end is that of this way; of a dead way none.
    pub far: Option<usize>,
    /// It beeps nowhere.
    pub dead: bool,
    /// It was left out.
    pub skipped: bool,
    /// Volts lost under load.
    pub volts: Option<f64>,
    /// An end came out.
    pub pulled: bool,
}

/// Something that is not as it should be.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What, and where to look.
    pub text: String,
    /// The ways that it is about.
    pub ways: Vec<usize>,
}

/// A plug being rung out.
pub struct Ring {
    /// What is rung out.
    pub job: Job,
    /// What is done.
    pub stage: Stage,
    answers: Vec<String>,
    notes: Vec<String>,
    safe: bool,
    /// Rounds of bunches that were silent; all of them where one was not.
    rounds: usize,
    /// Some round was not silent: it is dragged after all.
    noisy: bool,
    known: Vec<Option<Known>>,
    joined: BTreeSet<(usize, usize)>,
    finding: Option<usize>,
    pulled: bool,
}

impl Ring {
    /// Nothing has been touched yet.
    pub fn new(job: Job, stage: Stage) -> Ring {
        // What gets no 12 V is left out of the lamp's round from the start.
        let barred = |way: &job::Way| way.signal && matches!(stage, Stage::Load { .. });
        let left_out = Known { skipped: true, ..Known::default() };
        let known = job.ways.iter().map(|way| barred(way).then(|| left_out.clone())).collect();
        Ring {
            job,
            stage,
            answers: Vec::new(),
            notes: Vec::new(),
            safe: false,
            rounds: 0,
            noisy: false,
            known,
            joined: BTreeSet::new(),
            finding: None,
            pulled: false,
        }
    }

    /// Answers accepted so far.
    pub fn answers(&self) -> &[String] {
        &self.answers
    }

    /// Remarks.
    pub fn notes(&self) -> &[String] {
        &self.notes
    }

    /// What is known of each way.
    pub fn known(&self) -> &[Option<Known>] {
        &self.known
    }

    /// Pairs that beep together and should not.
    pub fn joined(&self) -> &BTreeSet<(usize, usize)> {
        &self.joined
    }

    /// Are shorts told by bunches?
    fn ganged(&self) -> bool {
        matches!(self.stage, Stage::Beep { ganged: true }) && !self.noisy
    }

    /// What is waited for.
    pub fn waiting(&self) -> Wait {
        if self.job.ways.is_empty() {
            return Wait::Done;
        }
        if !self.safe {
            return Wait::Safe;
        }
        let next = self.known.iter().position(Option::is_none);
        if let Stage::Load { .. } = self.stage {
            return match next {
                Some(at) => Wait::Load(at),
                None if !self.pulled => Wait::Pull,
                None => Wait::Done,
            };
        }
        if let Some(round) = self.bunches().get(self.rounds).filter(|_| self.ganged()) {
            return Wait::Bunches(round.clone());
        }
        if let Some(at) = self.finding {
            let claimed = |far: &usize| self.known.iter().flatten().any(|known| known.far == Some(*far));
            let open = (0..self.job.ways.len()).filter(|far| *far != at && !claimed(far)).collect();
            return Wait::Find { at, open };
        }
        match next {
            Some(at) => Wait::Way { at, drag: self.drag(at) },
            None => Wait::Done,
        }
    }

    fn bunches(&self) -> Vec<[Vec<usize>; 2]> {
        gang::of_nets(&self.job.ways.iter().map(|way| way.net).collect::<Vec<_>>())
    }

    /// Are two ways one net by the wiring?
    fn one_net(&self, a: usize, b: usize) -> bool {
        self.job.ways[a].net == self.job.ways[b].net
    }

    /// Ways after this one that have not been touched yet and that it should not beep with.
    fn drag(&self, at: usize) -> Vec<usize> {
        if self.ganged() {
            return Vec::new();
        }
        let count = self.job.ways.len();
        (at + 1..count).filter(|&way| self.known[way].is_none() && !self.one_net(at, way)).collect()
    }

    /// Takes an answer as it was typed; one that cannot be used is refused in a sentence, and what waits goes on waiting.
    pub fn take(&mut self, text: &str) -> Result<(), String> {
        let text = text.trim();
        let lower = text.to_lowercase();
        if lower == "back" || lower == "undo" {
            return self.back();
        }
        if let Some(note) = lower.strip_prefix("note ").map(|_| text[5..].trim()).filter(|note| !note.is_empty()) {
            self.notes.push(note.to_string());
        } else {
            self.apply(text)?;
        }
        self.answers.push(text.to_string());
        Ok(())
    }

    fn back(&mut self) -> Result<(), String> {
        let is_note = |answer: &String| answer.to_lowercase().starts_with("note ");
        let Some(last) = self.answers.iter().rposition(|answer| !is_note(answer)) else {
            return Err("nothing has been answered yet".into());
        };
        let mut answers = std::mem::take(&mut self.answers);
        answers.remove(last);
        let job = std::mem::take(&mut self.job);
        *self = Ring::new(job, self.stage);
        // Each was accepted before.
        answers.iter().try_for_each(|answer| self.take(answer))
    }

    fn way(&self, name: &str) -> Result<usize, String> {
        self.job.find(name).ok_or_else(|| {
            let names: Vec<&str> = self.job.ways.iter().map(|way| way.name.as_str()).take(12).collect();
            format!("there is no way \"{name:.20}\"; there are {}", names.join(", "))
        })
    }

    fn apply(&mut self, text: &str) -> Result<(), String> {
        let waiting = self.waiting();
        if let Wait::Load(at) = waiting {
            return self.lost(at, text);
        }
        let said = said::read(text)?;
        match (waiting, said) {
            (Wait::Done, _) => Err("all ways have been rung out".into()),
            (Wait::Safe, Said::Yes) => {
                self.safe = true;
                Ok(())
            }
            (Wait::Safe, _) => Err("y once it is done; stop breaks off".into()),
            (Wait::Pull, Said::Yes | Said::No | Said::AllGood) => {
                self.pulled = true;
                Ok(())
            }
            (Wait::Pull, Said::Name(name)) => {
                let at = self.way(&name)?;
                if let Some(known) = &mut self.known[at] {
                    known.pulled = true;
                }
                Ok(())
            }
            (Wait::Pull, _) => Err("none, or the way that came out".into()),
            (Wait::Bunches(_), Said::No | Said::Skip) => {
                self.rounds += 1;
                Ok(())
            }
            // It beeps: which two, dragging tells.
            (Wait::Bunches(_), Said::Yes) => {
                self.noisy = true;
                Ok(())
            }
            (_, Said::Joined(a, b)) => self.join(&a, &b),
            (Wait::Bunches(_), _) => Err("n if it is silent, y if it beeps".into()),
            (_, Said::Goes(a, b)) => {
                let (a, b) = (self.way(&a)?, self.way(&b)?);
                self.goes(a, Some(b))
            }
            (_, Said::Dead(Some(name))) => {
                let at = self.way(&name)?;
                self.goes(at, None)
            }
            (Wait::Way { at, .. } | Wait::Find { at, .. }, Said::Dead(None)) => self.goes(at, None),
            (Wait::Way { at, .. } | Wait::Find { at, .. }, Said::Skip) => {
                self.finding = None;
                self.known[at] = Some(Known { skipped: true, ..Known::default() });
                Ok(())
            }
            (Wait::Way { at, .. }, Said::Yes) => self.goes(at, Some(at)),
            (Wait::Way { at, .. }, Said::No) => {
                self.finding = Some(at);
                Ok(())
            }
            (Wait::Way { .. }, Said::AllGood) => {
                for at in 0..self.job.ways.len() {
                    if self.known[at].is_none() {
                        self.goes(at, Some(at))?;
                    }
                }
                Ok(())
            }
            (Wait::Way { .. }, Said::Name(name)) => {
                Err(format!("\"{name:.30}\" is no answer here: y, n, 5=6, 7 dead, 4+6, all good, skip, back"))
            }
            (Wait::Find { at, .. }, Said::Name(name)) => {
                let far = self.way(&name)?;
                self.goes(at, Some(far))
            }
            (Wait::Find { at, .. }, Said::No) => self.goes(at, None),
            (Wait::Find { .. }, _) => Err("which far end beeps? Its way, or dead".into()),
            (Wait::Load(_), _) => Err("volts over the way".into()),
        }
    }

    fn join(&mut self, a: &str, b: &str) -> Result<(), String> {
        let (a, b) = (self.way(a)?, self.way(b)?);
        if a == b {
            return Err("a way beeps with itself; name two".into());
        }
        if self.one_net(a, b) {
            return Err("these two are joined by the wiring: they beep together, and that is right".into());
        }
        self.joined.insert((a.min(b), a.max(b)));
        Ok(())
    }

    /// A way goes to the far end of another, or nowhere.
    fn goes(&mut self, at: usize, far: Option<usize>) -> Result<(), String> {
        if let Some(far) = far {
            let same =
                |other: &usize| *other != at && self.known[*other].as_ref().is_some_and(|known| known.far == Some(far));
            if let Some(other) = (0..self.job.ways.len()).find(same) {
                let (one, two) = (&self.job.ways[other].name, &self.job.ways[at].name);
                if !self.joined.contains(&(other.min(at), other.max(at))) && !self.one_net(other, at) {
                    return Err(format!(
                        "way {one} beeps to that end already: do {one} and {two} beep together? Then say {one}+{two} first"
                    ));
                }
            }
        }
        self.finding = self.finding.filter(|finding| *finding != at);
        self.known[at] = Some(Known { far, dead: far.is_none(), ..Known::default() });
        Ok(())
    }

    /// Volts over a way.
    fn lost(&mut self, at: usize, text: &str) -> Result<(), String> {
        let lower = text.to_lowercase();
        if matches!(lower.as_str(), "skip" | "s" | "not fitted") {
            self.known[at] = Some(Known { skipped: true, ..Known::default() });
            return Ok(());
        }
        if matches!(lower.as_str(), "dead" | "dark" | "n" | "no") {
            self.known[at] = Some(Known { dead: true, ..Known::default() });
            return Ok(());
        }
        let volts = load::volts(text)?;
        let should = load::should(&self.job.ways[at], self.lamp());
        if volts < should.least {
            return Err(format!(
                "{} V is less than its copper alone loses ({}): is the lamp lit, are the tips on the two ends?",
                volts,
                load::say(should.volts)
            ));
        }
        self.known[at] = Some(Known { far: Some(at), volts: Some(volts), ..Known::default() });
        Ok(())
    }

    /// W of the lamp under load.
    pub fn lamp(&self) -> f64 {
        match self.stage {
            Stage::Load { lamp } => lamp,
            Stage::Beep { .. } => Words::builtin().figure("lamp"),
        }
    }

    /// What is not as it should be, as far as is known.
    pub fn findings(&self) -> Vec<Finding> {
        slips::findings(self)
    }

    /// Ways that are as they should be.
    pub fn good(&self) -> Vec<usize> {
        let bad: BTreeSet<usize> = self.findings().into_iter().flat_map(|finding| finding.ways).collect();
        let as_told = |at: &usize| self.known[*at].as_ref().is_some_and(|known| known.far == Some(*at));
        (0..self.job.ways.len()).filter(|at| as_told(at) && !bad.contains(at)).collect()
    }
}
