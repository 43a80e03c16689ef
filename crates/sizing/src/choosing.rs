//! Nested cross-validation: what coverage to expect where the method or the number of sizes is chosen by looking at held-out coverage.
//!
//! Whoever takes the best of several held-out figures takes luck along with it. So the choice itself is repeated without the people it is judged on: in every outer fold the
//! options are compared by cross-validation among the other people, sizes are derived on these by the option that wins, and the people of the fold are fitted or not
//! (Stone 1974, J. R. Stat. Soc. B 36; Varma & Simon 2006, BMC Bioinformatics 7:91).

use formkin_stats::StatsError;
use formkin_stats::folds::grouped_folds;
use formkin_stats::interval::n_eff;
use rayon::prelude::*;

use crate::axes::Axis;
use crate::coverage::{Share, covered, held_out};
use crate::job::Job;
use crate::methods::{Effort, MANY, Problem};
use crate::system::{Chosen, ChosenBy, ChosenOption};
use crate::{CurvePoint, Method, MethodCurve, Plan};

/// Folds of people outside and inside; fewer where people are many, for time.
const FOLDS: usize = 5;
const FOLDS_OF_MANY: usize = 3;
/// Starts of a derivation.
const STARTS: usize = 4;
/// A group of fewer people is not split twice.
const FEW: usize = 20;

/// An option: a method, and a number of sizes in every group (without one, the plan's).
#[derive(Clone, Copy)]
struct Candidate {
    method: Method,
    count: Option<usize>,
}

/// The people of a group on one side of an outer fold.
struct Side<'a> {
    points: Vec<&'a [f64]>,
    shape: Vec<&'a [f64]>,
    weights: Vec<f64>,
}

/// The choice of a method at the plan's number of sizes, where the plan compares some, and that of the number, where it asks for a curve. Nothing where a group is too small to be split twice.
/// `own` is the held-out coverage of the plan's method at its number of sizes.
pub(crate) fn chosen(
    plan: &Plan,
    jobs: &[Job],
    axes: &[Axis],
    (compared, curve): (&[MethodCurve], &[CurvePoint]),
    own: f64,
) -> Result<Vec<Chosen>, StatsError> {
    let mut made = Vec::new();
    if jobs.iter().any(|j| j.points.len() < FEW) {
        return Ok(made);
    }
    let number = jobs.iter().map(|j| j.count).max().unwrap_or(1);
    let others = || compared.iter().filter(|c| c.method != plan.method);
    // the plan's method first, so that it wins ties
    let methods: Vec<Candidate> = std::iter::once(plan.method)
        .chain(others().map(|c| c.method))
        .map(|method| Candidate { method, count: None })
        .collect();
    let at = |c: &MethodCurve| c.points.iter().find(|p| p.sizes == number).map(|p| p.coverage_held_out);
    if methods.len() > 1 {
        let shown = others().filter_map(at).fold(own, f64::max);
        made.push(choose(plan, jobs, axes, ChosenBy::Method, &methods, shown)?);
    }
    let numbers: Vec<Candidate> =
        curve.iter().map(|p| Candidate { method: plan.method, count: Some(p.sizes) }).collect();
    let people: f64 = jobs.iter().map(|j| n_eff(&j.weights)).sum();
    let shares: Vec<f64> = curve.iter().map(|p| p.coverage_held_out).collect();
    if numbers.len() > 1 {
        let shown = shares[ChosenBy::Number.best(&shares, people)];
        made.push(choose(plan, jobs, axes, ChosenBy::Number, &numbers, shown)?);
    }
    Ok(made)
}

impl ChosenBy {
    /// Which of the options, by their held-out coverage: the first of the highest; of numbers of sizes, ascending, the fewest within one standard error of the highest.
    fn best(self, shares: &[f64], people: f64) -> usize {
        let top = shares.iter().copied().fold(0.0, f64::max);
        let least = match self {
            Self::Method => top,
            Self::Number => top - (top * (1.0 - top) / people).sqrt(),
        };
        shares.iter().position(|s| *s >= least).unwrap_or(0)
    }
}

fn choose(
    plan: &Plan,
    jobs: &[Job],
    axes: &[Axis],
    by: ChosenBy,
    options: &[Candidate],
    shown: f64,
) -> Result<Chosen, StatsError> {
    let people: usize = jobs.iter().map(|j| j.points.len()).sum();
    let many = people > MANY;
    let folds = if many { FOLDS_OF_MANY } else { FOLDS };
    let effort = Effort { starts: plan.starts.min(if many { 2 } else { STARTS }), nodes: 0 };
    let dealt = jobs
        .iter()
        .map(|j| grouped_folds(&(0..j.points.len()).collect::<Vec<_>>(), folds, plan.seed ^ 0x6e65_7374))
        .collect::<Result<Vec<_>, _>>()?;
    let mut wins = vec![0; options.len()];
    let mut sums = vec![0.0; options.len()];
    let (mut hits, mut weights) = (Vec::new(), Vec::new());
    for fold in 0..folds {
        let inner = Plan { folds, seed: plan.seed.wrapping_add(fold as u64 + 1), ..plan.clone() };
        let side = |j: usize, of: &[usize]| Side {
            points: of.iter().map(|&i| jobs[j].points[i]).collect(),
            shape: of.iter().map(|&i| jobs[j].shape[i]).collect(),
            weights: of.iter().map(|&i| jobs[j].weights[i]).collect(),
        };
        let trains: Vec<Side> = dealt.iter().enumerate().map(|(j, d)| side(j, &d[fold].train)).collect();
        let total: f64 = trains.iter().flat_map(|s| &s.weights).sum();
        let shares: Vec<f64> = options
            .par_iter()
            .map(|option| {
                let mut sum = 0.0;
                for (job, train) in jobs.iter().zip(&trains) {
                    let problem = Problem::new(&train.points, &train.shape, axes, &inner, option.method);
                    let count = option.count.unwrap_or(job.count);
                    let held = held_out(&problem, &train.weights, count, 1, effort)?;
                    sum += held.iter().zip(&train.weights).map(|(c, w)| c * w).sum::<f64>();
                }
                Ok(sum / total)
            })
            .collect::<Result<_, StatsError>>()?;
        let best = by.best(&shares, trains.iter().map(|s| n_eff(&s.weights)).sum());
        wins[best] += 1;
        sums.iter_mut().zip(&shares).for_each(|(sum, share)| *sum += share);
        for (j, (job, train)) in jobs.iter().zip(&trains).enumerate() {
            let problem = Problem::new(&train.points, &train.shape, axes, &inner, options[best].method);
            let count = options[best].count.unwrap_or(job.count);
            let found = problem.find(&train.weights, count, None, effort)?;
            let test = side(j, &dealt[j][fold].test);
            hits.extend(covered(&test.points, &found.places));
            weights.extend(test.weights);
        }
    }
    let share = Share::of(&hits, &weights, plan.level);
    Ok(Chosen {
        by,
        folds,
        options: options
            .iter()
            .zip(wins)
            .zip(sums)
            .map(|((o, times), sum)| ChosenOption {
                method: o.method,
                sizes: o.count,
                coverage_held_out: sum / folds as f64,
                times,
            })
            .collect(),
        coverage_shown: shown,
        coverage_nested: share.share,
        nested_interval: share.interval,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fewest_sizes_within_an_error_and_the_best_method_win() {
        // at 100 people the error of 0.80 is 0.04
        assert_eq!(ChosenBy::Number.best(&[0.5, 0.75, 0.77, 0.8, 0.79], 100.0), 2);
        assert_eq!(ChosenBy::Number.best(&[0.5, 0.75, 0.77, 0.8, 0.79], 40.0), 1);
        assert_eq!(ChosenBy::Method.best(&[0.5, 0.8, 0.7, 0.8], 100.0), 1);
    }
}
