//! Lines in the file's own short form, taken one by one or a block at once: rows added, changed, taken out.
//!
//! A [`Pen`] remembers what lines before have begun (a section's heading, a plug whose rows follow) and nothing else.
//!
//! ```
//! use ohmward::{catalogue::Catalogue, text::span::Source, wiring::edit::{Draft, Pen}};
//! let rules = Catalogue::builtin();
//! let text = "places: {dash: easy}\nparts:\n  horn: horn, 4 A, dash\ngrounds:\n  G1: dash, [horn.ground]\n";
//! let draft = Draft::new(Source::new("wiring.yaml", text), &rules).unwrap();
//! let mut pen = Pen::default();
//! let more = pen.write(&draft, "lamp: lamp, 5 W, dash\nlamp.ground to G1, black").unwrap().draft;
//! assert!(more.text().contains("  lamp: lamp, 5 W, dash\n") && more.text().contains("  - lamp.ground to G1, black\n"));
//! let less = pen.write(&more, "remove lamp").unwrap().draft;
//! assert_eq!(less.text().trim_end(), text.trim_end());
//! let offences = pen.write(&draft, "horn.grnd to G1").unwrap_err();
//! assert!(offences[0].refusal.problems[0].help.as_ref().unwrap().contains("ground"));
//! ```

mod add;
mod change;
mod offers;
mod out;

pub use offers::words;
pub use out::JOINED;

use super::line::{comment, named, sound};
use super::{Change, Draft, Refusal, news};
use crate::text::problem::Problem;
use crate::text::words::nearest;

/// Words that a line may begin with, how each is used, and what it does.
pub const VERBS: [(&str, &str, &str); 3] = [
    ("change", "change W7: beep", "a row written anew, or some of its fields: change W7: horn.ground to G2, black"),
    (
        "remove",
        "remove P9.4",
        "a part with its wires, a wire, a way, a plug, a ground, a circuit (remove turn signals)",
    ),
    ("plug", "plug P9", "a plug; its rows follow, one a line, or pasted at once"),
];

/// Other spellings of the verbs.
const ALIASES: [(&str, &str); 4] = [("delete", "remove"), ("drop", "remove"), ("replace", "change"), ("set", "change")];

/// Sections by the words that people write before a row of them.
const SECTIONS: [(&str, &str); 13] = [
    ("part", "parts"),
    ("wire", "wires"),
    ("ground", "grounds"),
    ("feed", "feeds"),
    ("plug", "plugs"),
    ("switch", "switches"),
    ("sleeve", "sleeves"),
    ("run", "runs"),
    ("loom", "looms"),
    ("place", "places"),
    ("colour", "colours"),
    ("chassis", "chassis"),
    ("bench", "bench"),
];

/// What lines before have begun.
#[derive(Clone, Debug, Default)]
pub struct Pen {
    heading: Option<&'static str>,
    held: Option<Held>,
    /// Comments that stand above the next row.
    above: Vec<String>,
}

/// A row of several lines that is being written.
#[derive(Clone, Debug)]
struct Held {
    section: &'static str,
    name: String,
    /// Its keys, until it can stand in the file.
    lines: Vec<String>,
    written: bool,
}

/// A file with lines taken.
#[derive(Clone, Debug)]
pub struct Written<'c> {
    /// The file now.
    pub draft: Draft<'c>,
    /// What follows from it and should be known.
    pub notes: Vec<String>,
}

/// A line that was not taken, and why.
#[derive(Clone, Debug)]
pub struct Offence {
    /// The line as it was typed; empty where the lines only together make a problem.
    pub line: String,
    /// What is wrong with it.
    pub refusal: Box<Refusal>,
}

/// The file after one line.
type Taken<'c> = Result<Written<'c>, Box<Refusal>>;

impl Pen {
    /// Takes a line, or several together: all of them, or none.
    ///
    /// # Errors
    ///
    /// Every problem of every line; nothing is changed then.
    pub fn write<'c>(&mut self, draft: &Draft<'c>, text: &str) -> Result<Written<'c>, Vec<Offence>> {
        let mut pen = self.clone();
        let mut now = Written { draft: draft.clone(), notes: Vec::new() };
        let mut offences = Vec::new();
        for line in text.lines() {
            match pen.line(&now.draft, line) {
                Ok(next) => {
                    now.draft = next.draft;
                    now.notes.extend(next.notes);
                }
                Err(refusal) => offences.push(Offence { line: line.trim().to_owned(), refusal }),
            }
        }
        match now.draft.after(draft) {
            Ok(done) if offences.is_empty() => {
                *self = pen;
                Ok(Written { draft: done, notes: now.notes })
            }
            Ok(_) => Err(offences),
            Err(refusal) => {
                let line = if text.trim().lines().count() > 1 { "" } else { text.trim() };
                offences.push(Offence { line: line.to_owned(), refusal });
                Err(offences)
            }
        }
    }

    /// The plug, switch or the like whose lines are expected, and whether it stands in the file yet.
    pub fn open(&self) -> Option<(&str, bool)> {
        self.held.as_ref().map(|held| (held.name.as_str(), held.written))
    }

    fn line<'c>(&mut self, draft: &Draft<'c>, typed: &str) -> Taken<'c> {
        let same = || Ok(Written { draft: draft.clone(), notes: Vec::new() });
        // Cells of a spreadsheet come with tabs between them.
        let line = typed.trim().replace('\t', ", ");
        let one = |problem: Problem| Refusal::one(&draft.source, problem);
        if line.is_empty() {
            return same();
        }
        if line.starts_with('#') {
            sound(&line).map_err(one)?;
            self.above.push(line);
            return same();
        }
        sound(&line).map_err(one)?;
        let (row, dashed) = match line.strip_prefix("- ") {
            Some(row) => (row.trim(), true),
            None => (line.as_str(), false),
        };
        let (word, rest) = row.split_once(' ').map_or((row, ""), |(word, rest)| (word, rest.trim()));
        let verb = word.to_lowercase();
        let verb = ALIASES.iter().find(|(alias, _)| *alias == verb).map_or(verb.as_str(), |(_, verb)| *verb);
        let lacks =
            |usage: &str| Err(one(Problem::whole(format!("{word} what?")).help(format!("for example: {usage}"))));
        if !dashed {
            match (verb, rest.is_empty()) {
                ("remove" | "change", true) => {
                    let usage = VERBS.iter().find(|row| row.0 == verb).map_or("", |row| row.1);
                    return lacks(usage);
                }
                ("remove", false) => return out::remove(draft, comment(rest).0),
                ("change", false) => return change::change(draft, rest),
                ("machine", false) | ("machine:", false) => {
                    let changes = [Change::Top { section: "machine".into(), value: rest.to_owned() }];
                    return Ok(Written { draft: draft.changed(&changes)?, notes: Vec::new() });
                }
                ("recent-work" | "recent-work:", false) => {
                    let item =
                        |item: &str| Change::Item { section: "recent-work".into(), owner: None, item: item.into() };
                    let items: Vec<Change> =
                        rest.trim_matches(['[', ']']).split(',').map(|name| item(name.trim())).collect();
                    return Ok(Written { draft: draft.changed(&items)?, notes: Vec::new() });
                }
                _ => {}
            }
            if let Some(section) = heading(row) {
                self.heading = Some(section);
                self.held = None;
                return same();
            }
        }
        let said = section_of(word).filter(|_| !rest.is_empty() && !dashed);
        if let (Some("plugs"), None) = (said, named(rest)) {
            self.begin(draft, "plugs", comment(rest).0)?;
            return same();
        }
        self.row(draft, said, if said.is_some() { rest } else { row }, dashed)
    }

    /// Begins a row of several lines.
    fn begin(&mut self, draft: &Draft, section: &'static str, name: &str) -> Result<(), Box<Refusal>> {
        if !super::super::fields::is_name(name) {
            let problem = Problem::whole(format!("\"{name}\" is no name"))
                .help("a name is letters, digits, - and _, and begins with a letter or a digit");
            return Err(Refusal::one(&draft.source, problem));
        }
        let known = draft.netlist().plugs.keys().find(|known| section == "plugs" && known.eq_ignore_ascii_case(name));
        self.held = Some(Held {
            section,
            name: known.map_or_else(|| name.to_owned(), Clone::clone),
            lines: Vec::new(),
            written: known.is_some(),
        });
        Ok(())
    }
}

/// A heading alone on its line: `wires:`.
fn heading(row: &str) -> Option<&'static str> {
    let name = row.strip_suffix(':')?;
    SECTIONS.iter().find(|(_, section)| section.eq_ignore_ascii_case(name)).map(|(_, section)| *section)
}

/// The section that a word before a row names.
fn section_of(word: &str) -> Option<&'static str> {
    let is = |one: &str, many: &str| word.eq_ignore_ascii_case(one) || word.eq_ignore_ascii_case(many);
    SECTIONS.iter().find(|(one, many)| is(one, many)).map(|(_, section)| *section)
}

/// Something that nothing is called.
fn stranger(draft: &Draft, name: &str) -> Box<Refusal> {
    let net = draft.netlist();
    let known = net.parts.keys().chain(net.wires.keys()).chain(net.plugs.keys()).chain(net.grounds.keys());
    let known = known.chain(net.sleeves.keys()).chain(net.places.keys()).chain(net.looms.keys());
    let problem = Problem::whole(format!("nothing here is called \"{name}\""));
    Refusal::one(
        &draft.source,
        match nearest(name, known.map(String::as_str)) {
            Some(near) => problem.help(format!("nearest: {near}")),
            None => problem.help("show lists what there is"),
        },
    )
}

/// Warnings of a draft that another had not.
pub fn new_warnings(now: &Draft, before: &Draft) -> Vec<Problem> {
    news(now.warnings(), before.warnings())
}
