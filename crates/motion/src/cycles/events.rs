//! The events of a signal: where a cycle begins.

use serde::{Deserialize, Serialize};

use crate::fault::CyclesFault;
use crate::signal::filter::{SHORTEST_PAD, low_pass};
use crate::signal::gaps::Pieces;
use crate::{MotionError, dominant_frequency};

/// What begins a cycle.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Event {
    /// The signal is largest.
    Maximum,
    /// The signal is smallest, such as the height of a heel at its contact.
    #[default]
    Minimum,
    /// The signal rises through its mean.
    Rising,
}

/// Two events are at least this part of a period apart.
const APART: f64 = 0.6;
/// The signal is low-passed at so many times its cycle's frequency before events are looked for.
const SMOOTH: f64 = 4.0;
/// A rise counts when it comes from below the mean by this part of the range.
const HYSTERESIS: f64 = 0.1;

/// The times of the events of a signal, in s, with the cycle's frequency in Hz: `hz` where given, else the dominant frequency of the
/// longest piece. The signal is smoothed at four times that frequency (zero lag) and events are refined between samples.
///
/// # Errors
/// [`MotionError::NoCycles`] with the reason where there is no frequency; [`MotionError::OutOfRange`] for a frequency that is not above 0.
pub fn events(signal: &Pieces, event: Event, hz: Option<f64>) -> Result<(Vec<f64>, f64), MotionError> {
    let fps = 1.0 / signal.step_s;
    let hz = match hz {
        Some(hz) if hz > 0.0 && hz < 0.5 * fps => hz,
        Some(hz) => {
            return Err(MotionError::OutOfRange {
                name: "cycle_hz",
                value: hz,
                range: "above 0 and below half the sampling rate",
            });
        }
        None => {
            let longest = signal.longest().map_or(&[] as &[f64], |p| &p.values);
            dominant_frequency(longest, fps).map_err(CyclesFault::NoFrequency)?.hz
        }
    };
    let mut found = Vec::new();
    for piece in &signal.pieces {
        let cutoff = SMOOTH * hz;
        let smooth = if piece.values.len() > SHORTEST_PAD && cutoff < 0.45 * fps {
            low_pass(&piece.values, fps, cutoff)?
        } else {
            piece.values.clone()
        };
        let places = match event {
            Event::Maximum => peaks(&smooth, fps / hz),
            Event::Minimum => peaks(&smooth.iter().map(|v| -v).collect::<Vec<_>>(), fps / hz),
            Event::Rising => rises(&smooth),
        };
        found.extend(places.into_iter().map(|p| piece.start_s + p * signal.step_s));
    }
    Ok((found, hz))
}

/// The places of maxima inside, the higher before the lower where they are nearer than [`APART`] of a period; in upper half of the range.
fn peaks(v: &[f64], period: f64) -> Vec<f64> {
    let (low, high) = v.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &x| (l.min(x), h.max(x)));
    let middle = 0.5 * (low + high);
    let mut candidates: Vec<usize> = (1..v.len().saturating_sub(1))
        .filter(|&i| v[i] >= v[i - 1] && v[i] > v[i + 1] && v[i] > middle)
        .collect();
    candidates.sort_by(|&a, &b| v[b].total_cmp(&v[a]).then(a.cmp(&b)));
    let mut kept: Vec<usize> = Vec::new();
    for c in candidates {
        if kept.iter().all(|&k| k.abs_diff(c) as f64 >= APART * period) {
            kept.push(c);
        }
    }
    kept.sort_unstable();
    kept.into_iter().map(|i| i as f64 + vertex(v[i - 1], v[i], v[i + 1]).0).collect()
}

/// The place (-0.5 to 0.5 around the middle one) and height of the vertex of the parabola through three values an even step apart.
pub(crate) fn vertex(left: f64, middle: f64, right: f64) -> (f64, f64) {
    let bend = left - 2.0 * middle + right;
    if bend == 0.0 {
        return (0.0, middle);
    }
    let place = (0.5 * (left - right) / bend).clamp(-0.5, 0.5);
    (place, middle - 0.25 * (left - right) * place)
}

fn rises(v: &[f64]) -> Vec<f64> {
    let mean = v.iter().sum::<f64>() / v.len().max(1) as f64;
    let (low, high) = v.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &x| (l.min(x), h.max(x)));
    let below = mean - HYSTERESIS * (high - low);
    let mut armed = false;
    let mut found = Vec::new();
    for i in 1..v.len() {
        armed |= v[i - 1] < below;
        if armed && v[i - 1] < mean && v[i] >= mean {
            found.push(i as f64 - (v[i] - mean) / (v[i] - v[i - 1]));
            armed = false;
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    #[test]
    fn events_of_a_swing_are_found_between_samples() {
        let times: Vec<f64> = (0..240).map(|i| f64::from(i) / 60.0).collect();
        let v: Vec<_> = times.iter().map(|t| Some((TAU * 1.3 * t).sin())).collect();
        let p = Pieces::of(&times, &v, 0.1).unwrap();
        for (event, phase) in [(Event::Maximum, 0.25), (Event::Minimum, 0.75), (Event::Rising, 0.0)] {
            let (found, hz) = events(&p, event, None).unwrap();
            assert!((hz - 1.3).abs() < 0.02 && found.len() >= 5, "{event:?} {found:?}");
            for t in found {
                let off = t * 1.3 - phase;
                assert!((off - off.round()).abs() < 0.004, "{event:?} {t}");
            }
        }
    }
}
