//! Files written whole or not at all.

use super::error::Failure;
use super::journal::sync_folder;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Writes a new file whole, synced; what somebody else has put there meanwhile is left as it is.
pub fn create(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let failed = |error: &std::io::Error| Failure::file("write", path, error);
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(|e| failed(&e))?;
    file.write_all(bytes).map_err(|e| failed(&e))?;
    open_to_read(file.as_file()).map_err(|e| failed(&e))?;
    file.as_file().sync_all().map_err(|e| failed(&e))?;
    file.persist_noclobber(path).map_err(|failure| match failure.error.kind() {
        std::io::ErrorKind::AlreadyExists => Failure::hinted(
            format!("{} was put there meanwhile; it is left as it is", path.display()),
            "to use that one: ohmward chase --new",
        ),
        _ => failed(&failure.error),
    })?;
    sync_folder(folder);
    Ok(())
}

/// Writes a file beside its place and puts it there at once, synced: a reader sees the old or the new text, never a half.
pub fn replace(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let shown = path;
    let failed = |error: &std::io::Error| Failure::file("write", shown, error);
    // A link stays a link: what it points at is replaced.
    let path: PathBuf = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(|e| failed(&e))?;
    file.write_all(bytes).map_err(|e| failed(&e))?;
    match fs::metadata(&path) {
        Ok(old) => file.as_file().set_permissions(old.permissions()).map_err(|e| failed(&e))?,
        Err(_) => open_to_read(file.as_file()).map_err(|e| failed(&e))?,
    }
    file.as_file().sync_all().map_err(|e| failed(&e))?;
    file.persist(&path).map_err(|e| failed(&e.error))?;
    sync_folder(folder);
    Ok(())
}

/// A temporary file is for its owner only; a new file of this program can be read like any other.
#[cfg(unix)]
fn open_to_read(file: &fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn open_to_read(_file: &fs::File) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_there_is_not_created_over() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("wiring.yaml");
        create(&path, b"one").unwrap();
        assert!(create(&path, b"two").is_err());
        assert_eq!(fs::read(&path).unwrap(), b"one");
    }

    #[test]
    fn replaces_what_stands_there_and_keeps_a_link() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notes.md");
        replace(&path, b"one").unwrap();
        replace(&path, b"two").unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        #[cfg(unix)]
        {
            let link = folder.path().join("link.md");
            std::os::unix::fs::symlink(&path, &link).unwrap();
            replace(&link, b"three").unwrap();
            assert_eq!(fs::read(&path).unwrap(), b"three");
            assert!(fs::symlink_metadata(&link).unwrap().file_type().is_symlink());
        }
    }
}
