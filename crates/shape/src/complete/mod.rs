//! The body that goes with a part of a surface: vertices missing, a region, landmarks alone.
//!
//! A seen vertex v of a shape in the frame of the space is T x_v = mean_v + sum_k b_k mode_kv + e_v, b_k ~ N(0, variance_k), e ~ N(0, s2) a coordinate, T a pose of
//! which nothing is known. Pose and coefficients are found together by Gauss-Newton steps on the posterior (Albrecht and others 2013 with the pose
//! among the unknowns): the inverse of the matrix of the last step is their joint covariance, so that the uncertainty of the pose is in the intervals.
//!
//! What the modes leave of a mesh is smooth, not white: neighbours do not count as so many observations. With f independent directions beyond the
//! modes the surface is split into f / 3 patches, and the seen vertices of a patch together count as one. Error of measuring, where it is given, is of each vertex alone: with n seen
//! vertices in a patch one of them weighs 1 / (n s2 + error^2).
//!
//! Modes are cheap here, since a mode that people held out do not have adds its small variance alone: as many are taken as describe people held out best, not as few as are good enough.
//!
//! | module | what it holds |
//! |---|---|
//! | [`solve`] | the posterior, made ready for a pattern of seen vertices |
//! | [`mod@calibrate`] | intervals held against people left out, and brought to their nominal coverage |

pub mod calibrate;
mod pose;
pub mod solve;

use formkin_align::Transform;
use formkin_geometry::Point;
use serde::{Deserialize, Serialize};

use crate::{ShapeError, Space};
pub use calibrate::{Calibration, CalibrationParams, calibrate};
pub use solve::{Completer, Filled};

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

/// Completes a shape of which the vertices `seen` are known, each once, in mm in any pose.
///
/// # Errors
/// [`ShapeError::Seen`] for vertices that are not there, given twice, not finite or fewer than three; [`ShapeError::Align`] where they lie on a line;
/// [`ShapeError::Setting`]; [`ShapeError::NoConvergence`].
pub fn complete(
    space: &Space,
    seen: &[(u32, Point)],
    params: &CompleteParams,
) -> Result<Completed, ShapeError> {
    let (vertices, points): (Vec<u32>, Vec<Point>) = seen.iter().copied().unzip();
    Completer::new(space, &vertices, params)?.complete(&points)
}
