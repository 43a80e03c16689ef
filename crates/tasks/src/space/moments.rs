//! A space and a table of dimensions -> what predictions need, and their cross-validated error.

use std::collections::BTreeMap;

use formkin_cohort::Cohort;
use formkin_measure::Dimensions;
use formkin_shape::predict::{People, PredictionParams, Variable, VariableKind, validate_prediction};
use formkin_shape::{DimensionMoments, FittedSpace, ShapeError, Space};
use formkin_table::Table;
use formkin_table::near::advice;
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::measure::Measuring;

/// A column of words becomes variables where it has so many levels at most.
const MOST_LEVELS: usize = 8;
/// A column of which more is missing is left out.
const MOST_MISSING: f64 = 0.05;

/// The fitted space that is described.
#[derive(Debug, Clone, Copy)]
pub struct Foundation<'a> {
    /// The bodies.
    pub cohort: &'a Cohort,
    /// The items that the rows of the coefficients belong to, as indices into the cohort's accepted items.
    pub items: &'a [usize],
    /// Space, alignment and coefficients.
    pub fitted: &'a FittedSpace,
}

/// What predictions need.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Described {
    /// The moments of the coefficients with dimensions and columns, and the errors of people held out.
    pub moments: DimensionMoments,
    /// How the dimensions are taken, as a space keeps it.
    pub measuring: String,
    /// What was left out, in words.
    pub notes: Vec<String>,
}

impl Described {
    /// Gives a space what predictions need.
    pub fn put_into(&self, space: &mut Space) {
        space.regression = Some(self.moments.clone());
        space.measuring = Some(self.measuring.clone());
    }
}

/// The moments of a space's coefficients with the columns of `table` (one row an item), and the way dimensions are taken. One row a person: the
/// first item of each. `from` holds the dimensions and columns from which predictions are cross-validated; where there are none, none are.
///
/// # Errors
/// [`TaskError::Space`] for a column in `from` that is not there; too few people.
pub fn describe(
    on: &Foundation<'_>,
    table: &Table,
    dimensions: &Dimensions,
    from: &[String],
    seed: u64,
) -> Result<Described, TaskError> {
    let (cohort, template) = (on.cohort, on.cohort.template());
    let row_of: BTreeMap<&str, usize> =
        table.ids.iter().enumerate().map(|(r, id)| (id.as_str(), r)).collect();
    let mut seen = std::collections::BTreeSet::new();
    // rows of the space and of the table, one pair a person
    let pairs: Vec<(usize, usize)> = on
        .items
        .iter()
        .enumerate()
        .filter(|(_, i)| seen.insert(cohort.items()[**i].participant.as_str()))
        .filter_map(|(row, &i)| row_of.get(cohort.items()[i].item.as_str()).map(|&r| (row, r)))
        .collect();
    let (variables, columns, mut notes) = columns(table, dimensions, &pairs);
    let values: Vec<Vec<Option<f64>>> =
        (0..pairs.len()).map(|i| columns.iter().map(|c| c[i]).collect()).collect();
    let coefficients: Vec<Vec<f64>> =
        pairs.iter().map(|(row, _)| on.fitted.coefficients[*row].clone()).collect();
    let mut moments = DimensionMoments::of(&coefficients, variables.clone(), &values, up(on.fitted))?;
    if !from.is_empty() {
        let space = &on.fitted.space;
        let params = PredictionParams {
            given: given(&moments, table, from, &mut notes)?,
            seed,
            most_modes: space.modes.len(),
            ..PredictionParams::default()
        };
        let source = cohort.select(pairs.iter().map(|(row, _)| on.items[*row]).collect());
        let people = People { source: &source, weights: &space.weights, align: &space.align };
        match validate_prediction(&people, &variables, &values, &template.regions, &params) {
            Ok(errors) => moments.errors = Some(errors),
            Err(ShapeError::TooFewPeople { .. } | ShapeError::TooManyGiven { .. }) => {
                notes.push(format!("No held-out error of predictions: {} people are too few.", pairs.len()));
            }
            Err(e) => return Err(e.into()),
        }
    }
    Ok(Described { moments, measuring: Measuring::of(dimensions, template).to_text()?, notes })
}

/// The variables that predictions are cross-validated from; one in which everyone is alike says nothing, and is noted.
fn given(
    moments: &DimensionMoments,
    table: &Table,
    from: &[String],
    notes: &mut Vec<String>,
) -> Result<Vec<usize>, TaskError> {
    let mut given = Vec::new();
    for name in from {
        match positions(moments, name) {
            Ok(found) => given.extend(found),
            Err(_) if has_column(table, name) => {
                notes.push(format!(
                    "`{name}` is the same for everyone or missing: nothing is predicted from it."
                ));
            }
            Err(e) => return Err(e),
        }
    }
    Ok(given)
}

/// Whether a table has a column of this name, with or without its unit.
fn has_column(table: &Table, name: &str) -> bool {
    table.texts.iter().any(|c| c.name == name)
        || table.numbers.iter().any(|c| c.name == name || c.header() == name)
}

/// The variables that a name stands for: itself, or all levels but the first of a column of words.
///
/// # Errors
/// [`TaskError::Space`] with the names there are.
pub fn positions(moments: &DimensionMoments, name: &str) -> Result<Vec<usize>, TaskError> {
    if let Some(v) = moments.position(name) {
        return Ok(vec![v]);
    }
    let levels = levels(moments, name);
    if levels.is_empty() {
        return Err(TaskError::Space {
            reason: format!(
                "it knows no dimension or column `{name}`; {}",
                advice(name, known(moments).split(", "))
            ),
        });
    }
    Ok(levels[1..].iter().map(|(v, _)| *v).collect())
}

/// The variables and levels of a column of words.
#[must_use]
pub fn levels<'m>(moments: &'m DimensionMoments, name: &str) -> Vec<(usize, &'m str)> {
    let of = |(v, variable): (usize, &'m Variable)| match &variable.kind {
        VariableKind::Level { column, level } if column == name => Some((v, level.as_str())),
        _ => None,
    };
    moments.variables.iter().enumerate().filter_map(of).collect()
}

/// The names that may be given, in words.
#[must_use]
pub fn known(moments: &DimensionMoments) -> String {
    let mut names: Vec<&str> = moments
        .variables
        .iter()
        .map(|v| match &v.kind {
            VariableKind::Level { column, .. } => column.as_str(),
            _ => v.name.as_str(),
        })
        .collect();
    names.dedup();
    names.join(", ")
}

type Columns = (Vec<Variable>, Vec<Vec<Option<f64>>>, Vec<String>);

fn columns(table: &Table, dimensions: &Dimensions, pairs: &[(usize, usize)]) -> Columns {
    let (mut variables, mut columns, mut notes) = (Vec::new(), Vec::new(), Vec::new());
    for column in &table.numbers {
        let values: Vec<Option<f64>> = pairs.iter().map(|(_, r)| column.values[*r]).collect();
        let there: Vec<f64> = values.iter().flatten().copied().collect();
        let missing = values.len() - there.len();
        if missing as f64 > MOST_MISSING * values.len() as f64 {
            notes.push(format!("{} is left out of predictions: {missing} people have none", column.name));
            continue;
        }
        if there.windows(2).all(|w| w[0] == w[1]) {
            notes.push(format!("{} is left out of predictions: it is the same for all", column.name));
            continue;
        }
        let taken = dimensions.get(&column.name).is_some();
        let kind = if taken { VariableKind::Dimension } else { VariableKind::Number };
        variables.push(Variable { name: column.name.clone(), unit: column.unit.clone(), kind });
        columns.push(values);
    }
    for column in &table.texts {
        if matches!(column.name.as_str(), "participant" | "session" | "capture") {
            continue;
        }
        let values: Vec<&str> = pairs.iter().map(|(_, r)| column.values[*r].as_str()).collect();
        let mut levels: Vec<&str> = values.iter().copied().filter(|v| !v.trim().is_empty()).collect();
        levels.sort_unstable();
        levels.dedup();
        if levels.len() < 2 || levels.len() > MOST_LEVELS {
            continue;
        }
        for level in levels {
            let kind = VariableKind::Level { column: column.name.clone(), level: level.to_owned() };
            variables.push(Variable { name: format!("{}={level}", column.name), unit: None, kind });
            let one = |v: &&str| (!v.trim().is_empty()).then(|| f64::from(u8::from(*v == level)));
            columns.push(values.iter().map(one).collect());
        }
    }
    (variables, columns, notes)
}

/// Where up lies in the frame of the space, on average over its items.
fn up(fitted: &FittedSpace) -> [f64; 3] {
    let mut sum = [0.0; 3];
    for t in &fitted.alignment.transforms {
        for (s, row) in sum.iter_mut().zip(&t.rotation) {
            *s += row[2];
        }
    }
    let length = sum.iter().map(|x| x * x).sum::<f64>().sqrt();
    if length > 0.0 { sum.map(|x| x / length) } else { [0.0, 0.0, 1.0] }
}
