//! Trails on disk: one journal a chase, in the folder `trails` beside the wiring file.
//!
//! Every accepted line is written and synced before anything else is shown. A lock keeps a second
//! program from writing; it may read.

use super::error::Failure;
use ohmward::session::journal::{self, Entry, Header, Journal};
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

/// The folder of trails beside a wiring file.
pub struct Trails {
    folder: PathBuf,
}

/// A journal open for writing.
pub struct Writer {
    file: File,
    path: PathBuf,
    /// Held as long as this program writes; let go by the system even if it is killed.
    _lock: File,
}

impl Trails {
    /// The trails beside this wiring file.
    pub fn beside(wiring: &Path) -> Trails {
        let folder = wiring.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
        Trails { folder: folder.join("trails") }
    }

    /// The history of lines typed at the prompt.
    pub fn history(&self) -> PathBuf {
        self.folder.join("history.txt")
    }

    fn path(&self, number: u32) -> PathBuf {
        self.folder.join(format!("{number:03}.jsonl"))
    }

    /// Numbers of all trails, rising.
    pub fn numbers(&self) -> Result<Vec<u32>, Failure> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(self.failed("read", &self.folder, &error)),
        };
        let mut numbers = Vec::new();
        for entry in entries {
            let name = entry?.file_name();
            let number = name.to_str().and_then(|n| n.strip_suffix(".jsonl")).and_then(|n| n.parse::<u32>().ok());
            numbers.extend(number);
        }
        numbers.sort_unstable();
        Ok(numbers)
    }

    /// Reads a trail.
    pub fn read(&self, number: u32) -> Result<Journal, Failure> {
        let path = self.path(number);
        let bytes = fs::read(&path).map_err(|error| self.failed("read", &path, &error))?;
        journal::read(&bytes).map_err(|why| {
            Failure::hinted(
                format!("{}, {why}", path.display()),
                "move the file away, or begin afresh with: ohmward chase --new",
            )
        })
    }

    /// The unfinished chase, if the newest trail is one.
    pub fn unfinished(&self) -> Result<Option<(u32, Journal)>, Failure> {
        let Some(&number) = self.numbers()?.last() else { return Ok(None) };
        // A file killed before its first line was whole holds nothing to resume.
        let whole = fs::read(self.path(number)).is_ok_and(|bytes| bytes.contains(&b'\n'));
        if !whole {
            return Ok(None);
        }
        let journal = self.read(number)?;
        Ok(journal.end.is_none().then_some((number, journal)))
    }

    /// Takes the lock.
    fn lock(&self) -> Result<File, Failure> {
        if !self.folder.is_dir() {
            fs::create_dir_all(&self.folder).map_err(|error| self.failed("make", &self.folder, &error))?;
            sync_folder(self.folder.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new(".")));
        }
        let path = self.folder.join("lock");
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(|error| self.failed("open", &path, &error))?;
        match lock.try_lock() {
            Ok(()) => Ok(lock),
            Err(TryLockError::WouldBlock) => Err(Failure::hinted(
                "another ohmward is in a chase on this machine; this one only reads",
                "end the other one, or look on with: ohmward trail show",
            )),
            // A file system without locks: better to work than to refuse.
            Err(TryLockError::Error(_)) => Ok(lock),
        }
    }

    /// Begins a new trail: the number is filled in, the first line written and synced.
    pub fn begin(&self, header: &mut Header) -> Result<Writer, Failure> {
        let lock = self.lock()?;
        let last = self.numbers()?.last().copied();
        // One that was killed before it wrote anything leaves its number.
        let empty = last.filter(|&last| fs::metadata(self.path(last)).is_ok_and(|file| file.len() == 0));
        if let Some(last) = empty {
            fs::remove_file(self.path(last)).map_err(|error| self.failed("remove", &self.path(last), &error))?;
        }
        header.number = empty.or(last.map(|last| last.saturating_add(1))).unwrap_or(1);
        let path = self.path(header.number);
        let file = OpenOptions::new()
            .create_new(true)
            .append(true)
            .open(&path)
            .map_err(|error| self.failed("make", &path, &error))?;
        let mut writer = Writer { file, path, _lock: lock };
        writer.line(&header.line())?;
        sync_folder(&self.folder);
        Ok(writer)
    }

    /// Goes on with a trail; a damaged last line is cut off.
    pub fn resume(&self, number: u32, whole: usize) -> Result<Writer, Failure> {
        let lock = self.lock()?;
        let path = self.path(number);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .open(&path)
            .map_err(|error| self.failed("open", &path, &error))?;
        // Read before the lock was held: what another program has added since must not be cut off.
        if self.read(number)?.whole != whole {
            return Err(Failure::hinted(
                format!("{} has grown meanwhile", path.display()),
                "nothing is lost; go on with it: ohmward chase",
            ));
        }
        let length = u64::try_from(whole).unwrap_or(u64::MAX);
        cut(&mut file, &path, length)?;
        Ok(Writer { file, path, _lock: lock })
    }

    fn failed(&self, what: &str, path: &Path, error: &std::io::Error) -> Failure {
        Failure::file(what, path, error)
    }
}

impl Writer {
    /// An accepted input: on disk when this returns.
    pub fn entry(&mut self, entry: &Entry) -> Result<(), Failure> {
        self.line(&entry.line())
    }

    /// The chase has ended.
    pub fn end(&mut self, at: &str, reason: &str) -> Result<(), Failure> {
        self.line(&journal::end_line(at, reason))
    }

    fn line(&mut self, line: &str) -> Result<(), Failure> {
        put_line(&mut self.file, line)?;
        // A removed file still takes lines, and they are gone with the program.
        if self.path.exists() {
            return Ok(());
        }
        Err(Failure::hinted(
            format!("{} has been removed: nothing more can be kept in it", self.path.display()),
            "put its folder back, or begin anew: ohmward chase --new",
        ))
    }
}

/// A line of a journal: on disk when this returns.
pub fn put_line(file: &mut File, line: &str) -> Result<(), Failure> {
    let written = file.write_all(format!("{line}\n").as_bytes()).and_then(|()| file.sync_data());
    written.map_err(|error| {
        Failure::hinted(
            format!("cannot write the trail: {error}"),
            "what was said last is not kept, all before it is; put that right, then go on with the same command",
        )
    })
}

/// Cuts a journal to so many whole bytes and goes to its end. What a crash left of a line is kept beside, so that nothing
/// a person typed is lost.
pub fn cut(file: &mut File, path: &Path, whole: u64) -> Result<(), Failure> {
    if file.metadata()?.len() > whole {
        let mut rest = Vec::new();
        file.seek(SeekFrom::Start(whole))?;
        file.read_to_end(&mut rest)?;
        // Added after what an earlier crash left.
        let beside = OpenOptions::new().create(true).append(true).open(path.with_extension("damaged"));
        let _ = beside.and_then(|mut beside| {
            rest.push(b'\n');
            beside.write_all(&rest).and_then(|()| beside.sync_data())
        });
        file.set_len(whole)?;
        file.sync_data()?;
    }
    file.seek(SeekFrom::End(0))?;
    Ok(())
}

/// Makes a new or renamed file's name durable, where the system can.
pub fn sync_folder(folder: &Path) {
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ohmward::session::Input;

    fn note(text: &str) -> Entry {
        Entry { at: "t".into(), input: Input::Note(text.into()), asked: None }
    }

    #[test]
    fn a_killed_chase_is_found_again_with_all_but_its_cut_line() {
        let folder = tempfile::tempdir().unwrap();
        let trails = Trails::beside(&folder.path().join("wiring.yaml"));
        assert!(trails.unfinished().unwrap().is_none());
        let mut writer = trails.begin(&mut Header::default()).unwrap();
        writer.entry(&note("one")).unwrap();
        writer.file.write_all(b"{\"at\":\"t\",\"inp").unwrap();
        drop(writer);
        let (number, journal) = trails.unfinished().unwrap().unwrap();
        assert_eq!((number, journal.entries.len(), journal.damaged), (1, 1, Some(3)));
        let mut writer = trails.resume(number, journal.whole).unwrap();
        writer.entry(&note("two")).unwrap();
        assert_eq!(trails.read(1).unwrap().entries, [note("one"), note("two")]);
        writer.end("t", "repair").unwrap();
        assert!(trails.unfinished().unwrap().is_none());
        drop(writer);
        let mut header = Header::default();
        trails.begin(&mut header).unwrap();
        assert_eq!(header.number, 2);
    }

    #[test]
    fn lines_added_between_reading_and_locking_are_not_cut_off() {
        let folder = tempfile::tempdir().unwrap();
        let trails = Trails::beside(&folder.path().join("wiring.yaml"));
        let mut writer = trails.begin(&mut Header::default()).unwrap();
        let (number, seen) = trails.unfinished().unwrap().unwrap();
        writer.entry(&note("one")).unwrap();
        drop(writer);
        assert!(trails.resume(number, seen.whole).is_err());
        assert_eq!(trails.read(number).unwrap().entries, [note("one")]);
    }

    #[cfg(unix)]
    #[test]
    fn a_line_into_a_removed_trail_is_not_called_kept() {
        let folder = tempfile::tempdir().unwrap();
        let trails = Trails::beside(&folder.path().join("wiring.yaml"));
        let mut writer = trails.begin(&mut Header::default()).unwrap();
        fs::remove_dir_all(folder.path()).unwrap();
        let Err(Failure::Plain { text, hint }) = writer.entry(&note("one")) else { panic!("kept nowhere") };
        assert!(text.contains("removed") && hint.is_some());
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_said_with_a_way_out() {
        let mut full = OpenOptions::new().write(true).open("/dev/full").unwrap();
        let Err(Failure::Plain { text, hint }) = put_line(&mut full, "{}") else { panic!("written on a full disk") };
        assert!(text.contains("cannot write the trail") && hint.is_some());
    }

    #[test]
    fn a_second_writer_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        let trails = Trails::beside(&folder.path().join("wiring.yaml"));
        let _first = trails.begin(&mut Header::default()).unwrap();
        let Err(Failure::Plain { text, hint }) = trails.begin(&mut Header::default()) else { panic!("both write") };
        assert!(text.contains("only reads") && hint.is_some());
        assert!(trails.read(1).is_ok());
    }
}
