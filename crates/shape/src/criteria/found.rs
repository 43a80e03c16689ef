//! What the criteria found.

use serde::{Deserialize, Serialize};

use super::{ModeStability, ModeVariance, VertexErrors};

/// One criterion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Criterion {
    /// Its name.
    pub name: String,
    /// How many modes it keeps; none where it has no answer.
    pub modes: Option<usize>,
    /// What it does, in words, with its figures.
    pub rule: String,
}

/// How many modes by every criterion, and how stable they are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ModeCriteria {
    /// The criteria, the primary one first.
    pub criteria: Vec<Criterion>,
    /// The name of the primary one.
    pub primary: String,
    /// Why it is.
    pub reason: String,
    /// Number of shapes less one over number of coordinates.
    pub aspect_ratio: f64,
    /// Effective number of independent coordinates of the nulls: (sum l)^2 / sum l^2 of the weighted variances of coordinates.
    pub coordinate_freedom: f64,
    /// 95th percentile over nulls of the largest, second largest .. variance of noise, in mm2.
    pub null_p95_mm2: Vec<f64>,
    /// Variances below this may be white noise, in mm2: sigma^2 (1 + sqrt(beta))^2, sigma^2 from the median variance.
    pub marchenko_pastur_edge_mm2: f64,
    /// Variances below this are not worth keeping under white noise, in mm2.
    pub gavish_donoho_edge_mm2: f64,
    /// Expected variances of a broken stick, in mm2, as many as `null_p95_mm2`.
    pub broken_stick_mm2: Vec<f64>,
    /// Errors of vertices of people held out, at the chosen number of modes.
    pub vertex_errors: Option<VertexErrors>,
    /// The stability of the leading modes.
    pub stability: Vec<ModeStability>,
    /// Variances of the same modes without what noise lends them, with intervals.
    #[serde(default)]
    pub variances: Vec<ModeVariance>,
    /// Nulls of the parallel analysis.
    pub nulls: usize,
    /// Draws of the bootstrap.
    pub draws: usize,
    /// The seed.
    pub seed: u64,
}

impl ModeCriteria {
    /// Whether a mode, from 0, may be named; none where it was not looked at.
    #[must_use]
    pub fn stable(&self, mode: usize) -> Option<bool> {
        self.stability.get(mode).map(|s| s.stable)
    }

    /// The answer of a criterion.
    #[must_use]
    pub fn modes(&self, name: &str) -> Option<usize> {
        self.criteria.iter().find(|c| c.name == name).and_then(|c| c.modes)
    }
}
