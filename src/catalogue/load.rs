//! Reads `rules/` into a [`Catalogue`]: the files compiled in, and a user's own laid over them.
//!
//! A file is told by its path inside `rules/`: `kinds/horn.yaml` is one kind, `joints.yaml` and the like are tables.
//! Machines, sketches, symptom words and what `learn` and `ringout` say are other layers' business and are passed over. Every problem of every file is named.

mod check;
mod draw;
mod element;
mod extend;
mod fields;
mod heat;
mod kind;
mod limits;
mod powerup;
mod review;
mod tables;

use super::Catalogue;
use crate::text::problem::Problem;
use crate::text::span::Source;
use crate::text::words::nearest;
use crate::text::yaml::{self, Node};
pub(super) use element::type_name;
use fields::Log;
use include_dir::{Dir, include_dir};
use std::sync::OnceLock;

static RULES: Dir = include_dir!("$CARGO_MANIFEST_DIR/rules");

/// The tables, by file name.
const TABLES: [&str; 17] = [
    "aftermath.yaml",
    "joints.yaml",
    "wire.yaml",
    "colours.yaml",
    "weights.yaml",
    "minutes.yaml",
    "patterns.yaml",
    "procedures.yaml",
    "dangers.yaml",
    "fuses.yaml",
    "circuits.yaml",
    "columns.yaml",
    "review.yaml",
    "powerup.yaml",
    "draw.yaml",
    "extend.yaml",
    "heat.yaml",
];

/// A problem and the file that it stands in.
pub type Trouble = (Source, Problem);

impl Catalogue {
    /// The built-in rules.
    ///
    /// ```
    /// let catalogue = ohmward::catalogue::Catalogue::builtin();
    /// assert!(catalogue.kind("horn").is_some());
    /// ```
    pub fn builtin() -> Catalogue {
        builtin_ref().clone()
    }

    /// The built-in rules with a user's own laid over them.
    ///
    /// Each source is named by its path inside the user's `rules/` folder, `kinds/horn.yaml` or `weights.yaml`.
    /// A kind replaces the one of the same name or is added; a table's entries replace or add entry by entry.
    ///
    /// # Errors
    ///
    /// Every problem of every file.
    pub fn with(files: &[Source]) -> Result<Catalogue, Vec<Trouble>> {
        let mut catalogue = Catalogue::builtin();
        let troubles = lay_over(&mut catalogue, files, false);
        if troubles.is_empty() { Ok(catalogue) } else { Err(troubles) }
    }
}

/// The built-in rules, read once. What a broken file holds is left out; a test keeps that from happening.
fn builtin_ref() -> &'static Catalogue {
    static BUILTIN: OnceLock<Catalogue> = OnceLock::new();
    BUILTIN.get_or_init(|| {
        let mut catalogue = Catalogue::default();
        lay_over(&mut catalogue, &builtin_sources(), false);
        catalogue
    })
}

/// The built-in rule files that this module reads, sorted by path.
pub fn builtin_sources() -> Vec<Source> {
    let mut out = Vec::new();
    let mut folders = vec![&RULES];
    while let Some(folder) = folders.pop() {
        for file in folder.files() {
            let path = file.path().to_string_lossy().replace('\\', "/");
            if let (true, Some(text)) = (is_ours(&path), file.contents_utf8()) {
                out.push(Source::new(path, text));
            }
        }
        folders.extend(folder.dirs());
    }
    out.sort_by(|a, b| a.name.cmp(&b.name));
    out
}

/// Is this path inside `rules/` one that the catalogue reads?
pub fn is_ours(path: &str) -> bool {
    path.ends_with(".yaml")
        && !["machines/", "sketches/", "symptoms", "learn", "ringout"].iter().any(|other| path.starts_with(other))
}

/// Every file parsed, by several workers: there are some eighty, and every start of the program waits for them.
fn parsed(files: &[Source]) -> Vec<Result<Node, Problem>> {
    const WORKERS: usize = 4;
    let parse = |files: &[Source]| files.iter().map(yaml::parse).collect::<Vec<_>>();
    std::thread::scope(|scope| {
        let hands: Vec<_> = files
            .chunks(files.len().div_ceil(WORKERS).max(1))
            .map(|files| (files, std::thread::Builder::new().spawn_scoped(scope, move || parse(files))))
            .collect();
        let done = |(files, hand): (&[Source], std::io::Result<std::thread::ScopedJoinHandle<'_, _>>)| {
            hand.ok().and_then(|hand| hand.join().ok()).unwrap_or_else(|| parse(files))
        };
        hands.into_iter().flat_map(done).collect()
    })
}

/// Reads all files into the catalogue; `strict` also asks for the fixed order of fields.
fn lay_over(catalogue: &mut Catalogue, files: &[Source], strict: bool) -> Vec<Trouble> {
    let mut troubles = Vec::new();
    for (source, parsed) in files.iter().zip(parsed(files)) {
        let mut log = Log { problems: Vec::new(), strict };
        match parsed {
            Ok(root) => {
                if source.name.starts_with("kinds/") {
                    if let Some(kind) = kind::read(&root, &mut log) {
                        catalogue.kinds.insert(kind.name.clone(), kind);
                    }
                } else if !tables::read(&source.name, &root, catalogue, &mut log) {
                    let help = nearest(&source.name, TABLES)
                        .map_or_else(|| "a part kind goes into rules/kinds/".into(), |near| format!("nearest: {near}"));
                    log.problems.push(Problem::whole("the rules know no file of this name").help(help));
                }
            }
            Err(problem) => log.problems.push(problem),
        }
        troubles.extend(log.problems.into_iter().map(|problem| (source.clone(), problem)));
    }
    troubles.extend(check::nicknames(catalogue, files));
    troubles.extend(check::curves(catalogue, files));
    troubles
}

#[cfg(test)]
mod tests;
