//! Finding the sizes' values from people.

use formkin_stats::StatsError;
use formkin_stats::cluster::{k_means, k_medoids};
use ndarray::Array2;

use crate::axes::{Axis, Misfit, lexical};
use crate::{Method, Plan};

/// Finds `k` sizes' values, rounded and ascending; fewer where rounding makes two the same, where fewer people differ, or where fewer cover
/// everyone. Everything is found from these people alone.
///
/// All methods see the people's values over the scales of the axes. k-means finds the middle of the wearers' range, which for uneven tolerances
/// is not the size's value: value = mean - (above - below) / 2.
pub(crate) fn find(
    points: &[&[f64]],
    weights: &[f64],
    axes: &[Axis],
    plan: &Plan,
    k: usize,
) -> Result<Vec<Vec<f64>>, StatsError> {
    let k = k.min(distinct(points));
    let mut centres = match plan.method {
        Method::KMeans => means(points, weights, axes, plan, k)?,
        Method::KMedoids => medoids(points, weights, axes, k)?,
        Method::GreatestCoverage => greatest_coverage(points, weights, axes, k),
    };
    centres.sort_by(|a, b| lexical(a, b));
    centres.dedup();
    Ok(centres)
}

/// Points that differ.
pub(crate) fn distinct(points: &[&[f64]]) -> usize {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| lexical(a, b));
    sorted.dedup();
    sorted.len()
}

fn means(
    points: &[&[f64]],
    weights: &[f64],
    axes: &[Axis],
    plan: &Plan,
    k: usize,
) -> Result<Vec<Vec<f64>>, StatsError> {
    let scaled =
        Array2::from_shape_fn((points.len(), axes.len()), |(i, j)| points[i][j] / axes[j].info.scale);
    let clusters = k_means(scaled.view(), Some(weights), k, plan.starts, plan.seed)?;
    let value = |axis: &Axis, mean: f64| {
        axis.round(mean * axis.info.scale - (axis.info.above - axis.info.below) / 2.0)
    };
    Ok(clusters
        .centres
        .rows()
        .into_iter()
        .map(|r| axes.iter().zip(r).map(|(a, m)| value(a, *m)).collect())
        .collect())
}

/// Every person as a size: the values they would give it, rounded.
fn candidates(points: &[&[f64]], axes: &[Axis]) -> Vec<Vec<f64>> {
    points.iter().map(|p| axes.iter().zip(p.iter()).map(|(a, v)| a.round(*v)).collect()).collect()
}

fn medoids(points: &[&[f64]], weights: &[f64], axes: &[Axis], k: usize) -> Result<Vec<Vec<f64>>, StatsError> {
    let candidates = candidates(points, axes);
    // One over the tolerances, stretched so that their mean is the scale.
    let inverse: Vec<(f64, f64)> = axes
        .iter()
        .map(|a| {
            let stretch = (a.info.below + a.info.above) / 2.0 / a.info.scale;
            (stretch / a.info.below, stretch / a.info.above)
        })
        .collect();
    let misfit = |i: usize, m: usize| {
        let mut squares = 0.0;
        for ((p, c), (below, above)) in points[i].iter().zip(&candidates[m]).zip(&inverse) {
            let away = p - c;
            let scaled = away * if away < 0.0 { below } else { above };
            squares += scaled * scaled;
        }
        squares.sqrt()
    };
    let found = k_medoids(points.len(), Some(weights), k, misfit)?;
    Ok(found.medoids.iter().map(|&m| candidates[m].clone()).collect())
}

/// Greedy choice for the greatest coverage (the maximal covering location problem of Church & ReVelle 1974): each size is the person who covers the
/// greatest weight of people not yet covered; of equal ones the one with the least misfit to them, then the first.
fn greatest_coverage(points: &[&[f64]], weights: &[f64], axes: &[Axis], k: usize) -> Vec<Vec<f64>> {
    let n = points.len();
    let candidates = candidates(points, axes);
    let reach: Vec<Vec<usize>> = candidates
        .iter()
        .map(|c| (0..n).filter(|&i| Misfit::of(points[i], c, axes).covers()).collect())
        .collect();
    let mut covered = vec![false; n];
    let mut chosen = Vec::new();
    while chosen.len() < k {
        let mut best: Option<(usize, f64, f64)> = None;
        for (m, reached) in reach.iter().enumerate() {
            let (mut gain, mut misfit) = (0.0, 0.0);
            for &i in reached.iter().filter(|&&i| !covered[i]) {
                gain += weights[i];
                misfit += weights[i] * Misfit::of(points[i], &candidates[m], axes).together;
            }
            if best.is_none_or(|(_, g, f)| gain > g || (gain == g && misfit < f)) {
                best = Some((m, gain, misfit));
            }
        }
        match best {
            Some((m, gain, _)) if gain > 0.0 => {
                reach[m].iter().for_each(|&i| covered[i] = true);
                chosen.push(candidates[m].clone());
            }
            // With a step a person's own rounded values may not even cover themselves.
            _ => break,
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::axes::axes_of;
    use crate::{Control, Count, Tolerance};

    fn plan(method: Method) -> Plan {
        let control = Control {
            dimension: "d0".to_owned(),
            tolerance: Tolerance { below: 10.0, above: 10.0 },
            unit: None,
            step: None,
            scale: None,
        };
        Plan { method, ..Plan::new(vec![control], Count::Each(2)) }
    }

    fn on(values: &[f64], tolerance: (f64, f64), method: Method, k: usize) -> Vec<f64> {
        let rows: Vec<[f64; 1]> = values.iter().map(|v| [*v]).collect();
        let points: Vec<&[f64]> = rows.iter().map(|r| &r[..]).collect();
        let axes = axes_of(&[tolerance]);
        find(&points, &vec![1.0; values.len()], &axes, &plan(method), k)
            .unwrap()
            .concat()
            .iter()
            .map(|v| (v * 1e9).round() / 1e9)
            .collect()
    }

    #[test]
    fn two_heaps_by_every_method() {
        let x = [100.0, 101.0, 102.0, 200.0, 204.0, 208.0];
        assert_eq!(on(&x, (10.0, 10.0), Method::KMeans, 2), [101.0, 204.0]);
        assert_eq!(on(&x, (10.0, 10.0), Method::KMedoids, 2), [101.0, 204.0]);
        assert_eq!(on(&x, (10.0, 10.0), Method::GreatestCoverage, 2), [101.0, 204.0]);
        // A third size covers nobody new, so there is none.
        assert_eq!(on(&x, (10.0, 10.0), Method::GreatestCoverage, 3).len(), 2);
    }

    #[test]
    fn uneven_tolerances_put_the_value_off_the_middle() {
        // The wearers' range 100 +- 15 is the value 95 with 10 below and 20 above.
        assert_eq!(on(&[90.0, 100.0, 110.0], (10.0, 20.0), Method::KMeans, 1), [95.0]);
        // Larger wearers cost half of what smaller ones do, so that the lowest of three is as good as it gets.
        assert_eq!(on(&[90.0, 100.0, 110.0], (1.0, 20.0), Method::KMedoids, 1), [90.0]);
    }

    #[test]
    fn no_more_sizes_than_people_who_differ() {
        assert_eq!(on(&[5.0, 5.0, 5.0, 90.0], (10.0, 10.0), Method::KMeans, 3), [5.0, 90.0]);
        assert_eq!(on(&[5.0, 5.0, 5.0, 90.0], (10.0, 10.0), Method::KMedoids, 3), [5.0, 90.0]);
    }
}
