//! What keeps people from being laid on a map, and a shape from being completed.

use thiserror::Error;

/// Why there is no map of some people.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum MapFault {
    /// Too few people.
    #[error("there are {people}, and a map needs {least} at least")]
    Few {
        /// How many there are.
        people: usize,
        /// How many a map needs.
        least: usize,
    },
    /// People without differences.
    #[error("all {people} have the same shape, so that a map of them is one point")]
    OnePoint {
        /// How many there are.
        people: usize,
    },
    /// Shapes that vary along fewer than two modes.
    #[error("their shapes vary along {modes} mode, and a map needs 2")]
    OneMode {
        /// How many modes there are.
        modes: usize,
    },
}

/// Why a shape cannot be completed from the vertices that are seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum SeenFault {
    /// Fewer than three vertices.
    #[error("{given} are given, and a pose needs three or more")]
    Few {
        /// How many are given.
        given: usize,
    },
    /// A vertex that is not there.
    #[error("there is no vertex {vertex}: they run from 0 to {last}")]
    NoVertex {
        /// The vertex.
        vertex: u32,
        /// The last that is there.
        last: usize,
    },
    /// A vertex that is given twice.
    #[error("vertex {vertex} is given twice")]
    Twice {
        /// The vertex.
        vertex: u32,
    },
    /// A coordinate that is NaN or infinite.
    #[error("vertex {vertex} has a coordinate that is not finite")]
    NotFinite {
        /// The vertex.
        vertex: u32,
    },
    /// Vertices above each other, where only turns about the vertical are free.
    #[error("they are on one vertical line and hold no heading")]
    NoHeading,
    /// Vertices too near each other.
    #[error("they do not hold a pose: give vertices that are further apart")]
    NoPose,
    /// A calibration without hidden vertices.
    #[error("no vertex is hidden, so that there is nothing to calibrate")]
    NothingHidden,
}
