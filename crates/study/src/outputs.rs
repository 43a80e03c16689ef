//! Files written whole, and what was written: the provenance of a study.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::StudyError;
use formkin_tasks::digest::file_hash;

/// The name of the file that says what was written from what.
pub const PROVENANCE: &str = "provenance.json";

/// A file that a study wrote.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Written {
    /// Its path, relative to the folder of the results.
    pub path: String,
    /// What is in it.
    pub what: String,
    /// The stage that wrote it.
    pub stage: String,
    /// Its size.
    pub bytes: u64,
    /// SHA-256 of its content.
    pub sha256: String,
}

/// A file that a study read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Read {
    /// Its path as the study file leads to it.
    pub path: String,
    /// SHA-256 of its content.
    pub sha256: String,
}

/// A stage as it ran.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StageRecord {
    /// Its name.
    pub stage: String,
    /// What its result was made from.
    pub key: String,
    /// Whether an earlier result was kept.
    pub kept: bool,
    /// How long it took, in s.
    pub seconds: f64,
}

/// Everything about how results came to be: `provenance.json`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Provenance {
    /// Program and version.
    pub program: String,
    /// When, in UTC.
    pub made: String,
    /// The study file with every default filled in.
    pub settings: serde_json::Value,
    /// What was read.
    pub inputs: Vec<Read>,
    /// What was done.
    pub stages: Vec<StageRecord>,
    /// What was written.
    pub outputs: Vec<Written>,
}

/// The folder of the results. Files of an earlier run may be replaced; any other file is left alone unless `force`.
#[derive(Debug)]
pub struct Outputs {
    root: PathBuf,
    force: bool,
    earlier: Provenance,
    written: Vec<Written>,
}

impl Outputs {
    /// Opens or makes the folder, and reads what an earlier run wrote there.
    ///
    /// # Errors
    /// [`StudyError::Write`] where the folder cannot be made.
    pub fn open(root: &Path, force: bool) -> Result<Self, StudyError> {
        fs::create_dir_all(root).map_err(|source| StudyError::Write { path: root.to_owned(), source })?;
        let earlier = fs::read(root.join(PROVENANCE))
            .ok()
            .and_then(|bytes| serde_json::from_slice(&bytes).ok())
            .unwrap_or_default();
        Ok(Self { root: root.to_owned(), force, earlier, written: Vec::new() })
    }

    /// The folder.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// What was written so far.
    #[must_use]
    pub fn written(&self) -> &[Written] {
        &self.written
    }

    /// Whether everything that `stage` wrote from the content `key` is still there as it was written. Then it counts as written.
    pub fn kept(&mut self, stage: &str, key: &str) -> bool {
        let same_key = self.earlier.stages.iter().any(|s| s.stage == stage && s.key == key);
        let files: Vec<Written> = self.earlier.outputs.iter().filter(|w| w.stage == stage).cloned().collect();
        let there = same_key && files.iter().all(|w| self.unchanged(w));
        if there {
            self.written.extend(files);
        }
        there
    }

    fn unchanged(&self, file: &Written) -> bool {
        file_hash(&self.root.join(&file.path)).is_ok_and(|hash| hash == file.sha256)
    }

    /// Writes a file whole. Where one is in its place that no earlier run wrote, that is an error unless `force`.
    ///
    /// # Errors
    /// [`StudyError::InTheWay`], [`StudyError::Write`] and what writing refuses.
    pub fn write(&mut self, stage: &str, path: &str, what: &str, bytes: &[u8]) -> Result<(), StudyError> {
        let full = self.root.join(path);
        let ours = path == PROVENANCE || self.earlier.outputs.iter().any(|w| w.path == path);
        if !self.force && !ours && full.exists() {
            return Err(StudyError::InTheWay { path: full });
        }
        if let Some(parent) = full.parent() {
            fs::create_dir_all(parent)
                .map_err(|source| StudyError::Write { path: parent.to_owned(), source })?;
        }
        formkin_cohort::write_whole(&full, bytes, true)?;
        self.written.push(Written {
            path: path.to_owned(),
            what: what.to_owned(),
            stage: stage.to_owned(),
            bytes: bytes.len() as u64,
            sha256: formkin_tasks::digest::hash(bytes),
        });
        Ok(())
    }

    /// Takes away files of the earlier run that this one did not write again and that nobody has changed since.
    pub fn remove_stale(&self) {
        let now: BTreeMap<&str, ()> = self.written.iter().map(|w| (w.path.as_str(), ())).collect();
        for old in &self.earlier.outputs {
            if !now.contains_key(old.path.as_str()) && old.path != PROVENANCE && self.unchanged(old) {
                let _ = fs::remove_file(self.root.join(&old.path));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn finish(outputs: &mut Outputs, key: &str) {
        let provenance = Provenance {
            stages: vec![StageRecord { stage: "a".into(), key: key.into(), kept: false, seconds: 0.0 }],
            outputs: outputs.written().to_vec(),
            ..Provenance::default()
        };
        let bytes = serde_json::to_vec(&provenance).unwrap();
        outputs.write("provenance", PROVENANCE, "", &bytes).unwrap();
        outputs.remove_stale();
    }

    #[test]
    fn a_file_of_somebody_else_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("report.html"), "mine").unwrap();
        let mut outputs = Outputs::open(folder.path(), false).unwrap();
        let e = outputs.write("a", "report.html", "", b"new").unwrap_err();
        assert!(e.to_string().contains("--force"), "{e}");
        assert_eq!(fs::read(folder.path().join("report.html")).unwrap(), b"mine");
    }

    #[test]
    fn files_of_an_earlier_run_are_replaced_kept_or_taken_away() {
        let folder = tempfile::tempdir().unwrap();
        let mut first = Outputs::open(folder.path(), false).unwrap();
        first.write("a", "sizes/one.ply", "", b"1").unwrap();
        first.write("a", "sizes/two.ply", "", b"2").unwrap();
        finish(&mut first, "key");

        let mut again = Outputs::open(folder.path(), false).unwrap();
        assert!(!again.kept("a", "another key"));
        assert!(again.kept("a", "key"));
        fs::write(folder.path().join("sizes/two.ply"), "changed by hand").unwrap();
        let mut changed = Outputs::open(folder.path(), false).unwrap();
        assert!(!changed.kept("a", "key"));
        changed.write("a", "sizes/three.ply", "", b"3").unwrap();
        finish(&mut changed, "key");
        assert!(!folder.path().join("sizes/one.ply").exists());
        assert!(folder.path().join("sizes/two.ply").exists(), "a changed file is not ours to remove");
    }
}
