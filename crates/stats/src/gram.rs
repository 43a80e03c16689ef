//! Sums of matrix products over blocks.
//!
//! Work is shared out in pieces whose size is fixed and added up in a fixed order, and each piece runs on one thread: the result is the same, to the
//! bit, whatever the number of threads.

use std::ops::Range;

use faer::linalg::matmul::matmul;
use faer::{Accum, MatMut, MatRef, Par};
use ndarray::{Array2, ArrayView2, ArrayViewMut2, s};
use rayon::prelude::*;

use crate::StatsError;

/// How much of a long row one piece of work takes.
const PIECE: usize = 4096;

/// How many pieces are kept before they are added up.
const WAVE: usize = 32;

fn size(what: &'static str, expected: usize, found: usize) -> Result<(), StatsError> {
    if expected == found { Ok(()) } else { Err(StatsError::Size { what, expected, found }) }
}

/// gram += a b^T, for a (m x p) and b (n x p): one term of the Gram matrix of rows too long to be held at once.
///
/// # Errors
/// [`StatsError::Size`] where the sizes do not agree.
pub fn add_gram(gram: &mut Array2<f64>, a: ArrayView2<f64>, b: ArrayView2<f64>) -> Result<(), StatsError> {
    size("columns of the second factor", a.ncols(), b.ncols())?;
    size("rows of the sum", a.nrows(), gram.nrows())?;
    size("columns of the sum", b.nrows(), gram.ncols())?;
    let (m, n, p) = (a.nrows(), b.nrows(), a.ncols());
    if m == 0 || n == 0 || p == 0 {
        return Ok(());
    }
    let (a, b) = (a.as_standard_layout(), b.as_standard_layout());
    let (Some(a), Some(b)) = (a.as_slice(), b.as_slice()) else {
        return Err(StatsError::Size { what: "contiguous rows", expected: m, found: 0 });
    };
    let pieces: Vec<usize> = (0..p).step_by(PIECE).collect();
    for wave in pieces.chunks(WAVE) {
        let parts: Vec<Vec<f64>> = wave
            .par_iter()
            .map(|&start| {
                let width = PIECE.min(p - start);
                let mut part = vec![0.0; m * n];
                matmul(
                    MatMut::from_row_major_slice_mut(&mut part, m, n),
                    Accum::Replace,
                    MatRef::from_row_major_slice_with_stride(&a[start..], m, width, p),
                    MatRef::from_row_major_slice_with_stride(&b[start..], n, width, p).transpose(),
                    1.0,
                    Par::Seq,
                );
                part
            })
            .collect();
        for part in parts {
            for (sum, x) in gram.iter_mut().zip(part) {
                *sum += x;
            }
        }
    }
    Ok(())
}

/// The Gram matrix A A^T of `rows` rows that are too long to be held at once. `read` gives the rows of a range, in the memory of a vector that is no longer
/// needed; it is asked for `block` rows at most, and two blocks at most are held. `progress` hears (pairs of blocks done, of).
///
/// # Errors
/// What `read` says, and [`StatsError::Size`] where it gives other rows than those asked for.
pub fn gram_by_blocks<E: From<StatsError>>(
    rows: usize,
    block: usize,
    mut read: impl FnMut(Range<usize>, Vec<f64>) -> Result<Array2<f64>, E>,
    progress: &(dyn Fn(usize, usize) + Sync),
) -> Result<Array2<f64>, E> {
    let block = block.max(1);
    let blocks = rows.div_ceil(block);
    let (mut done, pairs) = (0, blocks * (blocks + 1) / 2);
    let mut gram = Array2::zeros((rows, rows));
    let mut spare = [Vec::new(), Vec::new()];
    let mut get = |b: usize, spare: &mut Vec<f64>| -> Result<Array2<f64>, E> {
        let range = b * block..((b + 1) * block).min(rows);
        let expected = range.len();
        let found = read(range, std::mem::take(spare))?;
        size("rows of a block", expected, found.nrows())?;
        Ok(found)
    };
    for i in 0..blocks {
        let left = get(i, &mut spare[0])?;
        for j in i..blocks {
            let other = if j == i { None } else { Some(get(j, &mut spare[1])?) };
            let right = other.as_ref().unwrap_or(&left);
            let mut part = Array2::zeros((left.nrows(), right.nrows()));
            add_gram(&mut part, left.view(), right.view())?;
            let (r, c) = (i * block, j * block);
            gram.slice_mut(s![r..r + part.nrows(), c..c + part.ncols()]).assign(&part);
            gram.slice_mut(s![c..c + part.ncols(), r..r + part.nrows()]).assign(&part.t());
            if let Some(other) = other {
                spare[1] = other.into_raw_vec_and_offset().0;
            }
            done += 1;
            progress(done, pairs);
        }
        spare[0] = left.into_raw_vec_and_offset().0;
    }
    Ok(gram)
}

/// out += a b, for a (m x p) and b (p x n), on one thread: callers share out the rows of a.
///
/// # Errors
/// [`StatsError::Size`] where the sizes do not agree or `out` or `b` is not contiguous row by row.
pub fn add_product(
    mut out: ArrayViewMut2<f64>,
    a: ArrayView2<f64>,
    b: ArrayView2<f64>,
) -> Result<(), StatsError> {
    size("rows of the second factor", a.ncols(), b.nrows())?;
    size("rows of the sum", a.nrows(), out.nrows())?;
    size("columns of the sum", b.ncols(), out.ncols())?;
    let (m, p, n) = (a.nrows(), a.ncols(), b.ncols());
    let a = a.as_standard_layout();
    match (a.as_slice(), b.as_slice(), out.as_slice_mut()) {
        (Some(a), Some(b), Some(out)) => matmul(
            MatMut::from_row_major_slice_mut(out, m, n),
            Accum::Add,
            MatRef::from_row_major_slice(a, m, p),
            MatRef::from_row_major_slice(b, p, n),
            1.0,
            Par::Seq,
        ),
        _ => return Err(StatsError::Size { what: "contiguous rows", expected: p, found: 0 }),
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use ndarray::array;
    use rand::Rng;

    use super::*;
    use crate::random::stream;

    fn random(rows: usize, columns: usize, label: &str) -> Array2<f64> {
        let mut rng = stream(3, label);
        Array2::from_shape_fn((rows, columns), |_| rng.gen_range(-1.0..1.0))
    }

    #[test]
    fn products_agree_with_the_definition() {
        let (a, b) = (random(7, 9001, "a"), random(5, 9001, "b"));
        let mut sum = Array2::ones((7, 5));
        add_gram(&mut sum, a.view(), b.view()).unwrap();
        let plain = a.dot(&b.t()) + 1.0;
        assert!((&sum - &plain).iter().all(|d| d.abs() < 1e-11));
        let (left, right) = (random(3, 4, "l"), random(4, 11, "r"));
        let mut out = Array2::zeros((3, 11));
        add_product(out.view_mut(), left.view(), right.view()).unwrap();
        assert!((&out - &left.dot(&right)).iter().all(|d| d.abs() < 1e-14));
    }

    #[test]
    fn blocks_make_the_whole() {
        let a = random(7, 50, "blocks");
        let expected = a.dot(&a.t());
        for block in [1, 3, 7, 9] {
            let rows = |range: Range<usize>, _| Ok::<_, StatsError>(a.slice(s![range, ..]).to_owned());
            let found = gram_by_blocks(7, block, rows, &|_, _| {}).unwrap();
            assert!((&found - &expected).iter().all(|d| d.abs() < 1e-13), "{block}");
        }
        let short = |_, _| Ok::<_, StatsError>(Array2::zeros((1, 50)));
        assert!(gram_by_blocks(7, 3, short, &|_, _| {}).is_err());
    }

    #[test]
    fn the_number_of_threads_does_not_show() {
        let a = random(40, 300_001, "a");
        let with = |threads| {
            rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(|| {
                let mut sum = Array2::zeros((40, 40));
                add_gram(&mut sum, a.view(), a.view()).unwrap();
                sum
            })
        };
        assert_eq!(with(1), with(4));
    }

    #[test]
    fn sizes_are_checked() {
        let a = array![[1.0, 2.0], [3.0, 4.0]];
        assert!(add_gram(&mut Array2::zeros((2, 3)), a.view(), a.view()).is_err());
        assert!(add_gram(&mut Array2::zeros((2, 1)), a.view(), array![[1.0]].view()).is_err());
        assert!(add_product(Array2::zeros((2, 2)).view_mut(), a.view(), array![[1.0, 2.0]].view()).is_err());
        let mut none = Array2::zeros((2, 2));
        add_gram(&mut none, Array2::zeros((2, 0)).view(), Array2::zeros((2, 0)).view()).unwrap();
    }
}
