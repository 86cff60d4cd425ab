//! A wiring file at which lines are taken: each checked, written at once, and able to be taken back.

use super::history::{History, Undone};
use crate::cli::error::Failure;
use crate::cli::load;
use ohmward::catalogue::Catalogue;
use ohmward::text::diff::{self, Change};
use ohmward::text::problem::Problem;
use ohmward::text::span::Source;
use ohmward::wiring::edit::{Draft, Offence, Pen, Written, new_warnings, words};
use ohmward::wiring::sheet::{self, ColumnTold, Options, RowTold};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};

/// What a file that is not there yet begins with.
const BEGIN: &str = "machine: My machine\n";

/// Lines of a change that are shown; more are counted.
const SHOWN: usize = 16;

/// A wiring file, its rules, its steps, and what lines before have begun.
pub struct Desk {
    path: PathBuf,
    catalogue: Catalogue,
    history: History,
    pen: Pen,
    /// The file as this program knows it.
    text: Option<String>,
}

/// What a sheet came to.
pub struct Taken {
    /// What stands between its cells.
    pub separator: char,
    /// Its columns.
    pub columns: Vec<ColumnTold>,
    /// Its rows.
    pub rows: Vec<RowTold>,
    /// What follows from it and should be known.
    pub notes: Vec<String>,
    /// Did the file change?
    pub written: bool,
}

/// What a line came to.
#[derive(Default)]
pub struct Told {
    /// Did the file change?
    pub changed: bool,
    /// Was the line refused?
    pub refused: bool,
    /// For people.
    pub text: String,
    /// For scripts.
    pub json: Value,
}

impl Desk {
    /// The desk of this wiring file, which need not be there yet.
    pub fn at(path: &Path) -> Result<Desk, Failure> {
        let mut desk = Desk {
            path: path.to_path_buf(),
            catalogue: load::rules(path)?,
            history: History::beside(path),
            pen: Pen::default(),
            text: None,
        };
        desk.look()?;
        Ok(desk)
    }

    /// Reads the file again; true if somebody else has changed it.
    fn look(&mut self) -> Result<bool, Failure> {
        let now = if self.path.exists() { Some(load::text(&self.path)?.text) } else { None };
        let known = self.text.is_some();
        let changed = known && now != self.text;
        self.text = now;
        Ok(changed)
    }

    fn source(&self) -> Source {
        Source::new(self.path.display().to_string(), self.text.as_deref().unwrap_or(BEGIN))
    }

    /// The file now.
    pub fn text(&self) -> &str {
        self.text.as_deref().unwrap_or(BEGIN)
    }

    /// The plug or the like whose rows are expected.
    pub fn open(&self) -> Option<(&str, bool)> {
        self.pen.open()
    }

    /// Words for completion.
    pub fn offers(&self) -> Vec<String> {
        Draft::open(self.source(), &self.catalogue).map(|draft| words(&draft)).unwrap_or_default()
    }

    /// A line, or several together: all of them or none.
    pub fn take(&mut self, lines: &str) -> Result<Told, Failure> {
        let lock = self.history.lock()?;
        let before = self.look()?;
        let draft = Draft::open(self.source(), &self.catalogue)
            .map_err(|refusal| Failure::of(&refusal.source, refusal.problems))?;
        let mut pen = self.pen.clone();
        let told = match pen.write(&draft, lines) {
            Err(offences) => refused(&offences, lines),
            Ok(written) => {
                let after = written.draft.text().to_owned();
                let mut told = taken(&draft, &written, lines);
                if after != self.text() {
                    self.history.step(lines.trim(), self.text.as_deref(), &after)?;
                    if self.text.is_none() {
                        told.text = format!("{} is new\n{}", self.path.display(), told.text);
                    }
                    self.text = Some(after);
                }
                self.pen = pen;
                told
            }
        };
        drop(lock);
        Ok(with_note(told, before.then_some("(the file was changed by another hand meanwhile: it was read again)")))
    }

    /// A sheet, all of it or nothing; written unless it is only to be looked at. One step, as a line is.
    pub fn import(&mut self, sheet: &Source, options: &Options, look: bool) -> Result<Taken, Failure> {
        let _lock = if look { None } else { Some(self.history.lock()?) };
        self.look()?;
        let draft = Draft::open(self.source(), &self.catalogue)
            .map_err(|refusal| Failure::of(&refusal.source, refusal.problems))?;
        let taken = sheet::import(sheet, &draft, options).map_err(|problems| Failure::of(sheet, problems))?;
        let after = taken.draft.text().to_owned();
        let written = !look && self.text.as_deref() != Some(after.as_str());
        if written {
            self.history.step(&format!("import {}", sheet.name), self.text.as_deref(), &after)?;
        }
        let (separator, columns, rows) = (taken.separator, taken.columns, taken.rows);
        let notes = new_warnings(&taken.draft, &draft).into_iter().map(|warning| warning.text).collect();
        if written {
            self.text = Some(after);
        }
        Ok(Taken { separator, columns, rows, notes, written })
    }

    /// Takes the last step back.
    pub fn undo(&mut self, anyway: bool) -> Result<Told, Failure> {
        let _lock = self.history.lock()?;
        self.look()?;
        let before = self.text.clone();
        let undone = self.history.undo(before.as_deref(), anyway)?;
        self.pen = Pen::default();
        self.look()?;
        Ok(match undone {
            Undone::Step { did, from, to, kept } => {
                let changes = diff::lines(&from, &to);
                let kept = kept.map(|kept| format!("what was changed by hand is kept in {}", kept.display()));
                let mut text = format!("taken back: {}\n{}", did.replace('\n', "; "), shown(&changes));
                text.extend(kept.iter().map(|kept| format!("{kept}\n")));
                let json = json!({"undone": did, "lines": listed(&changes), "kept": kept});
                Told { changed: true, text, json, ..Told::default() }
            }
            Undone::Nothing => Told {
                refused: true,
                text: "there is nothing to take back\n".into(),
                json: json!({"undone": null, "problems": [{"line": "undo", "text": "there is nothing to take back", "help": null}]}),
                ..Told::default()
            },
            Undone::ByHand => {
                let text =
                    format!("{} was changed by hand since the last step: it is left as it is", self.path.display());
                let help = "undo anyway (ohmward wire --undo --anyway) goes back and keeps what was written by hand";
                Told {
                    refused: true,
                    json: json!({"undone": null, "problems": [{"line": "undo", "text": text, "help": help}]}),
                    text: format!("{text}\n    {help}\n"),
                    ..Told::default()
                }
            }
        })
    }

    /// The file, or its lines that speak of something.
    pub fn show(&mut self, of: &str) -> Result<Told, Failure> {
        self.look()?;
        let of = of.trim().to_lowercase();
        let word = |c: char| c.is_alphanumeric() || matches!(c, '-' | '_');
        let speaks = |line: &str| {
            let lower = line.to_lowercase();
            lower.match_indices(&of).any(|(at, piece)| {
                let (before, behind) = (lower[..at].chars().next_back(), lower[at + piece.len()..].chars().next());
                !before.is_some_and(word) && !behind.is_some_and(word)
            })
        };
        let rows: Vec<(usize, &str)> =
            self.text().lines().enumerate().filter(|(_, line)| of.is_empty() || speaks(line)).collect();
        let text: String = rows.iter().map(|(n, line)| format!("{:>4}  {line}\n", n + 1)).collect();
        let json =
            json!({"show": rows.iter().map(|(n, line)| json!({"line": n + 1, "text": line})).collect::<Vec<_>>()});
        let text = if rows.is_empty() { format!("no row speaks of \"{of}\"\n") } else { text };
        Ok(Told { text, json, ..Told::default() })
    }

    /// What is wrong or odd in the file as it is.
    pub fn check(&mut self) -> Result<Told, Failure> {
        self.look()?;
        let draft = Draft::open(self.source(), &self.catalogue)
            .map_err(|refusal| Failure::of(&refusal.source, refusal.problems))?;
        let say = |mark: &str, list: &[Problem]| -> String {
            list.iter().map(|p| format!("{mark}{}", p.render(draft.source()))).collect()
        };
        let mut text = say("", draft.problems()) + &say("marginal: ", draft.warnings());
        if draft.problems().is_empty() {
            let net = draft.netlist();
            text.push_str(&format!("{} parts, {} wires, no problems\n", net.parts.len(), net.wires.len()));
        }
        let list = |list: &[Problem]| list.iter().map(|p| problem(draft.source(), p, "")).collect::<Vec<_>>();
        let json = json!({"problems": list(draft.problems()), "warnings": list(draft.warnings())});
        Ok(Told { text, json, ..Told::default() })
    }
}

fn with_note(mut told: Told, note: Option<&str>) -> Told {
    if let Some(note) = note {
        told.text = format!("{note}\n{}", told.text);
    }
    told
}

/// Lines were taken.
fn taken(before: &Draft, written: &Written, lines: &str) -> Told {
    let changes = diff::lines(before.text(), written.draft.text());
    let warnings = new_warnings(&written.draft, before);
    let mut text = shown(&changes);
    text.extend(warnings.iter().map(|warning| {
        let help = warning.help.as_ref().map_or(String::new(), |help| format!("; {help}"));
        format!("note: {}{help}\n", warning.text)
    }));
    text.extend(written.notes.iter().map(|note| format!("note: {note}\n")));
    let notes: Vec<&str> =
        warnings.iter().map(|w| w.text.as_str()).chain(written.notes.iter().map(String::as_str)).collect();
    let json = json!({"line": lines.trim(), "lines": listed(&changes), "notes": notes, "problems": []});
    Told { changed: !changes.is_empty(), text, json, ..Told::default() }
}

/// Lines were refused.
fn refused(offences: &[Offence], lines: &str) -> Told {
    let mut text = String::new();
    let mut problems = Vec::new();
    for Offence { line, refusal } in offences {
        for found in &refusal.problems {
            let rendered = found.render(&refusal.source);
            // The line number is that of a file which is not there: the row itself shows the place.
            let body = rendered.split_once('\n').map_or("", |(_, body)| body);
            let whose = if found.span.is_none() && lines.trim().lines().count() > 1 && !line.is_empty() {
                format!("    {line}\n")
            } else {
                String::new()
            };
            text.push_str(&format!("not taken: {}\n{whose}{body}", found.text));
            problems.push(problem(&refusal.source, found, line));
        }
    }
    Told {
        refused: true,
        text,
        json: json!({"line": lines.trim(), "lines": [], "notes": [], "problems": problems}),
        ..Told::default()
    }
}

fn problem(source: &Source, problem: &Problem, line: &str) -> Value {
    let row = problem.span.map(|span| source.line_text(span).0.trim().to_owned());
    json!({"line": if line.is_empty() { row.unwrap_or_default() } else { line.to_owned() }, "text": problem.text, "help": problem.help})
}

fn shown(changes: &[Change]) -> String {
    let row = |change: &Change| match change {
        Change::Gone(n, line) => format!("- {n:>4}  {line}\n"),
        Change::Come(n, line) => format!("+ {n:>4}  {line}\n"),
    };
    let mut text: String = changes.iter().filter(|c| !blank(c)).take(SHOWN).map(row).collect();
    let more = changes.iter().filter(|c| !blank(c)).count().saturating_sub(SHOWN);
    if more > 0 {
        text.push_str(&format!("  and {more} lines more\n"));
    }
    text
}

fn blank(change: &Change) -> bool {
    let (Change::Gone(_, line) | Change::Come(_, line)) = change;
    line.trim().is_empty()
}

fn listed(changes: &[Change]) -> Vec<Value> {
    let row = |change: &Change| match change {
        Change::Gone(n, line) => json!({"gone": line, "at": n}),
        Change::Come(n, line) => json!({"come": line, "at": n}),
    };
    changes.iter().filter(|c| !blank(c)).map(row).collect()
}
