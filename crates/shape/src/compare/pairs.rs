//! Every two groups: T2 between them, with the covariates held fixed.
//!
//! Without covariates every pair is tested on its own two groups. With covariates one linear model of all groups is fitted: d is the difference of two groups at equal covariates,
//! S the covariance of the residuals of all people with df = people - columns of the model, v the variance of d in units of S: T2 = d^T S^-1 d / v and
//! F = (df - k + 1) T2 / (k df) on (k, df - k + 1) degrees of freedom. For two groups and one covariance this is the T2 of the two samples where there are no covariates.

use formkin_stats::discovery::holm;
use ndarray::{Array2, ArrayView2, Axis, s};
use serde::{Deserialize, Serialize};

use super::design::{basis, indicators, residuals, with_intercept};
use super::hotelling::{factor, of_contrast, square};
use super::{Hotelling, hotelling_two};
use crate::ShapeError;

/// Two groups of several.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// A group.
    pub first: String,
    /// Another.
    pub second: String,
    /// T2 between them, at equal covariates where there are some.
    pub hotelling: Hotelling,
    /// Its p with all pairs in view: Holm's.
    pub p_holm: f64,
    /// The distance of their means over all coefficients, at equal covariates: RMS over the surface, in mm.
    pub distance_mm: f64,
}

/// Every two groups. `y` is people x coefficients, of which the first `modes` are tested; `covariates` is people x columns.
///
/// # Errors
/// As [`hotelling_two`]; [`ShapeError::SmallGroup`] where the model leaves too few degrees of freedom, [`ShapeError::Stats`] where a column of it follows from the others.
pub fn pairs(
    y: ArrayView2<f64>,
    modes: usize,
    groups: &[usize],
    names: &[String],
    covariates: Option<ArrayView2<f64>>,
) -> Result<Vec<Pair>, ShapeError> {
    let model = covariates.map(|c| Model::fit(y, modes, groups, names.len(), c)).transpose()?;
    let members: Vec<Array2<f64>> = (0..names.len())
        .map(|g| {
            let of: Vec<usize> = (0..groups.len()).filter(|i| groups[*i] == g).collect();
            y.select(Axis(0), &of)
        })
        .collect();
    let mut out = Vec::new();
    for i in 0..names.len() {
        for j in i + 1..names.len() {
            let (a, b) = (&members[i], &members[j]);
            let (hotelling, d) = match &model {
                Some(model) => model.between(i, j, [a.nrows(), b.nrows()])?,
                None => {
                    let mean = |m: &Array2<f64>| m.mean_axis(Axis(0)).unwrap_or_default();
                    let d = mean(a) - mean(b);
                    (hotelling_two(a.slice(s![.., ..modes]), b.slice(s![.., ..modes]))?, d.to_vec())
                }
            };
            out.push(Pair {
                first: names[i].clone(),
                second: names[j].clone(),
                p_holm: hotelling.p,
                hotelling,
                distance_mm: d.iter().map(|x| x * x).sum::<f64>().sqrt(),
            });
        }
    }
    let p: Vec<f64> = out.iter().map(|p: &Pair| p.hotelling.p).collect();
    for (pair, adjusted) in out.iter_mut().zip(holm(&p)?) {
        pair.p_holm = adjusted;
    }
    Ok(out)
}

/// One linear model of all groups and the covariates.
struct Model {
    /// What each group but the first differs from the first, at equal covariates: groups - 1 x coefficients.
    differences: Array2<f64>,
    /// The triangle R of the added columns: their cross products are (R^T R)^-1.
    triangle: Array2<f64>,
    /// Residual covariance of the tested coefficients.
    covariance: Array2<f64>,
    df: usize,
}

impl Model {
    fn fit(
        y: ArrayView2<f64>,
        modes: usize,
        groups: &[usize],
        count: usize,
        covariates: ArrayView2<f64>,
    ) -> Result<Self, ShapeError> {
        let n = y.nrows();
        let q0 = basis(with_intercept(n, Some(covariates)).view(), Array2::zeros((n, 0)).view())?;
        let added = indicators(groups, count);
        let q1 = basis(added.view(), q0.view())?;
        let columns = q0.ncols() + q1.ncols();
        if n < columns + modes {
            return Err(ShapeError::SmallGroup { group: "all".into(), people: n, least: columns + modes });
        }
        let df = n - columns;
        let triangle = q1.t().dot(&added);
        let mut differences = q1.t().dot(&y);
        for i in (0..count - 1).rev() {
            for j in i + 1..count - 1 {
                let below = differences.row(j).to_owned();
                differences.row_mut(i).scaled_add(-triangle[[i, j]], &below);
            }
            differences.row_mut(i).mapv_inplace(|x| x / triangle[[i, i]]);
        }
        let tested = y.slice(s![.., ..modes]);
        let rest = residuals(residuals(tested, q0.view()).view(), q1.view());
        Ok(Self { differences, triangle, covariance: rest.t().dot(&rest) / df as f64, df })
    }

    /// T2 of groups i < j and their difference.
    fn between(&self, i: usize, j: usize, people: [usize; 2]) -> Result<(Hotelling, Vec<f64>), ShapeError> {
        let (g, k) = (self.differences.nrows(), self.covariance.nrows());
        let contrast: Vec<f64> =
            (0..g).map(|m| f64::from(u8::from(m + 1 == i)) - f64::from(u8::from(m + 1 == j))).collect();
        let d: Vec<f64> = self
            .differences
            .axis_iter(Axis(1))
            .map(|column| column.iter().zip(&contrast).map(|(x, c)| x * c).sum())
            .collect();
        // R^T u = contrast
        let mut u = contrast;
        for a in 0..g {
            for b in 0..a {
                u[a] -= self.triangle[[b, a]] * u[b];
            }
            u[a] /= self.triangle[[a, a]];
        }
        let spread: f64 = u.iter().map(|x| x * x).sum();
        let t2 = square(&factor(&self.covariance)?, &d[..k])? / spread;
        Ok((of_contrast(t2, k, self.df, people.to_vec()), d))
    }
}
