//! Inputs from disk: the wiring file, and a `rules` folder beside it.

use super::Context;
use super::error::Failure;
use ohmward::catalogue::Catalogue;
use ohmward::catalogue::load::is_ours;
use ohmward::diagnosis::machine::Machine;
use ohmward::netlist::Netlist;
use ohmward::session::words::SymptomTable;
use ohmward::sketch::Book;
use ohmward::text::problem::Problem;
use ohmward::text::span::{Source, Span};
use ohmward::wiring;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A larger file is no wiring file; reading it would only cost memory.
const LARGEST: u64 = 8 * 1024 * 1024;

/// What a wiring file came to.
pub struct Loaded {
    /// The text.
    pub source: Source,
    /// Rules in force.
    pub catalogue: Catalogue,
    /// The wiring.
    pub netlist: Netlist,
    /// What hinders nothing and should be known.
    pub warnings: Vec<Problem>,
}

impl Loaded {
    /// The machine ready to be asked about.
    pub fn machine(self) -> Machine {
        Machine::new(self.netlist, self.catalogue)
    }
}

/// Reads the wiring file of the command line; warnings go to standard error.
pub fn machine(context: &mut Context) -> Result<Machine, Failure> {
    let loaded = load(&context.wiring)?;
    warn(&loaded, context);
    Ok(loaded.machine())
}

/// What works out every fault in many states keeps more of a machine than a larger one leaves room for.
const POINTS: usize = 30_000;

/// Is the machine small enough to be chased in? Else what is too much, and a way out.
pub fn manageable(netlist: &Netlist) -> Result<(), Failure> {
    let points = netlist.graph.node_count();
    if points <= POINTS {
        return Ok(());
    }
    Err(Failure::hinted(
        format!(
            "{points} points are too many for this: every fault is worked out in many states, and {POINTS} is the most"
        ),
        "write the harness that you are after, with battery and fuses, into a file of its own: --wiring FILE",
    ))
}

/// Shows warnings on standard error.
pub fn warn(loaded: &Loaded, context: &mut Context) {
    for warning in &loaded.warnings {
        context.out.say(format!("(warning) {}", warning.render(&loaded.source)));
    }
}

/// Reads a wiring file and the rules beside it.
pub fn load(path: &Path) -> Result<Loaded, Failure> {
    let source = text(path)?;
    let catalogue = rules(path)?;
    read(source, catalogue)
}

/// Reads a wiring text under these rules.
pub fn read(source: Source, catalogue: Catalogue) -> Result<Loaded, Failure> {
    match wiring::read(&source, &catalogue) {
        Ok(reading) => Ok(Loaded { netlist: reading.netlist, warnings: reading.warnings, source, catalogue }),
        Err(problems) => Err(Failure::of(&source, problems)),
    }
}

/// A text file, whole.
pub fn text(path: &Path) -> Result<Source, Failure> {
    let name = path.display().to_string();
    let meta = fs::metadata(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => Failure::hinted(
            format!("there is no {name} here"),
            "begin with a built-in machine: ohmward new orchard-cart; or name your file: --wiring FILE",
        ),
        _ => Failure::plain(format!("cannot read {name}: {error}")),
    })?;
    if meta.is_dir() {
        return Err(Failure::hinted(format!("{name} is a folder"), "name the file in it: --wiring FILE"));
    }
    if meta.len() > LARGEST {
        return Err(Failure::plain(format!("{name} is {} MB large: this is no wiring file", meta.len() >> 20)));
    }
    let bytes = fs::read(path).map_err(|error| Failure::plain(format!("cannot read {name}: {error}")))?;
    match String::from_utf8(bytes) {
        Ok(text) => Ok(Source::new(name, text)),
        Err(error) => {
            let good = error.utf8_error().valid_up_to();
            let source = Source::new(name, String::from_utf8_lossy(error.as_bytes()).into_owned());
            let span = Span { start: good, end: good + 1 };
            let problem =
                Problem::at(span, "a character that is not UTF-8").help("save the file as UTF-8 in your editor");
            Err(Failure::of(&source, vec![problem]))
        }
    }
}

/// The rules in force for a wiring file: built in, with the `rules` folder beside it laid over.
pub fn rules(wiring: &Path) -> Result<Catalogue, Failure> {
    let folder = wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")).join("rules");
    if !folder.is_dir() {
        return Ok(Catalogue::builtin());
    }
    let mut files = Vec::new();
    gather(&folder, &folder, 0, &mut files)?;
    files.sort_by(|a, b| a.0.cmp(&b.0));
    let mut sources = Vec::new();
    for (name, path) in files.into_iter().filter(|(name, _)| is_ours(name)) {
        sources.push(Source::new(name, text(&path)?.text));
    }
    Catalogue::with(&sources).map_err(|troubles| {
        let named =
            |source: Source| Arc::new(Source::new(folder.join(&source.name).display().to_string(), source.text));
        Failure::Problems(troubles.into_iter().map(|(source, problem)| (named(source), problem)).collect())
    })
}

/// The words of complaints: built in, with `rules/symptoms.yaml` beside the wiring file laid over.
pub fn words(wiring: &Path) -> Result<SymptomTable, Failure> {
    let folder = wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let own = folder.join("rules/symptoms.yaml");
    let files = if own.is_file() { vec![text(&own)?] } else { Vec::new() };
    SymptomTable::with(&files).map_err(|(source, problems)| Failure::of(&source, problems))
}

/// The circuits that a wiring file can be begun from: built in, with `rules/sketches` beside it laid over.
pub fn book(wiring: &Path) -> Result<Book, Failure> {
    let folder = wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")).join("rules/sketches");
    let mut files = Vec::new();
    if folder.is_dir() {
        gather(&folder, &folder, 0, &mut files)?;
    }
    files.sort_by(|a, b| a.0.cmp(&b.0));
    let mut sources = Vec::new();
    for (name, path) in files.into_iter().filter(|(name, _)| name.ends_with(".yaml")) {
        sources.push(Source::new(name, text(&path)?.text));
    }
    let placed = |(source, problem)| (Arc::new(source), problem);
    Book::with(&sources).map_err(|troubles| Failure::Problems(troubles.into_iter().map(placed).collect()))
}

/// Files under a folder with their paths inside it; rules are never nested deeper than this.
fn gather(root: &Path, folder: &Path, depth: usize, files: &mut Vec<(String, PathBuf)>) -> Result<(), Failure> {
    if depth > 3 {
        return Ok(());
    }
    let entries =
        fs::read_dir(folder).map_err(|error| Failure::plain(format!("cannot read {}: {error}", folder.display())))?;
    for entry in entries {
        let path = entry?.path();
        if path.is_dir() {
            gather(root, &path, depth + 1, files)?;
        } else if let Ok(inside) = path.strip_prefix(root) {
            files.push((inside.to_string_lossy().replace('\\', "/"), path.clone()));
        }
    }
    Ok(())
}
