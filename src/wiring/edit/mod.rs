//! Changing a wiring file as text: rows are added and taken out, comments and layout of the rest stay.
//!
//! A [`Draft`] is a file that checks. Changes are made on a copy, which has to check as well; else nothing is
//! changed and every problem is told. A draft is text and nothing else, so undoing is keeping the one before.
//!
//! ```
//! use ohmward::{catalogue::Catalogue, text::span::Source, wiring::edit::{Change, Draft}};
//! let text = "places: {dash: easy}\nparts:\n  horn: horn, 4 A, dash   # loud\ngrounds:\n  G1: dash, [horn.ground]\n";
//! let rules = Catalogue::builtin();
//! let draft = Draft::new(Source::new("wiring.yaml", text), &rules).unwrap();
//! let more = draft.with(&[Change::row("parts", "lamp: lamp, 5 W, dash"), Change::item("grounds", "G1", "lamp.ground")]);
//! let more = more.unwrap();
//! assert!(more.text().contains("horn: horn, 4 A, dash   # loud\n  lamp: lamp, 5 W, dash\n"));
//! let less = more.without(&["horn".into()].into_iter().collect()).unwrap();
//! assert!(less.text().ends_with("  lamp: lamp, 5 W, dash\ngrounds:\n  G1: dash, [lamp.ground]\n"));
//! ```

mod added;
mod hang;
mod joined;
mod lengthen;
mod line;
mod named;
mod pen;
mod put;
mod remove;
mod renamed;
mod rows;

pub use added::Addition;
pub use hang::{Fallen, fallen};
pub use lengthen::{Longer, LongerSite};
pub(super) use line::merged;
pub use named::{Named, named};
pub use pen::{JOINED, Offence, Pen, VERBS, Written, new_warnings, words};

use super::{Reading, read_on};
use crate::catalogue::Catalogue;
use crate::netlist::Netlist;
use crate::text::problem::Problem;
use crate::text::span::Source;
use crate::text::yaml;
use indexmap::IndexSet;

/// A change of a file.
#[derive(Clone, Debug, PartialEq)]
pub enum Change {
    /// A row at the end of a section: `horn: horn, 4 A, nose`, or of `wires`, `a.b to c.d, red`.
    Row {
        /// the section
        section: String,
        /// the row, without indentation or dash
        row: String,
    },
    /// One more item of a list: under a ground point, on a feed, in a loom, or (no owner) of `recent-work`.
    Item {
        /// the section
        section: String,
        /// whose list
        owner: Option<String>,
        /// the item
        item: String,
    },
    /// A row of a plug: `4, grey, white, turn.right, lamp.feed, ?`.
    Way {
        /// the plug
        plug: String,
        /// the row, without dash
        row: String,
    },
    /// A named row out of its section, and nothing with it.
    Drop {
        /// the section
        section: String,
        /// the row's name
        name: String,
    },
    /// A wire's row or list item, by the wire's name, and nothing with it.
    DropWire(String),
    /// A part out, its wires joined in a sleeve.
    Join(String),
    /// A named row written anew behind its name.
    Put {
        /// the section
        section: String,
        /// the row's name
        name: String,
        /// what stands behind the colon
        row: String,
    },
    /// A key of a row in long form, or of a plug (`is`, `a`, `b`).
    Set {
        /// the section
        section: String,
        /// the row's name
        name: String,
        /// the key
        key: String,
        /// what stands behind the colon
        value: String,
    },
    /// A section that is one text: `machine`.
    Top {
        /// the section
        section: String,
        /// what stands behind the colon
        value: String,
    },
    /// A wire's row written anew, by the wire's name: `a.b to c.d, red, 1 m`.
    PutWire {
        /// the wire
        wire: String,
        /// the row, without its name
        row: String,
    },
    /// A plug's row written anew.
    PutWay {
        /// the plug
        plug: String,
        /// the way
        way: String,
        /// the row, without dash
        row: String,
    },
}

impl Change {
    /// A row at the end of a section.
    pub fn row(section: &str, row: impl Into<String>) -> Change {
        Change::Row { section: section.into(), row: row.into() }
    }

    /// One more item of somebody's list.
    pub fn item(section: &str, owner: &str, item: impl Into<String>) -> Change {
        Change::Item { section: section.into(), owner: Some(owner.into()), item: item.into() }
    }
}

/// Why a change was not made: the file as it would have been, and what would be wrong with it.
#[derive(Clone, Debug)]
pub struct Refusal {
    /// The text that the problems speak of.
    pub source: Source,
    /// Every one of them.
    pub problems: Vec<Problem>,
}

impl Refusal {
    fn one(source: &Source, problem: Problem) -> Box<Refusal> {
        Box::new(Refusal { source: source.clone(), problems: vec![problem] })
    }
}

/// A wiring file, to be changed. Made with [`Draft::new`] it checks; made with [`Draft::open`] it may have problems, but
/// no change makes it have more.
#[derive(Clone, Debug)]
pub struct Draft<'c> {
    source: Source,
    reading: Reading,
    problems: Vec<Problem>,
    catalogue: &'c Catalogue,
}

impl<'c> Draft<'c> {
    /// A draft of this file.
    ///
    /// # Errors
    ///
    /// Every problem of a file that does not check.
    pub fn new(source: Source, catalogue: &'c Catalogue) -> Result<Draft<'c>, Box<Refusal>> {
        let draft = Draft::open(source, catalogue)?;
        if draft.problems.is_empty() {
            return Ok(draft);
        }
        Err(Box::new(Refusal { source: draft.source, problems: draft.problems }))
    }

    /// A draft of a file that need not check yet.
    ///
    /// # Errors
    ///
    /// What keeps it from being read at all.
    pub fn open(source: Source, catalogue: &'c Catalogue) -> Result<Draft<'c>, Box<Refusal>> {
        match read_on(&source, catalogue) {
            Ok((reading, problems)) => Ok(Draft { source, reading, problems, catalogue }),
            Err(problem) => Err(Box::new(Refusal { source, problems: vec![problem] })),
        }
    }

    /// What is wrong with the file.
    pub fn problems(&self) -> &[Problem] {
        &self.problems
    }

    /// What is odd in the file and can be lived with.
    pub fn warnings(&self) -> &[Problem] {
        &self.reading.warnings
    }

    /// The text that problems and warnings speak of.
    pub fn source(&self) -> &Source {
        &self.source
    }

    /// This draft as what came of another, unless it has problems that the other had not.
    fn after(self, before: &Draft) -> Result<Draft<'c>, Box<Refusal>> {
        let problems = news(&self.problems, &before.problems);
        if problems.is_empty() {
            return Ok(self);
        }
        Err(Box::new(Refusal { source: self.source, problems }))
    }

    /// The file.
    pub fn text(&self) -> &str {
        &self.source.text
    }

    /// What stands in it.
    pub fn netlist(&self) -> &Netlist {
        &self.reading.netlist
    }

    /// The rules in force.
    pub fn catalogue(&self) -> &'c Catalogue {
        self.catalogue
    }

    /// The file with all of these changes, or with none.
    ///
    /// # Errors
    ///
    /// What would be wrong with the changed file.
    pub fn with(&self, changes: &[Change]) -> Result<Draft<'c>, Box<Refusal>> {
        self.changed(changes)?.after(self)
    }

    /// As [`Draft::with`], whatever comes of it.
    fn changed(&self, changes: &[Change]) -> Result<Draft<'c>, Box<Refusal>> {
        let mut source = self.source.clone();
        for change in changes {
            self.change(&mut source, change)?;
        }
        Draft::open(source, self.catalogue)
    }

    fn change(&self, source: &mut Source, change: &Change) -> Result<(), Box<Refusal>> {
        let tree = yaml::parse(source).map_err(|problem| Refusal::one(source, problem))?;
        let done = match change {
            Change::Row { section, row } => {
                rows::add_row(&mut source.text, &tree, section, row);
                Ok(())
            }
            Change::Item { section, owner, item } => {
                rows::add_item(&mut source.text, &tree, section, owner.as_deref(), item)
            }
            Change::Way { plug, row } => rows::add_way(&mut source.text, &tree, plug, row),
            Change::Drop { section, name } => remove::row(source, &tree, section, name),
            Change::DropWire(wire) => remove::wire(source, &tree, self.catalogue, wire),
            Change::Join(part) => joined::join(source, &tree, self.catalogue, part),
            Change::Put { section, name, row } => put::row(&mut source.text, &tree, section, name, row),
            Change::Set { section, name, key, value } => put::key(&mut source.text, &tree, [section, name, key], value),
            Change::Top { section, value } => {
                put::top(&mut source.text, &tree, section, value);
                Ok(())
            }
            Change::PutWire { wire, row } => put::wire(source, &tree, self.catalogue, wire, row),
            Change::PutWay { plug, way, row } => put::way(&mut source.text, &tree, plug, way, row),
        };
        done.map_err(|problem| Refusal::one(source, problem))
    }

    /// As [`Draft::changed`], for a look at what would be there; `None` if nothing could be read.
    pub(super) fn changed_anyhow(&self, changes: &[Change]) -> Option<Draft<'c>> {
        self.changed(changes).ok()
    }

    /// The file without these parts and all that hangs on them: rows, ways, list items, tables, names in looms.
    ///
    /// # Errors
    ///
    /// What would be wrong with the file without them.
    pub fn without(&self, parts: &IndexSet<String>) -> Result<Draft<'c>, Box<Refusal>> {
        self.cut(&fallen(self.netlist(), self.catalogue, parts))?.after(self)
    }

    /// The file without all of this, whatever comes of it.
    fn cut(&self, gone: &Fallen) -> Result<Draft<'c>, Box<Refusal>> {
        let source = remove::fallen(&self.source, self.netlist(), self.catalogue, gone)
            .map_err(|problem| Refusal::one(&self.source, problem))?;
        Draft::open(source, self.catalogue)
    }

    /// The file without what a phrase names: a part, a circuit in plain words, a kind; or, with `, joined` behind it,
    /// with the two wires of a part joined in its place. Also returns what went.
    ///
    /// # Errors
    ///
    /// Nothing is called so; something else lives by it that was not named; or the rest would not check.
    pub fn without_named(&self, phrase: &str) -> Result<(Draft<'c>, Fallen), Box<Refusal>> {
        let one = |problem: Problem| Refusal::one(&self.source, problem);
        let (phrase, joined) = match phrase.rsplit_once([',', ' ']) {
            Some((head, "joined")) => (head.trim_end_matches(','), true),
            _ => (phrase, false),
        };
        let named = named(self.netlist(), self.catalogue, phrase).map_err(one)?;
        if joined && named.parts.len() > 1 {
            let help = "one at a time: only the wires of one switch belong together";
            return Err(one(Problem::whole(format!("\"{phrase}\" is {} parts", named.parts.len())).help(help)));
        }
        if joined {
            let changes: Vec<Change> = named.parts.iter().cloned().map(Change::Join).collect();
            return Ok((self.with(&changes)?, Fallen { parts: named.parts, ..Fallen::default() }));
        }
        let gone = fallen(self.netlist(), self.catalogue, &named.parts);
        if let Some(problem) = self.lives_by(&named, &gone) {
            return Err(one(problem));
        }
        Ok((self.without(&named.parts)?, gone))
    }

    /// Something that is there for its own sake and would go unasked.
    fn lives_by(&self, named: &Named, gone: &Fallen) -> Option<Problem> {
        let load = |part: &&String| {
            !named.parts.contains(*part) && hang::is_wanted(self.netlist(), self.catalogue, part, gone)
        };
        let others: Vec<&str> = gone.parts.iter().filter(load).map(String::as_str).collect();
        let name = named.parts.first().filter(|_| !named.circuit && !others.is_empty())?;
        let two = joined::can_be_joined(self.netlist(), self.catalogue, name);
        let joined = if two { format!("; if its two wires are joined: \"{name}, joined\"") } else { String::new() };
        let says = format!("{} would be left without current if {name} went", others.join(", "));
        Some(Problem::whole(says).help(format!("if that is gone too, say so first: \"{}\"{joined}", others[0])))
    }
}

/// Problems or warnings that were not there before. Lines may have moved meanwhile, so they do not count.
pub fn news(now: &[Problem], before: &[Problem]) -> Vec<Problem> {
    let told = |problem: &Problem| {
        let words = problem.text.split(' ').filter(|word| !word.bytes().all(|b| b.is_ascii_digit()));
        words.collect::<Vec<_>>().join(" ")
    };
    let mut known: Vec<String> = before.iter().map(told).collect();
    let new = |problem: &&Problem| match known.iter().position(|known| *known == told(problem)) {
        Some(at) => {
            known.swap_remove(at);
            false
        }
        None => true,
    };
    now.iter().filter(new).cloned().collect()
}

/// Has a section a row of this name?
pub(super) fn has_row(tree: &yaml::Node, section: &str, name: &str) -> bool {
    rows::named(tree, section, name).is_ok()
}
