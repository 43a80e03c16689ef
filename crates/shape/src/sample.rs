//! New bodies: coefficients drawn from a normal distribution, truncated jointly, and what can be said of them.
//!
//! z = standard normal, redrawn until |z|^2 is at most the chi-square quantile of `confidence` with as many degrees of freedom as modes: the body lies within the region that holds that share of
//! people, whatever the direction. (Limits mode by mode would keep corners that nobody is in.) Truncation makes spreads a little smaller than the real ones.

use std::collections::BTreeMap;

use formkin_stats::StatsError;
use formkin_stats::cholesky::Cholesky;
use formkin_stats::distribution::chi_square_quantile;
use formkin_stats::quantile::quantile;
use formkin_stats::random::stream;
use ndarray::{Array2, ArrayView2, Axis};
use rand::Rng;
use rand_distr::StandardNormal;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// Settings of a sample.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SampleParams {
    /// How many bodies, exactly.
    pub count: usize,
    /// The share of people that the region of truncation holds.
    pub confidence: f64,
    /// Draws for each body asked for, at most.
    pub most_tries: usize,
    /// The seed.
    pub seed: u64,
}

impl Default for SampleParams {
    fn default() -> Self {
        Self { count: 100, confidence: 0.99, most_tries: 20, seed: 1 }
    }
}

/// Bodies drawn.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Samples {
    /// Bodies x modes, in mm.
    pub coefficients: Vec<Vec<f64>>,
    /// How many were drawn, refused ones included.
    pub tries: usize,
    /// How many were refused, and why.
    pub refused: BTreeMap<String, usize>,
    /// The settings.
    pub params: SampleParams,
}

/// Draws bodies like the people of `rows` (people x coefficients): their mean and covariance, normal. `refuse` says why a body is not wanted, or nothing.
///
/// # Errors
/// [`ShapeError::SmallGroup`] where there are not more people than coefficients; [`ShapeError::Setting`]; [`ShapeError::Refused`] where too few bodies are wanted of those drawn.
pub fn sample(
    rows: ArrayView2<f64>,
    params: &SampleParams,
    refuse: &mut dyn FnMut(&[f64]) -> Option<String>,
) -> Result<Samples, ShapeError> {
    let (n, k) = rows.dim();
    if !(params.confidence > 0.0 && params.confidence < 1.0) {
        let value = params.confidence;
        return Err(ShapeError::Setting { name: "confidence", value, range: "above 0 and under 1" });
    }
    if n < k + 2 || k == 0 {
        return Err(ShapeError::SmallGroup { group: "those to be sampled".into(), people: n, least: k + 2 });
    }
    let mean = rows.mean_axis(Axis(0)).unwrap_or_default();
    let deviations = &rows - &mean;
    let covariance: Array2<f64> = deviations.t().dot(&deviations) / (n as f64 - 1.0);
    let factor = Cholesky::new(&covariance)?.ok_or(StatsError::Collinear { predictor: 0 })?;
    let lower = factor.factor();
    let limit = chi_square_quantile(params.confidence, k as f64);
    let outside = format!("it is outside the {} % region", 100.0 * params.confidence);
    let mut rng = stream(params.seed, "sample");
    let mut refused: BTreeMap<String, usize> = BTreeMap::new();
    let mut coefficients = Vec::with_capacity(params.count);
    let (mut tries, most) = (0, params.count.saturating_mul(params.most_tries.max(1)));
    while coefficients.len() < params.count {
        if tries == most {
            let reason = refused.iter().max_by_key(|(_, n)| **n).map_or_else(String::new, |(r, _)| r.clone());
            return Err(ShapeError::Refused {
                accepted: coefficients.len(),
                wanted: params.count,
                tries,
                reason,
            });
        }
        tries += 1;
        let z: Vec<f64> = (0..k).map(|_| rng.sample(StandardNormal)).collect();
        if z.iter().map(|x| x * x).sum::<f64>() > limit {
            *refused.entry(outside.clone()).or_default() += 1;
            continue;
        }
        let body: Vec<f64> =
            (0..k).map(|i| mean[i] + (0..=i).map(|j| lower[[i, j]] * z[j]).sum::<f64>()).collect();
        match refuse(&body) {
            Some(reason) => *refused.entry(reason).or_default() += 1,
            None => coefficients.push(body),
        }
    }
    Ok(Samples { coefficients, tries, refused, params: params.clone() })
}

/// What can be said of drawn bodies beside real ones.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SampleReport {
    /// Real people.
    pub people: usize,
    /// Bodies drawn.
    pub bodies: usize,
    /// SD of each coefficient of the bodies over that of the people.
    pub sd_ratios: Vec<f64>,
    /// Largest difference between a correlation of two coefficients of the bodies and of the people.
    pub largest_correlation_difference: f64,
    /// Specificity: mean distance of a body to the real person nearest to it, RMS over the surface, in mm.
    pub specificity_mm: f64,
    /// Its standard error over bodies, in mm.
    pub specificity_se_mm: f64,
    /// Distance of a body to the nearest person: 1st, 5th and 50th percentile, in mm.
    pub nearest_mm: [f64; 3],
    /// Distance of a person to the nearest other person: the same percentiles, in mm.
    pub nearest_between_people_mm: [f64; 3],
    /// Share of bodies that are nearer to a person than 99 % of people are to any other: about 1 % where bodies give nobody away.
    pub closer_than_people: f64,
}

/// Compares drawn bodies with real people (both rows x coefficients). Distances are over the modes used: RMS over the surface, since modes are orthonormal.
///
/// # Errors
/// [`ShapeError::TooFewPeople`] under three people; [`ShapeError::Stats`].
pub fn judge(samples: &Samples, rows: ArrayView2<f64>) -> Result<SampleReport, ShapeError> {
    let (n, k) = rows.dim();
    if n < 3 {
        return Err(ShapeError::TooFewPeople { people: n });
    }
    let people: Vec<Vec<f64>> = rows.outer_iter().map(|r| r.to_vec()).collect();
    let bodies = &samples.coefficients;
    let nearest = |body: &[f64], but: Option<usize>| {
        let others = people.iter().enumerate().filter(|(i, _)| Some(*i) != but);
        let square = |p: &Vec<f64>| p.iter().zip(body).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
        others.map(|(_, p)| square(p)).fold(f64::INFINITY, f64::min).sqrt()
    };
    let drawn: Vec<f64> = bodies.par_iter().map(|b| nearest(b, None)).collect();
    let real: Vec<f64> = (0..n).into_par_iter().map(|i| nearest(&people[i], Some(i))).collect();
    let at = |values: &[f64]| -> Result<[f64; 3], StatsError> {
        Ok([quantile(values, None, 0.01)?, quantile(values, None, 0.05)?, quantile(values, None, 0.5)?])
    };
    let (nearest_mm, nearest_between_people_mm) = (at(&drawn)?, at(&real)?);
    let closest = nearest_between_people_mm[0];
    let (own, theirs) = (correlations(bodies, k), correlations(&people, k));
    let m = drawn.len() as f64;
    let specificity_mm = drawn.iter().sum::<f64>() / m;
    let spread = drawn.iter().map(|d| (d - specificity_mm).powi(2)).sum::<f64>() / (m - 1.0).max(1.0);
    let difference = |i: usize, j: usize| (own.1[[i, j]] - theirs.1[[i, j]]).abs();
    Ok(SampleReport {
        people: n,
        bodies: bodies.len(),
        sd_ratios: own.0.iter().zip(&theirs.0).map(|(a, b)| a / b).collect(),
        largest_correlation_difference: (0..k)
            .flat_map(|i| (0..i).map(move |j| (i, j)))
            .map(|(i, j)| difference(i, j))
            .fold(0.0, f64::max),
        specificity_mm,
        specificity_se_mm: (spread / m).sqrt(),
        closer_than_people: drawn.iter().filter(|d| **d < closest).count() as f64 / m,
        nearest_mm,
        nearest_between_people_mm,
    })
}

/// SDs and correlations of columns.
fn correlations(rows: &[Vec<f64>], k: usize) -> (Vec<f64>, Array2<f64>) {
    let n = rows.len() as f64;
    let means: Vec<f64> = (0..k).map(|j| rows.iter().map(|r| r[j]).sum::<f64>() / n).collect();
    let product = |i: usize, j: usize| -> f64 {
        rows.iter().map(|r| (r[i] - means[i]) * (r[j] - means[j])).sum::<f64>() / (n - 1.0)
    };
    let sds: Vec<f64> = (0..k).map(|j| product(j, j).sqrt()).collect();
    let r = Array2::from_shape_fn((k, k), |(i, j)| product(i, j) / (sds[i] * sds[j]));
    (sds, r)
}
