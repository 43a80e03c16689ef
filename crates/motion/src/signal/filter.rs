//! Zero-lag low-pass: a second-order Butterworth filter run forward and back.
//!
//! Two passes lower the frequency at which half the power is left; to keep the nominal cutoff the filter is designed at
//! cutoff / 0.802, 0.802 = (sqrt 2 - 1)^(1/4) (Winter, *Biomechanics and Motor Control of Human Movement*, from memory). The
//! correction is applied to the analogue frequency, tan(pi f / fps), where it is exact for the bilinear transform.
//!
//! The ends are continued by their odd reflection and each pass starts in its steady state, as is usual for zero-phase filtering
//! (Gustafsson 1996 discusses the choices); without a gap in time only.

use std::f64::consts::{PI, SQRT_2};

use serde::{Deserialize, Serialize};

use crate::MotionError;

/// Shortest continuation of an end, in samples: three times the number of coefficients.
pub(crate) const SHORTEST_PAD: usize = 9;
/// The continuation of an end that is aimed at, in s (common practice: at least 1 s).
pub(crate) const PAD_S: f64 = 1.0;

/// The coefficients of a filter: a0 y_i = sum_k b_k x_(i-k) - sum_(k>0) a_k y_(i-k), with a0 = 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Filter {
    /// Of the input.
    pub b: [f64; 3],
    /// Of the output; the first is 1.
    pub a: [f64; 3],
}

impl Filter {
    /// The second-order Butterworth low-pass of one pass whose half-power frequency is `cutoff_hz` (bilinear transform with the
    /// frequency pre-warped).
    ///
    /// # Errors
    /// [`MotionError::OutOfRange`] where the cutoff is not between 0 and half of `fps`.
    pub fn butterworth(cutoff_hz: f64, fps: f64) -> Result<Self, MotionError> {
        if !(fps > 0.0 && fps.is_finite()) {
            return Err(MotionError::OutOfRange { name: "fps", value: fps, range: "above 0" });
        }
        if !(cutoff_hz > 0.0 && cutoff_hz < 0.5 * fps) {
            return Err(MotionError::OutOfRange {
                name: "cutoff_hz",
                value: cutoff_hz,
                range: "above 0 and below half the sampling rate",
            });
        }
        Ok(Self::warped((PI * cutoff_hz / fps).tan()))
    }

    /// The pass that, run forward and back, has its half-power frequency at `cutoff_hz`.
    ///
    /// # Errors
    /// As [`Filter::butterworth`].
    pub(crate) fn two_pass(cutoff_hz: f64, fps: f64) -> Result<Self, MotionError> {
        Self::butterworth(cutoff_hz, fps)?;
        Ok(Self::warped((PI * cutoff_hz / fps).tan() / correction()))
    }

    fn warped(w: f64) -> Self {
        let scale = 1.0 / (1.0 + SQRT_2 * w + w * w);
        let b = w * w * scale;
        Self { b: [b, 2.0 * b, b], a: [1.0, 2.0 * (w * w - 1.0) * scale, (1.0 - SQRT_2 * w + w * w) * scale] }
    }

    /// The values filtered forward and back, each end continued by `pad` samples of its odd reflection (as many as there are where
    /// there are fewer). The result has no lag.
    #[must_use]
    pub fn forward_back(&self, values: &[f64], pad: usize) -> Vec<f64> {
        let n = values.len();
        if n < 2 {
            return values.to_vec();
        }
        let pad = pad.min(n - 1);
        let (first, last) = (values[0], values[n - 1]);
        let mut long: Vec<f64> = Vec::with_capacity(n + 2 * pad);
        long.extend((1..=pad).rev().map(|i| 2.0 * first - values[i]));
        long.extend_from_slice(values);
        long.extend((1..=pad).map(|i| 2.0 * last - values[n - 1 - i]));
        for _ in 0..2 {
            self.pass(&mut long);
            long.reverse();
        }
        long[pad..pad + n].to_vec()
    }

    /// One pass in place (direct form II transposed) from the steady state of the first value.
    fn pass(&self, values: &mut [f64]) {
        let ([b0, b1, b2], [_, a1, a2]) = (self.b, self.a);
        // the state under a constant input of 1 whose output is 1
        let (z1, z2) = (1.0 - b0, b2 - a2);
        let start = values.first().copied().unwrap_or(0.0);
        let (mut s1, mut s2) = (z1 * start, z2 * start);
        for v in values {
            let x = *v;
            let y = b0 * x + s1;
            s1 = b1 * x - a1 * y + s2;
            s2 = b2 * x - a2 * y;
            *v = y;
        }
    }
}

/// The largest cutoff that is sensible, as a part of the frame rate (chosen, no source): nearer to half of it the filter passes all.
const HIGHEST: f64 = 0.4;

/// The largest sensible cutoff at a frame rate, in Hz: two fifths of it.
#[must_use]
pub fn largest_cutoff(fps: f64) -> f64 {
    HIGHEST * fps
}

/// The cutoff to use: `given` where there is one, else the usual one, lowered to [`largest_cutoff`].
///
/// # Errors
/// [`MotionError::Cutoff`] where the given one is half the rate or more; [`MotionError::OutOfRange`] where it is not above 0.
pub fn cutoff_or(given: Option<f64>, usual_hz: f64, fps: f64) -> Result<f64, MotionError> {
    match given {
        None => Ok(usual_hz.min(largest_cutoff(fps))),
        Some(hz) if hz.is_nan() || hz <= 0.0 => {
            Err(MotionError::OutOfRange { name: "the cutoff", value: hz, range: "a number of Hz above 0" })
        }
        // the rate of a record is known to a part of itself only
        Some(hz) if hz >= 0.5 * fps * (1.0 - 1e-6) => {
            Err(MotionError::Cutoff { cutoff_hz: hz, fps, largest_hz: largest_cutoff(fps) })
        }
        Some(hz) => Ok(hz),
    }
}

/// (sqrt 2 - 1)^(1/4) = 0.802: the half-power frequency of two passes over that of one.
#[must_use]
pub fn correction() -> f64 {
    (SQRT_2 - 1.0).powf(0.25)
}

/// The values low-passed without lag at `cutoff_hz`, the half-power frequency of both passes together. One value every
/// 1 / `fps` s, without a gap. Ends are continued by 1 s, or by what there is.
///
/// # Errors
/// [`MotionError::OutOfRange`] for the cutoff; [`MotionError::SignalTooShort`] where there are too few values to continue the ends.
pub fn low_pass(values: &[f64], fps: f64, cutoff_hz: f64) -> Result<Vec<f64>, MotionError> {
    let filter = Filter::two_pass(cutoff_hz, fps)?;
    if values.len() <= SHORTEST_PAD {
        return Err(MotionError::SignalTooShort { samples: values.len(), needed: SHORTEST_PAD + 1 });
    }
    if let Some(frame) = values.iter().position(|v| !v.is_finite()) {
        return Err(MotionError::NotFinite { what: "the signal".to_owned(), frame });
    }
    Ok(filter.forward_back(values, pad(fps)))
}

/// The continuation used by [`low_pass`], in samples.
#[must_use]
pub fn pad(fps: f64) -> usize {
    ((PAD_S * fps).round() as usize).max(SHORTEST_PAD)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    fn sine(hz: f64, fps: f64, n: usize) -> Vec<f64> {
        (0..n).map(|i| (TAU * hz * i as f64 / fps).sin()).collect()
    }

    #[test]
    fn coefficients_of_a_quarter_of_the_rate() {
        // w = tan(pi/4) = 1: b = 1 / (2 + sqrt 2) x (1, 2, 1), a = (1, 0, (2 - sqrt 2) / (2 + sqrt 2))
        let f = Filter::butterworth(25.0, 100.0).unwrap();
        assert!((f.b[0] - 0.292_893_218_813_452_5).abs() < 1e-15 && f.a[1].abs() < 1e-15);
        assert!((f.a[2] - 0.171_572_875_253_809_9).abs() < 1e-15);
    }

    #[test]
    fn half_the_power_is_left_at_the_nominal_cutoff_and_nothing_lags() {
        let x = sine(6.0, 100.0, 2000);
        let y = low_pass(&x, 100.0, 6.0).unwrap();
        let middle = 500..1500;
        let power = |v: &[f64]| v[middle.clone()].iter().map(|x| x * x).sum::<f64>();
        assert!((power(&y) / power(&x) - 0.5).abs() < 2e-3, "{}", power(&y) / power(&x));
        let product: f64 = middle.clone().map(|i| x[i] * y[i]).sum();
        assert!((product / (power(&x) * power(&y)).sqrt() - 1.0).abs() < 1e-6);
    }

    #[test]
    fn lines_pass_unchanged() {
        let x: Vec<f64> = (0..200).map(|i| 3.0 + 0.2 * f64::from(i)).collect();
        let y = low_pass(&x, 50.0, 5.0).unwrap();
        assert!(x.iter().zip(&y).all(|(a, b)| (a - b).abs() < 1e-9));
    }

    #[test]
    fn a_cutoff_of_half_the_rate_or_more_is_refused_with_the_largest_sensible() {
        assert_eq!(cutoff_or(None, 8.0, 100.0).unwrap(), 8.0);
        assert_eq!(cutoff_or(None, 12.0, 24.0).unwrap(), 0.4 * 24.0);
        assert_eq!(cutoff_or(Some(45.0), 8.0, 100.0).unwrap(), 45.0);
        for hz in [50.0, 60.0, f64::INFINITY] {
            let said = cutoff_or(Some(hz), 8.0, 100.0).unwrap_err().to_string();
            assert!(said.contains("100.00 frames") && said.contains("40.00 Hz"), "{said}");
        }
        assert!(cutoff_or(Some(0.0), 8.0, 100.0).is_err() && cutoff_or(Some(f64::NAN), 8.0, 100.0).is_err());
    }

    #[test]
    fn what_cannot_be_filtered_is_an_error() {
        assert!(matches!(low_pass(&[1.0; 9], 50.0, 5.0), Err(MotionError::SignalTooShort { .. })));
        assert!(matches!(low_pass(&[1.0; 90], 50.0, 25.0), Err(MotionError::OutOfRange { .. })));
        assert!(low_pass(&[f64::NAN; 90], 50.0, 5.0).is_err());
    }
}
