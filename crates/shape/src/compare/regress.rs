//! Shape on a number: what stature, mass or age does to a body, and whether it does the same in every group.

use ndarray::{Array2, ArrayView2, Axis, concatenate};
use serde::{Deserialize, Serialize};

use super::design::{basis, indicators, with_intercept};
use super::{Anova, CompareParams, Place, anova, place};
use crate::{ShapeError, Space};

/// Shape regressed on a number.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShapeRegression {
    /// The number.
    pub on: String,
    /// Its mean over people.
    pub mean: f64,
    /// Its SD over people, divisor n - 1.
    pub sd: f64,
    /// What one unit of it does to every coefficient, in mm, covariates and groups held fixed.
    pub slope_mm: Vec<f64>,
    /// RMS over the surface of what one SD of it does, in mm.
    pub effect_of_one_sd_mm: f64,
    /// The test, given covariates and groups.
    pub anova: Anova,
    /// Where on the body: mm for each unit.
    pub place: Place,
    /// What the effect of that map is, in words.
    pub effect: String,
    /// Whether the slope differs between groups: small p says that one slope for all is not enough. None without groups.
    pub equal_slopes: Option<Anova>,
    /// Slopes of each group on their own: groups x coefficients, in mm a unit.
    pub slopes_by_group_mm: Vec<Vec<f64>>,
    /// The groups.
    pub groups: Vec<String>,
    /// Columns held fixed.
    pub covariates: Vec<String>,
    /// The settings.
    pub params: CompareParams,
}

impl ShapeRegression {
    /// What `amount` units of the number do to every vertex of the mean, in mm.
    #[must_use]
    pub fn displacement(&self, space: &Space, amount: f64) -> Vec<formkin_geometry::Point> {
        let scaled: Vec<f64> = self.slope_mm.iter().map(|b| b * amount).collect();
        let moved = space.reconstruct(&scaled);
        moved.iter().zip(&space.mean).map(|(a, b)| std::array::from_fn(|k| a[k] - b[k])).collect()
    }
}

/// The least squares slope of every column of y on x beyond `reduced`: q^T y / q^T x for the direction q that x adds.
fn slope(y: ArrayView2<f64>, x: ArrayView2<f64>, reduced: ArrayView2<f64>) -> Result<Vec<f64>, ShapeError> {
    let q0 = basis(reduced, Array2::zeros((y.nrows(), 0)).view())?;
    let q1 = basis(x, q0.view())?;
    let q = q1.column(0);
    let along = q.dot(&x.column(0));
    Ok(y.axis_iter(Axis(1)).map(|c| q.dot(&c) / along).collect())
}

/// Regresses shape on `x`. `y` is people x coefficients; `groups` holds the group of each person and the names, `covariates` people x columns and their names.
///
/// # Errors
/// [`ShapeError::Stats`] for a number that does not vary or follows from groups and covariates; sizes that do not fit.
pub fn regress(
    params: &CompareParams,
    space: &Space,
    y: ArrayView2<f64>,
    (on, x): (&str, &[f64]),
    groups: Option<(&[usize], &[String])>,
    covariates: Option<(ArrayView2<f64>, &[String])>,
) -> Result<ShapeRegression, ShapeError> {
    params.check()?;
    let n = y.nrows();
    if x.len() != n {
        return Err(ShapeError::Count { what: "values of the number", expected: n, found: x.len() });
    }
    let joined = |parts: &[ArrayView2<f64>]| {
        concatenate(Axis(1), parts).map_err(|_| ShapeError::Count {
            what: "rows of the model",
            expected: n,
            found: parts.first().map_or(0, |p| p.nrows()),
        })
    };
    let column = Array2::from_shape_fn((n, 1), |(i, _)| x[i]);
    let mut reduced = with_intercept(n, covariates.as_ref().map(|c| c.0));
    let mut equal_slopes = None;
    let mut slopes = Vec::new();
    if let Some((of, names)) = groups {
        let own = indicators(of, names.len());
        reduced = joined(&[reduced.view(), own.view()])?;
        if names.len() > 1 {
            let both = joined(&[reduced.view(), column.view()])?;
            let products = Array2::from_shape_fn(own.dim(), |(i, j)| own[[i, j]] * x[i]);
            equal_slopes = Some(anova(y, both.view(), products.view(), params.permutations, params.seed)?);
        }
        for g in 0..names.len() {
            let members: Vec<usize> = (0..n).filter(|i| of[*i] == g).collect();
            if members.len() < 3 {
                return Err(ShapeError::SmallGroup {
                    group: names[g].clone(),
                    people: members.len(),
                    least: 3,
                });
            }
            let part = |a: ArrayView2<f64>| a.select(Axis(0), &members);
            let base = with_intercept(
                members.len(),
                covariates.as_ref().map(|c| part(c.0)).as_ref().map(|c| c.view()),
            );
            slopes.push(slope(part(y).view(), part(column.view()).view(), base.view())?);
        }
    }
    let slope_mm = slope(y, column.view(), reduced.view())?;
    let mean = x.iter().sum::<f64>() / n as f64;
    let sd = (x.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n as f64 - 1.0)).sqrt();
    Ok(ShapeRegression {
        on: on.to_owned(),
        mean,
        sd,
        effect_of_one_sd_mm: sd * slope_mm.iter().map(|b| b * b).sum::<f64>().sqrt(),
        slope_mm,
        anova: anova(y, reduced.view(), column.view(), params.permutations, params.seed)?,
        place: place(space, y, reduced.view(), column.view(), params.level)?,
        effect: format!(
            "mm along the outward normal of the mean for 1 more of {on}: above 0 where bodies stand out further"
        ),
        equal_slopes,
        slopes_by_group_mm: slopes,
        groups: groups.map_or_else(Vec::new, |g| g.1.to_vec()),
        covariates: covariates.map_or_else(Vec::new, |c| c.1.to_vec()),
        params: params.clone(),
    })
}
