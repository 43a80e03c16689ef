//! What is asked of a completion, and what comes back.

use formkin_align::Transform;
use formkin_geometry::Point;
use serde::{Deserialize, Serialize};

/// Settings of a completion.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct CompleteParams {
    /// How many modes; none: as many as describe people held out best, or all kept where nobody was held out.
    pub modes: Option<usize>,
    /// SD of a coordinate of a seen vertex beyond the modes, in mm; none: from people held out.
    pub noise_mm: Option<f64>,
    /// SD of the error with which a coordinate of a seen vertex was measured, in mm, as of landmarks that were felt or clicked: independent from vertex to vertex, and no part of
    /// the person. None: they are as they are.
    pub error_mm: Option<f64>,
    /// Whether this noise is white: every seen vertex counts. Otherwise it is smooth, as it is on meshes.
    pub white: bool,
}

/// A completed shape.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Completed {
    /// V positions in mm in the frame of the seen vertices: the posterior mean, for seen vertices too.
    pub positions: Vec<Point>,
    /// V SDs of the coordinates of a person's vertex about `positions`, in mm, along the axes of the seen vertices: coefficients, pose and what is beyond the modes.
    pub sd_mm: Vec<Point>,
    /// Factor of the SD for intervals of 95 %.
    pub z_95: f64,
    /// Coefficients in mm.
    pub coefficients_mm: Vec<f64>,
    /// Their posterior covariance, in mm2.
    pub covariance_mm2: Vec<Vec<f64>>,
    /// From the frame of the seen vertices to that of the space.
    pub transform: Transform,
    /// Number of seen vertices.
    pub seen: usize,
    /// How many independent observations they count as.
    pub independent: f64,
    /// RMS distance of the seen vertices from the completed shape, in mm.
    pub residual_rms_mm: f64,
    /// SD of a coordinate beyond the modes, in mm.
    pub noise_mm: f64,
    /// SD of the error of measuring of a seen coordinate, in mm; 0 where none was given.
    pub error_mm: f64,
    /// Rounds made.
    pub rounds: usize,
    /// Mahalanobis distance of the coefficients from the mean.
    pub mahalanobis: f64,
    /// The distance within which 99 % of people lie.
    pub limit: f64,
    /// Whether the shape is further out: no such body was in the space.
    pub outside: bool,
}
