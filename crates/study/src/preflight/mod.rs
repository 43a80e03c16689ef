//! What is wrong with a study before any of its stages is run: keys, ranges, names and files of every section, all told at once.
//!
//! | module | what it holds |
//! |---|---|
//! | `parse` | the file read key by key, so that one fault does not hide the next |
//! | `known` | what the data bring: people, columns, captures, the names of the template, the definitions |
//! | `shape` | input, alignment, shape space, dimensions, predictions, questions |
//! | `motion` | captures of meshes |
//! | `points` | trajectories of points |
//! | `sizing` | the size system |

mod known;
mod motion;
mod parse;
mod points;
mod shape;
mod sizing;
#[cfg(test)]
mod tests;

use std::fmt::Display;
use std::path::{Path, PathBuf};

use formkin_table::near::advice;
use serde::Serialize;

use crate::StudyFile;
use known::Known;
use parse::Parsed;

/// One thing that is wrong with a study file or what it names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// The section and the key, such as `shape.compare`.
    pub key: String,
    /// What is wrong.
    pub wrong: String,
    /// What to do: near names, or what is allowed.
    pub advice: String,
}

impl Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if !self.key.is_empty() {
            write!(f, "{}: ", self.key)?;
        }
        write!(f, "{}", self.wrong)?;
        if self.advice.is_empty() { Ok(()) } else { write!(f, "; {}", self.advice) }
    }
}

/// Reads a study file's text and checks it against the files it names, relative to `folder`.
pub(crate) fn check(text: &str, folder: &Path) -> Result<StudyFile, Vec<Problem>> {
    let Parsed { file, input, problems } = parse::parse(text).map_err(|p| vec![p])?;
    let mut check = Check { file: &file, input, folder, problems };
    let known = Known::of(&mut check);
    check.shape(&known);
    check.motion(&known);
    check.points();
    check.sizing(&known);
    let mut problems: Vec<Problem> = Vec::new();
    for problem in check.problems {
        if !problems.contains(&problem) {
            problems.push(problem);
        }
    }
    if problems.is_empty() { Ok(file) } else { Err(problems) }
}

/// A number as people write it: with a power of ten where it is very large or very small.
fn shown(value: f64) -> String {
    let size = value.abs();
    if value.is_finite() && size > 0.0 && !(1e-6..1e15).contains(&size) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}

/// A check in progress.
pub(crate) struct Check<'a> {
    pub(crate) file: &'a StudyFile,
    /// Whether the study says where the data are.
    input: bool,
    folder: &'a Path,
    problems: Vec<Problem>,
}

impl Check<'_> {
    pub(crate) fn at(&self, path: &Path) -> PathBuf {
        self.folder.join(path)
    }

    pub(crate) fn wrong(&mut self, key: &str, wrong: impl Display, advice: impl Display) {
        let (wrong, advice) = (wrong.to_string(), advice.to_string());
        self.problems.push(Problem { key: key.to_owned(), wrong, advice });
    }

    /// What a reader of files refuses, in its words.
    pub(crate) fn refused<T, E: Display>(&mut self, key: &str, made: Result<T, E>) -> Option<T> {
        match made {
            Ok(made) => Some(made),
            Err(e) => {
                self.wrong(key, e, "");
                None
            }
        }
    }

    pub(crate) fn word(&mut self, key: &str, word: &str, allowed: &[&str]) {
        if !allowed.contains(&word) {
            let near = advice(word, allowed.iter().copied());
            self.wrong(key, format!("there is no `{word}`"), near);
        }
    }

    pub(crate) fn within(&mut self, key: &str, ok: bool, value: impl Display, range: &str) {
        if !ok {
            self.wrong(key, format!("it is {value}"), format!("it must be {range}"));
        }
    }

    /// Above 0 and finite, where it is given.
    pub(crate) fn positive(&mut self, key: &str, value: Option<f64>, unit: &str) {
        if let Some(value) = value.filter(|v| !(*v > 0.0 && v.is_finite())) {
            self.within(key, false, shown(value), &format!("a number of {unit} above 0"));
        }
    }

    /// A frequency that a record of so many frames a second can hold.
    pub(crate) fn in_record(&mut self, key: &str, hz: Option<f64>, record: &str, fps: Option<f64>) {
        if let (Some(hz), Some(fps)) = (hz.filter(|hz| *hz > 0.0 && hz.is_finite()), fps) {
            let range = format!("below {:.4} Hz, half the frames a second of `{record}`", fps / 2.0);
            self.within(key, hz < fps / 2.0, shown(hz), &range);
        }
    }

    /// A name that must be one of those that there are.
    pub(crate) fn name<'n>(
        &mut self,
        key: &str,
        what: &str,
        name: &str,
        names: impl Iterator<Item = &'n str> + Clone,
    ) -> bool {
        let there = names.clone().any(|n| n == name);
        if !there {
            self.wrong(key, format!("there is no {what} `{name}`"), advice(name, names));
        }
        there
    }
}
