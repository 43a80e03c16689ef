//! What a cross-validation by participant found.

use serde::{Deserialize, Serialize};

/// The error of describing people left out with so many modes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ModeError {
    /// Number of modes.
    pub modes: usize,
    /// Root of the mean over people of the mean over a person's shapes of the weighted mean square distance, in mm.
    pub rms_mm: f64,
    /// Standard error of `rms_mm` over people, in mm: SD of the people's mean squares / sqrt(people) / (2 rms), the delta method.
    pub se_mm: f64,
    /// The person described worst, RMS in mm.
    pub worst_mm: f64,
}

/// A cross-validation by participant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CrossValidation {
    /// Number of folds.
    pub folds: usize,
    /// Number of people held out, each once.
    pub people: usize,
    /// Number of shapes used; fewer than there are where the cohort is large, see `rule`.
    pub items: usize,
    /// Errors for 0, 1, 2, .. modes.
    pub errors: Vec<ModeError>,
    /// The number of modes that the rule chooses, or none where it is not met.
    pub chosen_modes: Option<usize>,
    /// The rule in words.
    pub rule: String,
    /// The target of the rule, in mm.
    pub target_mm: f64,
}
