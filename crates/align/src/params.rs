//! What is removed, how vertices are weighted, when to stop.

use serde::{Deserialize, Serialize};

use crate::AlignError;

/// What an alignment removes from a shape. Reflection never is: every rotation has determinant +1.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Removes {
    /// Translation and rotation. Scale is kept: anthropometry's size-and-shape.
    #[default]
    Rigid,
    /// Translation, rotation and scale. Shapes are scaled into the tangent space at the mean (see [`crate::pose`]).
    Similarity,
    /// Translation along the floor, and the turn about the vertical z. The lowest vertex of every shape comes to z = 0.
    Standing,
}

/// How the vertices are weighted. Weights sum to 1, so that a sum of squares over the vertices is a mean square distance whatever the
/// density of the mesh.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weighting {
    /// The same weight for every vertex. Densely meshed hands, feet and face count more than their skin.
    Plain,
    /// One third of the areas of the adjacent triangles of the mean, over the whole. The mean is that of a first, plain alignment; then the
    /// weights stay fixed.
    #[default]
    Area,
    /// The area weights of these vertices; all others weigh nothing, and follow.
    Region {
        /// The vertices that count.
        vertices: Vec<u32>,
    },
}

impl Weighting {
    /// The name that outputs carry: `plain`, `area` or `region`.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Plain => "plain",
            Self::Area => "area",
            Self::Region { .. } => "region",
        }
    }
}

/// Settings of a generalised Procrustes alignment. See [`AlignParams::fit`].
///
/// The stop rule asks for both tolerances at once.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct AlignParams {
    /// What is removed.
    pub removes: Removes,
    /// How vertices are weighted.
    pub weighting: Weighting,
    /// Stop where the sum of squares changes by less than this part of itself.
    pub relative_tolerance: f64,
    /// ... and where the mean moves by less than this, RMS, in mm.
    pub mean_tolerance_mm: f64,
    /// Rounds after which it is an error not to have stopped.
    pub max_rounds: usize,
}

impl Default for AlignParams {
    fn default() -> Self {
        Self {
            removes: Removes::default(),
            weighting: Weighting::default(),
            relative_tolerance: 1e-8,
            mean_tolerance_mm: 1e-3,
            max_rounds: 100,
        }
    }
}

impl AlignParams {
    pub(crate) fn check(&self) -> Result<(), AlignError> {
        let positive = |name, value: f64| {
            if value > 0.0 && value.is_finite() {
                Ok(())
            } else {
                Err(AlignError::Setting { name, value, range: "more than 0 and finite" })
            }
        };
        positive("relative_tolerance", self.relative_tolerance)?;
        positive("mean_tolerance_mm", self.mean_tolerance_mm)?;
        if self.max_rounds == 0 {
            return Err(AlignError::Setting { name: "max_rounds", value: 0.0, range: "1 or more" });
        }
        Ok(())
    }
}
