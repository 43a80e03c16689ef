//! The least loss of fit, where too tight and too loose cost differently.

use formkin_stats::StatsError;

use super::problem::{Effort, Problem};
use crate::Loss;
use crate::axes::{Place, lexical};

/// Most rounds of assignment and improvement.
const ROUNDS: usize = 60;
/// Most rounds of a size's value.
const VALUE_ROUNDS: usize = 100;

/// The loss on one axis with d = ln person - ln size.
#[derive(Clone, Copy)]
struct Side {
    loose: f64,
    tight: f64,
    free_below: f64,
    free_above: f64,
}

impl Side {
    /// The distance out of the free zone, and its cost a unit squared.
    fn out(self, d: f64) -> (f64, f64) {
        if d < -self.free_below {
            (d + self.free_below, self.loose * self.loose)
        } else if d > self.free_above {
            (d - self.free_above, self.tight * self.tight)
        } else {
            (0.0, 0.0)
        }
    }

    fn loss(self, d: f64) -> f64 {
        let (out, cost) = self.out(d);
        cost * out * out
    }

    /// ln of the value of least loss for people with ln values `logs`: the loss is convex, its derivative is halved to 0.
    fn best(self, logs: &[(f64, f64)]) -> f64 {
        let mut low = logs.iter().map(|l| l.0).fold(f64::INFINITY, f64::min);
        let mut high = logs.iter().map(|l| l.0).fold(f64::NEG_INFINITY, f64::max);
        (low, high) = (low - self.free_above, high + self.free_below);
        // Half of the derivative by the size's value, with the sign turned: falls as the value rises.
        let pull = |z: f64| -> f64 {
            logs.iter()
                .map(|(x, w)| {
                    let (out, cost) = self.out(x - z);
                    w * cost * out
                })
                .sum()
        };
        // Where there is no loss over a range of values, its middle.
        let edge = |strictly: bool| {
            let (mut a, mut b) = (low, high);
            for _ in 0..VALUE_ROUNDS {
                let middle = (a + b) / 2.0;
                let p = pull(middle);
                if p > 0.0 || (strictly && p == 0.0) {
                    a = middle
                } else {
                    b = middle
                }
                if b - a < 1e-13 * b.abs().max(1.0) {
                    break;
                }
            }
            (a + b) / 2.0
        };
        (edge(false) + edge(true)) / 2.0
    }
}

impl Problem<'_> {
    /// Alternates between giving everyone the size of least loss and giving every size the value of least loss to its wearers, from k-means and from starts
    /// of it with other seeds; the best is kept. Neither step raises the sum of w_i sum_j (a_j d_ij)^2. Without a loss in the plan a is one over the tolerance on either side, so
    /// that the loss is 1 at a limit.
    #[expect(clippy::too_many_lines, reason = "one search whose state would be handed to every piece")]
    pub(super) fn least_loss(
        &self,
        weights: &[f64],
        k: usize,
        warm: Option<&[Place]>,
        effort: Effort,
    ) -> Result<Vec<Place>, StatsError> {
        let used: Vec<usize> = (0..weights.len()).filter(|&i| weights[i] > 0.0).collect();
        let total: f64 = used.iter().map(|&i| weights[i]).sum();
        let dims = self.axes.len();
        let mean = |j: usize| used.iter().map(|&i| weights[i] * self.points[i][j]).sum::<f64>() / total;
        let mut sides = Vec::with_capacity(dims);
        for (j, axis) in self.axes.iter().enumerate() {
            let mean = mean(j);
            let smallest = used.iter().map(|&i| self.points[i][j]).fold(f64::INFINITY, f64::min);
            if smallest <= 0.0 {
                return Err(StatsError::OutOfRange {
                    name: "a control dimension in log scale",
                    value: smallest,
                    range: "above 0",
                });
            }
            let loss = axis.loss.unwrap_or(Loss {
                loose: mean / axis.info.below,
                tight: mean / axis.info.above,
                free_below: 0.0,
                free_above: 0.0,
            });
            sides.push(Side {
                loose: loss.loose,
                tight: loss.tight,
                free_below: (1.0 + loss.free_below / mean).ln(),
                free_above: (1.0 + loss.free_above / mean).ln(),
            });
        }
        let logs: Vec<Vec<f64>> =
            used.iter().map(|&i| self.points[i].iter().map(|v| v.ln()).collect()).collect();
        let run = |mut sizes: Vec<Vec<f64>>| -> (f64, Vec<Vec<f64>>) {
            let mut labels = vec![usize::MAX; used.len()];
            let mut cost = f64::INFINITY;
            for _ in 0..ROUNDS {
                let mut changed = false;
                cost = 0.0;
                for (p, x) in logs.iter().enumerate() {
                    let (mut best, mut least) = (0, f64::INFINITY);
                    for (s, size) in sizes.iter().enumerate() {
                        let loss: f64 = (0..dims).map(|j| sides[j].loss(x[j] - size[j])).sum();
                        if loss < least {
                            (best, least) = (s, loss);
                        }
                    }
                    changed |= labels[p] != best;
                    labels[p] = best;
                    cost += weights[used[p]] * least;
                }
                if !changed {
                    break;
                }
                for (s, size) in sizes.iter_mut().enumerate() {
                    for j in 0..dims {
                        let own: Vec<(f64, f64)> = (0..used.len())
                            .filter(|&p| labels[p] == s)
                            .map(|p| (logs[p][j], weights[used[p]]))
                            .collect();
                        if !own.is_empty() {
                            size[j] = sides[j].best(&own);
                        }
                    }
                }
            }
            (cost, sizes)
        };
        let as_logs = |places: &[Place]| -> Vec<Vec<f64>> {
            places.iter().map(|p| p.centre.iter().map(|v| v.max(1e-9).ln()).collect()).collect()
        };
        let mut best = match warm {
            Some(warm) => run(as_logs(warm)),
            None => {
                let mut best = run(as_logs(&self.means(weights, k, None, effort)?));
                for start in 1..effort.starts.min(4) as u64 {
                    let seed = self.plan.seed.wrapping_add(start);
                    let other =
                        formkin_stats::cluster::k_means(self.scaled.view(), Some(weights), k, 1, seed)?;
                    let places: Vec<Place> =
                        other.centres.rows().into_iter().map(|r| self.about(r.iter().copied())).collect();
                    let found = run(as_logs(&places));
                    if found.0 < best.0 {
                        best = found;
                    }
                }
                best
            }
        };
        best.1.sort_by(|a, b| lexical(a, b));
        Ok(best
            .1
            .into_iter()
            .map(|z| Place::of(self.axes.iter().zip(z).map(|(a, v)| a.round(v.exp())).collect(), self.axes))
            .collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_value_of_least_loss() {
        let even = Side { loose: 1.0, tight: 1.0, free_below: 0.0, free_above: 0.0 };
        // Of least squares: the mean.
        assert!((even.best(&[(1.0, 1.0), (2.0, 1.0), (6.0, 2.0)]) - 3.75).abs() < 1e-9);
        // Tight costs three times: 9 (6 - z) = (z - 0): z = 5.4.
        let tight = Side { tight: 3.0, ..even };
        assert!((tight.best(&[(0.0, 1.0), (6.0, 1.0)]) - 5.4).abs() < 1e-9);
        // Nobody loses between 5 and 7: the middle.
        let free = Side { free_below: 2.0, free_above: 3.0, ..even };
        assert!((free.best(&[(5.0, 1.0), (8.0, 1.0)]) - 6.0).abs() < 1e-9);
    }
}
