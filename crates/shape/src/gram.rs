//! The Gram matrix of aligned shapes, and modes from it, by blocks.
//!
//! With D the n x 3V matrix of deviations from the mean and W the weights, the n x n Gram matrix G = D W D^T has the eigenvalues g_k = (n - 1) variance_k of
//! the weighted covariance and eigenvectors u_k; mode_k = D^T u_k / sqrt(g_k) then has mode_k^T W mode_l = 1 for k = l and 0 otherwise, and the coefficients
//! of the shapes are u_ik sqrt(g_k) (Sirovich 1987; the weighted inner product as in trade practice for meshes of uneven density). Two walks over the
//! shapes, exact, and never more than two blocks of them in memory.

use std::ops::Range;

use formkin_align::block_shapes;
use formkin_geometry::{Point, ShapeSource, SourceError};
use formkin_stats::gram::{add_product, gram_by_blocks};
use ndarray::{Array2, ArrayView2, ArrayViewMut2, s};
use rayon::prelude::*;

use crate::ShapeError;

/// How much one of the two blocks of a Gram matrix may take in memory, in bytes: the shapes are read once for every block.
const GRAM_BYTES: usize = 160 << 20;
/// Modes that one task adds up.
const TASK: usize = 16;

/// The weighted Gram matrix G_ij = sum_v w_v (x_iv - mean_v) . (x_jv - mean_v), in mm2, of all shapes of `source`.
///
/// # Errors
/// [`ShapeError::Source`] where a shape cannot be read.
pub fn gram_matrix(
    source: &dyn ShapeSource,
    mean: &[Point],
    weights: &[f64],
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Array2<f64>, ShapeError> {
    let n = source.shapes();
    let used: Vec<(usize, f64)> =
        weights.iter().enumerate().filter(|(_, w)| **w > 0.0).map(|(v, w)| (v, w.sqrt())).collect();
    let length = 3 * used.len();
    let block = (GRAM_BYTES / (8 * length.max(1))).clamp(1, 512);
    let read = |shapes: Range<usize>, mut rows: Vec<f64>| -> Result<Array2<f64>, ShapeError> {
        rows.resize(length * shapes.len(), 0.0);
        let read: Vec<Result<(), SourceError>> = rows
            .par_chunks_mut(length.max(1))
            .zip(shapes.clone())
            .map_init(Vec::new, |shape, (row, i)| {
                shape.resize(source.vertices(), [0.0; 3]);
                source.read_block(i, shape)?;
                for (out, &(v, root)) in row.chunks_mut(3).zip(&used) {
                    for k in 0..3 {
                        out[k] = root * (shape[v][k] - mean[v][k]);
                    }
                }
                Ok(())
            })
            .collect();
        read.into_iter().collect::<Result<(), _>>()?;
        let expected = rows.len();
        Array2::from_shape_vec((shapes.len(), length), rows).map_err(|_| ShapeError::Count {
            what: "coordinates of a block",
            expected,
            found: 0,
        })
    };
    gram_by_blocks(n, block, read, progress)
}

/// How many eigenvalues of a Gram matrix are not zero: those that are more than rounding, with `square_mm2` the mean square size of the shapes, and
/// at most n - 1, since centring takes one away.
#[must_use]
pub fn rank(values: &[f64], square_mm2: f64, rounding: f64) -> usize {
    let n = values.len();
    let largest = values.first().copied().unwrap_or(0.0).max(0.0);
    let least = (16.0 * n as f64 * f64::EPSILON * largest).max(rounding * square_mm2);
    values.iter().take(n.saturating_sub(1)).take_while(|v| **v > least).count()
}

/// The combinations mode_k = sum_i columns[i, k] (x_i - mean), in one walk over the shapes.
///
/// # Errors
/// [`ShapeError::Source`] where a shape cannot be read.
pub fn combine(
    source: &dyn ShapeSource,
    mean: &[Point],
    columns: &Array2<f64>,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Vec<Vec<Point>>, ShapeError> {
    let (n, vertices, modes) = (source.shapes(), source.vertices(), columns.ncols());
    let mut groups: Vec<Vec<Point>> =
        (0..modes).step_by(TASK).map(|k| vec![[0.0; 3]; TASK.min(modes - k) * vertices]).collect();
    let block = block_shapes(vertices);
    for first in (0..n).step_by(block) {
        let count = block.min(n - first);
        let mut shapes = vec![[0.0; 3]; count * vertices];
        let read: Vec<Result<(), SourceError>> = shapes
            .par_chunks_mut(vertices.max(1))
            .enumerate()
            .map(|(i, shape)| {
                source.read_block(first + i, shape)?;
                for (p, m) in shape.iter_mut().zip(mean) {
                    *p = [p[0] - m[0], p[1] - m[1], p[2] - m[2]];
                }
                Ok(())
            })
            .collect();
        read.into_iter().collect::<Result<(), _>>()?;
        let sizes = |expected: usize, found: usize| ShapeError::Count {
            what: "positions of a block",
            expected,
            found,
        };
        let length = 3 * vertices;
        let flat = shapes.as_flattened();
        let deviations =
            ArrayView2::from_shape((count, length), flat).map_err(|_| sizes(count * length, flat.len()))?;
        groups.par_iter_mut().enumerate().try_for_each(|(g, group)| -> Result<(), ShapeError> {
            let k = g * TASK;
            let width = TASK.min(modes - k);
            let flat = group.as_flattened_mut();
            let found = flat.len();
            let out =
                ArrayViewMut2::from_shape((width, length), flat).map_err(|_| sizes(width * length, found))?;
            let factors = columns.slice(s![first..first + count, k..k + width]);
            Ok(add_product(out, factors.t(), deviations)?)
        })?;
        progress(first + count, n);
    }
    let mut out = Vec::with_capacity(modes);
    for group in groups {
        out.extend(group.chunks(vertices.max(1)).map(<[Point]>::to_vec));
    }
    Ok(out)
}

/// Makes the displacement of largest size positive, and says by which factor. Of several within a millionth of the largest (left and right of a symmetric
/// body) the first decides, so that rounding does not.
pub fn fix_sign(mode: &mut [Point]) -> f64 {
    let flat = mode.as_flattened_mut();
    let largest = flat.iter().fold(0.0, |a: f64, x| a.max(x.abs()));
    let first = flat.iter().find(|x| x.abs() >= largest * (1.0 - 1e-6));
    if first.is_some_and(|x| *x < 0.0) {
        for x in flat {
            *x = -*x;
        }
        return -1.0;
    }
    1.0
}
