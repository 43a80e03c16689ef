//! Functional principal components of curves.
//!
//! Curves over the cycle are functions; the scalar product is the integral over the cycle (trapezoid rule, the cycle's length 1).
//! Components are the eigenfunctions of the covariance of the curves, divisor n - 1 (Ramsay & Silverman, *Functional Data Analysis*,
//! from memory). They come from the n x n matrix of scalar products.

use formkin_stats::gram::{add_gram, add_product};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use serde::{Deserialize, Serialize};

use crate::MotionError;

/// Functional principal components.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CurveComponents {
    /// Number of curves.
    pub curves: usize,
    /// The mean curve.
    pub mean: Vec<f64>,
    /// Eigenfunctions at the points of the curves, largest variance first; the integral of each one's square is 1 and its largest
    /// value positive.
    pub functions: Vec<Vec<f64>>,
    /// Variances, in the square of the curves' unit, divisor curves - 1.
    pub variances: Vec<f64>,
    /// The sum of all variances.
    pub total_variance: f64,
    /// Scores: one row a curve, one column a component; curve = mean + sum of score x function.
    pub scores: Vec<Vec<f64>>,
}

/// Components of curves with the same number of points, at most `most` of them.
///
/// # Errors
/// [`MotionError::Count`] where curves differ in length or there are fewer than two; [`MotionError::NotFinite`].
pub fn curve_components(curves: &[Vec<f64>], most: usize) -> Result<CurveComponents, MotionError> {
    let n = curves.len();
    let points = curves.first().map_or(0, Vec::len);
    if n < 2 || points < 2 {
        return Err(MotionError::Count { what: "curves of two points or more", expected: 2, found: n });
    }
    for c in curves {
        if c.len() != points {
            return Err(MotionError::Count { what: "points of a curve", expected: points, found: c.len() });
        }
        if let Some(frame) = c.iter().position(|v| !v.is_finite()) {
            return Err(MotionError::NotFinite { what: "a curve".to_owned(), frame });
        }
    }
    let step = 1.0 / (points - 1) as f64;
    let root = |p: usize| (step * if p == 0 || p + 1 == points { 0.5 } else { 1.0 }).sqrt();
    let mean: Vec<f64> = (0..points).map(|p| curves.iter().map(|c| c[p]).sum::<f64>() / n as f64).collect();
    let rows = Array2::from_shape_fn((n, points), |(i, p)| root(p) * (curves[i][p] - mean[p]));
    let mut gram = Array2::zeros((n, n));
    add_gram(&mut gram, rows.view(), rows.view())?;
    let total_variance = gram.diag().sum() / (n - 1) as f64;
    let eigen = symmetric_eigen(&gram)?;
    let largest = eigen.values.first().copied().unwrap_or(0.0);
    let kept = eigen.values.iter().take((n - 1).min(most)).take_while(|&&l| l > 1e-12 * largest).count();
    let left = Array2::from_shape_fn((kept, n), |(k, i)| eigen.vectors[[i, k]] / eigen.values[k].sqrt());
    let mut found = Array2::zeros((kept, points));
    add_product(found.view_mut(), left.view(), rows.view())?;
    let mut functions = Vec::with_capacity(kept);
    let mut signs = Vec::with_capacity(kept);
    for row in found.rows() {
        let function: Vec<f64> = row.iter().enumerate().map(|(p, v)| v / root(p)).collect();
        let peak = function.iter().fold(0.0f64, |m, v| if v.abs() > m.abs() { *v } else { m });
        let sign = if peak < 0.0 { -1.0 } else { 1.0 };
        functions.push(function.iter().map(|v| sign * v).collect());
        signs.push(sign);
    }
    let scores = (0..n)
        .map(|i| (0..kept).map(|k| signs[k] * eigen.vectors[[i, k]] * eigen.values[k].sqrt()).collect())
        .collect();
    let variances = eigen.values[..kept].iter().map(|l| l / (n - 1) as f64).collect();
    Ok(CurveComponents { curves: n, mean, functions, variances, total_variance, scores })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[test]
    fn two_planted_functions_come_back() {
        let f = |p: usize| 2f64.sqrt() * (TAU * p as f64 / 100.0).sin();
        let g = |p: usize| 2f64.sqrt() * (TAU * p as f64 / 50.0).cos();
        let curves: Vec<Vec<f64>> = (0..40)
            .map(|i| {
                let (a, b) = (5.0 * f64::from(i).sin(), 2.0 * (1.7 * f64::from(i)).cos());
                (0..101).map(|p| 900.0 + a * f(p) + b * g(p)).collect()
            })
            .collect();
        let found = curve_components(&curves, 5).unwrap();
        assert_eq!(found.functions.len(), 2);
        let product: f64 = (0..100).map(|p| found.functions[0][p] * f(p) / 100.0).sum();
        assert!((product.abs() - 1.0).abs() < 0.01, "{product}");
        for (i, curve) in curves.iter().enumerate() {
            for p in [0, 37, 100] {
                let back: f64 = (0..2).map(|k| found.scores[i][k] * found.functions[k][p]).sum();
                assert!((found.mean[p] + back - curve[p]).abs() < 1e-9);
            }
        }
        assert!(curve_components(&curves[..1], 5).is_err());
    }
}
