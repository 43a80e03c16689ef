//! A space and a table of dimensions -> what predictions need, and their cross-validated error.

use std::collections::BTreeMap;

use formkin_cohort::Cohort;
use formkin_measure::Dimensions;
use formkin_shape::predict::{People, PredictionParams, Variable, VariableKind, validate_prediction};
use formkin_shape::{DimensionMoments, ShapeError};
use formkin_table::Table;
use serde::{Deserialize, Serialize};

use crate::TaskError;
use crate::job::measuring::Measuring;
use crate::job::space::SpaceOutcome;

/// A column of words becomes variables where it has so many levels at most.
const MOST_LEVELS: usize = 8;
/// A column of which more is missing is left out.
const MOST_MISSING: f64 = 0.05;

/// What is asked for.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct DescribeJob {
    /// The dimensions and columns from which predictions are cross-validated; where there are none, none are.
    pub from: Vec<String>,
}

/// Gives a space the moments of its coefficients with the columns of `table` (one row an item) and the way they are taken. One row a person: the first
/// item of each. Returns what was left out, in words.
///
/// # Errors
/// [`TaskError::Space`] for a column in `from` that is not there; too few people.
pub fn describe(
    cohort: &Cohort,
    made: &mut SpaceOutcome,
    table: &Table,
    dimensions: &Dimensions,
    job: &DescribeJob,
) -> Result<Vec<String>, TaskError> {
    let template = cohort.template();
    let row_of: BTreeMap<&str, usize> =
        table.ids.iter().enumerate().map(|(r, id)| (id.as_str(), r)).collect();
    let mut seen = std::collections::BTreeSet::new();
    // rows of the space and of the table, one pair a person
    let pairs: Vec<(usize, usize)> = made
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
        pairs.iter().map(|(row, _)| made.fitted.coefficients[*row].clone()).collect();
    let up = up(made);
    let mut moments = DimensionMoments::of(&coefficients, variables.clone(), &values, up)?;
    let space = &mut made.fitted.space;
    if !job.from.is_empty() {
        let mut given = Vec::new();
        for name in &job.from {
            match positions(&moments, name) {
                Ok(found) => given.extend(found),
                // everyone is alike in it, so that it says nothing
                Err(_) if has_column(table, name) => {
                    notes.push(format!(
                        "`{name}` is the same for everyone or missing: nothing is predicted from it."
                    ));
                }
                Err(e) => return Err(e),
            }
        }
        let params = PredictionParams {
            given,
            seed: space.seed,
            most_modes: space.modes.len(),
            ..PredictionParams::default()
        };
        let source = cohort.select(pairs.iter().map(|(row, _)| made.items[*row]).collect());
        let people = People { source: &source, weights: &space.weights, align: &space.align };
        let validated = validate_prediction(&people, &variables, &values, &template.regions, &params);
        match validated {
            Ok(errors) => moments.errors = Some(errors),
            Err(ShapeError::TooFewPeople { .. } | ShapeError::TooManyGiven { .. }) => {
                notes.push(format!("No held-out error of predictions: {} people are too few.", pairs.len()));
            }
            Err(e) => return Err(e.into()),
        }
    }
    space.regression = Some(moments);
    space.measuring = Some(Measuring::of(dimensions, template).to_text()?);
    Ok(notes)
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
            reason: format!("it knows no dimension or column `{name}`; it knows {}", known(moments)),
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
fn up(made: &SpaceOutcome) -> [f64; 3] {
    let mut sum = [0.0; 3];
    for t in &made.fitted.alignment.transforms {
        for (s, row) in sum.iter_mut().zip(&t.rotation) {
            *s += row[2];
        }
    }
    let length = sum.iter().map(|x| x * x).sum::<f64>().sqrt();
    if length > 0.0 { sum.map(|x| x / length) } else { [0.0, 0.0, 1.0] }
}
