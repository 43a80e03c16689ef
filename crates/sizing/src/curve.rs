//! Coverage against the number of sizes.

use formkin_stats::StatsError;
use formkin_stats::interval::n_eff;

use crate::coverage::{Share, covered, held_out};
use crate::job::Job;
use crate::methods::{Effort, MANY, Problem, Reach, distinct};
use crate::{CurvePoint, Knee, Plan};

/// A curve is made with fewer starts and repeats than the system itself, for time; with the fewest above so many people.
const STARTS: usize = 8;
const REPEATS: usize = 2;

/// Who is covered at which number of sizes.
pub(crate) struct Curve {
    /// Number of sizes, coverage of everyone in the sample and held out.
    counts: Vec<(usize, Vec<f64>, Vec<f64>)>,
    weights: Vec<f64>,
    /// The weight that no sizes at all can go beyond, by number of sizes.
    ceilings: Vec<Option<f64>>,
}

/// Derives the group's sizes by the problem's method for every number that the plan's `curve` asks for (without one, for the plan's own number), up to what its people allow. Where `own` has
/// the system's own number of sizes and figures, in sample and held out, they stand there.
pub(crate) fn curve(
    problem: &Problem<'_>,
    job: &Job,
    range: Option<[usize; 2]>,
    own: Option<(usize, &[f64], &[f64])>,
    ceiling: Option<&Reach>,
) -> Result<Curve, StatsError> {
    let plan = problem.plan;
    let mut counts = Vec::new();
    let mut ceilings = Vec::new();
    if let Some([least, most]) = range {
        let many = job.points.len() > MANY;
        let effort = Effort { starts: plan.starts.min(if many { 2 } else { STARTS }), nodes: 0 };
        let repeats = plan.repeats.min(if many { 1 } else { REPEATS });
        let most = most.min(job.fitted(plan)).min(distinct(&job.points));
        for count in least..=most {
            let (within, held) = match own {
                Some((at, in_sample, held)) if count == at => (in_sample.to_vec(), held.to_vec()),
                _ => {
                    let found = problem.find(&job.weights, count, None, effort)?;
                    (
                        covered(&job.points, &found.places),
                        held_out(problem, &job.weights, count, repeats, effort)?,
                    )
                }
            };
            let known: f64 = within.iter().zip(&job.weights).map(|(c, w)| c * w).sum();
            ceilings.push(
                ceiling
                    .map(|c| c.coverage.bound(&job.weights, count, known))
                    .transpose()?
                    .map(|b| b.max(known)),
            );
            counts.push((count, within, held));
        }
    }
    Ok(Curve { counts, weights: job.weights.clone(), ceilings })
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
        let ceilings =
            (0..steps).map(|s| curves.iter().map(|c| c.ceilings[s]).sum::<Option<f64>>()).collect();
        Self { counts, weights: curves.iter().flat_map(|c| c.weights.iter().copied()).collect(), ceilings }
    }

    pub(crate) fn points(&self, level: f64) -> Vec<CurvePoint> {
        let total: f64 = self.weights.iter().sum();
        self.counts
            .iter()
            .zip(&self.ceilings)
            .map(|((sizes, within, held), ceiling)| {
                let held = Share::of(held, &self.weights, level);
                CurvePoint {
                    sizes: *sizes,
                    coverage_in_sample: Share::of(within, &self.weights, level).share,
                    coverage_held_out: held.share,
                    held_out_interval: held.interval,
                    ceiling: ceiling.map(|c| (c / total).min(1.0)),
                }
            })
            .collect()
    }

    /// The knee of the held-out curve: where it stands highest over the line from its first point to its last (after Satopaa et al. 2011), and the fewest sizes within one
    /// standard error of its highest point. None under four points or where it does not rise.
    pub(crate) fn knee(&self, plan: &Plan) -> Option<Knee> {
        let points = self.points(plan.level);
        let ([first, ..], [.., last]) = (points.as_slice(), points.as_slice()) else { return None };
        let rise = last.coverage_held_out - first.coverage_held_out;
        if points.len() < 4 || rise <= 0.0 {
            return None;
        }
        let over = |p: &CurvePoint| {
            let along = (p.sizes - first.sizes) as f64 / (last.sizes - first.sizes) as f64;
            p.coverage_held_out - first.coverage_held_out - rise * along
        };
        let knee = points.iter().max_by(|a, b| over(a).total_cmp(&over(b)).then(b.sizes.cmp(&a.sizes)))?;
        let top = points.iter().map(|p| p.coverage_held_out).fold(0.0, f64::max);
        let error = (top * (1.0 - top) / n_eff(&self.weights)).sqrt();
        let enough = points.iter().find(|p| p.coverage_held_out >= top - error)?;
        Some(Knee { sizes: knee.sizes, coverage_held_out: knee.coverage_held_out, enough: enough.sizes })
    }
}
