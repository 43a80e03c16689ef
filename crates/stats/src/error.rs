//! What can be wrong with numbers.

use thiserror::Error;

/// What can be wrong with numbers.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum StatsError {
    /// A matrix that must be square is not.
    #[error("a square matrix is needed, and this one is {rows} x {columns}")]
    NotSquare {
        /// Number of rows.
        rows: usize,
        /// Number of columns.
        columns: usize,
    },
    /// Two inputs whose sizes must agree do not.
    #[error("{what}: {found} found where {expected} are needed")]
    Size {
        /// What was counted.
        what: &'static str,
        /// How many there must be.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// A number is NaN or infinite.
    #[error("{what}: entry {index} is not finite")]
    NotFinite {
        /// Which input.
        what: &'static str,
        /// Position of the first such entry, from 0, row by row.
        index: usize,
    },
    /// An iteration did not come to an end.
    #[error("{what} did not converge")]
    NoConvergence {
        /// Which computation.
        what: &'static str,
    },
    /// Too few observations, people or groups.
    #[error("{what}: {found} found, at least {least} are needed")]
    TooFew {
        /// What was counted.
        what: &'static str,
        /// The least number that will do.
        least: usize,
        /// How many there are.
        found: usize,
    },
    /// A parameter is outside its range.
    #[error("{name} is {value}; it must be {range}")]
    OutOfRange {
        /// The parameter.
        name: &'static str,
        /// The value given.
        value: f64,
        /// The range, in words.
        range: &'static str,
    },
    /// A variable that must vary does not.
    #[error("{what} is the same for all; it must vary")]
    Constant {
        /// Which variable.
        what: &'static str,
    },
    /// A predictor of a regression does not vary, or follows from those before it.
    #[error("predictor {predictor} does not vary, or follows from those before it; leave it out")]
    Collinear {
        /// Its column, from 0.
        predictor: usize,
    },
    /// More clusters than points that differ.
    #[error("{clusters} clusters are asked for among {distinct} points that differ; ask for fewer")]
    TooManyClusters {
        /// Clusters asked for.
        clusters: usize,
        /// Points that differ.
        distinct: usize,
    },
    /// No weights give a feature its target mean.
    #[error(
        "no weights bring the mean of feature {feature} to {target}: observations lie between {low} and {high}, and other targets bind them too"
    )]
    Unreachable {
        /// The feature, from 0.
        feature: usize,
        /// The mean asked for.
        target: f64,
        /// The least value among the observations.
        low: f64,
        /// The greatest.
        high: f64,
    },
}
