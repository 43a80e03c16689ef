//! Bootstrap of the modes by participant.
//!
//! People are drawn with replacement, all their shapes with them, and the modes of each draw are compared with those of all: |cos| of the angle between
//! mode k and the k-th mode of the draw. Everything follows from coefficients, so the meshes are not touched; the alignment is kept. Where neighbouring
//! variances are nearer than their sampling error, variance * sqrt(2 / people) (North and others 1982), the modes of such a group turn freely
//! among themselves, and the angle between the spaces that they span is the one that means something.

use formkin_stats::bootstrap::resample;
use formkin_stats::quantile::quantile;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::{Array2, s};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// A mode is stable from this median |cos| on (common practice, no source).
pub const STABLE: f64 = 0.9;

/// Settings of the bootstrap.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StabilityParams {
    /// How many modes are looked at.
    pub modes: usize,
    /// Draws.
    pub draws: usize,
    /// The seed.
    pub seed: u64,
}

/// How stable a mode is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ModeStability {
    /// The mode, from 1.
    pub mode: usize,
    /// Median over draws of |cos| between the mode and that of the draw.
    pub cos: f64,
    /// 5th percentile of the same.
    pub cos_p5: f64,
    /// First and last mode, from 1, of the group of near-equal variances that it belongs to; itself twice where it stands alone.
    pub group: (usize, usize),
    /// Median over draws of the cosine of the largest angle between the spaces that the group and its draw span.
    pub group_cos: f64,
    /// Whether the mode may be named: `cos` is 0.9 or more.
    pub stable: bool,
}

/// The stability of the leading modes. `coefficients` are items x R in mm, largest variance first, `people` the participant of each item. Only the leading
/// coefficients, three times as many as modes looked at and at least 60, take part.
///
/// # Errors
/// [`ShapeError::Count`], [`ShapeError::TooFewPeople`] under three people, [`ShapeError::Setting`] under 20 draws.
pub fn stability(
    coefficients: &Array2<f64>,
    people: &[usize],
    params: &StabilityParams,
) -> Result<Vec<ModeStability>, ShapeError> {
    let (n, all) = coefficients.dim();
    if people.len() != n {
        return Err(ShapeError::Count {
            what: "participants of the shapes",
            expected: n,
            found: people.len(),
        });
    }
    let mut persons = people.to_vec();
    persons.sort_unstable();
    persons.dedup();
    let persons = persons.len();
    if persons < 3 {
        return Err(ShapeError::TooFewPeople { people: persons });
    }
    if !(20..=100_000).contains(&params.draws) {
        return Err(ShapeError::Setting { name: "draws", value: params.draws as f64, range: "20 to 100000" });
    }
    let r = all.min((3 * params.modes).max(60));
    let modes = params.modes.min(r);
    let b = coefficients.slice(s![.., ..r]);
    let variances: Vec<f64> =
        (0..r).map(|k| b.column(k).iter().map(|x| x * x).sum::<f64>() / (n - 1) as f64).collect();
    let groups = near_equal(&variances, modes, persons);
    // of each draw: |cos| by mode, cosine by group
    let draws: Vec<(Vec<f64>, Vec<f64>)> = (0..params.draws)
        .into_par_iter()
        .map(|which| {
            let drawn = resample(people, params.seed, which);
            let m = drawn.len() as f64;
            let mut rows = Array2::zeros((r, drawn.len()));
            for (j, &i) in drawn.iter().enumerate() {
                rows.column_mut(j).assign(&b.row(i));
            }
            for mut row in rows.outer_iter_mut() {
                let mean = row.iter().sum::<f64>() / m;
                row.mapv_inplace(|x| x - mean);
            }
            let covariance = rows.dot(&rows.t()) / (m - 1.0);
            let eigen = symmetric_eigen(&covariance)?;
            let cos = (0..modes).map(|k| eigen.vectors[[k, k]].abs()).collect();
            let spans = groups
                .iter()
                .map(|&(first, last)| {
                    let part = eigen.vectors.slice(s![first..=last, first..=last]);
                    let product = part.t().dot(&part);
                    let least = symmetric_eigen(&product)?.values.last().copied().unwrap_or(0.0);
                    Ok(least.clamp(0.0, 1.0).sqrt())
                })
                .collect::<Result<_, ShapeError>>()?;
            Ok((cos, spans))
        })
        .collect::<Result<_, ShapeError>>()?;
    (0..modes)
        .map(|k| {
            let cosines: Vec<f64> = draws.iter().map(|d| d.0[k]).collect();
            let g = groups.iter().position(|(first, last)| (*first..=*last).contains(&k)).unwrap_or(0);
            let spans: Vec<f64> = draws.iter().map(|d| d.1[g]).collect();
            let cos = quantile(&cosines, None, 0.5)?;
            Ok(ModeStability {
                mode: k + 1,
                cos,
                cos_p5: quantile(&cosines, None, 0.05)?,
                group: (groups[g].0 + 1, groups[g].1 + 1),
                group_cos: quantile(&spans, None, 0.5)?,
                stable: cos >= STABLE,
            })
        })
        .collect()
}

/// Runs of modes whose neighbouring variances are nearer than their sampling error; the last may reach beyond the modes looked at, but not beyond R.
pub(super) fn near_equal(variances: &[f64], modes: usize, people: usize) -> Vec<(usize, usize)> {
    let error = (2.0 / people as f64).sqrt();
    let mut groups = Vec::new();
    let mut first = 0;
    while first < modes {
        let mut last = first;
        while last + 1 < variances.len() && variances[last] - variances[last + 1] < error * variances[last] {
            last += 1;
        }
        groups.push((first, last));
        first = last + 1;
    }
    groups
}
