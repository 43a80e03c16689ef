//! Coverage against the number of sizes.

use formkin_stats::StatsError;

use crate::axes::Axis;
use crate::centres::{distinct, find};
use crate::coverage::{Share, covered, held_out};
use crate::derive::Job;
use crate::{CurvePoint, Plan};

/// A curve is made with fewer starts and repeats than the system itself, for time.
const STARTS: usize = 8;
const REPEATS: usize = 2;

/// Who is covered at which number of sizes.
pub(crate) struct Curve {
    /// Number of sizes, coverage of everyone in the sample and held out.
    counts: Vec<(usize, Vec<f64>, Vec<f64>)>,
    weights: Vec<f64>,
}

/// Derives the group's sizes for every number that the plan's `curve` asks for, up to what its people allow. At the plan's own number the system's
/// own figures, `in_sample` and `held`, stand.
pub(crate) fn curve(
    plan: &Plan,
    job: &Job,
    axes: &[Axis],
    in_sample: &[f64],
    held: &[f64],
) -> Result<Curve, StatsError> {
    let mut counts = Vec::new();
    if let Some([least, most]) = plan.curve {
        let quick =
            Plan { starts: plan.starts.min(STARTS), repeats: plan.repeats.min(REPEATS), ..plan.clone() };
        let most = most.min(job.fitted(plan)).min(distinct(&job.points));
        for count in least..=most {
            counts.push(if count == job.count {
                (count, in_sample.to_vec(), held.to_vec())
            } else {
                let centres = find(&job.points, &job.weights, axes, &quick, count)?;
                let within = covered(&job.points, &centres, axes);
                (count, within, held_out(&job.points, &job.weights, axes, &quick, count)?)
            });
        }
    }
    Ok(Curve { counts, weights: job.weights.clone() })
}

impl Curve {
    /// All groups with the same number of sizes each, for the numbers that every group allows.
    pub(crate) fn together(curves: &[Self]) -> Self {
        let steps = curves.iter().map(|c| c.counts.len()).min().unwrap_or(0);
        let counts = (0..steps)
            .map(|s| {
                let count = curves.first().map_or(0, |c| c.counts[s].0);
                let within = curves.iter().flat_map(|c| c.counts[s].1.iter().copied()).collect();
                let held = curves.iter().flat_map(|c| c.counts[s].2.iter().copied()).collect();
                (count, within, held)
            })
            .collect();
        Self { counts, weights: curves.iter().flat_map(|c| c.weights.iter().copied()).collect() }
    }

    pub(crate) fn points(&self, level: f64) -> Vec<CurvePoint> {
        self.counts
            .iter()
            .map(|(sizes, within, held)| {
                let held = Share::of(held, &self.weights, level);
                CurvePoint {
                    sizes: *sizes,
                    coverage_in_sample: Share::of(within, &self.weights, level).share,
                    coverage_held_out: held.share,
                    held_out_interval: held.interval,
                }
            })
            .collect()
    }
}
