//! Curves filtered and laid over the cycles, and what a record's clock allows.

use std::path::Path;

use formkin_motion::changes::DimensionCourse;
use formkin_motion::cycles::given::{GivenEvent, given_events};
use formkin_motion::signal::filter::{cutoff_or, largest_cutoff};
use formkin_motion::signal::gaps::{LONGEST_GAP_S, Pieces};
use formkin_motion::signal::residual::residual_cutoff;
use formkin_motion::soft::tissue::Tissue;
use formkin_motion::{BodyFrame, Curve, Cycles, MotionError, Timing};
use serde::{Deserialize, Serialize};

use super::settings::Cutoff;
use crate::TaskError;

/// What is found in the signals of a record, of meshes or of points.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Signals {
    /// Cycles; `None` where none were asked for or found.
    pub cycles: Option<Cycles>,
    /// Dimensions or signals smoothed and over the cycles.
    pub courses: Vec<DimensionCourse>,
    /// The cutoffs that residual analyses found.
    pub residuals: Vec<ResidualCutoff>,
    /// The body frame that soft tissue is seen from.
    pub frame: Option<FrameSummary>,
    /// Soft tissue, one a region or point.
    pub tissue: Vec<Tissue>,
    /// What could not be done, and why.
    pub remarks: Vec<String>,
}

/// A body frame in figures.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FrameSummary {
    /// The region, or the points, that it is fixed to.
    pub region: String,
    /// Its vertices or points.
    pub vertices: usize,
    /// Mean of the fit's root mean square over the frames, in mm.
    pub fit_rms_mm: f64,
    /// Largest of it.
    pub largest_fit_rms_mm: f64,
    /// Share of the region weighted down.
    pub weighted_down: f64,
    /// Where the axes come from.
    pub axes: String,
}

impl FrameSummary {
    /// A body frame that is fixed to `region`.
    #[must_use]
    pub fn of(region: String, frame: &BodyFrame) -> Self {
        let n = frame.fit_rms_mm.len().max(1) as f64;
        Self {
            region,
            vertices: frame.region.len(),
            fit_rms_mm: frame.fit_rms_mm.iter().sum::<f64>() / n,
            largest_fit_rms_mm: frame.fit_rms_mm.iter().copied().fold(0.0, f64::max),
            weighted_down: frame.weighted_down,
            axes: frame.axes.clone(),
        }
    }
}

/// The cutoff that a residual analysis found for a signal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResidualCutoff {
    /// The signal.
    pub signal: String,
    /// The cutoff, in Hz.
    pub cutoff_hz: f64,
    /// The size of the noise (root mean square), in the signal's unit.
    pub noise: f64,
    /// How straight the line through the residuals is.
    pub r2: f64,
}

/// Curves, filtered and over the cycles, with what could not be done.
#[derive(Debug, Clone, Default)]
pub struct Courses {
    /// The curves that are long enough.
    pub courses: Vec<DimensionCourse>,
    /// The cutoffs that residual analyses found.
    pub residuals: Vec<ResidualCutoff>,
    /// What could not be done, and why.
    pub remarks: Vec<String>,
}

/// Filters curves and lays them over the cycles. A curve that is too short is a remark.
///
/// # Errors
/// Cutoffs out of range.
pub fn courses(
    curves: &[Curve],
    cycles: Option<&Cycles>,
    cutoff: Option<Cutoff>,
) -> Result<Courses, TaskError> {
    let mut made = Courses::default();
    for curve in curves {
        let hz = match cutoff {
            None => None,
            Some(Cutoff::Hz(hz)) => Some(hz),
            Some(Cutoff::Residual) => residual(curve, &mut made)?,
        };
        match DimensionCourse::of(curve, cycles, hz) {
            Ok(course) => made.courses.push(course),
            Err(why @ MotionError::SignalTooShort { .. }) => {
                made.remarks.push(format!("{}: {why}", curve.dimension));
            }
            Err(other) => return Err(other.into()),
        }
    }
    Ok(made)
}

/// The cutoff of a curve by residual analysis of its longest piece without a gap; the usual one, with a remark, where that is too short.
fn residual(curve: &Curve, made: &mut Courses) -> Result<Option<f64>, TaskError> {
    let pieces = match Pieces::of(&curve.times_s, &curve.values, LONGEST_GAP_S) {
        Ok(pieces) => pieces,
        // the curve itself says so
        Err(MotionError::SignalTooShort { .. }) => return Ok(None),
        Err(other) => return Err(other.into()),
    };
    let Some(longest) = pieces.longest() else { return Ok(None) };
    match residual_cutoff(&longest.values, 1.0 / pieces.step_s) {
        Ok(found) => {
            made.residuals.push(ResidualCutoff {
                signal: curve.dimension.clone(),
                cutoff_hz: found.cutoff_hz,
                noise: found.noise,
                r2: found.r2,
            });
            Ok(Some(found.cutoff_hz))
        }
        Err(why @ MotionError::SignalTooShort { .. }) => {
            made.remarks.push(format!("{}: no residual analysis, {why}", curve.dimension));
            Ok(None)
        }
        Err(other) => Err(other.into()),
    }
}

/// Checks the cutoffs that are given against the frame rate; what is allowed and yet does little is a remark.
///
/// # Errors
/// [`MotionError::Cutoff`] where one is half the rate or more.
pub fn cutoffs_fit(
    timing: &Timing,
    curves: Option<Cutoff>,
    tissue_hz: Option<f64>,
) -> Result<Vec<String>, TaskError> {
    let Some(fps) = timing.fps.or(timing.step_s.map(|s| 1.0 / s)) else { return Ok(Vec::new()) };
    let mut remarks = Vec::new();
    for hz in [curves.and_then(Cutoff::hz), tissue_hz].into_iter().flatten() {
        cutoff_or(Some(hz), hz, fps)?;
        if hz > largest_cutoff(fps) {
            remarks.push(format!(
                "the cutoff of {hz} Hz is near half of {fps:.2} frames a second: little is filtered; {:.2} Hz is the largest sensible cutoff",
                largest_cutoff(fps)
            ));
        }
    }
    Ok(remarks)
}

/// Reads a table of events.
///
/// # Errors
/// [`TaskError::Read`], or what is wrong with the table, with the file.
pub fn read_events(path: &Path) -> Result<Vec<GivenEvent>, TaskError> {
    let bytes = std::fs::read(path).map_err(|source| TaskError::Read { path: path.to_owned(), source })?;
    given_events(&String::from_utf8_lossy(&bytes))
        .map_err(|e| TaskError::In { path: path.to_owned(), source: Box::new(e.into()) })
}
