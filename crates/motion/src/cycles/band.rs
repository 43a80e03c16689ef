//! Curves over the cycle: 0 to 100 % in 101 points, mean and SD, extremes and their phases.

use std::f64::consts::TAU;

use formkin_stats::quantile::{MAD_TO_SD, mad, median};
use serde::{Deserialize, Serialize};

use super::cycle::{Cycles, SetAside};
use super::events::vertex;
use crate::MotionError;
use crate::fault::CyclesFault;
use crate::signal::gaps::Pieces;

/// Points of a normalised cycle: every per cent from 0 to 100.
pub const POINTS: usize = 101;

/// A mean or SD over cycles, with their number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct OverCycles {
    /// Mean over cycles.
    pub mean: f64,
    /// SD over cycles, divisor n - 1; `None` for one cycle.
    pub sd: Option<f64>,
    /// Cycles.
    pub cycles: usize,
}

impl OverCycles {
    /// Mean and SD of values, one a cycle; `None` without any.
    #[must_use]
    pub fn of(values: &[f64]) -> Option<Self> {
        let n = values.len();
        let mean = values.iter().sum::<f64>() / n as f64;
        let squares: f64 = values.iter().map(|v| (v - mean) * (v - mean)).sum();
        let sd = (n > 1).then(|| (squares / (n as f64 - 1.0)).sqrt());
        (n > 0).then_some(Self { mean, sd, cycles: n })
    }

    /// Circular mean and SD of phases in per cent of the cycle.
    #[must_use]
    pub(crate) fn of_phases(percent: &[f64]) -> Option<Self> {
        let n = percent.len();
        if n == 0 {
            return None;
        }
        let (s, c) = percent.iter().fold((0.0, 0.0), |(s, c), p| {
            let a = TAU * p / 100.0;
            (s + a.sin(), c + a.cos())
        });
        let mean = (s.atan2(c) / TAU * 100.0).rem_euclid(100.0);
        let off = percent.iter().map(|p| {
            let d = (p - mean).rem_euclid(100.0);
            if d > 50.0 { d - 100.0 } else { d }
        });
        let sd = (n > 1).then(|| (off.map(|d| d * d).sum::<f64>() / (n as f64 - 1.0)).sqrt());
        Some(Self { mean, sd, cycles: n })
    }
}

/// A signal over the cycles.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// One curve a cycle that counts: 101 values.
    pub curves: Vec<Vec<f64>>,
    /// Which cycle of [`Cycles::cycles`] each is.
    pub cycles: Vec<usize>,
    /// Cycles that count for the record but not for this signal, and why.
    pub set_aside: Vec<(usize, SetAside)>,
    /// Mean over the curves, point by point.
    pub mean: Vec<f64>,
    /// SD over the curves, point by point, divisor n - 1; zeros for one curve.
    pub sd: Vec<f64>,
    /// Largest less smallest value of each cycle.
    pub range: Option<OverCycles>,
    /// Where in the cycle the signal is smallest, in %: circular mean and SD over cycles.
    pub phase_of_min_percent: Option<OverCycles>,
    /// Where it is largest.
    pub phase_of_max_percent: Option<OverCycles>,
}

impl Band {
    /// Lays the cycles of a signal over each other. A curve further from the median curve than three 1.4826 MAD beyond the median
    /// distance is set aside for this signal (where it is also further than a twentieth of the median range), once five or more
    /// curves tell what is usual.
    ///
    /// # Errors
    /// [`MotionError::NoCycles`] where no cycle has all its values.
    pub fn of(signal: &Pieces, cycles: &Cycles) -> Result<Self, MotionError> {
        let mut curves: Vec<(usize, Vec<f64>)> = Vec::new();
        let mut set_aside = Vec::new();
        for (i, cycle) in cycles.cycles.iter().enumerate().filter(|(_, c)| c.set_aside.is_none()) {
            match normalised(signal, cycle.start_s, cycle.end_s) {
                Some(curve) => curves.push((i, curve)),
                None => set_aside.push((i, SetAside::Gap)),
            }
        }
        if curves.len() >= 5 {
            let middle: Vec<f64> = (0..POINTS)
                .map(|p| median(&curves.iter().map(|c| c.1[p]).collect::<Vec<_>>(), None))
                .collect::<Result<_, _>>()?;
            let distances: Vec<f64> = curves
                .iter()
                .map(|(_, c)| {
                    let squares: f64 = c.iter().zip(&middle).map(|(x, m)| (x - m) * (x - m)).sum();
                    (squares / POINTS as f64).sqrt()
                })
                .collect();
            let allowed = median(&distances, None)? + 3.0 * MAD_TO_SD * mad(&distances, None)?;
            let allowed = allowed.max(0.05 * extent(&middle));
            let mut at = 0;
            curves.retain(|(i, _)| {
                let distance = distances[at];
                at += 1;
                if distance > allowed {
                    set_aside.push((*i, SetAside::Curve { distance, allowed }));
                }
                distance <= allowed
            });
        }
        if curves.is_empty() {
            return Err(CyclesFault::NoneWhole.into());
        }
        let (cycles, curves): (Vec<usize>, Vec<Vec<f64>>) = curves.into_iter().unzip();
        let over: Vec<OverCycles> = (0..POINTS)
            .filter_map(|p| OverCycles::of(&curves.iter().map(|c| c[p]).collect::<Vec<_>>()))
            .collect();
        let extremes: Vec<Extremes> = curves.iter().map(|c| Extremes::of(c)).collect();
        let of = |f: fn(&Extremes) -> f64| extremes.iter().map(f).collect::<Vec<_>>();
        Ok(Self {
            mean: over.iter().map(|o| o.mean).collect(),
            sd: over.iter().map(|o| o.sd.unwrap_or(0.0)).collect(),
            range: OverCycles::of(&of(|e| e.max - e.min)),
            phase_of_min_percent: OverCycles::of_phases(&of(|e| e.at_min)),
            phase_of_max_percent: OverCycles::of_phases(&of(|e| e.at_max)),
            curves,
            cycles,
            set_aside,
        })
    }
}

/// The signal from one time to another in 101 points; `None` where it is not known throughout.
#[must_use]
pub(crate) fn normalised(signal: &Pieces, start_s: f64, end_s: f64) -> Option<Vec<f64>> {
    if !signal.together(start_s, end_s) {
        return None;
    }
    (0..POINTS).map(|p| signal.at(start_s + (end_s - start_s) * p as f64 / (POINTS - 1) as f64)).collect()
}

fn extent(curve: &[f64]) -> f64 {
    let e = Extremes::of(curve);
    e.max - e.min
}

/// The extremes of a curve in 101 points, refined between points, and their places in %.
pub(crate) struct Extremes {
    pub(crate) min: f64,
    pub(crate) max: f64,
    at_min: f64,
    at_max: f64,
}

impl Extremes {
    pub(crate) fn of(curve: &[f64]) -> Self {
        let n = curve.len();
        let find = |sign: f64| {
            let mut best = 0;
            for i in 1..n {
                if sign * curve[i] > sign * curve[best] {
                    best = i;
                }
            }
            let (off, value) = if best > 0 && best + 1 < n {
                vertex(curve[best - 1], curve[best], curve[best + 1])
            } else {
                (0.0, curve[best])
            };
            (100.0 * (best as f64 + off) / (n.max(2) - 1) as f64, value)
        };
        let ((at_max, max), (at_min, min)) = (find(1.0), find(-1.0));
        Self { min, max, at_min, at_max }
    }
}

#[cfg(test)]
mod tests {
    use super::super::cycle::CycleParams;
    use super::*;

    #[test]
    fn the_band_of_a_noisy_swing_has_its_range_phase_and_spread() {
        let times: Vec<f64> = (0..1000).map(|i| f64::from(i) * 0.01).collect();
        // amplitude 20, 21, 19, 20, .. from cycle to cycle; largest at 30 % after the minimum of the driving signal
        let drive: Vec<_> = times.iter().map(|t| Some(-(TAU * t).cos())).collect();
        let v: Vec<_> = times
            .iter()
            .map(|t| Some((20.0 + [0.0, 1.0, -1.0][*t as usize % 3]) * (TAU * (t - 0.3)).cos()))
            .collect();
        let params = CycleParams { hz: Some(1.0), ..CycleParams::default() };
        let cycles = Cycles::find("drive", &times, &drive, &params).unwrap();
        let band = Band::of(&Pieces::of(&times, &v, 0.1).unwrap(), &cycles).unwrap();
        assert!(band.curves.len() >= 8 && band.mean.len() == 101, "{cycles:?}");
        assert!((band.range.unwrap().mean - 40.0).abs() < 0.6);
        assert!((band.phase_of_max_percent.unwrap().mean - 30.0).abs() < 0.3);
        assert!((band.phase_of_min_percent.unwrap().mean - 80.0).abs() < 0.3);
        assert!(band.sd[30] > 0.7 && band.sd[30] < 1.2);
    }

    #[test]
    fn a_curve_out_of_the_way_is_set_aside_with_its_distance() {
        let times: Vec<f64> = (0..900).map(|i| f64::from(i) * 0.01).collect();
        let v: Vec<_> = times
            .iter()
            .map(|t| {
                Some(
                    (10.0 + 0.1 * (7.0 * t).sin()) * (TAU * t).sin()
                        + if (4.0..5.0).contains(t) { 8.0 } else { 0.0 },
                )
            })
            .collect();
        let events: Vec<f64> = (0..9).map(f64::from).collect();
        let cycles = Cycles::between(&events, |_, _| true, 3.0).unwrap();
        let band = Band::of(&Pieces::of(&times, &v, 0.1).unwrap(), &cycles).unwrap();
        assert_eq!(band.set_aside.len(), 1, "{:?}", band.set_aside);
        assert!(matches!(&band.set_aside[0], (4, SetAside::Curve { distance, .. }) if *distance > 7.0));
    }

    #[test]
    fn phases_are_averaged_around_the_circle() {
        let p = OverCycles::of_phases(&[98.0, 2.0, 0.0]).unwrap();
        assert!(p.mean < 1e-9 || p.mean > 100.0 - 1e-9);
        assert!((p.sd.unwrap() - 2.0).abs() < 1e-9);
    }
}
