//! `build-notes.md` beside the wiring file: the person's own file, to which sections are added.

use super::error::Failure;
use super::store;
use ohmward::notes;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// The notes of a machine.
pub fn beside(wiring: &Path) -> PathBuf {
    wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")).join("build-notes.md")
}

/// Adds the section of a trail; false if it stands there already.
pub fn add(path: &Path, trail: &str, title: &str, section: &str) -> Result<bool, Failure> {
    let later = "every answer is kept in the trail: put that right, then go on with the same command";
    let old = match fs::read(path) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
        Err(error) => return Err(Failure::file("read", path, &error).with_hint(later)),
    };
    match notes::append(&old, trail, title, section) {
        Some(new) => store::replace(path, &new).map(|()| true).map_err(|failure| failure.with_hint(later)),
        None => Ok(false),
    }
}
