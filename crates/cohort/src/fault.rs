//! What keeps a scene from being written as glTF.

use thiserror::Error;

/// Why a scene cannot be written as glTF.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SceneFault {
    /// A shape with another number of points.
    #[error("{name} has {points} points for {vertices} vertices")]
    Points {
        /// The base or a target.
        name: String,
        /// How many points it has.
        points: usize,
        /// How many there must be.
        vertices: usize,
    },
    /// A position that is NaN or infinite.
    #[error("{name} is not finite at vertex {vertex}")]
    NotFinite {
        /// The base or a target.
        name: String,
        /// The vertex.
        vertex: usize,
    },
    /// Another number of colours.
    #[error("{colours} colours for {vertices} vertices")]
    Colours {
        /// How many colours there are.
        colours: usize,
        /// How many there must be.
        vertices: usize,
    },
    /// An animation whose parts do not agree.
    #[error("an animation of {targets} targets with {times} times and {rows} rows of weights")]
    Animation {
        /// Morph targets.
        targets: usize,
        /// Times.
        times: usize,
        /// Rows of weights.
        rows: usize,
    },
    /// A row of weights that does not suit the targets.
    #[error("row {row} of the weights must be {targets} finite numbers")]
    Weights {
        /// The row.
        row: usize,
        /// How many numbers it must hold.
        targets: usize,
    },
    /// Times that do not increase.
    #[error("times must be finite, not negative and increasing")]
    Times,
    /// More bytes than the format holds.
    #[error("{bytes} bytes exceed 4 GiB")]
    Length {
        /// How many there are.
        bytes: usize,
    },
    /// The description cannot be written.
    #[error("{message}")]
    Json {
        /// What the writer says.
        message: String,
    },
}
