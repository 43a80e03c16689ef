//! Files that are written whole or not at all.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use crate::CohortError;

/// Writes a file whole or not at all: into a sibling with an ending of its own, flushed to the disk, then renamed.
///
/// # Errors
/// [`CohortError::AlreadyExists`] where the file is there and `force` is not set; [`CohortError::Io`].
pub fn write_whole(path: &Path, bytes: &[u8], force: bool) -> Result<(), CohortError> {
    refuse_existing(path, force)?;
    let part = part_of(path);
    let written = File::create(&part)
        .and_then(|mut f| f.write_all(bytes).and_then(|()| f.sync_all()))
        .and_then(|()| fs::rename(&part, path));
    if let Err(source) = written {
        let _ = fs::remove_file(&part);
        return Err(CohortError::io(path, "write")(source));
    }
    sync_folder(path);
    Ok(())
}

/// # Errors
/// [`CohortError::AlreadyExists`] where something is there and `force` is not set.
pub(crate) fn refuse_existing(path: &Path, force: bool) -> Result<(), CohortError> {
    if !force && fs::symlink_metadata(path).is_ok() {
        return Err(CohortError::AlreadyExists { path: path.to_owned() });
    }
    Ok(())
}

/// `name.part-PROCESS` beside `name`, so that two programs do not write into each other's file.
fn part_of(path: &Path) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".part-{}", std::process::id()));
    path.with_file_name(name)
}

/// Makes a rename last: flushes the folder that holds `path`. Systems that cannot open a folder are let off.
pub(crate) fn sync_folder(path: &Path) {
    let folder = match path.parent() {
        Some(p) if !p.as_os_str().is_empty() => p,
        _ => Path::new("."),
    };
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_replaced_only_when_forced_and_leaves_no_rest() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.txt");
        write_whole(&path, b"one", false).unwrap();
        assert!(matches!(write_whole(&path, b"two", false), Err(CohortError::AlreadyExists { .. })));
        assert_eq!(fs::read(&path).unwrap(), b"one");
        write_whole(&path, b"two", true).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_target_that_cannot_be_written_is_an_error_that_names_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("missing").join("a.txt");
        let error = write_whole(&path, b"one", false).unwrap_err();
        assert!(error.to_string().contains("a.txt"), "{error}");
    }
}
