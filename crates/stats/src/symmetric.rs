//! Eigenvalues and vectors of a symmetric matrix.

use faer::diag::Diag;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::evd::{ComputeEigenvectors, self_adjoint_evd, self_adjoint_evd_scratch};
use faer::{Mat, Par};
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
/// The work runs on one thread, so that the result does not depend on how many there are. Values are good to about n 2^-53 of the largest.
///
/// # Errors
/// [`StatsError::NotSquare`], [`StatsError::NotFinite`], [`StatsError::NoConvergence`].
pub fn symmetric_eigen(a: &Array2<f64>) -> Result<Eigen, StatsError> {
    checked(a)?;
    let n = a.nrows();
    let copy = Mat::from_fn(n, n, |i, j| if i >= j { a[[i, j]] } else { a[[j, i]] });
    let (mut values, mut vectors) = (Diag::<f64>::zeros(n), Mat::<f64>::zeros(n, n));
    let scratch = self_adjoint_evd_scratch::<f64>(n, ComputeEigenvectors::Yes, Par::Seq, Default::default());
    let mut memory = MemBuffer::try_new(scratch).map_err(|_| StatsError::NoConvergence {
        what: "the memory for the symmetric eigenvalue iteration",
    })?;
    self_adjoint_evd(
        copy.as_ref(),
        values.as_mut(),
        Some(vectors.as_mut()),
        Par::Seq,
        MemStack::new(&mut memory),
        Default::default(),
    )
    .map_err(|_| StatsError::NoConvergence { what: "the symmetric eigenvalue iteration" })?;
    Ok(Eigen {
        values: (0..n).rev().map(|k| values[k]).collect(),
        vectors: Array2::from_shape_fn((n, n), |(i, k)| vectors[(i, n - 1 - k)]),
    })
}

pub(crate) fn checked(a: &Array2<f64>) -> Result<(), StatsError> {
    let (rows, columns) = a.dim();
    if rows != columns {
        return Err(StatsError::NotSquare { rows, columns });
    }
    match a.iter().position(|x| !x.is_finite()) {
        Some(index) => Err(StatsError::NotFinite { what: "symmetric matrix", index }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use ndarray::array;
    use rand::Rng;

    use super::*;
    use crate::random::stream;

    #[test]
    fn a_small_matrix_has_the_values_of_its_polynomial() {
        // 3 - 1, 3 + 1, and 5 on its own
        let e = symmetric_eigen(&array![[3.0, 1.0, 0.0], [1.0, 3.0, 0.0], [0.0, 0.0, 5.0]]).unwrap();
        for (found, want) in e.values.iter().zip([5.0, 4.0, 2.0]) {
            assert!((found - want).abs() < 1e-14);
        }
    }

    #[test]
    fn a_random_matrix_comes_back_and_threads_do_not_show() {
        let n = 150;
        let mut rng = stream(5, "symmetric");
        let b = Array2::from_shape_fn((n, n), |_| rng.gen_range(-1.0..1.0));
        let a = b.dot(&b.t());
        let with = |threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
            pool.install(|| symmetric_eigen(&a).unwrap())
        };
        let e = with(1);
        assert_eq!(e, with(4));
        assert!(e.values.windows(2).all(|w| w[0] >= w[1]));
        let back = (&e.vectors * &ndarray::Array1::from(e.values.clone())).dot(&e.vectors.t());
        assert!((&back - &a).iter().all(|d| d.abs() < 1e-11));
        let unit = e.vectors.t().dot(&e.vectors) - Array2::<f64>::eye(n);
        assert!(unit.iter().all(|d| d.abs() < 1e-12));
    }

    #[test]
    fn odd_input_is_an_error_or_empty() {
        assert!(matches!(symmetric_eigen(&Array2::zeros((2, 3))), Err(StatsError::NotSquare { .. })));
        let bad = array![[1.0, 0.0], [f64::NAN, 1.0]];
        assert!(matches!(symmetric_eigen(&bad), Err(StatsError::NotFinite { index: 2, .. })));
        assert!(symmetric_eigen(&Array2::zeros((0, 0))).unwrap().values.is_empty());
        assert_eq!(symmetric_eigen(&array![[7.0]]).unwrap().values, [7.0]);
    }
}
