//! Coefficients and columns, one row a body: from a cohort, or from a Parquet file of coefficients.

use std::collections::BTreeMap;

use formkin_cohort::Cohort;
use formkin_shape::Space;
use formkin_shape::compare::design::by_person;
use formkin_table::{Column, Sheet, Table, TableError, Values};
use ndarray::Array2;
use rayon::prelude::*;

use crate::TaskError;
use crate::choose::Items;

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
    /// The items of a cohort, projected into the space.
    ///
    /// # Errors
    /// [`TaskError::Nothing`] for other triangles; shapes that cannot be read or laid on the mean.
    pub fn of_cohort(space: &Space, cohort: &Cohort, items: Items) -> Result<Self, TaskError> {
        if cohort.info().template_hash != space.template_hash {
            return Err(TaskError::Nothing {
                what: format!("{} has other triangles than the space", cohort.path().display()),
                advice: "only shapes on the same template have coefficients".into(),
            });
        }
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
    /// [`TaskError::Table`] for bytes that are none, columns that are missing, coefficients that are missing or of another space.
    pub fn of_parquet(bytes: Vec<u8>, space: &Space) -> Result<Self, TaskError> {
        let wrong = |reason: String| TableError::Parquet { reason };
        let (sheet, metadata) = Sheet::from_parquet(bytes)?;
        if let Some((_, hash)) = metadata.iter().find(|(key, _)| key == "template_hash")
            && *hash != space.template_hash
        {
            return Err(wrong("its coefficients are of a space with other triangles".into()).into());
        }
        let named: Vec<(String, &Column)> = sheet.columns().iter().map(|c| (c.header(), c)).collect();
        let mut out = Self { participants: Vec::new(), coefficients: Vec::new(), columns: BTreeMap::new() };
        for row in 0..sheet.rows() {
            let mut modes: BTreeMap<String, f64> = BTreeMap::new();
            let mut words: BTreeMap<String, String> = BTreeMap::new();
            for (name, column) in &named {
                match column.values() {
                    Values::Number { values, .. } if is_mode(name) => {
                        modes.extend(values.get(row).copied().flatten().map(|x| (name.clone(), x)));
                    }
                    // coefficients at another scale are no columns of people
                    _ if name.starts_with("mode_") => {}
                    _ => {
                        words.insert(name.clone(), column.cell(row));
                    }
                }
            }
            if words.get("mirrored").is_some_and(|m| m == "yes") {
                continue;
            }
            let at = out.participants.len();
            let participant = words.remove("participant");
            out.participants.push(participant.ok_or_else(|| wrong("it has no column `participant`".into()))?);
            let coefficients: Vec<f64> = modes.into_values().collect();
            if coefficients.is_empty()
                || out.coefficients.first().is_some_and(|c| c.len() != coefficients.len())
            {
                let reason = format!("row {} has {} coefficients `mode_kkk_mm`", at + 1, coefficients.len());
                return Err(wrong(reason).into());
            }
            out.coefficients.push(coefficients);
            for (name, value) in words {
                let column = out.columns.entry(name).or_default();
                column.resize(at, String::new());
                column.push(value);
            }
        }
        if out.coefficients.first().is_some_and(|c| c.len() > space.modes.len()) {
            let reason = format!("it has more coefficients than the space's {} modes", space.modes.len());
            return Err(wrong(reason).into());
        }
        Ok(out)
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

fn is_mode(name: &str) -> bool {
    name.strip_prefix("mode_").and_then(|n| n.strip_suffix("_mm")).is_some_and(|n| n.parse::<u32>().is_ok())
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
            if let Ok(numbers) = self.numbers("--covariate", name) {
                headers.push(name.clone());
                columns.push(numbers);
                continue;
            }
            let words = self.groups("--covariate", name)?;
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
