//! What was found of the quality of a space.

use serde::{Deserialize, Serialize};

use crate::ModeError;

/// How specific a space is with so many modes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Specificity {
    /// Number of modes.
    pub modes: usize,
    /// Mean over drawn shapes of the weighted RMS distance from the nearest real one, in mm.
    pub mean_mm: f64,
    /// Its standard error over draws, in mm.
    pub se_mm: f64,
}

/// The quality of a space.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Quality {
    /// Sum of the first 1, 2, .. variances, in mm2.
    pub compactness_mm2: Vec<f64>,
    /// Standard errors of these sums, in mm2: root of sum 2 l^2 / (people - 1), for normal data.
    pub compactness_se_mm2: Vec<f64>,
    /// Errors of describing each person from the others, for 0, 1, .. modes: alignment and modes refitted without the person.
    pub generalisation: Vec<ModeError>,
    /// Specificity for 1, 2, .. modes.
    pub specificity: Vec<Specificity>,
    /// Generalisation and specificity between surfaces, for a few numbers of modes.
    #[serde(default)]
    pub surface: Vec<SurfaceQuality>,
    /// Shapes drawn.
    pub samples: usize,
    /// Number of people.
    pub people: usize,
    /// Number of shapes.
    pub items: usize,
    /// The seed.
    pub seed: u64,
    /// What the figures do not say.
    pub flaws: Vec<String>,
}

/// Generalisation and specificity between surfaces.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SurfaceQuality {
    /// Number of modes.
    pub modes: usize,
    /// Root of the mean over people of the mean square distance of a person held out (in folds, refitted) from its description, in mm.
    pub generalisation_mm: f64,
    /// Its standard error over people, in mm.
    pub generalisation_se_mm: f64,
    /// Mean over drawn shapes of the root mean square distance from the real shape nearest by vertices, in mm.
    pub specificity_mm: f64,
    /// Its standard error over draws, in mm.
    pub specificity_se_mm: f64,
    /// Vertices of each surface from which distances were taken.
    pub points: usize,
    /// Drawn shapes for the specificity.
    pub draws: usize,
}
