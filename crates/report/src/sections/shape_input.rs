//! What a report shows of a shape space beyond its modes. Everything is optional.

use formkin_shape::compare::{Comparison, ShapeRegression};
use formkin_shape::complete::Calibration;
use formkin_shape::sample::{CorrelationReport, DimensionMarginal, SampleReport, Samples};
use formkin_shape::{PeopleMap, ProbabilisticPca, Quality, Symmetry};

/// Answers of the shape space.
#[derive(Debug, Clone, Default)]
pub struct ShapePart<'a> {
    /// Compactness, generalisation, specificity.
    pub quality: Option<&'a Quality>,
    /// Groups compared, one a column.
    pub comparisons: Vec<NamedResult<'a, Comparison>>,
    /// Shape on numbers.
    pub regressions: Vec<NamedResult<'a, ShapeRegression>>,
    /// Left and right, and the participant of each score.
    pub symmetry: Option<(&'a Symmetry, &'a [String])>,
    /// A map of people, and who they are.
    pub map: Option<(&'a PeopleMap, &'a [String])>,
    /// What the map can be coloured by.
    pub map_columns: Vec<MapColumn<'a>>,
    /// Bodies drawn.
    pub sample: Option<SamplePart<'a>>,
    /// Completions of a region hidden on people held out, by region.
    pub completions: Vec<(&'a str, &'a Calibration)>,
    /// Probabilistic components.
    pub probabilistic: Option<&'a ProbabilisticPca>,
    /// The covariance shrunk.
    pub shrinkage: Option<Shrinkage<'a>>,
    /// What could not be answered, and why.
    pub refusals: &'a [String],
}

/// A result with the column it is of.
#[derive(Debug, Clone)]
pub struct NamedResult<'a, T> {
    /// The column.
    pub name: &'a str,
    /// The result.
    pub result: &'a T,
    /// People who took part.
    pub people: usize,
    /// People left out because a value is missing.
    pub left_out: usize,
}

/// A column that the map can be coloured by: one value a person, in the map's order.
#[derive(Debug, Clone, Copy)]
pub enum MapColumn<'a> {
    /// Groups.
    Words {
        /// The column.
        name: &'a str,
        /// A value a person.
        values: &'a [Option<String>],
    },
    /// Numbers.
    Numbers {
        /// The column.
        name: &'a str,
        /// A value a person.
        values: &'a [Option<f64>],
    },
}

/// Bodies drawn, beside people.
#[derive(Debug, Clone, Copy)]
pub struct SamplePart<'a> {
    /// In coefficients.
    pub report: &'a SampleReport,
    /// How they were drawn.
    pub samples: &'a Samples,
    /// Modes used.
    pub modes: usize,
    /// In dimensions.
    pub marginals: &'a [DimensionMarginal],
    /// Correlations of dimensions.
    pub correlations: Option<&'a CorrelationReport>,
    /// What a reader must know.
    pub notes: &'a [String],
}

/// A covariance shrunk towards a multiple of the identity (Ledoit and Wolf).
#[derive(Debug, Clone, Copy)]
pub struct Shrinkage<'a> {
    /// 0 leaves the sample covariance, 1 nothing of it.
    pub shrinkage: f64,
    /// Coordinates of the shapes.
    pub coordinates: usize,
    /// The first variances as they are, in mm2.
    pub sample_mm2: &'a [f64],
    /// The same shrunk, in mm2.
    pub shrunk_mm2: &'a [f64],
    /// Variance along a direction that the sample knows nothing of, in mm2.
    pub rest_mm2: f64,
}
