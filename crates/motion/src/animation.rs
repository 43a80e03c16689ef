//! Plain data for animations: a base shape, named differences from it, and their weights over time.

use std::f64::consts::TAU;

use formkin_geometry::Point;
use formkin_geometry::vector::scale;
use serde::{Deserialize, Serialize};

use crate::{Motion, MotionError};

/// An animation by differences: shape(t) = base + sum over k of weight_k(t) x delta_k. A writer of morph targets takes it as it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Animation {
    /// What is shown.
    pub name: String,
    /// The shape at weight 0, in mm, in the body frame.
    pub base: Vec<Point>,
    /// Names and differences from the base at weight 1, in mm.
    pub targets: Vec<(String, Vec<Point>)>,
    /// Key times, in s, from 0 upward.
    pub times_s: Vec<f64>,
    /// One row a key time, one column a target.
    pub weights: Vec<Vec<f64>>,
}

impl Motion {
    /// One mode as a sine: base the mean, one target of `sds` standard deviations of the mode, and weights
    /// sin(2 pi t / `period_s`) over one period in `steps` equal steps. The last key repeats the first, so that it can be looped.
    ///
    /// # Errors
    /// [`MotionError::NoSuchMode`]; [`MotionError::OutOfRange`] where `sds` or `period_s` is not above 0 or `steps` is under 4.
    pub fn mode_animation(
        &self,
        mode: usize,
        sds: f64,
        period_s: f64,
        steps: usize,
    ) -> Result<Animation, MotionError> {
        let shape = self.modes.get(mode).ok_or(MotionError::NoSuchMode { mode, kept: self.modes.len() })?;
        for (name, value) in [("sds", sds), ("period_s", period_s)] {
            if !(value > 0.0 && value.is_finite()) {
                return Err(MotionError::OutOfRange { name, value, range: "above 0" });
            }
        }
        if steps < 4 {
            return Err(MotionError::OutOfRange { name: "steps", value: steps as f64, range: "at least 4" });
        }
        let reach = sds * self.variances_mm2[mode].sqrt();
        let phases = (0..=steps).map(|i| i as f64 / steps as f64);
        Ok(Animation {
            name: format!("mode {} of the movement, {sds} SD to either side", mode + 1),
            base: self.mean.clone(),
            targets: vec![(format!("mode {}", mode + 1), shape.iter().map(|&p| scale(p, reach)).collect())],
            times_s: phases.clone().map(|p| p * period_s).collect(),
            // exact zeros at the ends, so that the loop closes
            weights: phases.map(|p| vec![if p == 1.0 { 0.0 } else { (TAU * p).sin() }]).collect(),
        })
    }

    /// The captured movement rebuilt from its first `modes` modes (all that were kept where there are fewer): base the mean, one
    /// target of 1 standard deviation a mode, and the coefficients over their standard deviation as weights, at the frames' own times
    /// counted from the first.
    #[must_use]
    pub fn replay(&self, modes: usize) -> Animation {
        let modes = modes.min(self.modes.len());
        let sds: Vec<f64> = self.variances_mm2.iter().take(modes).map(|v| v.sqrt()).collect();
        let start = self.times_s.first().copied().unwrap_or(0.0);
        Animation {
            name: format!("the movement from {modes} modes"),
            base: self.mean.clone(),
            targets: sds
                .iter()
                .zip(&self.modes)
                .enumerate()
                .map(|(k, (&sd, m))| (format!("mode {}", k + 1), m.iter().map(|&p| scale(p, sd)).collect()))
                .collect(),
            times_s: self.times_s.iter().map(|t| t - start).collect(),
            weights: self
                .coefficients
                .iter()
                .map(|row| row.iter().zip(&sds).map(|(c, sd)| c / sd).collect())
                .collect(),
        }
    }
}
