//! What has to be said before the first touch: plug or loose wires, their colours, the positions, what has to be held.

use super::plug::{self, View};
use crate::text::words::nearest;

/// Wires at most: with more, nobody counts touches any more.
pub const MOST_WIRES: usize = 40;
/// Positions at most.
pub const MOST_POSITIONS: usize = 24;

/// A question before the first touch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Key {
    /// Is it a plug? Its ways by rows.
    Plug,
    /// From which side, which way up?
    Seen,
    /// Colours.
    Wires,
    /// Positions, at rest first.
    Positions,
    /// Which of them spring back?
    Held,
    /// Off the machine, no battery in its circuit?
    Safe,
    /// What do the tips show on each other?
    Tips,
}

/// All of them in the order in which they are asked.
const ORDER: [Key; 7] = [Key::Plug, Key::Seen, Key::Wires, Key::Positions, Key::Held, Key::Safe, Key::Tips];

impl Key {
    /// The word for scripts and journals.
    pub fn word(self) -> &'static str {
        match self {
            Key::Plug => "plug",
            Key::Seen => "seen",
            Key::Wires => "wires",
            Key::Positions => "positions",
            Key::Held => "held",
            Key::Safe => "safe",
            Key::Tips => "tips",
        }
    }

    /// The key of a word.
    pub fn of(word: &str) -> Option<Key> {
        ORDER.into_iter().find(|key| key.word() == word)
    }
}

/// One position.
#[derive(Clone, Debug, PartialEq)]
pub struct Position {
    /// Its name.
    pub name: String,
    /// It springs back: a hand has to hold it.
    pub held: bool,
    /// Nothing is switched on in it.
    pub rest: bool,
}

/// What was said so far.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Setup {
    answered: Vec<Key>,
    /// Ways in each row of a plug, as the person sees it.
    pub rows: Vec<usize>,
    /// How the person looks at it.
    pub view: View,
    /// Names of the wires, in the order said.
    pub wires: Vec<String>,
    /// The way of each wire in the order in which the person counts.
    pub cells: Vec<usize>,
    /// The positions.
    pub positions: Vec<Position>,
    /// Ohms of the leads.
    pub leads: f64,
}

/// A question.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    /// What it is about.
    pub key: Key,
    /// The question.
    pub text: String,
    /// What Enter means; nothing if there has to be an answer.
    pub default: Option<String>,
}

impl Setup {
    /// The next question.
    pub fn ask(&self) -> Option<Question> {
        let open = |key: &Key| !self.answered.contains(key) && (*key != Key::Seen || !self.rows.is_empty());
        let key = ORDER.into_iter().find(open)?;
        let (text, default) = match key {
            Key::Plug => (
                "Loose wires, or a plug? For a plug: ways in each row from the top, empty ones too (3, 3)".to_owned(),
                Some("loose wires"),
            ),
            Key::Seen => (
                "Seen from which side, and is the latch up or down? (wire side, up) MIRROR: at the mating face left and right \
                 are exchanged; ways are kept as seen from the wire side, latch up"
                    .to_owned(),
                None,
            ),
            Key::Wires if self.rows.is_empty() => ("Colours of its wires (white, brown, blue/red)".to_owned(), None),
            Key::Wires => (
                format!(
                    "Colours of its {} ways, as you see them: from left to right, top row first, - for an empty one",
                    self.ways()
                ),
                None,
            ),
            Key::Positions => ("Its positions, at rest first (off, on, start)".to_owned(), Some("as it is")),
            Key::Held => {
                let held: Vec<&str> = self.positions.iter().filter(|p| p.held).map(|p| p.name.as_str()).collect();
                let text = "Which of them spring back and have to be held?".to_owned();
                return Some(Question {
                    key,
                    text,
                    default: Some(if held.is_empty() { "none".into() } else { held.join(", ") }),
                });
            }
            Key::Safe => (
                "CAUTION  Only on a part that is off the machine: unplugged, no battery in its circuit, never on a live \
                 wire; airbag and ignition-coil plugs not at all. Is it so? (yes)"
                    .to_owned(),
                None,
            ),
            Key::Tips => ("Meter on the beeper. Touch the tips together: what does it show?".to_owned(), Some("beep")),
        };
        Some(Question { key, text, default: default.map(str::to_owned) })
    }

    fn ways(&self) -> usize {
        self.rows.iter().sum()
    }

    /// Was this said?
    pub fn has(&self, key: Key) -> bool {
        self.answered.contains(&key)
    }

    /// Takes an answer.
    ///
    /// # Errors
    ///
    /// What is wrong with it, and a way out.
    pub fn answer(&mut self, key: Key, text: &str) -> Result<(), String> {
        let text = text.trim();
        match key {
            Key::Plug => self.rows = plug::rows(text, MOST_WIRES)?,
            Key::Seen => self.view = View::read(text)?,
            Key::Wires => self.wires(text)?,
            Key::Positions => self.positions = positions(text)?,
            Key::Held => self.held(text)?,
            Key::Safe => match text.to_lowercase().as_str() {
                "yes" | "y" | "ok" | "it is" => {}
                _ => return Err("Make it so first, then say yes. `stop` ends here".into()),
            },
            Key::Tips => self.leads = tips(text)?,
        }
        self.answered.push(key);
        Ok(())
    }

    fn wires(&mut self, text: &str) -> Result<(), String> {
        let pieces: Vec<&str> = text.split([',', ';']).map(str::trim).collect();
        let (mut names, mut cells): (Vec<String>, Vec<usize>) = (Vec::new(), Vec::new());
        let mut problems: Vec<String> = Vec::new();
        for (cell, piece) in pieces.iter().enumerate() {
            if matches!(*piece, "-" | "." | "empty" | "none") {
                continue;
            }
            if piece.is_empty() {
                problems.push(format!("wire {} has no name: give its colour, or its number", cell + 1));
                continue;
            }
            // What names a pin in the wiring file.
            let plain = piece.replace(['/', ' '], "-");
            let fits = plain.starts_with(|c: char| c.is_ascii_alphanumeric())
                && plain.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
                && plain.len() <= 40;
            if !fits {
                problems.push(format!("\"{piece:.40}\" is no name for a wire: letters, digits, / and -"));
                continue;
            }
            let taken = |name: &str, names: &[String]| {
                let plain = |text: &str| text.replace(['/', ' '], "-").to_lowercase();
                names.iter().any(|other| plain(other) == plain(name))
            };
            // Two alike keep their colour, the second with a number behind it.
            let mut name = (*piece).to_owned();
            let mut count = 2;
            while taken(&name, &names) {
                name = format!("{piece}-{count}");
                count += 1;
            }
            names.push(name);
            cells.push(cell);
        }
        if names.len() < 2 && problems.is_empty() {
            problems.push("two wires at least: white, brown".into());
        }
        if names.len() > MOST_WIRES {
            problems.push(format!("{} wires: {MOST_WIRES} at most; take it plug by plug", names.len()));
        }
        if !self.rows.is_empty() && pieces.len() != self.ways() {
            problems.push(format!("{} colours for {} ways: - for an empty way", pieces.len(), self.ways()));
        }
        if !problems.is_empty() {
            return Err(problems.join("; "));
        }
        (self.wires, self.cells) = (names, cells);
        Ok(())
    }

    fn held(&mut self, text: &str) -> Result<(), String> {
        if matches!(text.to_lowercase().as_str(), "none" | "no" | "-") {
            self.positions.iter_mut().for_each(|position| position.held = false);
            return Ok(());
        }
        let mut held = vec![false; self.positions.len()];
        for word in text.split([',', ';']).map(str::trim).filter(|word| !word.is_empty()) {
            match self.positions.iter().position(|position| position.name.eq_ignore_ascii_case(word)) {
                Some(at) => held[at] = true,
                None => {
                    let near = nearest(word, self.positions.iter().map(|p| p.name.as_str()));
                    let near = near.map_or_else(|| "or none".to_owned(), |near| format!("nearest: {near}"));
                    return Err(format!("there is no position \"{word:.40}\"; {near}"));
                }
            }
        }
        self.positions.iter_mut().zip(held).for_each(|(position, held)| position.held = held);
        Ok(())
    }
}

/// `off, on, start*`: a star, or (held), behind what springs back.
fn positions(text: &str) -> Result<Vec<Position>, String> {
    if text.eq_ignore_ascii_case("as it is") {
        return Ok(vec![Position { name: "as-it-is".into(), held: false, rest: false }]);
    }
    let mut out: Vec<Position> = Vec::new();
    let mut problems: Vec<String> = Vec::new();
    let words = super::guess::Words::builtin();
    for piece in text.split([',', ';']).map(str::trim).filter(|piece| !piece.is_empty()) {
        let starred =
            piece.strip_suffix('*').or_else(|| piece.strip_suffix("(held)")).or_else(|| piece.strip_suffix("held"));
        let name = starred.unwrap_or(piece).trim();
        let fits = name.starts_with(|c: char| c.is_ascii_alphanumeric())
            && name.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b' ' | b'+' | b'/'))
            && name.len() <= 30;
        if !fits || name.eq_ignore_ascii_case("wires") {
            problems.push(format!("\"{piece:.40}\" is no name for a position: letters, digits and -"));
        } else if out.iter().any(|other| other.name.eq_ignore_ascii_case(name)) {
            problems.push(format!("\"{name}\" stands there twice"));
        } else {
            let held = starred.is_some() || words.springs(name);
            out.push(Position { name: name.to_owned(), held, rest: words.rests(name) });
        }
    }
    if out.is_empty() && problems.is_empty() {
        problems.push("one position at least: off, on".into());
    }
    if out.len() > MOST_POSITIONS {
        problems.push(format!("{} positions: {MOST_POSITIONS} at most", out.len()));
    }
    if problems.is_empty() { Ok(out) } else { Err(problems.join("; ")) }
}

/// What the tips show on each other: ohms to take off.
fn tips(text: &str) -> Result<f64, String> {
    use super::touch::{BEEP, Heard};
    match super::said::read(text, &[], 0.0)? {
        super::said::Said::Heard(Heard::Beep) => Ok(LEADS),
        super::said::Said::Heard(Heard::Ohms(ohms)) if ohms <= BEEP / 10.0 => Ok(ohms),
        super::said::Said::Heard(_) => {
            Err("then every wire would seem open: look at the range, the sockets, the leads, the meter's battery"
                .into())
        }
        _ => Err("beep, or the ohms shown: 0.2".into()),
    }
}

/// Ohms of leads that nobody has read (0.1 to 0.2 in users' manuals of meters; see `rules/procedures.yaml`).
const LEADS: f64 = 0.2;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wires_keep_their_colours_and_all_that_is_wrong_is_said() {
        let mut setup = Setup::default();
        setup.answer(Key::Wires, "black, brown/white, Black, black").unwrap();
        assert_eq!(setup.wires, ["black", "brown/white", "Black-2", "black-3"]);
        let why = Setup::default().answer(Key::Wires, "red, , b%e").unwrap_err();
        assert!(why.contains("wire 2") && why.contains("b%e"), "{why}");
        assert!(Setup::default().answer(Key::Wires, "red").is_err());
    }

    #[test]
    fn a_plug_says_how_many_there_are() {
        let mut setup = Setup::default();
        setup.answer(Key::Plug, "2, 2").unwrap();
        assert_eq!(setup.ask().unwrap().key, Key::Seen);
        assert!(setup.answer(Key::Wires, "red, blue, grey").unwrap_err().contains("3 colours for 4 ways"));
        setup.answer(Key::Wires, "red, -, blue, grey").unwrap();
        assert_eq!(setup.cells, [0, 2, 3]);
    }

    #[test]
    fn what_springs_back_is_guessed_and_can_be_corrected() {
        let mut setup = Setup::default();
        setup.answer(Key::Positions, "off, on, start, flash*").unwrap();
        assert_eq!(setup.positions.iter().map(|p| p.held).collect::<Vec<_>>(), [false, false, true, true]);
        assert!(setup.positions[0].rest && !setup.positions[1].rest);
        assert!(setup.answer(Key::Held, "strat").unwrap_err().contains("nearest: start"));
        setup.answer(Key::Held, "none").unwrap();
        assert!(setup.positions.iter().all(|p| !p.held));
        assert!(setup.answer(Key::Positions, "off, wires, off, a:b").unwrap_err().matches(';').count() == 2);
    }

    #[test]
    fn a_meter_that_does_not_beep_is_mended_first() {
        assert!(Setup::default().answer(Key::Tips, "silent").unwrap_err().contains("leads"));
        assert!(Setup::default().answer(Key::Tips, "80").is_err());
        let mut setup = Setup::default();
        setup.answer(Key::Tips, "0.3").unwrap();
        assert_eq!(setup.leads, 0.3);
    }
}
