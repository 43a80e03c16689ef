//! What the data bring: people and their columns, captures, the names of the template, the definitions of dimensions.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use formkin_cohort::{ImportParams, Item, load_template, preview};
use formkin_geometry::Template;
use formkin_measure::Dimensions;
use formkin_table::Table;

use super::Check;
use crate::choose;
use crate::run::read_dimensions;

/// What is known of the data before they are imported; `None` where it could not be told, so that nothing is held against it.
pub(crate) struct Known {
    /// The template that is named; none where the first mesh is it, which has no names.
    pub(crate) template: Option<Template>,
    /// Whether the template that is named could not be read.
    pub(crate) template_unread: bool,
    /// The items that the files become.
    pub(crate) items: Option<Vec<Item>>,
    /// The definitions.
    pub(crate) dimensions: Option<Dimensions>,
}

/// A column of a table by name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Column {
    pub(crate) name: String,
    /// Whether it holds numbers.
    pub(crate) numbers: bool,
}

/// A capture of several frames.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Seen {
    pub(crate) id: String,
    pub(crate) participant: String,
    pub(crate) frames: usize,
    /// Whether every frame has a time.
    pub(crate) timed: bool,
    /// First and last time, in s.
    pub(crate) times_s: Option<(f64, f64)>,
}

impl Seen {
    /// Frames a second on the whole.
    pub(crate) fn fps(&self) -> Option<f64> {
        let (low, high) = self.times_s.filter(|(low, high)| self.timed && self.frames > 1 && high > low)?;
        Some((self.frames - 1) as f64 / (high - low))
    }
}

impl Known {
    pub(crate) fn of(check: &mut Check<'_>) -> Self {
        let input = &check.file.input;
        let mut params = ImportParams { fps: input.fps, ..ImportParams::default() };
        let unit = choose::unit("[input] unit", &input.unit);
        let up = choose::up("[input] up", &input.up);
        check.word("input.unit", &input.unit, &["auto", "mm", "cm", "m"]);
        check.word("input.up", &input.up, &["auto", "x", "y", "z"]);
        params.unit = unit.unwrap_or_default();
        params.up = up.unwrap_or_default();
        check.positive("input.fps", input.fps, "frames a second");
        params.template = input.template.as_ref().map(|t| check.at(t));
        params.participants = input.participants.as_ref().map(|t| check.at(t));
        let mut readable = true;
        for (key, path) in
            [("input.template", &params.template), ("input.participants", &params.participants)]
        {
            if let Some(path) = path {
                readable &= check.is_file(key, path);
            }
        }
        let items = if !readable || !check.input {
            None
        } else if input.meshes.is_empty() {
            check.wrong(
                "input.meshes",
                "it is empty",
                "name at least one file or pattern, such as \"scans/*.ply\"",
            );
            None
        } else {
            let patterns: Vec<String> =
                input.meshes.iter().map(|m| check.at(Path::new(m)).display().to_string()).collect();
            let looked = preview(&patterns, &params);
            let key = match &looked {
                Err(e)
                    if params
                        .participants
                        .as_ref()
                        .is_some_and(|p| e.to_string().contains(&*p.to_string_lossy())) =>
                {
                    "input.participants"
                }
                _ => "input.meshes",
            };
            check.refused(key, looked).map(|p| p.items)
        };
        let named = params
            .template
            .as_ref()
            .filter(|t| t.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")));
        let template = match named {
            Some(path) if path.is_file() => check.refused("input.template", load_template(path)),
            _ => None,
        };
        let template_unread = named.is_some() && template.is_none();
        let dimensions = check.file.dimensions.as_ref().and_then(|section| {
            let path = check.at(&section.definitions);
            check
                .is_file("dimensions.definitions", &path)
                .then(|| check.refused("dimensions.definitions", read_dimensions(&path)))
                .flatten()
        });
        let known = Self { template, template_unread, items, dimensions };
        if let (Some(dimensions), Some(template)) = (&known.dimensions, &known.template) {
            check.refused("dimensions.definitions", dimensions.check(template));
        }
        known
    }

    /// The columns that people can be told apart by: those of the table of people and, with and without units, the dimensions.
    pub(crate) fn columns(&self, check: &Check<'_>) -> Option<Vec<Column>> {
        let items = self.items.as_ref()?;
        let mut columns = vec![
            Column { name: "session".into(), numbers: false },
            Column { name: "capture".into(), numbers: false },
        ];
        if check.file.dimensions.is_some() {
            let dimensions = self.dimensions.as_ref()?;
            for d in &dimensions.definitions {
                push(&mut columns, &d.name, true);
                push(&mut columns, &d.header(), true);
            }
        }
        let groups: BTreeSet<&String> = items.iter().flat_map(|i| i.groups.keys()).collect();
        for name in groups {
            let values = || {
                items.iter().filter_map(|i| i.groups.get(name)).map(|v| v.trim()).filter(|v| !v.is_empty())
            };
            let numbers = values().next().is_some() && values().all(|v| v.parse::<f64>().is_ok());
            push(&mut columns, name, numbers);
            if numbers {
                push(&mut columns, &formkin_table::NumberColumn::under(name, Vec::new()).name, true);
            }
        }
        Some(columns)
    }

    /// The groups that a column makes; none where it is not a column of the table of people.
    pub(crate) fn groups(&self, column: &str) -> Option<BTreeSet<String>> {
        let items = self.items.as_ref()?;
        let found: BTreeSet<String> = items
            .iter()
            .filter_map(|i| i.groups.get(column))
            .map(|v| v.trim().to_owned())
            .filter(|v| !v.is_empty())
            .collect();
        (!found.is_empty()).then_some(found)
    }

    /// The sequences.
    pub(crate) fn captures(&self) -> Option<Vec<Seen>> {
        let mut captures: BTreeMap<&str, Seen> = BTreeMap::new();
        for item in self.items.as_ref()?.iter().filter(|i| i.frame.is_some()) {
            let seen = captures.entry(&item.capture).or_insert_with(|| Seen {
                id: item.capture.clone(),
                participant: item.participant.clone(),
                frames: 0,
                timed: true,
                times_s: None,
            });
            seen.frames += 1;
            seen.timed &= item.time_s.is_some();
            if let Some(t) = item.time_s {
                let (low, high) = seen.times_s.unwrap_or((t, t));
                seen.times_s = Some((low.min(t), high.max(t)));
            }
        }
        Some(captures.into_values().collect())
    }

    /// The names of the regions; none where the template could not be read.
    pub(crate) fn regions(&self) -> Option<Vec<&str>> {
        match &self.template {
            Some(template) => Some(template.regions.keys().map(String::as_str).collect()),
            None => (!self.template_unread).then(Vec::new),
        }
    }

    /// The names of landmarks and regions.
    pub(crate) fn places(&self) -> Option<Vec<&str>> {
        let mut names = self.regions()?;
        names.extend(self.template.iter().flat_map(|t| t.landmarks.keys()).map(String::as_str));
        Some(names)
    }
}

fn push(columns: &mut Vec<Column>, name: &str, numbers: bool) {
    if !columns.iter().any(|c| c.name == name) {
        columns.push(Column { name: name.to_owned(), numbers });
    }
}

/// The columns of a table as it is read.
pub(crate) fn columns_of(table: &Table) -> Vec<Column> {
    let mut columns = vec![Column { name: table.id.clone(), numbers: false }];
    for text in &table.texts {
        push(&mut columns, &text.name, false);
    }
    for number in &table.numbers {
        push(&mut columns, &number.name, true);
        push(&mut columns, &number.header(), true);
    }
    columns
}

impl Check<'_> {
    /// Whether a file that the study names is there.
    pub(crate) fn is_file(&mut self, key: &str, path: &Path) -> bool {
        if path.is_file() {
            return true;
        }
        let wrong = if path.is_dir() { "is a folder" } else { "is not there" };
        self.wrong(
            key,
            format!("the file {} {wrong}", path.display()),
            "paths start from the folder of the study file",
        );
        false
    }

    /// A column that must be there, and hold numbers where they are needed.
    pub(crate) fn column(
        &mut self,
        key: &str,
        what: &str,
        name: &str,
        columns: &[Column],
        numbers: bool,
    ) -> bool {
        let usable = columns.iter().filter(|c| c.numbers || !numbers).map(|c| c.name.as_str());
        if numbers && columns.iter().any(|c| c.name == name && !c.numbers) {
            let near = formkin_table::near::advice(name, usable);
            self.wrong(
                key,
                format!("{what} `{name}` holds words, and numbers are needed"),
                format!("of numbers, {near}"),
            );
            return false;
        }
        self.name(key, what, name, usable)
    }
}
