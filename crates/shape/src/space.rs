//! The fitted space: project, reconstruct.

use formkin_align::{AlignParams, Removes, Transform};
use formkin_geometry::Point;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::{CrossValidation, DimensionMoments, ModeCriteria, Quality, ShapeError};

/// A shape space: x = mean + sum_k c_k mode_k, with c_k in mm. Immutable once fitted.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Space {
    /// V positions in mm: the average of the aligned shapes.
    pub mean: Vec<Point>,
    /// K modes of V displacements each, in mm a mm of coefficient: sum_v w_v mode_kv . mode_lv = 1 for k = l, 0 otherwise. The displacement of
    /// largest size is positive.
    pub modes: Vec<Vec<Point>>,
    /// Variances of the coefficients, largest first, in mm2, with divisor items - 1: all that are not zero, also where fewer modes are kept.
    pub variances_mm2: Vec<f64>,
    /// The sum of all variances: the weighted mean square distance of a vertex from the mean, in mm2 (with divisor items - 1).
    pub total_variance_mm2: f64,
    /// V vertex weights that sum to 1.
    pub weights: Vec<f64>,
    /// The shared triangles.
    pub triangles: Vec<[u32; 3]>,
    /// Number of people the shapes are of.
    pub people: usize,
    /// Number of shapes.
    pub items: usize,
    /// What the alignment removed.
    pub removes: Removes,
    /// How vertices were weighted: `plain`, `area` or `region`.
    pub weighting: String,
    /// The settings of the alignment.
    pub align: AlignParams,
    /// How well people left out are described, by number of modes.
    pub cross_validation: Option<CrossValidation>,
    /// Why there is no cross-validation, where it was asked for.
    pub cross_validation_refused: Option<String>,
    /// How many modes by every criterion, and how stable they are; none where it was not asked for.
    pub criteria: Option<ModeCriteria>,
    /// Compactness, generalisation, specificity; none where they were not asked for, and in files of before they were kept.
    #[serde(default)]
    pub quality: Option<Quality>,
    /// Means and covariances of coefficients and dimensions, for predictions; none where no dimensions were given.
    pub regression: Option<DimensionMoments>,
    /// How the dimensions are taken, as text of whoever takes them: kept in files as it is.
    pub measuring: Option<String>,
    /// SHA-256 of the triangles, as [`formkin_geometry::Topology::hash`].
    pub template_hash: String,
    /// The seed of the folds.
    pub seed: u64,
    /// Version of the format of the file.
    pub version: u64,
}

/// A shape in the coordinates of a space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Projection {
    /// One coefficient a mode, in mm.
    pub coefficients: Vec<f64>,
    /// What the modes leave: sqrt(sum_v w_v |x_v - reconstruction_v|^2) in mm, after alignment.
    pub residual_rms_mm: f64,
    /// The pose: from the shape as given to the frame of the space.
    pub transform: Transform,
}

impl Space {
    /// The share of the total variance in the first 1, 2, ... modes: cumulative, as long as `variances_mm2`, ending at 1. Empty where nothing varies.
    #[must_use]
    pub fn explained(&self) -> Vec<f64> {
        let mut sum = 0.0;
        self.variances_mm2
            .iter()
            .map(|v| {
                sum += v;
                sum / self.total_variance_mm2
            })
            .collect()
    }

    /// The kept modes, from 1, that are not stable under draws of people and must not be named one by one. Empty also where stability was not looked at.
    #[must_use]
    pub fn unstable_modes(&self) -> Vec<usize> {
        let looked = self.criteria.iter().flat_map(|c| &c.stability);
        looked.filter(|s| !s.stable && s.mode <= self.modes.len()).map(|s| s.mode).collect()
    }

    /// How many leading kept modes were looked at for stability: of those beyond it is not known. 0 where none was.
    #[must_use]
    pub fn stability_asked_modes(&self) -> usize {
        self.criteria.as_ref().map_or(0, |c| c.stability.len()).min(self.modes.len())
    }

    /// What the criteria other than cross-validation do not see: shapes of one person go together, and they count every shape. None where each person has
    /// one shape, or there are no criteria.
    #[must_use]
    pub fn criteria_caution(&self) -> Option<String> {
        (self.criteria.is_some() && self.people < self.items).then(|| {
            let whose = if self.people == 1 { "1 person".to_owned() } else { format!("{} people", self.people) };
            format!(
                "criteria other than cross-validation count {} shapes of {whose} as if each were a person of its own: shapes of one person are correlated, and the numbers of modes by them are not those of as many people",
                self.items
            )
        })
    }

    /// Whether the space was merged from model files: such a space holds no dimensions, no criteria and no errors of people held out.
    #[must_use]
    pub fn is_merged(&self) -> bool {
        self.cross_validation_refused.as_deref() == Some(crate::format::REFUSED)
    }

    /// Lays a shape on the mean as the fit did, and takes its coefficients c_k = sum_v w_v mode_kv . (x_v - mean_v).
    ///
    /// # Errors
    /// [`ShapeError::Align`] where the number of vertices is another or the shape has no pose.
    pub fn project(&self, shape: &[Point]) -> Result<Projection, ShapeError> {
        let found = self.describe(&[shape.to_vec()])?.into_iter().next();
        found.map(|(projection, _)| projection).ok_or(ShapeError::Count {
            what: "shapes",
            expected: 1,
            found: 0,
        })
    }

    /// The shape mean + sum_k c_k mode_k, in mm, in the frame of the space. Fewer coefficients than modes: the rest are 0; more: they are ignored.
    #[must_use]
    pub fn reconstruct(&self, coefficients: &[f64]) -> Vec<Point> {
        let mut shape = self.mean.clone();
        shape.par_chunks_mut(4096).enumerate().for_each(|(chunk, out)| {
            for (mode, &c) in self.modes.iter().zip(coefficients) {
                for (x, u) in out.iter_mut().zip(mode.iter().skip(chunk * 4096)) {
                    for k in 0..3 {
                        x[k] += c * u[k];
                    }
                }
            }
        });
        shape
    }
}
