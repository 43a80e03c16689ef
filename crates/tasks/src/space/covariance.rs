//! The covariance of aligned shapes shrunk towards a multiple of the identity.

use formkin_cohort::Cohort;
use formkin_shape::FittedSpace;
use formkin_shape::covariance::{LedoitWolf, ledoit_wolf};
use formkin_shape::gram::gram_matrix;
use serde::{Deserialize, Serialize};

use crate::TaskError;

/// Variances that are shown.
const SHOWN: usize = 10;

/// A covariance of aligned shapes shrunk towards a multiple of the identity, in figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Shrunk {
    /// 0 leaves the sample covariance, 1 leaves nothing of it.
    pub shrinkage: f64,
    /// Coordinates of the shapes.
    pub coordinates: usize,
    /// The first variances along the modes as they are, in mm2.
    pub sample_mm2: Vec<f64>,
    /// The same shrunk, in mm2.
    pub shrunk_mm2: Vec<f64>,
    /// Variance along a direction that the sample knows nothing of, in mm2.
    pub rest_mm2: f64,
}

/// Ledoit and Wolf's estimate on the shapes of a space, with the divisor n - 1 of the space.
pub(super) fn shrunk(cohort: &Cohort, items: &[usize], fitted: &FittedSpace) -> Result<Shrunk, TaskError> {
    let (space, alignment) = (&fitted.space, &fitted.alignment);
    let source = cohort.select(items.to_vec());
    let gram = gram_matrix(&alignment.aligned(&source), &alignment.mean, &space.weights, &|_, _| ())?;
    let coordinates = 3 * space.weights.iter().filter(|w| **w > 0.0).count();
    let found: LedoitWolf = ledoit_wolf(&gram, coordinates)?;
    let n = space.items as f64;
    let by = n / (n - 1.0);
    Ok(Shrunk {
        shrinkage: found.shrinkage,
        coordinates,
        sample_mm2: space.variances_mm2.iter().take(SHOWN).copied().collect(),
        shrunk_mm2: found.variances.iter().take(SHOWN).map(|v| v * by).collect(),
        rest_mm2: found.rest * by,
    })
}
