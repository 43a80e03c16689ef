//! Intervals of vertices.

use formkin_geometry::Point;
use formkin_stats::symmetric::symmetric_eigen;
use ndarray::Array2;
use rayon::prelude::*;

use crate::ShapeError;

/// The SD of every coordinate of every vertex, in mm, of shapes whose coefficients have the covariance `covariance_mm2` (K x K), with `noise_mm2` the
/// variance of a coordinate beyond the modes: root of (sum_kl mode_kv C_kl mode_lv + noise), along axes that `rotation` turns to.
///
/// # Errors
/// [`ShapeError::Count`] where there are more coefficients than modes; [`ShapeError::Stats`] where the covariance is no covariance.
pub fn vertex_sd_mm<M: AsRef<[Point]> + Sync>(
    modes: &[M],
    covariance_mm2: &[Vec<f64>],
    noise_mm2: f64,
    rotation: &[[f64; 3]; 3],
) -> Result<Vec<Point>, ShapeError> {
    let k = covariance_mm2.len();
    if k > modes.len() {
        return Err(ShapeError::Count { what: "modes for a covariance", expected: k, found: modes.len() });
    }
    let vertices = modes.first().map_or(0, |m| m.as_ref().len());
    let c = Array2::from_shape_fn((k, k), |(i, j)| covariance_mm2[i].get(j).copied().unwrap_or(0.0));
    let eigen = symmetric_eigen(&c)?;
    let total: f64 = eigen.values.iter().filter(|v| **v > 0.0).sum();
    // directions with less than a millionth of the variance are not seen
    let used = eigen.values.iter().take_while(|v| **v > 1e-6 * total).count();
    let mut sds = vec![[0.0; 3]; vertices];
    sds.par_chunks_mut(1024).enumerate().for_each(|(chunk, out)| {
        let first = chunk * 1024;
        let mut direction = vec![[0.0; 3]; out.len()];
        for j in 0..used {
            direction.fill([0.0; 3]);
            for (i, mode) in modes.iter().take(k).enumerate() {
                let factor = eigen.vectors[[i, j]];
                for (d, u) in direction.iter_mut().zip(&mode.as_ref()[first..]) {
                    for a in 0..3 {
                        d[a] += factor * u[a];
                    }
                }
            }
            for (v, d) in out.iter_mut().zip(&direction) {
                for (v, row) in v.iter_mut().zip(rotation) {
                    let along = row[0] * d[0] + row[1] * d[1] + row[2] * d[2];
                    *v += eigen.values[j] * along * along;
                }
            }
        }
        for v in out {
            *v = v.map(|x| (x + noise_mm2.max(0.0)).sqrt());
        }
    });
    Ok(sds)
}
