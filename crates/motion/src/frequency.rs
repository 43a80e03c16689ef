//! The dominant frequency of a signal with a constant step.
//!
//! The straight line is taken off by least squares, a Hann window is laid over, zeros are added up to at least eight times the
//! length (a power of two), and the largest power of the transform is found among the frequencies with at least two cycles in the
//! record. A parabola through the logarithms of the peak and its neighbours gives the frequency (windowed
//! periodogram with peak interpolation: Smith, *Spectral Audio Signal Processing*, from memory). The share is the part of
//! the signal's power within two bins (2 / T, the half width of the window's main lobe) of the peak. A steady oscillation is found within 1 % of its
//! frequency from 2.5 cycles on, with two cycles within 5 %.

use rustfft::{FftPlanner, num_complex::Complex};
use serde::{Deserialize, Serialize};
use thiserror::Error;

/// Fewest frames for a frequency (chosen, no source).
pub(crate) const MIN_FRAMES: usize = 16;
/// Fewest cycles in the record: with fewer, a cycle cannot be told from a drift (chosen, no source).
pub(crate) const MIN_CYCLES: f64 = 2.0;
/// Smallest share of the power in the peak for it to count as clear (chosen, no source).
pub(crate) const MIN_SHARE: f64 = 0.5;
/// The transform is at least so many times as long as the record.
const PADDING: usize = 8;

/// The dominant frequency of a signal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ModeFrequency {
    /// The frequency, in Hz.
    pub hz: f64,
    /// The part of the signal's power (trend removed) that is in the peak, 0 to 1.
    pub share: f64,
    /// How many cycles the record holds: hz times its length.
    pub cycles: f64,
    /// 1 / T, in Hz: two frequencies closer than this cannot be told apart in this record.
    pub resolution_hz: f64,
}

/// Why there is no dominant frequency.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, Error)]
#[serde(tag = "reason", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum NoFrequency {
    /// The time stamps are not uniform.
    #[error("the time stamps are not uniform")]
    NotUniform,
    /// Too few frames.
    #[error("{frames} frames are too few; {needed} are needed")]
    TooShort {
        /// Frames there are.
        frames: usize,
        /// Frames needed.
        needed: usize,
    },
    /// A value is missing.
    #[error("{missing} values are missing")]
    Missing {
        /// How many.
        missing: usize,
    },
    /// Nothing but a straight line.
    #[error("the signal does not vary about a straight line")]
    NoVariation,
    /// The strongest part of the spectrum is too slow for the record.
    #[error(
        "the strongest part of the spectrum is too slow: fewer than {needed} cycles in {duration_s:.2} s"
    )]
    TooSlow {
        /// Length of the record, in s.
        duration_s: f64,
        /// Cycles needed.
        needed: f64,
    },
    /// No peak stands out.
    #[error("no clear peak: the strongest, at {hz:.2} Hz, holds {share:.2} of the power; {needed} is needed")]
    NotClear {
        /// The frequency of the strongest peak, in Hz.
        hz: f64,
        /// Its share of the power.
        share: f64,
        /// The share needed.
        needed: f64,
    },
}

/// The dominant frequency of `values`, one every 1 / `fps` seconds.
///
/// # Errors
/// [`NoFrequency`] says why there is none.
pub(crate) fn dominant_frequency(values: &[f64], fps: f64) -> Result<ModeFrequency, NoFrequency> {
    let n = values.len();
    if n < MIN_FRAMES {
        return Err(NoFrequency::TooShort { frames: n, needed: MIN_FRAMES });
    }
    let missing = values.iter().filter(|v| !v.is_finite()).count();
    if missing > 0 {
        return Err(NoFrequency::Missing { missing });
    }
    let level = values.iter().fold(0.0f64, |m, v| m.max(v.abs()));
    let mut signal = detrended(values);
    if signal.iter().all(|v| v.abs() <= 1e-9 * level) {
        return Err(NoFrequency::NoVariation);
    }
    for (i, v) in signal.iter_mut().enumerate() {
        *v *= 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / n as f64).cos();
    }
    let length = (PADDING * n).next_power_of_two();
    let power = power_spectrum(&signal, length);
    let bins_per_cycle = length as f64 / n as f64; // bins between frequencies 1 / T apart
    let half_width = (2.0 * bins_per_cycle).round() as usize;
    let duration_s = n as f64 / fps;

    let peak = (1..power.len()).max_by(|&a, &b| power[a].total_cmp(&power[b])).unwrap_or(1);
    let total: f64 = power.iter().sum();
    let lobe = peak.saturating_sub(half_width)..=(peak + half_width).min(power.len() - 1);
    let share = power[lobe].iter().sum::<f64>() / total;
    let offset = if peak + 1 < power.len() {
        let [l, c, r] =
            [power[peak - 1], power[peak], power[peak + 1]].map(|p| p.max(f64::MIN_POSITIVE).ln());
        let bend = l - 2.0 * c + r;
        if bend < 0.0 { (0.5 * (l - r) / bend).clamp(-0.5, 0.5) } else { 0.0 }
    } else {
        0.0
    };
    let hz = (peak as f64 + offset) * fps / length as f64;
    let cycles = hz * duration_s;
    // the peak's own place is uncertain by a part of a bin, so exactly two cycles must pass
    if cycles < MIN_CYCLES - 0.1 {
        return Err(NoFrequency::TooSlow { duration_s, needed: MIN_CYCLES });
    }
    if share < MIN_SHARE {
        return Err(NoFrequency::NotClear { hz, share, needed: MIN_SHARE });
    }
    Ok(ModeFrequency { hz, share, cycles, resolution_hz: 1.0 / duration_s })
}

/// The values less their least-squares line.
pub(crate) fn detrended(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let middle = (n - 1.0) / 2.0;
    let (mut up, mut down) = (0.0, 0.0);
    for (i, v) in values.iter().enumerate() {
        let t = i as f64 - middle;
        up += t * (v - mean);
        down += t * t;
    }
    let slope = if down > 0.0 { up / down } else { 0.0 };
    values.iter().enumerate().map(|(i, v)| v - mean - slope * (i as f64 - middle)).collect()
}

/// |X|^2 from frequency 0 to half the sampling rate of the signal filled up with zeros to `length`.
pub(crate) fn power_spectrum(signal: &[f64], length: usize) -> Vec<f64> {
    let mut buffer = vec![Complex::new(0.0, 0.0); length];
    for (b, &v) in buffer.iter_mut().zip(signal) {
        b.re = v;
    }
    FftPlanner::new().plan_fft_forward(length).process(&mut buffer);
    buffer[..=length / 2].iter().map(Complex::norm_sqr).collect()
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    fn sampled(n: usize, fps: f64, f: impl Fn(f64) -> f64) -> Vec<f64> {
        (0..n).map(|i| f(i as f64 / fps)).collect()
    }

    #[test]
    fn a_sine_on_a_drift_comes_back_within_two_hundredths_of_a_hertz() {
        for fps in [24.0, 90.0, 178.0] {
            for seconds in [3.0, 4.37, 25.0] {
                for phase in [0.0, 1.0, 2.5] {
                    let v = sampled((fps * seconds) as usize, fps, |t| {
                        7.0 + 3.0 * t + 12.0 * (TAU * 2.0 * t + phase).sin()
                    });
                    let f = dominant_frequency(&v, fps).unwrap();
                    assert!((f.hz - 2.0).abs() < 0.02, "{fps} {seconds} {phase}: {}", f.hz);
                    assert!(f.share > 0.95 && f.cycles > 5.0);
                }
            }
        }
    }

    #[test]
    fn few_cycles_with_a_harmonic_give_the_frequency_within_a_hundredth_of_itself() {
        for cycles in [2.5, 3.0, 3.5, 4.0, 5.0, 8.0] {
            for k in 0..24 {
                let phase = f64::from(k) * TAU / 24.0;
                let v = sampled((60.0 * cycles) as usize, 60.0, |t| {
                    (TAU * t + phase).sin() + 0.3 * (2.0 * TAU * t + 1.0).sin()
                });
                let f = dominant_frequency(&v, 60.0).unwrap();
                assert!((f.hz - 1.0).abs() < 0.01, "{cycles} {phase}: {f:?}");
            }
        }
    }

    #[test]
    fn what_has_no_clear_frequency_says_why() {
        let short = dominant_frequency(&[1.0; 10], 24.0).unwrap_err();
        assert_eq!(short, NoFrequency::TooShort { frames: 10, needed: 16 });
        assert_eq!(dominant_frequency(&[3.0; 40], 24.0).unwrap_err(), NoFrequency::NoVariation);
        let line = sampled(40, 24.0, |t| 5.0 - 2.0 * t);
        assert_eq!(dominant_frequency(&line, 24.0).unwrap_err(), NoFrequency::NoVariation);
        let slow = sampled(48, 24.0, |t| (TAU * 0.5 * t).sin());
        assert!(matches!(dominant_frequency(&slow, 24.0), Err(NoFrequency::TooSlow { .. })));
        // a fixed pseudo-random row: white noise has no peak with half the power
        let mut state = 1u64;
        let noise: Vec<f64> = (0..400)
            .map(|_| {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                (state >> 11) as f64 / (1u64 << 53) as f64 - 0.5
            })
            .collect();
        assert!(matches!(dominant_frequency(&noise, 24.0), Err(NoFrequency::NotClear { .. })));
        assert!(matches!(
            dominant_frequency(&[f64::NAN; 20], 24.0),
            Err(NoFrequency::Missing { missing: 20 })
        ));
    }
}
