//! The folder that an import grows in: `NAME.cohort.part`, beside the cohort to be.
//!
//! Positions are written in batches. After each the data is flushed, then a line about the batch is added to
//! `journal.jsonl` and flushed too. An import that was stopped goes on after the last batch whose line is whole, whose
//! sources have the size and the time of change they had, and whose data is there.

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::CohortError;
use crate::npy_header;
use crate::write::{sync_folder, write_whole};

const JOURNAL: &str = "journal.jsonl";
const LOCK: &str = "lock";

/// What the positions depend on; another heading makes the batches useless.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Heading {
    pub(crate) format_version: u32,
    pub(crate) template_hash: String,
    pub(crate) vertices: usize,
    pub(crate) unit: String,
    pub(crate) up: String,
    pub(crate) reference_mm: f64,
}

/// A finished batch: for every source its stamp and what became of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Batch {
    pub(crate) target: String,
    pub(crate) stamps: Vec<String>,
    /// `None` for an accepted item, else the reason why not.
    pub(crate) refused: Vec<Option<String>>,
}

impl Batch {
    pub(crate) fn rows(&self) -> usize {
        self.refused.iter().filter(|r| r.is_none()).count()
    }
}

/// The growing folder.
#[derive(Debug)]
pub(crate) struct Part {
    pub(crate) folder: PathBuf,
    vertices: usize,
    journal: File,
    /// Batches of the import before, by target, in order.
    pub(crate) before: BTreeMap<String, Vec<Batch>>,
    /// Held until the import is over.
    _lock: File,
}

/// `NAME.cohort.part` beside `NAME.cohort`.
pub(crate) fn beside(into: &Path, ending: &str) -> PathBuf {
    let mut name = into.file_name().unwrap_or_default().to_owned();
    name.push(ending);
    into.with_file_name(name)
}

impl Part {
    /// Opens the folder. What an import before has left is used where `resume` is set and the heading is the same, and
    /// removed otherwise.
    pub(crate) fn open(into: &Path, heading: &Heading, resume: bool) -> Result<Self, CohortError> {
        let folder = beside(into, ".part");
        fs::create_dir_all(folder.join("positions")).map_err(CohortError::io(&folder, "make the folder"))?;
        let lock_path = folder.join(LOCK);
        let lock = File::create(&lock_path).map_err(CohortError::io(&lock_path, "write"))?;
        if let Err(fs::TryLockError::WouldBlock) = lock.try_lock() {
            return Err(CohortError::Setting {
                setting: "into",
                reason: format!("another import is writing {}; wait until it is done", folder.display()),
            });
        }
        let path = folder.join(JOURNAL);
        let mut before = if resume { read_journal(&path, heading) } else { BTreeMap::new() };
        for (target, batches) in &mut before {
            let length = fs::metadata(folder.join("positions").join(target)).map_or(0, |m| m.len());
            let mut rows = 0;
            let whole = batches.iter().take_while(|b| {
                rows += b.rows();
                length >= (128 + 12 * heading.vertices * rows) as u64
            });
            let whole = whole.count();
            batches.truncate(whole);
        }
        before.retain(|_, batches| !batches.is_empty());
        for entry in fs::read_dir(folder.join("positions")).map_err(CohortError::io(&folder, "read"))? {
            let entry = entry.map_err(CohortError::io(&folder, "read"))?;
            if !before.contains_key(entry.file_name().to_string_lossy().as_ref()) {
                fs::remove_file(entry.path()).map_err(CohortError::io(&entry.path(), "remove"))?;
            }
        }
        let journal = OpenOptions::new()
            .append(true)
            .create(true)
            .open(&path)
            .map_err(CohortError::io(&path, "write"))?;
        Ok(Self { folder, vertices: heading.vertices, journal, before, _lock: lock })
    }

    /// Starts the journal with the batches of the import before that are kept.
    pub(crate) fn keep<'a>(
        &mut self,
        heading: &Heading,
        kept: impl Iterator<Item = &'a Batch>,
    ) -> Result<(), CohortError> {
        let path = self.folder.join(JOURNAL);
        let mut text = json_line(heading)?;
        for batch in kept {
            text.push_str(&json_line(batch)?);
        }
        write_whole(&path, text.as_bytes(), true)?;
        self.journal =
            OpenOptions::new().append(true).open(&path).map_err(CohortError::io(&path, "write"))?;
        Ok(())
    }

    /// Opens a file of positions that keeps so many rows of the import before.
    pub(crate) fn target(&self, name: &str, keep: usize) -> Result<TargetFile, CohortError> {
        let path = self.folder.join("positions").join(name);
        let open = || -> std::io::Result<File> {
            let mut file =
                OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path)?;
            let end = (128 + 12 * self.vertices * keep) as u64;
            file.set_len(end)?;
            file.write_all(&npy_header::header("<f4", &[keep, self.vertices, 3]))?;
            file.seek(SeekFrom::Start(end))?;
            Ok(file)
        };
        let file = open().map_err(CohortError::io(&path, "write"))?;
        Ok(TargetFile { path, file, vertices: self.vertices, rows: keep })
    }

    /// Notes a finished batch; its data is on the disk by now.
    pub(crate) fn note(&mut self, batch: &Batch) -> Result<(), CohortError> {
        let line = json_line(batch)?;
        let path = self.folder.join(JOURNAL);
        self.journal
            .write_all(line.as_bytes())
            .and_then(|()| self.journal.sync_data())
            .map_err(CohortError::io(&path, "write"))
    }

    /// Turns the folder into the cohort, in place of one that may be there.
    pub(crate) fn finish(self, into: &Path) -> Result<(), CohortError> {
        for name in [JOURNAL, LOCK] {
            let path = self.folder.join(name);
            fs::remove_file(&path).map_err(CohortError::io(&path, "remove"))?;
        }
        sync_folder(&self.folder.join("positions").join("x"));
        sync_folder(&self.folder.join("x"));
        let old = beside(into, ".replaced");
        let replaced = into.exists();
        if replaced {
            fs::rename(into, &old).map_err(CohortError::io(into, "rename"))?;
        }
        if let Err(source) = fs::rename(&self.folder, into) {
            if replaced {
                let _ = fs::rename(&old, into);
            }
            return Err(CohortError::io(into, "write")(source));
        }
        sync_folder(into);
        if replaced {
            fs::remove_dir_all(&old).map_err(CohortError::io(&old, "remove"))?;
        }
        Ok(())
    }
}

/// Puts back a cohort that an import was about to replace when it was stopped, and removes one that it had replaced.
pub(crate) fn recover(into: &Path) -> Result<(), CohortError> {
    let old = beside(into, ".replaced");
    if !old.join("cohort.json").is_file() {
        return Ok(());
    }
    if into.exists() {
        fs::remove_dir_all(&old).map_err(CohortError::io(&old, "remove"))
    } else {
        fs::rename(&old, into).map_err(CohortError::io(into, "rename"))
    }
}

fn json_line(value: &impl Serialize) -> Result<String, CohortError> {
    serde_json::to_string(value)
        .map(|line| line + "\n")
        .map_err(|e| CohortError::Setting { setting: "journal", reason: e.to_string() })
}

/// The batches of a journal with the same heading, up to the first line that is not whole.
fn read_journal(path: &Path, heading: &Heading) -> BTreeMap<String, Vec<Batch>> {
    let mut batches: BTreeMap<String, Vec<Batch>> = BTreeMap::new();
    let text = fs::read_to_string(path).unwrap_or_default();
    let mut lines = text.split_inclusive('\n');
    let same =
        lines.next().and_then(|l| serde_json::from_str::<Heading>(l).ok()).is_some_and(|h| h == *heading);
    if same {
        for batch in
            lines.map_while(|l| l.strip_suffix('\n')).map_while(|l| serde_json::from_str::<Batch>(l).ok())
        {
            batches.entry(batch.target.clone()).or_default().push(batch);
        }
    }
    batches
}

/// A file of positions that grows.
#[derive(Debug)]
pub(crate) struct TargetFile {
    path: PathBuf,
    file: File,
    vertices: usize,
    rows: usize,
}

impl TargetFile {
    /// Adds rows, each the little-endian bytes of its positions, and flushes them to the disk.
    pub(crate) fn add<'a>(&mut self, rows: impl Iterator<Item = &'a [u8]>) -> Result<(), CohortError> {
        let write = || -> std::io::Result<usize> {
            let mut added = 0;
            for row in rows {
                self.file.write_all(row)?;
                added += 1;
            }
            self.file.sync_data()?;
            Ok(added)
        };
        self.rows += write().map_err(CohortError::io(&self.path, "write"))?;
        Ok(())
    }

    /// Writes the number of rows into the header; a file without rows is removed. Gives back that number.
    pub(crate) fn finish(mut self) -> Result<usize, CohortError> {
        if self.rows == 0 {
            fs::remove_file(&self.path).map_err(CohortError::io(&self.path, "remove"))?;
            return Ok(0);
        }
        let header = npy_header::header("<f4", &[self.rows, self.vertices, 3]);
        self.file
            .seek(SeekFrom::Start(0))
            .and_then(|_| self.file.write_all(&header))
            .and_then(|()| self.file.sync_all())
            .map_err(CohortError::io(&self.path, "write"))?;
        Ok(self.rows)
    }
}

/// Size and time of change of a file, by which it is known again. Another file under the name has another stamp.
pub(crate) fn stamp(path: &Path, row: Option<usize>) -> String {
    let (size, changed) = fs::metadata(path).map_or((0, 0), |m| {
        let changed = m.modified().ok().and_then(|t| t.duration_since(std::time::UNIX_EPOCH).ok());
        (m.len(), changed.map_or(0, |d| d.as_nanos()))
    });
    let row = row.map(|r| format!("#{r}")).unwrap_or_default();
    format!("{}{row}|{size}|{changed}", path.display())
}
