//! What can be wrong with definitions, tables and measuring.

use formkin_geometry::SourceError;
use formkin_stats::StatsError;
use formkin_table::TableError;
use thiserror::Error;

/// What can be wrong with definitions, tables and measuring.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum MeasureError {
    /// The file of definitions is no TOML, or something outside its dimensions is wrong.
    #[error("the definitions cannot be read: {reason}")]
    Definitions {
        /// What is wrong and what to do.
        reason: String,
    },
    /// One definition is wrong.
    #[error("dimension `{dimension}`: {reason}")]
    Definition {
        /// Its name, or its place in the file where it has none.
        dimension: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A definition names something that the template does not have.
    #[error("dimension `{dimension}`: the template has no {part} `{name}`; {advice}")]
    UnknownName {
        /// The dimension.
        dimension: String,
        /// "landmark", "region", "path" or "joint".
        part: &'static str,
        /// The name it gives.
        name: String,
        /// Names near it.
        advice: String,
    },
    /// Shapes and template differ in their number of vertices.
    #[error("shapes of {shapes} vertices cannot be measured on a template of {template}")]
    VertexCount {
        /// Vertices of the shapes.
        shapes: usize,
        /// Vertices of the template.
        template: usize,
    },
    /// A shape cannot be read.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// A table is wrong, or has no such column.
    #[error(transparent)]
    Table(#[from] TableError),
    /// Counts that must agree do not.
    #[error("{what}: {found} given where {expected} are needed")]
    Count {
        /// What was counted.
        what: &'static str,
        /// How many there must be.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// A statistic cannot be computed.
    #[error(transparent)]
    Stats(#[from] StatsError),
}
