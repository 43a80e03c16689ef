//! What can be wrong with an alignment.

use formkin_geometry::SourceError;
use formkin_stats::StatsError;
use thiserror::Error;

use crate::fault::WeightsFault;

/// What can be wrong with an alignment. `shape` is always the position of the shape in its source, from 0.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum AlignError {
    /// There is nothing to align.
    #[error("there are no shapes to align")]
    NoShapes,
    /// Two inputs differ in their number of vertices.
    #[error("{what} has {found} vertices where {expected} are needed")]
    VertexCount {
        /// Which input.
        what: &'static str,
        /// How many there must be.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// A setting is out of its range.
    #[error("the alignment setting `{name}` is {value}; it must be {range}")]
    Setting {
        /// The setting.
        name: &'static str,
        /// The value given.
        value: f64,
        /// The range, in words.
        range: &'static str,
    },
    /// A weighting that leaves nothing to weigh.
    #[error("the vertex weights cannot be used: {0}")]
    Weights(#[from] WeightsFault),
    /// A position is NaN or infinite.
    #[error("{}: the position of vertex {vertex} is not finite; mend or leave out this shape", name_of(*.shape))]
    NotFinite {
        /// The shape, or none for the reference.
        shape: Option<usize>,
        /// The vertex.
        vertex: usize,
    },
    /// A shape that has no pose: its weighted vertices are in one point, or on one line.
    #[error("{}: its vertices {reason}, so that it has no pose; leave it out", name_of(*.shape))]
    Degenerate {
        /// The shape, or none for the reference.
        shape: Option<usize>,
        /// How it is degenerate.
        reason: &'static str,
    },
    /// Several rotations fit a shape equally well.
    #[error("{}: several rotations lay it on the mean equally well (a mirrored or unrelated shape?); look at it, or leave it out", name_of(*.shape))]
    Ambiguous {
        /// The shape, or none for the reference.
        shape: Option<usize>,
    },
    /// The stop rule was not met.
    #[error(
        "not converged after {rounds} rounds: the sum of squares last changed by {relative_change:e} of itself, the mean moved {mean_moved_mm:e} mm; \
         raise `max_rounds`, or look for shapes of another kind"
    )]
    NotConverged {
        /// Rounds made.
        rounds: usize,
        /// The last relative change of the sum of squares.
        relative_change: f64,
        /// The last move of the mean, RMS, in mm.
        mean_moved_mm: f64,
    },
    /// A shape index that is not there.
    #[error("shape {shape} was asked for, and there are only {shapes}")]
    NoSuchShape {
        /// The index asked for.
        shape: usize,
        /// How many there are.
        shapes: usize,
    },
    /// A shape could not be read.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// The numbers below could not be worked out.
    #[error(transparent)]
    Stats(#[from] StatsError),
}

fn name_of(shape: Option<usize>) -> String {
    shape.map_or_else(|| "the reference".to_owned(), |s| format!("shape {s}"))
}
