//! Sums of matrix products over blocks.

use faer::linalg::matmul::matmul;
use faer::{Accum, MatMut, MatRef, Par};
use ndarray::{Array2, ArrayView2};

use crate::StatsError;

/// gram += a b^T, for a (m x p) and b (n x p): one term of the Gram matrix of rows too long to be held at once.
///
/// The work runs on one thread, in an order that depends on the sizes alone.
///
/// # Errors
/// [`StatsError::Size`] where the sizes do not agree.
pub fn add_gram(gram: &mut Array2<f64>, a: ArrayView2<f64>, b: ArrayView2<f64>) -> Result<(), StatsError> {
    let size = |what, expected, found| {
        if expected == found { Ok(()) } else { Err(StatsError::Size { what, expected, found }) }
    };
    size("columns of the second factor", a.ncols(), b.ncols())?;
    size("rows of the sum", a.nrows(), gram.nrows())?;
    size("columns of the sum", b.nrows(), gram.ncols())?;
    let (a, b) = (a.as_standard_layout(), b.as_standard_layout());
    let (m, n, p) = (a.nrows(), b.nrows(), a.ncols());
    let (Some(x), Some(y), Some(out)) = (a.as_slice(), b.as_slice(), gram.as_slice_mut()) else {
        return Err(StatsError::Size { what: "contiguous rows of the sum", expected: m * n, found: 0 });
    };
    matmul(
        MatMut::from_row_major_slice_mut(out, m, n),
        Accum::Add,
        MatRef::from_row_major_slice(x, m, p),
        MatRef::from_row_major_slice(y, n, p).transpose(),
        1.0,
        Par::Seq,
    );
    Ok(())
}
