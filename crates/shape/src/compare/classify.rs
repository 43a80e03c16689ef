//! Telling groups apart: the error of linear discrimination on people held out.

use formkin_stats::folds::grouped_folds;
use formkin_stats::interval::wilson;
use ndarray::{Array2, ArrayView2, Axis};
use serde::{Deserialize, Serialize};

use super::hotelling::{factor, scatter, square};
use crate::ShapeError;

/// How well the groups are told apart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Classification {
    /// Share of people held out who are put into a wrong group.
    pub error: f64,
    /// Wilson's 95 % interval of it; people are independent, so it is a little too narrow for a cross-validation.
    pub interval: (f64, f64),
    /// The error of naming the largest group always.
    pub error_of_the_largest_group: f64,
    /// `confusion[i][j]`: people of group i put into group j.
    pub confusion: Vec<Vec<usize>>,
    /// Coefficients used.
    pub modes: usize,
    /// Folds; the discriminant is refitted in each, the space is not (it never saw the groups).
    pub folds: usize,
}

/// Fisher's linear discrimination with the pooled covariance and the groups' shares as priors, refitted in every fold; rows of `y` are people.
///
/// # Errors
/// [`ShapeError::SmallGroup`] for a group that a fold leaves without two people, or too few people for the coefficients; [`ShapeError::Stats`].
pub fn classify(
    y: ArrayView2<f64>,
    groups: &[usize],
    names: &[String],
    folds: usize,
    seed: u64,
) -> Result<Classification, ShapeError> {
    let (n, k) = y.dim();
    if groups.len() != n {
        return Err(ShapeError::Count { what: "groups of the people", expected: n, found: groups.len() });
    }
    let people: Vec<usize> = (0..n).collect();
    let dealt = grouped_folds(&people, folds, seed)?;
    let mut confusion = vec![vec![0; names.len()]; names.len()];
    for fold in &dealt {
        let mut within: Array2<f64> = Array2::zeros((k, k));
        let mut centres = Vec::with_capacity(names.len());
        for (g, name) in names.iter().enumerate() {
            let members: Vec<usize> = fold.train.iter().copied().filter(|i| groups[*i] == g).collect();
            if members.len() < 2 {
                return Err(ShapeError::SmallGroup { group: name.clone(), people: members.len(), least: 2 });
            }
            let rows = y.select(Axis(0), &members);
            within += &scatter(rows.view());
            let centre = rows.mean_axis(Axis(0)).unwrap_or_default().to_vec();
            centres.push((centre, (members.len() as f64 / fold.train.len() as f64).ln()));
        }
        let df = fold.train.len().saturating_sub(names.len());
        if df <= k {
            return Err(ShapeError::SmallGroup {
                group: "all".into(),
                people: fold.train.len(),
                least: k + names.len() + 1,
            });
        }
        let pooled = factor(&(within / df as f64))?;
        for &i in &fold.test {
            let score = |(centre, prior): &(Vec<f64>, f64)| -> Result<f64, ShapeError> {
                let d: Vec<f64> = y.row(i).iter().zip(centre).map(|(a, b)| a - b).collect();
                Ok(2.0 * prior - square(&pooled, &d)?)
            };
            let scores = centres.iter().map(score).collect::<Result<Vec<f64>, _>>()?;
            let best = (0..scores.len()).max_by(|a, b| scores[*a].total_cmp(&scores[*b])).unwrap_or(0);
            confusion[groups[i]][best] += 1;
        }
    }
    let right: usize = (0..names.len()).map(|g| confusion[g][g]).sum();
    let largest = confusion.iter().map(|row| row.iter().sum::<usize>()).max().unwrap_or(0);
    Ok(Classification {
        error: 1.0 - right as f64 / n as f64,
        interval: wilson((n - right) as f64, n as f64, 0.95),
        error_of_the_largest_group: 1.0 - largest as f64 / n as f64,
        confusion,
        modes: k,
        folds: dealt.len(),
    })
}
