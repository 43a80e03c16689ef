//! Compactness, generalisation, specificity (Davies 2002; Styner and others 2003), in mm.

mod found;
pub mod surface;

use formkin_geometry::tree::Tree;
use formkin_geometry::{Point, ShapeSource, Topology};
use formkin_stats::random::stream;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

pub use found::{Quality, Specificity, SurfaceQuality};
use surface::Points;

use crate::{FittedSpace, ShapeError, SpaceParams, cross_validate};

/// What these figures do not say; told wherever they are.
pub(crate) const FLAWS: [&str; 4] = [
    "A correspondence that collapses, vertices sliding together, improves all three.",
    "Distances between vertices of the same number take sliding along the surface for a difference, and those between surfaces do not see it: neither shows that correspondence is right.",
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
    /// Whether distances between surfaces are found too; they take most of the time.
    pub surfaces: bool,
    /// The seed.
    pub seed: u64,
}

impl Default for QualityParams {
    fn default() -> Self {
        Self { samples: 1000, modes: 60, surfaces: true, seed: 1 }
    }
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
        let (compactness_mm2, compactness_se_mm2) = Self::compactness(&found.variances_mm2, found.people);
        let (specificity, surface) = self.both(source, fitted, &squares, modes, people, space)?;
        Ok(Quality {
            compactness_mm2,
            compactness_se_mm2,
            generalisation: left_out.errors,
            specificity,
            surface,
            samples: self.samples,
            people: found.people,
            items: found.items,
            seed: self.seed,
            flaws: FLAWS.iter().map(|s| (*s).to_owned()).collect(),
        })
    }

    /// Sums of the first 1, 2, .. variances, and their standard errors: root of sum 2 l^2 / (people - 1), for normal data.
    #[must_use]
    pub fn compactness(variances_mm2: &[f64], people: usize) -> (Vec<f64>, Vec<f64>) {
        let (mut sum, mut error) = (0.0, 0.0);
        variances_mm2
            .iter()
            .map(|v| {
                sum += v;
                error += 2.0 * v * v / (people.max(2) - 1) as f64;
                (sum, error.sqrt())
            })
            .unzip()
    }

    /// |s - x_i|^2 = |x_i|^2 + sum_{k <= M} (s_k^2 - 2 s_k b_ik), about the mean, for every M at once; for a few M also between the surfaces of the drawn shape and its nearest.
    fn both(
        &self,
        source: &dyn ShapeSource,
        fitted: &FittedSpace,
        squares: &[f64],
        modes: usize,
        people: &[usize],
        params: &SpaceParams,
    ) -> Result<(Vec<Specificity>, Vec<SurfaceQuality>), ShapeError> {
        let space = &fitted.space;
        let sds: Vec<f64> = space.variances_mm2.iter().map(|v| v.sqrt()).collect();
        let chosen = space.cross_validation.as_ref().and_then(|c| c.chosen_modes);
        let mut some: Vec<usize> = [Some(1), chosen, Some(modes)].into_iter().flatten().collect();
        some.retain(|k| (1..=modes).contains(k));
        some.sort_unstable();
        some.dedup();
        // drawn coefficients, and for every number of modes the nearest shape and its distance
        type Drawn = (Vec<f64>, Vec<(usize, f64)>);
        let drawn: Vec<Drawn> = (0..self.samples)
            .into_par_iter()
            .map(|which| {
                let mut rng = stream(self.seed, &format!("specificity {which}"));
                let mut square = squares.to_vec();
                (0..modes)
                    .map(|k| {
                        let z: f64 = StandardNormal.sample(&mut rng);
                        let s = z * sds[k];
                        let mut least = (0, f64::INFINITY);
                        for (i, (d, row)) in square.iter_mut().zip(&fitted.coefficients).enumerate() {
                            *d += s * (s - 2.0 * row[k]);
                            if *d < least.1 {
                                least = (i, *d);
                            }
                        }
                        (s, (least.0, least.1.max(0.0).sqrt()))
                    })
                    .unzip()
            })
            .collect();
        let told = |values: &[f64]| -> (f64, f64) {
            let n = values.len() as f64;
            let mean = values.iter().sum::<f64>() / n;
            let variance = values.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / (n - 1.0);
            (mean, (variance / n).sqrt())
        };
        let specificity = (0..modes)
            .map(|k| {
                let (mean_mm, se_mm) = told(&drawn.iter().map(|d| d.1[k].1).collect::<Vec<f64>>());
                Specificity { modes: k + 1, mean_mm, se_mm }
            })
            .collect();
        if !self.surfaces {
            return Ok((specificity, Vec::new()));
        }
        let Ok(topology) = Topology::new(space.mean.len(), space.triangles.clone()) else {
            return Ok((specificity, Vec::new()));
        };
        let tree = Tree::new(&topology, &space.mean);
        let points = Points::of(&space.weights);
        let transforms = &fitted.alignment.transforms;
        let general = surface::generalisation(source, fitted, people, &some, &topology, params)?;
        let mut surface = Vec::new();
        for (&k, (generalisation_mm, generalisation_se_mm)) in some.iter().zip(general) {
            let distances: Vec<f64> = drawn[..drawn.len().min(surface::MOST_DRAWS)]
                .par_iter()
                .map(|(s, nearest)| {
                    let i = nearest[k - 1].0;
                    let real: Vec<Point> =
                        source.read_shape(i)?.iter().map(|p| transforms[i].apply(*p)).collect();
                    Ok(points.rms(&tree, &topology, &space.reconstruct(&s[..k]), &real))
                })
                .collect::<Result<_, ShapeError>>()?;
            let (specificity_mm, specificity_se_mm) = told(&distances);
            surface.push(SurfaceQuality {
                modes: k,
                generalisation_mm,
                generalisation_se_mm,
                specificity_mm,
                specificity_se_mm,
                points: points.count(),
                draws: distances.len(),
            });
        }
        Ok((specificity, surface))
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
