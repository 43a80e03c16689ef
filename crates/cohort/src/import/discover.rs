//! Files that match patterns.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use crate::CohortError;
use crate::names::natural_order;
use crate::read::Format;

/// What a file is by its ending.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// One mesh.
    Mesh,
    /// Positions of many frames.
    Npy,
}

impl Kind {
    fn of(path: &Path) -> Option<Self> {
        let npy = path.extension().is_some_and(|e| e.eq_ignore_ascii_case("npy"));
        if npy { Some(Self::Npy) } else { Format::of(path).ok().map(|_| Self::Mesh) }
    }
}

/// A file to import.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Found {
    pub(crate) path: PathBuf,
    pub(crate) kind: Kind,
}

impl Found {
    /// Its name without ending.
    pub(crate) fn stem(&self) -> String {
        self.path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
    }

    /// Its name with ending.
    pub(crate) fn name(&self) -> String {
        self.path.file_name().unwrap_or_default().to_string_lossy().into_owned()
    }

    /// Name of the folder it is in; empty where that has none.
    pub(crate) fn folder(&self) -> String {
        let parent = self.path.parent().unwrap_or(Path::new(""));
        parent.file_name().unwrap_or_default().to_string_lossy().into_owned()
    }
}

/// All mesh and NPY files that the patterns name: files as they are, folders with everything in them, globs. Every file
/// comes once, in the order of its path with numbers taken as numbers. `except` are files that are something else, such as
/// the template.
pub(crate) fn discover(patterns: &[String], except: &[PathBuf]) -> Result<Vec<Found>, CohortError> {
    let mut paths: Vec<PathBuf> = Vec::new();
    for pattern in patterns {
        let before = paths.len();
        let plain = Path::new(pattern);
        if plain.is_file() {
            if Kind::of(plain).is_none() {
                return Err(CohortError::UnknownFormat { file: plain.to_owned() });
            }
            paths.push(plain.to_owned());
        } else if plain.is_dir() {
            walk(plain, &mut paths)?;
        } else {
            let options =
                glob::MatchOptions { require_literal_leading_dot: true, ..glob::MatchOptions::new() };
            let found = glob::glob_with(pattern, options)
                .map_err(|e| CohortError::Pattern { pattern: pattern.clone(), reason: e.msg.to_owned() })?;
            for entry in found {
                let path = entry.map_err(|e| {
                    let path = e.path().to_owned();
                    CohortError::Io { path, action: "read", source: e.into() }
                })?;
                if path.is_dir() {
                    walk(&path, &mut paths)?;
                } else if Kind::of(&path).is_some() {
                    paths.push(path);
                }
            }
        }
        if paths.len() == before {
            return Err(CohortError::NoFiles { patterns: vec![pattern.clone()] });
        }
    }
    let same = |p: &Path| fs::canonicalize(p).unwrap_or_else(|_| p.to_owned());
    let mut seen: BTreeSet<PathBuf> = except.iter().map(|p| same(p)).collect();
    paths.retain(|p| seen.insert(same(p)));
    paths.sort_by(|a, b| natural_order(&a.to_string_lossy(), &b.to_string_lossy()));
    let found: Vec<Found> =
        paths.into_iter().filter_map(|path| Kind::of(&path).map(|kind| Found { path, kind })).collect();
    if found.is_empty() {
        return Err(CohortError::NoFiles { patterns: patterns.to_vec() });
    }
    Ok(found)
}

/// Everything in a folder and the folders in it, hidden ones and cohorts aside.
fn walk(folder: &Path, into: &mut Vec<PathBuf>) -> Result<(), CohortError> {
    let entries = fs::read_dir(folder).map_err(CohortError::io(folder, "read"))?;
    for entry in entries {
        let entry = entry.map_err(CohortError::io(folder, "read"))?;
        let (path, name) = (entry.path(), entry.file_name());
        let kind = entry.file_type().map_err(CohortError::io(&path, "read"))?;
        if name.to_string_lossy().starts_with('.') {
            continue;
        }
        if kind.is_dir() {
            let cohort = path.join("cohort.json").exists() || path.join("journal.jsonl").exists();
            if !cohort {
                walk(&path, into)?;
            }
        } else if Kind::of(&path).is_some() {
            into.push(path);
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_folders_and_globs_give_every_file_once_in_order() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir_all(at("a/b")).unwrap();
        for name in ["a/s_10.obj", "a/s_9.OBJ", "a/b/m.npy", "a/note.txt", "a/.hidden.obj", "t.ply"] {
            fs::write(at(name), "").unwrap();
        }
        let text = |name: &str| at(name).to_string_lossy().into_owned();
        let names = |patterns: &[String], except: &[PathBuf]| {
            discover(patterns, except).map(|f| f.iter().map(Found::name).collect::<Vec<_>>())
        };
        let wanted = ["m.npy", "s_9.OBJ", "s_10.obj"];
        assert_eq!(names(&[text("a")], &[]).unwrap(), wanted);
        assert_eq!(names(&[text("a/**/*"), text("a/s_10.obj")], &[]).unwrap(), wanted);
        assert_eq!(names(&[text("")], &[at("t.ply")]).unwrap(), wanted);
        assert!(matches!(names(&[text("a/note.txt")], &[]), Err(CohortError::UnknownFormat { .. })));
        assert!(matches!(names(&[text("a"), text("b/*.ply")], &[]), Err(CohortError::NoFiles { .. })));
        assert!(matches!(names(&[text("***")], &[]), Err(CohortError::Pattern { .. })));
        fs::create_dir(at("empty")).unwrap();
        let error = names(&[text("empty")], &[]).unwrap_err().to_string();
        assert!(error.contains("empty"), "{error}");
    }
}
