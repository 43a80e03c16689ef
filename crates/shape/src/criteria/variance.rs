//! Intervals of the variances of leading modes.
//!
//! A sample variance l_k takes in what noise and neighbouring modes lend it: with n people and far more coordinates than people it is too large, and an
//! interval about it misses. What is the mode's own is found from all sample variances: 1 / v_k is the mean of 1 / (l_k - l_j) over the other n - 2, zeros
//! among them (the inverse of the spiked relation v -> l, Bai & Ding 2012; to first order the correction of Lawley 1956). Written with
//! h = sum_j l_j / (l_k - l_j) / (n - 2): v = l / (1 + h).
//!
//! The interval is a studentised bootstrap of people on the log scale (Efron & Tibshirani 1993, section 12.5): the standard error of ln l is that of people's
//! squared coefficients, the quantiles are those of (ln l* - ln l) / se* over draws, and both ends are widened by root q, q = d v / d l, for what is lost in
//! the correction (Bai & Yao 2008: the variance of l is 2 v^2 / (q n) for normal data).
//!
//! Where people have several shapes, shapes count less: n - 1 is divided by the ratio of the variance of the products of two coefficients, summed over the
//! shapes of a person, to what it would be for shapes of different people.

use formkin_stats::bootstrap::{draw_counts, percentile_interval};
use ndarray::Array2;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::stability::near_equal;
use crate::ShapeError;

/// Fewest people, counted by their shares of the shapes, that give an interval.
pub const FEWEST: f64 = 20.0;

/// Draws of people.
pub(crate) const DRAWS: usize = 1000;

/// The level of the quantiles: those of 95 % hold the truth for 94 % of samples of 40 to 200 normal people (simulated; the calibration of Loh 1987).
const LEVEL: f64 = 0.955;

/// Largest q: beyond it a mode hardly stands out.
const WIDEST: f64 = 1.5;

/// The variance of a mode, as it was found and without what noise lends it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ModeVariance {
    /// The mode, from 1.
    pub mode: usize,
    /// The sample variance, in mm2.
    pub sample_mm2: f64,
    /// Without what noise and other modes lend it, in mm2; none where the mode does not stand apart.
    pub corrected_mm2: Option<f64>,
    /// 95 % interval of the variance among people like these, in mm2.
    pub interval_95_mm2: Option<(f64, f64)>,
    /// Why there is no interval.
    pub no_interval: Option<String>,
}

/// The shapes of each person, and people counted by their shares: (sum of shapes)^2 / sum of squares.
struct Owners {
    person: Vec<usize>,
    shapes: Vec<f64>,
    effective: f64,
}

impl Owners {
    fn of(people: &[usize]) -> Self {
        let mut distinct = people.to_vec();
        distinct.sort_unstable();
        distinct.dedup();
        let person: Vec<usize> =
            people.iter().map(|p| distinct.binary_search(p).unwrap_or_default()).collect();
        let mut shapes = vec![0.0; distinct.len()];
        for &p in &person {
            shapes[p] += 1.0;
        }
        let squares: f64 = shapes.iter().map(|m| m * m).sum();
        let effective = (people.len() as f64).powi(2) / squares;
        Self { person, shapes, effective }
    }

    /// Sums over the shapes of each person.
    fn sums(&self, values: impl Iterator<Item = f64>) -> Vec<f64> {
        let mut sums = vec![0.0; self.shapes.len()];
        for (&p, value) in self.person.iter().zip(values) {
            sums[p] += value;
        }
        sums
    }
}

/// The variances of the first `modes` modes with their intervals. `coefficients` are items x R in mm, largest variance first; `variances_mm2` are all variances
/// that are not zero, with divisor items - 1; `people` is the participant of each item.
///
/// # Errors
/// [`ShapeError::Count`] where the numbers of items do not match.
pub fn mode_variances(
    coefficients: &Array2<f64>,
    variances_mm2: &[f64],
    people: &[usize],
    modes: usize,
    seed: u64,
) -> Result<Vec<ModeVariance>, ShapeError> {
    let (n, r) = coefficients.dim();
    if people.len() != n {
        let found = people.len();
        return Err(ShapeError::Count { what: "participants of the shapes", expected: n, found });
    }
    let modes = modes.min(r).min(variances_mm2.len());
    let owners = Owners::of(people);
    let groups = near_equal(variances_mm2, modes, owners.shapes.len());
    let draws: Vec<Vec<f64>> = if owners.effective < FEWEST {
        Vec::new()
    } else {
        (0..DRAWS).into_par_iter().map(|which| draw_counts(owners.shapes.len(), seed, which)).collect()
    };
    (0..modes)
        .into_par_iter()
        .map(|k| {
            let mut found = ModeVariance {
                mode: k + 1,
                sample_mm2: variances_mm2[k],
                corrected_mm2: None,
                interval_95_mm2: None,
                no_interval: None,
            };
            let group = groups.iter().find(|(first, last)| (*first..=*last).contains(&k));
            let apart = corrected(coefficients, variances_mm2, &owners, k);
            found.no_interval = if let Some(&(first, last)) = group.filter(|(first, last)| first < last) {
                Some(format!(
                    "the variances of modes {} to {} are nearer than their sampling error: which is which is chance",
                    first + 1,
                    last + 1
                ))
            } else if let Some((own, q)) = apart {
                found.corrected_mm2 = Some(own);
                if draws.is_empty() {
                    Some(format!(
                        "the shapes count as those of {:.0} people, and {FEWEST:.0} are needed",
                        owners.effective.floor()
                    ))
                } else {
                    let column: Vec<f64> = coefficients.column(k).to_vec();
                    let (low, high) = deviations(&column, &owners, &draws)?;
                    found.interval_95_mm2 =
                        Some((own * (-high * q.sqrt()).exp(), own * (-low * q.sqrt()).exp()));
                    None
                }
            } else {
                Some("it hardly stands out: what is its own cannot be distinguished from noise".to_owned())
            };
            Ok(found)
        })
        .collect()
}

/// The variance that is mode k's own and q, the ratio of a small change of it to one of the sample variance; none where it does not stand out.
fn corrected(coefficients: &Array2<f64>, variances: &[f64], owners: &Owners, k: usize) -> Option<(f64, f64)> {
    let l = variances[k];
    let count = (owners.person.len() - 1) as f64 / repeats(coefficients, variances, owners, k) - 1.0;
    let (mut h, mut slope) = (0.0, 0.0);
    for (j, other) in variances.iter().enumerate() {
        if j != k {
            h += other / (l - other) / count;
            slope += other / (l - other).powi(2) / count;
        }
    }
    let own = l / (1.0 + h);
    let q = own / l * (1.0 + l * slope / (1.0 + h));
    (count > 1.0 && own.is_finite() && own > 0.0 && q > 0.0 && q <= WIDEST).then_some((own, q))
}

/// How many shapes of the people count as one for the errors of mode k: 1 where each person has one.
fn repeats(coefficients: &Array2<f64>, variances: &[f64], owners: &Owners, k: usize) -> f64 {
    let n = owners.person.len();
    if n == owners.shapes.len() {
        return 1.0;
    }
    let free = (n - 1) as f64;
    let (mut found, mut apart) = (0.0, 0.0);
    let own = coefficients.column(k);
    for j in (0..coefficients.ncols().min(variances.len())).filter(|j| *j != k) {
        let other = coefficients.column(j);
        let sums = owners.sums(own.iter().zip(other).map(|(a, b)| a * b));
        found += sums.iter().map(|s| s * s).sum::<f64>() / (free * variances[k]);
        apart += variances[j];
    }
    if apart > 0.0 { (found / apart).max(1.0) } else { 1.0 }
}

/// The standard error of the logarithm of a variance times the outer percentiles of its studentised deviations over draws of people.
fn deviations(column: &[f64], owners: &Owners, draws: &[Vec<f64>]) -> Result<(f64, f64), ShapeError> {
    let once = owners.sums(column.iter().copied());
    let twice = owners.sums(column.iter().map(|c| c * c));
    let m = &owners.shapes;
    let people = m.len() as f64;
    // a variance and the standard error of its logarithm, each person taken so often
    let of = |often: &dyn Fn(usize) -> f64| -> (f64, f64) {
        let (mut n, mut mean, mut variance) = (0.0, 0.0, 0.0);
        for p in 0..m.len() {
            let w = often(p);
            n += w * m[p];
            mean += w * once[p];
            variance += w * twice[p];
        }
        mean /= n;
        variance = variance / n - mean * mean;
        let square: f64 = (0..m.len())
            .map(|p| {
                let own = twice[p] - 2.0 * mean * once[p] + m[p] * (mean * mean - variance);
                often(p) * own * own
            })
            .sum();
        (variance, (square * people / (people - 1.0)).sqrt() / (n * variance))
    };
    let (variance, error) = of(&|_| 1.0);
    let drawn: Vec<f64> = draws
        .iter()
        .map(|often| {
            let (v, e) = of(&|p| often[p]);
            (v / variance).ln() / e
        })
        .filter(|t| t.is_finite())
        .collect();
    let (low, high) = percentile_interval(&drawn, LEVEL)?;
    Ok((low * error, high * error))
}
