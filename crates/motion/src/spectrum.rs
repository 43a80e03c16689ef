//! The spectrum of a signal, for charts.

use crate::frequency::{MIN_FRAMES, detrended, power_spectrum};

/// One place of a spectrum.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct SpectrumPoint {
    /// Frequency, in Hz.
    pub hz: f64,
    /// Share of the power (trend removed) per Hz.
    pub share_per_hz: f64,
}

/// The power spectrum of `values`, one every 1 / `fps` s, with the straight line taken off under a Hann window, padded to sixteen times its length; the area under
/// it is 1. `None` under 16 values, where one is not a number, or where nothing varies.
#[must_use]
pub fn spectrum(values: &[f64], fps: f64) -> Option<Vec<SpectrumPoint>> {
    let n = values.len();
    if n < MIN_FRAMES || values.iter().any(|v| !v.is_finite()) || fps.is_nan() || fps <= 0.0 {
        return None;
    }
    let mut signal = detrended(values);
    for (i, v) in signal.iter_mut().enumerate() {
        *v *= 0.5 - 0.5 * (std::f64::consts::TAU * (i as f64 + 0.5) / n as f64).cos();
    }
    let length = (16 * n).next_power_of_two();
    let power = power_spectrum(&signal, length);
    let step = fps / length as f64;
    let total: f64 = power.iter().sum::<f64>() * step;
    (total > 0.0).then(|| {
        let at = |(k, p): (usize, &f64)| SpectrumPoint { hz: k as f64 * step, share_per_hz: p / total };
        power.iter().enumerate().map(at).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_area_is_one_and_the_peak_is_where_it_was_put() {
        let v: Vec<f64> =
            (0..300).map(|i| 7.0 + (std::f64::consts::TAU * 2.0 * f64::from(i) / 50.0).sin()).collect();
        let s = spectrum(&v, 50.0).unwrap();
        let area: f64 = s.iter().map(|p| p.share_per_hz).sum::<f64>() * (s[1].hz - s[0].hz);
        let peak = s.iter().max_by(|a, b| a.share_per_hz.total_cmp(&b.share_per_hz)).unwrap();
        assert!((area - 1.0).abs() < 1e-9 && (peak.hz - 2.0).abs() < 0.05, "{area} {peak:?}");
        assert!(spectrum(&[1.0; 40], 50.0).is_none() && spectrum(&v[..10], 50.0).is_none());
    }
}
