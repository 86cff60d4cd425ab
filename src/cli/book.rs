//! A journal of its own name beside the wiring file, `trails/NAME.jsonl`, in the lines of a chase's: what is led step by
//! step and can be gone on with.

use super::clock;
use super::error::Failure;
use super::journal::{cut, put_line, sync_folder};
use ohmward::circuit::test::Test;
use ohmward::session::Input;
use ohmward::session::journal::{self, Entry, Header, Journal};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Where it is.
pub struct Book {
    path: PathBuf,
    /// What another program does that holds it: `brings power on`.
    doing: &'static str,
    /// The command that begins anew.
    anew: String,
}

/// Writes what is new.
pub struct Keeper {
    file: File,
    /// When it was begun.
    pub started: String,
}

impl Keeper {
    /// An accepted answer: on disk when this returns.
    pub fn keep(&mut self, input: &Input, asked: Option<&Test>) -> Result<(), Failure> {
        let asked = asked.filter(|_| matches!(input, Input::Reading(_))).cloned();
        put_line(&mut self.file, &Entry { at: clock::stamp(), input: input.clone(), asked }.line())
    }

    /// Entries that were kept before.
    pub fn keep_all(&mut self, entries: &[&Entry]) -> Result<(), Failure> {
        entries.iter().try_for_each(|entry| put_line(&mut self.file, &entry.line()))
    }

    /// It is finished.
    pub fn end(mut self) -> Result<(), Failure> {
        put_line(&mut self.file, &journal::end_line(&clock::stamp(), "done"))
    }
}

/// One that was begun.
pub struct Old {
    /// What is in it.
    pub journal: Journal,
    file: File,
}

impl Book {
    /// The journal of this name beside a wiring file. Case does not tell names apart, nor do some file systems.
    pub fn beside(wiring: &Path, name: &str, doing: &'static str, anew: &str) -> Book {
        let folder = wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let path = folder.join("trails").join(format!("{}.jsonl", name.to_lowercase()));
        Book { path, doing, anew: anew.to_string() }
    }

    fn failed(&self, what: &str, error: &std::io::Error) -> Failure {
        Failure::file(what, &self.path, error)
    }

    fn lock(&self, file: &File) -> Result<(), Failure> {
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => Err(Failure::hinted(
                format!("another ohmward {} in this folder", self.doing),
                "end the other one; two at once would answer each other's steps",
            )),
            // A file system without locks: better to work than to refuse.
            Ok(()) | Err(TryLockError::Error(_)) => Ok(()),
        }
    }

    /// What is there, finished or not.
    pub fn old(&self) -> Result<Option<Old>, Failure> {
        let mut file = match OpenOptions::new().read(true).write(true).open(&self.path) {
            Ok(file) => file,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(self.failed("open", &error)),
        };
        self.lock(&file)?;
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(|error| self.failed("read", &error))?;
        // Killed before its first line was whole: nothing was begun.
        if !bytes.contains(&b'\n') {
            return Ok(None);
        }
        let journal = journal::read(&bytes).map_err(|why| {
            let hint = format!("begin anew, the old one is kept beside: {}", self.anew);
            Failure::hinted(format!("{}, {why}", self.path.display()), hint)
        })?;
        Ok(Some(Old { journal, file }))
    }

    /// What was begun and not ended.
    pub fn unfinished(&self) -> Result<Option<Old>, Failure> {
        Ok(self.old()?.filter(|old| old.journal.end.is_none() && !old.journal.entries.is_empty()))
    }

    /// Goes on with it; what a crash left of a last line is kept beside.
    pub fn go_on(&self, mut old: Old) -> Result<Keeper, Failure> {
        cut(&mut old.file, &self.path, u64::try_from(old.journal.whole).unwrap_or(u64::MAX))?;
        Ok(Keeper { file: old.file, started: old.journal.header.started })
    }

    /// A new one; the old one is kept beside.
    pub fn begin(&self, header: &Header) -> Result<Keeper, Failure> {
        if let Ok(file) = File::open(&self.path) {
            self.lock(&file)?;
            let free = (1..).map(|n| self.path.with_extension(format!("old-{n}.jsonl"))).find(|path| !path.exists());
            fs::rename(&self.path, free.unwrap_or_default()).map_err(|error| self.failed("put aside", &error))?;
        }
        let folder = self.path.parent().unwrap_or(Path::new("."));
        fs::create_dir_all(folder).map_err(|error| self.failed("make the folder of", &error))?;
        let file = OpenOptions::new().create_new(true).append(true).open(&self.path);
        let mut file = file.map_err(|error| self.failed("make", &error))?;
        self.lock(&file)?;
        put_line(&mut file, &header.line())?;
        sync_folder(folder);
        Ok(Keeper { file, started: header.started.clone() })
    }
}
