//! What keeps vertices from being weighed.

use thiserror::Error;

/// Why vertex weights cannot be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum WeightsFault {
    /// A region names a vertex that is not there.
    #[error("the region names vertex {vertex}, and there are only {vertices}")]
    NoVertex {
        /// The vertex.
        vertex: u32,
        /// How many there are.
        vertices: usize,
    },
    /// A region has no area.
    #[error("the region has no area; name vertices on triangles")]
    RegionWithoutArea,
    /// The whole surface has no area.
    #[error("the mean surface has no area; use plain weights")]
    MeanWithoutArea,
}
