//! The conditional normal distribution.
//!
//! With coefficients b and given variables m, both normal,
//! E[b | m] = mu_b + S_bm (S_mm + R)^-1 (m - mu_m), Cov[b | m] = S_bb - S_bm (S_mm + R)^-1 S_mb,
//! R = diag(error^2): the technical error of measurement of each, 0 where the value is exact. The moments are estimated from n people, so a new
//! person's residual has the variance Cov (n - 1)/(n - q - 1) (1 + 1/n + d^2/(n - 1)) and Student's t with n - q - 1 degrees of freedom, d^2 being the squared
//! Mahalanobis distance of the given values: exact for normal data and R = 0 (multivariate regression, Anderson 2003).

use formkin_stats::StatsError;
use formkin_stats::cholesky::Cholesky;
use formkin_stats::distribution::{chi_square_quantile, student_t_quantile};
use ndarray::Array2;
use serde::{Deserialize, Serialize};

use crate::ShapeError;
use crate::predict::DimensionMoments;

/// The share of people within the region where a prediction is not an extrapolation.
pub(crate) const INSIDE: f64 = 0.99;

/// A value that is given.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Given {
    /// Which variable.
    pub variable: usize,
    /// Its value, in its unit.
    pub value: f64,
    /// The technical error of measurement of the value, as an SD in its unit; 0: exact.
    pub error: f64,
}

/// A variable as predicted.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Predicted {
    /// Which variable.
    pub variable: usize,
    /// Its expected value.
    pub value: f64,
    /// SD of a new person's value about it.
    pub sd: f64,
}

/// Coefficients and variables given some variables.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Conditional {
    /// Expected coefficients, in mm.
    pub coefficients_mm: Vec<f64>,
    /// K x K covariance of a new person's coefficients about them, in mm2, the uncertainty of the moments included.
    pub covariance_mm2: Vec<Vec<f64>>,
    /// Every variable, the given ones too.
    pub variables: Vec<Predicted>,
    /// Mahalanobis distance of the given values from the mean.
    pub mahalanobis: f64,
    /// The distance within which 99 % of people lie: root of the chi-square quantile.
    pub limit: f64,
    /// Whether the given values are further out: the prediction is an extrapolation.
    pub outside: bool,
    /// Degrees of freedom of the residuals, people - given - 1.
    pub df: usize,
    /// Student's t for intervals of 95 %.
    pub t_95: f64,
}

impl DimensionMoments {
    /// The coefficients and variables of people with the given values.
    ///
    /// # Errors
    /// [`ShapeError::Given`] where a value is not finite, given twice, of no such variable, or follows from the others; [`ShapeError::TooManyGiven`] where
    /// no degrees of freedom are left.
    #[expect(
        clippy::too_many_lines,
        reason = "one conditional distribution: factor, loads and results belong together"
    )]
    pub fn condition(&self, given: &[Given]) -> Result<Conditional, ShapeError> {
        let q = given.len();
        let no = |g: &Given, reason: String| ShapeError::Given {
            variable: self
                .variables
                .get(g.variable)
                .map_or_else(|| g.variable.to_string(), |v| v.name.clone()),
            reason,
        };
        for (i, g) in given.iter().enumerate() {
            if g.variable >= self.variables.len() {
                return Err(no(g, format!("there are only {} variables", self.variables.len())));
            }
            if !(g.value.is_finite() && g.error >= 0.0 && g.error.is_finite()) {
                return Err(no(
                    g,
                    "its value and its error must be finite, and the error 0 or more".to_owned(),
                ));
            }
            if given[..i].iter().any(|other| other.variable == g.variable) {
                return Err(no(g, "it is given twice".to_owned()));
            }
        }
        let Some(df) = self.people.checked_sub(q + 1).filter(|df| *df > 0) else {
            return Err(ShapeError::TooManyGiven { given: q, people: self.people });
        };
        let s_mm = |i: usize, j: usize| {
            let error = if i == j { given[i].error.powi(2) } else { 0.0 };
            self.covariance[given[i].variable][given[j].variable] + error
        };
        let mut scaled = Array2::from_shape_fn((q, q), |(i, j)| s_mm(i, j));
        // correlations, so that what follows from other values is seen whatever the units
        let sds: Vec<f64> = (0..q).map(|i| scaled[[i, i]].sqrt()).collect();
        if let Some(i) = sds.iter().position(|s| s.is_nan() || *s <= 0.0) {
            return Err(no(&given[i], "it is the same for all people, and says nothing".to_owned()));
        }
        for i in 0..q {
            for j in 0..q {
                scaled[[i, j]] /= sds[i] * sds[j];
            }
        }
        for upto in 1..=q {
            let part = scaled.slice(ndarray::s![..upto, ..upto]).to_owned();
            if !Cholesky::new(&part)?.is_some_and(|c| c.factor()[[upto - 1, upto - 1]] > 1e-5) {
                return Err(no(
                    &given[upto - 1],
                    "it follows from the values given before it: leave one out, or give their errors"
                        .to_owned(),
                ));
            }
        }
        let factor =
            Cholesky::new(&scaled)?.ok_or(StatsError::Collinear { predictor: q.saturating_sub(1) })?;
        let half = |x: &mut dyn Iterator<Item = f64>| -> Result<Vec<f64>, StatsError> {
            factor.half_solve(&x.zip(&sds).map(|(x, s)| x / s).collect::<Vec<f64>>())
        };
        // rows z_a = L^-1 S_ma: then E = mu + z . z_m and Cov = S - z z^T
        let target = half(&mut given.iter().map(|g| g.value - self.means[g.variable]))?;
        let distance2: f64 = target.iter().map(|x| x * x).sum();
        let n = self.people as f64;
        let inflation = (n - 1.0) / df as f64 * (1.0 + 1.0 / n + distance2 / (n - 1.0));
        let loads = self
            .cross
            .iter()
            .map(|row| half(&mut given.iter().map(|g| row[g.variable])))
            .collect::<Result<Vec<Vec<f64>>, StatsError>>()?;
        let dot = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let coefficients_mm =
            self.coefficient_means_mm.iter().zip(&loads).map(|(m, l)| m + dot(l, &target)).collect();
        let covariance_mm2 = self
            .coefficient_covariance_mm2
            .iter()
            .zip(&loads)
            .map(|(row, a)| row.iter().zip(&loads).map(|(s, b)| inflation * (s - dot(a, b))).collect())
            .collect();
        let variables = (0..self.variables.len())
            .map(|v| {
                let load = half(&mut given.iter().map(|g| self.covariance[v][g.variable]))?;
                let variance = (self.covariance[v][v] - dot(&load, &load)).max(0.0);
                let value = self.means[v] + dot(&load, &target);
                // an exact value stays exact, whatever rounding says
                let exact = given.iter().any(|g| g.variable == v && g.error == 0.0);
                let sd = if exact { 0.0 } else { (inflation * variance).sqrt() };
                Ok(Predicted { variable: v, value, sd })
            })
            .collect::<Result<Vec<Predicted>, StatsError>>()?;
        let limit = if q == 0 { 0.0 } else { chi_square_quantile(INSIDE, q as f64).sqrt() };
        Ok(Conditional {
            coefficients_mm,
            covariance_mm2,
            variables,
            mahalanobis: distance2.sqrt(),
            limit,
            outside: distance2.sqrt() > limit,
            df,
            t_95: student_t_quantile(0.95, df as f64),
        })
    }
}
