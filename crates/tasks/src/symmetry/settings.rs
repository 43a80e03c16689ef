//! What is asked for.

use std::path::PathBuf;

use formkin_shape::SymmetryParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::choices::{Align, Which};
use crate::{Facts, Problems};

/// The files of the command.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SymmetrySources {
    /// The cohort
    #[schemars(extend("position" = 1))]
    pub cohort: PathBuf,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct SymmetrySettings {
    /// What alignment removes
    pub align: Align,
    /// Vertex weights: `area`, `plain`, or a region of the template; made equal left and right
    pub weights: String,
    /// Which items take part
    pub items: Which,
    /// Changes of sign, and of owner, in the tests
    #[schemars(range(min = 1, max = 1_000_000))]
    pub permutations: usize,
    /// Draws of people for intervals
    #[schemars(range(min = 1, max = 1_000_000))]
    pub draws: usize,
    /// Most modes of each part to write
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: usize,
    /// Share of false findings allowed on the map
    #[schemars(extend("exclusiveMinimum" = 0, "exclusiveMaximum" = 1))]
    pub level: f64,
    /// Seed of tests and draws
    pub seed: u64,
}

impl Default for SymmetrySettings {
    fn default() -> Self {
        let SymmetryParams { permutations, draws, modes, level, seed } = SymmetryParams::default();
        let (align, items) = (Align::default(), Which::default());
        Self { align, weights: "area".to_owned(), items, permutations, draws, modes, level, seed }
    }
}

impl SymmetrySettings {
    pub(super) fn check(&self, facts: &Facts, problems: &mut Problems) {
        if let Some(regions) = facts.regions() {
            let names = ["area", "plain"].into_iter().chain(regions.iter().copied());
            problems.name("weights", "weighting or region", &self.weights, names);
        }
    }

    pub(super) fn params(&self) -> SymmetryParams {
        let Self { permutations, draws, modes, level, seed, .. } = *self;
        SymmetryParams { permutations, draws, modes, level, seed }
    }
}
