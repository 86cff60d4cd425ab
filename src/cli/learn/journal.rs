//! The journal of a learning: `trails/learn-NAME.jsonl`, one line an answer, on disk before anything else is shown.

use super::folder;
use crate::cli::clock;
use crate::cli::error::Failure;
use crate::cli::journal::{cut, put_line, sync_folder};
use ohmward::session::learn::journal::{self, Journal};
use ohmward::session::learn::{Learn, Start};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Where it is.
pub struct Book {
    path: PathBuf,
    name: String,
}

impl Book {
    /// The journal of this name beside a wiring file.
    pub fn beside(wiring: &Path, name: &str) -> Book {
        // Case does not tell names apart, nor do some file systems.
        Book { path: folder(wiring).join(format!("learn-{}.jsonl", name.to_lowercase())), name: name.to_owned() }
    }

    fn failed(&self, what: &str, error: &std::io::Error) -> Failure {
        Failure::file(what, &self.path, error)
    }

    fn lock(&self, file: &File) -> Result<(), Failure> {
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => Err(Failure::hinted(
                format!("another ohmward is learning {} here", self.name),
                "end the other one, or give this one another name",
            )),
            // A file system without locks: better to work than to refuse.
            Ok(()) | Err(TryLockError::Error(_)) => Ok(()),
        }
    }

    /// Begins it. One that was broken off is not written over unasked; what is finished, or `anew`, is kept beside.
    pub fn begin(&self, start: &Start, anew: bool) -> Result<File, Failure> {
        if let Ok(bytes) = fs::read(&self.path) {
            if let Ok(file) = File::open(&self.path) {
                self.lock(&file)?;
            }
            let open = journal::read(&bytes).is_ok_and(|old| !old.ended && !old.steps.is_empty());
            if open && !anew {
                return Err(Failure::hinted(
                    format!("{} was begun and broken off", self.name),
                    format!("go on: ohmward learn {0} --resume; begin anew: ohmward learn {0} --new", self.name),
                ));
            }
            let free = (1..).map(|n| self.path.with_extension(format!("old-{n}.jsonl"))).find(|path| !path.exists());
            fs::rename(&self.path, free.unwrap_or_default()).map_err(|error| self.failed("put aside", &error))?;
        }
        let folder = self.path.parent().unwrap_or(Path::new("."));
        fs::create_dir_all(folder).map_err(|error| self.failed("make the folder of", &error))?;
        let file = OpenOptions::new().create_new(true).append(true).open(&self.path);
        let mut file = file.map_err(|error| self.failed("make", &error))?;
        self.lock(&file)?;
        put_line(&mut file, &journal::header(start, &clock::stamp()))?;
        sync_folder(folder);
        Ok(file)
    }

    /// Goes on with it; what a crash left of a last line is kept beside.
    pub fn resume(&self) -> Result<(Journal, File), Failure> {
        let mut file = match OpenOptions::new().read(true).write(true).open(&self.path) {
            Ok(file) => file,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Err(Failure::hinted(
                    format!("nothing was begun here under the name {}", self.name),
                    format!("begin: ohmward learn {}", self.name),
                ));
            }
            Err(error) => return Err(self.failed("open", &error)),
        };
        self.lock(&file)?;
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(|error| self.failed("read", &error))?;
        let old = journal::read(&bytes).map_err(|why| {
            let hint = format!("begin anew: ohmward learn {} --new", self.name);
            Failure::hinted(format!("{}, {why}", self.path.display()), hint)
        })?;
        cut(&mut file, &self.path, u64::try_from(old.whole).unwrap_or(u64::MAX))?;
        Ok((old, file))
    }
}

/// Writes what is new of a learning.
pub struct Keeper {
    file: File,
    kept: usize,
}

impl Keeper {
    /// So many steps are in it.
    pub fn new(file: File, kept: usize) -> Keeper {
        Keeper { file, kept }
    }

    /// New steps are on disk when this returns.
    pub fn keep(&mut self, learn: &Learn) -> Result<(), Failure> {
        for step in &learn.steps()[self.kept.min(learn.steps().len())..] {
            put_line(&mut self.file, &journal::line(step, &clock::stamp()))?;
        }
        self.kept = learn.steps().len();
        Ok(())
    }

    /// The last step was taken back.
    pub fn back(&mut self, learn: &Learn) -> Result<(), Failure> {
        put_line(&mut self.file, &journal::back_line(&clock::stamp()))?;
        self.kept = learn.steps().len();
        Ok(())
    }

    /// It is finished.
    pub fn end(&mut self) -> Result<(), Failure> {
        put_line(&mut self.file, &journal::end_line(&clock::stamp()))
    }
}
