//! What can be wrong with one surface.

use thiserror::Error;

/// What can be wrong with one surface.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum GeometryError {
    /// A triangle names a vertex that does not exist.
    #[error("triangle {triangle} names vertex {vertex}, but there are only {vertices} vertices")]
    VertexOutOfRange {
        /// Position of the triangle, from 0.
        triangle: usize,
        /// The vertex it names, from 0.
        vertex: u32,
        /// How many vertices there are.
        vertices: usize,
    },
    /// A surface without vertices or without triangles.
    #[error("the surface has {vertices} vertices and {triangles} triangles; both must be more than none")]
    Empty {
        /// Number of vertices.
        vertices: usize,
        /// Number of triangles.
        triangles: usize,
    },
    /// More vertices than a 32-bit index can name.
    #[error("{vertices} vertices are more than a 32-bit index can name")]
    TooManyVertices {
        /// Number of vertices.
        vertices: usize,
    },
    /// Positions and topology differ in their number of vertices.
    #[error("{positions} positions on a topology of {vertices} vertices")]
    PositionCount {
        /// Number of positions given.
        positions: usize,
        /// Number of vertices of the topology.
        vertices: usize,
    },
    /// A position is NaN or infinite.
    #[error("the position of vertex {vertex} is not finite: {position:?}")]
    NotFinite {
        /// The vertex, from 0.
        vertex: usize,
        /// Its position.
        position: [f64; 3],
    },
    /// A named part of a template names something that is not there.
    #[error("{part} `{name}` of the template: {reason}")]
    Template {
        /// "landmark", "region", "path", "joint", "mirror" or "skin".
        part: &'static str,
        /// Its name.
        name: String,
        /// What is wrong and what to do.
        reason: String,
    },
    /// A direction without length.
    #[error("the direction {direction:?} has no length")]
    NoDirection {
        /// The direction given.
        direction: [f64; 3],
    },
}
