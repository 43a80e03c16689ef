//! Dimensions of drawn bodies beside those of people.

use formkin_stats::quantile::quantile;
use serde::{Deserialize, Serialize};

use crate::ShapeError;

/// A dimension of people and of drawn bodies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DimensionMarginal {
    /// The dimension.
    pub name: String,
    /// Its unit.
    pub unit: Option<String>,
    /// People and bodies that have it.
    pub n: [usize; 2],
    /// Means of people and of bodies.
    pub mean: [f64; 2],
    /// SDs of people and of bodies, divisor n - 1.
    pub sd: [f64; 2],
    /// 5th percentiles of people and of bodies.
    pub p5: [f64; 2],
    /// Medians.
    pub p50: [f64; 2],
    /// 95th percentiles.
    pub p95: [f64; 2],
    /// Largest distance of the two empirical distributions (Kolmogorov and Smirnov).
    pub ks: f64,
    /// What that distance exceeds in 5 % of pairs of samples of one distribution, 1.358 sqrt((n + m) / (n m)).
    pub ks_limit: f64,
}

/// Correlations between dimensions of people and of drawn bodies.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CorrelationReport {
    /// Dimensions that vary in both.
    pub dimensions: usize,
    /// Root mean square of the differences over pairs.
    pub rms_difference: f64,
    /// The largest difference.
    pub largest_difference: f64,
    /// Of which pair.
    pub pair: Option<(String, String)>,
    /// Correlation of that pair among people and among bodies.
    pub values: [f64; 2],
    /// Standard error of a correlation of 0 among so few people or bodies, root of 1/(n - 1) + 1/(m - 1).
    pub se: f64,
}

/// A name and a unit.
pub type Named = (String, Option<String>);

/// Compares dimensions: `people` and `bodies` hold one row each, one value a dimension of `names`.
///
/// # Errors
/// [`ShapeError::Stats`] for values that are not finite.
pub fn compare_dimensions(
    names: &[Named],
    people: &[Vec<Option<f64>>],
    bodies: &[Vec<Option<f64>>],
) -> Result<(Vec<DimensionMarginal>, CorrelationReport), ShapeError> {
    let column = |rows: &[Vec<Option<f64>>], j: usize| -> Vec<f64> {
        rows.iter().filter_map(|r| r.get(j).copied().flatten()).collect()
    };
    let mut marginals = Vec::new();
    for (j, (name, unit)) in names.iter().enumerate() {
        let both = [column(people, j), column(bodies, j)];
        if both.iter().any(|c| c.len() < 2) {
            continue;
        }
        let mean = [mean(&both[0]), mean(&both[1])];
        let at = |p: f64| -> Result<[f64; 2], ShapeError> {
            Ok([quantile(&both[0], None, p)?, quantile(&both[1], None, p)?])
        };
        let (n, m) = (both[0].len() as f64, both[1].len() as f64);
        marginals.push(DimensionMarginal {
            name: name.clone(),
            unit: unit.clone(),
            n: [both[0].len(), both[1].len()],
            mean,
            sd: [sd(&both[0]), sd(&both[1])],
            p5: at(0.05)?,
            p50: at(0.5)?,
            p95: at(0.95)?,
            ks: distance(&both[0], &both[1]),
            ks_limit: 1.358 * ((n + m) / (n * m)).sqrt(),
        });
    }
    Ok((marginals, correlations(names, people, bodies)))
}

fn mean(x: &[f64]) -> f64 {
    x.iter().sum::<f64>() / x.len() as f64
}

fn sd(x: &[f64]) -> f64 {
    let m = mean(x);
    (x.iter().map(|x| (x - m).powi(2)).sum::<f64>() / (x.len() as f64 - 1.0)).sqrt()
}

/// The largest distance of two empirical distribution functions.
fn distance(a: &[f64], b: &[f64]) -> f64 {
    let (mut a, mut b) = (a.to_vec(), b.to_vec());
    a.sort_by(f64::total_cmp);
    b.sort_by(f64::total_cmp);
    let (mut i, mut j, mut most) = (0, 0, 0.0f64);
    while i < a.len() && j < b.len() {
        let at = a[i].min(b[j]);
        while i < a.len() && a[i] <= at {
            i += 1;
        }
        while j < b.len() && b[j] <= at {
            j += 1;
        }
        most = most.max((i as f64 / a.len() as f64 - j as f64 / b.len() as f64).abs());
    }
    most
}

fn correlations(
    names: &[Named],
    people: &[Vec<Option<f64>>],
    bodies: &[Vec<Option<f64>>],
) -> CorrelationReport {
    let between = |rows: &[Vec<Option<f64>>], i: usize, j: usize| -> Option<f64> {
        let pairs: Vec<(f64, f64)> = rows
            .iter()
            .filter_map(|r| r.get(i).copied().flatten().zip(r.get(j).copied().flatten()))
            .collect();
        let (x, y): (Vec<f64>, Vec<f64>) = pairs.into_iter().unzip();
        if x.len() < 3 {
            return None;
        }
        let (mx, my) = (mean(&x), mean(&y));
        let sum = x.iter().zip(&y).map(|(x, y)| (x - mx) * (y - my)).sum::<f64>();
        let size = (sd(&x) * sd(&y)) * (x.len() as f64 - 1.0);
        (size > 0.0).then(|| sum / size)
    };
    let (mut squares, mut count, mut largest, mut pair, mut values) = (0.0, 0usize, 0.0, None, [0.0; 2]);
    let mut there = vec![false; names.len()];
    for i in 0..names.len() {
        for j in 0..i {
            let Some((a, b)) = between(people, i, j).zip(between(bodies, i, j)) else { continue };
            let off = (a - b).abs();
            squares += off * off;
            count += 1;
            (there[i], there[j]) = (true, true);
            if off > largest {
                largest = off;
                pair = Some((names[j].0.clone(), names[i].0.clone()));
                values = [a, b];
            }
        }
    }
    let less = |n: usize| 1.0 / (n.max(2) as f64 - 1.0);
    CorrelationReport {
        dimensions: there.iter().filter(|t| **t).count(),
        rms_difference: if count > 0 { (squares / count as f64).sqrt() } else { 0.0 },
        largest_difference: largest,
        pair,
        values,
        se: (less(people.len()) + less(bodies.len())).sqrt(),
    }
}
