//! LAPACK as a second backend, behind the feature `lapack`: the referee of [`crate::symmetric`].

use ndarray::{Array2, Axis};
use ndarray_linalg::{Eigh, UPLO};
use openblas_src as _; // links the library

use crate::StatsError;
use crate::symmetric::{Eigen, checked};

/// As [`crate::symmetric::symmetric_eigen`], by LAPACK's `dsyev`. Signs of vectors, and vectors of equal values, differ between the two; the threads of the
/// library are its own.
///
/// # Errors
/// [`StatsError::NotSquare`], [`StatsError::NotFinite`], [`StatsError::NoConvergence`].
pub fn symmetric_eigen_lapack(a: &Array2<f64>) -> Result<Eigen, StatsError> {
    checked(a)?;
    if a.is_empty() {
        return Ok(Eigen { values: Vec::new(), vectors: a.clone() });
    }
    // both triangles, since what the library takes for the lower one depends on the layout
    let whole = Array2::from_shape_fn(a.dim(), |(i, j)| if i >= j { a[[i, j]] } else { a[[j, i]] });
    let (values, mut vectors) = whole
        .eigh(UPLO::Lower)
        .map_err(|_| StatsError::NoConvergence { what: "the eigenvalue iteration of LAPACK" })?;
    vectors.invert_axis(Axis(1));
    Ok(Eigen { values: values.iter().rev().copied().collect(), vectors })
}

#[cfg(test)]
mod tests {
    use rand::Rng;

    use super::*;
    use crate::random::stream;
    use crate::symmetric::symmetric_eigen;

    #[test]
    fn both_backends_find_the_same() {
        let mut rng = stream(2, "referee");
        for (n, rank) in [(1, 1), (7, 7), (60, 60), (60, 12), (200, 200)] {
            let b = Array2::from_shape_fn((n, rank), |(_, k)| rng.gen_range(-1.0..1.0) / (1.0 + k as f64));
            let a = b.dot(&b.t());
            let (own, other) = (symmetric_eigen(&a).unwrap(), symmetric_eigen_lapack(&a).unwrap());
            let largest = own.values[0];
            for k in 0..n {
                assert!((own.values[k] - other.values[k]).abs() < 1e-13 * n as f64 * largest);
                let apart = |j: usize| (own.values[k] - own.values[j]).abs() > 1e-3 * largest;
                if (0..n).all(|j| j == k || apart(j)) {
                    let cos = own.vectors.column(k).dot(&other.vectors.column(k)).abs();
                    assert!((cos - 1.0).abs() < 1e-10, "{n} {k}: {cos}");
                }
            }
        }
    }

    #[test]
    fn the_lower_triangle_is_read_and_odd_input_is_refused() {
        let a = ndarray::array![[3.0, 9.0], [1.0, 3.0]];
        for found in [symmetric_eigen(&a).unwrap(), symmetric_eigen_lapack(&a).unwrap()] {
            assert!((found.values[0] - 4.0).abs() < 1e-14 && (found.values[1] - 2.0).abs() < 1e-14);
        }
        assert!(symmetric_eigen_lapack(&Array2::zeros((2, 3))).is_err());
        assert!(symmetric_eigen_lapack(&Array2::zeros((0, 0))).unwrap().values.is_empty());
    }
}
