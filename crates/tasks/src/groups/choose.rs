//! Who takes part, and columns that say nothing.

use formkin_shape::compare::design::basis;
use formkin_stats::StatsError;
use ndarray::{Array2, Axis};

use crate::TaskError;
use crate::people::People;

/// Who has everything.
pub(crate) struct Chosen {
    pub(crate) kept: Vec<usize>,
    pub(crate) left_out: Vec<String>,
    pub(crate) y: Array2<f64>,
    pub(crate) covariates: Option<Array2<f64>>,
    pub(crate) headers: Vec<String>,
}

/// The people who have a value in every column: `has` tells it of the columns that are asked about.
pub(crate) fn choose(
    people: &People,
    has: &dyn Fn(usize) -> bool,
    covariates: &[String],
) -> Result<Chosen, TaskError> {
    let (headers, columns) = people.covariates(covariates)?;
    let whole = |i: usize| has(i) && columns.iter().all(|c| c[i].is_some());
    let (kept, lost): (Vec<usize>, Vec<usize>) = (0..people.names.len()).partition(|i| whole(*i));
    if kept.is_empty() {
        return Err(TaskError::Nothing {
            what: format!(
                "none of {} has a value in every column that is used",
                match people.names.len() {
                    1 => "1 person".to_owned(),
                    n => format!("{n} people"),
                }
            ),
            advice: "look into the columns, or name others".into(),
        });
    }
    let values = (!columns.is_empty()).then(|| {
        Array2::from_shape_fn((kept.len(), columns.len()), |(i, j)| columns[j][kept[i]].unwrap_or(0.0))
    });
    Ok(Chosen {
        y: people.coefficients.select(Axis(0), &kept),
        left_out: lost.into_iter().map(|i| people.names[i].clone()).collect(),
        kept,
        covariates: values,
        headers,
    })
}

/// Refuses columns of a model that say nothing, by their names. `columns` are named, in the order in which they are taken in.
pub(crate) fn telling(columns: &[(String, Vec<f64>)], whose: &str) -> Result<(), TaskError> {
    let n = columns.first().map_or(0, |c| c.1.len());
    let model = Array2::from_shape_fn(
        (n, columns.len() + 1),
        |(i, j)| if j == 0 { 1.0 } else { columns[j - 1].1[i] },
    );
    let nothing = Array2::zeros((n, 0));
    match basis(model.view(), nothing.view()) {
        Err(StatsError::Collinear { predictor }) if predictor > 0 => {
            let name = &columns[predictor - 1].0;
            let before: Vec<String> = columns[..predictor - 1].iter().map(|c| format!("`{}`", c.0)).collect();
            let follows = if before.is_empty() {
                String::new()
            } else {
                format!(", or follows from {}", before.join(", "))
            };
            Err(TaskError::Nothing {
                what: format!("`{name}` is the same for all {n} people{whose}{follows}"),
                advice: "leave it out".to_owned(),
            })
        }
        _ => Ok(()),
    }
}

/// The covariates by name.
pub(crate) fn named(chosen: &Chosen) -> Vec<(String, Vec<f64>)> {
    let columns =
        chosen.covariates.iter().flat_map(|c| c.axis_iter(Axis(1)).map(|v| v.to_vec()).collect::<Vec<_>>());
    chosen.headers.iter().cloned().zip(columns).collect()
}

/// Words as numbers of their names, which are sorted.
pub(crate) fn numbered(words: &[String]) -> (Vec<usize>, Vec<String>) {
    let mut names = words.to_vec();
    names.sort_unstable();
    names.dedup();
    (words.iter().map(|w| names.iter().position(|n| n == w).unwrap_or(0)).collect(), names)
}

/// One column a group but the first: 1 for its members.
pub(crate) fn members(by: &str, groups: &[usize], names: &[String]) -> Vec<(String, Vec<f64>)> {
    let one = |g: usize| groups.iter().map(|of| f64::from(u8::from(*of == g))).collect();
    names.iter().enumerate().skip(1).map(|(g, name)| (format!("{by} = {name}"), one(g))).collect()
}
