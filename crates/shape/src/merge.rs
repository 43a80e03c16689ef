//! Spaces of laboratories that cannot share scans, joined from their model files alone.
//!
//! With n_j shapes, mean m_j and modes of variance s_jk in space j, and all means laid on their common mean m, the pooled covariance is
//! (sum_j (n_j - 1) sum_k s_jk mode_jk mode_jk^T + sum_j n_j (m_j - m)(m_j - m)^T) / (N - 1): the sums of squares within and between. Its modes are found from the inner products of
//! these vectors under the pooled weights. Shapes laid on m in place of m_j turn by amounts that are linear in their deviations to first order; taking the
//! movements without change of shape (translation, rotation) at m out of every vector does just that.
//!
//! Where scale was removed, the bodies of a laboratory lie in the tangent space at its mean m_j, at its average size. Laid on m they get the average size of all, and a deviation d becomes s R (d - m_j (d . m) / (m_j . m)), s R
//! the similarity that lays m_j on m: to first order in d, and whatever the angle between the means. Scaling alone leaves them in the wrong tangent space, and variances off by half a per cent or so.
//!
//! What the files left out is the only other difference from the pooled fit: no variance of the pooled fit exceeds the merged one by more than
//! sum_j (n_j - 1) s_j,K+1 / (N - 1) (Weyl), and all of them together by exactly the truncated share of the total.

use formkin_align::{Removes, align_one};
use formkin_geometry::{Point, vector::cross};
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::format::REFUSED;
use crate::gram::{fix_sign, rank};
use crate::{ShapeError, Space, format};

/// What a merged space has no more, whatever the spaces had that went in.
pub const LOST: [&str; 3] = [
    "dimensions and what they tell of bodies: predictions and mannequins need a space built from scans with dimensions",
    "errors of people held out, the quality of the space, and the other criteria of how many modes",
    "the stability of modes: none may be taken for stable",
];

/// What the files left out, and what that can change.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MergeBound {
    /// No variance of a pooled fit is larger than the merged one by more than this, in mm2, up to the third order of deviations over size.
    pub variance_mm2: f64,
    /// The variance that the truncated modes held, together, in mm2: what all pooled variances together exceed the merged ones by.
    pub truncated_total_mm2: f64,
    /// The same as RMS over the surface, in mm.
    pub truncated_rms_mm: f64,
    /// Furthest a laboratory's mean lies from the common mean, RMS in mm: the terms neglected grow with its square over the size of a body.
    pub furthest_mean_mm: f64,
}

/// A space merged from others.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Merged {
    /// The space. It has no cross-validation: no shapes are there to hold out.
    pub space: Space,
    /// How far it can be from the pooled fit.
    pub bound: MergeBound,
}

fn centre(points: &[Point], weights: &[f64]) -> Point {
    std::array::from_fn(|k| points.iter().zip(weights).map(|(p, w)| w * p[k]).sum())
}

/// The weighted root mean square distance from the centre.
fn size(points: &[Point], weights: &[f64]) -> f64 {
    let c = centre(points, weights);
    let square = |p: &Point| (0..3).map(|k| (p[k] - c[k]).powi(2)).sum::<f64>();
    points.iter().zip(weights).map(|(p, w)| w * square(p)).sum::<f64>().sqrt()
}

fn inner(weights: &[f64], a: &[Point], b: &[Point]) -> f64 {
    a.iter().zip(b).zip(weights).map(|((p, q), w)| w * (p[0] * q[0] + p[1] * q[1] + p[2] * q[2])).sum()
}

/// An orthonormal basis, in the weights, of the movements of `mean` that are no change of shape.
fn movements(mean: &[Point], weights: &[f64], removes: Removes) -> Vec<Vec<Point>> {
    let axes = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
    let standing = removes == Removes::Standing;
    let mut all: Vec<Vec<Point>> = Vec::new();
    // standing bodies keep their height over the floor
    for axis in &axes[..if standing { 2 } else { 3 }] {
        all.push(vec![*axis; mean.len()]);
    }
    for axis in &axes[if standing { 2 } else { 0 }..] {
        all.push(mean.iter().map(|p| cross(*axis, *p)).collect());
    }
    let mut basis: Vec<Vec<Point>> = Vec::new();
    for mut vector in all {
        take_out(&mut vector, &basis, weights);
        let length = inner(weights, &vector, &vector).sqrt();
        if length > 1e-9 {
            for p in &mut vector {
                *p = p.map(|x| x / length);
            }
            basis.push(vector);
        }
    }
    basis
}

fn take_out(vector: &mut [Point], basis: &[Vec<Point>], weights: &[f64]) {
    for _ in 0..2 {
        for b in basis {
            let along = inner(weights, vector, b);
            for (p, q) in vector.iter_mut().zip(b) {
                *p = std::array::from_fn(|k| p[k] - along * q[k]);
            }
        }
    }
}

fn check(spaces: &[Space]) -> Result<(), ShapeError> {
    let Some(first) = spaces.first() else { return Err(ShapeError::TooFewShapes { shapes: 0 }) };
    for (i, s) in spaces.iter().enumerate() {
        let no = |reason: &str| Err(ShapeError::NotMergeable { which: i + 1, reason: reason.to_owned() });
        if let Some(j) =
            spaces[..i].iter().position(|o| o.mean == s.mean && o.variances_mm2 == s.variances_mm2)
        {
            return no(&format!("it is the same as space {}, and its people would count twice", j + 1));
        }
        if s.template_hash != first.template_hash || s.mean.len() != first.mean.len() {
            return no("its triangles are others");
        }
        if s.removes != first.removes {
            return no("its alignment removes something else");
        }
        if s.weighting != first.weighting {
            return no("its vertices are weighted in another way");
        }
    }
    Ok(())
}

/// Merges spaces whose people are different people. Keeps at most `max_modes`. Weights are the means of the laboratories', by shapes.
///
/// # Errors
/// [`ShapeError::NotMergeable`] for other triangles, alignment or weighting; [`ShapeError::TooFewShapes`] without spaces; a mean without a pose.
#[expect(
    clippy::too_many_lines,
    reason = "one derivation from spaces to a space, whose vectors are needed to the end"
)]
pub fn merge(spaces: &[Space], max_modes: Option<usize>) -> Result<Merged, ShapeError> {
    check(spaces)?;
    let first = &spaces[0];
    let removes = first.removes;
    let total: usize = spaces.iter().map(|s| s.items).sum();
    let share: Vec<f64> = spaces.iter().map(|s| s.items as f64 / total as f64).collect();
    let weights: Vec<f64> = (0..first.weights.len())
        .map(|v| spaces.iter().zip(&share).map(|(s, f)| f * s.weights[v]).sum())
        .collect();
    let average = |shapes: &[Vec<Point>]| -> Vec<Point> {
        (0..weights.len())
            .map(|v| std::array::from_fn(|k| shapes.iter().zip(&share).map(|(s, f)| f * s[v][k]).sum()))
            .collect()
    };
    // without scale, bodies have the average size of all, as the mean of each laboratory has that of its own
    let average_size: f64 = spaces.iter().zip(&share).map(|(s, f)| f * size(&s.mean, &weights)).sum();
    let sized = |mean: Vec<Point>| -> Vec<Point> {
        if removes != Removes::Similarity {
            return mean;
        }
        let (centre, factor) = (centre(&mean, &weights), average_size / size(&mean, &weights));
        mean.iter().map(|p| std::array::from_fn(|k| factor * (p[k] - centre[k]))).collect()
    };
    // the common mean: each mean laid on their average, to the end
    let mut transforms = Vec::new();
    let mut mean = sized(first.mean.clone());
    for _ in 0..50 {
        transforms = spaces
            .iter()
            .map(|s| {
                let mut t = align_one(&s.mean, &mean, &weights, removes)?;
                if removes == Removes::Standing {
                    // bodies stood on the floor when they were averaged; their mean need not touch it
                    t.translation[2] = 0.0;
                }
                Ok(t)
            })
            .collect::<Result<Vec<_>, ShapeError>>()?;
        let laid: Vec<Vec<Point>> = spaces
            .iter()
            .zip(&transforms)
            .map(|(s, t)| s.mean.iter().map(|p| t.apply(*p)).collect())
            .collect();
        let next = sized(average(&laid));
        let moved: Vec<Point> =
            next.iter().zip(&mean).map(|(a, b)| std::array::from_fn(|k| a[k] - b[k])).collect();
        mean = next;
        if inner(&weights, &moved, &moved).sqrt() < 1e-9 {
            break;
        }
    }
    let basis = movements(&mean, &weights, removes);
    let mut vectors: Vec<Vec<Point>> = Vec::new();
    let (mut largest_left, mut left, mut furthest) = (0.0, 0.0, 0.0f64);
    for (s, t) in spaces.iter().zip(&transforms) {
        let laid: Vec<Point> = s.mean.iter().map(|p| t.apply(*p)).collect();
        let mut between: Vec<Point> =
            laid.iter().zip(&mean).map(|(x, m)| std::array::from_fn(|k| x[k] - m[k])).collect();
        furthest = furthest.max(inner(&weights, &between, &between).sqrt());
        let root = (s.items as f64).sqrt();
        for p in &mut between {
            *p = p.map(|x| x * root);
        }
        vectors.push(between);
        let df = s.items.saturating_sub(1) as f64;
        for (mode, variance) in s.modes.iter().zip(&s.variances_mm2) {
            let size = (df * variance).sqrt() * t.scale;
            let turned = |u: &Point| -> Point {
                std::array::from_fn(|i| size * (0..3).map(|j| t.rotation[i][j] * u[j]).sum::<f64>())
            };
            let mut vector: Vec<Point> = mode.iter().map(turned).collect();
            if removes == Removes::Similarity {
                // into the tangent space at the common mean: d - p (d . m) / (p . m), p the laboratory's mean
                let along = inner(&weights, &vector, &mean) / inner(&weights, &laid, &mean);
                for (d, p) in vector.iter_mut().zip(&laid) {
                    *d = std::array::from_fn(|k| d[k] - along * p[k]);
                }
            }
            vectors.push(vector);
        }
        let rest = &s.variances_mm2[s.modes.len().min(s.variances_mm2.len())..];
        largest_left += df * rest.first().copied().unwrap_or(0.0);
        left += df * rest.iter().sum::<f64>();
    }
    vectors.par_iter_mut().for_each(|v| take_out(v, &basis, &weights));
    let count = vectors.len();
    let rows: Vec<Vec<f64>> = (0..count)
        .into_par_iter()
        .map(|i| (0..=i).map(|j| inner(&weights, &vectors[i], &vectors[j])).collect())
        .collect();
    let gram = Array2::from_shape_fn((count, count), |(i, j)| if j <= i { rows[i][j] } else { rows[j][i] });
    let eigen = symmetric_eigen(&gram)?;
    // one value is 0 where there are as many vectors as dimensions; modes in files are rounded to 32 bits
    let nonzero =
        rank(&eigen.values, eigen.values.first().copied().unwrap_or(0.0), 1e-11).min(total.saturating_sub(1));
    let kept = nonzero.min(max_modes.unwrap_or(usize::MAX));
    let mut modes: Vec<Vec<Point>> = (0..kept)
        .into_par_iter()
        .map(|k| {
            let root = eigen.values[k].sqrt();
            let mut mode = vec![[0.0; 3]; mean.len()];
            for (i, vector) in vectors.iter().enumerate() {
                let c = eigen.vectors[[i, k]] / root;
                for (p, q) in mode.iter_mut().zip(vector) {
                    *p = std::array::from_fn(|d| p[d] + c * q[d]);
                }
            }
            fix_sign(&mut mode);
            mode
        })
        .collect();
    for p in modes.iter_mut().chain([&mut mean]).flatten() {
        *p = p.map(|c| f64::from(c as f32));
    }
    let df = (total - 1) as f64;
    let variances_mm2: Vec<f64> = eigen.values[..nonzero].iter().map(|g| g / df).collect();
    let space = Space {
        mean,
        modes,
        total_variance_mm2: variances_mm2.iter().sum(),
        variances_mm2,
        weights,
        triangles: first.triangles.clone(),
        people: spaces.iter().map(|s| s.people).sum(),
        items: total,
        removes,
        weighting: first.weighting.clone(),
        align: first.align.clone(),
        cross_validation: None,
        cross_validation_refused: Some(REFUSED.to_owned()),
        template_hash: first.template_hash.clone(),
        seed: first.seed,
        version: format::VERSION,
        criteria: None,
        quality: None,
        measuring: None,
        regression: None,
    };
    Ok(Merged {
        space,
        bound: MergeBound {
            variance_mm2: largest_left / df,
            truncated_total_mm2: left / df,
            truncated_rms_mm: (left / df).sqrt(),
            furthest_mean_mm: furthest,
        },
    })
}
