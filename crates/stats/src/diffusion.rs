//! Diffusion maps: coordinates in which points are near each other when many short steps lead from one to the other.
//!
//! K_ij = exp(-|x_i - x_j|^2 / e); q_i = sum_j K_ij; K'_ij = K_ij / (q_i q_j), which takes out how densely the points lie; d_i = sum_j K'_ij; the chance of a step
//! from i to j is K'_ij / d_i, with eigenvalues 1 = l_0 >= l_1 >= .. and eigenvectors psi_k (Coifman and Lafon 2006, a = 1). The coordinates are l_k^t psi_k(i). They come from the
//! symmetric D^-1/2 K' D^-1/2, which has the same eigenvalues.
//!
//! e is where ln sum_ij K_ij grows fastest with ln e (Coifman and others 2008): smaller, points see nobody; larger, everybody. Twice the slope there tells the dimension of what the
//! points lie on. It is raised, where need be, to the greatest squared distance of a point from its fifth nearest, so that nobody stands alone: with the density taken out, a point
//! without neighbours would have an axis to itself.

use ndarray::{Array2, ArrayView2};
use rayon::prelude::*;

use crate::StatsError;
use crate::symmetric::symmetric_eigen;

/// Bandwidths that are tried.
const TRIED: usize = 120;

/// A diffusion map of n points.
#[derive(Debug, Clone, PartialEq)]
pub struct DiffusionMap {
    /// n x K coordinates l_k psi_k, mean square of psi_k under the steps' resting state 1. The largest of a coordinate is positive.
    pub coordinates: Array2<f64>,
    /// The eigenvalues l_1 .. l_K, largest first.
    pub eigenvalues: Vec<f64>,
    /// The bandwidth e, in squared units of the distances.
    pub bandwidth: f64,
    /// Twice the greatest slope of ln sum K over ln e.
    pub dimension: f64,
    /// Whether groups of points are so far apart that hardly a step leads from one to another: l_1 over 0.999. Coordinates then tell the groups and little else.
    pub apart: bool,
}

/// Squared Euclidean distances between the rows of `points`.
#[must_use]
pub fn squared_distances(points: ArrayView2<f64>) -> Array2<f64> {
    let n = points.nrows();
    let gram = points.dot(&points.t());
    Array2::from_shape_fn((n, n), |(i, j)| {
        if i == j { 0.0 } else { (gram[[i, i]] + gram[[j, j]] - 2.0 * gram[[i, j]]).max(0.0) }
    })
}

/// How many neighbours nobody is without.
const COMPANY: usize = 5;

/// The bandwidth, and twice the slope of ln sum K where it is greatest.
///
/// # Errors
/// [`StatsError::TooFew`] where fewer than two points are apart, [`StatsError::NotFinite`].
pub fn bandwidth(squares: ArrayView2<f64>) -> Result<(f64, f64), StatsError> {
    if let Some(index) = squares.iter().position(|x| !x.is_finite()) {
        return Err(StatsError::NotFinite { what: "squared distances", index });
    }
    let largest = squares.iter().fold(0.0f64, |m, x| m.max(*x));
    let least = squares.iter().filter(|x| **x > 1e-12 * largest).fold(f64::INFINITY, |m, x| m.min(*x));
    if largest <= 0.0 {
        return Err(StatsError::TooFew { what: "points apart from each other", least: 2, found: 1 });
    }
    let (low, high) = ((least / 10.0).ln(), (10.0 * largest).ln());
    let slopes: Vec<(f64, f64)> = (0..TRIED)
        .into_par_iter()
        .map(|i| {
            let e = (low + (high - low) * i as f64 / (TRIED - 1) as f64).exp();
            let (mut sum, mut moment) = (0.0, 0.0);
            for x in squares {
                let k = (-x / e).exp();
                sum += k;
                moment += k * x / e;
            }
            // d ln S / d ln e
            (e, moment / sum)
        })
        .collect();
    let best = slopes.into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((largest, 0.0));
    let lonely = squares
        .outer_iter()
        .map(|row| {
            let mut sorted = row.to_vec();
            sorted.sort_unstable_by(f64::total_cmp);
            // the first is the point itself
            sorted[COMPANY.min(sorted.len() - 1)]
        })
        .fold(0.0f64, f64::max);
    Ok((best.0.max(lonely), 2.0 * best.1))
}

/// A diffusion map with `count` coordinates from squared distances; `e` where the bandwidth is set, otherwise [`bandwidth()`].
///
/// # Errors
/// [`StatsError::TooFew`] where there are no more points than coordinates, [`StatsError::NotFinite`], [`StatsError::OutOfRange`] for a bandwidth that is not above 0, and as
/// [`bandwidth()`].
pub fn diffusion_map(
    squares: ArrayView2<f64>,
    count: usize,
    e: Option<f64>,
) -> Result<DiffusionMap, StatsError> {
    let n = squares.nrows();
    if squares.ncols() != n {
        return Err(StatsError::Size { what: "columns of distances", expected: n, found: squares.ncols() });
    }
    if n <= count + 1 {
        return Err(StatsError::TooFew { what: "points for a map", least: count + 2, found: n });
    }
    let (own, dimension) = bandwidth(squares)?;
    let e = e.unwrap_or(own);
    if !(e > 0.0 && e.is_finite()) {
        return Err(StatsError::OutOfRange { name: "the bandwidth", value: e, range: "above 0 and finite" });
    }
    let mut k = squares.mapv(|x| (-x / e).exp());
    let q: Vec<f64> = k.outer_iter().map(|row| row.sum()).collect();
    for ((i, j), x) in k.indexed_iter_mut() {
        *x /= q[i] * q[j];
    }
    let d: Vec<f64> = k.outer_iter().map(|row| row.sum().sqrt()).collect();
    for ((i, j), x) in k.indexed_iter_mut() {
        *x /= d[i] * d[j];
    }
    let eigen = symmetric_eigen(&k)?;
    let total: f64 = d.iter().map(|d| d * d).sum();
    let mut coordinates = Array2::zeros((n, count));
    let mut eigenvalues = Vec::with_capacity(count);
    for c in 0..count {
        let l = eigen.values[c + 1];
        let v = eigen.vectors.column(c + 1);
        // psi = D^-1/2 v; resting state d_i^2 / total
        let psi: Vec<f64> = v.iter().zip(&d).map(|(x, d)| x / d * total.sqrt()).collect();
        let most = psi.iter().fold(0.0f64, |m, x| m.max(x.abs()));
        let first = psi.iter().find(|x| x.abs() >= most * (1.0 - 1e-6)).copied().unwrap_or(1.0);
        let sign = if first < 0.0 { -1.0 } else { 1.0 };
        for (i, x) in psi.iter().enumerate() {
            coordinates[[i, c]] = sign * l * x;
        }
        eigenvalues.push(l);
    }
    let apart = eigenvalues.first().is_some_and(|l| *l > 0.999);
    Ok(DiffusionMap { coordinates, eigenvalues, bandwidth: e, dimension, apart })
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{PI, TAU};

    use approx::assert_abs_diff_eq;

    use super::*;
    use crate::moments::pearson;
    use crate::random::stream;
    use rand::Rng;

    fn of(points: &[Vec<f64>]) -> Array2<f64> {
        Array2::from_shape_fn((points.len(), points[0].len()), |(i, j)| points[i][j])
    }

    #[test]
    fn a_circle_comes_back_as_a_circle_with_equal_eigenvalues() {
        // the eigenfunctions of the circle are cosine and sine of the angle, whatever the density of points
        let points: Vec<Vec<f64>> = (0..150)
            .map(|i| {
                let t = f64::from(i) / 150.0;
                let a = TAU * (t + 0.1 * (TAU * t).sin());
                vec![100.0 * a.cos(), 100.0 * a.sin(), 0.0]
            })
            .collect();
        let map = diffusion_map(squared_distances(of(&points).view()).view(), 2, Some(300.0)).unwrap();
        assert!((map.eigenvalues[0] / map.eigenvalues[1] - 1.0).abs() < 0.002, "{:?}", map.eigenvalues);
        assert!((map.dimension - 1.0).abs() < 0.25, "{}", map.dimension);
        // the steps' eigenvalue to cos a is exp(-e / 4 r^2)
        assert_abs_diff_eq!(map.eigenvalues[0], (-300.0f64 / 40_000.0).exp(), epsilon = 2e-3);
        let radius: Vec<f64> = map.coordinates.outer_iter().map(|r| r.dot(&r).sqrt()).collect();
        let (low, high) = radius.iter().fold((f64::MAX, 0.0f64), |(l, h), r| (l.min(*r), h.max(*r)));
        assert!(high / low < 1.1, "{low} to {high}");
    }

    #[test]
    fn a_bent_line_is_straightened_to_its_cosine() {
        // the first eigenfunction of a line of length 1 is the cosine of pi t
        let mut rng = stream(3, "a bent line");
        let mut t: Vec<f64> = (0..200).map(|_| rng.gen_range(0.0..1.0f64)).collect();
        t.sort_by(f64::total_cmp);
        let points: Vec<Vec<f64>> = t.iter().map(|t| vec![(PI * t).cos(), (PI * t).sin(), 0.2 * t]).collect();
        let squares = squared_distances(of(&points).view());
        let map = diffusion_map(squares.view(), 1, Some(0.01)).unwrap();
        let wanted: Vec<f64> = t.iter().map(|t| (PI * t).cos()).collect();
        let r = pearson(&map.coordinates.column(0).to_vec(), &wanted, None).unwrap();
        assert!(r.abs() > 0.98, "{r}");
    }

    #[test]
    fn two_heaps_are_told_apart_and_said_to_be() {
        let points: Vec<Vec<f64>> = (0..20)
            .map(|i| vec![f64::from(i % 5) + if i < 10 { 0.0 } else { 1000.0 }, f64::from(i % 3)])
            .collect();
        let map = diffusion_map(squared_distances(of(&points).view()).view(), 1, Some(10.0)).unwrap();
        assert!(map.apart);
        let side = |i: usize| map.coordinates[[i, 0]] > 0.0;
        assert!((0..10).all(|i| side(i) == side(0)) && (10..20).all(|i| side(i) != side(0)));
    }

    #[test]
    fn nothing_is_mapped_from_points_that_coincide_or_are_too_few() {
        let same = Array2::zeros((5, 5));
        assert!(matches!(diffusion_map(same.view(), 2, None), Err(StatsError::TooFew { .. })));
        let few = squared_distances(of(&[vec![0.0], vec![1.0], vec![2.0]]).view());
        assert!(matches!(diffusion_map(few.view(), 2, None), Err(StatsError::TooFew { .. })));
        assert_abs_diff_eq!(few[[0, 2]], 4.0, epsilon = 1e-12);
    }
}
