//! All 3 x 3 cross moments of a cohort: exact refits of any subset without the meshes.
//!
//! With Y_i the V x 3 positions of shape i about its centre and W the diagonal matrix of the weights, B_ij = Y_i^T W Y_j. Every inner product between
//! shapes under rotations follows from these: (Y_i Q_i) . (Y_j Q_j) = tr(Q_i^T B_ij Q_j). That is all that a Procrustes alignment, the Gram matrix of the
//! aligned shapes, and the pose and projection of a shape left out ask for. So a cross-validation that refits alignment and components in every fold reads
//! the meshes once. Weights and centring are fixed when the moments are taken.

use std::ops::Range;

use formkin_geometry::rotation::{IDENTITY, Rotation, product, rotate};
use formkin_geometry::{Point, ShapeSource};
use formkin_stats::gram::gram_by_blocks;
use ndarray::Array2;
use rayon::prelude::*;

use crate::blocks::BLOCK_BYTES;
use crate::pose::{best, place, tangent_scale};
use crate::{AlignError, AlignParams, Removes, Transform};

/// All cross moments B_ij = Y_i^T W Y_j of n shapes, in mm2. Memory: 72 n^2 bytes.
#[derive(Debug, Clone, PartialEq)]
pub struct CrossMoments {
    removes: Removes,
    shapes: usize,
    moments: Array2<f64>,
    sizes: Vec<f64>,
    centres: Vec<Point>,
}

/// A generalised Procrustes alignment of some of the shapes, known through inner products alone.
#[derive(Debug, Clone)]
pub struct SubsetAlignment<'a> {
    all: &'a CrossMoments,
    members: Vec<usize>,
    poses: Vec<Pose>,
    /// x_i . mean, for each member
    on_mean: Vec<f64>,
    mean_square: f64,
    /// Rounds made.
    pub rounds: usize,
    /// Weighted sum of squared distances from the mean, in mm2.
    pub sum_of_squares_mm2: f64,
}

/// A shape left out of a [`SubsetAlignment`], laid on its mean.
#[derive(Debug, Clone, PartialEq)]
pub struct HeldOut {
    /// Its weighted mean square distance from the mean, in mm2.
    pub square_mm2: f64,
    /// The inner products (x - mean) . (x_j - mean) with every member, in mm2.
    pub products_mm2: Vec<f64>,
    /// From the shape as read to where it lies on the mean.
    pub transform: Transform,
}

/// x = scale R y
#[derive(Debug, Clone, Copy)]
struct Pose {
    rotation: Rotation,
    scale: f64,
}

/// tr(R_i B R_j^T) of a block, for the rotations that turn columns.
fn inner(b: &Rotation, i: &Pose, j: &Pose) -> f64 {
    let left = product(&i.rotation, b);
    let mut trace = 0.0;
    for (row, other) in left.iter().zip(&j.rotation) {
        trace += row[0] * other[0] + row[1] * other[1] + row[2] * other[2];
    }
    trace * i.scale * j.scale
}

/// tr(R C)
fn trace(r: &Rotation, c: &Rotation) -> f64 {
    (0..3).map(|i| r[i][0] * c[0][i] + r[i][1] * c[1][i] + r[i][2] * c[2][i]).sum()
}

impl CrossMoments {
    /// Takes the moments of all shapes, by blocks: at most two blocks of [`BLOCK_BYTES`] are in memory beside the result. `progress` hears (pairs of blocks
    /// done, of).
    ///
    /// # Errors
    /// [`AlignError`]: nothing to read, sizes that do not fit, a shape without a pose (named), an unreadable shape.
    pub fn of(
        source: &dyn ShapeSource,
        weights: &[f64],
        removes: Removes,
        progress: &(dyn Fn(usize, usize) + Sync),
    ) -> Result<Self, AlignError> {
        let (n, vertices) = (source.shapes(), source.vertices());
        if n == 0 || vertices == 0 {
            return Err(AlignError::NoShapes);
        }
        if weights.len() != vertices {
            return Err(AlignError::VertexCount {
                what: "the row of weights",
                expected: vertices,
                found: weights.len(),
            });
        }
        let used: Vec<(usize, f64)> =
            weights.iter().enumerate().filter(|(_, w)| **w > 0.0).map(|(v, w)| (v, w.sqrt())).collect();
        let block = (BLOCK_BYTES / (24 * used.len().max(1))).clamp(1, 256);
        let mut placed = vec![(0.0, [0.0; 3]); n];
        // three rows a shape: its x, its y, its z
        let read = |rows: Range<usize>, mut flat: Vec<f64>| -> Result<Array2<f64>, AlignError> {
            let shapes = rows.start / 3..rows.end / 3;
            flat.resize(rows.len() * used.len(), 0.0);
            let places: Vec<Result<(f64, Point), AlignError>> = flat
                .par_chunks_mut((3 * used.len()).max(1))
                .zip(shapes.clone())
                .map(|(out, i)| {
                    let shape: Vec<Point> = source.read_shape(i)?;
                    let placed = place(&shape, weights, removes, Some(i))?;
                    for (k, row) in out.chunks_mut(used.len()).enumerate() {
                        for (cell, &(v, root)) in row.iter_mut().zip(&used) {
                            *cell = root * (shape[v][k] - placed.centre[k]);
                        }
                    }
                    Ok((placed.size, placed.centre))
                })
                .collect();
            for (known, found) in placed[shapes].iter_mut().zip(places) {
                *known = found?;
            }
            Array2::from_shape_vec((rows.len(), used.len()), flat).map_err(|_| AlignError::NoShapes)
        };
        let moments = gram_by_blocks(3 * n, 3 * block, read, progress)?;
        let (sizes, centres) = placed.into_iter().unzip();
        Ok(Self { removes, shapes: n, moments, sizes, centres })
    }

    /// Number of shapes.
    #[must_use]
    pub fn shapes(&self) -> usize {
        self.shapes
    }

    fn block(&self, i: usize, j: usize) -> Rotation {
        std::array::from_fn(|a| std::array::from_fn(|b| self.moments[[3 * i + a, 3 * j + b]]))
    }

    /// sum_j scale_j B_ij R_j^T / m: the cross moment of shape i with the mean of the posed members.
    fn with_mean(&self, i: usize, members: &[usize], poses: &[Pose]) -> Rotation {
        let mut sum = [[0.0; 3]; 3];
        for (&j, pose) in members.iter().zip(poses) {
            let b = self.block(i, j);
            for (row, b) in sum.iter_mut().zip(&b) {
                for (cell, r) in row.iter_mut().zip(&pose.rotation) {
                    *cell += pose.scale * (b[0] * r[0] + b[1] * r[1] + b[2] * r[2]);
                }
            }
        }
        sum.map(|row| row.map(|x| x / members.len() as f64))
    }

    /// The pose that lays shape i on a mean, from their cross moment.
    fn pose(&self, i: usize, cross: &Rotation, mean_square: f64) -> Result<Pose, AlignError> {
        let found = best(cross, self.removes);
        if found.distinctness < crate::pose::LEAST_DISTINCT {
            return Err(AlignError::Ambiguous { shape: Some(i) });
        }
        let scale = match self.removes {
            Removes::Similarity => tangent_scale(mean_square, found.trace, self.sizes[i], Some(i))?,
            Removes::Rigid | Removes::Standing => 1.0,
        };
        Ok(Pose { rotation: found.rotation, scale })
    }

    /// x -> scale R (x - centre)
    fn transform(&self, shape: usize, pose: &Pose) -> Transform {
        let turned = rotate(&pose.rotation, self.centres[shape]);
        Transform { rotation: pose.rotation, translation: turned.map(|c| -pose.scale * c), scale: pose.scale }
    }

    /// Aligns the shapes `members` (each at most once) by the tolerances of `params`; what is removed is fixed by the moments. The first round is aligned to
    /// the member of median size, so that nothing comes in from shapes outside. Equal to [`AlignParams::fit`] on these shapes with these weights, up to the
    /// tolerances and a common rotation.
    ///
    /// # Errors
    /// [`AlignError::NoShapes`], [`AlignError::NoSuchShape`], [`AlignError::Ambiguous`], [`AlignError::NotConverged`].
    pub fn align(&self, members: &[usize], params: &AlignParams) -> Result<SubsetAlignment<'_>, AlignError> {
        params.check()?;
        if let Some(&shape) = members.iter().find(|&&i| i >= self.shapes) {
            return Err(AlignError::NoSuchShape { shape, shapes: self.shapes });
        }
        let mut order = members.to_vec();
        order.sort_by(|&a, &b| self.sizes[a].total_cmp(&self.sizes[b]));
        let Some(&first) = order.get(order.len().saturating_sub(1) / 2) else {
            return Err(AlignError::NoShapes);
        };
        let m = members.len() as f64;
        let keep = |mean_square: f64| match self.removes {
            Removes::Similarity => {
                members.iter().map(|&i| self.sizes[i]).sum::<f64>() / m / mean_square.sqrt()
            }
            Removes::Rigid | Removes::Standing => 1.0,
        };
        let start = Pose { rotation: IDENTITY, scale: 1.0 };
        let square = inner(&self.block(first, first), &start, &start);
        let mut poses = members
            .iter()
            .map(|&i| self.pose(i, &self.block(i, first), square))
            .collect::<Result<Vec<_>, _>>()?;
        let mut last: Option<(Vec<Rotation>, f64, f64)> = None;
        let (mut relative_change, mut mean_moved_mm) = (f64::INFINITY, f64::INFINITY);
        for round in 1..=params.max_rounds {
            let mut cross: Vec<Rotation> =
                members.par_iter().map(|&i| self.with_mean(i, members, &poses)).collect();
            let mean_of = |poses: &[Pose], cross: &[Rotation]| {
                poses.iter().zip(cross).map(|(p, c)| p.scale * trace(&p.rotation, c)).sum::<f64>() / m
            };
            let factor = keep(mean_of(&poses, &cross));
            for (pose, cross) in poses.iter_mut().zip(&mut cross) {
                pose.scale *= factor;
                *cross = cross.map(|row| row.map(|x| x * factor));
            }
            let mean_square = mean_of(&poses, &cross);
            let squares: f64 = members
                .iter()
                .zip(&poses)
                .map(|(&i, p)| p.scale * p.scale * trace(&IDENTITY, &self.block(i, i)))
                .sum();
            let sum = (squares - m * mean_square).max(0.0);
            if let Some((before, square, last_sum)) = &last {
                mean_moved_mm = (mean_square + square - 2.0 * mean_of(&poses, before)).max(0.0).sqrt();
                let change = (last_sum - sum).abs();
                // both are differences of large sums
                relative_change = if change <= 1e-13 * squares { 0.0 } else { change / sum };
            }
            if relative_change < params.relative_tolerance && mean_moved_mm < params.mean_tolerance_mm {
                let on_mean =
                    poses.iter().zip(&cross).map(|(p, c)| p.scale * trace(&p.rotation, c)).collect();
                return Ok(SubsetAlignment {
                    all: self,
                    members: members.to_vec(),
                    poses,
                    on_mean,
                    mean_square,
                    rounds: round,
                    sum_of_squares_mm2: sum,
                });
            }
            poses = members
                .iter()
                .zip(&cross)
                .map(|(&i, c)| self.pose(i, c, mean_square))
                .collect::<Result<_, _>>()?;
            last = Some((cross, mean_square, sum));
        }
        Err(AlignError::NotConverged { rounds: params.max_rounds, relative_change, mean_moved_mm })
    }
}

impl SubsetAlignment<'_> {
    /// For each member, from the shape as read to where it lies: about the origin, in the frame of this alignment.
    #[must_use]
    pub fn transforms(&self) -> Vec<Transform> {
        self.members.iter().zip(&self.poses).map(|(&i, pose)| self.all.transform(i, pose)).collect()
    }

    /// The weighted mean square size of the mean, in mm2.
    #[must_use]
    pub fn mean_square_mm2(&self) -> f64 {
        self.mean_square
    }

    /// The m x m Gram matrix of the aligned shapes about their mean, in mm2: (x_i - mean) . (x_j - mean).
    #[must_use]
    pub fn gram(&self) -> Array2<f64> {
        let m = self.members.len();
        let mut gram = Array2::zeros((m, m));
        if let Some(flat) = gram.as_slice_mut() {
            flat.par_chunks_mut(m.max(1)).enumerate().for_each(|(i, row)| {
                for (j, cell) in row.iter_mut().enumerate().take(i + 1) {
                    let b = self.all.block(self.members[i], self.members[j]);
                    *cell = inner(&b, &self.poses[i], &self.poses[j]) - self.on_mean[i] - self.on_mean[j]
                        + self.mean_square;
                }
            });
        }
        for i in 0..m {
            for j in 0..i {
                gram[[j, i]] = gram[[i, j]];
            }
        }
        gram
    }

    /// Lays a shape that is not a member on the mean.
    ///
    /// # Errors
    /// [`AlignError::NoSuchShape`], [`AlignError::Ambiguous`].
    pub fn hold_out(&self, shape: usize) -> Result<HeldOut, AlignError> {
        if shape >= self.all.shapes {
            return Err(AlignError::NoSuchShape { shape, shapes: self.all.shapes });
        }
        let cross = self.all.with_mean(shape, &self.members, &self.poses);
        let pose = self.all.pose(shape, &cross, self.mean_square)?;
        let on_mean = pose.scale * trace(&pose.rotation, &cross);
        let square = inner(&self.all.block(shape, shape), &pose, &pose);
        let products_mm2 = self
            .members
            .iter()
            .zip(&self.poses)
            .zip(&self.on_mean)
            .map(|((&j, other), j_on_mean)| {
                inner(&self.all.block(shape, j), &pose, other) - on_mean - j_on_mean + self.mean_square
            })
            .collect();
        Ok(HeldOut {
            square_mm2: (square - 2.0 * on_mean + self.mean_square).max(0.0),
            products_mm2,
            transform: self.all.transform(shape, &pose),
        })
    }
}
