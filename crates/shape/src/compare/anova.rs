//! Procrustes analysis of variance, tested by permuting the residuals of the reduced model.
//!
//! With orthonormal coefficients, sums of squares over coefficients are weighted Procrustes sums of squares over vertices, in mm2. The test asks what the added columns
//! explain beyond the reduced ones: F = (SS / df) / (RSS / df_residual). Under the reduced model its residuals are exchangeable between people, so they are permuted, whole rows,
//! and F worked out anew (Freedman and Lane 1983; Collyer, Sekora and Adams 2015). Only inner products with the bases of the two models are needed for a permutation.

use formkin_stats::random::stream;
use ndarray::ArrayView2;
use rand::seq::SliceRandom;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::design::{basis, residuals};
use crate::ShapeError;

/// Permutations of one random stream.
const CHUNK: usize = 250;
/// Most permutations: p-values need no more, and their statistics are kept.
const MOST_PERMUTATIONS: usize = 1_000_000;

/// A Procrustes analysis of variance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Anova {
    /// Rows: people, never frames.
    pub people: usize,
    /// Columns added.
    pub df_effect: usize,
    /// People less columns of the full model.
    pub df_residual: usize,
    /// Sum of squares that the added columns explain, in mm2.
    pub ss_effect_mm2: f64,
    /// Sum of squares that the full model leaves, in mm2.
    pub ss_residual_mm2: f64,
    /// Sum of squares about the mean, in mm2.
    pub ss_total_mm2: f64,
    /// Share of the total that the added columns explain.
    pub r2: f64,
    /// F of the data.
    pub f: f64,
    /// ln F of the data in standard deviations from the mean of ln F over permutations; none where it does not vary.
    pub z: Option<f64>,
    /// (1 + permutations with at least as large an F) / (permutations + 1).
    pub p: f64,
    /// How many permutations.
    pub permutations: usize,
    /// Their seed.
    pub seed: u64,
}

/// Tests what `added` explains of `y` (people x coefficients) beyond `reduced` (which holds the column of ones).
///
/// # Errors
/// [`ShapeError::Stats`] for columns that follow from others; [`ShapeError::SmallGroup`] where no degree of freedom is left; [`ShapeError::Setting`] without permutations.
pub fn anova(
    y: ArrayView2<f64>,
    reduced: ArrayView2<f64>,
    added: ArrayView2<f64>,
    permutations: usize,
    seed: u64,
) -> Result<Anova, ShapeError> {
    let n = y.nrows();
    for found in [reduced.nrows(), added.nrows()] {
        if found != n {
            return Err(ShapeError::Count { what: "rows of the model", expected: n, found });
        }
    }
    if permutations == 0 || permutations > MOST_PERMUTATIONS {
        let value = permutations as f64;
        return Err(ShapeError::Setting { name: "permutations", value, range: "1 to 1000000" });
    }
    let nothing = ndarray::Array2::zeros((n, 0));
    let q0 = basis(reduced, nothing.view())?;
    let q1 = basis(added, q0.view())?;
    let columns = q0.ncols() + q1.ncols();
    if n <= columns {
        return Err(ShapeError::SmallGroup { group: "all".into(), people: n, least: columns + 1 });
    }
    let (df, df_residual) = (q1.ncols(), n - columns);
    let left = residuals(y, q0.view());
    let square: f64 = left.iter().map(|x| x * x).sum();
    let centre = y.mean_axis(ndarray::Axis(0)).unwrap_or_default();
    let total: f64 = (&y - &centre).iter().map(|x| x * x).sum();
    let width = y.ncols();
    // one row a person: the residuals, contiguous
    let rows: Vec<Vec<f64>> = left.outer_iter().map(|r| r.to_vec()).collect();
    let ratio = |order: &[usize], sums: &mut Vec<f64>| {
        let mut explained = [0.0; 2];
        for (which, q) in [&q0, &q1].into_iter().enumerate() {
            for column in q.columns() {
                sums.clear();
                sums.resize(width, 0.0);
                for (weight, &i) in column.iter().zip(order) {
                    for (sum, x) in sums.iter_mut().zip(&rows[i]) {
                        *sum += weight * x;
                    }
                }
                explained[which] += sums.iter().map(|s| s * s).sum::<f64>();
            }
        }
        let rest = (square - explained[0] - explained[1]).max(0.0);
        (explained[1], rest, (explained[1] / df as f64) / (rest / df_residual as f64))
    };
    let identity: Vec<usize> = (0..n).collect();
    let (ss_effect_mm2, ss_residual_mm2, f) = ratio(&identity, &mut Vec::new());
    let chunks: Vec<Vec<f64>> = (0..permutations.div_ceil(CHUNK))
        .into_par_iter()
        .map(|chunk| {
            let mut rng = stream(seed, &format!("permutations {chunk}"));
            let mut order = identity.clone();
            let mut sums = Vec::new();
            (0..CHUNK.min(permutations - chunk * CHUNK))
                .map(|_| {
                    order.shuffle(&mut rng);
                    ratio(&order, &mut sums).2
                })
                .collect()
        })
        .collect();
    let drawn = chunks.concat();
    // a permutation that changes nothing must count, whatever the rounding
    let reached = drawn.iter().filter(|x| **x >= f * (1.0 - 1e-9)).count();
    Ok(Anova {
        people: n,
        df_effect: df,
        df_residual,
        ss_effect_mm2,
        ss_residual_mm2,
        ss_total_mm2: total,
        r2: if total > 0.0 { ss_effect_mm2 / total } else { 0.0 },
        f,
        z: effect_size(f, &drawn),
        p: (1 + reached) as f64 / (permutations + 1) as f64,
        permutations,
        seed,
    })
}

fn effect_size(f: f64, drawn: &[f64]) -> Option<f64> {
    let logs: Vec<f64> =
        drawn.iter().chain([&f]).filter(|x| **x > 0.0 && x.is_finite()).map(|x| x.ln()).collect();
    let n = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / n;
    let sd = (logs.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    (f > 0.0 && f.is_finite() && sd > 0.0 && sd.is_finite()).then(|| (f.ln() - mean) / sd)
}
