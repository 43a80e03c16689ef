//! A fitted movement.

use formkin_align::Alignment;
use formkin_geometry::Point;
use formkin_geometry::vector::{add, scale};
use serde::{Deserialize, Serialize};

use crate::{Finding, ModeFrequency, MotionError, MotionParams, NoFrequency, Timing};

/// What a movement does to a body: a mean, modes over the frames and their course in time. One person's frames; frames are
/// never counted as people.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Motion {
    /// The settings used.
    pub params: MotionParams,
    /// Number of people: one. What follows is about this person.
    pub people: usize,
    /// Number of frames.
    pub frames: usize,
    /// The time stamps, in s.
    pub times_s: Vec<f64>,
    /// Whether the time stamps follow one constant step without a gap.
    pub uniform: bool,
    /// Everything about the time stamps.
    pub timing: Timing,
    /// Frames that repeat the one before them.
    pub frozen_frames: usize,
    /// The mean of the aligned frames, in mm: turned as the reference frame, about the weighted centre of the body or region.
    pub mean: Vec<Point>,
    /// Modes, largest variance first: sum over vertices of w |p|^2 is 1, so frame = mean + sum of coefficient x mode in mm.
    /// The largest entry of each is positive.
    pub modes: Vec<Vec<Point>>,
    /// Variances over the frames, largest first, in mm2, divisor frames - 1. All that are not zero, unless `route` says that
    /// only the leading ones are known.
    pub variances_mm2: Vec<f64>,
    /// The sum of all variances, in mm2, those of modes not kept or not known included.
    pub total_variance_mm2: f64,
    /// Vertex weights of the modes; they sum to 1.
    pub weights: Vec<f64>,
    /// The course of each mode, in mm: one row a frame, one column a mode.
    pub coefficients: Vec<Vec<f64>>,
    /// The dominant frequency of each mode's coefficients.
    pub frequencies: Vec<Option<ModeFrequency>>,
    /// Why a mode has no dominant frequency; `None` where it has.
    pub no_frequency: Vec<Option<NoFrequency>>,
    /// Reconstruction error over the number of modes, from 0 to those kept.
    pub errors: Vec<ModeError>,
    /// How the held-out errors were found.
    pub segments: Option<Segments>,
    /// Why there are no held-out errors; `None` where there are.
    pub no_segments: Option<String>,
    /// What was taken out of each frame: lab frame to body frame.
    pub alignment: Alignment,
    /// How the modes were computed.
    pub route: Route,
    /// What was noticed.
    pub findings: Vec<Finding>,
}

/// Reconstruction error with so many modes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ModeError {
    /// Number of modes.
    pub modes: usize,
    /// In sample, over frames: the root of the mean over all frames of the weighted mean squared distance of a vertex from its
    /// reconstruction, in mm. The same frames made the modes, so it is too small for frames not seen.
    pub rms_mm: f64,
    /// The same for frames of a segment that had no part in alignment, mean and modes, in mm; the same person nevertheless.
    pub held_out_rms_mm: Option<f64>,
}

/// How the held-out errors were found: each contiguous segment by modes of the others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Segments {
    /// First frame and number of frames of each segment.
    pub held_out: Vec<(usize, usize)>,
    /// What it is and is not.
    pub note: String,
}

/// How the modes were computed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Route {
    /// From the matrix of scalar products of all frames: exact, all variances known.
    Gram,
    /// Leading modes by subspace iteration over passes through the frames; the total variance is exact.
    Subspace {
        /// Passes over the frames.
        passes: usize,
        /// The last relative change of a kept variance.
        relative_change: f64,
    },
}

impl Motion {
    /// The cumulative share of the total variance in the first 1, 2, .. modes kept, in sample over frames. Empty where
    /// nothing varies.
    #[must_use]
    pub fn explained(&self) -> Vec<f64> {
        let mut sum = 0.0;
        self.variances_mm2
            .iter()
            .take(self.modes.len())
            .map(|v| {
                sum += v;
                (sum / self.total_variance_mm2).min(1.0)
            })
            .collect()
    }

    /// Mean plus the first `modes` modes of frame `frame`, in the body frame, in mm.
    ///
    /// # Errors
    /// [`MotionError::NoSuchFrame`], [`MotionError::NoSuchMode`].
    pub fn reconstruct(&self, frame: usize, modes: usize) -> Result<Vec<Point>, MotionError> {
        let row = self
            .coefficients
            .get(frame)
            .ok_or(MotionError::NoSuchFrame { frame, last: self.frames.saturating_sub(1) })?;
        if modes > self.modes.len() {
            return Err(MotionError::NoSuchMode { mode: modes - 1, kept: self.modes.len() });
        }
        let mut shape = self.mean.clone();
        for (mode, c) in self.modes.iter().zip(row).take(modes) {
            for (x, p) in shape.iter_mut().zip(mode) {
                *x = add(*x, scale(*p, *c));
            }
        }
        Ok(shape)
    }

    /// As [`Motion::reconstruct`], brought back to where the frame was captured.
    ///
    /// # Errors
    /// [`MotionError::NoSuchFrame`], [`MotionError::NoSuchMode`].
    pub fn reconstruct_in_lab(&self, frame: usize, modes: usize) -> Result<Vec<Point>, MotionError> {
        let shape = self.reconstruct(frame, modes)?;
        let back = match self.alignment.transforms.get(frame) {
            Some(t) => t.inverse(),
            None => return Err(MotionError::NoSuchFrame { frame, last: self.frames.saturating_sub(1) }),
        };
        Ok(shape.into_iter().map(|x| back.apply(x)).collect())
    }
}
