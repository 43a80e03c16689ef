//! How many normal components a mixture needs.

use ndarray::{Array1, Array2, ArrayView2, Axis};
use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::cluster::{Mixture, mixture};
use crate::folds::grouped_folds;

/// Starts of each fit, and rounds at most.
const STARTS: usize = 5;
const ROUNDS: usize = 300;

/// What speaks for so many components.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ComponentScore {
    /// How many.
    pub components: usize,
    /// Free parameters: k - 1 shares, k d means, k d (d + 1) / 2 covariances.
    pub parameters: usize,
    /// Bayesian information criterion, -2 ln L + parameters ln n (Schwarz 1978): less is better.
    pub bic: f64,
    /// Mean log density of points held out: more is better.
    pub held_out: f64,
    /// Its standard error over points.
    pub held_out_se: f64,
}

/// A mixture with as many components as the data bear.
#[derive(Debug, Clone, PartialEq)]
pub struct ChosenMixture {
    /// The mixture, in the units of the points.
    pub mixture: Mixture,
    /// One row a number of components that could be fitted.
    pub scores: Vec<ComponentScore>,
    /// Folds of the held-out density.
    pub folds: usize,
}

/// Fits mixtures of 1, 2, .. `most` normal densities with full covariances to `points` (points x dimensions) and takes the one under which points held out are likeliest, over `folds` folds;
/// BIC is told beside it. Every fold brings the columns to unit variance by itself, so that units do not matter, and adds a thousandth to every variance. A
/// component needs more points than dimensions: numbers that leave fewer than d + 2 points a component of the smallest training part are not tried.
///
/// # Errors
/// [`StatsError::TooFew`] where not even one component can be held out; as [`mixture()`].
pub fn choose_components(
    points: ArrayView2<f64>,
    most: usize,
    folds: usize,
    seed: u64,
) -> Result<ChosenMixture, StatsError> {
    let (n, d) = points.dim();
    let own: Vec<usize> = (0..n).collect();
    let parts = grouped_folds(&own, folds, seed)?;
    let least = parts.iter().map(|f| f.train.len()).min().unwrap_or(0);
    let (mut scores, mut best): (Vec<ComponentScore>, Option<(f64, Mixture)>) = (Vec::new(), None);
    for k in 1..=most.max(1) {
        if least < k * (d + 2) {
            break;
        }
        let mut logs = Vec::with_capacity(n);
        for fold in &parts {
            let fitted = scaled_mixture(points.select(Axis(0), &fold.train).view(), k, seed)?;
            logs.extend(fitted.log_densities(points.select(Axis(0), &fold.test).view())?);
        }
        let held_out = logs.iter().sum::<f64>() / n as f64;
        let spread = logs.iter().map(|l| (l - held_out).powi(2)).sum::<f64>() / (n - 1) as f64;
        let whole = scaled_mixture(points, k, seed)?;
        let likelihood: f64 = whole.log_densities(points)?.iter().sum();
        let parameters = k - 1 + k * d + k * d * (d + 1) / 2;
        scores.push(ComponentScore {
            components: k,
            parameters,
            bic: -2.0 * likelihood + parameters as f64 * (n as f64).ln(),
            held_out,
            held_out_se: (spread / n as f64).sqrt(),
        });
        if best.as_ref().is_none_or(|(b, _)| held_out > *b) {
            best = Some((held_out, whole));
        }
    }
    match best {
        Some((_, mixture)) => Ok(ChosenMixture { mixture, scores, folds: parts.len() }),
        None => {
            Err(StatsError::TooFew { what: "points to choose components by", least: d + 2, found: least })
        }
    }
}

/// A mixture of `k` densities fitted to columns of unit variance, told in the units of the points.
///
/// # Errors
/// As [`mixture()`].
pub fn scaled_mixture(points: ArrayView2<f64>, k: usize, seed: u64) -> Result<Mixture, StatsError> {
    let n = points.nrows() as f64;
    let mean = points.mean_axis(Axis(0)).unwrap_or_else(|| Array1::zeros(points.ncols()));
    let sd: Array1<f64> = points
        .axis_iter(Axis(1))
        .zip(&mean)
        .map(|(c, m)| (c.iter().map(|x| (x - m).powi(2)).sum::<f64>() / n).sqrt())
        .map(|s| if s > 0.0 { s } else { 1.0 })
        .collect();
    let scaled = Array2::from_shape_fn(points.dim(), |(i, j)| (points[[i, j]] - mean[j]) / sd[j]);
    let mut found = mixture(scaled.view(), None, k, None, STARTS, seed, ROUNDS)?;
    for ((_, j), m) in found.means.indexed_iter_mut() {
        *m = *m * sd[j] + mean[j];
    }
    for c in &mut found.covariances {
        for ((a, b), v) in c.indexed_iter_mut() {
            *v *= sd[a] * sd[b];
        }
    }
    found.mean_log_density -= sd.iter().map(|s| s.ln()).sum::<f64>();
    Ok(found)
}

#[cfg(test)]
mod tests {
    use rand::Rng;
    use rand_distr::StandardNormal;

    use super::*;
    use crate::random::stream;

    fn clouds(n: usize, apart: f64) -> Array2<f64> {
        let mut rng = stream(9, "clouds");
        Array2::from_shape_fn((n, 3), |(i, j)| {
            let z: f64 = rng.sample(StandardNormal);
            [100.0, 1.0, 0.01][j] * (z + if i % 2 == 0 { apart } else { 0.0 })
        })
    }

    #[test]
    fn as_many_components_as_there_are_clouds() {
        let one = choose_components(clouds(300, 0.0).view(), 4, 10, 1).unwrap();
        assert_eq!(one.mixture.shares.len(), 1);
        let two = choose_components(clouds(300, 5.0).view(), 4, 10, 1).unwrap();
        assert_eq!(two.mixture.shares.len(), 2);
        let bic: Vec<f64> = two.scores.iter().map(|s| s.bic).collect();
        assert!(bic[1] < bic[0] && bic[1] < bic[2], "{bic:?}");
        assert!((two.mixture.shares[0] - 0.5).abs() < 0.02);
        // the density of one normal by hand: -ln sd - ln(2 pi)/2 - 1/2 a dimension, on average
        let expected: f64 = [100.0f64, 1.0, 0.01].iter().map(|s| -s.ln() - 1.4189385).sum();
        assert!((one.mixture.mean_log_density - expected).abs() < 0.15, "{}", one.mixture.mean_log_density);
    }

    #[test]
    fn few_points_bear_few_components() {
        let x = clouds(20, 0.0);
        assert!(choose_components(x.view(), 9, 5, 1).unwrap().scores.len() <= 3);
        assert!(choose_components(x.slice(ndarray::s![..4, ..]), 2, 2, 1).is_err());
    }
}
