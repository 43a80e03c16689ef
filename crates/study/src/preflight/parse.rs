//! A study file read key by key, so that one fault does not hide the next.

use formkin_table::near::advice;
use formkin_table::wording::{at_line, parted, plain};
use serde::de::DeserializeOwned;
use toml::{Table, Value};

use super::Problem;
use crate::StudyFile;
use crate::file::{ExportSection, Input};

const SECTIONS: [&str; 12] = [
    "title",
    "description",
    "input",
    "align",
    "space",
    "dimensions",
    "predict",
    "shape",
    "motion",
    "points",
    "sizing",
    "export",
];
/// Keys that hold tables.
const TABLES: [&str; 20] = [
    "input",
    "align",
    "space",
    "dimensions",
    "predict",
    "shape",
    "motion",
    "motion.cycles",
    "motion.tissue",
    "motion.tissue.axes",
    "motion.strain",
    "motion.dynamics",
    "motion.posture",
    "motion.shared",
    "points",
    "points.settings",
    "points.settings.axes",
    "points.settings.cycles",
    "sizing",
    "export",
];

/// What could be read.
pub(super) struct Parsed {
    /// What the text says, with defaults in place of what cannot be read.
    pub(super) file: StudyFile,
    /// Whether it says where the data are.
    pub(super) input: bool,
    /// What could not be read.
    pub(super) problems: Vec<Problem>,
}

/// Reads a text; what is wrong where it is no TOML.
pub(super) fn parse(text: &str) -> Result<Parsed, Problem> {
    let mut problems = Vec::new();
    let mut table: Table = match toml::from_str(text.trim_start_matches('\u{feff}')) {
        Ok(table) => table,
        Err(e) => {
            let e: toml::de::Error = e;
            let wrong = at_line(text, e.span().map(|s| s.start), e.message());
            return Err(problem("", &wrong, "docs/formats.md describes the study file"));
        }
    };
    for key in table.keys().filter(|k| !SECTIONS.contains(&k.as_str())) {
        let near = advice(key, SECTIONS.into_iter());
        problems.push(problem(key, "there is no such key or section in a study file", &near));
    }
    lists(&mut table, &mut problems);
    let title = take::<String>(&mut table, "title", &mut problems);
    if title.as_ref().is_some_and(|t| t.trim().is_empty()) {
        problems.push(problem("title", "it is empty", "name the study: the report is headed with it"));
    }
    if title.is_none() && !problems.iter().any(|p| p.key == "title") {
        problems.push(problem("title", "it is missing", "name the study: title = \"...\""));
    }
    let input = take::<Input>(&mut table, "input", &mut problems);
    if input.is_none() && !problems.iter().any(|p| p.key.starts_with("input")) {
        problems.push(problem(
            "input",
            "the section is missing",
            "say where the data are: [input] meshes = [\"scans/*.ply\"]",
        ));
    }
    let there = input.is_some();
    let p = &mut problems;
    let file = StudyFile {
        title: title.unwrap_or_default(),
        description: take(&mut table, "description", p).unwrap_or_default(),
        align: take(&mut table, "align", p).unwrap_or_default(),
        space: take(&mut table, "space", p).unwrap_or_default(),
        dimensions: take(&mut table, "dimensions", p),
        predict: take(&mut table, "predict", p),
        shape: take(&mut table, "shape", p).unwrap_or_default(),
        motion: take(&mut table, "motion", p).unwrap_or_default(),
        points: take(&mut table, "points", p),
        sizing: take(&mut table, "sizing", p),
        export: take::<ExportSection>(&mut table, "export", p).unwrap_or_default(),
        input: input.unwrap_or_else(|| Input {
            meshes: Vec::new(),
            participants: None,
            template: None,
            unit: "auto".to_owned(),
            up: "auto".to_owned(),
            fps: None,
        }),
    };
    Ok(Parsed { file, input: there, problems })
}

/// Takes out lists where tables belong: the reader would take an empty list for a table of defaults.
fn lists(table: &mut Table, problems: &mut Vec<Problem>) {
    for path in TABLES {
        let (before, last) = path.rsplit_once('.').map_or((None, path), |(b, l)| (Some(b), l));
        let holder = before
            .into_iter()
            .flat_map(|b| b.split('.'))
            .try_fold(&mut *table, |at, step| at.get_mut(step).and_then(Value::as_table_mut));
        if let Some(holder) = holder
            && holder.get(last).is_some_and(Value::is_array)
        {
            holder.remove(last);
            problems.push(problem(path, "it is a list", "it must be a table of keys and values"));
        }
    }
}

fn problem(key: &str, wrong: &str, advice: &str) -> Problem {
    Problem { key: key.to_owned(), wrong: wrong.to_owned(), advice: advice.to_owned() }
}

/// The section of this name; keys that cannot be read are told, taken out and left to their defaults.
fn take<T: DeserializeOwned>(table: &mut Table, section: &str, problems: &mut Vec<Problem>) -> Option<T> {
    // in a table of its own, so that the reader names the whole path of what it refuses
    let mut value = Value::Table(Table::from_iter([(section.to_owned(), table.remove(section)?)]));
    let mut removed = Vec::new();
    loop {
        let fault = match value.clone().try_into::<std::collections::BTreeMap<String, T>>() {
            Ok(mut made) => return made.remove(section),
            Err(e) => e.to_string(),
        };
        let (message, path) = parted(&fault);
        let path: Vec<String> = path.unwrap_or(section).split('.').map(str::to_owned).collect();
        let (key, told) = match unknown(message) {
            Some((key, wanted)) => {
                let mut whole = path.clone();
                if whole.last().map(String::as_str) != Some(key) {
                    whole.push(key.to_owned());
                }
                let near = advice(key, wanted.iter().map(String::as_str));
                let told = problem(&whole.join("."), "there is no such key", &near);
                (whole, told)
            }
            None => {
                let missing = message.strip_prefix("missing field `").map(|m| m.trim_end_matches('`'));
                if let Some(missing) = missing {
                    let key = format!("{}.{missing}", path.join("."));
                    if !removed.contains(&key) {
                        problems.push(problem(&key, "it is missing", "add it; docs/formats.md describes it"));
                    }
                    return None;
                }
                let said = plain(message);
                let (wrong, advice) = said.split_once("; ").unwrap_or((&said, ""));
                (path.clone(), problem(&path.join("."), wrong, advice))
            }
        };
        removed.push(key.join("."));
        problems.push(told);
        if !remove(&mut value, &key) || removed.len() > 100 {
            return None;
        }
    }
}

/// The key and the allowed ones of `unknown field`.
fn unknown(message: &str) -> Option<(&str, Vec<String>)> {
    let (key, wanted) = message.strip_prefix("unknown field `")?.split_once('`')?;
    Some((key, wanted.split('`').skip(1).step_by(2).map(str::to_owned).collect()))
}

/// Takes a key out; false where it is not there.
fn remove(value: &mut Value, path: &[String]) -> bool {
    let Some((last, before)) = path.split_last() else { return false };
    let mut at = value;
    for step in before {
        let next = match at {
            Value::Table(table) => table.get_mut(step),
            Value::Array(list) => step.parse::<usize>().ok().and_then(|i| list.get_mut(i)),
            _ => None,
        };
        let Some(next) = next else { return false };
        at = next;
    }
    match at {
        // a value in a list goes with the whole list's key
        Value::Table(table) => table.remove(last).is_some(),
        _ => false,
    }
}
