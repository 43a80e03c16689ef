//! What is wrong with what was asked, before anything runs, and what to do about it.

use std::fmt::Display;
use std::path::Path;

use formkin_table::near::advice;
use serde::Serialize;

use crate::facts::Column;

/// One thing that is wrong with a study file, a command line, or what they name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// The section and the key, such as `compare.by`, or the option, such as `--by`.
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

/// Where the fields of a task were given.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Given {
    /// In a section of a study file.
    Section(String),
    /// On a command line.
    Command,
}

/// Gathers problems of the fields of a task.
#[derive(Debug, Clone)]
pub struct Problems {
    given: Given,
    /// What was found so far.
    pub found: Vec<Problem>,
}

/// A number as a person would write it.
#[must_use]
pub fn shown(value: f64) -> String {
    let size = value.abs();
    if value.is_finite() && size > 0.0 && !(1e-6..1e15).contains(&size) {
        format!("{value:e}")
    } else {
        value.to_string()
    }
}

impl Problems {
    /// None yet.
    #[must_use]
    pub fn new(given: Given) -> Self {
        Self { given, found: Vec::new() }
    }

    /// Whether the fields are those of a study file.
    #[must_use]
    pub fn in_study(&self) -> bool {
        self.given != Given::Command
    }

    /// The name of a field where it was given: `compare.by`, or `--by`; without a field that of the section, or none. A field of an inner table is `strain.smoothing_mm`.
    #[must_use]
    pub fn key(&self, field: &str) -> String {
        match &self.given {
            Given::Section(section) if field.is_empty() => section.clone(),
            Given::Section(section) => format!("{section}.{field}"),
            Given::Command if field.is_empty() => String::new(),
            Given::Command => format!("--{}", field.replace(['_', '.'], "-")),
        }
    }

    /// Something is wrong with a field.
    pub fn wrong(&mut self, field: &str, wrong: impl Display, advice: impl Display) {
        let (wrong, advice) = (wrong.to_string(), advice.to_string());
        self.found.push(Problem { key: self.key(field), wrong, advice });
    }

    /// Two fields of which one may be given.
    pub fn apart(&mut self, field: &str, other: &str) {
        let wrong = format!("it cannot go with {}", self.key(other));
        self.wrong(field, wrong, "leave one of them out");
    }

    /// A field that says nothing without another one.
    pub fn needs(&mut self, field: &str, other: &str) {
        let wrong = format!("it says nothing without {}", self.key(other));
        self.wrong(field, wrong, "add that, or leave this out");
    }

    /// What a reader of files refuses, in its words.
    pub fn refused<T, E: Display>(&mut self, field: &str, made: Result<T, E>) -> Option<T> {
        made.map_err(|e| self.wrong(field, e, "")).ok()
    }

    /// A value that must lie in a range.
    pub fn within(&mut self, field: &str, ok: bool, value: impl Display, range: &str) {
        if !ok {
            self.wrong(field, format!("it is {value}"), format!("it must be {range}"));
        }
    }

    /// A number that must be finite and above 0, where it is given.
    pub fn positive(&mut self, field: &str, value: Option<f64>, unit: &str) {
        if let Some(value) = value.filter(|v| !(*v > 0.0 && v.is_finite())) {
            self.within(field, false, shown(value), &format!("a number of {unit} above 0"));
        }
    }

    /// A frequency that a record of so many frames a second can hold.
    pub fn in_record(&mut self, field: &str, hz: Option<f64>, record: &str, fps: Option<f64>) {
        if let (Some(hz), Some(fps)) = (hz.filter(|hz| *hz > 0.0 && hz.is_finite()), fps) {
            let range = format!("below {:.4} Hz, half the frames a second of `{record}`", fps / 2.0);
            self.within(field, hz < fps / 2.0, shown(hz), &range);
        }
    }

    /// A name that must be one of those that there are.
    pub fn name<'n>(
        &mut self,
        field: &str,
        what: &str,
        name: &str,
        names: impl Iterator<Item = &'n str> + Clone,
    ) -> bool {
        let there = names.clone().any(|n| n == name);
        if !there {
            self.wrong(field, format!("there is no {what} `{name}`"), advice(name, names));
        }
        there
    }

    /// A file that must be there.
    pub fn file(&mut self, field: &str, path: &Path) -> bool {
        if path.is_file() {
            return true;
        }
        let wrong = if path.is_dir() { "is a folder" } else { "is not there" };
        let advice = if self.in_study() { "paths start from the folder of the study file" } else { "" };
        self.wrong(field, format!("the file {} {wrong}", path.display()), advice);
        false
    }

    /// A column that must be there, and hold numbers where they are needed.
    pub fn column(&mut self, field: &str, what: &str, name: &str, columns: &[Column], numbers: bool) -> bool {
        let usable = columns.iter().filter(|c| c.numbers || !numbers).map(|c| c.name.as_str());
        if numbers && columns.iter().any(|c| c.name == name && !c.numbers) {
            let near = advice(name, usable);
            self.wrong(
                field,
                format!("{what} `{name}` holds words, and numbers are needed"),
                format!("of numbers, {near}"),
            );
            return false;
        }
        self.name(field, what, name, usable)
    }
}
