//! Weighted mean, variance, correlation.
//!
//! Weights say how many people of a population an observation stands for. They are scaled out: multiplying all by a number changes nothing.
//! `None` gives every observation the same weight.

use crate::StatsError;
use crate::interval::n_eff;

/// Checks values and weights of one length: finite values, weights finite and not negative with a sum above 0, at least one of each.
pub(crate) fn check(values: &[f64], weights: Option<&[f64]>) -> Result<(), StatsError> {
    if values.is_empty() {
        return Err(StatsError::TooFew { what: "values", least: 1, found: 0 });
    }
    if let Some(index) = values.iter().position(|v| !v.is_finite()) {
        return Err(StatsError::NotFinite { what: "values", index });
    }
    check_weights(values.len(), weights)
}

/// Checks weights for `n` observations.
pub(crate) fn check_weights(n: usize, weights: Option<&[f64]>) -> Result<(), StatsError> {
    let Some(weights) = weights else { return Ok(()) };
    if weights.len() != n {
        return Err(StatsError::Size { what: "weights", expected: n, found: weights.len() });
    }
    if let Some(index) = weights.iter().position(|w| !w.is_finite()) {
        return Err(StatsError::NotFinite { what: "weights", index });
    }
    if let Some(&value) = weights.iter().find(|w| **w < 0.0) {
        return Err(StatsError::OutOfRange { name: "a weight", value, range: "0 or more" });
    }
    let total: f64 = weights.iter().sum();
    if total <= 0.0 {
        return Err(StatsError::OutOfRange { name: "the sum of weights", value: total, range: "above 0" });
    }
    Ok(())
}

fn weight(weights: Option<&[f64]>, i: usize) -> f64 {
    weights.map_or(1.0, |w| w[i])
}

fn total(n: usize, weights: Option<&[f64]>) -> f64 {
    weights.map_or(n as f64, |w| w.iter().sum())
}

/// Observations that count: (sum w)^2 / sum w^2, or n.
fn effective(n: usize, weights: Option<&[f64]>) -> f64 {
    weights.map_or(n as f64, n_eff)
}

/// Weighted mean, sum w x / sum w.
///
/// # Errors
/// [`StatsError::TooFew`] for no values, [`StatsError::NotFinite`], [`StatsError::Size`] and [`StatsError::OutOfRange`] for bad weights.
pub fn mean(values: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    check(values, weights)?;
    Ok(mean_of(values, weights))
}

fn mean_of(values: &[f64], weights: Option<&[f64]>) -> f64 {
    // About the first value, so that a large common part costs no digits.
    let base = values[0];
    let sum: f64 = values.iter().enumerate().map(|(i, x)| weight(weights, i) * (x - base)).sum();
    base + sum / total(values.len(), weights)
}

/// Weighted variance on n - 1 degrees of freedom: (sum w (x - mean)^2 / sum w) n / (n - 1), where n is the effective number of observations
/// (sum w)^2 / sum w^2. Equal weights give the usual sum (x - mean)^2 / (n - 1).
///
/// # Errors
/// As [`mean`], and [`StatsError::TooFew`] under two observations that count.
pub fn variance(values: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    check(values, weights)?;
    covariance_of(values, values, weights)
}

/// Standard deviation, the root of [`variance`].
///
/// # Errors
/// As [`variance`].
pub fn sd(values: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    variance(values, weights).map(f64::sqrt)
}

/// Weighted covariance, with the divisor of [`variance`].
///
/// # Errors
/// As [`variance`], and [`StatsError::Size`] where `x` and `y` differ in length.
pub fn covariance(x: &[f64], y: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    check(x, weights)?;
    check(y, weights)?;
    covariance_of(x, y, weights)
}

fn covariance_of(x: &[f64], y: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    if x.len() != y.len() {
        return Err(StatsError::Size {
            what: "values of the second variable",
            expected: x.len(),
            found: y.len(),
        });
    }
    let n = effective(x.len(), weights);
    if n < 1.0 + 1e-9 {
        return Err(StatsError::TooFew { what: "values with a weight above 0", least: 2, found: 1 });
    }
    let (mx, my) = (mean_of(x, weights), mean_of(y, weights));
    let sum: f64 = (0..x.len()).map(|i| weight(weights, i) * (x[i] - mx) * (y[i] - my)).sum();
    Ok(sum / total(x.len(), weights) * n / (n - 1.0))
}

/// Pearson's correlation, weighted; in -1 to 1.
///
/// # Errors
/// As [`covariance`], and [`StatsError::Constant`] where a variable does not vary.
pub fn pearson(x: &[f64], y: &[f64], weights: Option<&[f64]>) -> Result<f64, StatsError> {
    let (vx, vy) = (variance(x, weights)?, variance(y, weights)?);
    if x.len() == y.len() {
        for (what, v) in [("the first variable", vx), ("the second variable", vy)] {
            if v <= 0.0 {
                return Err(StatsError::Constant { what });
            }
        }
    }
    Ok((covariance(x, y, weights)? / (vx * vy).sqrt()).clamp(-1.0, 1.0))
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn equal_weights_are_no_weights() {
        let x = [2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0];
        let w = [3.0; 8];
        assert_relative_eq!(mean(&x, None).unwrap(), 5.0);
        assert_relative_eq!(variance(&x, None).unwrap(), 32.0 / 7.0, max_relative = 1e-14);
        assert_relative_eq!(mean(&x, Some(&w)).unwrap(), 5.0);
        assert_relative_eq!(variance(&x, Some(&w)).unwrap(), 32.0 / 7.0, max_relative = 1e-14);
    }

    #[test]
    fn weights_move_the_mean() {
        assert_relative_eq!(mean(&[0.0, 10.0], Some(&[3.0, 1.0])).unwrap(), 2.5);
        // By hand: sum w (x - 2.5)^2 / 4 = 18.75; n = 16/10 = 1.6; times 1.6/0.6.
        assert_relative_eq!(variance(&[0.0, 10.0], Some(&[3.0, 1.0])).unwrap(), 50.0, max_relative = 1e-14);
        // A weight of zero takes a value out.
        let with = variance(&[1.0, 2.0, 4.0, 99.0], Some(&[1.0, 1.0, 1.0, 0.0])).unwrap();
        assert_relative_eq!(with, variance(&[1.0, 2.0, 4.0], None).unwrap(), max_relative = 1e-14);
    }

    #[test]
    fn a_large_common_part_costs_no_digits() {
        let x: Vec<f64> = (0..100).map(|i| 1e9 + f64::from(i)).collect();
        assert_relative_eq!(variance(&x, None).unwrap(), 841.666_666_666_666_6, max_relative = 1e-12);
    }

    #[test]
    fn correlation_knows_its_ends() {
        let x = [1.0, 2.0, 3.0, 5.0];
        let y = [-2.0, -4.0, -6.0, -10.0];
        assert_relative_eq!(pearson(&x, &y, None).unwrap(), -1.0, max_relative = 1e-14);
        // By hand: deviations (-1.5 -.5 .5 1.5) and (-.5 .5 -.5 .5): 1 / sqrt(5 * 1).
        let r = pearson(&[1.0, 2.0, 3.0, 4.0], &[0.0, 1.0, 0.0, 1.0], None).unwrap();
        assert_relative_eq!(r, 1.0 / 5.0_f64.sqrt(), max_relative = 1e-14);
        assert!(matches!(pearson(&x, &[1.0; 4], None), Err(StatsError::Constant { .. })));
    }

    #[test]
    fn bad_input_is_an_error() {
        assert!(matches!(mean(&[], None), Err(StatsError::TooFew { .. })));
        assert!(matches!(mean(&[1.0, f64::NAN], None), Err(StatsError::NotFinite { index: 1, .. })));
        assert!(matches!(mean(&[1.0], Some(&[1.0, 2.0])), Err(StatsError::Size { .. })));
        assert!(matches!(mean(&[1.0, 2.0], Some(&[1.0, -2.0])), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(mean(&[1.0, 2.0], Some(&[0.0, 0.0])), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(variance(&[1.0], None), Err(StatsError::TooFew { .. })));
        assert!(matches!(covariance(&[1.0, 2.0], &[1.0], None), Err(StatsError::Size { .. })));
    }
}
