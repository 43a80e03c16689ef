//! What a record's clock allows of the settings, told before the work.

use formkin_motion::Timing;
use formkin_motion::signal::filter::{cutoff_or, largest_cutoff};

use crate::TaskError;
use crate::job::signals::Cutoff;

/// Checks the cutoffs that are given against the frame rate; what is allowed and yet does little is a remark.
///
/// # Errors
/// [`formkin_motion::MotionError::Cutoff`] where one is half the rate or more.
pub fn cutoffs_fit(
    timing: &Timing,
    curves: Option<Cutoff>,
    tissue_hz: Option<f64>,
) -> Result<Vec<String>, TaskError> {
    let Some(fps) = timing.fps.or(timing.step_s.map(|s| 1.0 / s)) else { return Ok(Vec::new()) };
    let curves_hz = match curves {
        Some(Cutoff::Hz(hz)) => Some(hz),
        Some(Cutoff::Residual) | None => None,
    };
    let mut remarks = Vec::new();
    for hz in [curves_hz, tissue_hz].into_iter().flatten() {
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
