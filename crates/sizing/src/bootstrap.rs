//! Resamples of the people: the whole derivation again, for intervals and for the stability of the sizes.

use formkin_stats::StatsError;
use formkin_stats::agreement::adjusted_rand;
use formkin_stats::bootstrap::{percentile_interval, resample};
use formkin_stats::moments::{mean, sd};
use formkin_stats::quantile::median;
use rayon::prelude::*;

use crate::axes::{Place, nearest};
use crate::methods::{Effort, MANY, Problem};
use crate::{Resampled, Stability};

/// A size has come back where another lies within so much of its tolerances.
const BACK: f64 = 0.5;
/// Agreement is judged on at most so many people.
const JUDGED: usize = 1000;
/// Resamples in which the sizes are derived anew, without the sizes as a start; fewer where people are many, for time.
const ANEW: usize = 200;
const ANEW_OF_MANY: usize = 50;

/// What a resample gave.
pub(crate) struct Resample {
    /// Weight covered of the people drawn (each as often as drawn), and all their weight.
    drawn: (f64, f64),
    /// The same of all people, and of those not drawn.
    all: (f64, f64),
    others: (f64, f64),
    anew: Option<Anew>,
}

/// What sizes derived anew have to do with the sizes.
#[derive(Clone)]
struct Anew {
    agreement: Option<f64>,
    /// Distance of the nearest new size from every size.
    shifts: Vec<f64>,
}

/// Draws the people of a group with replacement and finds the sizes again. Coverage is that of sizes found from the sizes themselves as a start. Whether sizes come back is asked
/// of the first resamples alone, in which the derivation knows nothing of the sizes: from the sizes as a start it would stay at an optimum near them, though another be better.
pub(crate) fn resamples(
    problem: &Problem<'_>,
    weights: &[f64],
    k: usize,
    places: &[Place],
    cold: Effort,
) -> Result<Vec<Resample>, StatsError> {
    let plan = problem.plan;
    let people: Vec<usize> = (0..weights.len()).collect();
    let effort = Effort { starts: 1, nodes: 0 };
    let anew = if people.len() > MANY { ANEW_OF_MANY } else { ANEW };
    let stride = weights.len().div_ceil(JUDGED).max(1);
    let judged: Vec<usize> = people.iter().copied().step_by(stride).collect();
    let judged_weights: Vec<f64> = judged.iter().map(|&i| weights[i]).collect();
    let worn: Vec<usize> = judged.iter().map(|&i| nearest(problem.points[i], places).0).collect();
    let results: Vec<Result<Resample, StatsError>> = (0..plan.bootstrap)
        .into_par_iter()
        .map(|which| {
            let mut drawn = vec![0.0; weights.len()];
            for i in resample(&people, plan.seed, which) {
                drawn[i] += weights[i];
            }
            let found = problem.find(&drawn, k, Some(places), effort)?.places;
            let mut result = Resample { drawn: (0.0, 0.0), all: (0.0, 0.0), others: (0.0, 0.0), anew: None };
            if which < anew {
                let found = problem.find(&drawn, k, None, cold)?.places;
                let again =
                    || judged.iter().map(|&i| nearest(problem.points[i], &found).0).collect::<Vec<_>>();
                result.anew = (!found.is_empty()).then(|| Anew {
                    agreement: adjusted_rand(&worn, &again(), Some(&judged_weights)),
                    shifts: places
                        .iter()
                        .map(|p| found.iter().map(|f| p.apart(f)).fold(f64::INFINITY, f64::min))
                        .collect(),
                });
            }
            for (i, point) in problem.points.iter().enumerate() {
                let covers = !found.is_empty() && nearest(point, &found).1.covers();
                let hit = f64::from(u8::from(covers));
                for (sums, weight) in [
                    (&mut result.drawn, drawn[i]),
                    (&mut result.all, weights[i]),
                    (&mut result.others, if drawn[i] > 0.0 { 0.0 } else { weights[i] }),
                ] {
                    sums.0 += hit * weight;
                    sums.1 += weight;
                }
            }
            Ok(result)
        })
        .collect();
    results.into_iter().collect()
}

/// Adds resamples of groups up, one with one.
pub(crate) fn together(groups: &[Vec<Resample>]) -> Vec<Resample> {
    let count = groups.iter().map(Vec::len).min().unwrap_or(0);
    (0..count)
        .map(|b| {
            let sum = |of: fn(&Resample) -> (f64, f64)| {
                groups.iter().map(|g| of(&g[b])).fold((0.0, 0.0), |s, x| (s.0 + x.0, s.1 + x.1))
            };
            let agreements: Vec<f64> = groups.iter().filter_map(|g| g[b].anew.as_ref()?.agreement).collect();
            Resample {
                drawn: sum(|r| r.drawn),
                all: sum(|r| r.all),
                others: sum(|r| r.others),
                anew: groups
                    .iter()
                    .all(|g| g[b].anew.is_some())
                    .then(|| Anew { agreement: mean(&agreements, None).ok(), shifts: Vec::new() }),
            }
        })
        .collect()
}

/// Sums the resamples up about the held-out coverage.
pub(crate) fn summary(resamples: &[Resample], held_out: f64, level: f64) -> Option<Resampled> {
    let share = |x: (f64, f64)| if x.1 > 0.0 { x.0 / x.1 } else { f64::NAN };
    let own: Vec<f64> = resamples.iter().map(|r| share(r.drawn)).collect();
    let others: Vec<f64> = resamples.iter().map(|r| share(r.others)).filter(|v| v.is_finite()).collect();
    let optimism: Vec<f64> = resamples.iter().map(|r| share(r.drawn) - share(r.all)).collect();
    let anew: Vec<&Anew> = resamples.iter().filter_map(|r| r.anew.as_ref()).collect();
    let agreement: Vec<f64> = anew.iter().filter_map(|a| a.agreement).collect();
    let centre = mean(&own, None).ok()?;
    let (low, high) = percentile_interval(&own, level).ok()?;
    let at = |q: f64| (held_out + q - centre).clamp(0.0, 1.0);
    Some(Resampled {
        resamples: resamples.len(),
        anew: anew.len(),
        coverage_interval: (at(low), at(high)),
        standard_error: sd(&own, None).ok()?,
        coverage_out_of_bag: mean(&others, None).ok()?,
        optimism: mean(&optimism, None).ok()?,
        agreement: mean(&agreement, None).unwrap_or(1.0),
    })
}

/// Whether size number `size` comes back where the sizes are derived anew.
pub(crate) fn stability(resamples: &[Resample], size: usize) -> Option<Stability> {
    let shifts: Vec<f64> =
        resamples.iter().filter_map(|r| r.anew.as_ref()?.shifts.get(size).copied()).collect();
    let back = shifts.iter().filter(|s| **s <= BACK).count();
    Some(Stability {
        median_shift: median(&shifts, None).ok()?,
        comes_back: back as f64 / shifts.len() as f64,
    })
}
