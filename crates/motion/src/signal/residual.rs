//! The cutoff of a low-pass by residual analysis.
//!
//! The root mean square of signal less filtered signal falls with the cutoff; where only noise is taken away it falls in a straight
//! line that, extended to cutoff 0, gives the size of the noise. The cutoff at which the residual has that size leaves as much
//! signal out as it lets noise in (Winter, *Biomechanics and Motor Control of Human Movement*, from memory).

use serde::{Deserialize, Serialize};

use super::filter::low_pass;
use crate::MotionError;

/// Cutoffs tried.
const STEPS: usize = 60;
/// Lowest cutoff tried, in Hz.
const LOWEST_HZ: f64 = 0.5;
/// Highest cutoff tried, as a part of the sampling rate.
const HIGHEST: f64 = 0.45;
/// The upper part of the cutoffs in which the residual is taken to be noise.
const NOISE_PART: f64 = 0.5;

/// What a residual analysis found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResidualAnalysis {
    /// The cutoff, in Hz.
    pub cutoff_hz: f64,
    /// Where the straight line meets cutoff 0: the size of the noise (root mean square), in the unit of the signal.
    pub noise: f64,
    /// How straight the line is: the share of the residual's variance that it explains.
    pub r2: f64,
    /// Cutoffs tried, in Hz.
    pub cutoffs_hz: Vec<f64>,
    /// The residual at each.
    pub residuals: Vec<f64>,
}

/// The cutoff of `values`, one every 1 / `fps` s.
///
/// # Errors
/// As [`low_pass`].
pub fn residual_cutoff(values: &[f64], fps: f64) -> Result<ResidualAnalysis, MotionError> {
    let (low, high) = (LOWEST_HZ.min(0.1 * fps), HIGHEST * fps);
    let cutoffs_hz: Vec<f64> =
        (0..STEPS).map(|k| low + (high - low) * k as f64 / (STEPS - 1) as f64).collect();
    let residuals = cutoffs_hz
        .iter()
        .map(|&c| {
            let smooth = low_pass(values, fps, c)?;
            let sum: f64 = values.iter().zip(&smooth).map(|(x, y)| (x - y) * (x - y)).sum();
            Ok((sum / values.len() as f64).sqrt())
        })
        .collect::<Result<Vec<f64>, MotionError>>()?;
    let from = (STEPS as f64 * NOISE_PART) as usize;
    let (noise, r2) = line(&cutoffs_hz[from..], &residuals[from..]);
    let noise = noise.max(0.0);
    // from above: the lowest cutoff whose residual is within the noise
    let mut cutoff_hz = cutoffs_hz[STEPS - 1];
    for k in (1..STEPS).rev() {
        let (r0, r1) = (residuals[k - 1], residuals[k]);
        if r0 >= noise && r1 <= noise {
            let part = if r0 > r1 { (r0 - noise) / (r0 - r1) } else { 0.0 };
            cutoff_hz = cutoffs_hz[k - 1] + part * (cutoffs_hz[k] - cutoffs_hz[k - 1]);
            break;
        }
        if k == 1 && r0 < noise {
            cutoff_hz = cutoffs_hz[0];
        }
    }
    Ok(ResidualAnalysis { cutoff_hz, noise, r2, cutoffs_hz, residuals })
}

/// Value at 0 and explained share of the straight line through points.
fn line(x: &[f64], y: &[f64]) -> (f64, f64) {
    let n = x.len() as f64;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sxx: f64 = x.iter().map(|v| (v - mx) * (v - mx)).sum();
    let sxy: f64 = x.iter().zip(y).map(|(a, b)| (a - mx) * (b - my)).sum();
    let syy: f64 = y.iter().map(|v| (v - my) * (v - my)).sum();
    let slope = sxy / sxx;
    (my - slope * mx, if syy > 0.0 { sxy * sxy / (sxx * syy) } else { 1.0 })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use formkin_stats::random::stream;
    use rand::Rng;

    use super::*;

    #[test]
    fn noise_over_a_slow_signal_is_sized_and_cut() {
        let mut rng = stream(4, "residual");
        let fps = 100.0;
        let clean: Vec<f64> = (0..1000)
            .map(|i| {
                let t = f64::from(i) / fps;
                20.0 * (TAU * 1.0 * t).sin() + 5.0 * (TAU * 3.0 * t).sin()
            })
            .collect();
        // uniform noise of SD 0.5
        let noisy: Vec<f64> = clean.iter().map(|v| v + 3f64.sqrt() * rng.gen_range(-0.5..0.5)).collect();
        let found = residual_cutoff(&noisy, fps).unwrap();
        assert!((found.noise - 0.5).abs() < 0.05 && found.r2 > 0.95, "{} {}", found.noise, found.r2);
        assert!(found.cutoff_hz > 3.0 && found.cutoff_hz < 12.0, "{}", found.cutoff_hz);
        let error = |v: &[f64]| v.iter().zip(&clean).map(|(a, b)| (a - b) * (a - b)).sum::<f64>();
        let smooth = low_pass(&noisy, fps, found.cutoff_hz).unwrap();
        assert!(error(&smooth) < 0.4 * error(&noisy));
    }
}
