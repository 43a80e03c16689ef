//! Parts of a plan: methods, losses, allowances, types, margins, limits.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::SizingError;

/// What a garment costs that is too large or too small for the wearer, per unit of ln(person / size), squared. Inside the free zone it costs nothing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Loss {
    /// Cost where the person is smaller than the size (loose).
    pub loose: f64,
    /// Cost where the person is larger than the size (tight).
    pub tight: f64,
    /// The person may be so much smaller at no cost, in the control's unit at the mean.
    #[serde(default)]
    pub free_below: f64,
    /// The person may be so much larger at no cost.
    #[serde(default)]
    pub free_above: f64,
}

/// How much a dimension changes in movement against standing still.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Allowance {
    /// It grows by at most so much.
    #[serde(default)]
    pub grows: f64,
    /// It shrinks by at most so much.
    #[serde(default)]
    pub shrinks: f64,
}

/// Types within sizes: drops or lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Types {
    /// How many.
    pub count: usize,
    /// Whether the type is the difference from the first control dimension (a drop) and not the dimension itself (a length).
    #[serde(default)]
    pub drop: bool,
}

/// A known share of the population by class of a column.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MarginPlan {
    /// The column.
    pub column: String,
    /// The share of every class. They sum to 1; what rounding leaves, up to 0.5 %, is scaled away.
    pub shares: BTreeMap<String, f64>,
}

impl MarginPlan {
    /// How far from 1 shares may sum by rounding.
    const ROUNDING: f64 = 0.005;

    pub(crate) fn sum(&self) -> f64 {
        self.shares.values().sum()
    }

    pub(crate) fn check(&self) -> Result<(), SizingError> {
        let wrong = |reason: String| Err(SizingError::Margin { column: self.column.clone(), reason });
        if let Some((class, share)) = self.shares.iter().find(|(_, s)| !(s.is_finite() && **s > 0.0)) {
            return wrong(format!("the share of `{class}` is {share}; shares must be above 0"));
        }
        let sum = self.sum();
        if (sum - 1.0).abs() > Self::ROUNDING {
            let percent = if (sum - 100.0).abs() <= 100.0 * Self::ROUNDING {
                "write them as parts of 1, not in per cent"
            } else {
                "correct them, or add the class that is missing"
            };
            return wrong(format!(
                "its shares sum to {}, and must sum to 1; {percent}",
                (sum * 1e6).round() / 1e6
            ));
        }
        Ok(())
    }

    /// That the shares were scaled, where they were.
    pub(crate) fn note(&self) -> Option<String> {
        let sum = self.sum();
        ((sum - 1.0).abs() > 1e-9).then(|| {
            format!(
                "The shares of `{}` sum to {sum:.4}, by rounding: they were scaled to sum to 1.",
                self.column
            )
        })
    }
}

/// A further limit of fit: a wearer suits the size where the dimension is within the tolerance of the mean wearer of the size.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// Column of the table.
    pub dimension: String,
    /// In the column's unit.
    pub tolerance: Tolerance,
}

/// What exact one-dimensional sizes make best.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Objective {
    /// The least squared misfit.
    #[default]
    Misfit,
    /// The most people covered.
    Coverage,
}

/// Where sizes of greatest coverage may lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Candidates {
    /// At the values of people.
    #[default]
    People,
    /// On a grid: at the controls' steps, or finer than their tolerances where they have none.
    Grid,
}

/// How the sizes are found. All work on the control dimensions over their tolerances, so that no dimension dominates by its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Means of clusters: the least mean squared misfit.
    #[default]
    KMeans,
    /// People as sizes: the least mean misfit.
    KMedoids,
    /// People as sizes, each chosen to cover most of those not yet covered. The highest coverage in the sample and the most optimistic.
    GreatestCoverage,
    /// Components of a mixture of normal densities: sizes about the heaps of people, whatever their spread.
    GaussianMixture,
    /// Cells of a grid of intervals, the fullest.
    Intervals,
    /// The best sizes of one control dimension, exactly.
    DynamicProgramming,
    /// The least loss of fit, where too small and too large cost differently, in log scale.
    LeastLoss,
    /// Clusters in other columns, such as shape coefficients, found again in the control dimensions by a small decision tree.
    ShapeClusters,
    /// Sizes of the first control dimension, each in types of the others: drops and lengths.
    Nested,
}

impl Method {
    /// The name it has in a plan.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::KMeans => "k-means",
            Self::KMedoids => "k-medoids",
            Self::GreatestCoverage => "greatest-coverage",
            Self::GaussianMixture => "gaussian-mixture",
            Self::Intervals => "intervals",
            Self::DynamicProgramming => "dynamic-programming",
            Self::LeastLoss => "least-loss",
            Self::ShapeClusters => "shape-clusters",
            Self::Nested => "nested",
        }
    }
}

/// How far the wearer of a size may be from its value. Both limits belong to the size.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tolerance {
    /// The wearer may be so much smaller than the size's value.
    pub below: f64,
    /// The wearer may be so much larger than the size's value.
    pub above: f64,
}

impl Tolerance {
    /// Refuses a limit that is not above 0, of the dimension of this name.
    pub(crate) fn check(&self, dimension: &str) -> Result<(), SizingError> {
        for (side, value) in [("below", self.below), ("above", self.above)] {
            if !(value.is_finite() && value > 0.0) {
                return Err(SizingError::Tolerance { dimension: dimension.to_owned(), side, value });
            }
        }
        Ok(())
    }
}
