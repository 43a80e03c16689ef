//! One constant step: short gaps interpolated, long ones split, nothing filtered across.
//!
//! Stamps are laid on a grid of the median step from the first stamp of each piece. A step longer than 1.5 grid steps is a gap: up to
//! 100 ms it is interpolated, longer it splits the signal (common practice, no source). Missing values count as missing frames.
//! Values between stamps come from a cubic through the two neighbours on either side (Catmull & Rom 1974, with the actual stamps), a
//! straight line where there is one on a side only.

use serde::{Deserialize, Serialize};

use super::filter::{SHORTEST_PAD, low_pass};
use crate::{MotionError, Timing};

/// The longest gap that is interpolated, in s (common practice, no source).
pub const LONGEST_GAP_S: f64 = 0.1;
/// A step longer than so many sampling steps is a gap.
const GAP_STEPS: f64 = 1.5;

/// A piece of a signal with a constant step and no gap.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Piece {
    /// The time of the first value, in s.
    pub start_s: f64,
    /// One value a step.
    pub values: Vec<f64>,
    /// The first and last frame of the record in it.
    pub frames: (usize, usize),
}

/// A signal on a constant step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pieces {
    /// The step, in s.
    pub step_s: f64,
    /// The pieces, in order.
    pub pieces: Vec<Piece>,
    /// Gaps that were interpolated.
    pub interpolated_gaps: usize,
    /// Grid values inside such gaps.
    pub interpolated: usize,
    /// Gaps at which the signal was split.
    pub splits: usize,
    /// Share of the record (first to last stamp) that is in interpolated or split gaps.
    pub missing_share: f64,
    /// The cutoff that was applied, in Hz; `None` for none.
    pub cutoff_hz: Option<f64>,
    /// Pieces too short to be filtered, which stay as they are.
    pub unfiltered: usize,
}

impl Pieces {
    /// Lays values (one a stamp, `None` where missing) on a constant step.
    ///
    /// # Errors
    /// Those of [`Timing::of`]; [`MotionError::SignalTooShort`] under two values; [`MotionError::OutOfRange`] for a negative gap.
    pub fn of(times_s: &[f64], values: &[Option<f64>], longest_gap_s: f64) -> Result<Self, MotionError> {
        let timing = Timing::of(times_s, values.len())?;
        if longest_gap_s.is_nan() || longest_gap_s < 0.0 {
            return Err(MotionError::OutOfRange {
                name: "longest_gap_s",
                value: longest_gap_s,
                range: "0 or more",
            });
        }
        let known: Vec<(usize, f64, f64)> = values
            .iter()
            .enumerate()
            .filter_map(|(i, v)| v.filter(|v| v.is_finite()).map(|v| (i, times_s[i], v)))
            .collect();
        let Some(median) = timing.step_s.filter(|_| known.len() > 1) else {
            return Err(MotionError::SignalTooShort { samples: known.len(), needed: 2 });
        };
        // a uniform clock's mean step is better than its median, which is rounded as the stamps are
        let step_s = timing.fps.map_or(median, |fps| 1.0 / fps);
        let (mut runs, mut run) = (Vec::new(), vec![known[0]]);
        let (mut interpolated_gaps, mut splits, mut missing_s) = (0, 0, 0.0);
        for w in known.windows(2) {
            let gap = w[1].1 - w[0].1;
            if gap > GAP_STEPS * step_s {
                missing_s += gap - step_s;
                if gap > longest_gap_s + 1e-9 {
                    splits += 1;
                    runs.push(std::mem::take(&mut run));
                } else {
                    interpolated_gaps += 1;
                }
            }
            run.push(w[1]);
        }
        runs.push(run);
        let mut interpolated = 0;
        let pieces = runs
            .into_iter()
            .map(|run| {
                let (start_s, end) = (run[0].1, run[run.len() - 1].1);
                let count = ((end - start_s) / step_s + 1e-6).floor() as usize + 1;
                let (t, v): (Vec<f64>, Vec<f64>) = run.iter().map(|r| (r.1, r.2)).unzip();
                let mut at = 0;
                let values = (0..count)
                    .map(|k| {
                        let time = (start_s + k as f64 * step_s).min(end);
                        while at + 2 < t.len() && t[at + 1] < time {
                            at += 1;
                        }
                        let inside = t.len() > 1 && t[at + 1] - t[at] > GAP_STEPS * step_s;
                        if inside && (time - t[at]).min(t[at + 1] - time) > 0.25 * step_s {
                            interpolated += 1;
                        }
                        cubic(&t, &v, at, time)
                    })
                    .collect();
                Piece { start_s, values, frames: (run[0].0, run[run.len() - 1].0) }
            })
            .collect();
        Ok(Self {
            step_s,
            pieces,
            interpolated_gaps,
            interpolated,
            splits,
            missing_share: if timing.duration_s > 0.0 { missing_s / timing.duration_s } else { 0.0 },
            cutoff_hz: None,
            unfiltered: 0,
        })
    }

    /// Low-passes every piece on its own. Pieces too short to be filtered stay as they are and are counted.
    ///
    /// # Errors
    /// [`MotionError::OutOfRange`] for the cutoff.
    pub(crate) fn low_passed(mut self, cutoff_hz: f64) -> Result<Self, MotionError> {
        let fps = 1.0 / self.step_s;
        for piece in &mut self.pieces {
            if piece.values.len() > SHORTEST_PAD {
                piece.values = low_pass(&piece.values, fps, cutoff_hz)?;
            } else {
                self.unfiltered += 1;
            }
        }
        self.cutoff_hz = Some(cutoff_hz);
        Ok(self)
    }

    /// The value at a time, or `None` outside all pieces.
    #[must_use]
    pub fn at(&self, time_s: f64) -> Option<f64> {
        let near = 1e-6 * self.step_s;
        self.pieces.iter().find_map(|p| {
            let place = (time_s - p.start_s) / self.step_s;
            let last = (p.values.len() - 1) as f64;
            if place < -near || place > last + near {
                return None;
            }
            Some(cubic_even(&p.values, place.clamp(0.0, last)))
        })
    }

    /// Whether one piece holds both times.
    #[must_use]
    pub fn together(&self, from_s: f64, to_s: f64) -> bool {
        let near = 1e-6 * self.step_s;
        self.pieces.iter().any(|p| {
            let end = p.start_s + (p.values.len() - 1) as f64 * self.step_s;
            from_s >= p.start_s - near && to_s <= end + near
        })
    }

    /// The longest piece.
    #[must_use]
    pub fn longest(&self) -> Option<&Piece> {
        self.pieces.iter().max_by_key(|p| p.values.len())
    }
}

/// The cubic through the four stamps around `at`, at a time between `at` and `at + 1`.
fn cubic(t: &[f64], v: &[f64], at: usize, time: f64) -> f64 {
    let n = t.len();
    if n == 1 {
        return v[0];
    }
    let (i, j) = (at, at + 1);
    let h = t[j] - t[i];
    let u = ((time - t[i]) / h).clamp(0.0, 1.0);
    let straight = (v[j] - v[i]) / h;
    let slope = |k: usize| {
        if k == 0 || k + 1 == n {
            straight
        } else {
            // the derivative of the parabola through three stamps
            let (h0, h1) = (t[k] - t[k - 1], t[k + 1] - t[k]);
            let (d0, d1) = ((v[k] - v[k - 1]) / h0, (v[k + 1] - v[k]) / h1);
            (d0 * h1 + d1 * h0) / (h0 + h1)
        }
    };
    hermite(v[i], v[j], h * slope(i), h * slope(j), u)
}

/// The cubic of an even step at a place counted in steps.
pub(crate) fn cubic_even(v: &[f64], place: f64) -> f64 {
    let n = v.len();
    if n == 1 {
        return v[0];
    }
    let i = (place.floor() as usize).min(n - 2);
    let u = place - i as f64;
    let slope = |k: usize| if k == 0 || k + 1 == n { v[i + 1] - v[i] } else { 0.5 * (v[k + 1] - v[k - 1]) };
    hermite(v[i], v[i + 1], slope(i), slope(i + 1), u)
}

fn hermite(a: f64, b: f64, da: f64, db: f64, u: f64) -> f64 {
    let (u2, u3) = (u * u, u * u * u);
    a * (2.0 * u3 - 3.0 * u2 + 1.0) + da * (u3 - 2.0 * u2 + u) + b * (3.0 * u2 - 2.0 * u3) + db * (u3 - u2)
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    fn wave(t: f64) -> f64 {
        100.0 + 20.0 * (TAU * 1.5 * t).sin()
    }

    #[test]
    fn a_short_gap_is_interpolated_and_a_long_one_splits() {
        let kept = |i: u32| !(40..44).contains(&i) && !(120..150).contains(&i);
        let times: Vec<f64> = (0..300).filter(|&i| kept(i)).map(|i| f64::from(i) * 0.01).collect();
        let values: Vec<_> = times.iter().map(|&t| Some(wave(t))).collect();
        let p = Pieces::of(&times, &values, LONGEST_GAP_S).unwrap();
        assert_eq!((p.interpolated_gaps, p.interpolated, p.splits, p.pieces.len()), (1, 4, 1, 2));
        assert_eq!((p.pieces[0].values.len(), p.pieces[1].values.len()), (120, 150));
        for (k, v) in p.pieces[0].values.iter().enumerate() {
            let allowed = if (39..=44).contains(&k) { 0.05 } else { 1e-6 };
            assert!((v - wave(k as f64 * 0.01)).abs() < allowed, "{k} {v}");
        }
        assert!(p.at(1.3).is_none() && !p.together(1.0, 1.6) && p.together(0.2, 1.0));
        assert!((p.at(2.005).unwrap() - wave(2.005)).abs() < 0.01);
        assert!((p.missing_share - 0.34 / 2.99).abs() < 0.01, "{}", p.missing_share);
        // a step at the other side of the gap is not smeared over it
        let stepped: Vec<_> = times.iter().map(|&t| Some(if t < 1.3 { 0.0 } else { 50.0 })).collect();
        let q = Pieces::of(&times, &stepped, LONGEST_GAP_S).unwrap().low_passed(6.0).unwrap();
        assert!(q.pieces[0].values.iter().all(|v| v.abs() < 1e-9));
    }

    #[test]
    fn an_uneven_clock_is_laid_on_an_even_step() {
        let times: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.01 + 0.002 * f64::from(i).sin()).collect();
        let values: Vec<_> = times.iter().map(|&t| Some(wave(t))).collect();
        let p = Pieces::of(&times, &values, LONGEST_GAP_S).unwrap();
        assert_eq!((p.pieces.len(), p.interpolated), (1, 0));
        for (k, v) in p.pieces[0].values.iter().enumerate() {
            assert!((v - wave(p.pieces[0].start_s + k as f64 * p.step_s)).abs() < 0.02);
        }
    }

    #[test]
    fn missing_values_are_gaps() {
        let times: Vec<f64> = (0..50).map(|i| f64::from(i) * 0.02).collect();
        let mut values: Vec<_> = times.iter().map(|&t| Some(wave(t))).collect();
        values[20] = None;
        let p = Pieces::of(&times, &values, LONGEST_GAP_S).unwrap();
        assert_eq!((p.pieces.len(), p.interpolated), (1, 1));
        assert!(Pieces::of(&times, &[None; 50], 0.1).is_err());
    }
}
