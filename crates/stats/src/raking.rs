//! Raking: weights that meet known margins.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::moments::check_weights;

/// Weights raked to margins.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Raked {
    /// One weight an observation, of mean 1.
    pub weights: Vec<f64>,
    /// Rounds taken.
    pub rounds: usize,
    /// Largest distance of a class's share from its target, after the rounds. Above 0 where weights were capped.
    pub largest_gap: f64,
    /// Weights that are at a limit.
    pub capped: usize,
}

/// A margin: the class of every observation, and the target share of every class (they are scaled to sum to 1).
#[derive(Debug, Clone, PartialEq)]
pub struct Margin<'a> {
    /// Class of every observation, a place in `shares`.
    pub classes: &'a [usize],
    /// Target share of every class.
    pub shares: &'a [f64],
}

/// The target shares of every margin, scaled to sum to 1; refuses margins that nobody can be weighted to.
fn targets(base: &[f64], margins: &[Margin<'_>]) -> Result<Vec<Vec<f64>>, StatsError> {
    let mut targets: Vec<Vec<f64>> = Vec::new();
    for margin in margins {
        if margin.classes.len() != base.len() {
            return Err(StatsError::Size {
                what: "classes of a margin",
                expected: base.len(),
                found: margin.classes.len(),
            });
        }
        let sum: f64 = margin.shares.iter().sum();
        if !(sum > 0.0 && sum.is_finite()) || margin.shares.iter().any(|s| *s < 0.0) {
            return Err(StatsError::OutOfRange {
                name: "the sum of target shares",
                value: sum,
                range: "above 0, none negative",
            });
        }
        if let Some(&class) = margin.classes.iter().find(|c| **c >= margin.shares.len()) {
            return Err(StatsError::OutOfRange {
                name: "a class",
                value: class as f64,
                range: "one of the margin's",
            });
        }
        let mut present: BTreeMap<usize, f64> = BTreeMap::new();
        margin.classes.iter().zip(base).for_each(|(c, w)| *present.entry(*c).or_default() += w);
        for (class, share) in margin.shares.iter().enumerate() {
            if *share > 0.0 && present.get(&class).is_none_or(|w| *w <= 0.0) {
                return Err(StatsError::TooFew {
                    what: "people in a class that has a target share",
                    least: 1,
                    found: 0,
                });
            }
        }
        targets.push(margin.shares.iter().map(|s| s / sum).collect());
    }
    Ok(targets)
}

/// Iterative proportional fitting (Deming & Stephan 1940): margin after margin, the weights of every class are multiplied so that its share is the target,
/// until none is off by more than 1e-9, at most 1,000 rounds. With `cap` no weight goes beyond `cap` times its mean or under the mean over `cap`;
/// weights are cut in every round, and the margins then hold as well as they can.
///
/// # Errors
/// [`StatsError::TooFew`] where a class with a target above 0 has nobody, [`StatsError::Size`], [`StatsError::OutOfRange`] for shares that are negative or sum to 0,
/// classes beyond the shares, and a cap not above 1.
pub fn rake(base: &[f64], margins: &[Margin<'_>], cap: Option<f64>) -> Result<Raked, StatsError> {
    let n = base.len();
    check_weights(n, Some(base))?;
    if let Some(cap) = cap.filter(|c| !(c.is_finite() && *c > 1.0)) {
        return Err(StatsError::OutOfRange { name: "the cap of weights", value: cap, range: "above 1" });
    }
    let targets = targets(base, margins)?;
    let mut weights = base.to_vec();
    let shares = |weights: &[f64], m: usize| {
        let mut sums = vec![0.0; targets[m].len()];
        margins[m].classes.iter().zip(weights).for_each(|(c, w)| sums[*c] += w);
        let total: f64 = weights.iter().sum();
        sums.iter().map(|s| s / total).collect::<Vec<f64>>()
    };
    let scale = |weights: &mut [f64]| {
        let mean = weights.iter().sum::<f64>() / n as f64;
        weights.iter_mut().for_each(|w| *w /= mean);
    };
    scale(&mut weights);
    let gap = |weights: &[f64]| {
        (0..margins.len())
            .flat_map(|m| {
                shares(weights, m)
                    .into_iter()
                    .zip(&targets[m])
                    .map(|(s, t)| (s - t).abs())
                    .collect::<Vec<_>>()
            })
            .fold(0.0, f64::max)
    };
    let mut rounds = 0;
    while rounds < 1000 {
        rounds += 1;
        for m in 0..margins.len() {
            let now = shares(&weights, m);
            for (w, &c) in weights.iter_mut().zip(margins[m].classes) {
                *w *= if now[c] > 0.0 { targets[m][c] / now[c] } else { 0.0 };
            }
        }
        if let Some(cap) = cap {
            // Cutting moves the mean, so that a few passes are needed.
            for _ in 0..20 {
                scale(&mut weights);
                weights.iter_mut().filter(|w| **w > 0.0).for_each(|w| *w = w.clamp(1.0 / cap, cap));
            }
        }
        scale(&mut weights);
        if gap(&weights) < 1e-9 {
            break;
        }
    }
    let largest_gap = gap(&weights);
    let capped = cap.map_or(0, |cap| {
        weights
            .iter()
            .filter(|w| **w >= cap * (1.0 - 1e-6) || (**w > 0.0 && **w <= (1.0 + 1e-6) / cap))
            .count()
    });
    Ok(Raked { weights, rounds, largest_gap, capped })
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn margins_of_a_table_are_met() {
        // A 2 x 2 table 40 30 / 20 10; wanted margins .5 .5 by .4 .6. Raking keeps the cross ratio 40 x 10 / (30 x 20) = 2/3, so with a the first
        // cell: a (a + .1) / ((.5 - a) (.4 - a)) = 2/3, a = (-2.1 + sqrt(4.41 + 1.6)) / 2 (by hand: a^2 + 2.1 a - .4 = 0).
        let mut rows = Vec::new();
        let mut columns = Vec::new();
        for (r, c, n) in [(0, 0, 40), (0, 1, 30), (1, 0, 20), (1, 1, 10)] {
            rows.extend(std::iter::repeat_n(r, n));
            columns.extend(std::iter::repeat_n(c, n));
        }
        let margins = [
            Margin { classes: &rows, shares: &[0.5, 0.5] },
            Margin { classes: &columns, shares: &[2.0, 3.0] },
        ];
        let raked = rake(&[1.0; 100], &margins, None).unwrap();
        let first: f64 = raked.weights[..40].iter().sum::<f64>() / 100.0;
        assert_relative_eq!(first, ((2.1_f64 * 2.1 + 1.6).sqrt() - 2.1) / 2.0, max_relative = 1e-8);
        assert!(raked.largest_gap < 1e-9 && raked.capped == 0);
    }

    #[test]
    fn capped_weights_stay_within_their_limits() {
        let classes: Vec<usize> = (0..100).map(|i| usize::from(i < 2)).collect();
        let margins = [Margin { classes: &classes, shares: &[0.5, 0.5] }];
        let raked = rake(&[1.0; 100], &margins, Some(4.0)).unwrap();
        assert!(raked.weights.iter().all(|w| *w <= 4.0 + 1e-9 && *w >= 0.25 - 1e-9));
        assert!(raked.largest_gap > 0.1 && raked.capped >= 2);
        assert!(rake(&[1.0; 100], &margins, Some(0.5)).is_err());
        assert!(rake(&[1.0; 2], &[Margin { classes: &[0, 0], shares: &[0.5, 0.5] }], None).is_err());
    }
}
