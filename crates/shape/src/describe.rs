//! Shapes laid on a mean and described by the modes, several at a time.
//!
//! The modes of a fine mesh are hundreds of megabytes, and fetching them takes longer than multiplying by them. So they are walked a short stretch of vertices at a time, and a
//! stretch serves every shape before the next is fetched. Stretches are of fixed length and their sums are added in order: the result does not depend on the number of threads.

use formkin_align::{Transform, align_one};
use formkin_geometry::Point;
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
        let coefficients = self.coefficients(&deviations);
        let told = self.blend(&coefficients);
        let found = told.into_par_iter().zip(deviations).zip(transforms).zip(coefficients).map(
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
    fn coefficients(&self, deviations: &[Vec<Point>]) -> Vec<Vec<f64>> {
        let (n, modes) = (deviations.len(), self.modes.len());
        let sums: Vec<Vec<f64>> = (0..self.mean.len().div_ceil(STRETCH))
            .into_par_iter()
            .map(|stretch| {
                let at = stretch * STRETCH..self.mean.len().min((stretch + 1) * STRETCH);
                let weights = &self.weights[at.clone()];
                let weighted: Vec<Vec<Point>> = deviations
                    .iter()
                    .map(|d| d[at.clone()].iter().zip(weights).map(|(d, w)| d.map(|x| w * x)).collect())
                    .collect();
                let mut sums = Vec::with_capacity(n * modes);
                for off in &weighted {
                    sums.extend(self.modes.iter().map(|mode| dot(&mode[at.clone()], off)));
                }
                sums
            })
            .collect();
        (0..n).map(|s| (0..modes).map(|k| sums.iter().map(|of| of[s * modes + k]).sum()).collect()).collect()
    }

    /// The shapes mean + sum_k c_k mode_k.
    fn blend(&self, coefficients: &[Vec<f64>]) -> Vec<Vec<Point>> {
        let pieces: Vec<Vec<Vec<Point>>> = (0..self.mean.len().div_ceil(STRETCH))
            .into_par_iter()
            .map(|stretch| {
                let at = stretch * STRETCH..self.mean.len().min((stretch + 1) * STRETCH);
                let piece = |of: &Vec<f64>| {
                    let mut out = self.mean[at.clone()].to_vec();
                    for (mode, c) in self.modes.iter().zip(of) {
                        for (x, u) in out.iter_mut().zip(&mode[at.clone()]) {
                            for k in 0..3 {
                                x[k] += c * u[k];
                            }
                        }
                    }
                    out
                };
                coefficients.iter().map(piece).collect()
            })
            .collect();
        (0..coefficients.len()).map(|s| pieces.iter().flat_map(|p| p[s].iter().copied()).collect()).collect()
    }
}

/// Four sums, so that one addition need not wait for the last.
fn dot(mode: &[Point], off: &[Point]) -> f64 {
    let mut sums = [0.0; 4];
    for (us, ds) in mode.chunks(4).zip(off.chunks(4)) {
        for ((sum, u), d) in sums.iter_mut().zip(us).zip(ds) {
            *sum += u[0] * d[0] + u[1] * d[1] + u[2] * d[2];
        }
    }
    (sums[0] + sums[1]) + (sums[2] + sums[3])
}
