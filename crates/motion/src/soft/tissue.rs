//! What a point or region does in a cycle.
//!
//! Its path in the body frame is laid on an even step (gaps: [`crate::signal::gaps`]), low-passed without lag, and cut into the cycles. A range is
//! largest less smallest value in a cycle, refined between samples; the resultant is the root of the sum of their squares. Speed and acceleration are
//! central differences. The lag is that of the vertical displacement behind the frame's own vertical way in the laboratory: a positive
//! one says that the tissue is late.

use formkin_geometry::Point;
use formkin_geometry::vector::{dot, norm, scale, sub};
use serde::{Deserialize, Serialize};

use super::displacement::Path;
use crate::MotionError;
use crate::body_frame::BodyFrame;
use crate::cycles::band::{Extremes, OverCycles, normalised};
use crate::cycles::cycle::Cycles;
use crate::fault::CyclesFault;
use crate::signal::filter::cutoff_or;
use crate::signal::gaps::{LONGEST_GAP_S, Pieces};
use crate::signal::lag::{Lag, lag};
use crate::signal::noise::noise_floor;

/// The cutoff for soft tissue, in Hz (common practice: 10 to 13).
pub(crate) const CUTOFF_HZ: f64 = 12.0;

/// One cycle of a point or region.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TissueCycle {
    /// When the cycle begins, in s.
    pub start_s: f64,
    /// Range along the vertical axis of the body, in mm.
    pub vertical_mm: f64,
    /// Range along the lateral axis, in mm.
    pub lateral_mm: f64,
    /// Range along the fore-aft axis, in mm.
    pub fore_aft_mm: f64,
    /// Root of the sum of squares of the three, in mm.
    pub resultant_mm: f64,
    /// Length of the path, in mm.
    pub path_mm: f64,
    /// Greatest speed against the body, in mm/s.
    pub speed_mm_s: f64,
    /// Greatest acceleration against the body, in mm/s2.
    pub acceleration_mm_s2: f64,
    /// Range along the normal of the region, in mm.
    pub normal_mm: Option<f64>,
    /// Greatest distance from the mean place across the normal, in mm.
    pub tangential_mm: Option<f64>,
}

/// What a point or region does against a frame of the body.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tissue {
    /// Its name.
    pub name: String,
    /// Number of vertices.
    pub vertices: usize,
    /// Number of people: one.
    pub people: usize,
    /// The cycles that count.
    pub cycles: Vec<TissueCycle>,
    /// Means and SDs over those cycles; `None` without one.
    pub summary: Option<TissueSummary>,
    /// The lag of its vertical displacement behind the frame; `None` where one of them is still.
    pub lag: Option<Lag>,
    /// The noise floor of its places on each axis (lateral, fore-aft, vertical), an upper bound, in mm.
    pub noise_mm: Option<Point>,
    /// The cutoff that was applied, in Hz.
    pub cutoff_hz: Option<f64>,
    /// Share of the record in gaps.
    pub missing_share: f64,
    /// The times of `displacement_mm`, in s.
    pub times_s: Vec<f64>,
    /// Displacement from the mean place in the body frame, filtered, on an even step: lateral, fore-aft, vertical, in mm.
    pub displacement_mm: Vec<Point>,
}

/// Over the cycles of one person.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TissueSummary {
    /// Vertical range, mm.
    pub vertical_mm: OverCycles,
    /// Lateral range, mm.
    pub lateral_mm: OverCycles,
    /// Fore-aft range, mm.
    pub fore_aft_mm: OverCycles,
    /// Resultant, mm.
    pub resultant_mm: OverCycles,
    /// Path, mm.
    pub path_mm: OverCycles,
    /// Greatest speed, mm/s.
    pub speed_mm_s: OverCycles,
    /// Greatest acceleration, mm/s2.
    pub acceleration_mm_s2: OverCycles,
    /// Range along the normal, mm.
    pub normal_mm: Option<OverCycles>,
    /// Greatest distance across the normal, mm.
    pub tangential_mm: Option<OverCycles>,
}

/// Describes a path by its cycles. `cutoff_hz`: `None` for 12 Hz, lowered to two fifths of a slow sampling rate.
///
/// # Errors
/// Those of [`Pieces::of`]; those of [`cutoff_or`] for a cutoff that the rate does not allow; [`MotionError::NoCycles`] where no cycle has all its
/// frames.
pub fn tissue(
    path: &Path,
    frame: &BodyFrame,
    times_s: &[f64],
    cycles: &Cycles,
    cutoff_hz: Option<f64>,
) -> Result<Tissue, MotionError> {
    let axis = |places: &[Point], c: usize| -> Result<Pieces, MotionError> {
        let values: Vec<Option<f64>> = places.iter().map(|p| Some(p[c])).collect();
        let pieces = Pieces::of(times_s, &values, LONGEST_GAP_S)?;
        let cutoff = cutoff_or(cutoff_hz, CUTOFF_HZ, 1.0 / pieces.step_s)?;
        pieces.low_passed(cutoff)
    };
    let axes = [axis(&path.places_mm, 0)?, axis(&path.places_mm, 1)?, axis(&path.places_mm, 2)?];
    let own = axis(&frame.origins_mm, 2)?;
    let step = axes[0].step_s;
    let mut found = Vec::new();
    for cycle in cycles.counting() {
        if let Some(c) = one(&axes, cycle.start_s, cycle.end_s, path.normal) {
            found.push(c);
        }
    }
    if found.is_empty() {
        return Err(CyclesFault::PathWithGaps { path: path.name.clone() }.into());
    }
    let longest = (0..axes[2].pieces.len()).max_by_key(|&i| axes[2].pieces[i].values.len()).unwrap_or(0);
    let late = lag(
        &own.pieces[longest].values,
        &axes[2].pieces[longest].values,
        step,
        (cycles.hz > 0.0).then_some(cycles.hz),
    );
    let raw = |c: usize| {
        // a place that is not a number is one that was not seen
        let seen = path.places_mm.iter().map(|p| p[c]).filter(|v| v.is_finite());
        noise_floor(&seen.collect::<Vec<_>>())
    };
    let (times_s, places): (Vec<f64>, Vec<Point>) = (0..axes[0].pieces.len())
        .flat_map(|p| {
            let axes = &axes;
            (0..axes[0].pieces[p].values.len()).map(move |k| {
                let place: Point = std::array::from_fn(|c| axes[c].pieces[p].values[k]);
                (axes[0].pieces[p].start_s + k as f64 * step, place)
            })
        })
        .unzip();
    let mean: Point = std::array::from_fn(|c| places.iter().map(|p| p[c]).sum::<f64>() / places.len() as f64);
    Ok(Tissue {
        name: path.name.clone(),
        vertices: path.vertices,
        people: 1,
        summary: summary(&found),
        cycles: found,
        lag: late,
        noise_mm: raw(0).zip(raw(1)).zip(raw(2)).map(|((x, y), z)| [x, y, z]),
        cutoff_hz: axes[0].cutoff_hz,
        missing_share: axes[0].missing_share,
        displacement_mm: places.iter().map(|&p| sub(p, mean)).collect(),
        times_s,
    })
}

fn one(axes: &[Pieces; 3], start_s: f64, end_s: f64, normal: Option<Point>) -> Option<TissueCycle> {
    let curves = [0, 1, 2].map(|c| normalised(&axes[c], start_s, end_s));
    let [Some(x), Some(y), Some(z)] = curves else { return None };
    let places: Vec<Point> = (0..x.len()).map(|i| [x[i], y[i], z[i]]).collect();
    let range = |v: &[f64]| {
        let e = Extremes::of(v);
        e.max - e.min
    };
    let (lateral_mm, fore_aft_mm, vertical_mm) = (range(&x), range(&y), range(&z));
    let mean: Point = std::array::from_fn(|c| places.iter().map(|p| p[c]).sum::<f64>() / places.len() as f64);
    // derivatives from the samples themselves, not from what lies between them
    let step = axes[0].step_s;
    let (mut speed, mut acceleration) = (0.0f64, 0.0f64);
    for (p, piece) in axes[0].pieces.iter().enumerate() {
        let at = |k: usize| -> Point { std::array::from_fn(|c| axes[c].pieces[p].values[k]) };
        for k in 1..piece.values.len().saturating_sub(1) {
            let t = piece.start_s + k as f64 * step;
            if t >= start_s && t <= end_s {
                let (a, b, c) = (at(k - 1), at(k), at(k + 1));
                speed = speed.max(norm(sub(c, a)) / (2.0 * step));
                let second = sub(sub(c, b), sub(b, a));
                acceleration = acceleration.max(norm(second) / (step * step));
            }
        }
    }
    let along = |n: Point| -> Vec<f64> { places.iter().map(|&p| dot(sub(p, mean), n)).collect() };
    let across = |n: Point| {
        places.iter().map(move |&p| {
            let d = sub(p, mean);
            norm(sub(d, scale(n, dot(d, n))))
        })
    };
    Some(TissueCycle {
        start_s,
        vertical_mm,
        lateral_mm,
        fore_aft_mm,
        resultant_mm: norm([lateral_mm, fore_aft_mm, vertical_mm]),
        path_mm: places.windows(2).map(|w| norm(sub(w[1], w[0]))).sum(),
        speed_mm_s: speed,
        acceleration_mm_s2: acceleration,
        normal_mm: normal.map(|n| range(&along(n))),
        tangential_mm: normal.map(|n| across(n).fold(0.0, f64::max)),
    })
}

fn summary(cycles: &[TissueCycle]) -> Option<TissueSummary> {
    let of = |f: fn(&TissueCycle) -> f64| OverCycles::of(&cycles.iter().map(f).collect::<Vec<_>>());
    let some =
        |f: fn(&TissueCycle) -> Option<f64>| OverCycles::of(&cycles.iter().filter_map(f).collect::<Vec<_>>());
    Some(TissueSummary {
        vertical_mm: of(|c| c.vertical_mm)?,
        lateral_mm: of(|c| c.lateral_mm)?,
        fore_aft_mm: of(|c| c.fore_aft_mm)?,
        resultant_mm: of(|c| c.resultant_mm)?,
        path_mm: of(|c| c.path_mm)?,
        speed_mm_s: of(|c| c.speed_mm_s)?,
        acceleration_mm_s2: of(|c| c.acceleration_mm_s2)?,
        normal_mm: some(|c| c.normal_mm),
        tangential_mm: some(|c| c.tangential_mm),
    })
}
