//! Cross-validated errors of predictions: what is asked, and what was found.

use serde::{Deserialize, Serialize};

/// Settings of the cross-validation of predictions.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PredictionParams {
    /// The variables that are given, as positions.
    pub given: Vec<usize>,
    /// Folds; with fewer people, each is left out in turn.
    pub folds: usize,
    /// The seed of the folds.
    pub seed: u64,
    /// Most modes of a fold: those that the space keeps.
    pub most_modes: usize,
}

impl Default for PredictionParams {
    fn default() -> Self {
        Self { given: Vec::new(), folds: 10, seed: 1, most_modes: 60 }
    }
}

/// The error within a region.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RegionRms {
    /// The region.
    pub region: String,
    /// Weighted RMS distance over people and vertices of the region, in mm.
    pub rms_mm: f64,
}

/// The error of a variable.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionError {
    /// The variable.
    pub variable: String,
    /// Its unit.
    pub unit: Option<String>,
    /// Root mean square error over people, in its unit; none for given variables.
    pub rms: f64,
    /// Its SD over people, in its unit: the error of predicting the mean.
    pub sd: f64,
    /// Share of people held out within their nominal 95 % interval; none for other methods than the conditional normal.
    #[serde(default)]
    pub coverage_95: Option<f64>,
}

/// The errors of one method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MethodErrors {
    /// `conditional_normal`, `partial_least_squares` or `mean`.
    pub method: String,
    /// Components of partial least squares: those of the least error.
    pub components: Option<usize>,
    /// Root of the mean over people of the weighted mean square distance, in mm, what is beyond the modes in it.
    pub rms_mm: f64,
    /// Its standard error over people, in mm.
    pub se_mm: f64,
    /// By region.
    pub regions: Vec<RegionRms>,
    /// By variable that was not given.
    pub dimensions: Vec<DimensionError>,
}

/// Cross-validated errors of predictions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PredictionErrors {
    /// What was given.
    pub given: Vec<String>,
    /// Number of people held out, each once.
    pub people: usize,
    /// Number of folds.
    pub folds: usize,
    /// The seed of the folds.
    pub seed: u64,
    /// The methods; the mean body last, as the yardstick.
    pub methods: Vec<MethodErrors>,
    /// How the intervals of vertices of the conditional normal fared.
    #[serde(default)]
    pub intervals: Option<IntervalCheck>,
}

/// Intervals of vertices held against people left out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct IntervalCheck {
    /// Weighted share of coordinates of vertices of people held out within nominal 95 % intervals.
    pub coverage_95: f64,
    /// What SDs are multiplied by so that it is 95 %.
    pub factor: f64,
}
