//! Time stamps: order, sampling step, dropped frames.
//!
//! The sampling step dt is the median step. A step longer than 1.5 dt is a gap of round(step / dt) - 1 dropped frames
//! (common practice, no source). The stamps are uniform where there is no gap and none of them is further than a tenth of a step
//! from t_first + i (t_last - t_first) / (n - 1): stamps rounded to whole milliseconds pass, a clock that wanders does not.

use formkin_stats::quantile::median_of;
use serde::{Deserialize, Serialize};

use crate::{Finding, FindingKind, MotionError};

/// A step longer than so many sampling steps is a gap.
const GAP_STEPS: f64 = 1.5;
/// How far from its place, in sampling steps, a stamp of a uniform record may be.
const UNIFORM_STEPS: f64 = 0.1;

/// What the time stamps of a sequence are like.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Timing {
    /// Number of frames.
    pub frames: usize,
    /// From the first to the last stamp, in s.
    pub duration_s: f64,
    /// The median step between stamps, in s; `None` for a single frame.
    pub step_s: Option<f64>,
    /// Whether the stamps follow one constant step without a gap.
    pub uniform: bool,
    /// (n - 1) / duration of a uniform record, in frames per second.
    pub fps: Option<f64>,
    /// Where frames are missing.
    pub gaps: Vec<Gap>,
    /// Frames missing in all gaps together.
    pub dropped_frames: usize,
    /// dropped / (dropped + present).
    pub dropped_share: f64,
}

/// A place where frames are missing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Gap {
    /// The last frame before the gap, from 0.
    pub after_frame: usize,
    /// The step across the gap, in s.
    pub step_s: f64,
    /// Frames missing: round(step / median step) - 1, at least 1.
    pub missing: usize,
}

impl Timing {
    /// Examines the time stamps of `frames` frames, in s.
    ///
    /// # Errors
    /// [`MotionError::TimeCount`], [`MotionError::TimeNotFinite`], [`MotionError::TimeRepeated`],
    /// [`MotionError::TimeOrder`]: such stamps say nothing that a repair could be built on.
    pub fn of(times_s: &[f64], frames: usize) -> Result<Self, MotionError> {
        if times_s.len() != frames {
            return Err(MotionError::TimeCount { times: times_s.len(), frames });
        }
        if let Some(frame) = times_s.iter().position(|t| !t.is_finite()) {
            return Err(MotionError::TimeNotFinite { frame, time_s: times_s[frame] });
        }
        let steps: Vec<f64> = times_s.windows(2).map(|w| w[1] - w[0]).collect();
        if let Some(i) = steps.iter().position(|&s| s <= 0.0) {
            let (frame, time_s) = (i + 1, times_s[i + 1]);
            return Err(if steps[i] == 0.0 {
                MotionError::TimeRepeated { frame, time_s }
            } else {
                MotionError::TimeOrder { frame, time_s, previous_s: times_s[i] }
            });
        }
        let step_s = median_of(&mut steps.clone());
        let duration_s = times_s.last().zip(times_s.first()).map_or(0.0, |(l, f)| l - f);
        let mut gaps = Vec::new();
        if let Some(step) = step_s {
            for (after_frame, &s) in steps.iter().enumerate().filter(|&(_, &s)| s > GAP_STEPS * step) {
                gaps.push(Gap { after_frame, step_s: s, missing: ((s / step).round() as usize).max(2) - 1 });
            }
        }
        let dropped_frames = gaps.iter().map(|g| g.missing).sum::<usize>();
        let regular = duration_s / steps.len().max(1) as f64;
        let uniform = gaps.is_empty()
            && !steps.is_empty()
            && times_s
                .iter()
                .enumerate()
                .all(|(i, t)| (t - times_s[0] - i as f64 * regular).abs() <= UNIFORM_STEPS * regular);
        Ok(Self {
            frames,
            duration_s,
            step_s,
            uniform,
            fps: uniform.then(|| 1.0 / regular),
            dropped_share: dropped_frames as f64 / (dropped_frames + frames).max(1) as f64,
            dropped_frames,
            gaps,
        })
    }

    /// The gaps and the unevenness as findings.
    #[must_use]
    pub fn findings(&self) -> Vec<Finding> {
        let mut findings: Vec<Finding> = self
            .gaps
            .iter()
            .map(|g| Finding {
                kind: FindingKind::DroppedFrames,
                frame: Some(g.after_frame),
                frames: g.missing,
                message: format!(
                    "{} missing between frames {} and {}: {:.4} s apart, {:.4} s is usual",
                    if g.missing == 1 {
                        "1 frame is".to_owned()
                    } else {
                        format!("{} frames are", g.missing)
                    },
                    g.after_frame,
                    g.after_frame + 1,
                    g.step_s,
                    self.step_s.unwrap_or(0.0)
                ),
                amount: Some(g.step_s),
                unit: Some("s".to_owned()),
                advice:
                    "frequencies are not given; split the sequence here, or fill gaps of up to 0.1 s before"
                        .to_owned(),
            })
            .collect();
        if !self.uniform && self.gaps.is_empty() && self.frames > 1 {
            findings.push(Finding {
                kind: FindingKind::UnevenTimes,
                frame: None,
                frames: self.frames,
                message: "the time stamps follow no constant step".to_owned(),
                amount: self.step_s,
                unit: Some("s".to_owned()),
                advice: "frequencies are not given; resample to a constant step to have them".to_owned(),
            });
        }
        findings
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_step_is_uniform_even_when_rounded_to_milliseconds() {
        let exact: Vec<f64> = (0..500).map(|i| 3.0 + f64::from(i) / 90.0).collect();
        let rounded: Vec<f64> = exact.iter().map(|t| (t * 1000.0).round() / 1000.0).collect();
        for times in [exact, rounded] {
            let t = Timing::of(&times, 500).unwrap();
            assert!(t.uniform && t.gaps.is_empty() && t.findings().is_empty());
            assert!((t.fps.unwrap() - 90.0).abs() < 0.02);
        }
    }

    #[test]
    fn dropped_frames_are_found_and_counted() {
        let times: Vec<f64> =
            (0..50u32).filter(|i| ![10, 11, 12, 30].contains(i)).map(|i| f64::from(i) * 0.02).collect();
        let t = Timing::of(&times, 46).unwrap();
        assert!(!t.uniform && t.fps.is_none());
        assert_eq!(t.gaps.iter().map(|g| (g.after_frame, g.missing)).collect::<Vec<_>>(), [(9, 3), (26, 1)]);
        assert_eq!(t.dropped_frames, 4);
        assert!((t.dropped_share - 4.0 / 50.0).abs() < 1e-12);
        assert!(t.findings().iter().all(|f| f.kind == FindingKind::DroppedFrames));
    }

    #[test]
    fn an_uneven_clock_is_a_finding() {
        let times: Vec<f64> = (0..40).map(|i| f64::from(i) * 0.02 + 1e-5 * f64::from(i * i)).collect();
        let t = Timing::of(&times, 40).unwrap();
        assert!(!t.uniform);
        assert_eq!(t.findings()[0].kind, FindingKind::UnevenTimes);
    }

    #[test]
    fn stamps_that_are_wrong_are_errors_with_the_frame() {
        assert!(matches!(Timing::of(&[0.0, 1.0], 3), Err(MotionError::TimeCount { times: 2, frames: 3 })));
        assert!(matches!(Timing::of(&[0.0, 1.0, 1.0], 3), Err(MotionError::TimeRepeated { frame: 2, .. })));
        assert!(matches!(Timing::of(&[0.0, 2.0, 1.0], 3), Err(MotionError::TimeOrder { frame: 2, .. })));
        assert!(matches!(Timing::of(&[0.0, f64::NAN], 2), Err(MotionError::TimeNotFinite { frame: 1, .. })));
        let one = Timing::of(&[5.0], 1).unwrap();
        assert!(!one.uniform && one.step_s.is_none() && one.duration_s == 0.0);
    }
}
