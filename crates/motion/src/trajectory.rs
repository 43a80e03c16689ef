//! Where landmarks go: in the laboratory frame and relative to the body.

use std::collections::BTreeMap;

use formkin_align::Alignment;
use formkin_geometry::vector::{norm, sub};
use formkin_geometry::{Point, ShapeSource};
use serde::{Deserialize, Serialize};

use crate::{MotionError, Timing};

/// The path of one landmark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Trajectory {
    /// Name of the landmark.
    pub landmark: String,
    /// Its vertex.
    pub vertex: u32,
    /// The time stamps, in s.
    pub times_s: Vec<f64>,
    /// Positions as captured, one a frame, in mm.
    pub lab: Vec<Point>,
    /// Extent of `lab`.
    pub lab_extent: Extent,
    /// Positions in the body frame (each frame's rigid part taken out), in mm; `None` where no alignment was given.
    pub body: Option<Vec<Point>>,
    /// Extent of `body`.
    pub body_extent: Option<Extent>,
}

/// How far a point goes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Extent {
    /// max - min on each axis over all frames, in mm.
    pub range_mm: Point,
    /// Length of `range_mm`, in mm.
    pub resultant_mm: f64,
    /// Length of the path from frame to frame, in mm. Noise makes it longer.
    pub path_mm: f64,
}

impl Extent {
    /// The extent of a row of positions; zeros for none.
    #[must_use]
    pub fn of(positions: &[Point]) -> Self {
        let range_mm = match formkin_geometry::mesh::bounds(positions) {
            Some((low, high)) => sub(high, low),
            None => [0.0; 3],
        };
        let path_mm = positions.windows(2).map(|w| norm(sub(w[1], w[0]))).sum();
        Self { range_mm, resultant_mm: norm(range_mm), path_mm }
    }
}

/// The paths of landmarks (name -> vertex) through all frames, in one pass. With an alignment of the same frames also relative to
/// the body: fix it to a region to have paths relative to that part.
///
/// # Errors
/// Those of [`Timing::of`]; [`MotionError::RegionVertex`] for a vertex that does not exist; [`MotionError::TooFewFrames`]
/// where the alignment holds another number of frames; [`MotionError::Source`].
pub fn trajectories(
    landmarks: &BTreeMap<String, u32>,
    source: &dyn ShapeSource,
    times_s: &[f64],
    alignment: Option<&Alignment>,
) -> Result<Vec<Trajectory>, MotionError> {
    let (n, v) = (source.shapes(), source.vertices());
    Timing::of(times_s, n)?;
    if let Some(&vertex) = landmarks.values().find(|&&i| i as usize >= v) {
        return Err(MotionError::RegionVertex { vertex, last: v.saturating_sub(1) });
    }
    if let Some(a) = alignment
        && a.transforms.len() != n
    {
        return Err(MotionError::TooFewFrames { frames: a.transforms.len(), needed: n });
    }
    let vertices: Vec<usize> = landmarks.values().map(|&i| i as usize).collect();
    let mut lab = vec![Vec::with_capacity(n); vertices.len()];
    let mut shape = vec![[0.0; 3]; v];
    for frame in 0..n {
        source.read_block(frame, &mut shape)?;
        for (path, &i) in lab.iter_mut().zip(&vertices) {
            path.push(shape[i]);
        }
    }
    Ok(landmarks
        .iter()
        .zip(lab)
        .map(|((name, &vertex), lab): (_, Vec<Point>)| {
            let body: Option<Vec<Point>> =
                alignment.map(|a| lab.iter().zip(&a.transforms).map(|(&x, t)| t.apply(x)).collect());
            Trajectory {
                landmark: name.clone(),
                vertex,
                times_s: times_s.to_vec(),
                lab_extent: Extent::of(&lab),
                body_extent: body.as_deref().map(Extent::of),
                lab,
                body,
            }
        })
        .collect())
}
