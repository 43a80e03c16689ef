//! Bodies and their mirrored copies laid on one symmetric mean.
//!
//! A joint fit of n shapes and their n relabelled reflections has a mean that is its own reflection. Bring its plane of symmetry to x = 0, and the mirrored copy of a shape
//! laid on the mean is the reflection of that shape as laid: reflections of rotations are rotations, and the distance is the same. So the joint fit needs the n shapes only,
//! with the mean averaged with its own mirrored copy in every round; a test holds the two against each other.

use formkin_align::{AlignParams, Removes, Transform, align_one};
use formkin_geometry::areas::{centroid, centroid_size};
use formkin_geometry::vector::{cross, dot, norm, scale, sub};
use formkin_geometry::{Point, ShapeSource};
use rayon::prelude::*;

use crate::ShapeError;
use crate::mirror::mirrored;

/// Shapes of one task: fixed, so that sums do not depend on the number of threads.
const TASK: usize = 16;

/// The joint fit.
pub(super) struct Frame {
    /// The mean: symmetric about x = 0.
    pub(super) mean: Vec<Point>,
    /// V weights that sum to 1, equal within pairs.
    pub(super) weights: Vec<f64>,
    /// From the shapes as captured.
    pub(super) transforms: Vec<Transform>,
    /// Rounds made.
    pub(super) rounds: usize,
}

/// Half the sum of a shape and its mirrored copy: symmetric about x = 0.
pub(super) fn symmetric(shape: &[Point], mirror: &[u32]) -> Vec<Point> {
    shape
        .iter()
        .zip(mirrored(shape, mirror))
        .map(|(a, b)| std::array::from_fn(|k| (a[k] + b[k]) / 2.0))
        .collect()
}

/// Weighted root mean square of the distances between two shapes.
fn apart(a: &[Point], b: &[Point], weights: &[f64]) -> f64 {
    let terms = a.iter().zip(b).zip(weights);
    terms.map(|((p, q), w)| w * dot(sub(*p, *q), sub(*p, *q))).sum::<f64>().sqrt()
}

/// Turns and moves a mean so that its plane of symmetry is x = 0, and averages it with its mirrored copy. Also the RMS of what that took away, in mm.
fn onto_the_plane(
    mean: &[Point],
    weights: &[f64],
    mirror: &[u32],
    removes: Removes,
) -> Result<(Vec<Point>, f64), ShapeError> {
    let copy = mirrored(mean, mirror);
    let back =
        align_one(&copy, mean, weights, if removes == Removes::Standing { removes } else { Removes::Rigid })?;
    // x -> R diag(-1, 1, 1) x + t is a reflection I - 2 n n^T: the first column of R tells n
    let r = &back.rotation;
    let outer: [Point; 3] = std::array::from_fn(|c| {
        std::array::from_fn(|k| {
            let q = if c == 0 { -r[k][0] } else { r[k][c] };
            (f64::from(u8::from(k == c)) - q) / 2.0
        })
    });
    let longest = outer.into_iter().max_by(|a, b| norm(*a).total_cmp(&norm(*b))).unwrap_or([1.0, 0.0, 0.0]);
    let mut n = scale(longest, 1.0 / norm(longest).max(f64::MIN_POSITIVE));
    if n[0] < 0.0 {
        n = scale(n, -1.0);
    }
    let turn = shortest_turn(n);
    let average: Vec<Point> = mean
        .iter()
        .zip(&copy)
        .map(|(p, c)| {
            let c = back.apply(*c);
            std::array::from_fn(|k| (p[k] + c[k]) / 2.0)
        })
        .collect();
    let through = centroid(&average, weights);
    let mut place = Transform { rotation: turn, ..Transform::default() };
    let moved = place.apply(through);
    // the height and the depth of the body stay where they are
    place.translation = [-moved[0], through[1] - moved[1], through[2] - moved[2]];
    let laid: Vec<Point> = mean.iter().map(|p| place.apply(*p)).collect();
    let even = symmetric(&laid, mirror);
    let lost = apart(&laid, &even, weights);
    Ok((even, lost))
}

/// The rotation by the smallest angle that brings the unit vector `n` to (1, 0, 0).
fn shortest_turn(n: Point) -> [[f64; 3]; 3] {
    let x = [1.0, 0.0, 0.0];
    let (v, c) = (cross(n, x), dot(n, x));
    // n[0] is not negative, so 1 + c is not 0 (Rodrigues)
    let k = 1.0 / (1.0 + c);
    [
        [v[0] * v[0] * k + c, v[0] * v[1] * k - v[2], v[0] * v[2] * k + v[1]],
        [v[1] * v[0] * k + v[2], v[1] * v[1] * k + c, v[1] * v[2] * k - v[0]],
        [v[2] * v[0] * k - v[1], v[2] * v[1] * k + v[0], v[2] * v[2] * k + c],
    ]
}

/// The joint fit, from the mean and the weights of a fit of the shapes alone.
pub(super) fn fit(
    source: &dyn ShapeSource,
    start: &[Point],
    weights: &[f64],
    mirror: &[u32],
    params: &AlignParams,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Frame, ShapeError> {
    let n = source.shapes();
    let weights: Vec<f64> =
        weights.iter().zip(mirror).map(|(w, &m)| f64::midpoint(*w, weights[m as usize])).collect();
    let (mut mean, lost) = onto_the_plane(start, &weights, mirror, params.removes)?;
    let size = centroid_size(&mean, &weights);
    if lost > 0.2 * size {
        return Err(ShapeError::NotMirrored { rms_mm: lost, size_mm: size });
    }
    let first = mean.clone();
    for round in 1..=params.max_rounds {
        let laid = lay(source, &mean, &weights, params.removes)?;
        let mut average = vec![[0.0; 3]; mean.len()];
        for some in (0..n).step_by(TASK).collect::<Vec<_>>().chunks(8) {
            let parts: Vec<Vec<Point>> = some
                .par_iter()
                .map(|&from| {
                    let mut part = vec![[0.0; 3]; mean.len()];
                    for i in from..(from + TASK).min(n) {
                        for (sum, p) in part.iter_mut().zip(source.read_shape(i)?) {
                            let x = laid[i].apply(p);
                            *sum = std::array::from_fn(|k| sum[k] + x[k] / n as f64);
                        }
                    }
                    Ok(part)
                })
                .collect::<Result<_, ShapeError>>()?;
            for part in parts {
                for (sum, x) in average.iter_mut().zip(part) {
                    *sum = std::array::from_fn(|k| sum[k] + x[k]);
                }
            }
        }
        let mut next = symmetric(&average, mirror);
        if params.removes != Removes::Standing {
            // the frame stays where it was; with scale removed, so does the size
            let back = align_one(&next, &first, &weights, Removes::Rigid)?;
            let by = if params.removes == Removes::Similarity {
                size / centroid_size(&next, &weights)
            } else {
                1.0
            };
            back.apply_all(&mut next);
            let c = centroid(&next, &weights);
            for p in &mut next {
                *p = std::array::from_fn(|k| c[k] + by * (p[k] - c[k]));
            }
            next = symmetric(&next, mirror);
        }
        let moved = apart(&next, &mean, &weights);
        mean = next;
        progress(round.min(10), 10);
        if moved < params.mean_tolerance_mm {
            let transforms = lay(source, &mean, &weights, params.removes)?;
            return Ok(Frame { mean, weights, transforms, rounds: round });
        }
    }
    Err(ShapeError::NoConvergence { rounds: params.max_rounds, moved_mm: params.mean_tolerance_mm })
}

fn lay(
    source: &dyn ShapeSource,
    mean: &[Point],
    weights: &[f64],
    removes: Removes,
) -> Result<Vec<Transform>, ShapeError> {
    (0..source.shapes())
        .into_par_iter()
        .map(|i| Ok(align_one(&source.read_shape(i)?, mean, weights, removes)?))
        .collect()
}
