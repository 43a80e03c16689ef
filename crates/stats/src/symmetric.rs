//! Eigenvalues and vectors of a symmetric matrix.

use faer::Side;
use ndarray::Array2;

use crate::StatsError;

/// Eigenvalues and vectors of a symmetric matrix: A = V diag(values) V^T.
#[derive(Debug, Clone, PartialEq)]
pub struct Eigen {
    /// Eigenvalues, largest first.
    pub values: Vec<f64>,
    /// Orthonormal eigenvectors, one a column, in the order of `values`. Their signs are arbitrary.
    pub vectors: Array2<f64>,
}

/// All eigenvalues and vectors of the symmetric n x n matrix `a`, of which the lower triangle is read, largest eigenvalue first.
///
/// The work runs on one thread, so that the result does not depend on how many there are.
///
/// # Errors
/// [`StatsError::NotSquare`], [`StatsError::NotFinite`], [`StatsError::NoConvergence`].
pub fn symmetric_eigen(a: &Array2<f64>) -> Result<Eigen, StatsError> {
    let (rows, columns) = a.dim();
    if rows != columns {
        return Err(StatsError::NotSquare { rows, columns });
    }
    if let Some(index) = a.iter().position(|x| !x.is_finite()) {
        return Err(StatsError::NotFinite { what: "symmetric matrix", index });
    }
    let copy = faer::Mat::from_fn(rows, rows, |i, j| a[[i, j]]);
    let found = copy
        .self_adjoint_eigen(Side::Lower)
        .map_err(|_| StatsError::NoConvergence { what: "the symmetric eigenvalue iteration" })?;
    let values = (0..rows).rev().map(|k| found.S()[k]).collect();
    let vectors = Array2::from_shape_fn((rows, rows), |(i, k)| found.U()[(i, rows - 1 - k)]);
    Ok(Eigen { values, vectors })
}
