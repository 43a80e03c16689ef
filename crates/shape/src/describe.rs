//! Shapes laid on a mean and described by the modes, several at a time.
//!
//! The modes of a fine mesh are hundreds of megabytes, and fetching them takes longer than multiplying by them. So they are walked a short stretch of vertices at a time, and a
//! stretch serves every shape before the next is fetched. Stretches are of fixed length and their sums are added in order: the result does not depend on the number of threads.

use std::ops::Range;

use formkin_align::{Transform, align_one};
use formkin_geometry::Point;
use formkin_stats::gram::{add_gram, add_product};
use ndarray::Array2;
use rayon::prelude::*;

use crate::{Projection, ShapeError, Space};

/// Vertices of a stretch.
const STRETCH: usize = 512;

impl Space {
    /// The projections of shapes, and the shapes that their coefficients stand for, in the frame of the space.
    ///
    /// # Errors
    /// As [`Self::project`], for the first shape that has no place.
    pub fn describe(&self, shapes: &[Vec<Point>]) -> Result<Vec<(Projection, Vec<Point>)>, ShapeError> {
        let transforms: Vec<Transform> = shapes
            .par_iter()
            .map(|shape| Ok(align_one(shape, &self.mean, &self.weights, self.removes)?))
            .collect::<Result<_, ShapeError>>()?;
        let deviations: Vec<Vec<Point>> = shapes
            .par_iter()
            .zip(&transforms)
            .map(|(shape, transform)| {
                let off = |(p, m): (&Point, &Point)| {
                    let x = transform.apply(*p);
                    [x[0] - m[0], x[1] - m[1], x[2] - m[2]]
                };
                shape.iter().zip(&self.mean).map(off).collect()
            })
            .collect();
        let coefficients = self.coefficients(&deviations)?;
        let told = self.blend(&coefficients)?;
        let rows: Vec<Vec<f64>> = coefficients.outer_iter().map(|row| row.to_vec()).collect();
        let found = told.into_par_iter().zip(deviations).zip(transforms).zip(rows).map(
            |(((told, off), transform), coefficients)| {
                let square: f64 = off
                    .iter()
                    .zip(&told)
                    .zip(&self.mean)
                    .zip(&self.weights)
                    .map(|(((d, x), m), w)| w * (0..3).map(|k| (d[k] + m[k] - x[k]).powi(2)).sum::<f64>())
                    .sum();
                (Projection { coefficients, residual_rms_mm: square.sqrt(), transform }, told)
            },
        );
        Ok(found.collect())
    }

    /// c_k = sum_v w_v mode_kv . deviation_v of every shape.
    fn coefficients(&self, deviations: &[Vec<Point>]) -> Result<Array2<f64>, ShapeError> {
        let size = (deviations.len(), self.modes.len());
        let sums: Vec<Array2<f64>> = self
            .stretches()
            .into_par_iter()
            .map(|at| {
                let weights = &self.weights[at.clone()];
                let weighted = deviations
                    .iter()
                    .flat_map(|d| d[at.clone()].iter().zip(weights).flat_map(|(d, w)| d.map(|x| w * x)));
                let off = filled((deviations.len(), 3 * at.len()), weighted);
                let mut sum = Array2::zeros(size);
                add_gram(&mut sum, off.view(), self.stretch(&at).view())?;
                Ok(sum)
            })
            .collect::<Result<_, ShapeError>>()?;
        Ok(sums.into_iter().fold(Array2::zeros(size), |whole, sum| whole + sum))
    }

    /// The shapes mean + sum_k c_k mode_k, the coefficients a row a shape.
    fn blend(&self, coefficients: &Array2<f64>) -> Result<Vec<Vec<Point>>, ShapeError> {
        let pieces: Vec<Array2<f64>> = self
            .stretches()
            .into_par_iter()
            .map(|at| {
                let mean = self.mean[at.clone()].as_flattened();
                let size = (coefficients.nrows(), mean.len());
                let mut out = filled(size, mean.iter().copied().cycle());
                add_product(out.view_mut(), coefficients.view(), self.stretch(&at).view())?;
                Ok(out)
            })
            .collect::<Result<_, ShapeError>>()?;
        let shape = |s: usize| {
            let points = |piece: &Array2<f64>| {
                let row = piece.row(s).to_vec();
                row.as_chunks::<3>().0.to_vec()
            };
            pieces.iter().flat_map(points).collect()
        };
        Ok((0..coefficients.nrows()).into_par_iter().map(shape).collect())
    }

    fn stretches(&self) -> Vec<Range<usize>> {
        let end = self.mean.len();
        (0..end).step_by(STRETCH).map(|from| from..end.min(from + STRETCH)).collect()
    }

    /// The modes of some vertices, a row a mode.
    fn stretch(&self, at: &Range<usize>) -> Array2<f64> {
        let rows = self.modes.iter().flat_map(|mode| mode[at.clone()].as_flattened().iter().copied());
        filled((self.modes.len(), 3 * at.len()), rows)
    }
}

fn filled(size: (usize, usize), values: impl Iterator<Item = f64>) -> Array2<f64> {
    let mut out = Array2::zeros(size);
    for (x, value) in out.iter_mut().zip(values) {
        *x = value;
    }
    out
}
