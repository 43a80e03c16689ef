//! Settings, and the fit.

use formkin_align::{AlignParams, Alignment};
use serde::{Deserialize, Serialize};

use crate::{ShapeError, Space};

/// Settings of a shape space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct SpaceParams {
    /// The alignment.
    pub align: AlignParams,
    /// Keep at most so many modes; none keeps all that vary. The variances of all are kept either way. A mode takes 24 bytes a vertex in memory, 12 in a file:
    /// 200 modes of 50,000 vertices are 240 MB.
    pub max_modes: Option<usize>,
    /// Folds of the cross-validation; with fewer people, each is left out in turn.
    pub folds: usize,
    /// How well people left out must be described, RMS in mm: 5 for design, 3 for machine learning (common practice, no source).
    pub target_mm: f64,
    /// The seed of the folds.
    pub seed: u64,
    /// Whether to cross-validate.
    pub cross_validate: bool,
}

impl Default for SpaceParams {
    fn default() -> Self {
        Self {
            align: AlignParams::default(),
            max_modes: Some(200),
            folds: 10,
            target_mm: 5.0,
            seed: 1,
            cross_validate: true,
        }
    }
}

/// A fitted space with what the fit knows about its shapes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FittedSpace {
    /// The space.
    pub space: Space,
    /// The alignment of every shape.
    pub alignment: Alignment,
    /// Items x modes: the coefficients of every shape, in mm.
    pub coefficients: Vec<Vec<f64>>,
}

impl SpaceParams {
    pub(crate) fn check(&self) -> Result<(), ShapeError> {
        if self.folds < 2 {
            return Err(ShapeError::Setting { name: "folds", value: self.folds as f64, range: "2 or more" });
        }
        if !(self.target_mm > 0.0 && self.target_mm.is_finite()) {
            let value = self.target_mm;
            return Err(ShapeError::Setting { name: "target_mm", value, range: "more than 0 and finite" });
        }
        Ok(())
    }
}
