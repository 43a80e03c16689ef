//! k-medoids for any dissimilarity.

use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::StatsError;
use crate::moments::check_weights;

/// The most candidates that BUILD tries.
const MOST_CANDIDATES: usize = 1000;

/// Clusters around members.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KMedoids {
    /// Items that are medoids, ascending.
    pub medoids: Vec<usize>,
    /// Place in `medoids` of every item's nearest, the first of equal ones.
    pub labels: Vec<usize>,
    /// Weighted sum of the dissimilarities of the items from their medoids.
    pub cost: f64,
    /// Exchanges made after the first choice.
    pub swaps: usize,
}

/// Clusters `n` items around `k` of them: minimises sum_i w_i min_m d(i, m), where `dissimilarity(i, m)` is that of item i from candidate m; it may
/// be asymmetric and must not be negative. For a matrix pass `|i, m| matrix[[i, m]]`.
///
/// BUILD and SWAP of Kaufman & Rousseeuw 1990 with the exchanges of Schubert & Rousseeuw 2021: one candidate is tried against all medoids at once, in n
/// dissimilarities instead of k n, and the best exchange is made at once where it lowers the cost; candidates are tried in order until none does. So
/// no single exchange lowers the cost of the result. Among more than 1,000 items BUILD tries every second, third, ... as a candidate; SWAP tries all.
/// Nothing is random, and the number of threads changes nothing.
///
/// # Errors
/// [`StatsError::TooManyClusters`] for more medoids than items, [`StatsError::OutOfRange`] for none or for a dissimilarity below 0,
/// [`StatsError::NotFinite`] (position i n + m) and bad weights as [`mean`](crate::moments::mean).
pub(crate) fn k_medoids<D>(
    n: usize,
    weights: Option<&[f64]>,
    k: usize,
    dissimilarity: D,
) -> Result<KMedoids, StatsError>
where
    D: Fn(usize, usize) -> f64 + Sync,
{
    check_weights(n, weights)?;
    check_dissimilarity(n, &dissimilarity)?;
    let all: Vec<usize> = (0..n).collect();
    k_medoids_among(n, weights, &all, None, k, dissimilarity)
}

/// As `k_medoids`, with medoids from `candidates` alone (ascending), and from the medoids `start` where there are some: for many items, where a sample of
/// candidates does nearly as well, and for resamples, where a good start is known. The time grows with items x candidates. The dissimilarities are not checked;
/// one that is not finite never makes a medoid better.
///
/// # Errors
/// [`StatsError::TooManyClusters`] for more medoids than candidates, [`StatsError::OutOfRange`] for none, bad weights.
pub fn k_medoids_among<D>(
    n: usize,
    weights: Option<&[f64]>,
    candidates: &[usize],
    start: Option<&[usize]>,
    k: usize,
    dissimilarity: D,
) -> Result<KMedoids, StatsError>
where
    D: Fn(usize, usize) -> f64 + Sync,
{
    check_weights(n, weights)?;
    if k == 0 {
        return Err(StatsError::OutOfRange {
            name: "the number of clusters",
            value: 0.0,
            range: "1 or more",
        });
    }
    if k > candidates.len() {
        return Err(StatsError::TooManyClusters { clusters: k, distinct: candidates.len() });
    }
    let weight = |i: usize| weights.map_or(1.0, |w| w[i]);
    let mut medoids = match start {
        Some(start) if start.len() == k => start.to_vec(),
        _ => build(n, &weight, candidates, k, &dissimilarity),
    };
    let swaps = swap(n, &weight, candidates, &mut medoids, &dissimilarity);
    medoids.sort_unstable();
    let near: Vec<Near> = (0..n).map(|i| Near::of(i, &medoids, &dissimilarity)).collect();
    let cost = (0..n).map(|i| weight(i) * near[i].first).sum();
    Ok(KMedoids { labels: near.iter().map(|at| at.medoid).collect(), medoids, cost, swaps })
}

/// BUILD: each new medoid lowers the cost most; of equal ones the first.
fn build<D: Fn(usize, usize) -> f64 + Sync>(
    n: usize,
    weight: &(impl Fn(usize) -> f64 + Sync),
    all: &[usize],
    k: usize,
    dissimilarity: &D,
) -> Vec<usize> {
    let stride = (all.len() / MOST_CANDIDATES.max(k)).max(1);
    let mut medoids: Vec<usize> = Vec::with_capacity(k);
    let mut nearest = vec![f64::INFINITY; n];
    while medoids.len() < k {
        let first = medoids.is_empty();
        let change = |m: usize| -> f64 {
            (0..n)
                .map(|i| {
                    let d = dissimilarity(i, m);
                    weight(i) * if first { d } else { (d - nearest[i]).min(0.0) }
                })
                .sum()
        };
        let candidates: Vec<usize> =
            all.iter().copied().step_by(stride).filter(|m| !medoids.contains(m)).collect();
        let changes: Vec<f64> = candidates.par_iter().map(|&m| change(m)).collect();
        let best = (0..candidates.len()).min_by(|&a, &b| changes[a].total_cmp(&changes[b]));
        let Some(best) = best.map(|b| candidates[b]) else { break };
        for (i, d) in nearest.iter_mut().enumerate() {
            *d = d.min(dissimilarity(i, best));
        }
        medoids.push(best);
    }
    medoids
}

/// SWAP, in place. Returns the number of exchanges.
fn swap<D: Fn(usize, usize) -> f64>(
    n: usize,
    weight: &impl Fn(usize) -> f64,
    all: &[usize],
    medoids: &mut [usize],
    dissimilarity: &D,
) -> usize {
    let state = |medoids: &[usize]| {
        let near: Vec<Near> = (0..n).map(|i| Near::of(i, medoids, dissimilarity)).collect();
        let cost: f64 = (0..n).map(|i| weight(i) * near[i].first).sum();
        // What the loss of a medoid costs, all its items going to their second.
        let mut loss = vec![0.0; medoids.len()];
        if medoids.len() > 1 {
            near.iter().enumerate().for_each(|(i, at)| loss[at.medoid] += weight(i) * (at.second - at.first));
        }
        (near, cost, loss)
    };
    let single = medoids.len() == 1;
    let (mut near, mut cost, mut loss) = state(medoids);
    let (mut swaps, mut tried, mut candidate) = (0, 0, 0);
    let mut change = loss.clone();
    while tried < all.len() {
        let m = all[candidate];
        candidate = (candidate + 1) % all.len();
        tried += 1;
        if medoids.contains(&m) {
            continue;
        }
        let mut shared = 0.0;
        change.copy_from_slice(&loss);
        for (i, at) in near.iter().enumerate() {
            let d = dissimilarity(i, m);
            if single || d < at.first {
                shared += weight(i) * (d - at.first);
                if !single {
                    change[at.medoid] += weight(i) * (at.first - at.second);
                }
            } else if d < at.second {
                change[at.medoid] += weight(i) * (d - at.second);
            }
        }
        let best = (0..change.len()).min_by(|&a, &b| change[a].total_cmp(&change[b]));
        if let Some(out) = best.filter(|&out| change[out] + shared < -1e-12 * cost) {
            medoids[out] = m;
            (near, cost, loss) = state(medoids);
            swaps += 1;
            tried = 0;
        }
    }
    swaps
}

/// The item with the least weighted sum of dissimilarities of all items from it, the first of equal ones: the medoid.
///
/// # Errors
/// As `k_medoids`; [`StatsError::TooManyClusters`] where there are no items.
pub fn medoid<D>(n: usize, weights: Option<&[f64]>, dissimilarity: D) -> Result<usize, StatsError>
where
    D: Fn(usize, usize) -> f64 + Sync,
{
    Ok(k_medoids(n, weights, 1, dissimilarity)?.medoids[0])
}

fn check_dissimilarity<D: Fn(usize, usize) -> f64 + Sync>(
    n: usize,
    dissimilarity: &D,
) -> Result<(), StatsError> {
    let fine = |d: f64| d >= 0.0 && d.is_finite();
    let wrong: Vec<Option<usize>> =
        (0..n).into_par_iter().map(|i| (0..n).find(|&m| !fine(dissimilarity(i, m)))).collect();
    match wrong.iter().enumerate().find_map(|(i, m)| m.map(|m| (i, m))) {
        None => Ok(()),
        Some((i, m)) if dissimilarity(i, m) < 0.0 && dissimilarity(i, m).is_finite() => {
            Err(StatsError::OutOfRange {
                name: "a dissimilarity",
                value: dissimilarity(i, m),
                range: "0 or more",
            })
        }
        Some((i, m)) => Err(StatsError::NotFinite { what: "dissimilarities", index: i * n + m }),
    }
}

/// The nearest medoid of an item, and the dissimilarities from it and from the second.
struct Near {
    medoid: usize,
    first: f64,
    second: f64,
}

impl Near {
    fn of<D: Fn(usize, usize) -> f64>(item: usize, medoids: &[usize], dissimilarity: &D) -> Self {
        let mut near = Self { medoid: 0, first: f64::INFINITY, second: f64::INFINITY };
        for (place, &m) in medoids.iter().enumerate() {
            let d = dissimilarity(item, m);
            if d < near.first {
                near = Self { medoid: place, first: d, second: near.first };
            } else if d < near.second {
                near.second = d;
            }
        }
        near
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use rand::Rng;

    use super::*;
    use crate::random::stream;

    fn cloud(n: usize, seed: u64) -> Vec<[f64; 2]> {
        let mut rng = stream(seed, "cloud");
        (0..n).map(|_| [rng.r#gen(), rng.r#gen()]).collect()
    }

    fn apart(a: [f64; 2], b: [f64; 2]) -> f64 {
        ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2)).sqrt()
    }

    fn cost(points: &[[f64; 2]], w: &[f64], medoids: &[usize]) -> f64 {
        let nearest =
            |i: usize| medoids.iter().map(|&m| apart(points[i], points[m])).fold(f64::INFINITY, f64::min);
        (0..points.len()).map(|i| w[i] * nearest(i)).sum()
    }

    #[test]
    fn no_exchange_is_left_and_the_cost_is_right() {
        let points = cloud(60, 1);
        let w: Vec<f64> = (0..60).map(|i| 0.5 + f64::from(i % 4)).collect();
        for k in [1, 2, 5, 9] {
            let found = k_medoids(60, Some(&w), k, |i, m| apart(points[i], points[m])).unwrap();
            assert_relative_eq!(found.cost, cost(&points, &w, &found.medoids), max_relative = 1e-12);
            // Plain search over every exchange, as the slow method does.
            for out in 0..k {
                for m in (0..60).filter(|m| !found.medoids.contains(m)) {
                    let mut other = found.medoids.clone();
                    other[out] = m;
                    assert!(cost(&points, &w, &other) >= found.cost * (1.0 - 1e-9));
                }
            }
        }
    }

    #[test]
    fn two_medoids_are_the_best_pair() {
        let points = cloud(25, 5);
        let w = [1.0; 25];
        let found = k_medoids(25, None, 2, |i, m| apart(points[i], points[m])).unwrap();
        let pairs = (0..25).flat_map(|a| (a + 1..25).map(move |b| [a, b]));
        let best = pairs.map(|p| cost(&points, &w, &p)).fold(f64::INFINITY, f64::min);
        assert_relative_eq!(found.cost, best, max_relative = 1e-9);
    }

    #[test]
    fn one_medoid_on_a_line_is_the_median() {
        let x = [1.0, 2.0, 4.0, 50.0, 60.0];
        let away = |i: usize, m: usize| f64::abs(x[i] - x[m]);
        assert_eq!(medoid(5, None, away).unwrap(), 2);
        assert_eq!(medoid(5, Some(&[1.0, 1.0, 1.0, 9.0, 1.0]), away).unwrap(), 3);
    }

    #[test]
    fn an_asymmetric_dissimilarity_is_respected() {
        // An item may lie below its medoid by little cost, above by much.
        let x = [0.0, 1.0, 2.0, 3.0];
        let d = |i: usize, m: usize| if x[i] > x[m] { 100.0 * (x[i] - x[m]) } else { x[m] - x[i] };
        assert_eq!(medoid(4, None, d).unwrap(), 3);
    }

    #[test]
    fn all_items_as_medoids_cost_nothing_and_threads_do_not_matter() {
        let points = cloud(80, 2);
        let d = |i: usize, m: usize| apart(points[i], points[m]);
        let all = k_medoids(80, None, 80, d).unwrap();
        assert_eq!((all.cost, all.swaps), (0.0, 0));
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        assert_eq!(one.install(|| k_medoids(80, None, 6, d).unwrap()), k_medoids(80, None, 6, d).unwrap());
    }

    #[test]
    fn bad_input_is_an_error() {
        assert_eq!(
            k_medoids(3, None, 4, |_, _| 1.0),
            Err(StatsError::TooManyClusters { clusters: 4, distinct: 3 })
        );
        assert!(matches!(k_medoids(3, None, 0, |_, _| 1.0), Err(StatsError::OutOfRange { .. })));
        assert!(matches!(k_medoids(3, None, 1, |_, _| f64::NAN), Err(StatsError::NotFinite { .. })));
        assert!(matches!(k_medoids(3, None, 1, |_, _| -1.0), Err(StatsError::OutOfRange { .. })));
        assert!(k_medoids(0, None, 1, |_, _| 1.0).is_err());
    }
}
