//! Hotelling's T2: one mean vector against a given one, or two against each other.

use formkin_stats::StatsError;
use formkin_stats::cholesky::Cholesky;
use formkin_stats::tail::f_tail;
use ndarray::{Array2, ArrayView2, Axis};
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// A T2 test. Exact where rows are normal with one covariance; the number of columns is set before the data are seen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hotelling {
    /// The statistic.
    pub t2: f64,
    /// Its F: (n - k) T2 / (k (n - 1)) for one sample, (n1 + n2 - k - 1) T2 / (k (n1 + n2 - 2)) for two; (df - k + 1) T2 / (k df) with covariates, df people less columns.
    pub f: f64,
    /// Degrees of freedom above: k.
    pub df1: usize,
    /// Below: n - k, n1 + n2 - k - 1, or df - k + 1.
    pub df2: usize,
    /// The chance of as large an F where there is no difference.
    pub p: f64,
    /// People in each sample.
    pub people: Vec<usize>,
    /// Whether each sample has at least 5 people a column (common practice, no source).
    pub enough_people: bool,
}

fn mean(rows: ArrayView2<f64>) -> Vec<f64> {
    let n = rows.nrows() as f64;
    rows.axis_iter(Axis(1)).map(|c| c.sum() / n).collect()
}

/// Sums of squares and products about the mean.
pub(crate) fn scatter(rows: ArrayView2<f64>) -> Array2<f64> {
    let centre = ndarray::Array1::from(mean(rows));
    let deviations = &rows - &centre;
    deviations.t().dot(&deviations)
}

/// The factor of a covariance, or that its columns follow from each other.
pub(crate) fn factor(covariance: &Array2<f64>) -> Result<Cholesky, ShapeError> {
    Ok(Cholesky::new(covariance)?.ok_or(StatsError::Collinear { predictor: 0 })?)
}

/// d^T A^-1 d.
pub(crate) fn square(factor: &Cholesky, d: &[f64]) -> Result<f64, StatsError> {
    Ok(factor.half_solve(d)?.iter().map(|z| z * z).sum())
}

fn small(group: &str, people: usize, least: usize) -> Result<(), ShapeError> {
    if people < least {
        return Err(ShapeError::SmallGroup { group: group.to_owned(), people, least });
    }
    Ok(())
}

/// T2 = n (mean - mu)^T S^-1 (mean - mu) (Hotelling 1931): is the mean of `rows` (people x k) the given one?
///
/// # Errors
/// [`ShapeError::SmallGroup`] under k + 1 people, [`ShapeError::Count`], or columns that follow from each other.
pub fn hotelling_one(rows: ArrayView2<f64>, mu: &[f64]) -> Result<Hotelling, ShapeError> {
    let (n, k) = rows.dim();
    if mu.len() != k || k == 0 {
        return Err(ShapeError::Count {
            what: "values of the given mean",
            expected: k.max(1),
            found: mu.len(),
        });
    }
    small("all", n, k + 1)?;
    let covariance = scatter(rows) / (n - 1) as f64;
    let d: Vec<f64> = mean(rows).iter().zip(mu).map(|(a, b)| a - b).collect();
    let t2 = n as f64 * square(&factor(&covariance)?, &d)?;
    Ok(tested(t2, k, n - k, n - 1, vec![n]))
}

/// T2 = n1 n2 / (n1 + n2) d^T S^-1 d with the pooled covariance S: have `a` and `b` (people x k each) one mean?
///
/// # Errors
/// [`ShapeError::SmallGroup`] under two people in a group or k + 2 in both, [`ShapeError::Count`], or columns that follow from each other.
pub fn hotelling_two(a: ArrayView2<f64>, b: ArrayView2<f64>) -> Result<Hotelling, ShapeError> {
    let (n1, n2, k) = (a.nrows(), b.nrows(), a.ncols());
    if b.ncols() != k || k == 0 {
        return Err(ShapeError::Count {
            what: "columns of the second group",
            expected: k.max(1),
            found: b.ncols(),
        });
    }
    small("first", n1, 2)?;
    small("second", n2, 2)?;
    small("both", n1 + n2, k + 2)?;
    let pooled = (scatter(a) + scatter(b)) / (n1 + n2 - 2) as f64;
    let d: Vec<f64> = mean(a).iter().zip(mean(b)).map(|(x, y)| x - y).collect();
    let t2 = (n1 * n2) as f64 / (n1 + n2) as f64 * square(&factor(&pooled)?, &d)?;
    Ok(tested(t2, k, n1 + n2 - k - 1, n1 + n2 - 2, vec![n1, n2]))
}

/// The test of a difference in a linear model that leaves `df` degrees of freedom.
pub(crate) fn of_contrast(t2: f64, k: usize, df: usize, people: Vec<usize>) -> Hotelling {
    tested(t2, k, df + 1 - k, df, people)
}

fn tested(t2: f64, k: usize, df2: usize, df: usize, people: Vec<usize>) -> Hotelling {
    let f = df2 as f64 * t2 / (k as f64 * df as f64);
    let enough_people = people.iter().all(|n| *n >= 5 * k);
    Hotelling { t2, f, df1: k, df2, p: f_tail(f, k as f64, df2 as f64), people, enough_people }
}
