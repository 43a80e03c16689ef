//! Jumps, frozen and dropped frames, and a floor that drifts.

use formkin_stats::quantile::{mad, median};

use super::look::Look;
use super::params::CheckParams;
use crate::cohort::{Cohort, median_step};
use crate::finding::{Finding, FindingKind, Severity};
use crate::item::Capture;

/// Frames that the trend of the floor is taken from.
const TREND_FRAMES: usize = 400;
/// A drift of more than so many times the limit is a body that climbs, not a floor that moves.
const CLIMBS: f64 = 20.0;

pub(crate) fn findings(cohort: &Cohort, looks: &[Look], params: &CheckParams) -> Vec<Finding> {
    let mut all = Vec::new();
    for capture in cohort.captures() {
        all.extend(jumps(cohort, &capture, looks, params));
        all.extend(frozen(cohort, &capture, looks, params));
        all.extend(dropped(cohort, &capture, params));
        all.extend(drift(&capture, looks, params));
    }
    all
}

/// Runs of steps between frames for which `is` holds; each run is its first and last step.
fn runs(steps: usize, is: impl Fn(usize) -> bool) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for step in (0..steps).filter(|&s| is(s)) {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == step => *last = step,
            _ => runs.push((step, step)),
        }
    }
    runs
}

/// Area, and volume of closed surfaces, from one frame to the next, in per cent; the larger change of the two.
fn change(before: &Look, after: &Look) -> f64 {
    let percent = |a: f64, b: f64| if a == 0.0 { 0.0 } else { 100.0 * (b - a) / a };
    let area = percent(before.area_mm2, after.area_mm2);
    match (before.volume_mm3, after.volume_mm3) {
        (Some(a), Some(b)) if percent(a, b).abs() > area.abs() => percent(a, b),
        _ => area,
    }
}

fn jumps(cohort: &Cohort, capture: &Capture, looks: &[Look], params: &CheckParams) -> Vec<Finding> {
    let frames = &capture.items;
    let frame = |k: usize| cohort.items()[frames[k]].frame;
    let step = |s: usize| -> f64 {
        let (a, b) = (&looks[frames[s]], &looks[frames[s + 1]]);
        let adjacent = frame(s + 1) == frame(s).map(|f| f.saturating_add(1));
        if adjacent && a.not_finite.is_none() && b.not_finite.is_none() { change(a, b) } else { 0.0 }
    };
    let steps = frames.len().saturating_sub(1);
    let changes: Vec<f64> = (0..steps).map(step).collect();
    runs(steps, |s| changes[s].abs() > params.jump_percent)
        .into_iter()
        .map(|(first, last)| {
            let worst = (first..=last)
                .max_by(|&a, &b| changes[a].abs().total_cmp(&changes[b].abs()))
                .unwrap_or(first);
            // two jumps in a row are one bad frame between them
            let item = &cohort.items()[frames[first + 1]];
            Finding {
                item: item.item.clone(),
                kind: FindingKind::AreaOrVolumeJump,
                severity: Severity::Error,
                message: format!(
                    "area or volume jumps by {:+.1} % from frame {} to {} of `{}`{}",
                    changes[worst],
                    frame(worst).unwrap_or(0),
                    frame(worst + 1).unwrap_or(0),
                    capture.id,
                    if last > first {
                        format!(", {} jumps in a row", last - first + 1)
                    } else {
                        String::new()
                    }
                ),
                amount: Some(changes[worst]),
                unit: Some("%".to_owned()),
                advice: "look at the frame; leave collapsed or exploded frames out".to_owned(),
            }
        })
        .collect()
}

fn frozen(cohort: &Cohort, capture: &Capture, looks: &[Look], params: &CheckParams) -> Vec<Finding> {
    let frames = &capture.items;
    let still = |s: usize| looks[frames[s + 1]].moved_mm.is_some_and(|m| m < params.frozen_mm);
    runs(frames.len().saturating_sub(1), still)
        .into_iter()
        .map(|(first, last)| {
            let (from, to) = (&cohort.items()[frames[first]], &cohort.items()[frames[last + 1]]);
            let count = last - first + 1;
            Finding {
                item: to.item.clone(),
                kind: FindingKind::FrozenFrames,
                severity: Severity::Warning,
                message: format!(
                    "frames {} to {} of `{}` do not move",
                    from.frame.unwrap_or(0),
                    to.frame.unwrap_or(0),
                    capture.id
                ),
                amount: Some(count as f64),
                unit: Some("frames".to_owned()),
                advice: "the capture may have hung: leave the copies out".to_owned(),
            }
        })
        .collect()
}

fn dropped(cohort: &Cohort, capture: &Capture, params: &CheckParams) -> Option<Finding> {
    let times: Option<Vec<f64>> = capture.items.iter().map(|&i| cohort.items()[i].time_s).collect();
    let times = times?;
    let step = median_step(&times)?;
    let gaps: Vec<usize> =
        (1..times.len()).filter(|&k| times[k] - times[k - 1] > params.gap_factor * step).collect();
    let longest = gaps.iter().map(|&k| times[k] - times[k - 1]).fold(0.0, f64::max);
    let first = *gaps.first()?;
    Some(Finding {
        item: capture.id.clone(),
        kind: FindingKind::DroppedFrames,
        severity: Severity::Warning,
        message: format!(
            "{} holes in the time stamps, the first before {:.3} s, the longest {longest:.3} s at a usual step of {step:.4} s",
            gaps.len(),
            times[first]
        ),
        amount: Some(longest),
        unit: Some("s".to_owned()),
        advice: "fill holes of up to 0.1 s, split the sequence at longer ones; filter across none".to_owned(),
    })
}

/// The trend of the lowest point (Theil-Sen: the median slope between pairs of frames) over the sequence. It counts where it
/// exceeds three times the median deviation from it, so that feet that leave the floor are no drift, and up to twenty times the
/// limit: beyond that the body climbs or is lifted.
fn drift(capture: &Capture, looks: &[Look], params: &CheckParams) -> Option<Finding> {
    let step = capture.items.len().div_ceil(TREND_FRAMES).max(1);
    let floors: Vec<f64> = capture
        .items
        .iter()
        .step_by(step)
        .filter(|&&i| looks[i].not_finite.is_none())
        .map(|&i| looks[i].floor_mm)
        .collect();
    if floors.len() < 10 {
        return None;
    }
    let slopes: Vec<f64> = (0..floors.len())
        .flat_map(|i| (i + 1..floors.len()).map(move |j| (i, j)))
        .map(|(i, j)| (floors[j] - floors[i]) / (j - i) as f64)
        .collect();
    let slope = median(&slopes, None).ok()?;
    let off: Vec<f64> = floors.iter().enumerate().map(|(i, f)| f - slope * i as f64).collect();
    let spread = mad(&off, None).ok()?;
    let drift = slope * (floors.len() - 1) as f64;
    let limit = params.floor_drift_mm;
    (drift.abs() > limit && drift.abs() < CLIMBS * limit && drift.abs() > 3.0 * spread).then(|| Finding {
        item: capture.id.clone(),
        kind: FindingKind::FloorDrift,
        severity: Severity::Warning,
        message: format!("the lowest point drifts by {drift:+.1} mm during `{}`", capture.id),
        amount: Some(drift),
        unit: Some("mm".to_owned()),
        advice: "check the calibration of the floor; heights change by as much".to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_of_steps() {
        let marked = [true, true, false, true, false, false, true];
        assert_eq!(runs(7, |s| marked[s]), [(0, 1), (3, 3), (6, 6)]);
        assert_eq!(runs(0, |_| true), []);
    }
}
