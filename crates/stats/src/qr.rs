//! The QR factorisation by Householder reflections (Golub & Van Loan).

use faer::dyn_stack::{MemBuffer, MemStack};
use faer::linalg::qr::no_pivoting::factor::{qr_in_place, qr_in_place_scratch, recommended_block_size};
use faer::{Mat, Par};
use ndarray::{Array2, ArrayView2};

/// The upper triangle R of A = Q R, for a matrix with at least as many rows as columns, on one thread. The signs of its rows are arbitrary.
pub(crate) fn triangle(a: ArrayView2<f64>) -> Array2<f64> {
    let (rows, columns) = a.dim();
    let mut work = Mat::from_fn(rows, columns, |i, j| a[[i, j]]);
    let block = recommended_block_size::<f64>(rows, columns);
    let mut reflections = Mat::<f64>::zeros(block, rows.min(columns));
    let scratch = qr_in_place_scratch::<f64>(rows, columns, block, Par::Seq, Default::default());
    qr_in_place(
        work.as_mut(),
        reflections.as_mut(),
        Par::Seq,
        MemStack::new(&mut MemBuffer::new(scratch)),
        Default::default(),
    );
    Array2::from_shape_fn((columns, columns), |(i, j)| if i <= j && i < rows { work[(i, j)] } else { 0.0 })
}
