//! The result: transforms, mean, weights, history.

use formkin_geometry::{Point, ShapeSource};
use serde::{Deserialize, Serialize};

use crate::{AlignParams, Aligned, Transform};

/// What the first round was aligned to. It also fixes the frame of the result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reference {
    /// The reference given to the fit.
    Given,
    /// The average of the shapes as captured, each about its own centre.
    Average,
    /// One shape, that of median size, because the shapes as captured point in so many directions that their average has no form.
    MedianSize {
        /// The shape.
        shape: usize,
    },
}

/// One round of the fit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Round {
    /// Weighted sum of squared distances from the mean, over all shapes, in mm2.
    pub sum_of_squares_mm2: f64,
    /// How far the mean moved in this round, weighted RMS over the vertices, in mm.
    pub mean_moved_mm: f64,
}

/// A fitted generalised Procrustes alignment of n shapes of V vertices.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Alignment {
    /// The settings.
    pub params: AlignParams,
    /// V vertex weights that sum to 1.
    pub weights: Vec<f64>,
    /// n transforms from the shape as captured to the aligned one.
    pub transforms: Vec<Transform>,
    /// The average of the aligned shapes, V positions in mm.
    pub mean: Vec<Point>,
    /// Rounds made, after the weights were fixed.
    pub rounds: usize,
    /// sum_i sum_v w_v |x_iv - mean_v|^2 over the aligned shapes, in mm2.
    pub sum_of_squares_mm2: f64,
    /// sqrt(sum of squares / n), in mm.
    pub rms_mm: f64,
    /// Every round.
    pub history: Vec<Round>,
    /// n centroid sizes of the shapes as captured: sqrt(sum_v w_v |x_v - centroid|^2), in mm. (Dryden & Mardia)
    pub centroid_sizes_mm: Vec<f64>,
    /// What the first round was aligned to.
    pub reference: Reference,
}

impl Alignment {
    /// The aligned shapes of `source`, which must be the one this was fitted to.
    #[must_use]
    pub fn aligned<'a>(&'a self, source: &'a dyn ShapeSource) -> Aligned<'a> {
        Aligned::new(source, &self.transforms)
    }
}
