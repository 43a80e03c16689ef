//! Results kept by the content they were made from.

use std::fs;
use std::path::{Path, PathBuf};

use formkin_tasks::digest::hex;
use serde::Serialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

use crate::StudyError;

/// Counts up when the meaning of a cached result changes without a change of the program's version.
const CACHE_FORMAT: u32 = 2;

/// What a result was made from: SHA-256 over the stage, the program's version, the settings and the keys of its inputs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Key(String);

impl Key {
    /// The key of a stage with these settings over these inputs.
    ///
    /// # Errors
    /// [`StudyError::Json`] where the settings cannot be written down.
    pub fn of(stage: &str, settings: &impl Serialize, inputs: &[&Key]) -> Result<Self, StudyError> {
        let settings = serde_json::to_vec(settings)
            .map_err(|source| StudyError::Json { stage: stage.to_owned(), source })?;
        let mut hasher = Sha256::new();
        for part in
            [stage.as_bytes(), env!("CARGO_PKG_VERSION").as_bytes(), &CACHE_FORMAT.to_le_bytes(), &settings]
        {
            hasher.update((part.len() as u64).to_le_bytes());
            hasher.update(part);
        }
        for input in inputs {
            hasher.update(input.0.as_bytes());
        }
        Ok(Self(hex(&hasher.finalize())))
    }

    /// The key of a task of a version with these settings, over results with these keys.
    ///
    /// # Errors
    /// [`StudyError::Json`] where the settings cannot be written down.
    pub fn of_task(
        name: &str,
        version: u32,
        settings: &impl Serialize,
        inputs: &[&str],
    ) -> Result<Self, StudyError> {
        let inputs: Vec<Self> = inputs.iter().map(|key| Self((*key).to_owned())).collect();
        Self::of(name, &(version, settings), &inputs.iter().collect::<Vec<_>>())
    }

    /// The key of content whose SHA-256, in hexadecimal, is known.
    #[must_use]
    pub fn from_hash(sha256: String) -> Self {
        Self(sha256)
    }

    /// The key in hexadecimal.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

/// A folder of results, one file a stage: the key on the first line, then the result as MessagePack.
#[derive(Debug)]
pub struct Cache {
    folder: PathBuf,
    ignore: bool,
}

impl Cache {
    /// A cache in `folder`; with `ignore` nothing is taken from it.
    #[must_use]
    pub fn new(folder: PathBuf, ignore: bool) -> Self {
        Self { folder, ignore }
    }

    /// The kept result of `stage` where it was made from the same content; otherwise what `make` makes, which is then
    /// kept. The second value says whether it was kept. A damaged cache file is made anew, never an error.
    ///
    /// # Errors
    /// What `make` returns, and [`StudyError::Json`] where the result cannot be kept.
    pub fn stage<T: Serialize + DeserializeOwned>(
        &self,
        stage: &str,
        key: &Key,
        make: impl FnOnce() -> Result<T, StudyError>,
    ) -> Result<(T, bool), StudyError> {
        let path = self.path(stage);
        if !self.ignore
            && let Some(found) = read_kept(&path, key)
        {
            return Ok((found, true));
        }
        let made = make()?;
        let mut bytes = format!("{}\n", key.0).into_bytes();
        rmp_serde::encode::write_named(&mut bytes, &made)
            .map_err(|source| StudyError::Kept { stage: stage.to_owned(), source })?;
        fs::create_dir_all(&self.folder)
            .map_err(|source| StudyError::Write { path: self.folder.clone(), source })?;
        formkin_cohort::write_whole(&path, &bytes, true)?;
        Ok((made, false))
    }
}

impl Cache {
    /// Whether a result of `stage` made from this content is kept.
    #[must_use]
    pub fn has<T: DeserializeOwned>(&self, stage: &str, key: &Key) -> bool {
        !self.ignore && read_kept::<T>(&self.path(stage), key).is_some()
    }

    /// Drops the kept result of `stage`.
    pub fn forget(&self, stage: &str) {
        let _ = fs::remove_file(self.path(stage));
    }

    fn path(&self, stage: &str) -> PathBuf {
        self.folder.join(format!("{stage}.msgpack"))
    }
}

fn read_kept<T: DeserializeOwned>(path: &Path, key: &Key) -> Option<T> {
    let bytes = fs::read(path).ok()?;
    let rest = bytes.strip_prefix(key.0.as_bytes())?.strip_prefix(b"\n")?;
    rmp_serde::from_slice(rest).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_result_is_made_once_and_again_when_its_content_changes() {
        let folder = tempfile::tempdir().unwrap();
        let cache = Cache::new(folder.path().join("cache"), false);
        let key = Key::of("double", &3, &[]).unwrap();
        let make = || Ok::<_, StudyError>(vec![6.0, f64::NAN]);
        let (first, kept) = cache.stage("double", &key, make).unwrap();
        assert!(!kept && first[0] == 6.0);
        let (second, kept) = cache.stage("double", &key, || panic!("made twice")).unwrap();
        let second: Vec<f64> = second;
        assert!(kept && second[1].is_nan());
        let other = Key::of("double", &4, &[&key]).unwrap();
        assert_ne!(other, key);
        assert!(!cache.stage("double", &other, make).unwrap().1);
    }

    #[test]
    fn a_damaged_cache_is_made_anew() {
        let folder = tempfile::tempdir().unwrap();
        let cache = Cache::new(folder.path().to_owned(), false);
        let key = Key::of("x", &(), &[]).unwrap();
        fs::write(folder.path().join("x.msgpack"), format!("{}\nrubbish", key.as_str())).unwrap();
        let (made, kept) = cache.stage("x", &key, || Ok(vec![1u32, 2])).unwrap();
        assert_eq!((made, kept), (vec![1, 2], false));
    }
}
