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
mod params;
mod pose;
pub mod solve;

use formkin_geometry::Point;

use crate::{ShapeError, Space};
pub use calibrate::{Calibration, CalibrationParams, calibrate};
pub use params::{CompleteParams, Completed};
pub use solve::{Completer, Filled};

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
