//! Everything about asymmetry that needs no meshes: sums of squares, tests and intervals from the inner products of the parts.

use std::collections::BTreeMap;

use formkin_align::Removes;
use formkin_stats::bootstrap::percentile_interval;
use formkin_stats::random::stream;
use ndarray::Array2;
use rand::Rng;
use rand::seq::SliceRandom;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// Permutations of one random stream.
const CHUNK: usize = 250;

/// A line of the two-way table.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Line {
    /// `individual`, `side`, `individual x side` or `error`.
    pub source: String,
    /// Sum of squares over both copies of every shape, in mm2.
    pub ss_mm2: f64,
    /// Degrees of freedom of shape: those of people, times the coordinates that are free.
    pub df: usize,
    /// Sum of squares over degrees of freedom, in mm2.
    pub ms_mm2: f64,
    /// Mean square over that of the line below: for shapes whose vertices vary alike and apart. It has no p of its own here, since vertices of a body do not.
    pub f: Option<f64>,
}

/// Whether bodies lean to one side on average.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Directional {
    /// RMS over the surface of the mean asymmetric part, in mm. A vertex is so far from where a symmetric body has it; left and right differ by twice as much.
    pub rms_mm: f64,
    /// The same without what chance adds: root of |d|^2 - variance / people, 0 where that is below 0.
    pub unbiased_mm: f64,
    /// 95 % interval of the unbiased value: bootstrap of people.
    pub interval_95_mm: (f64, f64),
    /// (1 + sign changes with at least as long a mean) / (changes + 1): the asymmetric parts of whole people change sign at random.
    pub p: f64,
    /// Changes of sign.
    pub permutations: usize,
}

/// How far people differ from the mean asymmetry.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fluctuating {
    /// SD over people, RMS over the surface, in mm; without error where that is known.
    pub sd_mm: f64,
    /// 95 % interval: studentised bootstrap of people.
    pub interval_95_mm: (f64, f64),
    /// Whether measuring error was taken out.
    pub error_removed: bool,
    /// Why not.
    pub why_not: Option<String>,
    /// SD of one measurement, RMS over the surface, in mm: between repeated shapes of a person, asymmetric part.
    pub error_sd_mm: Option<f64>,
    /// Share of the variance between people's means that is not error: the reliability of a person's asymmetry.
    pub reliability: Option<f64>,
    /// Chance of people this different, were asymmetry all error: repeats change owners.
    pub p: Option<f64>,
}

/// Who each shape is of, and how many there are.
pub(super) struct Owners {
    /// The items of each person.
    pub(super) items: Vec<Vec<usize>>,
    /// Number of shapes.
    pub(super) count: usize,
}

impl Owners {
    pub(super) fn of(people: &[usize]) -> Self {
        let mut found: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (i, &p) in people.iter().enumerate() {
            found.entry(p).or_default().push(i);
        }
        Self { items: found.into_values().collect(), count: people.len() }
    }

    /// People x people: inner products of the means of people.
    pub(super) fn means(&self, gram: &Array2<f64>) -> Array2<f64> {
        let p = self.items.len();
        Array2::from_shape_fn((p, p), |(a, b)| {
            let (x, y) = (&self.items[a], &self.items[b]);
            let sum: f64 = x.iter().flat_map(|i| y.iter().map(|j| gram[[*i, *j]])).sum();
            sum / (x.len() * y.len()) as f64
        })
    }

    /// Sum over people of the squared length of the sum of their items, over their number, with item i standing for `order[i]`.
    fn between(&self, gram: &Array2<f64>, order: &[usize]) -> f64 {
        self.items
            .iter()
            .map(|x| {
                let sum: f64 = x.iter().flat_map(|i| x.iter().map(|j| gram[[order[*i], order[*j]]])).sum();
                sum / x.len() as f64
            })
            .sum()
    }

    fn repeats(&self) -> bool {
        self.count > self.items.len()
    }
}

/// Free coordinates of the symmetric and the asymmetric part: `pairs` of vertices and `middle` ones on the plane, less the moves that alignment removed. Of three
/// translations, across the plane is asymmetric, two are symmetric; of three turns, about the axis across is symmetric, two are asymmetric; a scale is symmetric
/// (Klingenberg, Barluenga and Meyer 2002, with what is kept here counted).
pub(super) fn freedom(pairs: usize, middle: usize, removes: Removes) -> (usize, usize) {
    let (even, odd) = match removes {
        Removes::Rigid => (3, 3),
        Removes::Similarity => (4, 3),
        Removes::Standing => (2, 2),
    };
    ((3 * pairs + 2 * middle).saturating_sub(even), (3 * pairs + middle).saturating_sub(odd))
}

/// The two-way table, from item x item inner products of the symmetric parts (about any point) and the asymmetric parts (about 0).
pub(super) fn table(
    owners: &Owners,
    symmetric: &Array2<f64>,
    asymmetric: &Array2<f64>,
    (even, odd): (usize, usize),
) -> Vec<Line> {
    let n = owners.count as f64;
    let people = owners.items.len();
    let as_they_are: Vec<usize> = (0..owners.count).collect();
    let within = |g: &Array2<f64>| g.diag().sum() - owners.between(g, &as_they_are);
    let at_mean = |g: &Array2<f64>| g.sum() / n;
    let mut lines: Vec<Line> = Vec::new();
    let mut add = |source: &str, ss: f64, df: usize| {
        let ms_mm2 = if df > 0 { ss / df as f64 } else { 0.0 };
        lines.push(Line { source: source.to_owned(), ss_mm2: ss, df, ms_mm2, f: None });
    };
    let between = |g: &Array2<f64>| owners.between(g, &as_they_are) - at_mean(g);
    add("individual", 2.0 * between(symmetric), (people - 1) * even);
    add("side", 2.0 * at_mean(asymmetric), odd);
    add("individual x side", 2.0 * between(asymmetric), (people - 1) * odd);
    if owners.repeats() {
        let ss = 2.0 * (within(symmetric) + within(asymmetric));
        add("error", ss, (owners.count - people) * (even + odd));
    }
    // individuals and sides are held against what they share, that against error
    let base = lines[2].ms_mm2;
    for i in [0, 1] {
        lines[i].f = (base > 0.0).then(|| lines[i].ms_mm2 / base);
    }
    if let Some(error) = lines.get(3).map(|l| l.ms_mm2).filter(|e| *e > 0.0) {
        lines[2].f = Some(base / error);
    }
    lines
}

/// |sum of w_p d_p|^2 for people x people inner products.
fn squared(gram: &Array2<f64>, w: &[f64]) -> f64 {
    gram.outer_iter().zip(w).map(|(row, a)| a * row.iter().zip(w).map(|(g, b)| g * b).sum::<f64>()).sum()
}

/// Whether bodies lean, and how far people differ. `items` are the inner products of the asymmetric parts.
#[expect(
    clippy::too_many_lines,
    reason = "one table of variances with its tests, of which later ones need the earlier"
)]
pub(super) fn asymmetry(
    owners: &Owners,
    items: &Array2<f64>,
    permutations: usize,
    draws: usize,
    seed: u64,
) -> Result<(Directional, Fluctuating), ShapeError> {
    let gram = owners.means(items);
    let people = owners.items.len();
    let p = people as f64;
    let ones = vec![1.0; people];
    let length = squared(&gram, &ones) / (p * p);
    let variance = (gram.diag().sum() - p * length) / (p - 1.0);

    // error: of one item, by person and pooled
    let within: Vec<f64> = owners
        .items
        .iter()
        .enumerate()
        .map(|(a, x)| x.iter().map(|i| items[[*i, *i]]).sum::<f64>() - x.len() as f64 * gram[[a, a]])
        .collect();
    let spare: Vec<f64> = owners.items.iter().map(|x| (x.len() - 1) as f64).collect();
    let share: Vec<f64> = owners.items.iter().map(|x| 1.0 / x.len() as f64).collect();
    let error = |w: &[f64]| -> Option<f64> {
        let of = |values: &[f64]| values.iter().zip(w).map(|(x, w)| w * x).sum::<f64>();
        let free = of(&spare);
        (free > 0.0).then(|| (of(&within) / free).max(0.0) * of(&share) / of(&vec![1.0; people]))
    };

    let longer = chunks(permutations, |chunk, count| {
        let mut rng = stream(seed, &format!("sides {chunk}"));
        (0..count)
            .filter(|_| {
                let signs: Vec<f64> =
                    (0..people).map(|_| if rng.r#gen::<bool>() { 1.0 } else { -1.0 }).collect();
                squared(&gram, &signs) / (p * p) >= length * (1.0 - 1e-9)
            })
            .count()
    });
    // n - 1 of the people taken so often, less error; its standard error from what each person adds; and the square of their mean
    let taken = |w: &[f64]| -> (f64, f64, f64, f64) {
        let toward: Vec<f64> =
            gram.outer_iter().map(|row| row.iter().zip(w).map(|(g, w)| g * w).sum::<f64>() / p).collect();
        let square = toward.iter().zip(w).map(|(t, w)| t * w).sum::<f64>() / p;
        let own: Vec<f64> = (0..people).map(|a| gram[[a, a]] - 2.0 * toward[a] + square).collect();
        let of = |values: &[f64]| values.iter().zip(w).map(|(x, w)| w * x).sum::<f64>();
        let spread = of(&own) / (p - 1.0);
        let (free, mean_share) = (of(&spare) / p, of(&share) / p);
        let one = if free > 0.0 { of(&within) / p / free } else { 0.0 };
        let added = |a: usize| {
            let error = if free > 0.0 { (within[a] - one * spare[a]) * mean_share / free } else { 0.0 };
            own[a] - spread - error - one * (share[a] - mean_share)
        };
        let squares: f64 = (0..people).map(|a| w[a] * added(a).powi(2)).sum();
        (square, spread, error(w).unwrap_or(0.0), (squares / (p * (p - 1.0))).sqrt())
    };
    let (_, _, of_all, own_error) = taken(&ones);
    let left = variance - of_all;
    // a draw's mean strays from the mean of people as that strays from the truth: its square is too long by twice the variance of a mean
    let drawn: Vec<(f64, f64)> = (0..draws)
        .into_par_iter()
        .map(|draw| {
            let mut rng = stream(seed, &format!("asymmetry {draw}"));
            let mut w = vec![0.0; people];
            for _ in 0..people {
                w[rng.gen_range(0..people)] += 1.0;
            }
            let (square, spread, error, own_error) = taken(&w);
            // a draw varies by (p - 1) / p of what it is drawn from
            let spread = spread * p / (p - 1.0);
            (square - 2.0 * spread / p, (spread - error - left) / own_error)
        })
        .collect();
    let root = |(low, high): (f64, f64)| (low.max(0.0).sqrt(), high.max(0.0).sqrt());
    let means = percentile_interval(&drawn.iter().map(|d| d.0).collect::<Vec<f64>>(), 0.95)?;
    // spreads of few people are skewed: their deviations are studentised
    let deviations: Vec<f64> = drawn.iter().map(|d| d.1).filter(|t| t.is_finite()).collect();
    let spreads = if deviations.is_empty() {
        (left, left)
    } else {
        let (low, high) = percentile_interval(&deviations, 0.95)?;
        (left - high * own_error, left - low * own_error)
    };
    let directional = Directional {
        rms_mm: length.max(0.0).sqrt(),
        unbiased_mm: (length - variance / p).max(0.0).sqrt(),
        interval_95_mm: root(means),
        p: (1 + longer) as f64 / (permutations + 1) as f64,
        permutations,
    };

    let of_means = error(&ones);
    let repeated = spare.iter().filter(|s| **s > 0.0).count();
    let chance = of_means.map(|_| {
        let identity: Vec<usize> = (0..owners.count).collect();
        let found = owners.between(items, &identity);
        let reached = chunks(permutations, |chunk, count| {
            let mut rng = stream(seed, &format!("repeats {chunk}"));
            let mut order = identity.clone();
            (0..count)
                .filter(|_| {
                    order.shuffle(&mut rng);
                    owners.between(items, &order) >= found * (1.0 - 1e-9)
                })
                .count()
        });
        (1 + reached) as f64 / (permutations + 1) as f64
    });
    let free: f64 = spare.iter().sum();
    let fluctuating = Fluctuating {
        sd_mm: left.max(0.0).sqrt(),
        interval_95_mm: root(spreads),
        error_removed: of_means.is_some(),
        why_not: (repeated == 0).then(|| {
            "every person was captured once, so what looks like asymmetry of a person holds the error of measuring, stance and correspondence too; capture some people twice"
                .to_owned()
        }),
        error_sd_mm: (free > 0.0).then(|| (within.iter().sum::<f64>() / free).max(0.0).sqrt()),
        reliability: of_means.filter(|_| variance > 0.0).map(|_| (left / variance).max(0.0)),
        p: chance,
    };
    Ok((directional, fluctuating))
}

/// The sum over chunks of `count(chunk, how many)`.
fn chunks(all: usize, count: impl Fn(usize, usize) -> usize + Sync) -> usize {
    (0..all.div_ceil(CHUNK)).into_par_iter().map(|c| count(c, CHUNK.min(all - c * CHUNK))).sum()
}

#[cfg(test)]
mod tests {
    use rand_distr::StandardNormal;

    use super::*;

    /// Inner products of asymmetric parts: a lean of `lean` mm, people of SD 1 mm, an error of SD `error` mm, over directions of falling variance.
    fn drawn(
        people: usize,
        captures: usize,
        lean: f64,
        own: f64,
        error: f64,
        seed: u64,
    ) -> (Owners, Array2<f64>) {
        const WIDTH: usize = 12;
        let mut rng = stream(seed, "asymmetric parts");
        let scale: Vec<f64> = (0..WIDTH).map(|k| 0.8f64.powi(k as i32)).collect();
        let length = scale.iter().map(|s| s * s).sum::<f64>().sqrt();
        let mut rows: Vec<Vec<f64>> = Vec::new();
        let mut of = Vec::new();
        let mut normal = |sd: f64| sd / length * rng.sample::<f64, _>(StandardNormal);
        for p in 0..people {
            let whose: Vec<f64> = scale.iter().map(|s| normal(own * s)).collect();
            for _ in 0..captures {
                let row =
                    (0..WIDTH).map(|k| whose[k] + normal(error * scale[k]) + if k == 2 { lean } else { 0.0 });
                rows.push(row.collect());
                of.push(p);
            }
        }
        let gram = Array2::from_shape_fn((rows.len(), rows.len()), |(i, j)| {
            rows[i].iter().zip(&rows[j]).map(|(a, b)| a * b).sum()
        });
        (Owners::of(&of), gram)
    }

    #[test]
    fn nothing_planted_is_found_in_five_of_a_hundred() {
        let runs = 1000;
        let (mut leans, mut owns) = (0, 0);
        for seed in 0..runs {
            let (owners, gram) = drawn(14, 2, 0.0, 0.0, 1.0, seed);
            let (d, f) = asymmetry(&owners, &gram, 399, 20, seed).unwrap();
            leans += u32::from(d.p <= 0.05);
            owns += u32::from(f.p.unwrap() <= 0.05);
        }
        for (what, count) in [("lean", leans), ("own", owns)] {
            let share = f64::from(count) / runs as f64;
            assert!((0.036..=0.064).contains(&share), "{what}: {share}");
        }
    }

    #[test]
    fn intervals_hold_the_truth() {
        let runs = 500;
        let mut held = [0; 3];
        for seed in 0..runs {
            let (owners, gram) = drawn(80, 2, 0.7, 1.0, 0.6, 10_000 + seed);
            let (d, f) = asymmetry(&owners, &gram, 1, 300, seed).unwrap();
            held[0] += i32::from(d.interval_95_mm.0 <= 0.7 && 0.7 <= d.interval_95_mm.1);
            held[1] += i32::from(f.interval_95_mm.0 <= 1.0 && 1.0 <= f.interval_95_mm.1);
            held[2] += i32::from((f.error_sd_mm.unwrap() - 0.6).abs() < 0.06);
        }
        let share = held.map(|h| f64::from(h) / runs as f64);
        assert!(share[..2].iter().all(|s| (0.93..=0.97).contains(s)), "{share:?}");
        assert!(share[2] > 0.95, "{share:?}");
    }

    #[test]
    fn free_coordinates_are_those_of_the_published_count() {
        // with size removed, k pairs and l on the plane: 3k + 2l - 4 and 3k + l - 3
        assert_eq!(freedom(10, 4, Removes::Similarity), (34, 31));
        assert_eq!(freedom(10, 4, Removes::Rigid), (35, 31));
        assert_eq!(freedom(10, 4, Removes::Standing), (36, 32));
    }

    #[test]
    fn sums_of_squares_of_the_table_are_the_total() {
        let (owners, odd) = drawn(9, 3, 0.5, 1.0, 0.4, 1);
        let (_, even) = drawn(9, 3, 0.0, 3.0, 0.4, 2);
        let lines = table(&owners, &even, &odd, (20, 15));
        let total = 2.0 * (even.diag().sum() - even.sum() / 27.0 + odd.diag().sum());
        assert!((lines.iter().map(|l| l.ss_mm2).sum::<f64>() / total - 1.0).abs() < 1e-12);
        assert_eq!(lines.iter().map(|l| l.df).collect::<Vec<_>>(), [160, 15, 120, 630]);
        assert!(lines[2].f.unwrap() > 1.0);
    }
}
