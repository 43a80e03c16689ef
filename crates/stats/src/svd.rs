//! Singular values and vectors.

use faer::diag::Diag;
use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::svd::{self, ComputeSvdVectors};
use faer::{Mat, Par};
use ndarray::{Array2, ArrayView2};

use crate::StatsError;

/// A = left diag(values) right^T, as many singular values as the smaller side of A.
#[derive(Debug, Clone, PartialEq)]
pub struct Svd {
    /// Singular values, largest first.
    pub values: Vec<f64>,
    /// Left vectors, one a column.
    pub left: Array2<f64>,
    /// Right vectors, one a column.
    pub right: Array2<f64>,
}

/// The singular value decomposition of a matrix, on one thread, so that the result does not depend on how many there are. Values are good to about 2^-53 of
/// the largest.
///
/// # Errors
/// [`StatsError::NotFinite`], [`StatsError::NoConvergence`].
pub fn svd(a: ArrayView2<f64>) -> Result<Svd, StatsError> {
    if let Some(index) = a.iter().position(|x| !x.is_finite()) {
        return Err(StatsError::NotFinite { what: "matrix", index });
    }
    let (rows, columns) = a.dim();
    let size = rows.min(columns);
    let matrix = Mat::from_fn(rows, columns, |i, j| a[[i, j]]);
    let (mut left, mut right) = (Mat::<f64>::zeros(rows, size), Mat::<f64>::zeros(columns, size));
    let mut values = Diag::<f64>::zeros(size);
    let thin = ComputeSvdVectors::Thin;
    let scratch = svd::svd_scratch::<f64>(rows, columns, thin, thin, Par::Seq, Default::default());
    let mut memory = MemBuffer::try_new(scratch)
        .map_err(|_| StatsError::NoConvergence { what: "the memory for the singular value iteration" })?;
    svd::svd(
        matrix.as_ref(),
        values.as_mut(),
        Some(left.as_mut()),
        Some(right.as_mut()),
        Par::Seq,
        MemStack::new(&mut memory),
        Default::default(),
    )
    .map_err(|_| StatsError::NoConvergence { what: "the singular value iteration" })?;
    Ok(Svd {
        values: (0..size).map(|k| values[k]).collect(),
        left: Array2::from_shape_fn((rows, size), |(i, k)| left[(i, k)]),
        right: Array2::from_shape_fn((columns, size), |(i, k)| right[(i, k)]),
    })
}

#[cfg(test)]
mod tests {
    use ndarray::array;
    use rand::Rng;

    use super::*;
    use crate::random::stream;

    #[test]
    fn parts_make_the_whole_tall_and_wide() {
        let mut rng = stream(5, "svd");
        for (rows, columns) in [(9, 4), (4, 9), (6, 6)] {
            let a = Array2::from_shape_fn((rows, columns), |_| rng.gen_range(-1.0..1.0));
            let Svd { values, left, right } = svd(a.view()).unwrap();
            assert!(values.windows(2).all(|v| v[0] >= v[1] && v[1] >= 0.0));
            let back = (&left * &ndarray::Array1::from(values)).dot(&right.t());
            assert!((&back - &a).iter().all(|d| d.abs() < 1e-13));
            let one = left.t().dot(&left) - Array2::<f64>::eye(rows.min(columns));
            assert!(one.iter().all(|d| d.abs() < 1e-13));
        }
    }

    #[test]
    fn small_singular_values_keep_their_digits() {
        // squaring the matrix would lose the second one in the rounding of the first
        let found = svd(array![[3.0, 0.0], [4.0, 0.0], [0.0, 1e-9]].view()).unwrap();
        assert!((found.values[0] - 5.0).abs() < 1e-14 && (found.values[1] - 1e-9).abs() < 1e-23);
        assert!(svd(array![[f64::NAN]].view()).is_err());
        assert!(svd(Array2::zeros((0, 3)).view()).unwrap().values.is_empty());
    }
}
