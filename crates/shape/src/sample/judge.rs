//! Drawn bodies beside real people, in coefficients: spreads, correlations, specificity, privacy.

use formkin_stats::StatsError;
use formkin_stats::interval::{normal_quantile, wilson};
use formkin_stats::quantile::quantile;
use ndarray::{Array2, ArrayView2};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::ShapeError;

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
    /// What that is under in 95 % of cases where bodies and people are of one distribution and coefficients are not correlated: the normal quantile for as many pairs, times the
    /// root of 1 / bodies + 1 / people.
    #[serde(default)]
    pub largest_correlation_by_chance: f64,
    /// Specificity: mean distance of a body to the real person nearest to it, RMS over the surface, in mm.
    pub specificity_mm: f64,
    /// Its standard error over bodies, in mm.
    pub specificity_se_mm: f64,
    /// Whether bodies give people away.
    pub privacy: Privacy,
}

/// Distances to the nearest real person, RMS over the surface within the modes used: of drawn bodies, and of every person from the others (held out), which is what a body that knows of nobody
/// would have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Privacy {
    /// Distance of a body to the nearest person: least, 1st, 5th and 50th percentile, in mm.
    pub nearest_mm: [f64; 4],
    /// Distance of a person to the nearest other person: the same, in mm.
    pub nearest_between_people_mm: [f64; 4],
    /// Share of bodies that are nearer to a person than 99 % of people are to any other: about 1 % where bodies give nobody away.
    pub closer_than_people: f64,
    /// Its 95 % interval (Wilson).
    pub closer_than_people_95: (f64, f64),
    /// Scans of people with several that the next figure rests on.
    pub repeats: usize,
    /// Median distance of a repeated scan from the person's mean body, in mm; none without repeats.
    pub repeat_mm: Option<f64>,
    /// Bodies as near to a person as half of the person's own repeats are: each could be taken for a scan of that person. None without repeats.
    pub like_a_repeat: Option<usize>,
    /// Bodies in order of closeness: place, place of the person, distance in mm; the ten nearest.
    pub closest: Vec<(usize, usize, f64)>,
}

/// Compares drawn bodies (bodies x coefficients) with real people (`rows`). Distances are over the modes used: RMS over the surface, since modes are orthonormal. `repeats_mm` holds the distances
/// of repeated scans from the mean body of their person.
///
/// # Errors
/// [`ShapeError::TooFewPeople`] under three people; [`ShapeError::Stats`].
pub fn judge(
    bodies: &[Vec<f64>],
    rows: ArrayView2<f64>,
    repeats_mm: &[f64],
) -> Result<SampleReport, ShapeError> {
    let (n, k) = rows.dim();
    if n < 3 {
        return Err(ShapeError::TooFewPeople { people: n });
    }
    let people: Vec<Vec<f64>> = rows.outer_iter().map(|r| r.to_vec()).collect();
    let nearest = |body: &[f64], but: Option<usize>| -> (usize, f64) {
        let others = people.iter().enumerate().filter(|(i, _)| Some(*i) != but);
        let square = |p: &Vec<f64>| p.iter().zip(body).map(|(a, b)| (a - b).powi(2)).sum::<f64>();
        let (i, d) = others
            .map(|(i, p)| (i, square(p)))
            .fold((0, f64::INFINITY), |best, one| if one.1 < best.1 { one } else { best });
        (i, d.sqrt())
    };
    let found: Vec<(usize, f64)> = bodies.par_iter().map(|b| nearest(b, None)).collect();
    let drawn: Vec<f64> = found.iter().map(|(_, d)| *d).collect();
    let real: Vec<f64> = (0..n).into_par_iter().map(|i| nearest(&people[i], Some(i)).1).collect();
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
        largest_correlation_by_chance: {
            let pairs = (k * k.saturating_sub(1) / 2).max(1) as f64;
            normal_quantile(1.0 - 0.05 / pairs) * (1.0 / m + 1.0 / n as f64).sqrt()
        },
        specificity_mm,
        specificity_se_mm: (spread / m).sqrt(),
        privacy: privacy(&found, &real, repeats_mm)?,
    })
}

fn privacy(found: &[(usize, f64)], real: &[f64], repeats: &[f64]) -> Result<Privacy, ShapeError> {
    let drawn: Vec<f64> = found.iter().map(|(_, d)| *d).collect();
    let at = |values: &[f64]| -> Result<[f64; 4], StatsError> {
        let of = |p| quantile(values, None, p);
        Ok([of(0.0)?, of(0.01)?, of(0.05)?, of(0.5)?])
    };
    let (nearest_mm, nearest_between_people_mm) = (at(&drawn)?, at(real)?);
    let near = drawn.iter().filter(|d| **d < nearest_between_people_mm[1]).count() as f64;
    let repeat_mm = if repeats.is_empty() { None } else { Some(quantile(repeats, None, 0.5)?) };
    let mut closest: Vec<(usize, usize, f64)> =
        found.iter().enumerate().map(|(b, (p, d))| (b, *p, *d)).collect();
    closest.sort_by(|a, b| a.2.total_cmp(&b.2));
    closest.truncate(10);
    Ok(Privacy {
        closer_than_people: near / drawn.len() as f64,
        closer_than_people_95: wilson(near, drawn.len() as f64, 0.95),
        like_a_repeat: repeat_mm.map(|r| drawn.iter().filter(|d| **d <= r).count()),
        nearest_mm,
        nearest_between_people_mm,
        repeats: repeats.len(),
        repeat_mm,
        closest,
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
