//! Ends as people write them: `horn.feed`, `Horn +`, `Main fuse`, `Ground`.
//!
//! A part that the file has not yet gets the kind that its name says (`left head lamp`), else it is an unknown module, as
//! long as its pins are that kind's; else somebody has to say what it is.

use super::cells::nothing;
use crate::catalogue::{Catalogue, Kind};
use crate::netlist::Netlist;
use crate::text::csv::Cell;
use crate::text::problem::Problem;
use crate::text::words::nearest;
use crate::wiring::fields::is_name;
use indexmap::IndexMap;

/// Pins that a wire comes to, the likeliest first.
const INTO: [&str; 6] = ["feed", "+", "15", "in", "a", "signal"];
/// Pins that a wire comes from.
const OUT_OF: [&str; 7] = ["out", "b", "pos", "output", "87", "load", "feed"];
/// Pins that go to the metal.
const GROUND: [&str; 5] = ["ground", "31", "-", "neg", "cathode"];
/// What nothing is known of.
const MODULE: &str = "unknown module";

/// Which end of its wire a cell is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Side {
    /// The far end.
    pub to: bool,
    /// The other end is ground.
    pub grounded: bool,
}

/// An end as the file names it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct End {
    pub point: String,
    pub assumed: Option<String>,
}

/// Names known so far, and parts that the sheet brings.
pub(super) struct Ends<'a> {
    pub net: &'a Netlist,
    pub catalogue: &'a Catalogue,
    /// Parts of the sheet's own, with the name of their kind.
    pub parts: IndexMap<String, String>,
    /// Plugs of the sheet's own.
    pub plugs: Vec<String>,
}

impl Ends<'_> {
    /// Is this the metal of the machine?
    pub fn is_ground(&self, text: &str) -> bool {
        let is = |word: &String| word.eq_ignore_ascii_case(text);
        let own = self.net.grounds.keys().chain(self.net.pieces.keys()).any(is);
        own || self.catalogue.columns.ground.iter().any(is)
    }

    /// The point that a cell means; `None` where it says that there is none.
    pub fn read(&mut self, cell: &Cell, pin: Option<&Cell>, side: Side) -> Result<Option<End>, Problem> {
        let text = cell.text.trim();
        let pin = pin.map(|pin| pin.text.trim()).filter(|pin| !pin.is_empty());
        if pin.is_none() && nothing(text, &self.catalogue.columns) {
            return Ok(None);
        }
        let own_pin = pin;
        let exact = |point: &str| Ok(Some(End { point: point.to_owned(), assumed: None }));
        if pin.is_none() && (self.net.point(text).is_some() || self.is_way(text)) {
            return exact(text);
        }
        let whole = slug(text);
        if pin.is_none() && self.net.point(&whole).is_some() {
            return exact(&whole);
        }
        if pin.is_none()
            && self.is_ground(text)
            && self.kind(&whole).is_none()
            && let Some(piece) = self.net.pieces.keys().next()
        {
            return Ok(Some(End { point: piece.clone(), assumed: Some(format!("{text} is {piece}")) }));
        }
        let cut = |sign: &[char]| text.rsplit_once(sign).map(|(head, tail)| (slug(head), tail.trim().to_owned()));
        let (name, pin) = match pin {
            Some(pin) => (whole, Some(pin.to_owned())),
            None => match cut(&['.', ':']) {
                Some((head, tail)) => (head, Some(tail)),
                None if self.kind(&whole).is_some() => (whole, None),
                None => match cut(&[' ']).filter(|(head, tail)| self.has_pin(head, tail) && self.is_pin(head, tail)) {
                    Some((head, tail)) => (head, Some(tail)),
                    None => (whole, None),
                },
            },
        };
        let guessed =
            pin.as_ref().is_some_and(|pin| !text.contains(['.', ':']) && is_number(pin) && text.ends_with(pin));
        if !is_name(&name) {
            let says = format!("\"{text}\" is no end of a wire");
            return Err(Problem::at(cell.span, says).help("write PART.PIN, a sleeve, a ground point, or nothing"));
        }
        let mut end = self.end(cell, &name, pin.as_deref(), side)?;
        if guessed && own_pin.is_none() {
            end.assumed = Some(format!("{text} is {}", end.point));
        }
        Ok(Some(end))
    }

    /// Is a word behind a blank a pin rather than a piece of the name? `relay 87` is one, `fuse 1` the first fuse,
    /// unless the file has a part called `fuse`.
    fn is_pin(&self, head: &str, tail: &str) -> bool {
        !is_number(tail) || tail.len() > 1 || self.net.parts.keys().any(|name| name.eq_ignore_ascii_case(head))
    }

    fn is_way(&self, text: &str) -> bool {
        let half = text.split_once('.').map(|(half, _)| half);
        half.is_some_and(|half| {
            self.plugs.iter().any(|plug| ["a", "b"].iter().any(|h| half.eq_ignore_ascii_case(&format!("{plug}{h}"))))
        })
    }

    /// Pins of a part that is known: of the file, or of the sheet.
    fn pins(&self, name: &str) -> Option<Vec<String>> {
        if let Some(part) = self.net.parts.values().find(|part| part.name.eq_ignore_ascii_case(name)) {
            return Some(part.pins.keys().cloned().collect());
        }
        Some(self.kind(name)?.pins.keys().cloned().collect())
    }

    fn kind(&self, name: &str) -> Option<&Kind> {
        let own =
            self.net.parts.values().find(|part| part.name.eq_ignore_ascii_case(name)).map(|part| part.kind.as_str());
        let new = self.parts.iter().find(|(known, _)| known.eq_ignore_ascii_case(name)).map(|(_, kind)| kind.as_str());
        self.catalogue.kind(own.or(new)?)
    }

    fn has_pin(&self, name: &str, pin: &str) -> bool {
        let own = self.net.point(&format!("{name}.{pin}")).is_some();
        own || self.kind(name).or_else(|| self.called(name)).is_some_and(|kind| pin_of(kind, pin).is_some())
    }

    /// The kind that a name says, its last words first: `left-head-lamp`.
    fn called(&self, name: &str) -> Option<&Kind> {
        let words = name.replace(['-', '_'], " ");
        let words = words.trim_end_matches(|c: char| c.is_ascii_digit() || c == ' ');
        let starts = std::iter::once(0).chain(words.match_indices(' ').map(|(at, _)| at + 1));
        let one = |words: &str| self.catalogue.kind(words).or_else(|| self.catalogue.kind(words.strip_suffix('s')?));
        starts.filter_map(|at| words.get(at..)).find_map(one)
    }

    fn end(&mut self, cell: &Cell, name: &str, pin: Option<&str>, side: Side) -> Result<End, Problem> {
        let known = self.pins(name);
        if known.is_none() {
            let module = self.catalogue.kind(MODULE);
            let fits = |kind: &&Kind| pin.is_none_or(|pin| pin_of(kind, pin).is_some());
            let kind = self.called(name).filter(fits).or_else(|| module.filter(fits)).map(|kind| kind.name.clone());
            let Some(kind) = kind else {
                let pin = pin.unwrap_or_default();
                let says = format!("{name} is not in the file, and what its pin \"{pin}\" does is not known");
                let help = format!(
                    "say what it is: ohmward wire \"{name}: KIND, PLACE\" (kinds: ohmward kinds), or as a row of the sheet: section part, name {name}, row KIND"
                );
                return Err(Problem::at(cell.span, says).help(help));
            };
            self.parts.insert(name.to_owned(), kind);
        }
        let own = self.net.parts.keys().chain(self.parts.keys()).find(|known| known.eq_ignore_ascii_case(name));
        let written = own.cloned().unwrap_or_else(|| name.to_owned());
        let pins = self.pins(name).unwrap_or_default();
        let kind = self.kind(name);
        let Some(pin) = pin else {
            let words: &[&str] = if side.grounded {
                &GROUND
            } else if side.to {
                &INTO
            } else {
                &OUT_OF
            };
            let likely =
                |word: &&&str| kind.and_then(|kind| pin_of(kind, word)).filter(|pin| pins.contains(pin)).is_some();
            let found = words.iter().find(likely).and_then(|word| pin_of(kind?, word));
            let found = found.or_else(|| pins.first().filter(|_| pins.len() == 1).cloned());
            return match found {
                Some(pin) => Ok(End {
                    point: format!("{written}.{pin}"),
                    assumed: Some(format!("{written} is {written}.{pin}")),
                }),
                None => {
                    let says = format!("which pin of {written}?");
                    Err(Problem::at(cell.span, says).help(format!("its pins: {}", pins.join(", "))))
                }
            };
        };
        // As written, if the file knows it so; a nickname is as good as the pin's name, a sign (`+`) is not.
        let point = format!("{written}.{pin}");
        let listed = pins.iter().any(|known| known.eq_ignore_ascii_case(pin));
        let nickname = kind.and_then(|kind| pin_of(kind, pin)).filter(|_| !listed);
        let written_so = is_name(pin) && self.net.point(&point).is_some();
        match (written_so || listed, nickname) {
            (true, _) => Ok(End { point, assumed: None }),
            (false, Some(pin)) if pins.contains(&pin) => Ok(End { point: format!("{written}.{pin}"), assumed: None }),
            _ => {
                let near = nearest(pin, pins.iter().map(String::as_str));
                let help =
                    near.map_or_else(|| format!("its pins: {}", pins.join(", ")), |near| format!("nearest: {near}"));
                Err(Problem::at(cell.span, format!("{written} has no pin \"{pin}\"")).help(help))
            }
        }
    }
}

fn is_number(word: &str) -> bool {
    !word.is_empty() && word.bytes().all(|b| b.is_ascii_digit())
}

fn pin_of(kind: &Kind, word: &str) -> Option<String> {
    let is = |known: &String| known.eq_ignore_ascii_case(word);
    kind.pins.iter().find(|(pin, also)| is(pin) || also.iter().any(is)).map(|(pin, _)| pin.clone())
}

/// A name of what somebody calls it.
pub(super) fn slug(text: &str) -> String {
    let clean = |c: char| if c.is_ascii_alphanumeric() || c == '_' { c } else { '-' };
    let dashed: String = text.trim().chars().map(clean).collect();
    dashed.split('-').filter(|piece| !piece.is_empty()).collect::<Vec<_>>().join("-")
}
