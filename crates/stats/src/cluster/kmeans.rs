//! k-means: many starts, the best kept.

use linfa::DatasetBase;
use linfa::traits::Fit;
use ndarray::{Array1, Array2, ArrayView2, Axis};
use rand::distributions::{Distribution, WeightedIndex};
use rayon::prelude::*;

use crate::StatsError;
use crate::moments::check_weights;
use crate::random::stream;

/// Rounds of a start before the exact iterations take over; of these.
const ROUNDS: u64 = 25;
const MOST_ROUNDS: usize = 1000;

/// Clusters around means.
#[derive(Debug, Clone, PartialEq)]
pub struct KMeans {
    /// Centres, clusters x dimensions, ascending by the first dimension, then the next.
    pub centres: Array2<f64>,
    /// Cluster of every point: that of the nearest centre.
    pub labels: Vec<usize>,
    /// Weighted sum of squared distances of the points from their centres.
    pub inertia: f64,
}

/// Clusters `points` (points x dimensions) around `k` means: minimises sum w |x - c|^2.
///
/// Each of the `starts` draws k-means++ centres and takes the first Lloyd rounds (linfa), with weights on points drawn in proportion to them. It
/// then goes on with exact weighted rounds until no point changes its cluster, and with moves of single points that lower the sum (Hartigan &
/// Wong 1979) until there is none. The best start is kept. An empty cluster takes the point farthest from its centre.
///
/// The result depends on the points, the weights and the seed, not on the order of the points nor on the number of threads. Points of
/// weight 0 have no say and are labelled.
///
/// # Errors
/// [`StatsError::TooManyClusters`] for more clusters than points (of weight above 0) that differ, [`StatsError::OutOfRange`] for no cluster or no
/// start, [`StatsError::NotFinite`], [`StatsError::Size`] and [`StatsError::OutOfRange`] for bad points and weights.
pub fn k_means(
    points: ArrayView2<f64>,
    weights: Option<&[f64]>,
    k: usize,
    starts: usize,
    seed: u64,
) -> Result<KMeans, StatsError> {
    if let Some(index) = points.iter().position(|v| !v.is_finite()) {
        return Err(StatsError::NotFinite { what: "points", index });
    }
    check_weights(points.nrows(), weights)?;
    for (name, value) in [("the number of clusters", k), ("the number of starts", starts)] {
        if value == 0 {
            return Err(StatsError::OutOfRange { name, value: 0.0, range: "1 or more" });
        }
    }
    let fitted = Points::ordered(points, weights);
    let distinct = fitted.distinct();
    if k > distinct {
        return Err(StatsError::TooManyClusters { clusters: k, distinct });
    }
    let results: Vec<Result<(Array2<f64>, f64), StatsError>> =
        (0..starts).into_par_iter().map(|s| fitted.start(k, seed, s)).collect();
    let mut best: Option<(Array2<f64>, f64)> = None;
    for result in results {
        let (centres, inertia) = result?;
        if best.as_ref().is_none_or(|(_, least)| inertia < *least) {
            best = Some((centres, inertia));
        }
    }
    let (centres, inertia) = best.ok_or(StatsError::NoConvergence { what: "k-means" })?;
    let mut order: Vec<usize> = (0..k).collect();
    order.sort_by(|&a, &b| lexical(&centres.row(a).to_vec(), &centres.row(b).to_vec()));
    let centres = centres.select(Axis(0), &order);
    let labels = (0..points.nrows()).map(|i| nearest(&centres, &points.row(i).to_vec()).0).collect();
    Ok(KMeans { centres, labels, inertia })
}

fn lexical(a: &[f64], b: &[f64]) -> std::cmp::Ordering {
    a.iter().zip(b).map(|(x, y)| x.total_cmp(y)).find(|o| o.is_ne()).unwrap_or(std::cmp::Ordering::Equal)
}

/// The points of weight above 0 in ascending order.
struct Points {
    rows: Vec<Vec<f64>>,
    weights: Vec<f64>,
    equal: bool,
}

impl Points {
    fn ordered(points: ArrayView2<f64>, weights: Option<&[f64]>) -> Self {
        let mut rows: Vec<(Vec<f64>, f64)> = points
            .rows()
            .into_iter()
            // Adding 0 turns -0 into 0.
            .map(|r| r.iter().map(|v| v + 0.0).collect())
            .enumerate()
            .map(|(i, r)| (r, weights.map_or(1.0, |w| w[i])))
            .filter(|(_, w)| *w > 0.0)
            .collect();
        rows.sort_by(|a, b| lexical(&a.0, &b.0).then(a.1.total_cmp(&b.1)));
        let equal = rows.windows(2).all(|p| p[0].1 == p[1].1);
        let (rows, weights) = rows.into_iter().unzip();
        Self { rows, weights, equal }
    }

    fn distinct(&self) -> usize {
        usize::from(!self.rows.is_empty()) + self.rows.windows(2).filter(|p| p[0] != p[1]).count()
    }

    fn start(&self, k: usize, seed: u64, which: usize) -> Result<(Array2<f64>, f64), StatsError> {
        let mut rng = stream(seed, &format!("k-means {which}"));
        let (n, dims) = (self.rows.len(), self.rows[0].len());
        let drawn: Vec<usize> = if self.equal {
            (0..n).collect()
        } else {
            let by_weight = WeightedIndex::new(&self.weights).map_err(|_| StatsError::OutOfRange {
                name: "the sum of weights",
                value: f64::INFINITY,
                range: "finite",
            })?;
            let mut drawn: Vec<usize> = by_weight.sample_iter(&mut rng).take(n).collect();
            drawn.sort_unstable();
            drawn
        };
        let records = Array2::from_shape_fn((n, dims), |(i, j)| self.rows[drawn[i]][j]);
        let spread: f64 = records.axis_iter(Axis(1)).map(|c| c.std(0.0).powi(2)).sum::<f64>().sqrt();
        let data = DatasetBase::new(records, Array1::<()>::from_elem(n, ()));
        let model = linfa_clustering::KMeans::params_with_rng(k, rng)
            .n_runs(1)
            .max_n_iterations(ROUNDS)
            .tolerance((1e-3 * spread).max(f64::MIN_POSITIVE))
            .fit(&data)
            .map_err(|_| StatsError::NoConvergence { what: "k-means" })?;
        Ok(self.polish(model.centroids().clone()))
    }

    /// Lloyd's rounds to the end, then single moves to the end.
    fn polish(&self, mut centres: Array2<f64>) -> (Array2<f64>, f64) {
        let mut labels = vec![usize::MAX; self.rows.len()];
        for _ in 0..MOST_ROUNDS {
            let new = self.label(&centres);
            let same = new == labels;
            labels = new;
            self.fill_empty(&centres, &mut labels);
            centres = self.means(&labels, centres.nrows());
            if same {
                break;
            }
        }
        for _ in 0..MOST_ROUNDS {
            if !self.move_single(&mut centres, &mut labels) {
                break;
            }
            // Afresh, so that rounding does not add up.
            centres = self.means(&labels, centres.nrows());
        }
        let inertia = (0..labels.len())
            .map(|i| {
                self.weights[i] * squared(&self.rows[i], centres.row(labels[i]).as_slice().unwrap_or(&[]))
            })
            .sum();
        (centres, inertia)
    }

    fn label(&self, centres: &Array2<f64>) -> Vec<usize> {
        self.rows.iter().map(|r| nearest(centres, r).0).collect()
    }

    fn means(&self, labels: &[usize], k: usize) -> Array2<f64> {
        let mut sums = Array2::zeros((k, self.rows[0].len()));
        let mut totals = vec![0.0; k];
        for (i, &label) in labels.iter().enumerate() {
            totals[label] += self.weights[i];
            for (j, v) in self.rows[i].iter().enumerate() {
                sums[[label, j]] += self.weights[i] * v;
            }
        }
        for (mut row, total) in sums.rows_mut().into_iter().zip(totals) {
            row.mapv_inplace(|v| v / total);
        }
        sums
    }

    /// Gives every empty cluster the point that lies farthest from its centre; there is one, as at least k points differ.
    fn fill_empty(&self, centres: &Array2<f64>, labels: &mut [usize]) {
        let k = centres.nrows();
        let mut counts = vec![0_usize; k];
        labels.iter().for_each(|&l| counts[l] += 1);
        let mut taken = vec![false; labels.len()];
        for empty in 0..k {
            if counts[empty] > 0 {
                continue;
            }
            let farthest = (0..labels.len())
                .filter(|&i| !taken[i] && counts[labels[i]] > 1)
                .map(|i| (i, self.weights[i] * squared(&self.rows[i], &centres.row(labels[i]).to_vec())))
                .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
            if let Some((i, _)) = farthest {
                counts[labels[i]] -= 1;
                counts[empty] = 1;
                labels[i] = empty;
                taken[i] = true;
            }
        }
    }

    /// One pass of moves of single points: point i of weight w leaves cluster a (weight W_a) for b where
    /// W_b / (W_b + w) |x - c_b|^2 < W_a / (W_a - w) |x - c_a|^2. Whether any moved.
    fn move_single(&self, centres: &mut Array2<f64>, labels: &mut [usize]) -> bool {
        let k = centres.nrows();
        let mut totals = vec![0.0; k];
        let mut counts = vec![0_usize; k];
        for (i, &label) in labels.iter().enumerate() {
            totals[label] += self.weights[i];
            counts[label] += 1;
        }
        let mut moved = false;
        for i in 0..labels.len() {
            let (x, w, from) = (&self.rows[i], self.weights[i], labels[i]);
            if counts[from] < 2 {
                continue;
            }
            let leave = totals[from] / (totals[from] - w) * squared(x, &centres.row(from).to_vec());
            let join =
                |b: usize| totals[b] / (totals[b] + w) * squared(x, centres.row(b).as_slice().unwrap_or(&[]));
            let to = (0..k).filter(|&b| b != from).map(|b| (b, join(b))).min_by(|a, b| a.1.total_cmp(&b.1));
            let Some((to, gain)) = to else { continue };
            if gain >= leave * (1.0 - 1e-12) {
                continue;
            }
            for (j, v) in x.iter().enumerate() {
                centres[[from, j]] = (centres[[from, j]] * totals[from] - w * v) / (totals[from] - w);
                centres[[to, j]] = (centres[[to, j]] * totals[to] + w * v) / (totals[to] + w);
            }
            totals[from] -= w;
            totals[to] += w;
            counts[from] -= 1;
            counts[to] += 1;
            labels[i] = to;
            moved = true;
        }
        moved
    }
}

fn squared(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| (x - y) * (x - y)).sum()
}

/// The nearest centre, the first of equal ones, and the squared distance.
fn nearest(centres: &Array2<f64>, point: &[f64]) -> (usize, f64) {
    let mut best = (0, f64::INFINITY);
    for (c, centre) in centres.rows().into_iter().enumerate() {
        let distance: f64 = centre.iter().zip(point).map(|(x, y)| (x - y) * (x - y)).sum();
        if distance < best.1 {
            best = (c, distance);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use ndarray::array;
    use rand::Rng;
    use rand::seq::SliceRandom;

    use super::*;

    fn cloud(n: usize, seed: u64) -> Array2<f64> {
        let mut rng = stream(seed, "cloud");
        Array2::from_shape_fn((n, 2), |_| rng.r#gen::<f64>())
    }

    #[test]
    fn three_heaps_are_found() {
        let points =
            array![[0.0, 0.1], [9.0, 9.0], [0.1, 0.0], [9.1, 9.2], [0.0, 9.0], [0.2, 9.1], [0.1, 8.9]];
        let found = k_means(points.view(), None, 3, 5, 1).unwrap();
        assert_eq!(found.labels, [0, 2, 0, 2, 1, 1, 1]);
        assert_relative_eq!(found.centres[[2, 1]], 9.1, max_relative = 1e-12);
    }

    /// Exhaustive search over all partitions in the line, where clusters are runs: the least sum of squares by dynamic programming.
    fn best_on_a_line(x: &mut [f64], w: &[f64], k: usize) -> f64 {
        let n = x.len();
        let cost = |a: usize, b: usize| {
            let total: f64 = w[a..b].iter().sum();
            let mean = (a..b).map(|i| w[i] * x[i]).sum::<f64>() / total;
            (a..b).map(|i| w[i] * (x[i] - mean).powi(2)).sum::<f64>()
        };
        let mut best = vec![vec![f64::INFINITY; n + 1]; k + 1];
        best[0][0] = 0.0;
        for c in 1..=k {
            for end in 1..=n {
                for start in 0..end {
                    best[c][end] = best[c][end].min(best[c - 1][start] + cost(start, end));
                }
            }
        }
        best[k][n]
    }

    #[test]
    fn the_optimum_on_a_line_is_reached() {
        let mut rng = stream(3, "line");
        let mut x: Vec<f64> = (0..40).map(|_| rng.r#gen::<f64>() * 10.0).collect();
        x.sort_by(f64::total_cmp);
        let w: Vec<f64> = (0..40).map(|i| 0.2 + f64::from(i % 5)).collect();
        let points = Array2::from_shape_vec((40, 1), x.clone()).unwrap();
        for k in 1..=6 {
            let plain = k_means(points.view(), None, k, 30, 1).unwrap();
            assert_relative_eq!(plain.inertia, best_on_a_line(&mut x, &[1.0; 40], k), max_relative = 1e-9);
            let weighted = k_means(points.view(), Some(&w), k, 30, 1).unwrap();
            assert_relative_eq!(weighted.inertia, best_on_a_line(&mut x, &w, k), max_relative = 1e-9);
        }
    }

    #[test]
    fn order_threads_and_seeds() {
        let points = cloud(300, 2);
        let mut order: Vec<usize> = (0..300).collect();
        order.shuffle(&mut stream(1, "order"));
        let found = k_means(points.view(), None, 7, 10, 1).unwrap();
        assert_eq!(found, k_means(points.view(), None, 7, 10, 1).unwrap());
        let shuffled = k_means(points.select(Axis(0), &order).view(), None, 7, 10, 1).unwrap();
        assert_eq!(shuffled.centres, found.centres);
        assert!(order.iter().enumerate().all(|(new, &old)| shuffled.labels[new] == found.labels[old]));
        let one = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
        assert_eq!(one.install(|| k_means(points.view(), None, 7, 10, 1).unwrap()), found);
        // Every point is with its nearest centre, and every centre is the mean of its points.
        let other = k_means(points.view(), None, 7, 40, 9).unwrap();
        assert_relative_eq!(other.inertia, found.inertia, max_relative = 0.03);
    }

    #[test]
    fn weights_are_repetitions() {
        let points = array![[0.0], [1.0], [5.0], [6.0], [6.5]];
        let repeated = array![[0.0], [0.0], [0.0], [1.0], [5.0], [6.0], [6.5], [6.5]];
        let weighted = k_means(points.view(), Some(&[3.0, 1.0, 1.0, 1.0, 2.0]), 2, 10, 1).unwrap();
        let plain = k_means(repeated.view(), None, 2, 10, 1).unwrap();
        assert_relative_eq!(weighted.inertia, plain.inertia, max_relative = 1e-12);
        assert_relative_eq!(weighted.centres[[0, 0]], 0.25, max_relative = 1e-12);
        let ignored = k_means(points.view(), Some(&[3.0, 1.0, 0.0, 0.0, 0.0]), 1, 3, 1).unwrap();
        assert_relative_eq!(ignored.centres[[0, 0]], 0.25, max_relative = 1e-12);
        assert_eq!(ignored.labels.len(), 5);
    }

    #[test]
    fn duplicates_fill_no_cluster() {
        let mut rows = vec![[1.0, 1.0]; 50];
        rows.extend([[2.0, 1.0], [3.0, 3.0], [9.0, 9.0]]);
        let points = Array2::from(rows);
        let found = k_means(points.view(), None, 4, 3, 1).unwrap();
        assert!(found.inertia < 1e-20);
        let mut used = found.labels.clone();
        used.sort_unstable();
        used.dedup();
        assert_eq!(used.len(), 4);
        let refused = k_means(points.view(), None, 5, 3, 1).unwrap_err();
        assert_eq!(refused, StatsError::TooManyClusters { clusters: 5, distinct: 4 });
    }

    #[test]
    fn bad_input_is_an_error() {
        let points = array![[1.0], [f64::NAN]];
        assert!(matches!(k_means(points.view(), None, 1, 1, 1), Err(StatsError::NotFinite { .. })));
        let points = array![[1.0], [2.0]];
        assert!(k_means(points.view(), None, 0, 1, 1).is_err());
        assert!(k_means(points.view(), None, 1, 0, 1).is_err());
        assert!(k_means(points.view(), Some(&[1.0]), 1, 1, 1).is_err());
        assert!(k_means(Array2::zeros((0, 2)).view(), None, 1, 1, 1).is_err());
    }
}
