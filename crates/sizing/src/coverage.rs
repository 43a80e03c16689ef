//! Coverage: of the people the sizes were made from, and of people held out.

use formkin_stats::StatsError;
use formkin_stats::folds::{Fold, grouped_folds};
use formkin_stats::interval::{n_eff, wilson};
use rayon::prelude::*;

use crate::axes::{Place, nearest};
use crate::methods::{Effort, Problem};

/// A weighted share with its interval.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Share {
    pub(crate) share: f64,
    pub(crate) interval: (f64, f64),
}

impl Share {
    /// `covered` is 1 for a person who is covered, 0 for one who is not, and between where repeats differ.
    pub(crate) fn of(covered: &[f64], weights: &[f64], level: f64) -> Self {
        let total: f64 = weights.iter().sum();
        let share = (covered.iter().zip(weights).map(|(c, w)| c * w).sum::<f64>() / total).clamp(0.0, 1.0);
        let n = n_eff(weights);
        Self { share, interval: wilson(share * n, n, level) }
    }
}

/// 1 for everyone whom a size covers, else 0.
pub(crate) fn covered(points: &[&[f64]], places: &[Place]) -> Vec<f64> {
    points.iter().map(|p| f64::from(u8::from(!places.is_empty() && nearest(p, places).1.covers()))).collect()
}

/// For everyone the share of the repeats in which they were covered by sizes found without them: every repeat deals the people into folds
/// anew, and for each fold the whole derivation, rounding included, is done on the other folds.
pub(crate) fn held_out(
    problem: &Problem<'_>,
    weights: &[f64],
    k: usize,
    repeats: usize,
    effort: Effort,
) -> Result<Vec<f64>, StatsError> {
    let people: Vec<usize> = (0..weights.len()).collect();
    let plan = problem.plan;
    let mut folds: Vec<Fold> = Vec::new();
    for repeat in 0..repeats as u64 {
        // An odd constant (2^64 over the golden ratio) keeps the repeats' seeds apart from neighbouring plans' seeds.
        let seed = plan.seed.wrapping_add(repeat.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        folds.extend(grouped_folds(&people, plan.folds, seed)?);
    }
    let results: Vec<Result<Vec<f64>, StatsError>> = folds
        .par_iter()
        .map(|fold| {
            let mut train = weights.to_vec();
            fold.test.iter().for_each(|&i| train[i] = 0.0);
            let test: Vec<&[f64]> = fold.test.iter().map(|&i| problem.points[i]).collect();
            Ok(covered(&test, &problem.find(&train, k, None, effort)?.places))
        })
        .collect();
    let mut times = vec![0.0; weights.len()];
    for (fold, result) in folds.iter().zip(results) {
        for (&person, hit) in fold.test.iter().zip(result?) {
            times[person] += hit;
        }
    }
    Ok(times.into_iter().map(|t| t / repeats as f64).collect())
}
