//! A complaint of what a sound machine does just so, as the wiring file has it: did it ever do otherwise?

use super::{Chase, Pending};
use crate::diagnosis::suspect::What;
use crate::session::event::{Event, VerdictReason};
use crate::session::report::symptom_words;
use crate::session::start::DONT_KNOW;

/// It did: then something is broken, or the file is not as the machine is.
const DID: &str = "it did, before";
/// It never did: then nothing has to be broken.
const NEVER: &str = "never, or not since it was wired so";

impl Chase {
    /// The question, once, before anything is measured.
    pub(super) fn ever_otherwise(&mut self) -> Option<Event> {
        if self.asked_before || !self.evidence.is_needless() || !self.done.is_empty() || !self.skipped.is_empty() {
            return None;
        }
        self.asked_before = true;
        let symptom = symptom_words(self.symptoms.first()?);
        let text =
            format!("as the wiring file has it, a sound machine does just that ({symptom}). Did it ever do otherwise?");
        let choices = [DID, NEVER, DONT_KNOW].map(String::from).to_vec();
        let options = choices.iter().map(|label| (label.clone(), Vec::new())).collect();
        let event = Event::Question { id: self.id(), text, choices };
        self.pending = Pending::Question(event.clone(), options);
        Some(event)
    }

    /// The answer to it; nothing if it was another question's.
    pub(super) fn answered_otherwise(&mut self, label: &str) -> Option<Vec<Event>> {
        if label == DID {
            self.evidence.did_otherwise();
            return Some(self.go_on());
        }
        let nothing = self.suspects.list.iter().find(|suspect| suspect.what == What::NothingBroken);
        let class = nothing.map(|suspect| suspect.class.clone()).filter(|_| label == NEVER)?;
        self.sound = true;
        self.chances = self.weigh();
        Some(vec![self.suspects_event(), self.verdict(VerdictReason::NothingVisible, Some(class))])
    }
}
