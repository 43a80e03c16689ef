//! What the crews measure: published means, standard deviations and correlations, shifted to the invented crews.
//!
//! Source: Gordon et al. 2014, NATICK/TR-15/007 (2012 US Army survey: 4,082 men, 1,986 women), computed from the public
//! release. Soldiers are fitter and younger than a volunteer crew, so the crews here are older and heavier: the shifts are ours.

use serde::{Deserialize, Serialize};

/// Sex as the statistics know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sex {
    /// Female.
    Female,
    /// Male.
    Male,
}

impl Sex {
    /// `"female"` or `"male"`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Female => "female",
            Self::Male => "male",
        }
    }
}

/// Number of dimensions in the tables.
pub(crate) const DIMENSIONS: usize = 15;

/// The dimensions in the order of `MEN`, `WOMEN` and the correlations.
pub const NAMES: [&str; DIMENSIONS] = [
    "stature",
    "weight",
    "crotch_height",
    "acromion_height",
    "biacromial_breadth",
    "chest_girth",
    "waist_girth",
    "hip_girth",
    "thigh_girth",
    "calf_girth",
    "neck_girth",
    "upper_arm_girth",
    "wrist_girth",
    "foot_length",
    "age",
];

/// Published mean, published SD, and our shift of the mean, in mm, kg, years.
type Row = (f64, f64, f64);

/// Men. The upper arm is published flexed; 0.93 of it is taken for the relaxed arm (our estimate, no source).
const MEN: [Row; DIMENSIONS] = [
    (1756.2, 68.6, 6.0),
    (85.5, 14.2, 3.0),
    (845.9, 46.5, 2.0),
    (1440.7, 63.3, 5.0),
    (415.7, 19.2, 0.0),
    (1058.7, 87.4, 12.0),
    (940.6, 111.7, 30.0),
    (1019.5, 76.7, 12.0),
    (625.1, 58.5, 0.0),
    (392.3, 29.7, 0.0),
    (397.6, 25.8, 3.0),
    (358.1 * 0.93, 34.6 * 0.93, 0.0),
    (175.9, 9.0, 0.0),
    (271.2, 13.1, 0.0),
    (30.2, 8.8, 13.0),
];

/// Women.
const WOMEN: [Row; DIMENSIONS] = [
    (1628.5, 64.2, 8.0),
    (67.8, 11.0, 3.0),
    (782.3, 44.6, 3.0),
    (1335.1, 58.1, 6.0),
    (365.3, 18.3, 0.0),
    (946.9, 82.7, 15.0),
    (860.9, 99.9, 25.0),
    (1021.2, 75.9, 14.0),
    (616.1, 55.8, 4.0),
    (373.3, 28.5, 0.0),
    (329.8, 19.2, 2.0),
    (305.6 * 0.93, 30.8 * 0.93, 0.0),
    (154.8, 7.8, 0.0),
    (246.3, 12.4, 0.0),
    (28.9, 8.3, 12.0),
];

/// Below the diagonal, row by row, in the order of [`NAMES`]; men.
const CORRELATIONS_MEN: [&[f64]; DIMENSIONS] = [
    &[],
    &[0.47],
    &[0.86, 0.31],
    &[0.97, 0.53, 0.86],
    &[0.53, 0.59, 0.43, 0.50],
    &[0.25, 0.91, 0.12, 0.32, 0.52],
    &[0.21, 0.89, 0.05, 0.29, 0.39, 0.89],
    &[0.34, 0.93, 0.18, 0.39, 0.49, 0.84, 0.88],
    &[0.26, 0.90, 0.14, 0.31, 0.45, 0.80, 0.83, 0.94],
    &[0.27, 0.83, 0.13, 0.30, 0.45, 0.73, 0.71, 0.79, 0.80],
    &[0.20, 0.79, 0.08, 0.26, 0.48, 0.79, 0.74, 0.71, 0.68, 0.63],
    &[0.19, 0.81, 0.12, 0.24, 0.46, 0.79, 0.68, 0.74, 0.79, 0.71, 0.72],
    &[0.49, 0.72, 0.34, 0.50, 0.54, 0.61, 0.55, 0.62, 0.57, 0.63, 0.60, 0.60],
    &[0.72, 0.48, 0.69, 0.71, 0.52, 0.30, 0.23, 0.37, 0.33, 0.38, 0.27, 0.31, 0.55],
    &[-0.01, 0.23, -0.05, 0.05, 0.05, 0.34, 0.38, 0.18, 0.11, 0.13, 0.30, 0.20, 0.19, 0.00],
];

/// As [`CORRELATIONS_MEN`]; women.
const CORRELATIONS_WOMEN: [&[f64]; DIMENSIONS] = [
    &[],
    &[0.53],
    &[0.85, 0.40],
    &[0.97, 0.56, 0.86],
    &[0.57, 0.46, 0.47, 0.51],
    &[0.26, 0.83, 0.12, 0.30, 0.29],
    &[0.23, 0.84, 0.12, 0.27, 0.25, 0.84],
    &[0.38, 0.91, 0.24, 0.40, 0.33, 0.74, 0.80],
    &[0.32, 0.89, 0.23, 0.34, 0.31, 0.69, 0.76, 0.94],
    &[0.34, 0.80, 0.22, 0.34, 0.32, 0.56, 0.56, 0.74, 0.77],
    &[0.29, 0.76, 0.19, 0.32, 0.36, 0.73, 0.70, 0.64, 0.62, 0.53],
    &[0.25, 0.86, 0.17, 0.28, 0.28, 0.75, 0.76, 0.79, 0.82, 0.72, 0.70],
    &[0.54, 0.71, 0.40, 0.53, 0.49, 0.52, 0.49, 0.56, 0.54, 0.61, 0.61, 0.60],
    &[0.72, 0.54, 0.72, 0.71, 0.52, 0.28, 0.26, 0.39, 0.38, 0.41, 0.36, 0.33, 0.58],
    &[0.01, 0.22, -0.05, 0.04, -0.02, 0.33, 0.31, 0.22, 0.19, 0.08, 0.27, 0.27, 0.06, 0.03],
];

/// Mean and SD aimed at, of a dimension by its name in [`NAMES`]; `None` for another name.
#[must_use]
pub fn target(sex: Sex, name: &str) -> Option<(f64, f64)> {
    NAMES.iter().position(|n| *n == name).map(|i| mean_sd(sex, i))
}

pub(crate) fn mean_sd(sex: Sex, dimension: usize) -> (f64, f64) {
    let (mean, sd, shift) = match sex {
        Sex::Male => MEN[dimension],
        Sex::Female => WOMEN[dimension],
    };
    (mean + shift, sd)
}

pub(crate) fn correlation(sex: Sex, a: usize, b: usize) -> f64 {
    let table = match sex {
        Sex::Male => &CORRELATIONS_MEN,
        Sex::Female => &CORRELATIONS_WOMEN,
    };
    if a == b { 1.0 } else { table[a.max(b)][a.min(b)] }
}
