//! All criteria for a fitted space.

use std::collections::BTreeMap;

use formkin_geometry::ShapeSource;
use formkin_stats::quantile::quantile;
use formkin_stats::spectrum::{
    broken_stick, gavish_donoho_factor, marchenko_pastur_edges, marchenko_pastur_median,
};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use super::{
    Criterion, ModeCriteria, ModeStability, ModeVariance, NoiseParams, StabilityParams, held_out_errors,
    mode_variances, noise_variances, stability,
};
use crate::gram::gram_matrix;
use crate::{FittedSpace, ShapeError, SpaceParams};

/// The name of the primary criterion.
pub(crate) const PRIMARY: &str = "cross_validation";

/// Why it is the primary one.
pub(crate) const REASON: &str = "the error on people held out is in millimetres and asks what the space is for; the other criteria take noise for white, while the noise of meshes is \
                          smooth over the surface, so they keep too many modes, and a share of variance says nothing of millimetres";

/// Settings of the criteria.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CriteriaParams {
    /// Nulls of the parallel analysis, 200 to 100,000.
    pub nulls: usize,
    /// Draws of the bootstrap; 0 leaves it out.
    pub draws: usize,
    /// Modes whose stability is looked at; at least the chosen ones.
    pub stability_modes: usize,
    /// Whether errors of vertices held out are found: one more walk over the meshes a fold.
    pub vertex_errors: bool,
    /// Named lists of vertices whose errors are told apart.
    pub regions: BTreeMap<String, Vec<u32>>,
    /// The seed.
    pub seed: u64,
}

impl Default for CriteriaParams {
    fn default() -> Self {
        Self {
            nulls: 200,
            draws: 200,
            stability_modes: 20,
            vertex_errors: true,
            regions: BTreeMap::new(),
            seed: 1,
        }
    }
}

impl CriteriaParams {
    /// Finds the criteria of `fitted`, which `space` gave from the shapes of `source` with the participants `people`. `progress` hears (thousandths done, 1000).
    ///
    /// # Errors
    /// [`ShapeError::Setting`] under 200 nulls; [`ShapeError::Source`], [`ShapeError::Align`]. Too few people is no error: what needs people is left out.
    #[expect(clippy::too_many_lines, reason = "all criteria on one spectrum, listed one after the other")]
    pub fn find(
        &self,
        source: &dyn ShapeSource,
        fitted: &FittedSpace,
        people: &[usize],
        space: &SpaceParams,
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<ModeCriteria, ShapeError> {
        if !(200..=100_000).contains(&self.nulls) {
            return Err(ShapeError::Setting {
                name: "nulls",
                value: self.nulls as f64,
                range: "200 to 100000",
            });
        }
        let found = &fitted.space;
        let (variances, total) = (&found.variances_mm2, found.total_variance_mm2);
        let rows = found.items - 1;
        let aligned = fitted.alignment.aligned(source);
        let squares = coordinate_variances(&aligned, &fitted.alignment.mean, &found.weights)?;
        let (sum, square) = squares.iter().fold((0.0, 0.0), |(s, q), l| (s + l, q + l * l));
        let freedom = sum * sum / square;
        progress(100, 1000);

        let leading = variances.len().min(found.modes.len().max(60));
        let nulls = noise_variances(&NoiseParams {
            rank: rows,
            freedom,
            total_variance_mm2: total,
            leading,
            nulls: self.nulls,
            seed: self.seed,
        })?;
        let ranks = nulls.iter().map(Vec::len).min().unwrap_or(0);
        let null_p95_mm2 = (0..ranks)
            .map(|k| Ok(quantile(&nulls.iter().map(|n| n[k]).collect::<Vec<f64>>(), None, 0.95)?))
            .collect::<Result<Vec<f64>, ShapeError>>()?;
        progress(200, 1000);

        let coordinates = 3 * found.weights.iter().filter(|w| **w > 0.0).count();
        let (small, large) = (rows.min(coordinates) as f64, rows.max(coordinates) as f64);
        let beta = small / large;
        let mut padded = variances.clone();
        padded.resize(rows.min(coordinates), 0.0);
        let median = quantile(&padded, None, 0.5)?;
        let marchenko_pastur_edge_mm2 =
            median / marchenko_pastur_median(beta) * marchenko_pastur_edges(beta).1;
        let factor = gavish_donoho_factor(beta);
        let gavish_donoho_edge_mm2 = factor * factor * median;
        let stick: Vec<f64> = broken_stick(variances.len()).into_iter().map(|s| s * total).collect();
        let over = |edges: &[f64]| variances.iter().zip(edges).take_while(|(v, e)| v > e).count();
        let above = |edge: f64| variances.iter().take_while(|v| **v > edge).count();
        let explained = found.explained();
        let share = |f: f64| explained.iter().position(|e| *e >= f).map(|k| k + 1);

        let validated = found.cross_validation.as_ref();
        let chosen = validated.and_then(|c| c.chosen_modes);
        let mut criteria = vec![Criterion {
            name: PRIMARY.to_owned(),
            modes: chosen,
            rule: validated.map_or_else(
                || {
                    found
                        .cross_validation_refused
                        .clone()
                        .unwrap_or_else(|| "it was not asked for".to_owned())
                },
                |c| c.rule.clone(),
            ),
        }];
        let mut add = |name: &str, modes, rule: String| {
            criteria.push(Criterion { name: name.to_owned(), modes, rule });
        };
        add(
            "parallel_analysis",
            Some(over(&null_p95_mm2)),
            format!(
                "variances above the 95th percentile of those of the same rank in {} nulls without correlation between coordinates, {freedom:.0} independent \
                 coordinates",
                self.nulls
            ),
        );
        add(
            "marchenko_pastur",
            Some(above(marchenko_pastur_edge_mm2)),
            format!(
                "variances above the edge of white noise, {marchenko_pastur_edge_mm2:.4} mm2, its size from the median variance"
            ),
        );
        add(
            "gavish_donoho",
            Some(above(gavish_donoho_edge_mm2)),
            format!(
                "singular values above {factor:.4} times the median one, the exact factor for the aspect ratio {beta:.5}"
            ),
        );
        add("broken_stick", Some(over(&stick)), "shares above those of a stick broken at random".to_owned());
        for percent in [95.0, 98.0, 99.0] {
            let left = total.sqrt() * (1.0f64 - percent / 100.0).sqrt();
            let rule = format!(
                "the first modes that hold {percent} % of the variance; the others still leave about {left:.1} mm RMS on the people the space is built from"
            );
            add(&format!("cumulative_{percent}"), share(percent / 100.0), rule);
        }

        let tested = chosen.unwrap_or_else(|| {
            validated.and_then(|c| c.errors.last()).map_or(found.modes.len(), |e| e.modes)
        });
        let mut vertex_errors = None;
        if self.vertex_errors && validated.is_some() {
            let params = space;
            vertex_errors = Some(held_out_errors(
                source,
                &found.weights,
                people,
                tested,
                &self.regions,
                params,
                &|done, of| progress(200 + 500 * done / of.max(1), 1000),
            )?);
        }
        let (stability, variances) = match self.stability(&aligned, fitted, people, tested) {
            Err(ShapeError::TooFewPeople { .. }) => (Vec::new(), Vec::new()),
            other => other?,
        };
        progress(1000, 1000);
        Ok(ModeCriteria {
            criteria,
            primary: PRIMARY.to_owned(),
            reason: REASON.to_owned(),
            aspect_ratio: beta,
            coordinate_freedom: freedom,
            broken_stick_mm2: stick.into_iter().take(ranks).collect(),
            null_p95_mm2,
            marchenko_pastur_edge_mm2,
            gavish_donoho_edge_mm2,
            vertex_errors,
            stability,
            variances,
            nulls: self.nulls,
            draws: self.draws,
            seed: self.seed,
        })
    }

    fn stability(
        &self,
        aligned: &dyn ShapeSource,
        fitted: &FittedSpace,
        people: &[usize],
        chosen: usize,
    ) -> Result<(Vec<ModeStability>, Vec<ModeVariance>), ShapeError> {
        let space = &fitted.space;
        let modes = self.stability_modes.max(chosen).min(space.modes.len()).min(60);
        if self.draws == 0 || modes == 0 {
            return Ok((Vec::new(), Vec::new()));
        }
        let wanted = (3 * modes).max(60).min(space.variances_mm2.len());
        let kept = space.modes.len();
        let coefficients = if kept >= wanted {
            Array2::from_shape_fn((space.items, kept), |(i, k)| fitted.coefficients[i][k])
        } else {
            let gram = gram_matrix(aligned, &fitted.alignment.mean, &space.weights, &|_, _| ())?;
            let eigen = symmetric_eigen(&gram)?;
            Array2::from_shape_fn((space.items, wanted), |(i, k)| {
                eigen.vectors[[i, k]] * eigen.values[k].max(0.0).sqrt()
            })
        };
        let params = StabilityParams { modes, draws: self.draws, seed: self.seed };
        let stable = stability(&coefficients, people, &params)?;
        let variances = mode_variances(&coefficients, &space.variances_mm2, people, modes, self.seed)?;
        Ok((stable, variances))
    }
}

/// 3V weighted variances of the coordinates, in mm2, divisor n - 1.
fn coordinate_variances(
    aligned: &dyn ShapeSource,
    mean: &[formkin_geometry::Point],
    weights: &[f64],
) -> Result<Vec<f64>, ShapeError> {
    /// Shapes that one task adds up: fixed, so that the sum does not depend on the number of threads.
    const TASK: usize = 16;
    let n = aligned.shapes();
    let mut sums = vec![0.0; 3 * mean.len()];
    let tasks: Vec<usize> = (0..n).step_by(TASK).collect();
    for some in tasks.chunks(8) {
        let parts: Vec<Vec<f64>> = some
            .par_iter()
            .map(|&first| {
                let mut part = vec![0.0; sums.len()];
                for i in first..(first + TASK).min(n) {
                    let shape = aligned.read_shape(i)?;
                    for ((out, x), m) in part.iter_mut().zip(shape.as_flattened()).zip(mean.as_flattened()) {
                        *out += (x - m) * (x - m);
                    }
                }
                Ok(part)
            })
            .collect::<Result<_, ShapeError>>()?;
        for part in parts {
            for (sum, x) in sums.iter_mut().zip(part) {
                *sum += x;
            }
        }
    }
    Ok(sums.iter().enumerate().map(|(i, s)| weights[i / 3] * s / (n - 1) as f64).collect())
}
