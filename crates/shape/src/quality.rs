//! Compactness, generalisation, specificity (Davies 2002; Styner and others 2003), in mm.

use formkin_geometry::ShapeSource;
use formkin_stats::random::stream;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::{FittedSpace, ModeError, ShapeError, SpaceParams, cross_validate};

/// What these figures do not say; told wherever they are.
pub const FLAWS: [&str; 4] = [
    "A correspondence that collapses, vertices sliding together, improves all three.",
    "Distances between vertices of the same number miss sliding along the surface.",
    "Specificity falls as people are added, whatever the model: compare spaces of equal numbers of people.",
    "Compactness is a variance and says nothing of other meshes, alignments or weights.",
];

/// Settings of the quality of a space.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct QualityParams {
    /// Shapes drawn for the specificity, 1000 or more.
    pub samples: usize,
    /// Up to how many modes.
    pub modes: usize,
    /// The seed.
    pub seed: u64,
}

impl Default for QualityParams {
    fn default() -> Self {
        Self { samples: 1000, modes: 60, seed: 1 }
    }
}

/// How specific a space is with so many modes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Specificity {
    /// Number of modes.
    pub modes: usize,
    /// Mean over drawn shapes of the weighted RMS distance from the nearest real one, in mm.
    pub mean_mm: f64,
    /// Its standard error over draws, in mm.
    pub se_mm: f64,
}

/// The quality of a space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Quality {
    /// Sum of the first 1, 2, .. variances, in mm2.
    pub compactness_mm2: Vec<f64>,
    /// Standard errors of these sums, in mm2: root of sum 2 l^2 / (people - 1), for normal data.
    pub compactness_se_mm2: Vec<f64>,
    /// Errors of describing each person from the others, for 0, 1, .. modes: alignment and modes refitted without the person.
    pub generalisation: Vec<ModeError>,
    /// Specificity for 1, 2, .. modes.
    pub specificity: Vec<Specificity>,
    /// Shapes drawn.
    pub samples: usize,
    /// Number of people.
    pub people: usize,
    /// Number of shapes.
    pub items: usize,
    /// The seed.
    pub seed: u64,
    /// What the figures do not say.
    pub flaws: Vec<String>,
}

impl QualityParams {
    /// The quality of `fitted`, which `space` gave from the shapes of `source` with the participants `people`. Leaves every person out in turn: the
    /// time grows with the fourth power of people.
    ///
    /// # Errors
    /// [`ShapeError::Setting`] under 1000 samples, [`ShapeError::TooFewPeople`] under three people, and as the cross-validation.
    pub fn find(
        &self,
        source: &dyn ShapeSource,
        fitted: &FittedSpace,
        people: &[usize],
        space: &SpaceParams,
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Quality, ShapeError> {
        if self.samples < 1000 {
            let value = self.samples as f64;
            return Err(ShapeError::Setting { name: "samples", value, range: "1000 or more" });
        }
        let found = &fitted.space;
        let folds = SpaceParams { folds: found.people.max(2), ..space.clone() };
        let left_out = cross_validate(source, &found.weights, people, &folds, progress)?;
        let modes = self.modes.min(found.modes.len());
        let squares = squares(source, fitted)?;
        let (mut sum, mut error) = (0.0, 0.0);
        let (compactness_mm2, compactness_se_mm2) = found
            .variances_mm2
            .iter()
            .map(|v| {
                sum += v;
                error += 2.0 * v * v / (found.people.max(2) - 1) as f64;
                (sum, error.sqrt())
            })
            .unzip();
        Ok(Quality {
            compactness_mm2,
            compactness_se_mm2,
            generalisation: left_out.errors,
            specificity: self.specificity(fitted, &squares, modes),
            samples: self.samples,
            people: found.people,
            items: found.items,
            seed: self.seed,
            flaws: FLAWS.iter().map(|s| (*s).to_owned()).collect(),
        })
    }

    /// |s - x_i|^2 = |x_i|^2 + sum_{k <= M} (s_k^2 - 2 s_k b_ik), about the mean, for every M at once.
    fn specificity(&self, fitted: &FittedSpace, squares: &[f64], modes: usize) -> Vec<Specificity> {
        let sds: Vec<f64> = fitted.space.variances_mm2.iter().map(|v| v.sqrt()).collect();
        let nearest: Vec<Vec<f64>> = (0..self.samples)
            .into_par_iter()
            .map(|which| {
                let mut rng = stream(self.seed, &format!("specificity {which}"));
                let normal = |k: usize, rng: &mut _| -> f64 {
                    let z: f64 = StandardNormal.sample(rng);
                    z * sds[k]
                };
                let mut square = squares.to_vec();
                (0..modes)
                    .map(|k| {
                        let s = normal(k, &mut rng);
                        let mut least = f64::INFINITY;
                        for (d, row) in square.iter_mut().zip(&fitted.coefficients) {
                            *d += s * (s - 2.0 * row[k]);
                            least = least.min(*d);
                        }
                        least.max(0.0).sqrt()
                    })
                    .collect()
            })
            .collect();
        let n = self.samples as f64;
        (0..modes)
            .map(|k| {
                let mean_mm = nearest.iter().map(|d| d[k]).sum::<f64>() / n;
                let variance = nearest.iter().map(|d| (d[k] - mean_mm).powi(2)).sum::<f64>() / (n - 1.0);
                Specificity { modes: k + 1, mean_mm, se_mm: (variance / n).sqrt() }
            })
            .collect()
    }
}

/// The weighted mean square distance of every shape from the mean, in mm2.
fn squares(source: &dyn ShapeSource, fitted: &FittedSpace) -> Result<Vec<f64>, ShapeError> {
    let (mean, weights) = (&fitted.alignment.mean, &fitted.space.weights);
    let transforms = &fitted.alignment.transforms;
    (0..source.shapes().min(transforms.len()))
        .into_par_iter()
        .map(|i| {
            let shape = source.read_shape(i)?;
            let terms = shape.iter().zip(mean).zip(weights).map(|((p, m), w)| {
                let x = transforms[i].apply(*p);
                w * (0..3).map(|k| (x[k] - m[k]).powi(2)).sum::<f64>()
            });
            Ok(terms.sum())
        })
        .collect()
}
