//! What is asked for.

use formkin_shape::compare::CompareParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RegressSettings {
    /// The column of numbers that shape is regressed on
    #[schemars(extend("value" = "COLUMN", "needed" = true))]
    pub on: String,
    /// Groups: held fixed, and tested for equal slopes
    #[serde(default)]
    #[schemars(extend("value" = "COLUMN"))]
    pub by: Option<String>,
    /// A column to hold fixed; may be given again
    #[serde(default)]
    #[schemars(extend("value" = "COLUMN"))]
    pub covariate: Vec<String>,
    /// Permutations of people: 9,999 or more for what is reported
    #[serde(default = "permutations")]
    #[schemars(range(min = 1, max = 1_000_000))]
    pub permutations: usize,
    /// Share of false findings allowed on the map
    #[serde(default = "level")]
    #[schemars(extend("exclusiveMinimum" = 0, "exclusiveMaximum" = 1))]
    pub level: f64,
    /// Seed of the permutations
    #[serde(default = "seed")]
    pub seed: u64,
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

impl Default for RegressSettings {
    fn default() -> Self {
        let CompareParams { permutations, level, seed, .. } = CompareParams::default();
        Self { on: String::new(), by: None, covariate: Vec::new(), permutations, level, seed }
    }
}

impl RegressSettings {
    pub(super) fn params(&self) -> CompareParams {
        let Self { permutations, level, seed, .. } = *self;
        CompareParams { permutations, level, seed, ..CompareParams::default() }
    }
}
