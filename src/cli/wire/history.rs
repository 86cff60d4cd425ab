//! Steps of a wiring file on disk, so that each can be taken back: one file a step in a hidden folder beside it.
//!
//! A step is written before the wiring file is; a program that is killed between the two leaves a step that never
//! happened, which is known by the wiring file being as it was before it.

use crate::cli::error::Failure;
use crate::cli::{clock, store};
use serde_json::{Value, json};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

/// Steps kept; the oldest go first.
const MOST: usize = 100;
/// Bytes that steps may take together.
const MOST_BYTES: u64 = 16 << 20;

/// The steps of one wiring file.
pub struct History {
    wiring: PathBuf,
    folder: PathBuf,
}

/// One step.
#[derive(Clone, Debug)]
struct Step {
    did: String,
    /// The file before; none if there was none.
    before: Option<String>,
    after: String,
}

/// What taking a step back came to.
pub enum Undone {
    /// This step is taken back; what was changed by hand since is kept in this file.
    Step {
        /// what it had done, as typed
        did: String,
        /// the file before the step was taken back
        from: String,
        /// and now
        to: String,
        /// where what was changed by hand is kept
        kept: Option<PathBuf>,
    },
    /// There is none.
    Nothing,
    /// The file was changed by hand since: left as it is.
    ByHand,
}

impl History {
    /// The steps of this wiring file.
    pub fn beside(wiring: &Path) -> History {
        // A link's steps are those of the file that it leads to.
        let wiring = fs::canonicalize(wiring).unwrap_or_else(|_| wiring.to_path_buf());
        let name = wiring.file_name().map_or_else(|| "wiring.yaml".into(), |name| name.to_string_lossy().into_owned());
        let folder = wiring.with_file_name(format!(".{name}.undo"));
        History { wiring, folder }
    }

    /// Only one program changes the file at a time; the lock goes with the program, however it ends.
    pub fn lock(&self) -> Result<File, Failure> {
        fs::create_dir_all(&self.folder).map_err(|error| self.failed("make", &self.folder, &error))?;
        let path = self.folder.join("lock");
        let open = OpenOptions::new().create(true).truncate(false).write(true).open(&path);
        let lock = open.map_err(|error| self.failed("open", &path, &error))?;
        match lock.try_lock() {
            Err(TryLockError::WouldBlock) => Err(Failure::hinted(
                format!("another ohmward is changing {} at this moment", self.wiring.display()),
                "say it again",
            )),
            // A file system without locks: better to work than to refuse.
            Ok(()) | Err(TryLockError::Error(_)) => Ok(lock),
        }
    }

    /// Keeps a step, then puts the new text in the file's place.
    pub fn step(&self, did: &str, before: Option<&str>, after: &str) -> Result<(), Failure> {
        let number = self.numbers()?.last().map_or(1, |last| last + 1);
        let step = json!({"at": clock::stamp(), "did": did, "before": before, "after": after});
        store::replace(&self.path(number), format!("{step}\n").as_bytes())?;
        self.trim()?;
        store::replace(&self.wiring, after.as_bytes())
    }

    /// Takes the last step back. `anyway`: also where the file was changed by hand since.
    pub fn undo(&self, now: Option<&str>, anyway: bool) -> Result<Undone, Failure> {
        while let Some(&number) = self.numbers()?.last() {
            let step = self.read(number)?;
            let stands = now == Some(step.after.as_str());
            if !stands && now == step.before.as_deref() {
                self.forget(number)?;
                continue;
            }
            if !stands && !anyway {
                return Ok(Undone::ByHand);
            }
            let kept = match now.filter(|_| !stands) {
                Some(text) => Some(self.keep(text)?),
                None => None,
            };
            match &step.before {
                Some(before) => store::replace(&self.wiring, before.as_bytes())?,
                None => fs::remove_file(&self.wiring).map_err(|error| self.failed("remove", &self.wiring, &error))?,
            }
            self.forget(number)?;
            let (from, to) = (now.unwrap_or("").to_owned(), step.before.unwrap_or_default());
            return Ok(Undone::Step { did: step.did, from, to, kept });
        }
        Ok(Undone::Nothing)
    }

    /// What a person wrote is kept for good.
    fn keep(&self, text: &str) -> Result<PathBuf, Failure> {
        let free = |n: &u32| !self.folder.join(format!("by-hand-{n}.yaml")).exists();
        let number = (1..).find(free).unwrap_or(1);
        let path = self.folder.join(format!("by-hand-{number}.yaml"));
        store::create(&path, text.as_bytes())?;
        Ok(path)
    }

    fn path(&self, number: u32) -> PathBuf {
        self.folder.join(format!("{number:06}.json"))
    }

    /// Numbers of all steps, rising.
    fn numbers(&self) -> Result<Vec<u32>, Failure> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(self.failed("read", &self.folder, &error)),
        };
        let mut out = Vec::new();
        for entry in entries {
            let name = entry?.file_name();
            out.extend(name.to_str().and_then(|n| n.strip_suffix(".json")).and_then(|n| n.parse::<u32>().ok()));
        }
        out.sort_unstable();
        Ok(out)
    }

    fn read(&self, number: u32) -> Result<Step, Failure> {
        let path = self.path(number);
        let bytes = fs::read(&path).map_err(|error| self.failed("read", &path, &error))?;
        let value: Value = serde_json::from_slice(&bytes).unwrap_or_default();
        let text = |key: &str| value[key].as_str().map(str::to_owned);
        match (text("did"), text("after")) {
            (Some(did), Some(after)) => Ok(Step { did, before: text("before"), after }),
            _ => Err(Failure::hinted(
                format!("{} is no step of this program", path.display()),
                "move that file away, then undo goes on with the one before",
            )),
        }
    }

    fn forget(&self, number: u32) -> Result<(), Failure> {
        let path = self.path(number);
        fs::remove_file(&path).map_err(|error| self.failed("remove", &path, &error))
    }

    /// Lets the oldest go, as many as there are too many.
    fn trim(&self) -> Result<(), Failure> {
        let numbers = self.numbers()?;
        let size = |number: &u32| fs::metadata(self.path(*number)).map_or(0, |meta| meta.len());
        let mut bytes: u64 = numbers.iter().map(size).sum();
        let mut left = numbers.len();
        for number in &numbers {
            if left <= 1 || (left <= MOST && bytes <= MOST_BYTES) {
                break;
            }
            bytes -= size(number);
            left -= 1;
            self.forget(*number)?;
        }
        Ok(())
    }

    fn failed(&self, what: &str, path: &Path, error: &std::io::Error) -> Failure {
        Failure::file(what, path, error)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn now(path: &Path) -> Option<String> {
        fs::read_to_string(path).ok()
    }

    #[test]
    fn steps_go_back_one_by_one_to_where_there_was_no_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wiring.yaml");
        let history = History::beside(&path);
        let _lock = history.lock().unwrap();
        history.step("one", None, "1").unwrap();
        history.step("two", Some("1"), "2").unwrap();
        // A step that was killed before the file was written never happened.
        store::replace(&history.path(3), json!({"did": "three", "before": "2", "after": "3"}).to_string().as_bytes())
            .unwrap();
        let Undone::Step { did, kept, .. } = history.undo(now(&path).as_deref(), false).unwrap() else { panic!() };
        assert_eq!((did.as_str(), kept, now(&path).as_deref()), ("two", None, Some("1")));
        assert!(matches!(history.undo(now(&path).as_deref(), false).unwrap(), Undone::Step { .. }));
        assert!(!path.exists());
        assert!(matches!(history.undo(None, false).unwrap(), Undone::Nothing));
    }

    #[test]
    fn what_was_changed_by_hand_is_left_and_if_told_otherwise_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wiring.yaml");
        let history = History::beside(&path);
        let _lock = history.lock().unwrap();
        history.step("one", Some("0"), "1").unwrap();
        fs::write(&path, "mine").unwrap();
        assert!(matches!(history.undo(Some("mine"), false).unwrap(), Undone::ByHand));
        assert_eq!(now(&path).as_deref(), Some("mine"));
        let Undone::Step { kept: Some(kept), .. } = history.undo(Some("mine"), true).unwrap() else { panic!() };
        assert_eq!((now(&path).as_deref(), now(&kept).as_deref()), (Some("0"), Some("mine")));
    }

    #[test]
    fn old_steps_make_room() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wiring.yaml");
        let history = History::beside(&path);
        let _lock = history.lock().unwrap();
        for n in 0..MOST + 5 {
            history.step("x", Some(&n.to_string()), &(n + 1).to_string()).unwrap();
        }
        assert_eq!(history.numbers().unwrap().len(), MOST);
        assert!(history.lock().is_err(), "two at once");
    }
}
