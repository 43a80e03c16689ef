//! Exponential tilting: the weights nearest to given ones that have known means.

use ndarray::{Array2, ArrayView2};
use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::cholesky::Cholesky;
use crate::interval::n_eff;
use crate::moments::check_weights;

/// Tilted weights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Tilted {
    /// One weight an observation; they sum to 1.
    pub weights: Vec<f64>,
    /// The multiplier of every feature, per SD of the feature: 0 where it met its target by itself.
    pub multipliers: Vec<f64>,
    /// How many equal observations they are worth, (sum w)^2 / sum w^2.
    pub n_eff: f64,
    /// Rounds taken.
    pub rounds: usize,
    /// The largest distance of a weighted mean from its target, in SDs of the feature.
    pub largest_gap: f64,
}

const MOST_ROUNDS: usize = 200;
/// Gap in SDs at which the search ends.
const CLOSE: f64 = 1e-9;
/// Multipliers beyond this, per SD, mean that targets cannot be met.
const FURTHEST: f64 = 1e3;

/// Weights w of the observations, rows of `features`, with sum_i w_i f_i = `targets` and the least sum w ln(w / base): w_i = base_i exp(l . f_i) / sum (Csiszar 1975; entropy balancing,
/// Hainmueller 2012). The multipliers l are found by Newton steps on the convex dual ln sum_i base_i exp(l . (f_i - target)). Without `base` all observations are alike.
///
/// # Errors
/// [`StatsError::Size`], [`StatsError::NotFinite`]; [`StatsError::Unreachable`] with the feature that is furthest from its target where no weights do it: the targets lie outside the
/// observations, singly or together; [`StatsError::Constant`] for a feature that does not vary and is not at its target.
#[expect(clippy::too_many_lines, reason = "the steps of one iteration on the same weights")]
pub fn tilt(features: ArrayView2<f64>, base: Option<&[f64]>, targets: &[f64]) -> Result<Tilted, StatsError> {
    let (n, m) = features.dim();
    check_weights(n, base)?;
    if targets.len() != m {
        return Err(StatsError::Size { what: "targets of the features", expected: m, found: targets.len() });
    }
    if let Some(index) = features.iter().chain(targets).position(|x| !x.is_finite()) {
        return Err(StatsError::NotFinite { what: "features and their targets", index });
    }
    let sum: f64 = base.map_or(n as f64, |b| b.iter().sum());
    let base: Vec<f64> = (0..n).map(|i| base.map_or(1.0, |b| b[i]) / sum).collect();
    // in SDs from the target, so that units do not matter
    let mut z = Array2::zeros((n, m));
    let mut moving = Vec::new();
    for j in 0..m {
        let column = features.column(j);
        let mean: f64 = column.iter().zip(&base).map(|(x, b)| x * b).sum();
        let sd = column.iter().zip(&base).map(|(x, b)| b * (x - mean).powi(2)).sum::<f64>().sqrt();
        if sd > 1e-12 * mean.abs().max(1e-300) {
            moving.push(j);
            for i in 0..n {
                z[[i, j]] = (features[[i, j]] - targets[j]) / sd;
            }
        } else if (mean - targets[j]).abs() > 1e-9 * mean.abs().max(1e-300) {
            return Err(StatsError::Constant { what: "a feature that must reach another mean" });
        }
    }
    let used = moving.len();
    // log of the sum, the weights and their means
    let at = |l: &[f64]| -> (f64, Vec<f64>) {
        let scores: Vec<f64> =
            (0..n).map(|i| moving.iter().zip(l).map(|(&j, l)| l * z[[i, j]]).sum()).collect();
        let top = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut w: Vec<f64> = scores.iter().zip(&base).map(|(s, b)| b * (s - top).exp()).collect();
        let total: f64 = w.iter().sum();
        w.iter_mut().for_each(|w| *w /= total);
        (top + total.ln(), w)
    };
    let gaps = |w: &[f64]| -> Vec<f64> {
        moving.iter().map(|&j| w.iter().zip(z.column(j)).map(|(w, z)| w * z).sum()).collect()
    };
    let mut l = vec![0.0; used];
    let (mut value, mut weights) = at(&l);
    let mut gap = gaps(&weights);
    let largest = |gap: &[f64]| gap.iter().fold(0.0f64, |m, g| m.max(g.abs()));
    let mut rounds = 0;
    while largest(&gap) > CLOSE {
        let worst = (0..used).max_by(|&a, &b| gap[a].abs().total_cmp(&gap[b].abs())).unwrap_or(0);
        let far = l.iter().any(|l| l.abs() > FURTHEST);
        if far || rounds == MOST_ROUNDS {
            let column = features.column(moving[worst]);
            return Err(StatsError::Unreachable {
                feature: moving[worst],
                target: targets[moving[worst]],
                low: column.iter().copied().fold(f64::INFINITY, f64::min),
                high: column.iter().copied().fold(f64::NEG_INFINITY, f64::max),
            });
        }
        rounds += 1;
        let mut hessian = Array2::zeros((used, used));
        for (i, w) in weights.iter().enumerate() {
            for a in 0..used {
                let x = w * (z[[i, moving[a]]] - gap[a]);
                for b in 0..=a {
                    hessian[[a, b]] += x * (z[[i, moving[b]]] - gap[b]);
                }
            }
        }
        let trace: f64 = hessian.diag().sum() / used as f64;
        for a in 0..used {
            // features that follow from each other share their multiplier
            hessian[[a, a]] += 1e-10 * trace + 1e-14;
            for b in 0..a {
                hessian[[b, a]] = hessian[[a, b]];
            }
        }
        let step = match Cholesky::new(&hessian)? {
            Some(factor) => factor.solve(&gap)?,
            None => gap.iter().map(|g| g / trace.max(1e-12)).collect(),
        };
        let slope: f64 = step.iter().zip(&gap).map(|(s, g)| s * g).sum();
        let mut size = 1.0;
        loop {
            let next: Vec<f64> = l.iter().zip(&step).map(|(l, s)| l - size * s).collect();
            let (low, w) = at(&next);
            let flat = largest(&gap) < 1e-6;
            if low <= value - 1e-4 * size * slope || flat || size < 1e-10 {
                (l, value, weights) = (next, low, w);
                break;
            }
            size *= 0.5;
        }
        gap = gaps(&weights);
    }
    let mut multipliers = vec![0.0; m];
    for (&j, l) in moving.iter().zip(&l) {
        multipliers[j] = *l;
    }
    Ok(Tilted { n_eff: n_eff(&weights), multipliers, rounds, largest_gap: largest(&gap), weights })
}

#[cfg(test)]
mod tests {
    use rand::Rng;
    use rand_distr::StandardNormal;

    use super::*;
    use crate::random::stream;

    fn normal(n: usize) -> Array2<f64> {
        let mut rng = stream(3, "tilted");
        Array2::from_shape_fn((n, 2), |(_, j)| {
            let z: f64 = rng.sample(StandardNormal);
            [170.0 + 7.0 * z, 0.01 * z][j]
        })
    }

    #[test]
    fn a_normal_moves_by_its_multiplier() {
        // exp(l z) moves a standard normal by l; n_eff / n is exp(-l^2)
        let x = normal(200_000);
        let x = x.slice(ndarray::s![.., ..1]);
        let found = tilt(x, None, &[173.5]).unwrap();
        assert!((found.multipliers[0] - 0.5).abs() < 0.01, "{:?}", found.multipliers);
        assert!((found.n_eff / 200_000.0 - (-0.25f64).exp()).abs() < 0.01, "{}", found.n_eff);
        let mean: f64 = x.iter().zip(&found.weights).map(|(x, w)| x * w).sum();
        assert!((mean - 173.5).abs() < 1e-7);
    }

    #[test]
    fn means_and_spreads_are_met_together() {
        let x = normal(5000);
        let features = Array2::from_shape_fn((5000, 3), |(i, j)| match j {
            0 => x[[i, 0]],
            1 => (x[[i, 0]] - 168.0).powi(2),
            _ => f64::from(u8::from(x[[i, 1]] <= 0.0)),
        });
        let found = tilt(features.view(), None, &[168.0, 25.0, 0.3]).unwrap();
        for (j, t) in [168.0, 25.0, 0.3].iter().enumerate() {
            let mean: f64 = features.column(j).iter().zip(&found.weights).map(|(x, w)| x * w).sum();
            assert!((mean - t).abs() < 1e-6, "{j}: {mean}");
        }
        assert!((found.weights.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_is_met_already_stays() {
        let x = ndarray::array![[0.0], [1.0], [2.0]];
        let found = tilt(x.view(), None, &[1.0]).unwrap();
        assert!(found.weights.iter().all(|w| (w - 1.0 / 3.0).abs() < 1e-12) && found.rounds == 0);
        let found = tilt(x.view(), Some(&[2.0, 1.0, 1.0]), &[0.75]).unwrap();
        assert!((found.weights[0] - 0.5).abs() < 1e-12);
        assert!((found.n_eff - 1.0 / (0.25 + 0.0625 * 2.0)).abs() < 1e-9);
    }

    #[test]
    fn what_cannot_be_met_is_named() {
        let x = normal(100);
        match tilt(x.view(), None, &[250.0, 0.0]) {
            Err(StatsError::Unreachable { feature: 0, target, high, .. }) => {
                assert!(target == 250.0 && high < 200.0);
            }
            other => panic!("{other:?}"),
        }
        // each alone can be, both cannot: the second column is a copy
        let twice = Array2::from_shape_fn((100, 2), |(i, _)| x[[i, 0]]);
        assert!(matches!(tilt(twice.view(), None, &[165.0, 175.0]), Err(StatsError::Unreachable { .. })));
        // copies with one target are no contradiction
        let found = tilt(twice.view(), None, &[172.0, 172.0]).unwrap();
        assert!(found.largest_gap <= 1e-9);
        assert!(tilt(x.view(), None, &[1.0]).is_err());
        let same = Array2::from_elem((5, 1), 2.0);
        assert!(matches!(tilt(same.view(), None, &[3.0]), Err(StatsError::Constant { .. })));
        assert!(tilt(same.view(), None, &[2.0]).is_ok());
    }
}
