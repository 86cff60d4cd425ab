//! The journal of bringing power on: `trails/powerup.jsonl`, a chase's journal line by line.

use super::Context;
use crate::cli::clock;
use crate::cli::error::Failure;
use crate::cli::journal::{cut, put_line, sync_folder};
use ohmward::circuit::test::Test;
use ohmward::diagnosis::machine::Machine;
use ohmward::session::Input;
use ohmward::session::journal::{self, Entry, Header, Journal, fingerprint};
use ohmward::session::powerup::PowerUp;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Where it is.
pub struct Book {
    path: PathBuf,
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

    /// It is finished.
    pub fn end(mut self) -> Result<(), Failure> {
        put_line(&mut self.file, &journal::end_line(&clock::stamp(), "done"))
    }
}

impl Book {
    /// The journal beside a wiring file.
    pub fn beside(wiring: &Path) -> Book {
        let folder = wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        Book { path: folder.join("trails").join("powerup.jsonl") }
    }

    fn failed(&self, what: &str, error: &dyn std::fmt::Display) -> Failure {
        Failure::plain(format!("cannot {what} {}: {error}", self.path.display()))
    }

    fn lock(file: &File) -> Result<(), Failure> {
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => Err(Failure::hinted(
                "another ohmward brings power on in this folder",
                "end the other one; two at once would answer each other's steps",
            )),
            // A file system without locks: better to work than to refuse.
            Ok(()) | Err(TryLockError::Error(_)) => Ok(()),
        }
    }

    /// Goes on with what was broken off, or begins. `lamp`: what stands in the minus lead, and whether that was said.
    pub fn open(
        &self,
        machine: Machine,
        title: &str,
        text: &str,
        (lamp, said): (Option<f64>, bool),
        anew: bool,
        context: &mut Context,
    ) -> Result<(PowerUp, Keeper), Failure> {
        let old = if anew { None } else { self.unfinished()? };
        let mut header = Header {
            number: 0,
            machine: title.to_string(),
            wiring: fingerprint(text),
            started: clock::stamp(),
            complaint: lamp.map_or_else(|| "small fuse".into(), |watts| format!("lamp {watts} W")),
        };
        let Some((old, mut file)) = old else {
            let file = self.begin(&header)?;
            return Ok((PowerUp::new(machine, lamp), Keeper { file, started: header.started }));
        };
        let kept = old.header.complaint.strip_prefix("lamp ").and_then(|rest| rest.strip_suffix(" W")?.parse().ok());
        let lamp = if said { lamp } else { kept };
        let mut power = PowerUp::new(machine, lamp);
        let mut taken: Vec<&Entry> = Vec::new();
        for entry in &old.entries {
            // What was asked then must be what is asked now.
            let same = entry.asked.is_none() || entry.asked.as_ref() == power.asked();
            if !same || power.take(entry.input.clone()).is_err() {
                break;
            }
            taken.push(entry);
        }
        let all = taken.len() == old.entries.len();
        context.out.say(format!("(going on with what was begun {}; anew: ohmward powerup --new)", old.header.started));
        for line in old.damaged.iter().chain(&old.skipped) {
            context.out.say(format!("(line {line} of its journal cannot be read and is left out)"));
        }
        if all {
            cut(&mut file, &self.path, u64::try_from(old.whole).unwrap_or(u64::MAX))?;
            return Ok((power, Keeper { file, started: old.header.started }));
        }
        context.out.say("(the wiring or the lamp has changed since: from here on it is asked anew)");
        header.complaint = lamp.map_or_else(|| "small fuse".into(), |watts| format!("lamp {watts} W"));
        drop(file);
        let mut file = self.begin(&header)?;
        for entry in taken {
            put_line(&mut file, &entry.line())?;
        }
        Ok((power, Keeper { file, started: header.started }))
    }

    /// What was begun and not ended.
    fn unfinished(&self) -> Result<Option<(Journal, File)>, Failure> {
        let mut file = match OpenOptions::new().read(true).write(true).open(&self.path) {
            Ok(file) => file,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(None),
            Err(error) => return Err(self.failed("open", &error)),
        };
        Self::lock(&file)?;
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(|error| self.failed("read", &error))?;
        let old = journal::read(&bytes).map_err(|why| {
            let text = format!("{}, {why}", self.path.display());
            Failure::hinted(text, "begin anew, the old one is kept beside: ohmward powerup --new")
        })?;
        Ok((old.end.is_none() && !old.entries.is_empty()).then_some((old, file)))
    }

    /// A new one; the old one is kept beside.
    fn begin(&self, header: &Header) -> Result<File, Failure> {
        if let Ok(file) = File::open(&self.path) {
            Self::lock(&file)?;
            let free = (1..).map(|n| self.path.with_extension(format!("old-{n}.jsonl"))).find(|path| !path.exists());
            fs::rename(&self.path, free.unwrap_or_default()).map_err(|error| self.failed("put aside", &error))?;
        }
        let folder = self.path.parent().unwrap_or(Path::new("."));
        fs::create_dir_all(folder).map_err(|error| self.failed("make the folder of", &error))?;
        let file = OpenOptions::new().create_new(true).append(true).open(&self.path);
        let mut file = file.map_err(|error| self.failed("make", &error))?;
        Self::lock(&file)?;
        put_line(&mut file, &header.line())?;
        sync_folder(folder);
        Ok(file)
    }
}
