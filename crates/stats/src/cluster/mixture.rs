//! Gaussian mixtures by expectation and maximisation, with weights.

use ndarray::{Array2, ArrayView1, ArrayView2};

use crate::StatsError;
use crate::cholesky::Cholesky;
use crate::cluster::k_means;
use crate::cluster::lloyd::lloyd;
use crate::moments::check_weights;

/// Share of the mean variance that is added to every variance, so that a component cannot shrink onto a point.
const RIDGE: f64 = 1e-3;
/// Gain of the mean log density under which the rounds end.
const TOLERANCE: f64 = 1e-6;

/// A mixture of normal densities with full covariances.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixture {
    /// Share of every component; they sum to 1.
    pub shares: Vec<f64>,
    /// Means, components x dimensions.
    pub means: Array2<f64>,
    /// Covariances, one dimensions x dimensions matrix a component.
    pub covariances: Vec<Array2<f64>>,
    /// Weighted mean of the log density over the points.
    pub mean_log_density: f64,
    /// Rounds taken.
    pub rounds: usize,
}

impl Mixture {
    /// The log density at each point (points x dimensions).
    ///
    /// # Errors
    /// [`StatsError::Size`] where the points have not as many coordinates as the means; [`StatsError::Collinear`] where a covariance is not positive definite.
    pub(crate) fn log_densities(&self, points: ArrayView2<f64>) -> Result<Vec<f64>, StatsError> {
        let d = self.means.ncols();
        if points.ncols() != d {
            return Err(StatsError::Size {
                what: "coordinates of the points",
                expected: d,
                found: points.ncols(),
            });
        }
        let densities = densities(&self.shares, &self.covariances)?;
        let mut off = vec![0.0; d];
        points
            .rows()
            .into_iter()
            .map(|point| {
                let logs = densities
                    .iter()
                    .zip(self.means.rows())
                    .map(|(density, mean)| density.log(point, mean, &mut off))
                    .collect::<Result<Vec<f64>, _>>()?;
                Ok(log_sum(&logs))
            })
            .collect()
    }
}

/// A component as it is evaluated: the factor of its covariance, and the logarithm of its share and of its scale.
struct Density {
    factor: Cholesky,
    constant: f64,
}

impl Density {
    fn of(share: f64, covariance: &Array2<f64>) -> Result<Self, StatsError> {
        let factor = Cholesky::new(covariance)?.ok_or(StatsError::Collinear { predictor: 0 })?;
        let scale = factor.log_det() + covariance.nrows() as f64 * (2.0 * std::f64::consts::PI).ln();
        Ok(Self { factor, constant: share.ln() - 0.5 * scale })
    }

    /// The log of the share times the density at a point; `off` is room to work in.
    fn log(&self, point: ArrayView1<f64>, mean: ArrayView1<f64>, off: &mut [f64]) -> Result<f64, StatsError> {
        for ((off, x), m) in off.iter_mut().zip(point).zip(mean) {
            *off = x - m;
        }
        self.factor.half_solve_in_place(off)?;
        Ok(self.constant - 0.5 * off.iter().map(|z| z * z).sum::<f64>())
    }
}

fn densities(shares: &[f64], covariances: &[Array2<f64>]) -> Result<Vec<Density>, StatsError> {
    shares.iter().zip(covariances).map(|(share, covariance)| Density::of(*share, covariance)).collect()
}

/// ln sum exp, without overflow.
fn log_sum(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    top + logs.iter().map(|l| (l - top).exp()).sum::<f64>().ln()
}

/// Fits a mixture of `k` normal densities to `points` (points x dimensions) by expectation and maximisation (Dempster, Laird & Rubin 1977), from k-means
/// with `starts` starts, or from the means `start`. Weights say how many people a point stands for; points of weight 0 take no part. Every
/// variance is enlarged by a thousandth of the mean variance of the points.
///
/// # Errors
/// As [`k_means`](crate::cluster::k_means()); [`StatsError::Collinear`] where rounding leaves a component without a density.
#[expect(clippy::too_many_lines, reason = "the two steps of one iteration on the same arrays")]
pub fn mixture(
    points: ArrayView2<f64>,
    weights: Option<&[f64]>,
    k: usize,
    start: Option<&Array2<f64>>,
    starts: usize,
    seed: u64,
    rounds: usize,
) -> Result<Mixture, StatsError> {
    let (n, d) = points.dim();
    check_weights(n, weights)?;
    let weights: Vec<f64> = weights.map_or_else(|| vec![1.0; n], <[f64]>::to_vec);
    let centres = match start {
        Some(start) => lloyd(points, &weights, start, 10)?,
        None => k_means(points, Some(&weights), k, starts, seed)?.centres,
    };
    let used: Vec<usize> = (0..n).filter(|&i| weights[i] > 0.0).collect();
    let total: f64 = used.iter().map(|&i| weights[i]).sum();
    let spread: f64 = (0..d)
        .map(|j| {
            let mean = used.iter().map(|&i| weights[i] * points[[i, j]]).sum::<f64>() / total;
            used.iter().map(|&i| weights[i] * (points[[i, j]] - mean).powi(2)).sum::<f64>() / total
        })
        .sum::<f64>()
        / d as f64;
    let ridge = (RIDGE * spread).max(f64::MIN_POSITIVE);
    let k = centres.nrows();
    // The first responsibilities are those of the nearest centre.
    let mut shares = vec![0.0; k];
    let mut responsible = vec![0.0; used.len() * k];
    for (place, &i) in used.iter().enumerate() {
        let near = (0..k)
            .min_by(|&a, &b| {
                let of = |c: usize| (0..d).map(|j| (points[[i, j]] - centres[[c, j]]).powi(2)).sum::<f64>();
                of(a).total_cmp(&of(b))
            })
            .unwrap_or(0);
        responsible[place * k + near] = 1.0;
    }
    let mut means = centres;
    let mut covariances = vec![Array2::zeros((d, d)); k];
    let mut last = f64::NEG_INFINITY;
    let mut taken = 0;
    for round in 0..rounds.max(1) {
        taken = round + 1;
        for c in 0..k {
            let mass: f64 = used.iter().enumerate().map(|(p, &i)| weights[i] * responsible[p * k + c]).sum();
            shares[c] = (mass / total).max(1e-12);
            let mut covariance = Array2::zeros((d, d));
            if mass > 1e-9 * total {
                for j in 0..d {
                    means[[c, j]] = used
                        .iter()
                        .enumerate()
                        .map(|(p, &i)| weights[i] * responsible[p * k + c] * points[[i, j]])
                        .sum::<f64>()
                        / mass;
                }
                for (p, &i) in used.iter().enumerate() {
                    let r = weights[i] * responsible[p * k + c] / mass;
                    for a in 0..d {
                        let away = points[[i, a]] - means[[c, a]];
                        for b in 0..=a {
                            covariance[[a, b]] += r * away * (points[[i, b]] - means[[c, b]]);
                        }
                    }
                }
            }
            for a in 0..d {
                covariance[[a, a]] += ridge;
                for b in 0..a {
                    covariance[[b, a]] = covariance[[a, b]];
                }
            }
            covariances[c] = covariance;
        }
        let densities = densities(&shares, &covariances)?;
        let mut density = 0.0;
        let mut logs = vec![0.0; k];
        let mut off = vec![0.0; d];
        for (p, &i) in used.iter().enumerate() {
            for c in 0..k {
                logs[c] = densities[c].log(points.row(i), means.row(c), &mut off)?;
            }
            let whole = log_sum(&logs);
            density += weights[i] * whole;
            for c in 0..k {
                responsible[p * k + c] = (logs[c] - whole).exp();
            }
        }
        density /= total;
        let gain = density - last;
        last = density;
        if gain < TOLERANCE {
            break;
        }
    }
    Ok(Mixture { shares, means, covariances, mean_log_density: last, rounds: taken })
}

#[cfg(test)]
mod tests {
    use linfa::DatasetBase;
    use linfa::traits::Fit;
    use rand::Rng;
    use rand_distr::StandardNormal;

    use super::*;
    use crate::random::stream;

    fn two_clouds(n: usize) -> Array2<f64> {
        let mut rng = stream(4, "clouds");
        Array2::from_shape_fn((n, 2), |(i, j)| {
            let z: f64 = rng.sample(StandardNormal);
            if i % 3 == 0 { [10.0, -4.0][j] + 2.0 * z } else { z }
        })
    }

    #[test]
    fn two_clouds_as_linfa_finds_them() {
        let x = two_clouds(900);
        let own = mixture(x.view(), None, 2, None, 5, 1, 200).unwrap();
        let data = DatasetBase::from(x);
        let theirs =
            linfa_clustering::GaussianMixtureModel::params(2).n_runs(3).tolerance(1e-6).fit(&data).unwrap();
        let big = usize::from(theirs.means()[[0, 0]] > 5.0);
        for j in 0..2 {
            assert!((own.means[[0, j]] - theirs.means()[[big, j]]).abs() < 0.02);
            assert!((own.means[[1, j]] - theirs.means()[[1 - big, j]]).abs() < 0.02);
            assert!((own.covariances[1][[j, j]] - theirs.covariances()[[1 - big, j, j]]).abs() < 0.1);
        }
        assert!((own.shares[0] - 2.0 / 3.0).abs() < 0.01);
    }

    #[test]
    fn weights_are_repetitions() {
        let x = two_clouds(60);
        let weights: Vec<f64> = (0..60).map(|i| 1.0 + f64::from(i % 2)).collect();
        let rows: Vec<usize> = (0..60).flat_map(|i| vec![i; 1 + i % 2]).collect();
        let repeated = x.select(ndarray::Axis(0), &rows);
        let start = ndarray::array![[0.0, 0.0], [10.0, -4.0]];
        let a = mixture(x.view(), Some(&weights), 2, Some(&start), 1, 1, 100).unwrap();
        let b = mixture(repeated.view(), None, 2, Some(&start), 1, 1, 100).unwrap();
        for (p, q) in a.means.iter().zip(&b.means) {
            assert!((p - q).abs() < 1e-9);
        }
    }
}
