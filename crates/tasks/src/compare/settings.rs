//! What is asked for.

use formkin_shape::compare::CompareParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CompareSettings {
    /// The column that makes the groups
    #[schemars(extend("value" = "COLUMN", "needed" = true))]
    pub by: String,
    /// A column to hold fixed; may be given again
    #[serde(default)]
    #[schemars(extend("value" = "COLUMN"))]
    pub covariate: Vec<String>,
    /// Coefficients of T2 and of the discrimination; set it before looking at the data
    #[serde(default = "modes")]
    #[schemars(range(min = 1), extend("value" = "K"))]
    pub modes: usize,
    /// Permutations of people: 9,999 or more for what is reported
    #[serde(default = "permutations")]
    #[schemars(range(min = 1, max = 1_000_000))]
    pub permutations: usize,
    /// Share of false findings allowed on the map
    #[serde(default = "level")]
    #[schemars(extend("exclusiveMinimum" = 0, "exclusiveMaximum" = 1))]
    pub level: f64,
    /// Seed of permutations and folds
    #[serde(default = "seed")]
    pub seed: u64,
}

fn modes() -> usize {
    CompareParams::default().modes
}

fn permutations() -> usize {
    CompareParams::default().permutations
}

fn level() -> f64 {
    CompareParams::default().level
}

fn seed() -> u64 {
    CompareParams::default().seed
}

impl Default for CompareSettings {
    fn default() -> Self {
        let CompareParams { modes, permutations, level, seed, .. } = CompareParams::default();
        Self { by: String::new(), covariate: Vec::new(), modes, permutations, level, seed }
    }
}

impl CompareSettings {
    pub(super) fn params(&self) -> CompareParams {
        let Self { modes, permutations, level, seed, .. } = *self;
        CompareParams { modes, permutations, level, seed, ..CompareParams::default() }
    }
}
