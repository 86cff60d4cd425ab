//! One touch of the two leads and what came of it.

/// Below this, the leads' own ohms taken off, two wires are joined by a contact. Contacts of switches have some
/// hundredths of an ohm, worn ones tenths; lamps, coils and heaters of vehicles have more (common practice, no source).
pub const CONTACT: f64 = 1.0;
/// The beeper sounds at or below this unless the bench names another (see `rules/procedures.yaml`).
pub const BEEP: f64 = 50.0;

/// Where the leads are. Several wires on one lead are held together by clips.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Touch {
    /// Wires on the red lead.
    pub red: Vec<usize>,
    /// Wires on the black lead.
    pub black: Vec<usize>,
}

impl Touch {
    /// One wire on each lead.
    pub fn pair(red: usize, black: usize) -> Touch {
        Touch { red: vec![red], black: vec![black] }
    }

    /// The wires, if there is one on each lead.
    pub fn one(&self) -> Option<(usize, usize)> {
        match (self.red.as_slice(), self.black.as_slice()) {
            (&[red], &[black]) => Some((red, black)),
            _ => None,
        }
    }

    /// Every wire on red with every wire on black.
    pub fn pairs(&self) -> impl Iterator<Item = (usize, usize)> + '_ {
        self.red.iter().flat_map(|&red| self.black.iter().map(move |&black| (red, black)))
    }
}

/// What came of a touch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Heard {
    /// It beeps; no number was said.
    Beep,
    /// Silent, over range.
    Silent,
    /// So many ohms, the leads' own taken off.
    Ohms(f64),
    /// It was not tried.
    Skipped,
}

impl Heard {
    /// Is it, as far as it goes, what a closed contact gives?
    pub fn is_contact(self) -> bool {
        match self {
            Heard::Beep => true,
            Heard::Ohms(ohms) => ohms <= CONTACT,
            Heard::Silent | Heard::Skipped => false,
        }
    }

    /// Ohms of something that is no contact.
    pub fn load(self) -> Option<f64> {
        match self {
            Heard::Ohms(ohms) if ohms > CONTACT => Some(ohms),
            _ => None,
        }
    }
}

/// A touch that was made.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen {
    /// The touch.
    pub touch: Touch,
    /// What came of it.
    pub heard: Heard,
}
