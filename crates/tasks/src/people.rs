//! Coefficients and columns, one row a body, and one row a person: from a cohort, from a Parquet file of coefficients, or from a study.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use formkin_cohort::Cohort;
use formkin_shape::Space;
use formkin_shape::compare::design::by_person;
use formkin_table::{Column, Sheet, Table, Values};
use ndarray::Array2;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bodies::{read_space, same_triangles};
use crate::choices::Which;
use crate::measure::Measure;
use crate::predictions::{Predictions, described_space};
use crate::reading::read_table;
use crate::{Need, Problems, Store, TaskError};

/// The files of a command on people.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PeopleSources {
    /// The space
    #[schemars(extend("position" = 1))]
    pub space: PathBuf,
    /// Coefficients of a space, as written beside it
    #[serde(default)]
    #[schemars(extend("value" = "FILE.parquet"))]
    pub coefficients: Option<PathBuf>,
    /// A cohort whose items are projected into the space
    #[serde(default)]
    #[schemars(extend("value" = "C.cohort"))]
    pub cohort: Option<PathBuf>,
    /// A CSV table of people whose columns are used too; its first column names the participant
    #[serde(default)]
    #[schemars(extend("value" = "CSV"))]
    pub table: Option<PathBuf>,
}

/// People in the coordinates of a space.
#[derive(Debug)]
pub struct PeopleInputs {
    /// The space.
    pub space: Arc<Space>,
    /// One row a body.
    pub rows: Rows,
    /// One row a person.
    pub people: People,
}

impl PeopleSources {
    pub(crate) fn check(&self, problems: &mut Problems) {
        one_source(self.coefficients.is_some(), self.cohort.is_some(), problems);
    }
}

/// Coefficients come from a file or from a cohort; in a study from its space.
pub(crate) fn one_source(coefficients: bool, cohort: bool, problems: &mut Problems) {
    match (coefficients, cohort) {
        _ if problems.in_study() => {}
        (false, false) => {
            problems.wrong(
                "coefficients",
                "there are no coefficients of people",
                "give --coefficients or --cohort",
            );
        }
        (true, true) => problems.apart("coefficients", "cohort"),
        _ => {}
    }
}

impl PeopleInputs {
    /// Reads what a command names.
    ///
    /// # Errors
    /// Files that cannot be read, or do not belong together.
    pub fn open(sources: &PeopleSources) -> Result<Self, TaskError> {
        let space = Arc::new(read_space(&sources.space)?);
        let rows = Rows::open(&space, sources.coefficients.as_deref(), sources.cohort.as_deref())?;
        let table = sources.table.as_deref().map(read_table).transpose()?;
        let people = rows.people(table.as_ref());
        let people = match &sources.table {
            Some(path) => people.map_err(|e| TaskError::in_file(path, e))?,
            None => people?,
        };
        Ok(Self { space, rows, people })
    }

    /// What a study must have made before.
    pub(crate) fn needs() -> Vec<Need> {
        vec![Need::of::<crate::space::Space>(), Need::of::<Predictions>(), Need::of::<Measure>()]
    }

    /// The people of a study's space, with their dimensions; none without a space.
    ///
    /// # Errors
    /// [`TaskError::Nothing`] without people.
    pub fn of(store: &Store) -> Result<Option<Self>, TaskError> {
        let (Some(cohort), Some(fitted), Some(space)) =
            (store.cohort(), store.get::<crate::space::Space>(), described_space(store))
        else {
            return Ok(None);
        };
        let rows = Rows::of_fitted(&cohort, &fitted.outcome.items, &fitted.outcome.fitted.coefficients);
        let measured = store.get::<Measure>();
        let people = rows.people(measured.as_ref().map(|m| &m.outcome.people))?;
        Ok(Some(Self { space, rows, people }))
    }
}

/// Bodies in the coordinates of a space, with what is known of them.
#[derive(Debug, Clone, PartialEq)]
pub struct Rows {
    /// Whose each is.
    pub participants: Vec<String>,
    /// Coefficients in mm, all of one length.
    pub coefficients: Vec<Vec<f64>>,
    /// Columns of words and numbers as text, one value a row; blank where missing.
    pub columns: BTreeMap<String, Vec<String>>,
}

/// Headers, and under each one value a person.
pub type Covariates = (Vec<String>, Vec<Vec<Option<f64>>>);

/// One row a person: the means of the person's bodies, and values that all of them share.
#[derive(Debug, Clone, PartialEq)]
pub struct People {
    /// Names, in order.
    pub names: Vec<String>,
    /// People x coefficients, in mm.
    pub coefficients: Array2<f64>,
    columns: BTreeMap<String, Vec<Vec<String>>>,
}

impl Rows {
    /// The rows of a file of coefficients, or of the still bodies of a cohort.
    ///
    /// # Errors
    /// Files that cannot be read or do not fit the space; [`TaskError::Nothing`] where neither is named.
    pub fn open(
        space: &Space,
        coefficients: Option<&Path>,
        cohort: Option<&Path>,
    ) -> Result<Self, TaskError> {
        match (coefficients, cohort) {
            (Some(path), _) => {
                let bytes = std::fs::read(path)
                    .map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
                Self::of_parquet(bytes, space).map_err(|e| TaskError::in_file(path, e))
            }
            (None, Some(path)) => Self::of_cohort(space, &Cohort::open(path)?, Which::Stills),
            (None, None) => Err(TaskError::Nothing {
                what: "there are no coefficients of people".into(),
                advice: "give --coefficients or --cohort".into(),
            }),
        }
    }

    /// The items of a cohort, projected into the space.
    ///
    /// # Errors
    /// [`TaskError::Nothing`] for other triangles; shapes that cannot be read or laid on the mean.
    pub fn of_cohort(space: &Space, cohort: &Cohort, items: Which) -> Result<Self, TaskError> {
        same_triangles(space, cohort, "only shapes on the same template have coefficients")?;
        let items = items.of(cohort)?;
        let coefficients: Vec<Vec<f64>> = items
            .par_iter()
            .map(|&i| Ok(space.project(&cohort.source().read_shape(i)?)?.coefficients))
            .collect::<Result<_, TaskError>>()?;
        let all = cohort.items();
        let mut columns: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for name in items.iter().flat_map(|&i| all[i].groups.keys()) {
            columns.entry(name.clone()).or_default();
        }
        for (name, values) in &mut columns {
            *values = items.iter().map(|&i| all[i].groups.get(name).cloned().unwrap_or_default()).collect();
        }
        let participants = items.iter().map(|&i| all[i].participant.clone()).collect();
        Ok(Self { participants, coefficients, columns })
    }

    /// Items of a cohort whose coefficients are known.
    #[must_use]
    pub fn of_fitted(cohort: &Cohort, items: &[usize], coefficients: &[Vec<f64>]) -> Self {
        let all = cohort.items();
        let names: std::collections::BTreeSet<&String> =
            items.iter().flat_map(|&i| all[i].groups.keys()).collect();
        let values = |name: &String| {
            items.iter().map(|&i| all[i].groups.get(name).cloned().unwrap_or_default()).collect()
        };
        Self {
            participants: items.iter().map(|&i| all[i].participant.clone()).collect(),
            coefficients: coefficients.to_vec(),
            columns: names.into_iter().map(|n| (n.clone(), values(n))).collect(),
        }
    }

    /// The rows of a Parquet file with `participant` and `mode_001_mm`, `mode_002_mm`, ..; mirrored copies are left out.
    ///
    /// # Errors
    /// [`TaskError::Table`] for bytes that are no Parquet; [`TaskError::Parquet`] for columns that are missing, coefficients that are missing or
    /// of another space.
    pub fn of_parquet(bytes: Vec<u8>, space: &Space) -> Result<Self, TaskError> {
        let wrong = |reason: String| TaskError::Parquet { reason };
        let (sheet, metadata) = Sheet::from_parquet(bytes)?;
        let hash = metadata.iter().find(|(key, _)| key == "template_hash").map(|(_, hash)| hash);
        if hash.is_some_and(|hash| *hash != space.template_hash) {
            return Err(wrong("its coefficients are of a space with other triangles".into()));
        }
        let mut modes: Vec<(String, &Vec<Option<f64>>)> = sheet
            .columns()
            .iter()
            .filter(|c| is_mode(&c.header()))
            .filter_map(|c| match c.values() {
                Values::Number { values, .. } => Some((c.header(), values)),
                _ => None,
            })
            .collect();
        modes.sort_by(|a, b| a.0.cmp(&b.0));
        let participant =
            sheet.column("participant").ok_or_else(|| wrong("it has no column `participant`".into()))?;
        // coefficients at another scale are no columns of people
        let own = |c: &&Column| !c.name().starts_with("mode_") && c.name() != "participant";
        let columns: Vec<&Column> = sheet.columns().iter().filter(own).collect();
        let kept: Vec<usize> = (0..sheet.rows()).filter(|row| !is_mirrored(&sheet, *row)).collect();
        let mut coefficients: Vec<Vec<f64>> = Vec::new();
        for (at, &row) in kept.iter().enumerate() {
            let of_row: Vec<f64> = modes.iter().filter_map(|(_, values)| values[row]).collect();
            if of_row.is_empty() || of_row.len() != modes.len() {
                let reason = format!("row {} has {} coefficients `mode_kkk_mm`", at + 1, of_row.len());
                return Err(wrong(reason));
            }
            coefficients.push(of_row);
        }
        if !kept.is_empty() && modes.len() > space.modes.len() {
            let reason = format!("it has more coefficients than the space's {} modes", space.modes.len());
            return Err(wrong(reason));
        }
        let cells = |c: &Column| kept.iter().map(|row| c.cell(*row)).collect::<Vec<String>>();
        Ok(Self {
            participants: cells(participant),
            coefficients,
            columns: columns.into_iter().map(|c| (c.header(), cells(c))).collect(),
        })
    }

    /// One row a person; `table`, where given, adds columns by the person's name.
    ///
    /// # Errors
    /// [`TaskError::Nothing`] without rows.
    pub fn people(&self, table: Option<&Table>) -> Result<People, TaskError> {
        if self.participants.is_empty() {
            return Err(TaskError::Nothing {
                what: "there are no bodies to compare".into(),
                advice: "look into the file of coefficients".into(),
            });
        }
        let mut names = self.participants.clone();
        names.sort_unstable();
        names.dedup();
        let number: BTreeMap<&str, usize> = names.iter().enumerate().map(|(n, p)| (p.as_str(), n)).collect();
        let of: Vec<usize> = self.participants.iter().map(|p| number[p.as_str()]).collect();
        let coefficients = by_person(&self.coefficients, &of)?;
        let mut columns: BTreeMap<String, Vec<Vec<String>>> = BTreeMap::new();
        for (name, values) in &self.columns {
            let own = columns.entry(name.clone()).or_insert_with(|| vec![Vec::new(); names.len()]);
            for (value, &p) in values.iter().zip(&of) {
                own[p].push(value.clone());
            }
        }
        if let Some(table) = table {
            // a table of items names the people in a column of its own
            let own = table.texts.iter().find(|c| c.name == "participant");
            let ids = own.map_or(&table.ids, |c| &c.values);
            let mut rows: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
            for (i, id) in ids.iter().enumerate() {
                rows.entry(id.as_str()).or_default().push(i);
            }
            if !names.iter().any(|p| rows.contains_key(p.as_str())) {
                return Err(TaskError::Nothing {
                    what: format!("the table names none of the {} people of the coefficients", names.len()),
                    advice: "its first column, or a column `participant`, must hold their names".into(),
                });
            }
            let mut add = |name: &str, value: &dyn Fn(usize) -> String| {
                let of_person = |p: &String| {
                    rows.get(p.as_str()).into_iter().flatten().map(|i| value(*i)).collect::<Vec<String>>()
                };
                columns.insert(name.to_owned(), names.iter().map(of_person).collect());
            };
            for text in &table.texts {
                add(&text.name, &|i| text.values[i].clone());
            }
            for number in &table.numbers {
                let value = |i: usize| number.values[i].map_or_else(String::new, |v| v.to_string());
                add(&number.name, &value);
                add(&number.header(), &value);
            }
        }
        Ok(People { names, coefficients, columns })
    }
}

fn is_mode(header: &str) -> bool {
    header.strip_prefix("mode_").and_then(|n| n.strip_suffix("_mm")).is_some_and(|n| n.parse::<u32>().is_ok())
}

/// Whether a row is a mirrored copy.
fn is_mirrored(sheet: &Sheet, row: usize) -> bool {
    sheet.column("mirrored").is_some_and(|c| matches!(c.cell(row).as_str(), "yes" | "true"))
}

impl People {
    /// The names of the columns, in order.
    #[must_use]
    pub fn column_names(&self) -> Vec<String> {
        self.columns.keys().cloned().collect()
    }

    fn column(&self, setting: &'static str, name: &str) -> Result<&Vec<Vec<String>>, TaskError> {
        self.columns.get(name).ok_or_else(|| TaskError::Setting {
            setting,
            value: name.to_owned(),
            known: self.columns.keys().cloned().collect::<Vec<_>>().join(", "),
        })
    }

    /// The group of each person by a column of words; blank is no group.
    ///
    /// # Errors
    /// [`TaskError::Setting`] for an unknown column; [`TaskError::Nothing`] where a person is in two groups.
    pub fn groups(&self, setting: &'static str, name: &str) -> Result<Vec<Option<String>>, TaskError> {
        let column = self.column(setting, name)?;
        self.names
            .iter()
            .zip(column)
            .map(|(person, values)| {
                let mut words: Vec<&str> =
                    values.iter().map(|v| v.trim()).filter(|v| !v.is_empty()).collect();
                words.dedup();
                match words.as_slice() {
                    [] => Ok(None),
                    [one] => Ok(Some((*one).to_owned())),
                    [one, other, ..] => Err(TaskError::Nothing {
                        what: format!("participant {person} is `{one}` and `{other}` in `{name}`"),
                        advice: "groups are of people: mend the table".into(),
                    }),
                }
            })
            .collect()
    }

    /// The mean of a column of numbers over each person's rows; blank is missing.
    ///
    /// # Errors
    /// [`TaskError::Setting`] for an unknown column; [`TaskError::Nothing`] for a value that is no number.
    pub fn numbers(&self, setting: &'static str, name: &str) -> Result<Vec<Option<f64>>, TaskError> {
        let column = self.column(setting, name)?;
        self.names
            .iter()
            .zip(column)
            .map(|(person, values)| {
                let mut found = Vec::new();
                for value in values.iter().map(|v| v.trim()).filter(|v| !v.is_empty()) {
                    let number = value.parse::<f64>().ok().filter(|x| x.is_finite());
                    found.push(number.ok_or_else(|| TaskError::Nothing {
                        what: format!("`{name}` of participant {person} is `{value}`, no number"),
                        advice: "name a column of numbers, or compare groups by it".into(),
                    })?);
                }
                Ok((!found.is_empty()).then(|| found.iter().sum::<f64>() / found.len() as f64))
            })
            .collect()
    }

    /// Covariates as columns: numbers as they are, words as one column for every value but the first. Missing values are missing in all columns.
    ///
    /// # Errors
    /// As [`People::numbers`] and [`People::groups`].
    pub fn covariates(&self, names: &[String]) -> Result<Covariates, TaskError> {
        let (mut headers, mut columns) = (Vec::new(), Vec::new());
        for name in names {
            if let Ok(numbers) = self.numbers("covariate", name) {
                headers.push(name.clone());
                columns.push(numbers);
                continue;
            }
            let words = self.groups("covariate", name)?;
            let mut values: Vec<&String> = words.iter().flatten().collect();
            values.sort_unstable();
            values.dedup();
            for value in values.into_iter().skip(1) {
                headers.push(format!("{name} = {value}"));
                let one = |w: &Option<String>| w.as_ref().map(|w| f64::from(u8::from(w == value)));
                columns.push(words.iter().map(one).collect());
            }
        }
        Ok((headers, columns))
    }
}
