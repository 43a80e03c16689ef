//! What is asked for.

use std::path::PathBuf;

use formkin_measure::population::PopulationParams;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The files.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PercentilesSources {
    /// A CSV table, one row a person, units in the headers
    #[schemars(extend("position" = 1, "value" = "CSV"))]
    pub table: PathBuf,
}

/// What is asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct PercentilesSettings {
    /// The column that groups people
    #[schemars(extend("value" = "COLUMN"))]
    pub by: Option<String>,
    /// The column that weighs people
    #[schemars(extend("value" = "COLUMN"))]
    pub weight: Option<String>,
    /// Resamples of people for the intervals; 0 for none
    #[schemars(range(min = 0, max = 100_000))]
    pub resamples: usize,
    /// Seed of the resamples
    pub seed: u64,
}

impl Default for PercentilesSettings {
    fn default() -> Self {
        let PopulationParams { by, weight, resamples, seed, .. } = PopulationParams::default();
        Self { by, weight, resamples, seed }
    }
}

impl PercentilesSettings {
    pub(super) fn params(&self) -> PopulationParams {
        let Self { by, weight, resamples, seed } = self.clone();
        PopulationParams { by, weight, resamples, seed, ..PopulationParams::default() }
    }
}
