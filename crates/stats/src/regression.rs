//! Linear least squares.

use ndarray::{Array2, ArrayView1, ArrayView2};
use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::moments::{check, check_weights};
use crate::qr::triangle;

/// A fitted line, plane or hyperplane.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Regression {
    /// Value where all predictors are 0; 0 where no intercept was fitted.
    pub intercept: f64,
    /// One coefficient a predictor, in units of y over units of the predictor.
    pub coefficients: Vec<f64>,
    /// Standard errors of the coefficients.
    pub standard_errors: Vec<f64>,
    /// Share of the sum of squares that the fit explains, 1 - RSS / TSS, about the mean with an intercept and about 0 without; None where y
    /// does not vary.
    pub r2: Option<f64>,
    /// Residual standard deviation, sqrt(RSS / df), in units of y.
    pub residual_sd: f64,
    /// Degrees of freedom: observations less fitted coefficients.
    pub df: usize,
    /// y less the fitted value, one an observation.
    pub residuals: Vec<f64>,
}

impl Regression {
    /// The fitted value at given predictors; None where their number is not that of the fit.
    #[must_use]
    pub fn predict(&self, predictors: &[f64]) -> Option<f64> {
        (predictors.len() == self.coefficients.len()).then(|| {
            self.intercept + self.coefficients.iter().zip(predictors).map(|(b, x)| b * x).sum::<f64>()
        })
    }
}

/// Fits y = intercept + x b by (weighted) least squares, through the QR factorisation of the centred and scaled predictors by Householder
/// reflections (Golub & Van Loan). `x` is observations x predictors. Weights are inverse variances up to a factor; they are scaled to a mean of 1.
/// An observation of weight 0 counts in nothing but the residuals.
///
/// # Errors
/// [`StatsError::Size`] where lengths differ, [`StatsError::NotFinite`], [`StatsError::TooFew`] where no degree of freedom is left,
/// [`StatsError::Collinear`] where a predictor does not vary or follows from those before it.
pub fn least_squares(
    x: ArrayView2<f64>,
    y: &[f64],
    weights: Option<&[f64]>,
    intercept: bool,
) -> Result<Regression, StatsError> {
    let (n, p) = x.dim();
    if y.len() != n {
        return Err(StatsError::Size { what: "values of y", expected: n, found: y.len() });
    }
    check(y, weights)?;
    check_weights(n, weights)?;
    if let Some(index) = x.iter().position(|v| !v.is_finite()) {
        return Err(StatsError::NotFinite { what: "predictors", index });
    }
    let used = weights.map_or(n, |w| w.iter().filter(|w| **w > 0.0).count());
    let fitted = p + usize::from(intercept);
    if used <= fitted {
        return Err(StatsError::TooFew { what: "observations", least: fitted + 1, found: used });
    }
    let total: f64 = weights.map_or(n as f64, |w| w.iter().sum());
    let weight = |i: usize| weights.map_or(1.0, |w| w[i] * used as f64 / total);
    let centre = |value: &dyn Fn(usize) -> f64| {
        if intercept { (0..n).map(|i| weight(i) * value(i)).sum::<f64>() / used as f64 } else { 0.0 }
    };
    let mean_y = centre(&|i| y[i]);
    let means: Vec<f64> = (0..p).map(|j| centre(&|i| x[[i, j]])).collect();

    let mut a = Array2::from_shape_fn((n, p), |(i, j)| weight(i).sqrt() * (x[[i, j]] - means[j]));
    let mut scales = vec![0.0; p];
    for j in 0..p {
        let norm = a.column(j).iter().map(|v| v * v).sum::<f64>().sqrt();
        let size = x.column(j).iter().fold(0.0_f64, |m, v| m.max(v.abs()));
        if norm <= 1e-12 * size * (n as f64).sqrt() {
            return Err(StatsError::Collinear { predictor: j });
        }
        a.column_mut(j).mapv_inplace(|v| v / norm);
        scales[j] = norm;
    }
    let b: Vec<f64> = (0..n).map(|i| weight(i).sqrt() * (y[i] - mean_y)).collect();
    let tss: f64 = b.iter().map(|v| v * v).sum();

    // the triangle of [a y] holds R and, as its last column, Q^T y
    a.push_column(ArrayView1::from(&b)).map_err(|_| StatsError::Size {
        what: "values of y",
        expected: n,
        found: b.len(),
    })?;
    let a = triangle(a.view());
    // Columns have length 1, so the diagonal is the share of each that the columns before it do not explain.
    if let Some(predictor) = (0..p).find(|&j| a[[j, j]].abs() < 1e-10) {
        return Err(StatsError::Collinear { predictor });
    }
    let solved = solve_upper(&a, &a.column(p).to_vec()[..p]);
    let coefficients: Vec<f64> = solved.iter().zip(&scales).map(|(c, s)| c / s).collect();
    let intercept = mean_y - coefficients.iter().zip(&means).map(|(c, m)| c * m).sum::<f64>();
    let residuals: Vec<f64> = (0..n)
        .map(|i| y[i] - mean_y - (0..p).map(|j| coefficients[j] * (x[[i, j]] - means[j])).sum::<f64>())
        .collect();
    let rss: f64 = residuals.iter().enumerate().map(|(i, r)| weight(i) * r * r).sum();
    let df = used - fitted;
    let residual_sd = (rss / df as f64).sqrt();
    // Cov(b) = s^2 (R^T R)^-1: row sums of squares of R^-1.
    let standard_errors = (0..p)
        .map(|j| {
            let row: f64 = (0..p)
                .map(|k| {
                    let unit: Vec<f64> = (0..p).map(|i| f64::from(u8::from(i == k))).collect();
                    solve_upper(&a, &unit)[j].powi(2)
                })
                .sum();
            residual_sd * row.sqrt() / scales[j]
        })
        .collect();
    let r2 = (tss > 0.0).then(|| (1.0 - rss / tss).clamp(0.0, 1.0));
    Ok(Regression { intercept, coefficients, standard_errors, r2, residual_sd, df, residuals })
}

fn solve_upper(r: &Array2<f64>, b: &[f64]) -> Vec<f64> {
    let p = b.len();
    let mut solved = vec![0.0; p];
    for j in (0..p).rev() {
        let known: f64 = (j + 1..p).map(|k| r[[j, k]] * solved[k]).sum();
        solved[j] = (b[j] - known) / r[[j, j]];
    }
    solved
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use ndarray::{Array2, array};

    use super::*;

    /// Anscombe's first set (Anscombe 1973; the published fit is y = 3.00 + 0.500 x, R2 0.667).
    const X: [f64; 11] = [10.0, 8.0, 13.0, 9.0, 11.0, 14.0, 6.0, 4.0, 12.0, 7.0, 5.0];
    const Y: [f64; 11] = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];

    #[test]
    fn a_published_line() {
        let x = Array2::from_shape_vec((11, 1), X.to_vec()).unwrap();
        let fit = least_squares(x.view(), &Y, None, true).unwrap();
        assert_relative_eq!(fit.intercept, 3.000_090_9, max_relative = 1e-7);
        assert_relative_eq!(fit.coefficients[0], 0.500_090_9, max_relative = 1e-7);
        assert_relative_eq!(fit.r2.unwrap(), 0.666_542_5, max_relative = 1e-6);
        assert_relative_eq!(fit.residual_sd, 1.236_603, max_relative = 1e-6);
        assert_relative_eq!(fit.standard_errors[0], 0.117_905_5, max_relative = 1e-6);
        assert_eq!(fit.df, 9);
        assert_relative_eq!(fit.predict(&[10.0]).unwrap() + fit.residuals[0], 8.04, max_relative = 1e-12);
        assert_eq!(fit.predict(&[]), None);
    }

    #[test]
    fn weights_are_repetitions() {
        let x = array![[1.0], [2.0], [4.0], [7.0]];
        let y = [1.0, 3.0, 2.0, 9.0];
        let weighted = least_squares(x.view(), &y, Some(&[1.0, 2.0, 1.0, 1.0]), true).unwrap();
        let repeated = array![[1.0], [2.0], [2.0], [4.0], [7.0]];
        let plain = least_squares(repeated.view(), &[1.0, 3.0, 3.0, 2.0, 9.0], None, true).unwrap();
        assert_relative_eq!(weighted.coefficients[0], plain.coefficients[0], max_relative = 1e-12);
        assert_relative_eq!(weighted.intercept, plain.intercept, max_relative = 1e-12);
        assert_relative_eq!(weighted.r2.unwrap(), plain.r2.unwrap(), max_relative = 1e-12);
    }

    #[test]
    fn two_predictors_exactly() {
        let x = array![[1.0, 0.5], [2.0, 4.0], [3.0, 1.0], [4.0, 9.0], [5.0, 2.0]];
        let y: Vec<f64> = x.rows().into_iter().map(|r| 1e6 + 2.0 * r[0] - 3.0 * r[1]).collect();
        let fit = least_squares(x.view(), &y, None, true).unwrap();
        assert_relative_eq!(fit.coefficients[0], 2.0, max_relative = 1e-8);
        assert_relative_eq!(fit.coefficients[1], -3.0, max_relative = 1e-8);
        assert!(fit.residual_sd < 1e-8);
        let through_zero = least_squares(array![[1.0], [2.0]].view(), &[2.0, 4.0], None, false).unwrap();
        assert_relative_eq!(through_zero.coefficients[0], 2.0, max_relative = 1e-14);
        assert_eq!((through_zero.df, through_zero.intercept), (1, 0.0));
    }

    #[test]
    fn bad_input_is_an_error() {
        let x = array![[1.0, 2.0], [2.0, 4.0], [3.0, 6.0], [5.0, 10.0]];
        let y = [1.0, 2.0, 4.0, 3.0];
        assert_eq!(
            least_squares(x.view(), &y, None, true).unwrap_err(),
            StatsError::Collinear { predictor: 1 }
        );
        let constant = array![[3.0], [3.0], [3.0], [3.0]];
        assert_eq!(
            least_squares(constant.view(), &y, None, true).unwrap_err(),
            StatsError::Collinear { predictor: 0 }
        );
        assert!(matches!(least_squares(x.view(), &y[..3], None, true), Err(StatsError::Size { .. })));
        assert!(matches!(
            least_squares(array![[1.0], [2.0]].view(), &y[..2], None, true),
            Err(StatsError::TooFew { .. })
        ));
    }
}
