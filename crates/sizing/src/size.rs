//! A size, and who takes it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// One size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Size {
    /// Its name: the group and a number, from the smallest.
    pub name: String,
    /// Its group.
    pub group: String,
    /// Its value in every control dimension.
    pub centre: BTreeMap<String, f64>,
    /// The wearer's range in every control dimension, in the plan's order.
    pub ranges: Vec<Range>,
    /// Mean and spread of the secondary dimensions over its wearers.
    pub secondary: Vec<Secondary>,
    /// People of the table who wear it.
    pub n: usize,
    /// Their weighted share of the group's people.
    pub share: f64,
    /// Standard designation: the wearer's range in every control dimension, lengths in cm.
    pub designation: String,
    /// Share of the group's people whom it covers and no other size does: what leaving it out would cost.
    pub only: f64,
    /// Share of its wearers whom another size covers too.
    pub overlap: f64,
    /// Whether it comes back in resamples.
    pub stability: Option<Stability>,
    /// What speaks against it: `rare` (share under the plan's least), `few-people`.
    pub flags: Vec<String>,
    /// The wearer who stands for it: the medoid over the fit dimensions. None where nobody wears it or nobody has all fit dimensions.
    pub fit_model: Option<String>,
    /// How the fit model differs from the mean wearer in every fit dimension.
    pub fit_deviations: Vec<Deviation>,
}

/// The wearer's range in one control dimension: both limits belong to the size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Range {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// The smallest wearer: centre - below.
    pub low: f64,
    /// The size's value.
    pub centre: f64,
    /// The largest wearer: centre + above.
    pub high: f64,
}

/// A secondary dimension over the wearers of a size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Secondary {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// Weighted mean; None without a wearer who has it.
    pub mean: Option<f64>,
    /// Standard deviation (n - 1); None under two wearers.
    pub sd: Option<f64>,
    /// 5th percentile; None under 60 wearers, too few for it.
    pub p5: Option<f64>,
    /// Median.
    pub p50: Option<f64>,
    /// 95th percentile; None under 60 wearers.
    pub p95: Option<f64>,
    /// Wearers who have it.
    pub n: usize,
}

/// The fit model against the mean wearer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Deviation {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// The fit model's value.
    pub value: f64,
    /// The wearers' weighted mean.
    pub mean: f64,
    /// Value - mean.
    pub deviation: f64,
}

/// Which size a person takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Assignment {
    /// The row.
    pub id: String,
    /// The size, or None where none covers the person.
    pub size: Option<String>,
    /// The nearest size.
    pub nearest: String,
    /// Whether a change of a few millimetres (the plan's `borderline_mm`) would change the answer: a wearer so near a limit of the size, or
    /// someone without a size who misses the nearest by no more than that.
    pub borderline: bool,
    /// Largest deviation from the nearest size over its tolerance: 1 is the limit.
    pub loss: f64,
    /// Whether the person suits the size also in the plan's further limits; None without a size, without limits or without values.
    pub suits_all: Option<bool>,
    /// By how much the person misses the nearest size; empty where covered.
    pub misses: Vec<Miss>,
    /// Share of the repeats in which sizes derived without this person cover them.
    pub covered_held_out: f64,
    /// Weight.
    pub weight: f64,
}

/// By how much a person misses a limit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Miss {
    /// The dimension.
    pub dimension: String,
    /// Its unit.
    pub unit: Option<String>,
    /// Above 0: larger than the upper limit by so much; under 0: smaller than the lower limit.
    pub by: f64,
}

/// What a size of a resample may do: part of [`Size`].
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Stability {
    /// Share of the resamples with sizes derived anew in which one came back within half of its tolerances.
    pub comes_back: f64,
    /// Median distance of the nearest size derived anew, over the tolerance: 1 is the limit.
    pub median_shift: f64,
}
