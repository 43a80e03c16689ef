//! Leading components of a long sequence: subspace iteration in passes over the frames.
//!
//! The frames x frames matrix of scalar products of 10,000 frames takes 0.8 GB and its eigenvectors hours; the coordinates x coordinates
//! matrix is larger still. Here the covariance C is only ever multiplied with a few rows: Z <- C Z in one pass, Z made orthonormal,
//! until the variances stand still; then one Rayleigh-Ritz pass for variances and coefficients (randomised
//! subspace iteration: Halko, Martinsson & Tropp 2011, SIAM Review 53, from memory). Twice as many rows as modes are carried
//! (ten more at least), so what is kept settles fast. Memory: two sets of rows and one block of frames.
//!
//! Coordinates are cut into tiles of fixed size that are worked on in parallel and added in their order: the result does not
//! depend on the number of threads.

use formkin_geometry::{Point, ShapeSource, SourceError};
use formkin_stats::gram::{add_gram, add_product};
use formkin_stats::random::stream;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::{Array2, s};
use rand::Rng;
use rayon::prelude::*;

use crate::{MotionError, Route};

/// Coordinates in a tile.
const TILE: usize = 3072;
/// Numbers in a block of frames.
const BLOCK: usize = 4_000_000;
/// Passes after which it is given up.
const MAX_PASSES: usize = 60;
/// The variances stand still when none changes by more than this part of the largest.
const TOLERANCE: f64 = 1e-9;

/// Rows over all coordinates, tile by tile: each tile is rows x coordinates of the tile.
type Rows = Vec<Array2<f64>>;

/// Frames less the mean, times the root of the weight.
struct Frames<'a> {
    source: &'a dyn ShapeSource,
    mean: &'a [Point],
    root: Vec<f64>,
}

impl Frames<'_> {
    fn tiles(&self) -> usize {
        (3 * self.mean.len()).div_ceil(TILE)
    }

    fn width(&self, tile: usize) -> usize {
        TILE.min(3 * self.mean.len() - tile * TILE)
    }

    /// One pass: calls `f` with the first frame and the tiles of every block, in order.
    fn pass(
        &self,
        mut f: impl FnMut(usize, &[Array2<f64>]) -> Result<(), MotionError>,
    ) -> Result<(), MotionError> {
        let (n, v) = (self.source.shapes(), self.mean.len());
        let block = (BLOCK / (3 * v)).clamp(1, n);
        let mut points = vec![[0.0; 3]; block * v];
        for first in (0..n).step_by(block) {
            let frames = block.min(n - first);
            let points = &mut points[..frames * v];
            let read: Vec<Result<(), SourceError>> = points
                .par_chunks_mut(v)
                .enumerate()
                .map(|(i, shape)| self.source.read_block(first + i, shape))
                .collect();
            read.into_iter().collect::<Result<(), _>>()?;
            let points = &*points;
            let tiles: Rows = (0..self.tiles())
                .into_par_iter()
                .map(|t| {
                    Array2::from_shape_fn((frames, self.width(t)), |(i, j)| {
                        let (vertex, c) = ((t * TILE + j) / 3, (t * TILE + j) % 3);
                        (points[i * v + vertex][c] - self.mean[vertex][c]) * self.root[vertex]
                    })
                })
                .collect();
            f(first, &tiles)?;
        }
        Ok(())
    }

    fn zeros(&self, rows: usize) -> Rows {
        (0..self.tiles()).map(|t| Array2::zeros((rows, self.width(t)))).collect()
    }
}

/// sum over tiles of a_t b_t^T.
fn products(a: &[Array2<f64>], b: &[Array2<f64>]) -> Result<Array2<f64>, MotionError> {
    let parts: Vec<Array2<f64>> = a
        .par_iter()
        .zip(b)
        .map(|(x, y)| {
            let mut part = Array2::zeros((x.nrows(), y.nrows()));
            add_gram(&mut part, x.view(), y.view()).map(|()| part)
        })
        .collect::<Result<_, _>>()?;
    Ok(parts.into_iter().fold(Array2::zeros((a[0].nrows(), b[0].nrows())), |sum, p| sum + p))
}

/// rows_t += left x tile_t for every tile.
fn add_combined(rows: &mut Rows, left: &Array2<f64>, tiles: &[Array2<f64>]) -> Result<(), MotionError> {
    rows.par_iter_mut()
        .zip(tiles)
        .try_for_each(|(row, tile)| add_product(row.view_mut(), left.view(), tile.view()))
        .map_err(MotionError::from)
}

/// Rows with the same span that are orthonormal, largest singular value first, and these values; directions that are
/// rounding only are left out.
fn orthonormal(rows: Rows) -> Result<(Rows, Vec<f64>), MotionError> {
    let mut found = (rows, Vec::new());
    // once more mends what the squared condition of the products cost
    for round in 0..2 {
        let gram = products(&found.0, &found.0)?;
        let eigen = symmetric_eigen(&gram)?;
        let largest = eigen.values.first().copied().unwrap_or(0.0);
        let kept = eigen.values.iter().take_while(|&&l| l > 1e-15 * largest && l > 0.0).count();
        let left = Array2::from_shape_fn((kept, gram.nrows()), |(k, i)| {
            eigen.vectors[[i, k]] / eigen.values[k].sqrt()
        });
        let mut new: Rows = found.0.iter().map(|t| Array2::zeros((kept, t.ncols()))).collect();
        add_combined(&mut new, &left, &found.0)?;
        if round == 0 {
            found.1 = eigen.values[..kept].iter().map(|l| l.sqrt()).collect();
        }
        found.0 = new;
    }
    Ok(found)
}

/// Variances and coefficients of components; the modes follow from the coefficients.
pub(crate) struct Components {
    /// Variances, largest first, divisor frames - 1.
    pub variances: Vec<f64>,
    /// The sum of all variances, exact.
    pub total: f64,
    /// Frames x components, as many as asked for at most; their squares sum to (frames - 1) variance. Signs are arbitrary.
    pub scores: Array2<f64>,
    pub route: Route,
}

/// The leading `modes` components of the frames about `mean` under weights that sum to 1.
pub(crate) fn leading_components(
    source: &dyn ShapeSource,
    mean: &[Point],
    weights: &[f64],
    modes: usize,
    seed: u64,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Components, MotionError> {
    let n = source.shapes();
    let frames = Frames { source, mean, root: weights.iter().map(|w| w.sqrt()).collect() };
    let carried = (modes + modes.max(10)).min(n.saturating_sub(1)).max(1);

    // start: random sums of frames
    let mut random = stream(seed, "modes of a movement");
    let mut rows = frames.zeros(carried);
    let mut squares = 0.0;
    frames.pass(|_, tiles| {
        let signs =
            Array2::from_shape_fn((carried, tiles[0].nrows()), |_| if random.r#gen() { 1.0 } else { -1.0 });
        squares += tiles.iter().map(|t| t.iter().map(|x| x * x).sum::<f64>()).sum::<f64>();
        add_combined(&mut rows, &signs, tiles)
    })?;
    let divisor = (n - 1) as f64;
    let total = squares / divisor;
    let mut passes = 1;
    let mut known: Vec<f64> = Vec::new();
    let mut change = f64::INFINITY;
    let mut basis = orthonormal(rows)?.0;
    while change > TOLERANCE {
        if passes == MAX_PASSES {
            return Err(MotionError::NotSettled { passes, change });
        }
        progress(passes, MAX_PASSES);
        let mut next = frames.zeros(basis[0].nrows());
        frames.pass(|_, tiles| {
            let y = products(&basis, tiles)?; // carried x frames
            add_combined(&mut next, &y, tiles)
        })?;
        passes += 1;
        let (rows, values) = orthonormal(next)?;
        let values: Vec<f64> = values.iter().take(modes).map(|s| s / divisor).collect();
        let largest = values.first().copied().unwrap_or(0.0);
        if largest <= 0.0 {
            return Ok(Components {
                variances: Vec::new(),
                total,
                scores: Array2::zeros((n, 0)),
                route: Route::Subspace { passes, relative_change: 0.0 },
            });
        }
        change = values
            .iter()
            .enumerate()
            .map(|(k, v)| (v - known.get(k).copied().unwrap_or(0.0)).abs() / largest)
            .fold(0.0, f64::max);
        known = values;
        basis = rows;
    }

    // Rayleigh-Ritz: scores in the basis, turned to the axes of their covariance
    let mut scores = Array2::zeros((n, basis[0].nrows()));
    frames.pass(|first, tiles| {
        let y = products(tiles, &basis)?;
        scores.slice_mut(s![first..first + y.nrows(), ..]).assign(&y);
        Ok(())
    })?;
    let mut covariance = Array2::zeros((scores.ncols(), scores.ncols()));
    add_gram(&mut covariance, scores.t(), scores.t())?;
    let eigen = symmetric_eigen(&covariance)?;
    let kept = modes.min(eigen.values.len());
    let mut turned = Array2::zeros((n, kept));
    add_gram(&mut turned, scores.view(), eigen.vectors.slice(s![.., ..kept]).t())?;
    Ok(Components {
        variances: eigen.values[..kept].iter().map(|v| v / divisor).collect(),
        total,
        scores: turned,
        route: Route::Subspace { passes: passes + 1, relative_change: change },
    })
}
